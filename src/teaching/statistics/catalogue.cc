#include "teaching/statistics/catalogue.h"

#include <toml++/toml.h>

#include <algorithm>

#include "base/files.h"

namespace phren::teaching {

const std::vector<std::string_view>& statistic_ids() {
  static const std::vector<std::string_view> ids{"proportion",
                                                 "d_prime",
                                                 "criterion",
                                                 "cohen_kappa",
                                                 "weighted_kappa",
                                                 "scott_pi",
                                                 "gwet_ac1",
                                                 "brennan_prediger",
                                                 "fleiss_kappa",
                                                 "conger_kappa",
                                                 "krippendorff",
                                                 "cronbach_alpha",
                                                 "kr20",
                                                 "kr21",
                                                 "sem",
                                                 "item_difficulty",
                                                 "item_total",
                                                 "item_rest",
                                                 "upper_lower",
                                                 "alpha_if_dropped",
                                                 "ability",
                                                 "item_slope",
                                                 "item_location",
                                                 "sequential_mastery",
                                                 "knowledge_tracing",
                                                 "angoff",
                                                 "borderline_regression",
                                                 "borderline_group",
                                                 "recall_probability"};
  return ids;
}

Result<StatisticCatalogue> StatisticCatalogue::parse(std::string_view toml_text,
                                                     std::string_view file_name) {
  toml::table root;
  try {
    root = toml::parse(toml_text, std::string(file_name));
  } catch (const toml::parse_error& error) {
    return fail(ErrorCode::kMalformed, std::string(file_name) + ":" +
                                           std::to_string(error.source().begin.line) + ": " +
                                           std::string(error.description()));
  }
  StatisticCatalogue catalogue;
  const auto* rows = root["statistic"].as_array();
  if (rows == nullptr) {
    return fail(ErrorCode::kMalformed, std::string(file_name) + ": needs [[statistic]] entries");
  }
  for (const auto& node : *rows) {
    const std::string where =
        std::string(file_name) + ":" + std::to_string(node.source().begin.line);
    const auto* row = node.as_table();
    if (row == nullptr) return fail(ErrorCode::kMalformed, where + ": not a table");
    StatisticNote note;
    for (const auto& [key, target, needed] :
         {std::tuple{"id", &note.id, true}, std::tuple{"name", &note.name, true},
          std::tuple{"meaning", &note.meaning, true},
          std::tuple{"uncertainty", &note.uncertainty, true},
          std::tuple{"caution", &note.caution, false}, std::tuple{"source", &note.source, true},
          std::tuple{"status", &note.status, true}}) {
      *target = (*row)[key].value_or(std::string());
      if (needed && target->empty()) {
        return fail(ErrorCode::kMalformed, where + ": needs the text field " + key);
      }
    }
    if (note.status != "VERIFIED" && note.status != "MEMORY" && note.status != "ENGINEERING") {
      return fail(
          at(where, out_of_range("status", note.status, "VERIFIED, MEMORY or ENGINEERING")));
    }
    catalogue.notes_.push_back(std::move(note));
  }
  return catalogue;
}

Result<StatisticCatalogue> StatisticCatalogue::load(const std::filesystem::path& file) {
  auto text = read_file(file);
  if (!text) return fail(text.error());
  return parse(*text, file.filename().string());
}

Result<StatisticNote> StatisticCatalogue::find(std::string_view id) const {
  std::vector<std::string_view> known;
  for (const StatisticNote& note : notes_) {
    if (note.id == id) return note;
    known.push_back(note.id);
  }
  return fail(ErrorCode::kNotFound, "statistic '" + std::string(id) + "' is not in the catalogue." +
                                        did_you_mean(id, known));
}

}  // namespace phren::teaching
