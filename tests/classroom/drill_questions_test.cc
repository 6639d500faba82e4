// Questions of the drill read again by other eyes: from the truth events and samples of the very sounds that are
// played, without the code that made the key.
#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <map>
#include <set>

#include "app/server/api/drill_view.h"
#include "base/files.h"
#include "base/json_fields.h"
#include "exam/names.h"
#include "opened_files.h"
#include "records/drills.h"
#include "room.h"
#include "teaching/drill/kinds/parts.h"

namespace phren::app::server {
namespace {

using exam::Phase;
using exam::Sound;
using teaching::DrillKind;
using teaching::DrillQuestion;
using teaching::DrillSound;

const Office& office() {
  static const auto opened = Office::open(data_directory(), {}).value();
  return *opened;
}
const teaching::DrillBook& book() {
  return office().book;
}

std::shared_ptr<const SpecimenSound> play(const DrillSound& sound) {
  return office().player->play(sound).value();
}

double rms_dB(const signal::Audio& audio) {
  double sum = 0.0;
  for (const float x : audio.samples) sum += static_cast<double>(x) * static_cast<double>(x);
  return 10.0 * std::log10(sum / static_cast<double>(audio.samples.size()) + 1e-20);
}

// ---- the other reading ----

struct Seen {
  int count = 0;
  double seconds = 0.0;
};
using ByPhase = std::array<Seen, 2>;  // in, out
// Added sounds whose boxes stand in the picture as audible.
std::map<Sound, ByPhase> boxes(const SpecimenSound& made) {
  static const std::set<Sound> kNotAdded{Sound::kNormal, Sound::kBronchial, Sound::kTracheal,
                                         Sound::kHeart,  Sound::kVoice,     Sound::kCough};
  std::map<Sound, ByPhase> out;
  for (const auto& event : made.truth) {
    if (!event.audible || kNotAdded.contains(event.sound)) continue;
    Seen& seen = out[event.sound][event.phase == Phase::kInspiration ? 0 : 1];
    ++seen.count;
    seen.seconds += event.end_s - event.start_s;
  }
  return out;
}
bool is_click(Sound sound) {
  return sound == Sound::kFineCrackle || sound == Sound::kCoarseCrackle;
}
// Enough for a name: two clicks, or 100 ms of a tone (CORSA 2000, from memory).
bool is_plain(Sound sound, const ByPhase& by) {
  return is_click(sound) ? by[0].count + by[1].count >= 2 : by[0].seconds + by[1].seconds >= 0.1;
}
std::set<std::string> plain_sounds(const SpecimenSound& made) {
  std::set<std::string> names;
  for (const auto& [sound, by] : boxes(made)) {
    if (is_plain(sound, by)) names.emplace(exam::to_string(sound));
  }
  return names;
}
bool is_bronchial(const SpecimenSound& made) {
  return std::any_of(made.truth.begin(), made.truth.end(),
                     [](const auto& event) { return event.sound == Sound::kBronchial; });
}
// The same body and place without illness.
DrillSound in_health(DrillSound sound) {
  sound.is_healthy = true;
  return sound;
}
double below_health_dB(const DrillSound& sound) {
  return rms_dB(play(in_health(sound))->audio) - rms_dB(play(sound)->audio);
}

void read_name(const DrillQuestion& q) {
  const auto made = play(q.sounds[0]);
  const auto added = plain_sounds(*made);
  std::set<std::string> right{q.truth};
  right.insert(q.accepted.begin(), q.accepted.end());
  for (const std::string& name : added) {
    if (q.choice(name) != nullptr) {
      EXPECT_TRUE(right.contains(name)) << name << " can be heard";
    }
  }
  const double below_dB = below_health_dB(q.sounds[0]);
  for (const std::string& name : right) {
    SCOPED_TRACE(name);
    if (name == "normal") {
      EXPECT_TRUE(added.empty());
      EXPECT_LT(below_dB, 10.0);
    } else if (name == "diminished") {
      EXPECT_GT(below_dB, 6.0);
    } else if (name == "absent") {
      EXPECT_GT(below_dB, 12.0);
    } else if (name == "bronchial") {
      EXPECT_TRUE(is_bronchial(*made));
    } else {
      EXPECT_TRUE(added.contains(name));
    }
  }
}

void read_phase(const DrillQuestion& q) {
  const auto by_sound = boxes(*play(q.sounds[0]));
  const auto found = std::find_if(by_sound.begin(), by_sound.end(), [&](const auto& one) {
    return exam::to_string(one.first) == q.skill;
  });
  ASSERT_NE(found, by_sound.end()) << "the sound that is asked about is not in the picture";
  const auto& [in, out] = found->second;
  if (q.truth == "both") {
    EXPECT_GT(in.count, 0);
    EXPECT_GT(out.count, 0);
    return;
  }
  const Seen& there = q.truth == "inspiration" ? in : out;
  const Seen& other = q.truth == "inspiration" ? out : in;
  EXPECT_GT(there.count, 0);
  EXPECT_GE(there.seconds, other.seconds);
  if (other.count > 0) {
    EXPECT_TRUE(q.accepts("both")) << "boxes stand in both phases";
  }
}

// How far a side is from the same body in health: softer, or with sounds that were not there. A louder
// side is no ill one: a good lung that breathes for both is louder than in health.
double change_dB(const DrillSound& sound) {
  const auto made = play(sound);
  const std::size_t new_sounds = plain_sounds(*made).size() + (is_bronchial(*made) ? 1 : 0);
  return std::max(0.0, below_health_dB(sound)) + 10.0 * static_cast<double>(new_sounds);
}
void read_side(const DrillQuestion& q) {
  const double right_dB = change_dB(q.sounds[0]), left_dB = change_dB(q.sounds[1]);
  EXPECT_EQ(q.truth, right_dB > left_dB ? "right" : "left")
      << "right " << right_dB << ", left " << left_dB;
}

void read_same(const DrillQuestion& q) {
  std::array<std::string, 2> skill;
  for (std::size_t i = 0; i < 2; ++i) {
    for (const auto& one : office().library->skills) {
      const auto& list = one.specimens;
      if (!one.lobe && std::find(list.begin(), list.end(), q.sounds[i].specimen_id) != list.end()) {
        skill[i] = one.id;
      }
    }
    const auto added = plain_sounds(*play(q.sounds[i]));
    const bool is_added =
        exam::parse_sound(skill[i]).has_value() && skill[i] != "normal" && skill[i] != "bronchial";
    if (is_added) {
      EXPECT_TRUE(added.contains(skill[i])) << skill[i];
    }
    if (skill[i] == "bronchial") {
      EXPECT_FALSE(added.contains(q.partner)) << "the look-alike can be heard in it";
    } else if (!is_added) {
      EXPECT_TRUE(added.empty()) << skill[i];
    }
  }
  EXPECT_EQ(q.truth, skill[0] == skill[1] ? "same" : "different");
}

void read_lobe(const DrillQuestion& q) {
  std::array<double, exam::kNumLobes> by_lobe_s{};
  for (const DrillSound& sound : q.sounds) {
    for (const auto& event : play(sound)->truth) {
      const auto region = static_cast<std::size_t>(event.region);
      const bool is_changed = is_click(event.sound) || event.sound == Sound::kBronchial;
      if (!event.audible || !is_changed || region >= exam::kNumLobes) continue;
      by_lobe_s[region] += event.end_s - event.start_s;
    }
  }
  const auto most = std::max_element(by_lobe_s.begin(), by_lobe_s.end()) - by_lobe_s.begin();
  const auto* skill = office().library->skill(q.truth);
  EXPECT_EQ(most, static_cast<std::ptrdiff_t>(*skill->lobe));
}

void read_meaning(const DrillQuestion& q) {
  const auto* skill = office().library->skill(q.skill);
  const auto added = plain_sounds(*play(q.sounds[0]));
  if (exam::parse_sound(skill->id).has_value() && skill->id != "normal" &&
      skill->id != "bronchial") {
    EXPECT_TRUE(added.contains(skill->id));
  }
  EXPECT_FALSE(q.explanation.empty());
}

void read(const DrillQuestion& q) {
  ASSERT_NE(q.choice(q.truth), nullptr);
  for (const std::string& also : q.accepted) {
    EXPECT_NE(q.choice(also), nullptr);
    EXPECT_NE(also, q.truth);
  }
  EXPECT_LT(q.accepted.size() + 1, q.choices.size()) << "no answer would be wrong";
  if (q.kind == "name") read_name(q);
  if (q.kind == "phase") read_phase(q);
  if (q.kind == "side") read_side(q);
  if (q.kind == "same") read_same(q);
  if (q.kind == "lobe") read_lobe(q);
  if (q.kind == "weigh" || q.kind == "threat") read_meaning(q);
  // Neither length nor size of file tells anything.
  std::set<std::size_t> sizes;
  for (std::size_t i = 0; i < q.sounds.size(); ++i) {
    sizes.insert(sound_response(office(), q.sounds, std::to_string(i)).body.size());
  }
  EXPECT_EQ(sizes.size(), 1u);
  EXPECT_EQ(*sizes.begin(), 44u + 2u * 16000u * 12u);
}

void read_many(int count, std::uint64_t seed) {
  std::printf("seed %llu\n", static_cast<unsigned long long>(seed));
  RandomStream random(Seed{seed}, "questions");
  std::map<std::string, int> made, unclear;
  const auto kinds = teaching::drill_kinds();
  for (int i = 0; i < count; ++i) {
    const DrillKind& kind = *kinds[static_cast<std::size_t>(i) % kinds.size()];
    const auto skills = teaching::skills_of(book(), kind);
    const auto skill = skills[random.bits() % skills.size()];
    const Seed own{random.bits()};
    const auto question = kind.make(book(), {skill, random.bits() % 100, own, {}});
    const std::string id(kind.id());
    if (!question) {
      EXPECT_EQ(question.error().code, ErrorCode::kUnsupported);
      std::printf("FIGURE unclear %s: %s\n", id.c_str(), question.error().message.c_str());
      ++unclear[id];
      continue;
    }
    SCOPED_TRACE(id + " " + question->skill + " seed " + std::to_string(own.value));
    ++made[id];
    // As it is kept, so is it read.
    read(read_record_text<DrillQuestion>(json_of(*question).dump(), "q").value());
    if (testing::Test::HasFatalFailure()) return;
  }
  for (const auto& [id, n] : made)
    std::printf("FIGURE %s: %d made, %d unclear\n", id.c_str(), n, unclear[id]);
  for (const DrillKind* kind : kinds) EXPECT_GT(made[std::string(kind->id())], 0);
}

TEST(DrillQuestionsSlow, KeysAgreeWithAnotherReading) {
  read_many(70, 20);
}
TEST(DrillQuestionsSoak, FiveThousandKeysAgreeWithAnotherReading) {
  read_many(5000, 21);
}

// ---- what is sent before the answer ----

// Sounds as clear as can be, made of nothing: what is sent does not hang on the samples.
class SilentSounds : public teaching::DrillSounds {
 public:
  std::vector<std::string> specimen_ids() const override { return office().player->specimen_ids(); }
  Result<teaching::SpecimenFacts> facts(std::string_view id) const override {
    return office().player->facts(id);
  }
  Result<teaching::Listened> listen(const DrillSound& sound) const override {
    const auto facts = TRY(office().player->facts(sound.specimen_id));
    teaching::Listened out;
    out.heard.loudness = bedside::Loudness::kNormal;
    out.heard.is_breath_audible = true;
    const bool is_ill = !sound.is_healthy && !sound.is_opposite;
    if (is_ill && facts.sound == Sound::kBronchial) out.heard.breath = *facts.sound;
    if (is_ill && facts.sound && *facts.sound != Sound::kNormal &&
        *facts.sound != Sound::kBronchial) {
      bedside::AddedSound added;
      added.sound = *facts.sound;
      added.in.audible = 10;
      added.in.audible_s = 1.0;
      out.heard.added.push_back(added);
    }
    if (is_ill && !facts.sound) {
      out.heard.loudness = sound.specimen_id == "absent" ? bedside::Loudness::kAbsent
                                                         : bedside::Loudness::kDiminished;
    }
    return out;
  }
};

// Row by row the best guess from all that is sent, learned from the very answers: a bound from above.
TEST(DrillSecrets, SideAndSamenessCannotBeGuessedFromWhatIsSent) {
  const teaching::DrillBook silent{office().library, std::make_shared<const SilentSounds>()};
  for (const char* id : {"side", "same"}) {
    SCOPED_TRACE(id);
    const DrillKind& kind = *teaching::find_drill_kind(id);
    const auto skills = teaching::skills_of(silent, kind);
    std::map<std::string, std::map<std::string, int>> by_sent;
    RandomStream random(Seed{5}, id);
    int asked = 0;
    for (; asked < 400; ++asked) {
      const auto q = kind.make(silent, {skills[random.bits() % skills.size()],
                                        static_cast<std::size_t>(asked),
                                        Seed{random.bits()},
                                        {}});
      ASSERT_TRUE(q) << q.error().message;
      const auto sent = question_json(*q, "/api/v1/drill/items/x/sounds");
      ++by_sent[sent.dump()][q->truth];
      const std::set<std::string> kKeys{"mode",         "question",     "sounds",
                                        "sound_labels", "has_one_gain", "choices"};
      for (const auto& [key, value] : sent.items()) EXPECT_TRUE(kKeys.contains(key)) << key;
    }
    int guessed = 0;
    for (const auto& [sent, answers] : by_sent) {
      int most = 0;
      for (const auto& [truth, n] : answers) most = std::max(most, n);
      guessed += most;
    }
    std::printf("FIGURE %s: %d of %d guessed from what is sent, %zu different texts\n", id, guessed,
                asked, by_sent.size());
    EXPECT_LE(by_sent.size(), 4u);
    EXPECT_LE(guessed, asked * 6 / 10);
  }
}

// How often one of the last two hundred is guessed by the rule that the first two hundred teach: for each feature,
// the truth that went with each of its values. The best feature's share.
int best_of_last_200(const std::vector<std::vector<std::string>>& features,
                     const std::vector<std::string>& truths) {
  std::size_t chosen = 0;
  int best = -1, last = 0;
  for (std::size_t f = 0; f < features[0].size(); ++f) {
    std::map<std::string, std::map<std::string, int>> counts;
    for (std::size_t i = 0; i < 200; ++i) ++counts[features[i][f]][truths[i]];
    const auto guess = [&](std::size_t i) {
      const auto found = counts.find(features[i][f]);
      if (found == counts.end()) return truths[0];
      return std::max_element(found->second.begin(), found->second.end(),
                              [](const auto& a, const auto& b) { return a.second < b.second; })
          ->first;
    };
    int learned = 0, right = 0;
    for (std::size_t i = 0; i < 400; ++i) (i < 200 ? learned : right) += guess(i) == truths[i];
    if (learned <= best) continue;
    best = learned;
    last = right;
    chosen = f;
  }
  std::printf("FIGURE best of %zu features: number %zu, %d of 200\n", features[0].size(), chosen,
              last);
  return last;
}

// What else is sent with a question: its id digit by digit, its headers, its length, and the questions before it.
TEST(DrillSecrets, NorByAnItemsIdItsHeadersItsLengthOrTheOnesBefore) {
  const auto folder = records::temporary_folder();
  {
    Room room("sqlite:" + (folder / "d.db").string(), false, [](Office& opened) {
      opened.book = {opened.library, std::make_shared<const SilentSounds>()};
    });
    room.add_person("ingrid", records::Role::kInstructor);
    Browser ingrid(room, "10.0.0.1");
    ingrid.log_in("ingrid");
    const std::string person = ingrid.get_json("session")["person"]["id"];
    for (const char* mode : {"side", "same"}) {
      std::vector<std::vector<std::string>> features;
      std::vector<std::string> truths;
      for (int asked = 0; asked < 400; ++asked) {
        room.now_ms += 1000 + 37 * asked;
        const Response sent = ingrid.post("drill/next", {{"mode", mode}});
        ASSERT_EQ(sent.status, 200) << sent.bytes();
        const std::string id = json::parse(sent.bytes())["item_id"];
        std::vector<std::string> row{std::to_string(sent.bytes().size())};
        for (const Header& header : sent.headers) row.push_back(header.name + header.value);
        for (const char digit : id) row.emplace_back(1, digit);
        std::string before;
        for (std::size_t back = 1; back <= 3 && back <= truths.size(); ++back) {
          before += truths[truths.size() - back] + " ";
        }
        row.push_back(before);
        features.push_back(std::move(row));
        const auto item = records::Drills(room.db()).item(id, person).value();
        truths.push_back(read_record_text<DrillQuestion>(item.detail, "q").value().truth);
      }
      const int right = best_of_last_200(features, truths);
      std::printf("FIGURE %s: %d of 200\n", mode, right);
      EXPECT_LE(right, 120) << mode;
    }
  }
  std::filesystem::remove_all(folder);
}

// ---- levels ----

bool is_quiet(const std::string& skill_id) {
  return skill_id == "diminished" || skill_id == "absent";
}

TEST(DrillLevels, LoudnessIsLeftWhereItIsTheAnswerAndTakenOutElsewhere) {
  const teaching::DrillBook silent{office().library, std::make_shared<const SilentSounds>()};
  for (const DrillKind* kind : teaching::drill_kinds()) {
    for (const std::size_t i : teaching::skills_of(silent, *kind)) {
      const auto& skill = office().library->skills[i];
      SCOPED_TRACE(std::string(kind->id()) + " " + skill.id);
      for (std::uint64_t seed = 1; seed <= 8; ++seed) {
        const auto q = kind->make(silent, {i, 0, Seed{seed}, {}});
        ASSERT_TRUE(q) << q.error().message;
        EXPECT_EQ(kind->sound_labels(*q).size(), q->sounds.size());
        if (kind->id() == "phase") {
          EXPECT_FALSE(q->has_one_gain);
        } else if (kind->id() == "same") {
          EXPECT_EQ(q->has_one_gain, is_quiet(skill.id) || is_quiet(q->partner));
        } else {
          EXPECT_TRUE(q->has_one_gain);
        }
      }
    }
  }
}

// After a wrong answer of each kind there is something to hear beside what was right.
TEST(DrillNamed, AWrongAnswerCanBeHeard) {
  std::set<std::string> tried;
  const teaching::DrillBook silent{office().library, std::make_shared<const SilentSounds>()};
  for (const DrillKind* kind : teaching::drill_kinds()) {
    int wrong = 0, heard = 0;
    for (const std::size_t i : teaching::skills_of(silent, *kind)) {
      const auto q = kind->make(silent, {i, 0, Seed{3}, {}}).value();
      for (const auto& choice : q.choices) {
        if (q.accepts(choice.id)) continue;
        ++wrong;
        const auto named = kind->named(silent, q, choice.id);
        heard += named.empty() ? 0 : 1;
        for (const auto& sound : named) {
          EXPECT_EQ(sound.seconds, teaching::kDrillSound_s);
          // Each condition that stands in for a specimen is one that a body can have.
          if (!sound.condition_id.empty() && tried.insert(sound.condition_id).second) {
            const auto made = office().player->play(sound);
            EXPECT_TRUE(made) << choice.id << ": " << made.error().message;
          }
        }
      }
    }
    std::printf("FIGURE %s: %d of %d wrong answers can be heard\n", std::string(kind->id()).c_str(),
                heard, wrong);
    EXPECT_EQ(heard, wrong);
  }
}

TEST(DrillPlayer, ASoundReadsNoFile) {
  const OwnData data;
  const auto own = Office::open(data_directory(), {}).value();
  OpenedFiles opened(data.folder());
  DrillSound sound;
  sound.specimen_id = "wheeze";
  sound.seed = 77;
  sound.seconds = 2.0;
  ASSERT_TRUE(own->player->play(sound));
  for (const auto& [file, count] : opened.counts()) ADD_FAILURE() << file << " " << count;
}

}  // namespace
}  // namespace phren::app::server
