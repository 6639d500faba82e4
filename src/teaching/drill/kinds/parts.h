// What several kinds of question share.
#pragma once

#include "teaching/drill/kind.h"

namespace phren::teaching {

// All sounds of the drill are as long as this, so that length gives nothing away; the rarest sound of
// the specimens, a squawk, comes within it (ENGINEERING).
inline constexpr double kDrillSound_s = 12.0;
// Bodies tried until a sound says clearly what a question is about (ENGINEERING).
inline constexpr int kBodiesTried = 8;
// A sound is told from its look-alike where it is plainer than that by so much (ENGINEERING).
inline constexpr double kPlainer_db = 3.0;

DrillSound sound_of(const Skill& skill, std::size_t variant, RandomStream& random);
DrillSound healthy_beside(const DrillSound& sound, RandomStream& random);
// Kind, skill and the look-alike that a wrong answer stands for.
DrillQuestion begin_question(const DrillBook& book, const DrillKind& kind, const Asked& asked,
                             RandomStream& random);
bool has_sounds(const DrillBook& book, std::size_t skill);  // of its own, and is no place
bool is_known_by_level(const DrillBook& book, const Skill& skill);
bool keeps_company(const DrillBook& book, const Skill& skill, std::string_view with);
// A variant in which the skill is the most prominent of all that is heard, but for what always comes
// with it; and far more so than `rival`.
Result<DrillSound> clear_sound(const DrillBook& book, const Skill& skill, std::size_t variant,
                               RandomStream& random, std::string_view rival = {});
tl::unexpected<Error> not_clear(const Skill& skill);

const DrillKind& name_kind();
const DrillKind& phase_kind();
const DrillKind& side_kind();
const DrillKind& lobe_kind();
const DrillKind& same_kind();
const DrillKind& weigh_kind();
const DrillKind& threat_kind();

}  // namespace phren::teaching
