// What the marks of a class say: reliability, items, agreement of examiners, abilities.
#include <cmath>

#include "app/server/api/classroom.h"
#include "app/server/api/guard.h"
#include "app/server/api/plan.h"
#include "app/server/api/results.h"
#include "teaching/statistics/class_report.h"

namespace phren::app::server {
namespace {

using nlohmann::json;

struct Row {
  std::string person_id, name, case_id;
  std::vector<double> points;
  double share = 0.0;
};

struct Sheet {
  std::string title;
  std::vector<std::pair<std::string, std::string>> items;  // id, text
  std::vector<double> max_points;
  std::vector<Row> rows;
  teaching::Table agreement = teaching::Table(3, std::vector<double>(3, 0.0));
  teaching::Ratings ratings;
};

std::size_t class_of(double points, double max_points) {
  return points >= max_points - 1e-9 ? 2 : points > 1e-9 ? 1 : 0;
}

// Examiners against the log, and among each other.
void add_ratings(const EncounterResult& result, std::map<std::string, std::size_t>& examiners,
                 std::vector<std::map<std::size_t, double>>& units, Sheet& sheet) {
  for (const auto& mark : result.by_log.items) {
    std::map<std::size_t, double> unit;
    for (const auto& given : result.given) {
      if (given.item_id != mark.item_id) continue;
      const auto [who, is_new] = examiners.emplace(given.examiner_id, examiners.size());
      const double most = mark.max_points > 0.0 ? mark.max_points : 1.0;
      unit[who->second] = given.points / most;
      if (mark.verdict == teaching::Verdict::kNotJudged) continue;
      sheet.agreement[class_of(mark.points, mark.max_points)]
                     [class_of(given.points, mark.max_points)] += 1.0;
    }
    if (unit.size() > 1) units.push_back(std::move(unit));
  }
}

void lay_out_ratings(std::size_t examiners, const std::vector<std::map<std::size_t, double>>& units,
                     Sheet& sheet) {
  sheet.ratings.assign(examiners, std::vector<std::optional<double>>(units.size()));
  for (std::size_t u = 0; u < units.size(); ++u) {
    for (const auto& [who, value] : units[u]) sheet.ratings[who][u] = value;
  }
}

std::string name_of(Desk& desk, const std::string& person_id) {
  const auto person = records::People(desk.db).find(person_id);
  return person ? person->name : "a deleted person";
}

// Only items that were judged for everybody make a table.
Sheet sheet_of_station(const Office& office, Desk& desk, const records::Station& station) {
  Sheet sheet;
  sheet.title = station.title;
  const auto results = results_of_station(office, desk, station.id);
  std::map<std::string, std::size_t> examiners;
  std::vector<std::map<std::size_t, double>> units;
  std::vector<bool> is_judged(results.empty() ? 0 : results.front().joined.sheet.items.size(),
                              true);
  for (const auto& result : results) {
    for (std::size_t i = 0; i < is_judged.size(); ++i) {
      if (result.joined.sheet.items[i].verdict == teaching::Verdict::kNotJudged) {
        is_judged[i] = false;
      }
    }
    add_ratings(result, examiners, units, sheet);
  }
  for (std::size_t i = 0; i < is_judged.size(); ++i) {
    if (!is_judged[i]) continue;
    const auto& item = results.front().joined.sheet.items[i];
    sheet.items.emplace_back(item.item_id, item.text);
    sheet.max_points.push_back(item.max_points);
  }
  for (const auto& result : results) {
    Row row{result.info.person_id, name_of(desk, result.info.person_id), result.info.case_id, {}};
    for (std::size_t i = 0; i < is_judged.size(); ++i) {
      if (is_judged[i]) row.points.push_back(result.joined.sheet.items[i].points);
    }
    const double most = result.joined.sheet.max_points;
    row.share = most > 0.0 ? result.joined.sheet.points / most : 0.0;
    sheet.rows.push_back(std::move(row));
  }
  lay_out_ratings(examiners.size(), units, sheet);
  return sheet;
}

// Each station is one item; learners who missed one are left out.
Sheet sheet_of_class(const Office& office, Desk& desk, const std::string& class_id) {
  Sheet sheet;
  sheet.title = need(records::Classes(desk.db).find(class_id)).title;
  std::vector<std::map<std::string, Row>> by_station;
  for (const auto& station : need(records::Stations(desk.db).of_class(class_id))) {
    Sheet one = sheet_of_station(office, desk, station);
    if (one.rows.empty()) continue;
    sheet.items.emplace_back(station.id, station.title);
    sheet.max_points.push_back(1.0);
    auto& rows = by_station.emplace_back();
    for (Row& row : one.rows) rows[row.person_id] = std::move(row);
    for (std::size_t i = 0; i < 3; ++i) {
      for (std::size_t j = 0; j < 3; ++j) sheet.agreement[i][j] += one.agreement[i][j];
    }
  }
  if (by_station.empty()) return sheet;
  for (const auto& [person_id, first] : by_station.front()) {
    Row row{person_id, first.name, "", {}};
    for (const auto& station : by_station) {
      const auto found = station.find(person_id);
      if (found != station.end()) row.points.push_back(found->second.share);
    }
    if (row.points.size() == by_station.size()) sheet.rows.push_back(std::move(row));
  }
  return sheet;
}

// Who is on the roll but not among the rows, and why: nobody drops out of sight.
json unmarked_json(const Office& office, Desk& desk, const std::string& class_id,
                   const std::string& station_id, const Sheet& sheet) {
  std::map<std::string, std::string> missing, names;
  for (const auto& member : need(records::Classes(desk.db).members(class_id), class_id)) {
    names[member.person.id] = member.person.name;
    missing[member.person.id] =
        station_id.empty() ? "has no mark at every station" : "did not begin";
  }
  if (!station_id.empty()) {
    for (const auto& info : need(records::Encounters(desk.db).of_station(station_id))) {
      std::string& why = missing[info.person_id];
      why = "has not ended";
      if (info.ended_ms == 0) continue;
      try {
        result_of(office, desk, info);
        why = "is being replayed";
      } catch (const Refused&) {
        why = "cannot be replayed";
      }
    }
  }
  for (const Row& row : sheet.rows) missing.erase(row.person_id);
  json out = json::array();
  for (const auto& [id, why] : missing) {
    out.push_back({{"person_id", id},
                   {"name", names.count(id) > 0 ? names[id] : name_of(desk, id)},
                   {"why", why}});
  }
  return out;
}

json lines_json(const Office& office, const teaching::ClassReport& report) {
  json lines = json::array();
  for (const auto& line : report.lines) {
    const auto words = need(office.library->statistics.find(line.statistic));
    lines.push_back({{"id", line.statistic},
                     {"name", words.name},
                     {"meaning", words.meaning},
                     {"uncertainty", words.uncertainty},
                     {"caution", words.caution},
                     {"estimate", line.estimate ? to_json(*line.estimate) : json()},
                     {"note", line.note}});
  }
  return lines;
}

// Share of points by case, with an interval over learners: were parallel patients equally hard?
json cases_json(const Sheet& sheet) {
  std::map<std::string, std::vector<double>> shares;
  for (const Row& row : sheet.rows) {
    if (!row.case_id.empty()) shares[row.case_id].push_back(row.share);
  }
  json out = json::array();
  for (const auto& [case_id, list] : shares) {
    double sum = 0.0, squares = 0.0;
    for (const double share : list) sum += share;
    const auto n = static_cast<double>(list.size());
    for (const double share : list) squares += (share - sum / n) * (share - sum / n);
    const auto estimate = list.size() < 2
                              ? teaching::Estimate{.value = sum / n}
                              : teaching::student_estimate(
                                    sum / n, std::sqrt(squares / (n - 1) / n), n - 1, 0.0, 1.0);
    out.push_back({{"case_id", case_id}, {"learners", list.size()}, {"share", to_json(estimate)}});
  }
  return out;
}

Response report(const Office& office, Desk& desk, const Caller& caller, const Request& request,
                const std::string& class_id) {
  need_staff(desk, caller, class_id);
  const std::string station_id = query_value(request, "station");
  Sheet sheet;
  if (station_id.empty()) {
    sheet = sheet_of_class(office, desk, class_id);
  } else {
    const auto station = need_station(desk, caller, station_id);
    if (station.class_id != class_id) {
      refuse(404, "not found", "this class has no such station", class_id);
    }
    sheet = sheet_of_station(office, desk, station);
  }
  teaching::ClassScores scores{sheet.max_points, {}, sheet.agreement, sheet.ratings};
  for (const Row& row : sheet.rows) scores.points.push_back(row.points);
  const auto result = teaching::report_on(scores);
  json items = json::array(), abilities = json::array();
  for (std::size_t i = 0; i < sheet.items.size() && i < result.items.size(); ++i) {
    const auto& item = result.items[i];
    items.push_back({{"id", sheet.items[i].first},
                     {"text", sheet.items[i].second},
                     {"difficulty", to_json(item.difficulty)},
                     {"discrimination", to_json(item.discrimination)},
                     {"upper_lower", to_json(item.upper_lower)},
                     {"alpha_if_dropped", number_or_null(item.alpha_if_dropped)},
                     {"rasch", item.rasch ? to_json(*item.rasch) : json()}});
  }
  for (std::size_t p = 0; p < sheet.rows.size(); ++p) {
    double score = 0.0;
    for (const double points : sheet.rows[p].points) score += points;
    const bool has_ability = p < result.abilities.size() && result.abilities[p];
    abilities.push_back({{"person_id", sheet.rows[p].person_id},
                         {"name", sheet.rows[p].name},
                         {"score", score},
                         {"ability", has_ability ? to_json(*result.abilities[p]) : json()}});
  }
  return json_answer({{"title", sheet.title},
                      {"learners", sheet.rows.size()},
                      {"items", std::move(items)},
                      {"statistics", lines_json(office, result)},
                      {"abilities", std::move(abilities)},
                      {"unmarked", unmarked_json(office, desk, class_id, station_id, sheet)},
                      {"cases", cases_json(sheet)}});
}

}  // namespace

void add_report_routes(RouteTable& table, const OfficePtr& office) {
  table.add(for_callers(
      office, {"GET", "/api/v1/classes/{id}/report", Lane::kWork},
      [office](Desk& desk, const Caller& caller, const Request& request, const PathValues& values) {
        return report(*office, desk, caller, request, values.at("id"));
      }));
}

}  // namespace phren::app::server
