// Stores for tests: an SQLite file in a temporary folder, or a PostgreSQL server of our own that
// listens on a socket in a temporary folder only and is gone afterwards.
#pragma once

#include <gtest/gtest.h>
#include <unistd.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <string>

namespace phren::records {

inline std::filesystem::path temporary_folder() {
  std::string pattern = (std::filesystem::temp_directory_path() / "phren-XXXXXX").string();
  const char* made = mkdtemp(pattern.data());
  return made == nullptr ? std::filesystem::path() : std::filesystem::path(made);
}

class PostgresServer {
 public:
  PostgresServer() {
    for (int version = 20; version >= 11 && bin_.empty(); --version) {
      const std::filesystem::path path = "/usr/lib/postgresql/" + std::to_string(version) + "/bin";
      if (std::filesystem::exists(path / "initdb")) bin_ = path;
    }
    if (bin_.empty()) return;
    folder_ = temporary_folder();
    // The server refuses to run as root; the package brings a user for it.
    if (geteuid() == 0) {
      as_ = "runuser -u postgres -- ";
      if (std::system(("chown postgres " + folder_.string()).c_str()) != 0) return;
    }
    const std::string data = (folder_ / "data").string();
    running_ = shell("initdb -D " + data + " -A trust -U phren --no-sync") &&
               shell("pg_ctl -D " + data + " -w -l " + (folder_ / "log").string() +
                     " -o \"-h '' -k " + folder_.string() + " -c fsync=off\" start");
  }
  ~PostgresServer() {
    if (running_) shell("pg_ctl -D " + (folder_ / "data").string() + " -m immediate stop");
    std::error_code ignored;
    if (!folder_.empty()) std::filesystem::remove_all(folder_, ignored);
  }
  bool running() const { return running_; }
  std::string connection(const std::string& database) const {
    return "postgresql:host=" + folder_.string() + " user=phren dbname=" + database;
  }
  bool create(const std::string& database) const {
    return shell("createdb -h " + folder_.string() + " -U phren " + database);
  }

 private:
  bool shell(const std::string& command) const {
    return std::system(
               ("cd / && " + as_ + (bin_ / command).string() + " >/dev/null 2>&1").c_str()) == 0;
  }
  std::filesystem::path bin_, folder_;
  std::string as_;
  bool running_ = false;
};

}  // namespace phren::records
