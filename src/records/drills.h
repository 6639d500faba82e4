// Drill: items given out and what was answered. The learner's memory is not kept: it follows from
// the answers.
//
// Units:   times in ms since 1970 UTC.
// Safety:  answering the same item again changes nothing.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.h"
#include "records/database.h"
#include "teaching/drill/past_answer.h"

namespace phren::records {

struct DrillItemRecord {
  std::string id, person_id, mode, skill;
  std::string detail;  // JSON text: what the sounds are made from
  std::int64_t at_ms = 0;
};
using DrillAnswerRecord = teaching::PastAnswer;

class Drills {
 public:
  explicit Drills(Database& database) : db_(database) {}

  Status give(const DrillItemRecord& item);
  // kNotFound unless it was given to this person.
  Result<DrillItemRecord> item(std::string_view item_id, std::string_view person_id);
  // False when the item had been answered before; the first answer stands.
  Result<bool> answer(std::string_view person_id, const DrillAnswerRecord& answer);
  // In the order in which they were given.
  Result<std::vector<DrillAnswerRecord>> answers(std::string_view person_id);

 private:
  Database& db_;
};

}  // namespace phren::records
