#include "records/trouble.h"

#include <algorithm>
#include <array>

namespace phren::records {
namespace {

bool has_any(std::string_view text, std::initializer_list<std::string_view> words) {
  return std::any_of(words.begin(), words.end(), [&](std::string_view word) {
    return text.find(word) != std::string_view::npos;
  });
}

// SQLite's words as in its sqlite3ErrStr(), PostgreSQL's as in the messages of libpq and of the
// server in English; each is tried in tests/records/trouble_test.cc against a store in that state.
TroubleKind kind_of(std::string_view said) {
  if (has_any(said, {"disk is full", "No space left", "could not extend file"}))
    return TroubleKind::kFull;
  if (has_any(said, {"malformed", "not a database", "disk I/O error", "no such table",
                     "no such column", "invalid page", "does not exist", "could not read block"}))
    return TroubleKind::kDamaged;
  if (has_any(said, {"is locked", "lock timeout"})) return TroubleKind::kBusy;
  if (has_any(said, {"deadlock", "could not serialize", "duplicate key", "UNIQUE constraint"}))
    return TroubleKind::kConflict;
  if (has_any(said, {"closed the connection", "no connection", "connection", "Connection",
                     "unable to open", "readonly", "shutting down", "starting up"}))
    return TroubleKind::kGone;
  return TroubleKind::kOther;
}

struct Words {
  std::string_view name, to_client, to_operator;
};

constexpr std::array<Words, 6> kWords{{
    {"store_busy", "the store is held by another program",
     "find the program that holds the store open for writing and end it"},
    {"store_gone", "the store cannot be reached",
     "see that the database runs, or that the file is there and may be written"},
    {"store_full", "the disk of the store is full",
     "make room on the disk of the store; nothing acknowledged is lost"},
    {"store_damaged", "a part of the store cannot be read",
     "stop the server, keep a copy of the store, run `phren doctor`, restore the newest backup"},
    {"store_conflict", "two changes of the same thing met",
     "nothing: the client tries again; report it if it goes on"},
    {"store_trouble", "the store refused this",
     "run `phren doctor`; report it if that finds nothing"},
}};

const Words& words_of(TroubleKind kind) {
  return kWords[static_cast<std::size_t>(kind)];
}

}  // namespace

std::string_view to_string(TroubleKind kind) {
  return words_of(kind).name;
}

Trouble trouble_of(std::string_view said) {
  Trouble trouble{kind_of(said), {}};
  for (const std::string_view end :
       {" while executing", " while preparing", " Query: ", "\nDETAIL", "\nLINE", "DETAIL:"}) {
    said = said.substr(0, said.find(end));
  }
  trouble.said = std::string(said.substr(0, 300));
  std::replace(trouble.said.begin(), trouble.said.end(), '\n', ' ');
  return trouble;
}

Error error_of(TroubleKind kind) {
  return {ErrorCode::kIo,
          std::string(words_of(kind).to_client) + ": nothing of this was kept, so try again"};
}

std::string_view remedy_of(TroubleKind kind) {
  return words_of(kind).to_operator;
}

}  // namespace phren::records
