// A marked encounter as xAPI 1.0.3 statements: one for the whole, one per checklist item.
//
// Errors:  kInvalidArgument naming the field that an xAPI store would refuse.
// Source:  xAPI-Data.md 2.4 (VERIFIED); verb and activity addresses from memory. Statement ids are
//          made from encounter and item (UUID version 8), so sending twice changes nothing.
#pragma once

#include <string>

#include "base/result.h"
#include "teaching/marking/mark.h"

namespace phren::records {

struct XapiContext {
  std::string home_page;     // "https://school.example": whose account names these are
  std::string account_name;  // a pseudonym, never an e-mail address
  std::string encounter_id;
  std::string timestamp;  // ISO 8601 UTC, when the encounter ended
  double duration_s = 0.0;
};
// A JSON array of statements.
Result<std::string> xapi_statements(const teaching::MarkSheet& sheet, const XapiContext& context);

// UUID (RFC 9562, version 8) that is the same for the same text.
std::string uuid_of(const std::string& text);

}  // namespace phren::records
