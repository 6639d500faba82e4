#include "app/server/api/results.h"

#include "app/server/api/marker.h"
#include "teaching/marking/mark_json.h"

namespace phren::app::server {

using nlohmann::json;

std::optional<EncounterResult> result_of(const Office& office, Desk& desk,
                                         const records::EncounterInfo& info) {
  records::Marks marks(desk.db);
  const auto kept = need(marks.replayed(info.id));
  if (!kept || kept->made_by != PHREN_VERSION) {
    office.marker_bell->ring();
    return std::nullopt;
  }
  const json performance = json::parse(kept->performance, nullptr, false);
  if (performance.contains("error")) {
    refuse(422, "cannot be replayed", performance["error"].get<std::string>(), info.class_id);
  }
  const json sheet = json::parse(kept->sheet, nullptr, false);
  EncounterResult result;
  result.info = info;
  result.checklist = need(checklist_of(office, desk.db, info.station_id, info.case_id));
  result.by_log = need(teaching::mark_sheet_from_json(sheet));
  // Extra time may have been granted, or put right, since the encounter was replayed.
  result.by_log.over_time =
      teaching::is_over_time(performance.at("debrief").at("end_s").get<double>(), result.checklist,
                             extra_time_of(desk.db, info));
  result.claim = sheet.value("claim", "none");
  result.doubts = sheet.value("doubts", json::array());
  result.debrief_text = performance.at("debrief").dump();
  result.examination = performance.at("examination").get<std::string>();
  result.given = need(marks.of_encounter(info.id));
  std::vector<teaching::GivenMark> given;
  for (const auto& one : result.given) {
    given.push_back({one.examiner_id, one.item_id, one.points, one.note});
  }
  result.joined = teaching::join_marks(result.by_log, result.checklist, given);
  return result;
}

std::vector<EncounterResult> results_of_station(const Office& office, Desk& desk,
                                                const std::string& station_id) {
  std::vector<EncounterResult> list;
  for (const auto& info : need(records::Encounters(desk.db).of_station(station_id))) {
    if (info.ended_ms == 0) continue;
    try {
      if (auto one = result_of(office, desk, info)) list.push_back(std::move(*one));
    } catch (const Refused& refused) {
      if (refused.response.status != 422) throw;  // one that cannot be replayed stops no report
    }
  }
  return list;
}

}  // namespace phren::app::server
