#include "reasoning/tables.h"

#include <algorithm>
#include <cmath>

#include "exam/names.h"

namespace phren::reasoning {
namespace {

constexpr std::string_view kOther = "other";

bool is_condition(const std::vector<ConditionInfo>& conditions, std::string_view id) {
  return id == kOther || std::any_of(conditions.begin(), conditions.end(),
                                     [&](const ConditionInfo& c) { return c.id == id; });
}

tl::unexpected<Error> unknown_condition(const CsvTable& table, std::size_t row,
                                        std::string_view id) {
  return fail(at(table.place(row), out_of_range("condition_id", "'" + std::string(id) + "'",
                                                "an id of conditions.csv, or other")));
}

}  // namespace

Result<std::vector<ConditionInfo>> read_conditions(const CsvTable& table) {
  if (auto ok = table.require({"condition_id", "label", "meaning", "can_kill_soon", "alone"});
      !ok) {
    return fail(ok.error());
  }
  std::vector<ConditionInfo> conditions;
  for (std::size_t i = 0; i < table.num_rows(); ++i) {
    ConditionInfo info{table.text(i, "condition_id"), table.text(i, "label"),
                       table.text(i, "meaning"), table.text(i, "can_kill_soon") == "1",
                       table.text(i, "alone") == "1"};
    if (info.id.empty() || info.label.empty()) {
      return fail(ErrorCode::kMalformed, table.place(i) + ": needs condition_id and label");
    }
    if (is_condition(conditions, info.id)) {
      return fail(ErrorCode::kInvalidArgument, table.place(i) + ": " + info.id + " is used twice");
    }
    conditions.push_back(std::move(info));
  }
  return conditions;
}

Result<FrequencyTable> FrequencyTable::read(const CsvTable& table,
                                            const std::vector<ConditionInfo>& conditions,
                                            const FindingTable& findings) {
  std::vector<std::string_view> columns{"finding_id", kOther};
  for (const auto& c : conditions) columns.push_back(c.id);
  TRY(table.require(columns));
  FrequencyTable out;
  out.num_conditions_ = conditions.size();
  out.share_.resize(findings.all().size());
  for (std::size_t i = 0; i < table.num_rows(); ++i) {
    const auto finding = TRY(at(table.place(i), findings.find(table.text(i, "finding_id"))));
    auto& row = out.share_[finding];
    if (!row.empty()) {
      return fail(ErrorCode::kInvalidArgument,
                  table.place(i) + ": " + findings[finding].id + " is given twice");
    }
    for (std::size_t c = 0; c <= conditions.size(); ++c) {
      const std::string_view column = c < conditions.size() ? conditions[c].id : kOther;
      const auto percent = TRY(table.needed_number(i, column, 0.0, 100.0));
      // Nothing at a bedside is certain: at least one in two hundred either way.
      row.push_back(std::clamp(percent / 100.0, 0.005, 0.995));
    }
  }
  return out;
}

Result<PriorTable> PriorTable::read(const CsvTable& priors, const CsvTable& age_factors,
                                    const std::vector<ConditionInfo>& conditions) {
  if (auto ok = priors.require({"setting", "condition_id", "percent", "source", "doi", "status"});
      !ok) {
    return fail(ok.error());
  }
  PriorTable out;
  for (std::size_t i = 0; i < priors.num_rows(); ++i) {
    const std::string& id = priors.text(i, "condition_id");
    if (!is_condition(conditions, id)) return unknown_condition(priors, i, id);
    const auto percent = TRY(priors.needed_number(i, "percent", 0.001, 99.0));
    const auto standing = TRY(at(priors.place(i), parse_standing(priors.text(i, "status"))));
    Prior prior{percent / 100.0,
                percent / 100.0,
                1.0,
                priors.text(i, "source"),
                priors.text(i, "doi"),
                priors.text(i, "status"),
                priors.text(i, "note"),
                standing};
    if (!out.priors_[priors.text(i, "setting")].emplace(id, std::move(prior)).second) {
      return fail(ErrorCode::kInvalidArgument, priors.place(i) + ": " + id + " is given twice");
    }
  }
  for (const auto& [setting, rows] : out.priors_) {
    for (const auto& condition : conditions) {
      if (!rows.contains(condition.id)) {
        return fail(ErrorCode::kMalformed,
                    "priors.csv: setting " + setting + " has no row for " + condition.id);
      }
    }
    if (!rows.contains(kOther)) {
      return fail(ErrorCode::kMalformed, "priors.csv: setting " + setting + " has no row 'other'");
    }
  }
  for (std::size_t i = 0; i < age_factors.num_rows(); ++i) {
    const std::string& id = age_factors.text(i, "condition_id");
    if (!is_condition(conditions, id)) return unknown_condition(age_factors, i, id);
    const auto from = age_factors.needed_number(i, "age_from_years", 0.0, 130.0);
    const auto to = age_factors.needed_number(i, "age_to_years", 0.0, 130.0);
    const auto factor = age_factors.needed_number(i, "odds_factor", 0.001, 100.0);
    for (const auto* number : {&from, &to, &factor}) {
      if (!*number) return fail(number->error());
    }
    out.age_factors_[id].push_back({*from, *to, *factor});
  }
  return out;
}

std::vector<std::string> PriorTable::settings() const {
  std::vector<std::string> names;
  for (const auto& [name, rows] : priors_) names.push_back(name);
  return names;
}

bool PriorTable::has_setting(std::string_view setting) const {
  return priors_.find(setting) != priors_.end();
}

Prior PriorTable::of(std::string_view setting, std::string_view condition_id,
                     double age_years) const {
  Prior prior = priors_.find(setting)->second.find(condition_id)->second;
  if (const auto found = age_factors_.find(condition_id); found != age_factors_.end()) {
    for (const AgeFactor& f : found->second) {
      if (age_years >= f.from_years && age_years < f.to_years) {
        prior.age_odds_factor = f.odds_factor;
      }
    }
  }
  prior.probability = probability_from_log_odds(log_odds_from_probability(prior.printed) +
                                                std::log(prior.age_odds_factor));
  return prior;
}

Result<AgreementTable> AgreementTable::read(const CsvTable& table, const FindingTable& findings) {
  if (auto ok = table.require({"finding_id", "use", "kappa", "lo", "hi", "source", "status"});
      !ok) {
    return fail(ok.error());
  }
  std::map<std::string, Agreement, std::less<>> rows;
  for (std::size_t i = 0; i < table.num_rows(); ++i) {
    if (table.text(i, "use") != "weigh") continue;
    std::vector<double> printed;
    for (const auto column : {"kappa", "lo", "hi"}) {
      const auto number = TRY(table.number(i, column, -1.0, 1.0));
      if (number) printed.push_back(*number);
      if (number && std::string_view(column) == "kappa") break;
    }
    const auto standing = TRY(at(table.place(i), parse_standing(table.text(i, "status"))));
    if (printed.empty()) {
      return fail(ErrorCode::kMalformed, table.place(i) + ": a weighed row needs kappa, lo or hi");
    }
    double sum = 0.0;  // the value, or the middle of the range, or the only bound
    for (const double value : printed) sum += value;
    const Agreement agreement{sum / static_cast<double>(printed.size()), table.text(i, "source"),
                              table.text(i, "status"), standing};
    for (const auto& id : split(table.text(i, "finding_id"), ';')) {
      if (id.rfind("default:", 0) != 0 && !findings.index_of(id)) {
        return fail(at(table.place(i), findings.find(id).error()));
      }
      if (!rows.emplace(id, agreement).second) {
        return fail(ErrorCode::kInvalidArgument, table.place(i) + ": " + id + " is weighed twice");
      }
    }
  }
  AgreementTable out;
  for (const FindingInfo& info : findings.all()) {
    auto row = rows.find(info.id);
    if (row == rows.end())
      row = rows.find("default:" + std::string(exam::to_string(info.found_by)));
    out.by_finding_.push_back(row == rows.end() ? Agreement{1.0, "", "", Standing::kEngineering}
                                                : row->second);
  }
  return out;
}

}  // namespace phren::reasoning
