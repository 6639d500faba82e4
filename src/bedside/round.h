// The log of a round: one patient, a whole room (docs/round.md). Two kinds of lines: shared ones, numbered by
// the server, that every device needs to live the same body; and each person's own, numbered by the device that
// made them, which only that person's chestpiece and answers need.
//
// Units:   a step is 1/128 s of the patient's time, counted from 0; a line is done before the step from there.
// Errors:  parsing names the field and what would be right.
// Format:  docs/round.md.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "bedside/log.h"

namespace phren::bedside {

inline constexpr double kRoundStep_s = 1.0 / 128.0;
inline constexpr std::int64_t kStepsPerSecond = 128;
// Of the code that people join by: stations have six signs, classes more, so the pages tell them apart.
inline constexpr std::size_t kRoundCodeSigns = 5;
inline constexpr std::int64_t kMostTakes = 1000;  // of one round: how often it goes back
inline constexpr std::int64_t kLastRoundStep =
    static_cast<std::int64_t>(kLongestEncounter_s) * kStepsPerSecond;

// As logs of encounters have it: cut to the millisecond, so that a replay finds the same step.
double time_of_step(std::int64_t step);

// In a round what one listens with and how real the chest sounds concerns all: it moves the breath as well.
inline bool concerns_all(const Deed& deed) {
  return is_of_body(deed) || std::holds_alternative<Listen>(deed);
}

struct RoundLine {
  std::int64_t seq = 0;   // of the shared ones from 1 without a gap; of own ones the person's count
  int take = 0;           // 0 is the first; going back begins the next one
  std::int64_t step = 0;  // when; of a new take: the step at which it parts from the one before
  std::string person;     // who did it
  bool begins_take = false;
  std::optional<Deed> deed;  // none: a word of the room, which no body feels
};

// `is_shared` says which kind; a line that is neither a deed nor "go_back" is kept without a deed.
Result<RoundLine> parse_round_line(std::string_view line);
Result<std::vector<RoundLine>> parse_round_lines(std::string_view json_array);

// What of the shared lines the body of `take` feels, by step and then by number.
std::vector<RoundLine> lived_by(std::span<const RoundLine> shared, int take);

// What one person did and heard in one take, as an encounter log's actions: the body's deeds by everybody, the
// person's own, up to `end_step`, closed by "end". `own` in the order of their numbers.
std::vector<EncounterAction> encounter_of(std::span<const RoundLine> shared,
                                          std::span<const RoundLine> own, int take,
                                          std::int64_t end_step);

}  // namespace phren::bedside
