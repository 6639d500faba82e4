// The last line of a dump; shared by dump.cc and dump_check.cc only.
#pragma once

#include <string>
#include <string_view>

namespace phren::records {

// {"phren":"end","rows":N,"blake2b":"..."} over everything before it, with its line break.
std::string end_of_dump(std::string_view before);

}  // namespace phren::records
