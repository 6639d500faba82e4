#include "teaching/drill/kind.h"

#include <algorithm>

#include "exam/names.h"
#include "teaching/drill/kinds/parts.h"

namespace phren::teaching {

std::span<const DrillKind* const> drill_kinds() {
  static const DrillKind* const kKinds[] = {&name_kind(),  &phase_kind(), &side_kind(),
                                            &lobe_kind(),  &same_kind(),  &weigh_kind(),
                                            &threat_kind()};
  return kKinds;
}

const DrillKind* find_drill_kind(std::string_view id) {
  for (const DrillKind* kind : drill_kinds()) {
    if (kind->id() == id) return kind;
  }
  return nullptr;
}

std::string drill_kind_ids() {
  std::string list;
  for (const DrillKind* kind : drill_kinds()) {
    list += (list.empty() ? "" : ", ") + std::string(kind->id());
  }
  return list;
}

std::vector<std::size_t> skills_of(const DrillBook& book, const DrillKind& kind) {
  std::vector<std::size_t> list;
  for (std::size_t i = 0; i < book.library->skills.size(); ++i) {
    if (kind.fits(book, i)) list.push_back(i);
  }
  return list;
}

std::vector<DrillChoice> choices_from(const DrillBook& book,
                                      const std::vector<std::size_t>& skills) {
  std::vector<DrillChoice> choices;
  for (const std::size_t i : skills) {
    choices.push_back({book.library->skills[i].id, book.library->skills[i].label});
  }
  return choices;
}

std::vector<std::string> skills_heard(const bedside::HeardAt& heard,
                                      const std::vector<Skill>& skills) {
  std::vector<std::string> list;
  const auto add = [&](std::string_view id) {
    const bool is_skill =
        std::any_of(skills.begin(), skills.end(), [&](const Skill& one) { return one.id == id; });
    if (is_skill && std::find(list.begin(), list.end(), id) == list.end()) list.emplace_back(id);
  };
  // Bronchial breathing as loud as health or louder is the whole breath; what is added lies on it.
  const bool is_bronchial = heard.breath == exam::Sound::kBronchial;
  if (is_bronchial && heard.loudness == bedside::Loudness::kNormal) {
    add(exam::to_string(heard.breath));
  }
  for (const auto& added : heard.added) {
    if (added.is_noticed()) add(exam::to_string(added.sound));
  }
  if (heard.loudness == bedside::Loudness::kUnknown) return list;
  if (heard.is_softer()) add(bedside::to_string(heard.loudness));
  if (is_bronchial && heard.loudness != bedside::Loudness::kAbsent) {
    add(exam::to_string(heard.breath));
  }
  if (list.empty() && !heard.is_hidden()) add("normal");
  return list;
}

Result<std::string> DrillKind::reason(const DrillBook& book, const DrillQuestion& question) const {
  if (!question.explanation.empty()) return question.explanation;
  std::string text;
  for (const DrillSound& one : question.sounds) {
    const auto facts = TRY(book.sounds->facts(one.specimen_id));
    if (text.find(facts.listen) != std::string::npos) continue;
    text += (text.empty() ? "" : " ") + facts.name + ": " + facts.listen + " " + facts.mechanism;
  }
  return text;
}

std::vector<DrillSound> DrillKind::named(const DrillBook&, const DrillQuestion&,
                                         const std::string&) const {
  return {};
}

std::string DrillKind::remembered(const DrillQuestion& question,
                                  const std::string& answered) const {
  return question.accepts(answered) ? question.skill : question.partner;
}

Status make_real(const DrillBook& book, DrillQuestion& question, acoustics::Realness wanted) {
  using acoustics::Realness;
  const auto& skills = book.library->skills;
  const auto first_heard = [&](const DrillSound& sound) -> Result<std::string> {
    const auto names = skills_heard(TRY(book.sounds->listen(sound)).heard, skills);
    return names.empty() ? std::string() : names.front();
  };
  for (const Realness realness : {Realness::kPatient, Realness::kClassroom}) {
    if (realness > wanted) continue;
    std::vector<DrillSound> real = question.sounds;
    bool stays = true;
    for (DrillSound& sound : real) {
      const std::string clean = TRY(first_heard(sound));
      sound.realness = realness;
      stays = stays && TRY(first_heard(sound)) == clean;
    }
    if (!stays) continue;
    question.sounds = std::move(real);
    return {};
  }
  return {};
}

// ---- what several kinds share ----

DrillSound sound_of(const Skill& skill, std::size_t variant, RandomStream& random) {
  DrillSound sound;
  sound.specimen_id = skill.specimens[variant % skill.specimens.size()];
  sound.seed = random.bits() >> 16;
  sound.seconds = kDrillSound_s;
  return sound;
}

DrillSound healthy_beside(const DrillSound& sound, RandomStream& random) {
  DrillSound healthy = sound;
  healthy.seed = random.bits() >> 16;
  healthy.is_healthy = true;
  return healthy;
}

bool has_sounds(const DrillBook& book, std::size_t skill) {
  const Skill& one = book.library->skills[skill];
  return !one.specimens.empty() && !one.lobe && book.sounds->facts(one.specimens.front());
}

bool is_known_by_level(const DrillBook& book, const Skill& skill) {
  if (skill.specimens.empty()) return false;
  const auto facts = book.sounds->facts(skill.specimens.front());
  return facts && !facts->sound;
}

DrillQuestion begin_question(const DrillBook& book, const DrillKind& kind, const Asked& asked,
                             RandomStream& random) {
  const auto& skills = book.library->skills;
  DrillQuestion question;
  question.kind = kind.id();
  question.skill = skills[asked.skill].id;
  for (const std::size_t i : skills[asked.skill].confusable) {
    if (skills[i].specimens.empty()) continue;
    if (keeps_company(book, skills[asked.skill], skills[i].id)) continue;
    if (keeps_company(book, skills[i], skills[asked.skill].id)) continue;
    if (!asked.skills.empty() && !asked.skills.contains(skills[i].id)) continue;
    question.partner = skills[i].id;
    if (random.chance(0.5)) break;
  }
  return question;
}

tl::unexpected<Error> not_clear(const Skill& skill) {
  return fail(ErrorCode::kUnsupported, "none of " + std::to_string(kBodiesTried) +
                                           " bodies sounds clearly of " + skill.label);
}

bool keeps_company(const DrillBook& book, const Skill& skill, std::string_view with) {
  return std::any_of(skill.specimens.begin(), skill.specimens.end(), [&](const std::string& id) {
    const auto facts = book.sounds->facts(id);
    return facts &&
           std::find(facts->company.begin(), facts->company.end(), with) != facts->company.end();
  });
}

namespace {
double prominence_db(const bedside::HeardAt& heard, std::string_view sound) {
  for (const auto& added : heard.added) {
    if (exam::to_string(added.sound) == sound) return added.prominence_db(heard.seconds);
  }
  return bedside::kPlain_db;  // the breath itself
}
}  // namespace

Result<DrillSound> clear_sound(const DrillBook& book, const Skill& skill, std::size_t variant,
                               RandomStream& random, std::string_view rival) {
  for (int i = 0; i < kBodiesTried; ++i) {
    const DrillSound sound = sound_of(skill, variant, random);
    const auto listened = TRY(book.sounds->listen(sound));
    const auto names = skills_heard(listened.heard, book.library->skills);
    if (std::find(names.begin(), names.end(), rival) != names.end() &&
        prominence_db(listened.heard, rival) + kPlainer_db >
            prominence_db(listened.heard, skill.id)) {
      continue;
    }
    const auto first = std::find_if(names.begin(), names.end(), [&](const std::string& name) {
      return name == skill.id || !keeps_company(book, skill, name);
    });
    if (first != names.end() && *first == skill.id) return sound;
  }
  return not_clear(skill);
}

}  // namespace phren::teaching
