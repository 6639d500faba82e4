// What a learner's drill answers say: the skills map and who is mistaken for whom.
#pragma once

#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "app/server/api/office.h"
#include "records/drills.h"
#include "teaching/drill/drill.h"

namespace phren::app::server {

inline constexpr const char* kDrillModes[] = {"name", "phase", "side",  "lobe",
                                              "same", "weigh", "threat"};

// Skills that a mode can ask about, as indices of office.skills.
std::vector<std::size_t> skills_of_mode(const Office& office, const std::string& mode);

// The learner's memory of one mode, worked out from all answers. Indices are those of `skills`, or
// of skills_of_mode.
teaching::Drill drill_of(const Office& office, const std::string& mode,
                         const std::vector<records::DrillAnswerRecord>& answers,
                         const teaching::DrillSettings& settings = {},
                         const std::optional<std::vector<std::size_t>>& skills = {});

double days_of(std::int64_t ms);

// Skills that were practised, and for mode "name" all.
nlohmann::json skills_json(const Office& office,
                           const std::vector<records::DrillAnswerRecord>& answers,
                           std::int64_t now_ms);
nlohmann::json skill_json(const Office& office, const std::string& mode,
                          const teaching::Drill& drill, std::size_t index, std::int64_t now_ms);
// Of the answers of mode "name".
nlohmann::json confusion_json(const Office& office,
                              const std::vector<records::DrillAnswerRecord>& answers);

}  // namespace phren::app::server
