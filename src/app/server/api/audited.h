// Which requests the audit log must know of though they change nothing, or leave no entry of their own:
// reads of keys and of what others did, exports, beginnings, endings, leaving.
//
// Rules:   told here and nowhere else; an entry is written in the same commit as what was asked for,
//          and only when it was given.
#pragma once

#include <string_view>

#include "app/server/api/guard.h"

namespace phren::app::server {

// The log's word for a route; empty: it needs no entry.
std::string_view event_of(std::string_view method, std::string_view pattern);
void note_deed(Desk& desk, const Caller& caller, const Request& request, const PathValues& values,
               std::string_view event);

}  // namespace phren::app::server
