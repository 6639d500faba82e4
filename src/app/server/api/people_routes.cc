// What is kept about a person, for that person; and forgetting someone on request.
#include "app/server/api/classroom.h"
#include "app/server/api/guard.h"
#include "records/dump.h"

namespace phren::app::server {
namespace {

// One's own, or a learner whose every class one teaches.
void need_answerable(Desk& desk, const Caller& caller, const std::string& person_id) {
  if (person_id == caller.person().id) return;
  const bool is_joined = !caller.session.class_id.empty();
  if (!is_joined && need(records::Classes(desk.db).answers_for(caller.person().id, person_id)))
    return;
  refuse(404, "not found", "there is no such person, or not in your classes alone");
}

}  // namespace

void add_people_routes(RouteTable& table, const OfficePtr& office) {
  table.add(for_callers(
      office, {"GET", "/api/v1/people/{id}/export", Lane::kWork},
      [](Desk& desk, const Caller& caller, const Request&, const PathValues& values) {
        need_answerable(desk, caller, values.at("id"));
        Response response;
        response.content_type = "application/x-ndjson";
        records::ExportLimits limits;
        limits.hides_unreleased = values.at("id") == caller.person().id;
        limits.class_id = caller.session.class_id;
        response.body = need(records::export_person(desk.db, values.at("id"), limits));
        response.headers = {{"Cache-Control", "no-store"},
                            {"Content-Disposition", "attachment; filename=\"person.jsonl\""}};
        return response;
      }));
  table.add(
      for_callers(office, {"DELETE", "/api/v1/people/{id}", Lane::kWork},
                  [](Desk& desk, const Caller& caller, const Request&, const PathValues& values) {
                    const std::string& id = values.at("id");
                    if (id == caller.person().id) {
                      refuse(409, "not yourself",
                             "another instructor, or `phren records forget`, must do this");
                    }
                    need_answerable(desk, caller, id);
                    need(records::People(desk.db).remove(id, caller.person().id, desk.now_ms));
                    return json_answer({{"removed", true}});
                  }));
}

}  // namespace phren::app::server
