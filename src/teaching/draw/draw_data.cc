// Reads data/draw.toml.
#include <algorithm>

#include "base/files.h"
#include "base/toml_fields.h"
#include "teaching/draw/draw.h"

namespace phren::teaching {
namespace {

DrawLevel read_level(TomlFields& f) {
  DrawLevel level;
  f.text("id", level.id, true);
  f.is_called("level " + level.id);
  f.text("label", level.label, true);
  f.text("meaning", level.meaning, true);
  f.texts("conditions", level.conditions);
  f.number("severity_from", level.severity_from, 0.0, 1.0, true);
  f.number("severity_to", level.severity_to, level.severity_from, 1.0, true);
  f.number("second_chance", level.second_chance, 0.0, 1.0, true);
  f.texts("rooms", level.rooms);
  f.texts("clothing", level.clothing);
  if (level.rooms.empty() || level.clothing.empty()) {
    f.note({ErrorCode::kInvalidArgument, "rooms and clothing must each name at least one"});
  }
  return level;
}

TypicalSize read_size(TomlFields& f) {
  TypicalSize size;
  f.number("age_years", size.age_years, 0.0, 110.0, true);
  f.number("female_cm", size.female_cm, 40.0, 220.0, true);
  f.number("female_kg", size.female_kg, 1.5, 250.0, true);
  f.number("male_cm", size.male_cm, 40.0, 220.0, true);
  f.number("male_kg", size.male_kg, 1.5, 250.0, true);
  return size;
}

}  // namespace

Result<DrawData> DrawData::load(const std::filesystem::path& data_directory,
                                const patient::Conditions& conditions) {
  const auto file = data_directory / "draw.toml";
  const auto text = TRY(read_file(file));
  DrawData out;
  const auto check = [&](TomlFields& f, const std::string& id) {
    if (const auto found = conditions.find(id); !found) f.note(found.error());
  };
  TRY(read_toml(text, file.string(), [&](TomlFields& top) {
    top.rows(
        "level",
        [&](TomlFields& f) {
          DrawLevel level = read_level(f);
          for (const std::string& id : level.conditions) check(f, id);
          f.add(out.levels_, std::move(level));
        },
        true);
    top.rows("pair", [&](TomlFields& f) {
      DrawPair pair;
      f.text("first", pair.first, true);
      f.text("second", pair.second, true);
      check(f, pair.first);
      check(f, pair.second);
      out.pairs_.push_back(std::move(pair));
    });
    top.rows(
        "scene", [&](TomlFields& f) { f.text("words", out.scenes_.emplace_back(), true); }, true);
    top.rows("size", [&](TomlFields& f) { out.sizes_.push_back(read_size(f)); }, true);
  }));
  const auto by_age = [](const TypicalSize& a, const TypicalSize& b) {
    return a.age_years < b.age_years;
  };
  if (!std::is_sorted(out.sizes_.begin(), out.sizes_.end(), by_age)) {
    return fail(ErrorCode::kInvalidArgument, file.string() + ": [[size]] must stand by rising age");
  }
  return out;
}

}  // namespace phren::teaching
