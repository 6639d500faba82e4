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
};

// `given`: a folder, sqlite:FILE or postgresql:CONNECTION; nothing: $PHREN_RECORDS, else the folder
// phren of the user's own data ($XDG_DATA_HOME or ~/.local/share).
StorePlace store_place(const std::optional<std::string>& given);
// Makes the folder; it and all files that this process makes from now on are for their owner alone.
Status prepare(const StorePlace& place);
std::string store_help();

}  // namespace phren::app
