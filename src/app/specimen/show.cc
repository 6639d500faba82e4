#include "app/specimen/show.h"

#include <algorithm>

#include "base/files.h"
#include "base/toml_fields.h"

namespace phren::app {
namespace {

ShowWords read_words(TomlFields& row, const Specimens& specimens) {
  ShowWords w;
  row.text("of", w.id, true);
  row.is_called("words of " + w.id);
  row.text("where", w.where, true);
  row.text("means", w.means, true);
  row.text("look_alike", w.look_alike, true);
  row.text("apart", w.apart, true);
  row.text("source", w.source, true);
  row.text("status", w.status, true);
  row.text("treatment", w.treatment);
  row.number("treated_min", w.treated_min, 0.5, 60.0, row.find("treatment") != nullptr);
  for (const std::string& id : {w.id, w.look_alike}) {
    if (!row.is_good()) break;
    if (const auto found = specimens.find(id); !found) row.note(found.error());
  }
  if (row.is_good() && !w.treatment.empty() && specimens.find(w.id)->setup.conditions.empty()) {
    row.note({ErrorCode::kInvalidArgument, "treatment '" + w.treatment + "': the body of " + w.id +
                                               " is healthy; leave it out"});
  }
  return w;
}

ShowBuild read_build(TomlFields& row) {
  ShowBuild b;
  row.text("id", b.id, true);
  row.text("label", b.label, true);
  row.number("weight_factor", b.weight_factor, 0.5, 2.5);
  row.number("muscle", b.muscle, 0.0, 1.0);
  row.flag("compared", b.is_compared);
  return b;
}

}  // namespace

Result<Show> Show::parse(std::string_view toml_text, std::string_view file_name,
                         const Specimens& specimens) {
  Show out;
  TRY(read_toml(toml_text, file_name, [&](TomlFields& top) {
    top.rows(
        "words", [&](TomlFields& row) { row.add(out.words_, read_words(row, specimens)); }, true);
    top.rows("build", [&](TomlFields& row) { row.add(out.builds_, read_build(row)); }, true);
  }));
  return out;
}

Result<Show> Show::load(const std::filesystem::path& file, const Specimens& specimens) {
  const auto text = TRY(read_file(file));
  return parse(text, file.filename().string(), specimens);
}

patient::PatientSetup with_build(patient::PatientSetup setup, const ShowBuild& build) {
  setup.person.weight_kg *= build.weight_factor;
  if (build.muscle) setup.person.muscle = *build.muscle;
  return setup;
}

}  // namespace phren::app
