#include "app/server/api.h"

#include <memory>
#include <nlohmann/json.hpp>

#include "exam/names.h"
#include "exam/sites.h"

namespace phren::app::server {
namespace {

using nlohmann::json;

json to_json(const exam::Site& site) {
  return {{"id", site.id},
          {"name", site.name},
          {"landmark", site.landmark},
          {"side", exam::to_string(site.side)},
          {"aspect", exam::to_string(site.at.aspect)},
          {"u", site.at.u},
          {"v", site.at.v},
          {"mirror_id", site.mirror_id}};
}

// A GET whose answer never changes while the server runs.
Route fixed_route(std::string pattern, std::string body) {
  Route route;
  route.method = "GET";
  route.pattern = std::move(pattern);
  route.handler = [text = std::move(body)](const Request&, const PathValues&) {
    return json_response(text);
  };
  return route;
}

Status add_sites(RouteTable& table, const std::filesystem::path& data) {
  const auto sites = exam::SiteMap::load(data / "sites.toml");
  if (!sites) return fail(sites.error());
  json list = json::array();
  for (const exam::Site& site : sites->all()) list.push_back(to_json(site));
  table.add(fixed_route("/api/v1/sites", json{{"sites", std::move(list)}}.dump()));
  return {};
}

}  // namespace

Result<RouteTable> load_api(const std::filesystem::path& data) {
  RouteTable table;
  table.add(
      fixed_route("/api/v1/health", json{{"name", "phren"}, {"version", PHREN_VERSION}}.dump()));
  if (auto done = add_sites(table, data); !done) return fail(done.error());
  return table;
}

}  // namespace phren::app::server
