// A question of the drill as a page gets it: nothing in it tells the answer (docs/formats/class-api.md).
#pragma once

#include <nlohmann/json.hpp>
#include <string>

#include "app/server/api/guard.h"
#include "teaching/drill/kind.h"
#include "teaching/drill/past_answer.h"
#include "teaching/drill/rules.h"

namespace phren::app::server {

// Sound number i lies at `path`/i.
nlohmann::json question_json(const teaching::DrillQuestion& question, const std::string& path);

// A question whose sounds are clear, from a seed that nobody knows (that of `asked` is not used); refused
// with 503 when no patient sounded clearly enough.
teaching::DrillQuestion make_question(const Office& office, const teaching::DrillKind& kind,
                                      teaching::Asked asked);

// A question that was kept; one that this program cannot read any more is refused as gone.
teaching::DrillQuestion kept_question(const std::string& detail);

// The sound of that number as WAV; refused when there is none.
Response sound_response(const Office& office, const std::vector<teaching::DrillSound>& sounds,
                        const std::string& number);

// What whoever asks may practise; staff and who is in no class may do everything.
teaching::DrillRules rules_for(const Office& office, Desk& desk, const Caller& caller);

// Skills and confusions of these answers.
nlohmann::json standing_json(const Office& office, const teaching::PastAnswers& answers,
                             std::int64_t now_ms);
nlohmann::json confusion_json(const Office& office, const teaching::PastAnswers& answers);

}  // namespace phren::app::server
