// Conditions and treatments as read from data/conditions/*.toml and data/treatments/*.toml: text a
// clinician can read and correct, each value with its source.
//
// Errors: kMalformed or kInvalidArgument naming file, line, field, value and what would be right.
#pragma once

#include <array>
#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.h"
#include "patient/config.h"

namespace phren::patient {

struct Source {
  std::string text;    // author, journal, year; or "our choice"
  std::string status;  // "verified", "from memory", "engineering", "common practice"
};

enum class Place : std::uint8_t { kEverywhere, kChosen, kBases, kUpper, kOther };

struct DataEffect {
  ConditionEffect effect;  // masks are set by configure()
  Place place = Place::kEverywhere;
  Source source;
};

struct Condition {
  std::string id, name, summary, mechanism, heard, seen, monitor, caution;
  bool needs_side = false;  // a side or lobe must be chosen; default_side otherwise
  exam::Side default_side = exam::Side::kMidline;
  int default_lobe = -1;
  double begins_minutes_before = -1.0;  // at the most so long before the encounter; -1: no limit
  double least_age_years = 0.0, most_age_years = 110.0;  // where it is taught
  // Natural course, when a case gives none: severity changes by so much over so many minutes.
  double course_change = 0.0, course_minutes = 30.0;
  // (age in years, factor on severity before the curves), so that one number is one clinical grade.
  std::vector<std::array<double, 2>> grade_by_age;
  std::vector<DataEffect> effects;
  std::vector<ConditionFact> facts;
  std::vector<Source> sources;

  double grade_at(double age_years) const noexcept;  // 1 when nothing is said
};

struct DataTreatmentEffect {
  TreatmentEffect effect;
  Source source;
};

struct Treatment {
  std::string id, name, summary, expect, caution, protocol;
  bool is_held = false;  // stays in place until stopped
  bool needs_side = false;
  std::vector<DataTreatmentEffect> effects;
};

class Conditions {
 public:
  static Result<Condition> parse(std::string_view toml_text, std::string_view file_name);
  static Result<Conditions> load(const std::filesystem::path& folder);  // every *.toml, by name
  const std::vector<Condition>& all() const { return conditions_; }
  Result<Condition> find(std::string_view id) const;  // kNotFound with the nearest known

 private:
  std::vector<Condition> conditions_;
};

class Treatments {
 public:
  static Result<Treatment> parse(std::string_view toml_text, std::string_view file_name);
  static Result<Treatments> load(const std::filesystem::path& folder);
  const std::vector<Treatment>& all() const { return treatments_; }
  Result<Treatment> find(std::string_view id) const;
  Result<int> index_of(std::string_view id) const;  // what an Action names

 private:
  std::vector<Treatment> treatments_;
};

}  // namespace phren::patient
