#include "teaching/marking/debrief.h"

#include <nlohmann/json.hpp>

#include "bedside/log_text.h"
#include "bedside/stay_json.h"
#include "bedside/verdict.h"
#include "exam/names.h"
#include "teaching/marking/words.h"

namespace phren::teaching {
namespace {

using nlohmann::json;

// The action's own fields in the order of the log, without id and time: "treat inhaled
// bronchodilator".
json deed_json(const bedside::TimedDeed& deed) {
  const json line =
      json::parse(bedside::to_line({deed.action_id, deed.time_s, deed.deed}), nullptr, false);
  std::string words = spaced(std::string(bedside::name_of(deed.deed)));
  for (const auto& [key, value] : line.items()) {
    if (key == "id" || key == "t" || key == "do") continue;
    if (value.is_string() && !value.get_ref<const std::string&>().empty()) {
      words += " " + spaced(value.get<std::string>());
    } else if (value.is_array()) {
      for (const json& one : value) {
        if (one.is_string()) words += " " + spaced(one.get<std::string>());
      }
    }
  }
  return {{"t", deed.time_s}, {"do", bedside::name_of(deed.deed)}, {"words", words}};
}

}  // namespace

namespace {

// Each of the learner's marks with what could be heard there, and what could be heard and no mark names.
void add_verdicts(const bedside::Performance& performance, json& out) {
  std::vector<bedside::HeardAt> places;
  for (const auto& stay : performance.stays) places.push_back(stay.found);
  std::vector<exam::Finding> marks;
  out["marks"] = json::array();
  for (const auto& report : performance.last_reports) {
    const exam::Finding& mark = std::get<bedside::Report>(report.deed).finding;
    marks.push_back(mark);
    const bedside::JudgedMark judged = bedside::judge_mark(mark, places);
    out["marks"].push_back({{"finding", mark.id},
                            {"presence", exam::to_string(mark.presence)},
                            {"side", exam::to_string(mark.side)},
                            {"sites", mark.site_ids},
                            {"verdict", bedside::to_string(judged.verdict)},
                            {"reason", judged.reason}});
  }
  out["missed"] = json::array();
  for (const auto& one : bedside::missed_findings(marks, places)) {
    out["missed"].push_back({{"finding", one.finding_id},
                             {"side", exam::to_string(one.side)},
                             {"sites", one.site_ids},
                             {"words", one.words}});
  }
}

// The same for what the learner's own eye saw.
void add_looks(const bedside::Performance& performance, json& out) {
  out["looks"] = json::array();
  for (const auto& look : performance.looks.all()) {
    const bedside::JudgedMark judged = bedside::judge_look(look);
    out["looks"].push_back({{"finding", look.said.id},
                            {"presence", exam::to_string(look.said.presence)},
                            {"side", exam::to_string(look.said.side)},
                            {"verdict", bedside::to_string(judged.verdict)},
                            {"reason", judged.reason}});
  }
  out["unseen"] = json::array();
  for (const auto& one : bedside::missed_looks(performance.looks, performance.at_the_end)) {
    out["unseen"].push_back({{"finding", one.finding_id}, {"side", exam::to_string(one.side)}});
  }
}

}  // namespace

json debrief_json(const bedside::Performance& performance) {
  json out{{"end_s", performance.end_s},
           {"stays", json::array()},
           {"deeds", json::array()},
           {"monitor", json::array()}};
  for (const auto& stay : performance.stays) out["stays"].push_back(json(bedside::stay_json(stay)));
  for (const auto& deed : performance.deeds) out["deeds"].push_back(deed_json(deed));
  add_verdicts(performance, out);
  add_looks(performance, out);
  for (const auto& point : performance.monitor) {
    const auto& m = point.shown;
    out["monitor"].push_back({{"t", point.time_s},
                              {"respiratory_rate_per_min", m.respiratory_rate_per_min},
                              {"spo2_percent", m.spo2_percent},
                              {"etco2_mmHg", m.etco2_mmHg},
                              {"heart_rate_per_min", m.heart_rate_per_min},
                              {"systolic_mmHg", m.systolic_mmHg},
                              {"diastolic_mmHg", m.diastolic_mmHg}});
  }
  return out;
}

}  // namespace phren::teaching
