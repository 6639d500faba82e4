#include "reasoning/findings.h"

#include <toml++/toml.h>

#include <array>
#include <utility>

#include "base/files.h"
#include "exam/names.h"

namespace phren::reasoning {
namespace {

using exam::VitalSigns;
constexpr std::array<std::pair<std::string_view, std::optional<double> VitalSigns::*>, 7> kVitals{
    {{"respiratory_rate_per_min", &VitalSigns::respiratory_rate_per_min},
     {"spo2_percent", &VitalSigns::spo2_percent},
     {"etco2_mmHg", &VitalSigns::etco2_mmHg},
     {"heart_rate_per_min", &VitalSigns::heart_rate_per_min},
     {"systolic_mmHg", &VitalSigns::systolic_mmHg},
     {"diastolic_mmHg", &VitalSigns::diastolic_mmHg},
     {"temperature_C", &VitalSigns::temperature_C}}};

constexpr std::array<std::pair<std::string_view, Comparison>, 4> kComparisons{
    {{"below", Comparison::kBelow},
     {"at_most", Comparison::kAtMost},
     {"above", Comparison::kAbove},
     {"at_least", Comparison::kAtLeast}}};

std::string place(std::string_view file, const toml::node& node) {
  return std::string(file) + ":" + std::to_string(node.source().begin.line);
}

std::vector<std::string> words(const toml::table& row, std::string_view key) {
  std::vector<std::string> out;
  if (const auto* list = row[key].as_array()) {
    for (const auto& node : *list) out.push_back(node.value_or(std::string()));
  }
  return out;
}

Result<Threshold> read_threshold(const toml::table& row, const std::string& here) {
  Threshold t;
  t.vital = row["vital"].value_or(std::string());
  if (!is_vital(t.vital)) {
    return fail(at(here, out_of_range("vital", "'" + t.vital + "'", "a field of vital_signs")));
  }
  int given = 0;
  for (const auto& [key, comparison] : kComparisons) {
    if (const auto limit = row[key].value<double>()) {
      t.comparison = comparison;
      t.limit = *limit;
      ++given;
    }
  }
  if (given != 1) {
    return fail(ErrorCode::kMalformed,
                here + ": a threshold needs exactly one of below, at_most, above, at_least");
  }
  t.per_year = row["per_year"].value_or(0.0);
  t.age_from_years = row["age_from_years"].value_or(0.0);
  t.age_to_years = row["age_to_years"].value_or(130.0);
  if (!(t.age_from_years < t.age_to_years)) {
    return fail(at(here, out_of_range("age_to_years", t.age_to_years, "above age_from_years")));
  }
  t.source = row["source"].value_or(std::string());
  t.status = row["status"].value_or(std::string());
  if (t.source.empty() || t.status.empty()) {
    return fail(ErrorCode::kMalformed, here + ": a threshold needs source and status");
  }
  return t;
}

Result<FindingInfo> read_finding(const toml::table& row, std::string_view file) {
  FindingInfo info;
  info.id = row["id"].value_or(std::string());
  if (info.id.empty()) {
    return fail(ErrorCode::kMalformed, place(file, row) + ": a finding needs an id");
  }
  const std::string here = place(file, row) + ": finding " + info.id;
  info.label = row["label"].value_or(std::string());
  info.meaning = row["meaning"].value_or(std::string());
  if (info.label.empty() || info.meaning.empty()) {
    return fail(ErrorCode::kMalformed, here + ": needs label and meaning");
  }
  const auto basis = exam::parse_basis(row["found_by"].value_or(std::string_view()));
  if (!basis) return fail(at(here, basis.error()));
  info.found_by = *basis;
  info.groups = words(row, "groups");
  if (info.groups.empty()) return fail(ErrorCode::kMalformed, here + ": needs groups");
  info.look = row["look"].value_or(std::string());
  info.seconds = row["seconds"].value_or(0.0);
  if (!(info.seconds >= 0.0 && info.seconds <= 600.0)) {
    return fail(at(here, out_of_range("seconds", info.seconds, "between 0 and 600")));
  }
  info.sided = row["sided"].value_or(false);
  info.silence = row["silence"].value_or(false);
  info.pattern = row["pattern"].value_or(false);
  info.afar = row["afar"].value_or(false);
  info.of = row["of"].value_or(std::string());
  info.implied_by = words(row, "implied_by");
  if (const auto* list = row["threshold"].as_array()) {
    for (const auto& node : *list) {
      const auto* table = node.as_table();
      if (table == nullptr) return fail(ErrorCode::kMalformed, here + ": threshold: not a table");
      auto threshold = read_threshold(*table, here);
      if (!threshold) return fail(threshold.error());
      info.thresholds.push_back(std::move(*threshold));
    }
  }
  return info;
}

}  // namespace

bool holds(double value, Comparison comparison, double limit) {
  switch (comparison) {
    case Comparison::kBelow:
      return value < limit;
    case Comparison::kAtMost:
      return value <= limit;
    case Comparison::kAbove:
      return value > limit;
    case Comparison::kAtLeast:
      return value >= limit;
  }
  return false;
}

Result<FindingTable> FindingTable::parse(std::string_view toml_text, std::string_view file_name) {
  toml::table root;
  try {
    root = toml::parse(toml_text, std::string(file_name));
  } catch (const toml::parse_error& error) {
    return fail(ErrorCode::kMalformed, std::string(file_name) + ":" +
                                           std::to_string(error.source().begin.line) + ": " +
                                           std::string(error.description()));
  }
  const auto* rows = root["finding"].as_array();
  if (rows == nullptr) {
    return fail(ErrorCode::kMalformed, std::string(file_name) + ": needs at least one [[finding]]");
  }
  FindingTable table;
  for (const auto& node : *rows) {
    const auto* row = node.as_table();
    if (row == nullptr)
      return fail(ErrorCode::kMalformed, place(file_name, node) + ": not a table");
    auto info = read_finding(*row, file_name);
    if (!info) return fail(info.error());
    if (!table.index_.emplace(info->id, table.findings_.size()).second) {
      return fail(ErrorCode::kInvalidArgument,
                  place(file_name, node) + ": finding id " + info->id + " is used twice");
    }
    table.findings_.push_back(std::move(*info));
  }
  std::map<std::string, std::size_t> groups;
  for (FindingInfo& info : table.findings_) {
    for (const auto& group : info.groups) {
      info.group_indices.push_back(groups.emplace(group, groups.size()).first->second);
    }
  }
  table.num_groups_ = groups.size();
  for (const FindingInfo& info : table.findings_) {
    auto others = info.implied_by;
    if (!info.of.empty()) others.push_back(info.of);
    for (const auto& other : others) {
      if (!table.index_of(other)) {
        return fail(ErrorCode::kInvalidArgument, std::string(file_name) + ": finding " + info.id +
                                                     " names '" + other +
                                                     "', which is not a finding");
      }
    }
  }
  return table;
}

Result<FindingTable> FindingTable::load(const std::filesystem::path& file) {
  auto text = read_file(file);
  if (!text) return fail(text.error());
  return parse(*text, file.filename().string());
}

std::optional<std::size_t> FindingTable::index_of(std::string_view id) const {
  const auto found = index_.find(id);
  if (found == index_.end()) return std::nullopt;
  return found->second;
}

Result<std::size_t> FindingTable::find(std::string_view id) const {
  if (const auto index = index_of(id)) return *index;
  std::vector<std::string_view> ids;
  for (const auto& [known, index] : index_) ids.push_back(known);
  return fail(ErrorCode::kNotFound,
              "finding '" + std::string(id) + "' is not in findings.toml." + did_you_mean(id, ids));
}

std::optional<double> vital_value(const exam::VitalSigns& vitals, std::string_view name) {
  for (const auto& [key, member] : kVitals) {
    if (key == name) return vitals.*member;
  }
  return std::nullopt;
}

bool is_vital(std::string_view name) {
  for (const auto& [key, member] : kVitals) {
    if (key == name) return true;
  }
  return false;
}

std::vector<exam::Finding> findings_from_vitals(const exam::VitalSigns& vitals, double age_years,
                                                const FindingTable& table) {
  std::vector<exam::Finding> found;
  for (const FindingInfo& info : table.all()) {
    for (const Threshold& t : info.thresholds) {
      const auto value = vital_value(vitals, t.vital);
      if (!value || age_years < t.age_from_years || age_years >= t.age_to_years) continue;
      exam::Finding finding;
      finding.id = info.id;
      finding.basis = exam::Basis::kMonitored;
      finding.presence = holds(*value, t.comparison, t.limit + t.per_year * age_years)
                             ? exam::Presence::kPresent
                             : exam::Presence::kAbsent;
      found.push_back(std::move(finding));
      break;
    }
  }
  return found;
}

}  // namespace phren::reasoning
