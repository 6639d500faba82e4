// What happens at a bedside is one thing: drawn patients of every level and limit, random deeds, lived in the
// browser module and natively. Samples, log, stays, what was there to hear and the marks must be the same, bit
// for bit.
#include <gtest/gtest.h>

#include <bit>
#include <cstdio>
#include <cstdlib>
#include <nlohmann/json.hpp>
#include <string>

#include "acoustics/instruments.h"
#include "base/files.h"
#include "bedside/answers.h"
#include "bedside/described.h"
#include "bedside/log_text.h"
#include "bedside/replay.h"
#include "bedside/words.h"
#include "engine/base64.h"
#include "patient/conditions.h"
#include "teaching/draw/draw.h"
#include "teaching/marking/checklist.h"
#include "teaching/marking/mark.h"
#include "teaching/marking/mark_json.h"

namespace phren::bedside {
namespace {

constexpr double kRate_hz = 48000.0;
constexpr std::uint64_t kTestSeed = 20261130;

struct World {
  patient::Conditions conditions =
      patient::Conditions::load(data_directory() / "conditions").value();
  patient::Treatments treatments =
      patient::Treatments::load(data_directory() / "treatments").value();
  acoustics::Instruments instruments =
      acoustics::Instruments::load(data_directory() / "instruments").value();
  exam::SiteMap sites = exam::SiteMap::load(data_directory() / "sites.toml").value();
  teaching::DrawData drawing = teaching::DrawData::load(data_directory(), conditions).value();
  teaching::Checklist checklist =
      teaching::load_checklist(data_directory() / "checklists" / "chest_examination.toml").value();
};
const World& world() {
  static const World w;
  return w;
}

template <class E>
E any(RandomStream& random) {
  return kWords<E>[random.below(static_cast<std::uint32_t>(std::size(kWords<E>)))].first;
}

// Surprises of each level in turn, and patients within limits of every clothing, room and posture.
teaching::Case drawn(std::size_t n, RandomStream& random) {
  teaching::Draw draw;
  draw.seed = Seed{random.bits() >> 12};
  const auto& levels = world().drawing.levels();
  if (n % 2 == 0) {
    draw.level_id = levels[n / 2 % levels.size()].id;
  } else {
    draw.limits.age_from_years = 0.0;
    draw.limits.age_to_years = 100.0;
    draw.limits.most_conditions = 1 + static_cast<int>(random.below(2));
  }
  teaching::Case one = teaching::draw_case(draw, world().drawing, world().conditions).value();
  if (n % 2 == 1) {
    one.clothing = any<Clothing>(random);
    one.room = any<acoustics::Surroundings>(random);
    one.patient.posture = any<patient::Posture>(random);
  }
  return one;
}

exam::TorsoPoint any_point(RandomStream& random) {
  const auto& sites = world().sites.all();
  exam::TorsoPoint at = sites[random.below(static_cast<std::uint32_t>(sites.size()))].at;
  at.u += random.uniform(-0.2, 0.2);
  at.v += random.uniform(-0.2, 0.2);
  return at;
}

Deed any_deed(RandomStream& random) {
  switch (random.below(16)) {
    case 0:
      return Lift{};
    case 1:
      return TurnHead{any<acoustics::Head>(random)};
    case 2:
      return random.chance(0.5) ? Expose{} : Expose{any<exam::Aspect>(random)};
    case 3:
      return Cover{};
    case 4:
      return Instruct{any<patient::Manoeuvre>(random), random.uniform(1.0, 8.0)};
    case 5:
      return SetPosture{any<patient::Posture>(random)};
    case 6:
      return Tap{any_point(random)};
    case 7: {
      const auto& all = world().treatments.all();
      return Treat{all[random.below(static_cast<std::uint32_t>(all.size()))].id,
                   any<exam::Side>(random)};
    }
    case 8: {
      const auto& all = world().treatments.all();
      return StopTreatment{all[random.below(static_cast<std::uint32_t>(all.size()))].id};
    }
    case 9: {
      exam::Finding finding{"wheeze",
                            exam::Presence::kPresent,
                            exam::Basis::kHeard,
                            any<exam::Side>(random),
                            {},
                            {},
                            1.0,
                            ""};
      return Report{finding};
    }
    case 10: {
      const auto& all = world().instruments.all();
      Listen listen{any<acoustics::Realness>(random), "", {}};
      if (random.chance(0.6)) {
        listen.instrument_id = all[random.below(static_cast<std::uint32_t>(all.size()))].id;
      }
      if (random.chance(0.3)) listen.without.emplace_back(word_of(any<acoustics::Layer>(random)));
      return listen;
    }
    default:
      return Place{any_point(random), random.uniform(0.2, 1.0)};
  }
}

struct Encounter {
  teaching::Case prepared;
  Setup setup;
  EncounterLog log;
};

Encounter encounter(std::size_t n, double seconds) {
  RandomStream random(Seed{kTestSeed}, "encounter " + std::to_string(n));
  Encounter one{drawn(n, random), {}, {}};
  one.setup =
      teaching::setup_of(one.prepared, world().conditions, world().treatments, world().instruments)
          .value();
  one.log.header.seed = random.bits() >> 11;
  double t = random.uniform(0.0, 0.3);
  const auto add = [&](Deed deed) {
    one.log.actions.push_back({"a" + std::to_string(one.log.actions.size()),
                               std::floor(t * 1000.0) / 1000.0, std::move(deed)});
  };
  add(Place{any_point(random)});
  while (t < seconds) {
    t += random.uniform(0.05, seconds / 6.0);
    add(any_deed(random));
  }
  add(End{});
  return one;
}

struct Lived {
  std::uint32_t hash = 0x811c9dc5u;
  std::size_t frames = 0;
  std::string heard, mark;
};

// What each item came to, without its reason: that tells times, which a stamp moves by up to a step.
std::string mark_of(const Performance& performance) {
  Json mark = teaching::mark_json(teaching::mark(performance, world().checklist, world().sites));
  for (Json& item : mark["items"]) item.erase("reason");
  return mark.dump();
}

Lived live(const EncounterLog& log, const Setup& setup) {
  Lived out;
  ReplayOptions how;
  how.sample_rate_hz = kRate_hz;
  how.on_sound = [&](double, std::span<const float> sound) {
    for (const float x : sound)
      out.hash = (out.hash ^ std::bit_cast<std::uint32_t>(x)) * 0x01000193u;
    out.frames += sound.size();
  };
  const Performance performance = replay(log, setup, world().sites, how).value();
  out.heard = json_of(debrief_of(performance)).dump();
  out.mark = mark_of(performance);
  return out;
}

// As it reaches a page: plain for practice, under a key of its own for an exam; both live the same.
std::string packed(const Encounter& one) {
  const std::uint64_t seed = one.log.header.seed;
  return seed % 2 == 0 ? pack(one.setup) : pack_keyed(one.setup, seed * 0x9e3779b97f4a7c15ULL);
}

Json in_module(const std::string& player, const std::vector<Encounter>& all) {
  Json file{{"sites", Json::array()}, {"encounters", Json::array()}};
  for (const exam::Site& site : world().sites.all()) {
    file["sites"].push_back({{"id", site.id},
                             {"name", site.name},
                             {"aspect", word_of(site.at.aspect)},
                             {"u", site.at.u},
                             {"v", site.at.v}});
  }
  for (const Encounter& one : all) {
    Json log = Json::array();
    for (const EncounterAction& action : one.log.actions)
      log.push_back(Json::parse(to_line(action)));
    file["encounters"].push_back(
        {{"packet", base64(packed(one))}, {"seed", one.log.header.seed}, {"log", log}});
  }
  const std::string name = std::string(PHREN_TEST_OUT) + "/encounters_" + player + ".json";
  EXPECT_TRUE(write_file(name, file.dump()));
  const std::string command = std::string("node ") + PHREN_TEST_SOURCE + "/" + player +
                              "_engine.mjs " + PHREN_ENGINE_FILE + " " + name;
  FILE* pipe = popen(command.c_str(), "r");
  std::string text;
  char part[4096];
  for (std::size_t n; pipe != nullptr && (n = fread(part, 1, sizeof part, pipe)) > 0;) {
    text.append(part, n);
  }
  EXPECT_EQ(pipe == nullptr ? -1 : pclose(pipe), 0) << command;
  Json out = Json::array();
  for (std::size_t at = 0, end; (end = text.find('\n', at)) != std::string::npos; at = end + 1) {
    out.push_back(Json::parse(text.substr(at, end - at)));
  }
  return out;
}

void compare(const std::string& player, std::size_t from, std::size_t count, double seconds) {
  std::vector<Encounter> all;
  for (std::size_t n = from; n < from + count; ++n) all.push_back(encounter(n, seconds));
  const Json lived = in_module(player, all);
  ASSERT_EQ(lived.size(), count);
  std::size_t frames = 0, places = 0;
  for (std::size_t i = 0; i < count; ++i) {
    SCOPED_TRACE("encounter " + std::to_string(from + i) + " of test seed " +
                 std::to_string(kTestSeed) + ", " + all[i].prepared.id);
    // The log that the module wrote, lived again natively, against the module's own sound and truth.
    EncounterLog log = all[i].log;
    log.actions = read_actions(lived[i]["log"].dump()).value();
    ASSERT_EQ(log.actions.size(), all[i].log.actions.size());
    const Lived native = live(log, all[i].setup);
    EXPECT_EQ(native.hash, lived[i]["hash"].get<std::uint32_t>());
    EXPECT_EQ(native.frames, lived[i]["frames"].get<std::size_t>());
    EXPECT_EQ(native.heard, lived[i]["relived"].get<std::string>());
    // The deeds as they were meant come to the same, for a deed is stamped with the step that felt it.
    EXPECT_EQ(native.mark, live(all[i].log, all[i].setup).mark);
    frames += native.frames;
    places += Json::parse(native.heard)["places"].size();
    if (::testing::Test::HasFailure()) return;
  }
  EXPECT_GT(places, count) << "hardly anything was listened to";
  std::printf("%s: %zu encounters, %zu samples, %zu places\n", player.c_str(), count, frames,
              places);
}

TEST(ReplayBits, ModuleInNodeEqualsNative) {
  compare("node", 0, 24, 4.0);
}
TEST(ReplayBitsSoak, ModuleInNodeEqualsNativeFor300Patients) {
  compare("node", 0, 300, 8.0);
}

#ifdef PHREN_WITH_BROWSER
TEST(ReplayBitsSlow, ModuleInChromiumEqualsNativeFor30Patients) {
  compare("browser", 1000, 30, 4.0);
}
#endif

// The comparison sees what version 0.1 did not: a shirt of another thickness is another sound.
TEST(ReplayBits, OtherClothingIsNoticed) {
  std::size_t n = 0;
  Encounter one = encounter(n, 4.0);
  one.setup.around.clothing = Clothing::kShirt;
  one.log.actions = {{"a0", 0.1, Place{world().sites.all().front().at}}, {"a1", 3.0, End{}}};
  const Json lived = in_module("node", {one});
  ASSERT_EQ(lived.size(), 1u);
  EXPECT_EQ(live(one.log, one.setup).hash, lived[0]["hash"].get<std::uint32_t>());
  one.setup.around.clothing = Clothing::kJacket;
  EXPECT_NE(live(one.log, one.setup).hash, lived[0]["hash"].get<std::uint32_t>());
  one.setup.around.clothing = Clothing::kBare;
  EXPECT_NE(live(one.log, one.setup).hash, lived[0]["hash"].get<std::uint32_t>());
}

}  // namespace
}  // namespace phren::bedside
