// The kinds of question of an ability test with their difficulties: measured from the class's own
// answers where there are enough, else a stated prior.
//
// Units:   logits. With measured kinds 0 is the middle of the class; the prior puts every kind
//          there, with a standard deviation of one.
// Source:  the prior, how many answers are enough and how often one kind may come: ours
//          (ENGINEERING). No published difficulty fits these questions.
// Threads: BankShelf locks itself.
#pragma once

#include <map>
#include <mutex>
#include <string>
#include <vector>

#include "app/server/api/office.h"
#include "records/ability_tests.h"
#include "teaching/statistics/item_response.h"

namespace phren::app::server {

inline constexpr const char* kTestModes[] = {"name", "phase", "side", "same"};
inline constexpr std::size_t kLeastLearners = 5;  // for a difficulty to count as measured
inline constexpr double kLeastAnswers = 15.0;
inline constexpr std::size_t kMostOfAKind = 6;

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

Result<AbilityBank> make_bank(const Office& office,
                              const std::vector<records::AnswerTally>& tallies);
std::string bank_text(const AbilityBank& bank);
Result<AbilityBank> bank_from_text(const std::string& text);

// Each kind as often as it may come: item i is of kind i modulo the number of kinds. A difficulty
// that is not certain makes its item tell less.
std::vector<teaching::Item> items_of(const AbilityBank& bank);

// Banks made lately, so that a class that begins together makes one.
class BankShelf {
 public:
  Result<AbilityBank> get(const Office& office, records::AbilityTests& tests,
                          const std::vector<std::string>& class_ids, std::int64_t now_ms);

 private:
  static constexpr std::int64_t kFresh_ms = 600'000;
  struct Kept {
    AbilityBank bank;
    std::int64_t made_ms = 0;
  };
  std::mutex mutex_;
  std::map<std::vector<std::string>, Kept> kept_;
};

}  // namespace phren::app::server
