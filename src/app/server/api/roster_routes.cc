// The roll of a class as a table, in and out.
#include <cmath>

#include "app/server/api/classroom.h"
#include "app/server/api/guard.h"

namespace phren::app::server {
namespace {

using nlohmann::json;

std::string percent_text(double share) {
  const std::string text = json(std::round(share * 10000.0) / 100.0).dump();
  return text.ends_with(".0") ? text.substr(0, text.size() - 2) : text;
}

Response roster(Desk& desk, const Caller& caller, const std::string& class_id) {
  need_instructor(desk, caller, class_id);
  records::CsvRows rows{{"login", "name", "extra_time_percent", "key"}};
  for (const auto& one : need(records::Classes(desk.db).members(class_id), class_id)) {
    rows.push_back(
        {one.person.login, one.person.name, percent_text(one.extra_time_share), one.key});
  }
  Response response;
  response.content_type = "text/csv; charset=utf-8";
  response.body = records::to_csv(rows);
  response.headers = {{"Cache-Control", "no-store"},
                      {"Content-Disposition", "attachment; filename=\"roster.csv\""}};
  return response;
}

Response merge(Desk& desk, const Caller& caller, const Request& request,
               const std::string& class_id) {
  need_instructor(desk, caller, class_id);
  const auto entries = need(records::parse_roster(request.body), class_id);
  const auto change = need(
      records::Classes(desk.db).merge_roster(class_id, entries, caller.person().id, desk.now_ms),
      class_id);
  return json_answer(
      {{"added", change.added}, {"changed", change.changed}, {"total", change.total}});
}

}  // namespace

void add_roster_routes(RouteTable& table, const OfficePtr& office) {
  const std::string path = "/api/v1/classes/{id}";
  table.add(
      for_callers(office, {"GET", path + "/roster"},
                  [](Desk& desk, const Caller& caller, const Request&, const PathValues& values) {
                    return roster(desk, caller, values.at("id"));
                  }));
  table.add(for_callers(
      office, {"PUT", path + "/roster", Lane::kWork, "text/csv"},
      [](Desk& desk, const Caller& caller, const Request& request, const PathValues& values) {
        return merge(desk, caller, request, values.at("id"));
      }));
  table.add(
      for_callers(office, {"DELETE", path + "/members/{person}"},
                  [](Desk& desk, const Caller& caller, const Request&, const PathValues& values) {
                    const std::string& id = values.at("id");
                    need_instructor(desk, caller, id);
                    need(records::Classes(desk.db).remove_member(id, values.at("person"),
                                                                 caller.person().id, desk.now_ms),
                         id);
                    return json_answer({{"removed", true}});
                  }));
}

}  // namespace phren::app::server
