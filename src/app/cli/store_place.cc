#include "app/cli/store_place.h"

#include <sys/stat.h>

#include <cstdlib>

#include "base/files.h"

namespace phren::app {
namespace {

std::filesystem::path usual_folder() {
  if (const char* data = std::getenv("XDG_DATA_HOME"); data != nullptr && *data != '\0') {
    return std::filesystem::path(data) / "phren";
  }
  const char* home = std::getenv("HOME");
  return std::filesystem::path(home != nullptr ? home : ".") / ".local" / "share" / "phren";
}

StorePlace in_folder(const std::filesystem::path& folder) {
  return {"sqlite:" + (folder / "records.db").string(), folder};
}

}  // namespace

StorePlace store_place(const std::optional<std::string>& given) {
  std::string text = given.value_or("");
  if (text.empty()) {
    const char* said = std::getenv("PHREN_RECORDS");
    if (said != nullptr) text = said;
  }
  if (text.empty()) return in_folder(usual_folder());
  if (text.starts_with("sqlite:")) {
    return {text, std::filesystem::absolute(text.substr(7)).parent_path()};
  }
  if (text.starts_with("postgresql:")) return {text, usual_folder()};
  return in_folder(text);
}

Status prepare(const StorePlace& place) {
  umask(077);  // store, backups and keys hold what is nobody else's business
  if (std::filesystem::exists(place.folder)) return {};
  if (auto made = make_directories(place.folder); !made) return made;
  std::error_code ignored;
  std::filesystem::permissions(place.folder, std::filesystem::perms::owner_all, ignored);
  return {};
}

std::string store_help() {
  return "where records are kept: a folder, sqlite:FILE or postgresql:CONNECTION "
         "($PHREN_RECORDS, else ~/.local/share/phren)";
}

}  // namespace phren::app
