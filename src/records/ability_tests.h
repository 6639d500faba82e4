// Ability tests: what was asked in which order and what was answered. The ability itself is not
// kept: it follows from the answers and from the items' difficulties as they were at the start.
//
// Units:   times in ms since 1970 UTC; 0: not yet.
// Errors:  kNotFound for a test that is not this person's.
// Safety:  answering or asking again changes nothing.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.h"
#include "records/database.h"
#include "teaching/drill/past_answer.h"

namespace phren::records {

struct AbilityItemRecord {
  std::string id, mode, skill;
  std::int64_t kind = 0;  // index in the bank
  std::string detail;     // JSON text: what the sounds are made from, and what is right
  std::int64_t asked_ms = 0;
  std::string answered;  // empty: not yet
  bool is_right = false;
  std::int64_t answered_ms = 0;
};
struct AbilityTestRecord {
  std::string id, person_id;
  std::string seed;  // of the choice of items
  std::string bank;  // JSON text: the kinds of item with their difficulties at the start
  std::int64_t started_ms = 0, ended_ms = 0;
  std::string end_reason;
  std::vector<AbilityItemRecord> items;  // in the order asked
};
using teaching::AnswerTally;

class AbilityTests {
 public:
  explicit AbilityTests(Database& database) : db_(database) {}

  Status start(const AbilityTestRecord& test);
  Result<AbilityTestRecord> find(std::string_view test_id, std::string_view person_id);
  // Oldest first.
  Result<std::vector<AbilityTestRecord>> of_person(std::string_view person_id);
  // As the item of this number, counted from 0; nothing when there is one.
  Status ask(std::string_view test_id, std::size_t number, const AbilityItemRecord& item);
  // The first answer stands.
  Status answer(std::string_view test_id, const AbilityItemRecord& answered);
  // The first end stands.
  Status end(std::string_view test_id, std::string_view reason, std::int64_t now_ms);

  // The classes that the person learns or teaches in, by id.
  Result<std::vector<std::string>> classes_of(std::string_view person_id);
  // Of the learners on the roll of one of these classes, from drills and from tests. An answer of
  // the drill that follows one on the same sound is left out: in a block it gives itself away.
  Result<std::vector<AnswerTally>> tallies(const std::vector<std::string>& class_ids);

 private:
  Database& db_;
};

}  // namespace phren::records
