// What follows '?' in an address.
#pragma once

#include <string_view>

#include "base/result.h"

namespace phren::app::server {

// kMalformed when it is not UTF-8 once decoded, or has a NUL.
Status check_query(std::string_view raw);

}  // namespace phren::app::server
