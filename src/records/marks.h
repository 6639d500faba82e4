// What people judged: examiners' marks, the judges' estimates for the pass mark; and the cache of
// what replaying an encounter gave.
//
// Units:   points as in the checklist; chances 0..1.
// Rules:   an examiner's later mark of the same item replaces the earlier one.
#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.h"
#include "records/database.h"

namespace phren::records {

// The item under which an examiner's rating of the whole performance is kept, with a note on it.
inline constexpr const char* kGlobalRating = "*global";

struct ExaminerMark {
  std::string examiner_id, item_id;
  double points = 0.0;
  std::string note;
};

// What native replay made of one encounter, as JSON text. `made_by` names program and log; another
// one means: work it out again.
struct Replayed {
  std::string made_by, performance, sheet;
};

class Marks {
 public:
  explicit Marks(Database& database) : db_(database) {}

  // kConflict once the results of the station are out.
  Status put(std::string_view encounter_id, const std::vector<ExaminerMark>& marks,
             std::int64_t now_ms);
  Result<std::vector<ExaminerMark>> of_encounter(std::string_view encounter_id);

  Status put_angoff(std::string_view station_id, std::string_view judge_id,
                    const std::map<std::string, double>& chances, std::int64_t now_ms);
  // By judge, then by item.
  Result<std::map<std::string, std::map<std::string, double>>> angoff(std::string_view station_id);

  Status keep_replayed(std::string_view encounter_id, const Replayed& replayed,
                       std::int64_t now_ms);
  Result<std::optional<Replayed>> replayed(std::string_view encounter_id);
  // Ended encounters that `made_by` has not replayed yet, oldest first.
  Result<std::vector<std::string>> waiting(std::string_view made_by, int most);

 private:
  Database& db_;
};

}  // namespace phren::records
