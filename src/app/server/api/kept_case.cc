#include "app/server/api/kept_case.h"

#include "records/kept_cases.h"

namespace phren::app::server {

Result<std::string> keep_own_text(const Office& office, records::Database& db,
                                  const std::string& case_id) {
  const std::string text = TRY(office.library->own_text(case_id));
  return text.empty() ? Result<std::string>("") : records::KeptCases(db).keep(text);
}

Result<teaching::Case> case_of(const Office& office, records::Database& db,
                               const records::EncounterInfo& info) {
  std::string own_text;
  if (!info.kept_case.empty()) own_text = TRY(records::KeptCases(db).text(info.kept_case));
  return office.library->get(info.case_id, own_text);
}

}  // namespace phren::app::server
