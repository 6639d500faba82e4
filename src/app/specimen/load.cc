// Reading data/acoustics_specimens.toml.
#include <toml++/toml.h>

#include <array>
#include <cmath>

#include "app/specimen/specimen.h"
#include "base/files.h"
#include "exam/names.h"

namespace phren::app {
namespace {

constexpr std::array<std::pair<std::string_view, Manoeuvre>, 7> kManoeuvres{
    {{"quiet", Manoeuvre::kQuiet},
     {"deep", Manoeuvre::kDeep},
     {"cough", Manoeuvre::kCough},
     {"vowel", Manoeuvre::kVowel},
     {"speech", Manoeuvre::kSpeech},
     {"forced", Manoeuvre::kForced},
     {"tap", Manoeuvre::kTap}}};

class Row {
 public:
  Row(const toml::table& table, std::string where) : table_(table), where_(std::move(where)) {}

  std::string text(const char* key) {
    const auto value = table_[key].value<std::string>();
    if (!value) note(Error{ErrorCode::kMalformed, std::string("needs the text field ") + key});
    return value.value_or("");
  }
  std::string text_or(const char* key, std::string fallback) {
    return table_[key].value_or(std::move(fallback));
  }
  double number(const char* key, double fallback, double low, double high) {
    const double value = table_[key].value_or(fallback);
    if (!(value >= low && value <= high)) {
      note(out_of_range(key, value,
                        "between " + std::to_string(low) + " and " + std::to_string(high)));
    }
    return value;
  }
  template <class T>
  T word(const char* key, std::string fallback, Result<T> (*parse)(std::string_view)) {
    const std::string value = text_or(key, std::move(fallback));
    const auto parsed = parse(value);
    if (!parsed) note(parsed.error());
    return parsed.value_or(T{});
  }
  bool has(const char* key) const { return table_.contains(key); }
  void note(Error error) {
    if (!error_) error_ = at(where_, std::move(error));
  }
  const std::optional<Error>& error() const { return error_; }

 private:
  const toml::table& table_;
  std::string where_;
  std::optional<Error> error_;
};

Result<Manoeuvre> parse_manoeuvre(std::string_view text) {
  std::string allowed;
  for (const auto& [word, value] : kManoeuvres) {
    if (word == text) return value;
    allowed += (allowed.empty() ? "one of " : ", ") + std::string(word);
  }
  return fail(out_of_range("manoeuvre", "'" + std::string(text) + "'", allowed));
}

patient::PatientSetup read_setup(Row& row) {
  patient::PatientSetup setup;
  setup.person.age_years = row.number("age_years", 45.0, 0.0, 110.0);
  setup.person.sex =
      row.text_or("sex", "male") == "female" ? patient::Sex::kFemale : patient::Sex::kMale;
  setup.person.height_cm = row.number("height_cm", 175.0, 40.0, 220.0);
  setup.person.weight_kg = row.number("weight_kg", 72.0, 1.5, 250.0);
  patient::ConditionUse use;
  use.id = row.text("condition");
  use.severity = row.number("severity", 0.6, 0.0, 1.0);
  use.side = row.word("side", "midline", &exam::parse_side);
  if (row.has("lobe")) use.lobe = static_cast<int>(row.word("lobe", "", &exam::parse_lobe));
  setup.conditions.push_back(use);
  return setup;
}

Result<Specimen> read_specimen(const toml::table& table, const std::string& where) {
  Row row(table, where);
  Specimen s;
  s.id = row.text("id");
  s.name = row.text("name");
  s.mechanism = row.text("mechanism");
  s.listen = row.text("listen");
  s.source = row.text("source");
  s.status = row.text("status");
  s.site_id = row.text("site");
  if (row.has("sound")) s.sound = row.word("sound", "", &exam::parse_sound);
  if (row.has("phase")) s.phase = row.word("phase", "", &exam::parse_phase);
  s.manoeuvre = row.word("manoeuvre", "quiet", &parse_manoeuvre);
  s.seconds = row.number("seconds", 8.0, 1.0, 60.0);
  s.setup = read_setup(row);
  if (row.error()) return fail(*row.error());
  return s;
}

}  // namespace

Result<Specimens> Specimens::parse(std::string_view toml_text, std::string_view file_name) {
  toml::table root;
  try {
    root = toml::parse(toml_text, std::string(file_name));
  } catch (const toml::parse_error& error) {
    return fail(ErrorCode::kMalformed, std::string(file_name) + ":" +
                                           std::to_string(error.source().begin.line) + ": " +
                                           std::string(error.description()));
  }
  const auto* rows = root["specimen"].as_array();
  if (rows == nullptr || rows->empty()) {
    return fail(ErrorCode::kMalformed,
                std::string(file_name) + ": needs at least one [[specimen]]");
  }
  Specimens out;
  for (const auto& node : *rows) {
    const std::string where =
        std::string(file_name) + ":" + std::to_string(node.source().begin.line);
    const auto* table = node.as_table();
    if (table == nullptr) return fail(ErrorCode::kMalformed, where + ": not a table");
    auto specimen = read_specimen(*table, where);
    if (!specimen) return fail(specimen.error());
    for (const Specimen& other : out.all_) {
      if (other.id == specimen->id) {
        return fail(ErrorCode::kInvalidArgument,
                    where + ": specimen id " + specimen->id + " is used twice");
      }
    }
    out.all_.push_back(std::move(*specimen));
  }
  return out;
}

Result<Specimens> Specimens::load(const std::filesystem::path& file) {
  const auto text = read_file(file);
  if (!text) return fail(text.error());
  return parse(*text, file.filename().string());
}

Result<Specimen> Specimens::find(std::string_view id) const {
  std::vector<std::string_view> ids;
  for (const Specimen& specimen : all_) {
    if (specimen.id == id) return specimen;
    ids.push_back(specimen.id);
  }
  return fail(ErrorCode::kNotFound,
              "there is no specimen '" + std::string(id) + "'." + did_you_mean(id, ids) +
                  " `phren specimen list` shows all " + std::to_string(all_.size()) + ".");
}

}  // namespace phren::app
