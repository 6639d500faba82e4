#include "records/store_lock.h"

#include <fcntl.h>
#include <soci/postgresql/soci-postgresql.h>
#include <soci/soci.h>
#include <sys/file.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstring>
#include <filesystem>

#include "records/database.h"

namespace phren::records {
namespace {

// "Phren" as a number; one store a database, so no two of ours meet.
constexpr long long kAdvisoryKey = 0x50'68'72'65'6e;

std::filesystem::path lock_file(const std::string& store) {
  std::error_code ignored;
  const auto real = std::filesystem::weakly_canonical(store, ignored);
  return (real.empty() ? std::filesystem::path(store) : real).string() + ".lock";
}

std::string read_holder(int file) {
  std::array<char, 64> text{};
  const auto count = pread(file, text.data(), text.size() - 1, 0);
  std::string holder(text.data(), count > 0 ? static_cast<std::size_t>(count) : 0);
  while (!holder.empty() && holder.back() == '\n') holder.pop_back();
  return holder.empty() ? "another process" : holder;
}

Error is_held(const std::string& holder) {
  return {ErrorCode::kIo, "the store is in use by another server (" + holder +
                              "): a store belongs to one server at a time; stop that "
                              "one first, or give another store with --records"};
}

Error cannot_lock(const std::filesystem::path& file) {
  return {ErrorCode::kIo, file.string() + ": the store cannot be locked: " + std::strerror(errno)};
}

}  // namespace

struct StoreLock::Held {
  std::string connection;
  int file = -1;
  std::unique_ptr<soci::session> session;

  Held() = default;
  Held(const Held&) = delete;
  Held& operator=(const Held&) = delete;
  ~Held() {
    if (file >= 0) close(file);
  }

  Status lock_file_of(const std::string& store) {
    const auto path = lock_file(store);
    file = open(path.c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0600);
    if (file < 0) return fail(cannot_lock(path));
    if (flock(file, LOCK_EX | LOCK_NB) != 0) {
      if (errno != EWOULDBLOCK) return fail(cannot_lock(path));
      return fail(is_held(read_holder(file)));
    }
    const std::string words = "process " + std::to_string(getpid()) + "\n";
    if (ftruncate(file, 0) != 0 ||
        pwrite(file, words.data(), words.size(), 0) != static_cast<ssize_t>(words.size())) {
      return fail(cannot_lock(path));
    }
    return {};
  }

  Status lock_database(const std::string& rest) {
    try {
      session = std::make_unique<soci::session>(soci::postgresql, rest);
      int is_ours = 0;
      *session << "SELECT CASE WHEN pg_try_advisory_lock(:k) THEN 1 ELSE 0 END",
          soci::use(kAdvisoryKey), soci::into(is_ours);
      if (is_ours == 1) return {};
      session.reset();
      return fail(is_held("another connection to this database"));
    } catch (const std::exception& error) {
      session.reset();
      return fail(error_of(trouble_of(error.what()).kind));
    }
  }

  Status lock() {
    const auto store = parse_store(connection);
    if (!store) return fail(store.error());
    return store->backend == Backend::kSqlite ? lock_file_of(store->rest)
                                              : lock_database(store->rest);
  }
};

StoreLock::StoreLock(std::unique_ptr<Held> held) : held_(std::move(held)) {}
StoreLock::StoreLock(StoreLock&&) noexcept = default;
StoreLock& StoreLock::operator=(StoreLock&&) noexcept = default;
StoreLock::~StoreLock() = default;

Result<StoreLock> StoreLock::take(std::string_view connection) {
  auto held = std::make_unique<Held>();
  held->connection = connection;
  if (auto ok = held->lock(); !ok) return fail(ok.error());
  return StoreLock(std::move(held));
}

Result<std::string> StoreLock::holder(std::string_view connection) {
  const auto store = parse_store(connection);
  if (!store) return fail(store.error());
  if (store->backend == Backend::kPostgresql) {
    const auto lock = take(connection);
    if (lock) return std::string();
    if (lock.error().message.find("in use") != std::string::npos) return "another connection";
    return fail(lock.error());
  }
  const int file = open(lock_file(store->rest).c_str(), O_RDWR | O_CLOEXEC);
  if (file < 0) return std::string();
  std::string holder;
  if (flock(file, LOCK_EX | LOCK_NB) != 0) holder = read_holder(file);
  close(file);
  return holder;
}

Status StoreLock::keep() {
  if (!held_->session) return held_->file >= 0 ? Status() : held_->lock();
  try {
    *held_->session << "SELECT 1";
    return {};
  } catch (const std::exception&) {
    return held_->lock();
  }
}

}  // namespace phren::records
