// Whether the server lives, and whether it can do its work: two questions, for whoever watches it.
#include <nlohmann/json.hpp>

#include "app/server/api/classroom.h"
#include "app/server/net/lanes.h"
#include "records/store_care.h"

namespace phren::app::server {
namespace {

using nlohmann::json;

// Longer than any honest job waits (ENGINEERING).
constexpr std::chrono::seconds kLongestWait{20};

std::string_view store_word(const Office& office) {
  if (!office.lanes) return "none";
  const StoreHealth health = office.lanes->store_health();
  return health.is_well ? "well" : records::to_string(health.trouble);
}

std::string_view disk_word(const Office& office) {
  const auto free = records::free_bytes(office.store);
  return free && *free < records::kLeastFree_bytes ? "nearly_full" : "well";
}

std::string_view lanes_word(const Office& office) {
  if (!office.lanes) return "none";
  for (const Lane lane : {Lane::kStore, Lane::kWork, Lane::kSlow}) {
    if (office.lanes->longest_wait(lane) > kLongestWait) return "behind";
  }
  return "well";
}

Response ready(const Office& office) {
  json body{
      {"store", store_word(office)}, {"disk", disk_word(office)}, {"work", lanes_word(office)}};
  bool is_ready = true;
  for (const auto& [name, word] : body.items()) {
    is_ready = is_ready && (word == "well" || word == "none");
  }
  body["ready"] = is_ready;
  return json_response(body.dump(), is_ready ? 200 : 503);
}

}  // namespace

void add_health_routes(RouteTable& table, const std::shared_ptr<const Office>& office) {
  Route live;
  live.method = "GET";
  live.pattern = "/api/v1/health";
  live.handler = [](const Request&, const PathValues&) {
    return json_response(json{{"name", "phren"}, {"version", PHREN_VERSION}}.dump());
  };
  table.add(live);
  Route ready_route;
  ready_route.method = "GET";
  ready_route.pattern = "/api/v1/health/ready";
  ready_route.handler = [office](const Request&, const PathValues&) { return ready(*office); };
  table.add(ready_route);
}

}  // namespace phren::app::server
