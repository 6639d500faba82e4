#include "records/kept_cases.h"

#include <soci/soci.h>

namespace phren::records {

Result<std::string> KeptCases::keep(const std::string& toml_text) {
  const std::string id = hash_text(toml_text);
  TRY(db_.transact([&](soci::session& sql) -> Status {
    sql << "INSERT INTO kept_case (id, body) VALUES (:i, :b) ON CONFLICT (id) DO NOTHING",
        soci::use(id), soci::use(toml_text);
    return {};
  }));
  return id;
}

Result<std::string> KeptCases::text(const std::string& id) {
  std::string body;
  TRY(db_.transact([&](soci::session& sql) -> Status {
    sql << "SELECT body FROM kept_case WHERE id = :i", soci::use(id), soci::into(body);
    if (sql.got_data()) return {};
    return fail(ErrorCode::kNotFound, "the kept text " + id + " of a patient is not in the store");
  }));
  return body;
}

}  // namespace phren::records
