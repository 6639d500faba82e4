// The instructor's own folder of cases: the same files as data/cases, read anew at each look, so that a
// file put there by hand is seen at once.
//
// Errors:  what the reader of cases says; ids that could leave the folder are refused (kInvalidArgument).
// Threads: any; writing is atomic (base/files.h).
// Format:  docs/case-format.md.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include "teaching/case.h"

namespace phren::teaching {

inline constexpr std::size_t kMostOwnCases = 500;
inline constexpr std::size_t kMostCase_bytes = 64u << 10;

class OwnCases {
 public:
  OwnCases(std::filesystem::path folder, CaseVocabulary vocabulary);

  // Small letters, digits, - and _; at most 64, and no name of a drawn patient.
  static bool is_id(std::string_view id);
  // The text, doubted as any case is, with a person whose sizes are complete.
  Result<Case> read(std::string_view toml_text, std::string_view file_name) const;

  std::vector<ListedCase> list() const;  // empty while there is no folder
  bool has(std::string_view id) const;
  Result<Case> find(std::string_view id) const;
  Result<std::string> text(std::string_view id) const;
  Result<Case> save(std::string_view id, std::string_view toml_text) const;
  Status remove(std::string_view id) const;

 private:
  Result<std::filesystem::path> file_of(std::string_view id) const;
  std::filesystem::path folder_;
  CaseVocabulary vocabulary_;
};

}  // namespace phren::teaching
