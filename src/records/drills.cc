#include "records/drills.h"

#include <soci/soci.h>

namespace phren::records {
namespace {

// Items never answered are forgotten after a day.
constexpr long long kUnanswered_ms = 24LL * 3600 * 1000;

}  // namespace

Status Drills::give(const DrillItemRecord& item) {
  const long long at = item.at_ms, old = item.at_ms - kUnanswered_ms;
  return db_.transact([&](soci::session& sql) -> Status {
    sql << "DELETE FROM drill_item WHERE person_id = :p AND at_ms < :t", soci::use(item.person_id),
        soci::use(old);
    sql << "INSERT INTO drill_item (id, person_id, mode, skill, detail, at_ms)"
           " VALUES (:i, :p, :m, :s, :d, :t)",
        soci::use(item.id), soci::use(item.person_id), soci::use(item.mode), soci::use(item.skill),
        soci::use(item.detail), soci::use(at);
    return {};
  });
}

Result<DrillItemRecord> Drills::item(std::string_view item_id, std::string_view person_id) {
  DrillItemRecord item;
  item.id = std::string(item_id);
  item.person_id = std::string(person_id);
  bool found = false;
  TRY(db_.transact([&](soci::session& sql) -> Status {
    long long at = 0;
    sql << "SELECT mode, skill, detail, at_ms FROM drill_item WHERE id = :i AND person_id = :p",
        soci::use(item.id), soci::use(item.person_id), soci::into(item.mode),
        soci::into(item.skill), soci::into(item.detail), soci::into(at);
    item.at_ms = at;
    found = sql.got_data();
    return {};
  }));
  if (!found) {
    return fail(ErrorCode::kNotFound,
                "there is no such drill item of yours; items are kept for a day");
  }
  return item;
}

Result<bool> Drills::answer(std::string_view person_id, const DrillAnswerRecord& answer) {
  const std::string person(person_id);
  const long long at = answer.at_ms, slow = answer.slow ? 1 : 0;
  bool is_new = false;
  TRY(db_.transact([&](soci::session& sql) -> Status {
    int count = 0;
    sql << "SELECT COUNT(*) FROM drill_answer WHERE person_id = :p AND answer_id = :a",
        soci::use(person), soci::use(answer.item_id), soci::into(count);
    is_new = count == 0;
    if (!is_new) return {};
    sql << "INSERT INTO drill_answer (person_id, answer_id, at_ms, skill, answered, slow, mode)"
           " VALUES (:p, :a, :t, :s, :w, :l, :m)",
        soci::use(person), soci::use(answer.item_id), soci::use(at), soci::use(answer.skill),
        soci::use(answer.answered), soci::use(slow), soci::use(answer.mode);
    return {};
  }));
  return is_new;
}

Result<std::vector<DrillAnswerRecord>> Drills::answers(std::string_view person_id) {
  const std::string person(person_id);
  std::vector<DrillAnswerRecord> list;
  TRY(db_.transact([&](soci::session& sql) -> Status {
    const soci::rowset<soci::row> rows =
        (sql.prepare << "SELECT answer_id, mode, skill, answered, slow, at_ms FROM drill_answer"
                        " WHERE person_id = :p ORDER BY at_ms, answer_id",
         soci::use(person));
    for (const soci::row& row : rows) {
      list.push_back({row.get<std::string>(0), row.get<std::string>(1), row.get<std::string>(2),
                      row.get<std::string>(3), row.get<long long>(4) != 0, row.get<long long>(5)});
    }
    return {};
  }));
  return list;
}

}  // namespace phren::records
