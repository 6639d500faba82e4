// Rounds as they are kept: who opened them, who came, and the lines of their logs (bedside/round.h).
//
// Errors:  kNotFound; kIo.
// Safety:  lines may be appended again: each number is stored once, and the first one stands.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.h"
#include "records/database.h"

namespace phren::records {

struct Round {
  std::string id, code, title, case_id, opened_by;
  std::uint64_t seed = 1;
  std::int64_t created_ms = 0, ended_ms = 0;  // 0: under way
  // How far the patient's clock may have come, in which take.
  int reached_take = 0;
  std::int64_t reached_step = 0;
};

struct RoundPerson {
  std::string id, name, role;  // "desk", "listener" or "projector"
};

struct RoundText {
  std::string person_id;  // empty: shared
  std::int64_t n = 0;
  std::string line;  // one JSON object
};

class Rounds {
 public:
  explicit Rounds(Database& database) : db_(database) {}

  // Fills in id, code and seed.
  Result<Round> open(Round round, std::int64_t now_ms);
  Result<Round> find(std::string_view id);
  Result<Round> find_code(std::string_view code);
  Result<std::vector<Round>> of_person(std::string_view person_id);

  // Fills in the id; `token` is kept as a hash only.
  Result<RoundPerson> add_person(std::string_view round_id, RoundPerson person,
                                 std::string_view token, std::int64_t now_ms);
  Result<std::vector<RoundPerson>> people(std::string_view round_id);
  struct Held {
    std::string round_id;
    RoundPerson person;
  };
  Result<Held> by_token(std::string_view token);

  Status append(std::string_view round_id, const std::vector<RoundText>& lines,
                std::int64_t now_ms);
  // By person and number.
  Result<std::vector<RoundText>> lines(std::string_view round_id);
  Result<std::vector<RoundText>> shared(std::string_view round_id);  // nobody's own
  Status set_reached(std::string_view round_id, int take, std::int64_t step);
  Status end(std::string_view round_id, std::int64_t now_ms);

 private:
  Result<std::vector<RoundText>> lines_where(std::string_view round_id, const char* more);
  Result<Round> one(const std::string& column, const std::string& value);
  Database& db_;
};

}  // namespace phren::records
