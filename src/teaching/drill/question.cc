#include "teaching/drill/question.h"

#include <algorithm>

#include "exam/names.h"

namespace phren::teaching {

bool DrillQuestion::accepts(std::string_view answered) const {
  return answered == truth ||
         std::find(accepted.begin(), accepted.end(), answered) != accepted.end();
}

const DrillChoice* DrillQuestion::choice(std::string_view id) const {
  const auto found = std::find_if(choices.begin(), choices.end(),
                                  [&](const DrillChoice& one) { return one.id == id; });
  return found == choices.end() ? nullptr : &*found;
}

void describe(Fields& f, DrillSound& sound) {
  constexpr double kSeeds = 281474976710656.0;  // 2^48
  f.text("specimen", sound.specimen_id, true);
  f.whole("seed", sound.seed, 0.0, kSeeds);
  f.flag("turned", sound.is_turned);
  f.flag("opposite", sound.is_opposite);
  f.flag("healthy", sound.is_healthy);
  f.number("seconds", sound.seconds, 0.0, 60.0);
  f.text("condition", sound.condition_id);
  std::string lobe = sound.lobe ? std::string(exam::to_string(*sound.lobe)) : "";
  f.text("lobe", lobe);
  if (f.reads() && !lobe.empty()) {
    if (const auto parsed = exam::parse_lobe(lobe)) {
      sound.lobe = *parsed;
    } else {
      f.note(parsed.error());
    }
  }
  f.text("site", sound.site_id);
  f.text("site_name", sound.site_name);
  std::string realness(word_of(sound.realness));
  f.text("realness", realness);
  if (f.reads() && !realness.empty()) {
    if (const auto parsed = read_word<acoustics::Realness>("realness", realness)) {
      sound.realness = *parsed;
    } else {
      f.note(parsed.error());
    }
  }
}

void describe(Fields& f, DrillChoice& choice) {
  f.text("id", choice.id, true);
  f.text("label", choice.label, true);
}

void describe(Fields& f, DrillQuestion& question) {
  f.text("kind", question.kind, true);
  f.text("skill", question.skill, true);
  f.text("partner", question.partner);
  f.text("why_now", question.why_now);
  f.text("truth", question.truth, true);
  f.texts("accepted", question.accepted);
  f.rows("sounds", question.sounds, true);
  f.flag("has_one_gain", question.has_one_gain);
  f.text("story", question.story);
  f.text("explanation", question.explanation);
  f.rows("choices", question.choices, true);
}

}  // namespace phren::teaching
