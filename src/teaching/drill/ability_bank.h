// An ability test: the kinds of question with their difficulties, measured from the class's own answers where there
// are enough, else a stated prior; and what the answers so far show.
//
// Units:   logits. With measured kinds 0 is the middle of the class; the prior puts every kind
//          there, with a standard deviation of one.
// Source:  the prior, how many answers are enough and how often one kind may come: ours
//          (ENGINEERING). No published difficulty fits these questions.
#pragma once

#include <string>
#include <vector>

#include "teaching/drill/kind.h"
#include "teaching/drill/past_answer.h"
#include "teaching/statistics/adaptive_test.h"
#include "teaching/statistics/item_response.h"

namespace phren::teaching {

inline constexpr const char* kTestKinds[] = {"name", "phase", "side", "same"};
inline constexpr std::size_t kLeastLearners = 5;  // for a difficulty to count as measured
inline constexpr double kLeastAnswers = 15.0;
inline constexpr std::size_t kMostOfAKind = 6;
inline constexpr double kTargetSe = 0.30;
inline constexpr std::size_t kMostItems = 80;

struct BankKind {
  std::string mode, skill;
  double difficulty = 0.0, se = 1.0;
  double guess = 0.0;  // one over the number of choices
  bool is_measured = false;
};
struct AbilityBank {
  std::vector<BankKind> kinds;
  std::size_t learners = 0;  // whose answers the measured difficulties rest on
  long long answers = 0;
};
void describe(Fields& f, BankKind& kind);
void describe(Fields& f, AbilityBank& bank);

Result<AbilityBank> make_bank(const DrillBook& book, const std::vector<AnswerTally>& tallies);

// Each kind as often as it may come: item i is of kind i modulo the number of kinds. A difficulty
// that is not certain makes its item tell less.
std::vector<Item> items_of(const AbilityBank& bank);

struct GivenItem {
  std::size_t kind = 0;  // index in the bank
  bool is_right = false;
};
struct LivedTest {
  AbilityBank bank;
  AdaptiveTest test;  // all answers given so far
  std::size_t right = 0, on_measured = 0;
};
// `seed` of the choice of items; kMalformed for an item that the bank does not have.
Result<LivedTest> live_again(AbilityBank bank, std::uint64_t seed,
                             const std::vector<GivenItem>& answered);

// Share right of questions drawn evenly from the bank, at the ends of the ability's interval too.
Estimate expected_share(const AbilityBank& bank, const Estimate& ability);

}  // namespace phren::teaching
