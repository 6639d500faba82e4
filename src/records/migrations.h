// The tables, version by version. A step once released is never changed; a new one is added.
#pragma once

#include <string>
#include <vector>

#include "base/result.h"

namespace phren::records {

class Database;

// Brings the store to the newest version, each step in its own transaction. A store that is newer
// than this program is refused: kUnsupported.
Status migrate(Database& database);
int newest_version();

// Every table in an order in which rows can be put back, with its columns.
struct TableShape {
  std::string name;
  std::vector<std::string> columns;
};
const std::vector<TableShape>& tables();

}  // namespace phren::records
