// One question of the drill: what is played, what may be chosen, what is right. It is kept as given;
// what a page gets of it before the answer says nothing of the answer.
//
// Errors:  reading names the field, as base/json_fields.h.
#pragma once

#include <compare>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "acoustics/layers.h"
#include "base/fields.h"
#include "exam/types.h"

namespace phren::teaching {

// A variant of a specimen: the same illness in another body.
struct DrillSound {
  std::string specimen_id;
  std::uint64_t seed = 1;    // below 2^48
  bool is_turned = false;    // the illness on the other side
  bool is_opposite = false;  // heard at the same place of the other side
  bool is_healthy = false;   // the same place of a healthy chest: what quiet is measured by
  double seconds = 0.0;
  // Instead of what the specimen has: the same body with this condition, as far along as is usual.
  std::string condition_id = {};
  // Of a question about a lobe: which is solid, and where the chestpiece is, with its name to show.
  std::optional<exam::Lobe> lobe = std::nullopt;
  std::string site_id = {}, site_name = {};
  acoustics::Realness realness = acoustics::Realness::kClean;

  auto operator<=>(const DrillSound&) const = default;
};

struct DrillChoice {
  std::string id, label;
};

struct DrillQuestion {
  std::string kind;                   // of drill/kind.h
  std::string skill;                  // that is practised
  std::string partner;                // skill that a wrong answer stands for
  std::string why_now;                // why it came; told with the answer, as it could hint at it
  std::string truth;                  // id of the right choice: the most prominent
  std::vector<std::string> accepted;  // of others that are right as well
  std::vector<DrillSound> sounds;
  bool has_one_gain = true;  // else each sound is brought to one level
  std::string story;         // what else is known of the patient; may be empty
  std::string explanation;   // may be empty: then the sounds' own
  std::vector<DrillChoice> choices;

  bool accepts(std::string_view answered) const;
  const DrillChoice* choice(std::string_view id) const;  // null: there is none
};

void describe(Fields& f, DrillSound& sound);
void describe(Fields& f, DrillChoice& choice);
void describe(Fields& f, DrillQuestion& question);

}  // namespace phren::teaching
