// The bedside findings of data/findings.toml: words, groups, age limits for monitored ones.
//
// Units:   vital signs as in exam::VitalSigns; ages in years.
// Errors:  loading gives kMalformed or kInvalidArgument naming file, line, finding, field and
// range.
#pragma once

#include <filesystem>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.h"
#include "exam/types.h"

namespace phren::reasoning {

enum class Comparison { kBelow, kAtMost, kAbove, kAtLeast };
bool holds(double value, Comparison comparison, double limit);

struct Threshold {
  std::string vital;  // field of exam::VitalSigns
  Comparison comparison = Comparison::kBelow;
  double limit = 0.0;
  double per_year = 0.0;  // added to the limit per year of age
  double age_from_years = 0.0, age_to_years = 130.0;
  std::string source, status;
};

struct FindingInfo {
  std::string id, label, meaning;
  exam::Basis found_by = exam::Basis::kHeard;
  std::vector<std::string> groups;
  std::vector<std::size_t> group_indices;  // 0 .. FindingTable::num_groups() - 1
  std::string look;  // instruction for this finding alone; "" when no cheap bedside look settles it
  int first = 0;     // offered at once at the bedside, in this order; 0: behind one step
  bool sided = false;
  bool silence = false;
  bool pattern = false;
  bool afar = false;
  std::string of;  // a pattern of this finding
  std::vector<std::string> implied_by;
  bool kinds_complete = false;  // implied_by names every kind there is
  std::vector<Threshold> thresholds;
};

class FindingTable {
 public:
  static Result<FindingTable> parse(std::string_view toml_text, std::string_view file_name);
  static Result<FindingTable> load(const std::filesystem::path& file);

  const std::vector<FindingInfo>& all() const { return findings_; }
  const FindingInfo& operator[](std::size_t index) const { return findings_[index]; }
  std::optional<std::size_t> index_of(std::string_view id) const;
  std::size_t num_groups() const { return num_groups_; }
  // kNotFound naming the id and the nearest known one.
  Result<std::size_t> find(std::string_view id) const;

 private:
  std::vector<FindingInfo> findings_;
  std::map<std::string, std::size_t, std::less<>> index_;
  std::size_t num_groups_ = 0;
};

// The value of a vital sign by its field name; empty when not taken or not a vital sign.
std::optional<double> vital_value(const exam::VitalSigns& vitals, std::string_view name);
bool is_vital(std::string_view name);

// The monitored findings that the vital signs settle, present or absent, at this age.
std::vector<exam::Finding> findings_from_vitals(const exam::VitalSigns& vitals, double age_years,
                                                const FindingTable& table);

}  // namespace phren::reasoning
