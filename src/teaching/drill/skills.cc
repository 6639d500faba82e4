#include "teaching/drill/skills.h"

#include <algorithm>
#include <utility>

#include "base/files.h"
#include "base/stable_sort.h"
#include "base/toml_fields.h"
#include "exam/names.h"

namespace phren::teaching {
namespace {

struct RawSkill {
  std::string id;
  Skill skill;
  std::vector<std::string> confusable;
  double order = 0.0;
};

RawSkill read_skill(TomlFields& row) {
  RawSkill raw;
  row.text("id", raw.id, true);
  row.is_called("skill " + raw.id);
  raw.skill.id = raw.id;
  row.text("label", raw.skill.label, true);
  row.text("family", raw.skill.family, true);
  row.number("order", raw.order, 1.0, 1000.0, true);
  row.texts("confusable", raw.confusable);
  row.texts("specimens", raw.skill.specimens);
  row.texts("findings", raw.skill.findings);
  if (row.find("lobe") != nullptr) row.word("lobe", raw.skill.lobe.emplace(), exam::parse_lobe);
  return raw;
}

Result<std::vector<Skill>> link(const std::vector<RawSkill>& raw, std::string_view file) {
  std::vector<std::string> ids;
  for (const RawSkill& r : raw) ids.push_back(r.id);
  std::vector<Skill> skills;
  for (const RawSkill& r : raw) {
    Skill skill = r.skill;
    for (const std::string& name : r.confusable) {
      const auto found = std::find(ids.begin(), ids.end(), name);
      if (found == ids.end() || name == skill.id) {
        return fail(ErrorCode::kInvalidArgument,
                    std::string(file) + ": skill " + skill.id + ": confusable '" + name +
                        "' must be another skill of this file." + did_you_mean(name, ids));
      }
      skill.confusable.push_back(static_cast<std::size_t>(found - ids.begin()));
    }
    skills.push_back(std::move(skill));
  }
  return skills;
}

}  // namespace

Result<std::vector<Skill>> parse_skills(std::string_view toml_text, std::string_view file_name) {
  std::vector<RawSkill> raw;
  TRY(read_toml(toml_text, file_name, [&](TomlFields& top) {
    top.rows("skill", [&](TomlFields& row) { row.add(raw, read_skill(row)); }, true);
  }));
  if (raw.size() < 2) {
    return fail(ErrorCode::kMalformed,
                std::string(file_name) + ": needs at least two [[skill]] entries");
  }
  phren::stable_sort(raw, [](const RawSkill& a, const RawSkill& b) { return a.order < b.order; });
  return link(raw, file_name);
}

Result<std::vector<Skill>> load_skills(const std::filesystem::path& file) {
  auto text = TRY(read_file(file));
  return parse_skills(text, file.filename().string());
}

}  // namespace phren::teaching
