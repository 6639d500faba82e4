// What a drill item plays and what is right: made from the specimens, in variants.
//
// Shapes:  `detail` is kept in the store with the item; everything is worked out from it again.
// Errors:  those of making a specimen.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "app/server/api/office.h"
#include "app/server/net/http.h"
#include "base/random.h"

namespace phren::app::server {

struct DrillSound {
  std::string specimen_id;
  std::uint64_t seed = 1;
  bool is_turned = false;    // the illness on the other side
  bool is_opposite = false;  // heard at the same place of the other side
  bool is_healthy = false;   // the same place of a healthy chest: what quiet is measured by
  double seconds = 0.0;      // 0: as long as the specimen says
  // Of a question about a lobe: which is solid, and where the chestpiece is, with its name to show.
  std::optional<exam::Lobe> lobe = std::nullopt;
  std::string site_id = {}, site_name = {};
};

struct DrillChoice {
  std::string id, label;
};

struct DrillTask {
  std::string truth;    // id of the right choice
  std::string partner;  // skill that a wrong answer stands for
  std::vector<DrillSound> sounds;
  // Of questions about meaning alone: what else was found, what may be chosen, why it is so.
  std::string story, explanation;
  std::vector<DrillChoice> choices;
};

// One task on a skill. `variant` counts the plays, so that no recording comes twice running.
// `seconds`: of every sound; 0: as long as each specimen says.
Result<DrillTask> make_task(const Office& office, const std::string& mode,
                            const teaching::Skill& skill, std::size_t variant, Seed seed,
                            double seconds = 0.0);
std::vector<DrillChoice> choices_of(const Office& office, const std::string& mode,
                                    const DrillTask& task);
std::string question_of(const std::string& mode, const DrillTask& task);
// Loudness gives nothing away where kinds are told apart by what is in them, so each sound is
// brought to one level. It is the very thing to hear where a choice is "diminished" or "absent", or
// where two places are compared: then all sounds of the item are played with one gain.
bool has_one_gain(const Office& office, const std::string& mode, const DrillTask& task);
// What the sounds are to the learner, one word or two each; "" needs none.
std::vector<std::string> sound_labels_of(const std::string& mode, const DrillTask& task);

std::string task_text(const DrillTask& task);
Result<DrillTask> task_from_text(const std::string& text);

Result<SpecimenSound> play(const Office& office, const DrillSound& sound);
// The sound of that number as WAV; refused when there is none (guard.h).
Response sound_response(const Office& office, const DrillTask& task, const std::string& number);

}  // namespace phren::app::server
