// An account as the tables hold it; shared by people.cc and sessions.cc only.
#pragma once

#include <string>

#include "records/people.h"

namespace phren::records {

struct Account {
  Person person;
  std::string hash;  // empty: cannot log in
  bool found = false;
};
// `column` is "id" or "login".
Account read_account(soci::session& sql, const char* column, const std::string& value);

}  // namespace phren::records
