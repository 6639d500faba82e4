// Marks, debriefs and the examiner's sheet of one encounter.
#include "app/server/api/classroom.h"
#include "app/server/api/guard.h"
#include "app/server/api/marker.h"
#include "app/server/api/results.h"
#include "teaching/marking/mark_json.h"

namespace phren::app::server {
namespace {

using nlohmann::json;
using records::StationState;

Response working() {
  return json_answer({{"state", "working"}}, 202);
}

// The learner only after the release (practice: after the end); staff always.
records::SeenEncounter need_released(Desk& desk, const Caller& caller, const std::string& id) {
  auto seen = need_encounter(desk, caller, id);
  if (seen.info.ended_ms == 0) {
    refuse(409, "under way", "the encounter has not ended", seen.info.class_id);
  }
  const bool is_open_to_all =
      seen.info.station_id.empty() || seen.info.station_state == StationState::kReleased;
  if (!is_open_to_all && !records::is_staff(seen.role)) {
    refuse(403, "not released", "the results of this station are not released yet",
           seen.info.class_id);
  }
  return seen;
}

Response mark(const Office& office, Desk& desk, const Caller& caller, const std::string& id) {
  const auto seen = need_released(desk, caller, id);
  const auto result = result_of(office, desk, seen.info);
  if (!result) return working();
  const teaching::MarkSheet& sheet = result->joined.sheet;
  json items = json::array();
  for (std::size_t i = 0; i < sheet.items.size(); ++i) {
    const auto& item = sheet.items[i];
    std::string why;
    for (const auto& one : result->checklist.items) {
      if (one.id == item.item_id) why = one.why;
    }
    json shown = teaching::mark_json(item);
    shown["why"] = why;
    shown["by"] = result->joined.by_examiner[i] ? "examiner" : "log";
    items.push_back(std::move(shown));
  }
  return json_answer({{"state", "ready"},
                      {"checklist_title", result->checklist.title},
                      {"status", result->checklist.status},
                      {"points", sheet.points},
                      {"max_points", sheet.max_points},
                      {"passed", sheet.passed},
                      {"over_time", sheet.over_time},
                      {"critical_missed", sheet.critical_missed},
                      {"claim", result->claim},
                      {"doubts", records::is_staff(seen.role) ? result->doubts : json::array()},
                      {"items", std::move(items)}});
}

Response debrief(const Office& office, Desk& desk, const Caller& caller, const std::string& id) {
  const auto seen = need_released(desk, caller, id);
  const auto result = result_of(office, desk, seen.info);
  if (!result) return working();
  json out = json::parse(result->debrief_text);
  out["truth"] = truth_json(need(office.library->get(seen.info.case_id)), *office.library);
  return json_answer(out);
}

records::EncounterInfo need_examinable(Desk& desk, const Caller& caller, const std::string& id) {
  const auto seen = need_encounter(desk, caller, id);
  if (!records::is_staff(seen.role)) {
    refuse(403, "not allowed", "this is for the instructors and examiners of the class",
           seen.info.class_id);
  }
  return seen.info;
}

json marks_json(const std::vector<records::ExaminerMark>& given, const std::string& examiner) {
  json out{{"marks", json::array()}, {"global_rating", nullptr}, {"note", ""}};
  for (const auto& one : given) {
    if (one.examiner_id != examiner) continue;
    if (one.item_id == records::kGlobalRating) {
      if (one.points > 0.0) out["global_rating"] = one.points;
      out["note"] = one.note;
    } else {
      out["marks"].push_back(
          {{"item_id", one.item_id}, {"points", one.points}, {"note", one.note}});
    }
  }
  return out;
}

Response examiner_sheet(const Office& office, Desk& desk, const Caller& caller,
                        const records::EncounterInfo& info) {
  const auto checklist = need(checklist_of(office, desk.db, info.station_id, info.case_id));
  const auto given = need(records::Marks(desk.db).of_encounter(info.id));
  const auto result = info.ended_ms > 0 ? result_of(office, desk, info) : std::nullopt;
  json items = json::array(), all = json::array();
  for (const auto& item : checklist.items) {
    json automatic;
    if (result) {
      for (const auto& mark : result->by_log.items) {
        if (mark.item_id == item.id && mark.verdict != teaching::Verdict::kNotJudged) {
          automatic = mark.points;
        }
      }
    }
    items.push_back({{"item_id", item.id},
                     {"text", item.text},
                     {"max_points", item.points},
                     {"rule", teaching::to_string(item.rule)},
                     {"automatic_points", automatic}});
  }
  std::set<std::string> examiners;
  for (const auto& one : given) examiners.insert(one.examiner_id);
  for (const std::string& id : examiners) {
    json one = marks_json(given, id);
    const auto person = records::People(desk.db).find(id);
    one["examiner"] = person ? person->name : "a deleted person";
    all.push_back(std::move(one));
  }
  const auto learner = records::People(desk.db).find(info.person_id);
  return json_answer({{"learner", learner ? learner->name : "a deleted person"},
                      {"items", std::move(items)},
                      {"mine", marks_json(given, caller.person().id)},
                      {"all", std::move(all)}});
}

records::ExaminerMark mark_of(const json& one, const teaching::Checklist& checklist,
                              const std::string& examiner) {
  const std::string id = text_field(one, "item_id", 64);
  for (const auto& item : checklist.items) {
    if (item.id != id) continue;
    const std::string note = text_field_or(one, "note", "", 1000);
    if (item.rule != teaching::RuleKind::kExaminer && note.empty()) {
      refuse(422, "wrong value",
             "item " + id + " is marked by the log; changing it needs a note that says why");
    }
    return {examiner, id, number_field(one, "points", 0.0, item.points), note};
  }
  refuse(422, "wrong value", "item_id '" + id + "' is not on the checklist");
}

Response put_marks(const Office& office, Desk& desk, const Caller& caller, const Request& request,
                   const std::string& id) {
  const auto info = need_examinable(desk, caller, id);
  const json body = body_of(request);
  const auto checklist = need(checklist_of(office, desk.db, info.station_id, info.case_id));
  std::vector<records::ExaminerMark> marks;
  if (const auto list = body.find("marks"); list != body.end()) {
    if (!list->is_array()) refuse(422, "wrong value", "marks must be a list");
    for (const json& one : *list) {
      if (!one.is_object()) refuse(422, "wrong value", "each mark must be an object");
      marks.push_back(mark_of(one, checklist, caller.person().id));
    }
  }
  const bool has_rating = body.contains("global_rating") && !body["global_rating"].is_null();
  if (has_rating || body.contains("note")) {
    const double rating = has_rating ? number_field(body, "global_rating", 1.0, 5.0) : 0.0;
    marks.push_back({caller.person().id, records::kGlobalRating, rating,
                     text_field_or(body, "note", "", 2000)});
  }
  const auto kept = desk.db.transact([&](soci::session&) -> Status {
    if (auto put = records::Marks(desk.db).put(id, marks, desk.now_ms); !put) return put;
    return records::note_audit(desk.db, {desk.now_ms, caller.person().id, "examiner_marked", id,
                                         std::to_string(marks.size()) + " marks", info.class_id});
  });
  if (!kept && kept.error().code == ErrorCode::kConflict) {
    refuse(409, "released", kept.error().message, info.class_id);
  }
  need(kept, info.class_id);
  return examiner_sheet(office, desk, caller, info);
}

}  // namespace

void add_result_routes(RouteTable& table, const OfficePtr& office) {
  const std::string path = "/api/v1/encounters/{id}";
  table.add(for_callers(
      office, {"GET", path + "/mark", Lane::kWork},
      [office](Desk& desk, const Caller& caller, const Request&, const PathValues& values) {
        return mark(*office, desk, caller, values.at("id"));
      }));
  table.add(for_callers(
      office, {"GET", path + "/debrief", Lane::kWork},
      [office](Desk& desk, const Caller& caller, const Request&, const PathValues& values) {
        return debrief(*office, desk, caller, values.at("id"));
      }));
  table.add(for_callers(
      office, {"GET", path + "/examiner", Lane::kWork},
      [office](Desk& desk, const Caller& caller, const Request&, const PathValues& values) {
        return examiner_sheet(*office, desk, caller,
                              need_examinable(desk, caller, values.at("id")));
      }));
  table.add(for_callers(
      office, {"PUT", path + "/examiner", Lane::kWork},
      [office](Desk& desk, const Caller& caller, const Request& request, const PathValues& values) {
        return put_marks(*office, desk, caller, request, values.at("id"));
      }));
}

}  // namespace phren::app::server
