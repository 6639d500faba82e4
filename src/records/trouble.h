// Trouble with the store, sorted by what it means for who waits and for who runs the server.
//
// Safety:  the words for clients name neither tables nor values; what the store itself said goes to
//          the operator alone, without the statement that it was said about.
#pragma once

#include <functional>
#include <string>
#include <string_view>

#include "base/result.h"

namespace phren::records {

enum class TroubleKind {
  kBusy,      // another program holds the write lock
  kGone,      // no connection to the database, or the file is not there
  kFull,      // no room on its disk
  kDamaged,   // pages or tables that cannot be read
  kConflict,  // two writers met; one of them has to try again
  kOther,
};
struct Trouble {
  TroubleKind kind = TroubleKind::kOther;
  std::string said;  // by the store, for the operator
};
using TroubleSink = std::function<void(const Trouble&)>;

std::string_view to_string(TroubleKind kind);
// What SQLite, PostgreSQL or the library between has said.
Trouble trouble_of(std::string_view said);
// kIo, in words for a client: what is so, that nothing was kept, what to do.
Error error_of(TroubleKind kind);
// For the operator: what to do about it.
std::string_view remedy_of(TroubleKind kind);

}  // namespace phren::records
