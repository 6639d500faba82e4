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

// "postgres://...", "mysql:...": a word and a colon before any slash.
bool looks_like_connection(const std::string& text) {
  return text.find(':') < text.find('/');
}

StorePlace in_folder(const std::filesystem::path& folder) {
  return {"sqlite:" + (folder / "records.db").string(), folder};
}

}  // namespace

Result<StorePlace> store_place(const std::optional<std::string>& given) {
  std::string text = given.value_or("");
  if (text.empty()) {
    const char* said = std::getenv("PHREN_RECORDS");
    if (said != nullptr) text = said;
  }
  if (text.empty()) {
    StorePlace place = in_folder(usual_folder());
    place.is_usual = true;
    return place;
  }
  if (text.starts_with("sqlite:")) {
    return StorePlace{text, std::filesystem::absolute(text.substr(7)).parent_path()};
  }
  if (text.starts_with("postgresql:")) return StorePlace{text, usual_folder()};
  if (looks_like_connection(text)) {
    return fail(
        ErrorCode::kInvalidArgument,
        "--records: records are kept in SQLite or PostgreSQL, given as a folder, sqlite:FILE or "
        "postgresql:CONNECTION (for example \"postgresql:host=db dbname=phren\"); a folder "
        "whose name has a colon is written ./NAME");
  }
  return in_folder(text);
}

Status prepare(const StorePlace& place, bool may_create) {
  umask(077);  // store, backups and keys hold what is nobody else's business
  if (std::filesystem::exists(place.folder) || !(may_create || place.is_usual)) return {};
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
