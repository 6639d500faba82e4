#include "records/rounds.h"

#include <soci/soci.h>
#include <sodium.h>

#include <cstdlib>

#include "bedside/round.h"
#include "records/audit.h"
#include "records/passwords.h"

namespace phren::records {
namespace {

constexpr const char* kRoundColumns =
    "SELECT id, code, title, case_id, seed, opened_by, created_ms, ended_ms, reached_take,"
    " reached_step FROM round WHERE ";

Round round_of(const soci::row& row) {
  Round one;
  one.id = row.get<std::string>(0);
  one.code = row.get<std::string>(1);
  one.title = row.get<std::string>(2);
  one.case_id = row.get<std::string>(3);
  one.seed = std::strtoull(row.get<std::string>(4).c_str(), nullptr, 10);
  one.opened_by = row.get<std::string>(5);
  one.created_ms = row.get<long long>(6);
  one.ended_ms = row.get<long long>(7);
  one.reached_take = static_cast<int>(row.get<long long>(8));
  one.reached_step = row.get<long long>(9);
  return one;
}

Result<std::vector<Round>> rounds_by(Database& db, const std::string& column,
                                     const std::string& value) {
  std::vector<Round> list;
  TRY(db.transact([&](soci::session& sql) -> Status {
    const soci::rowset<soci::row> rows =
        (sql.prepare << kRoundColumns + column + " = :v ORDER BY created_ms DESC, id",
         soci::use(value));
    for (const soci::row& row : rows) list.push_back(round_of(row));
    return {};
  }));
  return list;
}

}  // namespace

Result<Round> Rounds::one(const std::string& column, const std::string& value) {
  auto list = TRY(rounds_by(db_, column, value));
  if (list.empty()) return fail(ErrorCode::kNotFound, "there is no such round");
  return std::move(list.front());
}

Result<Round> Rounds::open(Round round, std::int64_t now_ms) {
  round.id = random_id();
  round.code = new_code(bedside::kRoundCodeSigns);
  if (round.seed <= 1) {
    randombytes_buf(&round.seed, sizeof round.seed);
    round.seed &= kSeedMask;
  }
  round.created_ms = now_ms;
  const std::string seed = std::to_string(round.seed);
  const long long now = now_ms;
  TRY(db_.transact([&](soci::session& sql) -> Status {
    sql << "INSERT INTO round (id, code, title, case_id, seed, opened_by, created_ms, ended_ms,"
           " reached_take, reached_step) VALUES (:i, :c, :t, :a, :s, :o, :m, 0, 0, 0)",
        soci::use(round.id), soci::use(round.code), soci::use(round.title),
        soci::use(round.case_id), soci::use(seed), soci::use(round.opened_by), soci::use(now);
    insert_audit(sql, {now_ms, round.opened_by, "round_opened", round.id, "", ""});
    return {};
  }));
  return round;
}

Result<Round> Rounds::find(std::string_view id) {
  return one("id", std::string(id));
}
Result<Round> Rounds::find_code(std::string_view code) {
  return one("code", std::string(code));
}
Result<std::vector<Round>> Rounds::of_person(std::string_view person_id) {
  return rounds_by(db_, "opened_by", std::string(person_id));
}

Result<RoundPerson> Rounds::add_person(std::string_view round_id, RoundPerson person,
                                       std::string_view token, std::int64_t now_ms) {
  const std::string round(round_id), hash = hash_token(token);
  const long long now = now_ms;
  TRY(db_.transact([&](soci::session& sql) -> Status {
    long long count = 0;
    sql << "SELECT COUNT(*) FROM round_person WHERE round_id = :r", soci::use(round),
        soci::into(count);
    person.id = "p" + std::to_string(count + 1);
    sql << "INSERT INTO round_person (round_id, id, name, role, token_hash, joined_ms) VALUES"
           " (:r, :i, :n, :o, :h, :m)",
        soci::use(round), soci::use(person.id), soci::use(person.name), soci::use(person.role),
        soci::use(hash), soci::use(now);
    return {};
  }));
  return person;
}

Result<std::vector<RoundPerson>> Rounds::people(std::string_view round_id) {
  const std::string round(round_id);
  std::vector<RoundPerson> list;
  TRY(db_.transact([&](soci::session& sql) -> Status {
    const soci::rowset<soci::row> rows =
        (sql.prepare << "SELECT id, name, role FROM round_person WHERE round_id = :r ORDER BY"
                        " joined_ms, id",
         soci::use(round));
    for (const soci::row& row : rows) {
      list.push_back({row.get<std::string>(0), row.get<std::string>(1), row.get<std::string>(2)});
    }
    return {};
  }));
  return list;
}

Result<Rounds::Held> Rounds::by_token(std::string_view token) {
  const std::string hash = hash_token(token);
  std::vector<Held> list;
  TRY(db_.transact([&](soci::session& sql) -> Status {
    const soci::rowset<soci::row> rows =
        (sql.prepare << "SELECT round_id, id, name, role FROM round_person WHERE token_hash = :h",
         soci::use(hash));
    for (const soci::row& row : rows) {
      list.push_back({row.get<std::string>(0),
                      {row.get<std::string>(1), row.get<std::string>(2), row.get<std::string>(3)}});
    }
    return {};
  }));
  if (list.empty()) return fail(ErrorCode::kNotFound, "nobody of a round has this token");
  return std::move(list.front());
}

Status Rounds::append(std::string_view round_id, const std::vector<RoundText>& lines,
                      std::int64_t now_ms) {
  const std::string round(round_id);
  const long long now = now_ms;
  return db_.transact([&](soci::session& sql) -> Status {
    for (const RoundText& one : lines) {
      const long long n = one.n;
      sql << "INSERT INTO round_line (round_id, person_id, n, line, stored_ms) VALUES (:r, :p, :n,"
             " :l, :m) ON CONFLICT DO NOTHING",
          soci::use(round), soci::use(one.person_id), soci::use(n), soci::use(one.line),
          soci::use(now);
    }
    return {};
  });
}

Result<std::vector<RoundText>> Rounds::lines(std::string_view round_id) {
  return lines_where(round_id, "");
}
Result<std::vector<RoundText>> Rounds::shared(std::string_view round_id) {
  return lines_where(round_id, " AND person_id = ''");
}

Result<std::vector<RoundText>> Rounds::lines_where(std::string_view round_id, const char* more) {
  const std::string round(round_id);
  std::vector<RoundText> list;
  TRY(db_.transact([&](soci::session& sql) -> Status {
    const soci::rowset<soci::row> rows =
        (sql.prepare << "SELECT person_id, n, line FROM round_line WHERE round_id = :r" +
                            std::string(more) + " ORDER BY person_id, n",
         soci::use(round));
    for (const soci::row& row : rows) {
      list.push_back({row.get<std::string>(0), row.get<long long>(1), row.get<std::string>(2)});
    }
    return {};
  }));
  return list;
}

Status Rounds::set_reached(std::string_view round_id, int take, std::int64_t step) {
  const std::string round(round_id);
  const long long t = take, s = step;
  return db_.transact([&](soci::session& sql) -> Status {
    sql << "UPDATE round SET reached_take = :t, reached_step = :s WHERE id = :i", soci::use(t),
        soci::use(s), soci::use(round);
    return {};
  });
}

Status Rounds::end(std::string_view round_id, std::int64_t now_ms) {
  const std::string round(round_id);
  const long long now = now_ms;
  return db_.transact([&](soci::session& sql) -> Status {
    sql << "UPDATE round SET ended_ms = :m WHERE id = :i AND ended_ms = 0", soci::use(now),
        soci::use(round);
    return {};
  });
}

}  // namespace phren::records
