// What each statistic says, in one sentence, and how sure it is: text in data/statistics.toml, so a
// teacher can correct it.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.h"

namespace phren::teaching {

struct StatisticNote {
  std::string id;           // "cohen_kappa"
  std::string name;         // "Cohen's kappa"
  std::string meaning;      // one sentence
  std::string uncertainty;  // how the interval is got, one sentence
  std::string caution;      // when not to trust it, one sentence; may be empty
  std::string source;
  std::string status;  // VERIFIED, MEMORY, ENGINEERING
};

class StatisticCatalogue {
 public:
  static Result<StatisticCatalogue> parse(std::string_view toml_text, std::string_view file_name);
  static Result<StatisticCatalogue> load(const std::filesystem::path& file);
  const std::vector<StatisticNote>& all() const { return notes_; }
  Result<StatisticNote> find(std::string_view id) const;  // kNotFound with the nearest id

 private:
  std::vector<StatisticNote> notes_;
};

// Every id that Phren computes; the catalogue must have them all.
const std::vector<std::string_view>& statistic_ids();

}  // namespace phren::teaching
