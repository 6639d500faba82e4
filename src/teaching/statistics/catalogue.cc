#include "teaching/statistics/catalogue.h"

#include <algorithm>

#include "base/files.h"
#include "base/toml_fields.h"

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
  StatisticCatalogue catalogue;
  const auto read_note = [](TomlFields& row) {
    StatisticNote note;
    row.text("id", note.id, true);
    row.text("name", note.name, true);
    row.text("meaning", note.meaning, true);
    row.text("uncertainty", note.uncertainty, true);
    row.text("caution", note.caution);
    row.text("source", note.source, true);
    row.one_of("status", note.status, {"VERIFIED", "MEMORY", "ENGINEERING"}, true);
    return note;
  };
  TRY(read_toml(toml_text, file_name, [&](TomlFields& top) {
    top.rows(
        "statistic", [&](TomlFields& row) { row.add(catalogue.notes_, read_note(row)); }, true);
  }));
  return catalogue;
}

Result<StatisticCatalogue> StatisticCatalogue::load(const std::filesystem::path& file) {
  auto text = TRY(read_file(file));
  return parse(text, file.filename().string());
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
