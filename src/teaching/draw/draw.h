// Draws a patient: at random within limits, or a surprise by level. A drawn patient is a case whose
// id says everything: the same id gives the same patient on every machine, today and in a replay.
//
// Units:   in the names; severities 0..1.
// Errors:  kInvalidArgument naming the part of the id, its value and what is allowed; what leaves
//          nobody to draw (no chosen condition is taught at those ages) says so.
// Format:  docs/formats/draw.md. The values are those of data/draw.toml.
#pragma once

#include <cstdint>
#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include "base/random.h"
#include "base/result.h"
#include "patient/conditions.h"
#include "teaching/case.h"

namespace phren::teaching {

struct DrawLevel {
  std::string id, label, meaning;
  std::vector<std::string> conditions;  // empty: any
  double severity_from = 0.3, severity_to = 0.8;
  double second_chance = 0.0;  // of a second condition
  std::vector<std::string> rooms, clothing;
};

struct DrawPair {
  std::string first, second;
};

inline constexpr double kUsualMuscle = 0.3;  // of whoever is built without saying how (ENGINEERING)

struct TypicalSize {
  double age_years = 0.0;
  double female_cm = 0.0, female_kg = 0.0, male_cm = 0.0, male_kg = 0.0;
};

class DrawData {
 public:
  // data/draw.toml; conditions named there must be among `conditions`.
  static Result<DrawData> load(const std::filesystem::path& data_directory,
                               const patient::Conditions& conditions);
  const std::vector<DrawLevel>& levels() const { return levels_; }
  const std::vector<DrawPair>& pairs() const { return pairs_; }
  const std::vector<std::string>& scenes() const { return scenes_; }
  const std::vector<TypicalSize>& sizes() const { return sizes_; }  // by rising age

 private:
  std::vector<DrawLevel> levels_;
  std::vector<DrawPair> pairs_;
  std::vector<std::string> scenes_;
  std::vector<TypicalSize> sizes_;
};

enum class Build { kAny, kSlim, kAverage, kHeavy };

struct DrawLimits {
  double age_from_years = 16.0, age_to_years = 90.0;
  Build build = Build::kAny;
  std::vector<std::string> conditions;  // empty: any taught at that age
  double severity_from = 0.3, severity_to = 0.9;
  int most_conditions = 1;  // 1 or 2
  std::vector<std::string> rooms{"quiet"}, clothing{"bare"};
  double second_chance = 0.5;
};

struct Draw {
  std::string level_id;  // a surprise; empty: within `limits`
  DrawLimits limits;
  Seed seed;
};

// "surprise-beginner-77", "random-a16_90-bany-s30_90-n1-casthma-77".
bool is_draw_id(std::string_view id);
Result<Draw> parse_draw_id(std::string_view id, const DrawData& data,
                           const patient::Conditions& conditions);
// The one spelling that everything is compared by; parse_draw_id takes others too.
std::string draw_id(const Draw& draw);

Result<Case> draw_case(const Draw& draw, const DrawData& data,
                       const patient::Conditions& conditions);

std::string_view to_string(Build value);

}  // namespace phren::teaching
