#include "reasoning/findings.h"

#include <array>
#include <utility>

#include "base/files.h"
#include "base/toml_fields.h"
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

Threshold read_threshold(TomlFields& fields) {
  Threshold t;
  fields.text("vital", t.vital, true);
  if (!is_vital(t.vital)) {
    fields.note(out_of_range("vital", "'" + t.vital + "'", "a field of vital_signs"));
  }
  int given = 0;
  for (const auto& [key, comparison] : kComparisons) {
    std::optional<double> limit;
    fields.number(key, limit, -1000.0, 1000.0);
    if (!limit) continue;
    t.comparison = comparison;
    t.limit = *limit;
    ++given;
  }
  if (given != 1) {
    fields.note({ErrorCode::kMalformed,
                 "a threshold needs exactly one of below, at_most, above, at_least"});
  }
  fields.number("per_year", t.per_year, -100.0, 100.0);
  fields.number("age_from_years", t.age_from_years, 0.0, 130.0);
  fields.number("age_to_years", t.age_to_years, 0.0, 130.0);
  if (!(t.age_from_years < t.age_to_years)) {
    fields.note(out_of_range("age_to_years", t.age_to_years, "above age_from_years"));
  }
  fields.text("source", t.source, true);
  fields.text("status", t.status, true);
  return t;
}

FindingInfo read_finding(TomlFields& fields) {
  FindingInfo info;
  fields.text("id", info.id, true);
  fields.is_called("finding " + info.id);
  fields.text("label", info.label, true);
  fields.text("meaning", info.meaning, true);
  fields.word("found_by", info.found_by, exam::parse_basis, true);
  fields.texts("groups", info.groups);
  if (info.groups.empty()) fields.note({ErrorCode::kMalformed, "needs groups"});
  fields.text("look", info.look);
  double first = 0.0;
  fields.number("first", first, 0.0, 40.0);
  info.first = static_cast<int>(first);
  fields.flag("sided", info.sided);
  fields.flag("silence", info.silence);
  fields.flag("pattern", info.pattern);
  fields.flag("afar", info.afar);
  fields.text("of", info.of);
  fields.texts("implied_by", info.implied_by);
  fields.flag("kinds_complete", info.kinds_complete);
  fields.rows("threshold",
              [&](TomlFields& row) { info.thresholds.push_back(read_threshold(row)); });
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
  FindingTable table;
  TRY(read_toml(toml_text, file_name, [&](TomlFields& top) {
    top.rows(
        "finding", [&](TomlFields& row) { row.add(table.findings_, read_finding(row)); }, true);
  }));
  for (std::size_t i = 0; i < table.findings_.size(); ++i) {
    table.index_.emplace(table.findings_[i].id, i);
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
  auto text = TRY(read_file(file));
  return parse(text, file.filename().string());
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
