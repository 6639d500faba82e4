// What is done with a store before it is used: locked, opened, backed up before its tables change,
// read through.
//
// Errors:  what open() and the lock report; a backup that cannot be written keeps the store as it was.
#pragma once

#include <filesystem>
#include <optional>
#include <string>

#include "records/database.h"

namespace phren::records {

// A backup on the disk when this returns: written beside, synced, renamed, the folder synced.
Status back_up_to(Database& database, const std::filesystem::path& file);

// Brings a store of an older version to today's, after a backup of it into `folder`. Gives the
// backup's name; nothing when the store is of today's version. REQUIRES: the caller holds the lock.
Result<std::optional<std::filesystem::path>> bring_up_to_date(std::string_view connection,
                                                              const std::filesystem::path& folder);

// Writes one row over, to see that the store still keeps what is written.
Status beat(Database& database, std::int64_t now_ms);

// Writes what needs room on the disk, and takes it back: kIo when there is none.
Status try_room(Database& database, std::int64_t now_ms);

// The newest time at which anything was stored; 0 for a new store.
Result<std::int64_t> newest_stamp_ms(Database& database);

// Bytes free where the store's file lies; nothing for a database server, whose disk is elsewhere.
std::optional<std::uintmax_t> free_bytes(std::string_view connection);
// Below this no more is promised to be kept (ENGINEERING: a day of a large school's logs).
inline constexpr std::uintmax_t kLeastFree_bytes = 64u << 20;

}  // namespace phren::records
