// What a class practises: which kinds of question on which sounds, how many new ones a day, and
// whether pictures are shown. Set by its instructors, obeyed when the next item is chosen.
//
// Errors:  kInvalidArgument naming the field.
// Rules:   who learns in several classes may do what any of them allows.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "app/server/api/guard.h"
#include "records/drills.h"

namespace phren::app::server {

struct DrillRules {
  std::set<std::string> modes, skills;
  std::optional<int> new_per_day;  // none: as many as the drill would open
  bool sound_only = false;
};
DrillRules all_allowed(const Office& office);
Result<DrillRules> parse_drill_rules(const Office& office, const nlohmann::json& body);
nlohmann::json to_json(const Office& office, const DrillRules& rules);

// Of whoever asks; staff and who is in no class may do everything.
DrillRules rules_for(const Office& office, Desk& desk, const Caller& caller);

// Skills that the mode may ask about, as indices of office.skills.
std::vector<std::size_t> allowed_skills(const Office& office, const std::string& mode,
                                        const DrillRules& rules);
// How many of them this learner first met in the last 24 hours, and whether any was met at all.
struct Met {
  int lately = 0;
  bool any = false;
};
Met met_of(const Office& office, const std::string& mode, const std::vector<std::size_t>& skills,
           const std::vector<records::DrillAnswerRecord>& answers, std::int64_t now_ms);

}  // namespace phren::app::server
