// Setting the pass mark: from examiners' ratings of real performances, and from judges' estimates.
#include <algorithm>

#include "app/server/api/classroom.h"
#include "app/server/api/guard.h"
#include "app/server/api/plan.h"
#include "app/server/api/results.h"
#include "teaching/statistics/standard_setting.h"

namespace phren::app::server {
namespace {

using nlohmann::json;

// The global rating has five steps; the middle one is "borderline".
constexpr double kBorderline = 3.0;

std::vector<teaching::Candidate> candidates_of(const Office& office, Desk& desk,
                                               const std::string& station_id) {
  std::vector<teaching::Candidate> list;
  for (const auto& result : results_of_station(office, desk, station_id)) {
    double sum = 0.0;
    int count = 0;
    for (const auto& one : result.given) {
      if (one.item_id != records::kGlobalRating || one.points <= 0.0) continue;
      sum += one.points;
      ++count;
    }
    if (count > 0) list.push_back({sum / count, result.joined.sheet.points});
  }
  return list;
}

double total_points(const teaching::Checklist& checklist) {
  double total = 0.0;
  for (const auto& item : checklist.items) total += item.points;
  return total;
}

// Why no line could be drawn, for those who gave the ratings.
std::string why_no_line(const std::vector<teaching::Candidate>& candidates) {
  const std::size_t n = candidates.size();
  if (n < teaching::kFewestCandidates) {
    return "it needs ratings of " + std::to_string(teaching::kFewestCandidates) +
           " learners or more; so far there are " + std::to_string(n) + ".";
  }
  const bool is_even =
      std::all_of(candidates.begin(), candidates.end(), [&](const teaching::Candidate& one) {
        return one.global_rating == candidates.front().global_rating;
      });
  return is_even ? "everybody has the same rating, so no line can be drawn."
                 : "better ratings did not go with more points, so the line leads nowhere.";
}

void add_borderline(const std::vector<teaching::Candidate>& candidates, double total, json& out) {
  if (const auto line = teaching::borderline_regression(candidates, kBorderline)) {
    out["borderline_regression"] = {{"cut", to_json(line->cut)},
                                    {"share", number_or_null(line->cut.value / total)},
                                    {"r_squared", number_or_null(line->r_squared)},
                                    {"warnings", line->warnings}};
  } else {
    out["notes"].push_back("Borderline regression: " + why_no_line(candidates));
  }
  if (const auto group = teaching::borderline_group(candidates, kBorderline)) {
    out["borderline_group"] = {{"mean", to_json(group->mean)},
                               {"median", number_or_null(group->median)},
                               {"candidates", group->num_borderline},
                               {"warnings", group->warnings}};
  } else {
    out["notes"].push_back("Borderline group: nobody was rated borderline.");
  }
}

// Judges who estimated every item; the estimate is the chance of a borderline learner.
void add_angoff(Desk& desk, const std::string& station_id, const teaching::Checklist& checklist,
                double total, json& out) {
  teaching::Table chances;
  for (const auto& [judge, by_item] : need(records::Marks(desk.db).angoff(station_id))) {
    std::vector<double> row;
    for (const auto& item : checklist.items) {
      const auto found = by_item.find(item.id);
      // In points, so that heavy items weigh more.
      if (found != by_item.end()) row.push_back(found->second * item.points / total);
    }
    if (row.size() == checklist.items.size()) chances.push_back(std::move(row));
  }
  const auto cut = teaching::angoff_cut(chances);
  if (!cut) {
    out["notes"].push_back("Angoff: it needs " + std::to_string(teaching::kFewestJudges) +
                           " judges or more who estimated every item; so far there are " +
                           std::to_string(chances.size()) + ".");
    return;
  }
  const auto scaled = [&](double value) { return number_or_null(value * total); };
  out["angoff"] = {{"cut",
                    {{"value", scaled(cut->points.value)},
                     {"se", scaled(cut->points.se)},
                     {"low", scaled(cut->points.low)},
                     {"high", scaled(cut->points.high)}}},
                   {"share", number_or_null(cut->points.value)},
                   {"judges", chances.size()}};
}

Response standard(const Office& office, Desk& desk, const records::Station& station) {
  const StationPlan plan = need(plan_of(station));
  const auto candidates = candidates_of(office, desk, station.id);
  json out{{"candidates", candidates.size()}, {"borderline_regression", nullptr},
           {"borderline_group", nullptr},     {"angoff", nullptr},
           {"notes", json::array()},          {"pass_share", plan.checklist.pass_share}};
  const double total = total_points(plan.checklist);
  if (total > 0.0) {
    add_borderline(candidates, total, out);
    add_angoff(desk, station.id, plan.checklist, total, out);
  }
  return json_answer(out);
}

Response put_angoff(const Office& office, Desk& desk, const Caller& caller, const Request& request,
                    const std::string& id) {
  const records::Station station = need_station(desk, caller, id);
  const StationPlan plan = need(plan_of(station));
  const json body = body_of(request);
  const auto given = body.find("chances");
  if (given == body.end() || !given->is_object()) {
    refuse(422, "wrong value", "chances must be an object of item ids with chances 0 to 1",
           station.class_id);
  }
  std::map<std::string, double> chances;
  for (const auto& [item, value] : given->items()) {
    const bool is_known =
        std::any_of(plan.checklist.items.begin(), plan.checklist.items.end(),
                    [&](const teaching::ChecklistItem& one) { return one.id == item; });
    if (!is_known) {
      refuse(422, "wrong value", "'" + item + "' is not on the checklist", station.class_id);
    }
    chances[item] = number_field(*given, item.c_str(), 0.0, 1.0);
  }
  need(records::Marks(desk.db).put_angoff(id, caller.person().id, chances, desk.now_ms));
  return standard(office, desk, station);
}

}  // namespace

void add_standard_routes(RouteTable& table, const OfficePtr& office) {
  const std::string path = "/api/v1/stations/{id}";
  table.add(for_callers(
      office, {"GET", path + "/standard", Lane::kWork},
      [office](Desk& desk, const Caller& caller, const Request&, const PathValues& values) {
        return standard(*office, desk, need_station(desk, caller, values.at("id")));
      }));
  table.add(for_callers(
      office, {"PUT", path + "/angoff", Lane::kWork},
      [office](Desk& desk, const Caller& caller, const Request& request, const PathValues& values) {
        return put_angoff(*office, desk, caller, request, values.at("id"));
      }));
}

}  // namespace phren::app::server
