// The key by which this machine's instructor is known while the store has no account.
#pragma once

#include <filesystem>

#include "base/result.h"

namespace phren::app {

// Read from `folder`, made there at first: a browser that has shown it once stays known over starts of
// the server. The file is for its owner alone.
Result<std::string> local_key(const std::filesystem::path& folder);

}  // namespace phren::app
