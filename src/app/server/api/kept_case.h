// A patient as it was met: one that an instructor has built is kept as text when a station opens, a round opens or
// practice begins, and everything later - marks, debriefs, exports - is worked out from that text. What was begun
// before version 8 of the store has none and is read from the instructor's file.
//
// Errors:  as Library::get(); kNotFound when the store has lost the text.
#pragma once

#include <string>

#include "app/server/api/office.h"
#include "records/encounters.h"

namespace phren::app::server {

// Keeps the text of an instructor's own patient as it is now: what kept_case holds. Empty for any other.
Result<std::string> keep_own_text(const Office& office, records::Database& db,
                                  const std::string& case_id);
Result<teaching::Case> case_of(const Office& office, records::Database& db,
                               const records::EncounterInfo& info);

}  // namespace phren::app::server
