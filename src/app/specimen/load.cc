// Reading data/acoustics_specimens.toml.
#include <cmath>

#include "app/specimen/specimen.h"
#include "base/files.h"
#include "base/toml_fields.h"
#include "bedside/words.h"
#include "exam/names.h"

namespace phren::app {
namespace {

patient::PatientSetup read_setup(TomlFields& row) {
  patient::PatientSetup setup;
  setup.person.age_years = 45.0;
  setup.person.height_cm = 175.0;
  setup.person.weight_kg = 72.0;
  row.number("age_years", setup.person.age_years, 0.0, 110.0);
  std::string sex = "male";
  row.one_of("sex", sex, {"female", "male"});
  setup.person.sex = sex == "female" ? patient::Sex::kFemale : patient::Sex::kMale;
  row.number("height_cm", setup.person.height_cm, 40.0, 220.0);
  row.number("weight_kg", setup.person.weight_kg, 1.5, 250.0);
  patient::ConditionUse use;
  use.severity = 0.6;
  row.text("condition", use.id, true);
  row.number("severity", use.severity, 0.0, 1.0);
  row.word("side", use.side, exam::parse_side);
  if (row.find("lobe") != nullptr) {
    exam::Lobe lobe{};
    row.word("lobe", lobe, exam::parse_lobe);
    use.lobe = static_cast<int>(lobe);
  }
  setup.conditions.push_back(use);
  return setup;
}

// A word that may be left out.
template <class E, class Parse>
void read_if_given(TomlFields& row, const char* key, std::optional<E>& target, Parse parse) {
  if (row.find(key) == nullptr) return;
  E value{};
  row.word(key, value, parse);
  target = value;
}

Specimen read_specimen(TomlFields& row) {
  Specimen s;
  row.text("id", s.id, true);
  row.is_called("specimen " + s.id);
  row.text("name", s.name, true);
  row.text("mechanism", s.mechanism, true);
  row.text("listen", s.listen, true);
  row.text("source", s.source, true);
  row.text("status", s.status, true);
  row.text("site", s.site_id, true);
  row.texts("company", s.company);
  read_if_given(row, "sound", s.sound, exam::parse_sound);
  read_if_given(row, "phase", s.phase, exam::parse_phase);
  row.word("manoeuvre", s.manoeuvre,
           [](std::string_view text) { return read_word<patient::Manoeuvre>("manoeuvre", text); });
  row.flag("tapped", s.is_tapped);
  row.number("seconds", s.seconds, 1.0, 60.0);
  s.setup = read_setup(row);
  return s;
}

}  // namespace

Result<Specimens> Specimens::parse(std::string_view toml_text, std::string_view file_name) {
  Specimens out;
  TRY(read_toml(toml_text, file_name, [&](TomlFields& top) {
    top.rows("specimen", [&](TomlFields& row) { row.add(out.all_, read_specimen(row)); }, true);
  }));
  return out;
}

Result<Specimens> Specimens::load(const std::filesystem::path& file) {
  const auto text = TRY(read_file(file));
  return parse(text, file.filename().string());
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
