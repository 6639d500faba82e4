#include "teaching/drill/skills.h"

#include <toml++/toml.h>

#include <algorithm>
#include <numeric>
#include <utility>

#include "base/files.h"

namespace phren::teaching {
namespace {

struct RawSkill {
  Skill skill;
  std::vector<std::string> confusable;
  std::int64_t order = 0;
  std::string where;
};

Result<RawSkill> read_skill(const toml::node& node, std::string_view file) {
  RawSkill raw;
  raw.where = std::string(file) + ":" + std::to_string(node.source().begin.line);
  const auto* row = node.as_table();
  if (row == nullptr) return fail(ErrorCode::kMalformed, raw.where + ": not a table");
  for (const auto& [key, target] :
       {std::pair{"id", &raw.skill.id}, std::pair{"label", &raw.skill.label},
        std::pair{"family", &raw.skill.family}}) {
    *target = (*row)[key].value_or(std::string());
    if (target->empty()) {
      return fail(ErrorCode::kMalformed, raw.where + ": needs the text field " + key);
    }
  }
  raw.order = (*row)["order"].value_or(std::int64_t{0});
  if (raw.order < 1) {
    return fail(at(raw.where, out_of_range("order of " + raw.skill.id,
                                           static_cast<double>(raw.order), "1 or more")));
  }
  if (const auto* names = (*row)["confusable"].as_array()) {
    for (const auto& name : *names) raw.confusable.push_back(name.value_or(std::string()));
  }
  return raw;
}

Result<std::vector<Skill>> link(const std::vector<RawSkill>& raw) {
  std::vector<std::string> ids;
  for (const RawSkill& r : raw) ids.push_back(r.skill.id);
  std::vector<Skill> skills;
  for (const RawSkill& r : raw) {
    if (std::count(ids.begin(), ids.end(), r.skill.id) > 1) {
      return fail(ErrorCode::kInvalidArgument,
                  r.where + ": skill id " + r.skill.id + " is used twice");
    }
    Skill skill = r.skill;
    for (const std::string& name : r.confusable) {
      const auto found = std::find(ids.begin(), ids.end(), name);
      if (found == ids.end() || name == skill.id) {
        return fail(ErrorCode::kInvalidArgument,
                    r.where + ": skill " + skill.id + ": confusable '" + name +
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
  toml::table root;
  try {
    root = toml::parse(toml_text, std::string(file_name));
  } catch (const toml::parse_error& error) {
    return fail(ErrorCode::kMalformed, std::string(file_name) + ":" +
                                           std::to_string(error.source().begin.line) + ": " +
                                           std::string(error.description()));
  }
  const auto* rows = root["skill"].as_array();
  if (rows == nullptr || rows->size() < 2) {
    return fail(ErrorCode::kMalformed,
                std::string(file_name) + ": needs at least two [[skill]] entries");
  }
  std::vector<RawSkill> raw;
  for (const auto& node : *rows) {
    auto skill = read_skill(node, file_name);
    if (!skill) return fail(skill.error());
    raw.push_back(std::move(*skill));
  }
  std::vector<std::size_t> places(raw.size());
  std::iota(places.begin(), places.end(), std::size_t{0});
  std::sort(places.begin(), places.end(), [&](std::size_t a, std::size_t b) {
    return std::pair(raw[a].order, a) < std::pair(raw[b].order, b);
  });
  std::vector<RawSkill> in_order;
  for (const std::size_t place : places) in_order.push_back(std::move(raw[place]));
  return link(in_order);
}

Result<std::vector<Skill>> load_skills(const std::filesystem::path& file) {
  auto text = read_file(file);
  if (!text) return fail(text.error());
  return parse_skills(*text, file.filename().string());
}

}  // namespace phren::teaching
