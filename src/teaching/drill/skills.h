// What the drill asks a learner to tell apart, read from data/drill_skills.toml and
// data/drill_lobes.toml.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.h"
#include "exam/types.h"

namespace phren::teaching {

struct Skill {
  std::string id;
  std::string label;
  std::string family;                   // an answer of the same family earns half
  std::vector<std::size_t> confusable;  // indices of other skills
  std::vector<std::string> specimens;   // ids of specimens that sound so; may be empty
  std::vector<std::string> findings;    // what an examination calls it, the exact word first
  std::optional<exam::Lobe> lobe;       // of skills that are a place: where the sound is changed
};

// In the order in which they are first met. Errors name file, line and field.
Result<std::vector<Skill>> parse_skills(std::string_view toml_text, std::string_view file_name);
Result<std::vector<Skill>> load_skills(const std::filesystem::path& file);

}  // namespace phren::teaching
