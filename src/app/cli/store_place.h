// Where the records of classes are kept, when nothing else is said.
#pragma once

#include <filesystem>
#include <optional>
#include <string>

#include "base/result.h"

namespace phren::app {

struct StorePlace {
  std::string connection;        // as records/database.h takes it
  std::filesystem::path folder;  // for what lies beside the records: certificate and key
  bool is_usual = false;         // nobody named it, so nobody can have misspelt it
};

// `given`: a folder, sqlite:FILE or postgresql:CONNECTION; nothing: $PHREN_RECORDS, else the folder
// phren of the user's own data ($XDG_DATA_HOME or ~/.local/share). kInvalidArgument for what looks like
// the connection of a database that is not kept here; it is not repeated, as it may hold a password.
Result<StorePlace> store_place(const std::optional<std::string>& given);
// All files that this process makes from now on are for their owner alone. Makes the folder where a
// new store may be made.
Status prepare(const StorePlace& place, bool may_create);
std::string store_help();

}  // namespace phren::app
