#include "app/server/api/drill_items.h"

#include <algorithm>
#include <nlohmann/json.hpp>

#include "app/server/api/guard.h"
#include "app/server/api/learner_view.h"
#include "signal/audio_file.h"
#include "teaching/drill/meaning.h"

namespace phren::app::server {
namespace {

using nlohmann::json;

constexpr double kRate_hz = 16000.0;
// A sound belongs to one phase when this share of it lies there (ENGINEERING).
constexpr double kOnePhaseShare = 0.8;

exam::Side other(exam::Side side) {
  return side == exam::Side::kRight  ? exam::Side::kLeft
         : side == exam::Side::kLeft ? exam::Side::kRight
                                     : side;
}

// The lobe in the same place of the other lung; the left lung has no middle lobe.
int other_lobe(int lobe) {
  if (lobe < 0) return lobe;
  switch (static_cast<exam::Lobe>(lobe)) {
    case exam::Lobe::kRul:
    case exam::Lobe::kRml:
      return static_cast<int>(exam::Lobe::kLul);
    case exam::Lobe::kRll:
      return static_cast<int>(exam::Lobe::kLll);
    case exam::Lobe::kLul:
      return static_cast<int>(exam::Lobe::kRul);
    case exam::Lobe::kLll:
      return static_cast<int>(exam::Lobe::kRll);
  }
  return lobe;
}

// The same illness in another person: build and severity differ a little from variant to variant.
void vary(Specimen& specimen, Seed seed) {
  RandomStream random(seed, "variant");
  auto& person = specimen.setup.person;
  person.height_cm *= random.uniform(0.96, 1.04);
  person.weight_kg *= random.uniform(0.94, 1.06);
  for (auto& condition : specimen.setup.conditions) {
    condition.severity = std::clamp(condition.severity * random.uniform(0.95, 1.04), 0.0, 1.0);
  }
}

DrillSound sound_of(const teaching::Skill& skill, std::size_t variant, double seconds,
                    RandomStream& random) {
  return {skill.specimens[variant % skill.specimens.size()],
          random.bits() >> 16,
          false,
          false,
          false,
          seconds};
}

std::string phase_of(const SpecimenSound& made, exam::Sound sound) {
  double in_s = 0.0, out_s = 0.0;
  for (const auto& event : made.truth) {
    if (event.sound != sound || !event.audible) continue;
    (event.phase == exam::Phase::kInspiration ? in_s : out_s) += event.end_s - event.start_s;
  }
  const double all_s = in_s + out_s;
  return in_s >= kOnePhaseShare * all_s    ? "inspiration"
         : out_s >= kOnePhaseShare * all_s ? "expiration"
                                           : "both";
}

// Known by how little is heard, not by a sound of its own.
bool is_known_by_level(const Office& office, const DrillSound& sound) {
  const auto specimen = office.specimens.find(sound.specimen_id);
  return specimen && !specimen->sound;
}

// Only beside a healthy chest can be heard that a chest is quiet.
void add_healthy(DrillTask& task, RandomStream& random) {
  DrillSound healthy = task.sounds.front();
  healthy.seed = random.bits() >> 16;
  healthy.is_healthy = true;
  task.sounds.push_back(healthy);
}

// Three places of each side; each lobe lies mostly under one or two of them (data/sites.toml).
constexpr const char* kLobePlaces[] = {"F5", "F6", "F9", "F10", "P9", "P10"};
// From crackles over a lobe that fills to bronchial breathing over a solid one (ENGINEERING).
constexpr double kMildestLobe = 0.5, kWorstLobe = 0.95;

// The same breaths of one patient at all places; which lobe is solid is the patient's, and the
// acoustics make what is heard of it.
Status make_lobe_task(const Office& office, const teaching::Skill& skill, DrillTask& task) {
  DrillSound sound = task.sounds.front();
  sound.lobe = skill.lobe;
  task.sounds.clear();
  std::string over;
  for (const char* place : kLobePlaces) {
    const auto site = TRY(office.sites.find(place));
    sound.site_id = site.id;
    sound.site_name = site.name;
    task.sounds.push_back(sound);
    if (site.lobe_weight[static_cast<std::size_t>(*skill.lobe)] > 0.5) {
      over += (over.empty() ? "" : " and the ") + site.name;
    }
  }
  task.truth = skill.id;
  task.explanation = "The " + skill.label +
                     " is filled: crackles, and bronchial breathing the more " +
                     "solid it is. Of these places the " + over +
                     (over.find(" and ") == std::string::npos ? " lies" : " lie") +
                     " over it; the same place of the other side tells what is usual.";
  return {};
}

void make_side_task(const Office& office, RandomStream& random, DrillTask& task) {
  DrillSound ill = task.sounds.front();
  ill.is_turned = random.chance(0.5);
  DrillSound well = ill;
  well.is_opposite = true;
  exam::Side side = exam::Side::kRight;
  if (const auto specimen = office.specimens.find(ill.specimen_id)) {
    for (const auto& one : specimen->setup.conditions) {
      if (one.side != exam::Side::kMidline) side = one.side;
    }
  }
  if (ill.is_turned) side = other(side);
  const bool is_right = side == exam::Side::kRight;
  task.truth = is_right ? "right" : "left";
  task.sounds = is_right ? std::vector{ill, well} : std::vector{well, ill};  // right one first
}

Status ask_meaning(const Office& office, const std::string& mode, const teaching::Skill& skill,
                   Seed seed, DrillTask& task) {
  const auto at = static_cast<std::size_t>(&skill - office.skills.data());
  auto made = TRY(mode == "weigh"
                      ? teaching::weigh_task(*office.knowledge, office.meanings[at].weigh, seed)
                      : teaching::threat_task(*office.knowledge, office.meanings[at].threat, seed));
  task.truth = std::move(made.truth);
  task.story = std::move(made.story);
  task.explanation = std::move(made.explanation);
  for (const auto& one : made.choices) task.choices.push_back({one.id, one.label});
  return {};
}

}  // namespace

Result<DrillTask> make_task(const Office& office, const std::string& mode,
                            const teaching::Skill& skill, std::size_t variant, Seed seed,
                            double seconds) {
  RandomStream random(seed, "drill task");
  DrillTask task;
  task.sounds.push_back(sound_of(skill, variant, seconds, random));
  const teaching::Skill* partner = nullptr;
  for (const std::size_t i : skill.confusable) {
    if (!office.skills[i].specimens.empty()) partner = &office.skills[i];
    if (partner != nullptr && random.chance(0.5)) break;
  }
  task.partner = partner != nullptr ? partner->id : "";
  if (mode == "name") {
    task.truth = skill.id;
    add_healthy(task, random);  // with every kind, or its presence would tell
  } else if (mode == "phase") {
    const auto made = TRY(play(office, task.sounds.front()));
    const auto specimen = office.specimens.find(task.sounds.front().specimen_id);
    task.truth = phase_of(made, specimen->sound.value_or(exam::Sound::kNormal));
  } else if (mode == "side") {
    make_side_task(office, random, task);
  } else if (mode == "lobe") {
    TRY(make_lobe_task(office, skill, task));
  } else if (mode == "weigh" || mode == "threat") {
    if (auto ok = ask_meaning(office, mode, skill, Seed{random.bits()}, task); !ok) {
      return fail(ok.error());
    }
    if (is_known_by_level(office, task.sounds.front())) add_healthy(task, random);
  } else {
    const bool is_same = partner == nullptr || random.chance(0.5);
    task.truth = is_same ? "same" : "different";
    task.sounds.push_back(sound_of(is_same ? skill : *partner, variant + 1, seconds, random));
    if (random.chance(0.5)) std::swap(task.sounds[0], task.sounds[1]);
  }
  return task;
}

std::vector<DrillChoice> choices_of(const Office& office, const std::string& mode,
                                    const DrillTask& task) {
  if (!task.choices.empty()) return task.choices;
  if (mode == "phase") {
    return {{"inspiration", "breathing in"}, {"expiration", "breathing out"}, {"both", "both"}};
  }
  if (mode == "side") return {{"right", "right"}, {"left", "left"}};
  if (mode == "same") return {{"same", "the same kind"}, {"different", "different kinds"}};
  std::vector<DrillChoice> list;
  for (const std::size_t i : skills_of_mode(office, mode == "lobe" ? "lobe" : "name")) {
    list.push_back({office.skills[i].id, office.skills[i].label});
  }
  return list;
}

std::string question_of(const std::string& mode, const DrillTask& task) {
  if (mode == "weigh") return "Of these, what does the sound speak for most?";
  if (mode == "threat") {
    return (task.story.empty() ? "" : task.story + " ") +
           "What must you think of first, because it could kill first?";
  }
  if (mode == "phase") return "In which phase of the breath does the added sound lie?";
  if (mode == "side") {
    return "The first sound is from the patient's right, the second from the same place on the "
           "left. On which side is the chest changed?";
  }
  if (mode == "lobe") {
    return "The same deep breaths at six places, right and left in turn. In which lobe is the lung "
           "changed?";
  }
  if (mode == "same") return "Are the two sounds of the same kind?";
  return "Which sound is it? The second is a healthy chest at the same place, at its true "
         "loudness.";
}

bool has_one_gain(const Office& office, const std::string& mode, const DrillTask& task) {
  return mode == "name" || mode == "side" || mode == "lobe" ||
         std::any_of(task.sounds.begin(), task.sounds.end(),
                     [&](const DrillSound& one) { return is_known_by_level(office, one); });
}

std::vector<std::string> sound_labels_of(const std::string& mode, const DrillTask& task) {
  if (task.sounds.size() == 1) return {""};
  if (mode == "side") return {"right", "left"};
  if (mode == "lobe") {
    std::vector<std::string> labels;
    for (const DrillSound& one : task.sounds) labels.push_back(one.site_name);
    return labels;
  }
  if (mode == "same") return {"first", "second"};
  return {"this chest", "a healthy chest"};
}

std::string task_text(const DrillTask& task) {
  json sounds = json::array();
  for (const DrillSound& sound : task.sounds) {
    sounds.push_back({{"specimen", sound.specimen_id},
                      {"seed", sound.seed},
                      {"turned", sound.is_turned},
                      {"opposite", sound.is_opposite},
                      {"healthy", sound.is_healthy},
                      {"seconds", sound.seconds},
                      {"lobe", sound.lobe ? static_cast<int>(*sound.lobe) : -1},
                      {"site", sound.site_id},
                      {"site_name", sound.site_name}});
  }
  json choices = json::array();
  for (const DrillChoice& one : task.choices) choices.push_back({one.id, one.label});
  return json{{"truth", task.truth}, {"partner", task.partner},         {"sounds", sounds},
              {"story", task.story}, {"explanation", task.explanation}, {"choices", choices}}
      .dump();
}

Result<DrillTask> task_from_text(const std::string& text) {
  try {
    const json body = json::parse(text);
    DrillTask task{body.at("truth"),
                   body.at("partner"),
                   {},
                   body.value("story", ""),
                   body.value("explanation", ""),
                   {}};
    for (const json& one : body.value("choices", json::array())) {
      task.choices.push_back({one.at(0), one.at(1)});
    }
    for (const json& one : body.at("sounds")) {
      DrillSound sound{one.at("specimen"), one.at("seed"), one.at("turned"), one.at("opposite")};
      sound.is_healthy = one.value("healthy", false);
      sound.seconds = one.value("seconds", 0.0);
      if (const int lobe = one.value("lobe", -1); lobe >= 0) {
        sound.lobe = static_cast<exam::Lobe>(lobe);
      }
      sound.site_id = one.value("site", "");
      sound.site_name = one.value("site_name", "");
      task.sounds.push_back(std::move(sound));
    }
    return task;
  } catch (const json::exception& error) {
    return fail(ErrorCode::kMalformed, std::string("a kept drill item: ") + error.what());
  }
}

Result<SpecimenSound> play(const Office& office, const DrillSound& sound) {
  auto specimen = TRY(office.specimens.find(sound.specimen_id));
  vary(specimen, Seed{sound.seed});
  if (sound.is_healthy) specimen.setup.conditions.clear();
  if (sound.seconds > 0.0) specimen.seconds = sound.seconds;
  if (!sound.site_id.empty()) specimen.site_id = sound.site_id;
  if (sound.lobe) {
    RandomStream random(Seed{sound.seed}, "how solid");
    for (auto& condition : specimen.setup.conditions) {
      condition.lobe = static_cast<int>(*sound.lobe);
      condition.side = exam::side_of(*sound.lobe);
      condition.severity = random.uniform(kMildestLobe, kWorstLobe);
    }
  }
  if (sound.is_turned) {
    for (auto& condition : specimen.setup.conditions) {
      condition.side = other(condition.side);
      condition.lobe = other_lobe(condition.lobe);
    }
  }
  if (sound.is_turned != sound.is_opposite) {
    const auto site = TRY(office.sites.find(specimen.site_id));
    if (!site.mirror_id.empty()) specimen.site_id = site.mirror_id;
  }
  return make_specimen(specimen, Seed{sound.seed}, kRate_hz, office.data);
}

Response sound_response(const Office& office, const DrillTask& task, const std::string& number) {
  const bool is_digit = number.size() == 1 && number[0] >= '0' && number[0] <= '9';
  const std::size_t index =
      is_digit ? static_cast<std::size_t>(number[0] - '0') : task.sounds.size();
  if (index >= task.sounds.size()) refuse(404, "not found", "this item has no such sound");
  const auto made = need(play(office, task.sounds[index]));
  Response response;
  response.content_type = "audio/wav";
  response.body = need(signal::wav_bytes(made.audio, signal::SampleFormat::kPcm16));
  response.headers = {{"Cache-Control", "private, max-age=3600"}};
  return response;
}

}  // namespace phren::app::server
