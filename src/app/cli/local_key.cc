#include "app/cli/local_key.h"

#include "base/durable_file.h"
#include "base/files.h"
#include "records/passwords.h"

namespace phren::app {

Result<std::string> local_key(const std::filesystem::path& folder) {
  const auto file = folder / "local_key";
  std::error_code ignored;
  if (std::filesystem::exists(file, ignored)) {
    auto kept = read_file(file, 1000);
    if (!kept) return fail(kept.error());
    while (!kept->empty() && kept->back() == '\n') kept->pop_back();
    if (kept->size() == 64 && kept->find_first_not_of("0123456789abcdef") == std::string::npos) {
      return kept;
    }
  }
  std::string made = records::new_token();
  if (auto ok = write_file_durably(file, made + "\n"); !ok) return fail(ok.error());
  std::filesystem::permissions(
      file, std::filesystem::perms::owner_read | std::filesystem::perms::owner_write, ignored);
  return made;
}

}  // namespace phren::app
