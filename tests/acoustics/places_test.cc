// Where and through what: sites, builds, clothes, bell, room, pathology of the way.
#include <gtest/gtest.h>

#include "acoustics/measures.h"
#include "acoustics/paths.h"
#include "base/files.h"
#include "exam/sites.h"

namespace phren::acoustics {
namespace {

using namespace testing;
using exam::Aspect;
using exam::Phase;
using exam::Sound;
using exam::TorsoPoint;

constexpr double kRate_hz = 48000.0;

double level_db(Chestpiece piece, const SyntheticBreath& breath, double low_hz = 100.0,
                double high_hz = 1000.0) {
  const Rendered sound = render(piece, breath, 0.0, 8.0, kRate_hz);
  return spectrum_of(phase_part(sound, breath, Phase::kInspiration), kRate_hz)
      .level_db(low_hz, high_hz);
}

SyntheticBreath steady(double flow_L_per_s = 0.8) {
  SyntheticBreath breath;
  breath.peak_in_L_per_s = breath.peak_out_L_per_s = flow_L_per_s;
  breath.square = true;
  return breath;
}

// data/sites.toml says which lobe lies under each site; geometry must agree.
TEST(Torso, TheLobeHeardMostIsTheSitesOwn) {
  const auto map = exam::SiteMap::load(data_directory() / "sites.toml");
  ASSERT_TRUE(map);
  const Torso torso(adult());
  std::size_t agree = 0;
  for (const exam::Site& site : map->all()) {
    if (site.airway_weight > 0.5) continue;
    const Hearing h = hear(torso, adult(), torso.skin(torso.place(site.at)), {});
    std::array<double, exam::kNumLobes> heard{};
    double sum = 0.0;
    for (std::size_t i = 0; i < kNumPoints; ++i) {
      heard[static_cast<std::size_t>(torso.points()[i].lobe)] += h.point_gain[i];
      sum += h.point_gain[i];
    }
    const auto best = [](const std::array<double, exam::kNumLobes>& x) {
      return std::max_element(x.begin(), x.end()) - x.begin();
    };
    const auto own = best(site.lobe_weight);
    agree += best(heard) == own ? 1 : 0;
    EXPECT_GT(heard[static_cast<std::size_t>(own)] / sum, 0.3) << site.id;
  }
  EXPECT_GE(agree, map->all().size() - 4);  // sites over a fissure may go either way
}

TEST(Torso, EveryPointOfEveryAspectLiesOnTheBody) {
  const Torso torso(adult());
  for (const Aspect aspect :
       {Aspect::kFront, Aspect::kBack, Aspect::kRightSide, Aspect::kLeftSide, Aspect::kNeck}) {
    for (double u = -1.5; u <= 1.5; u += 0.25) {
      for (double v = -1.5; v <= 1.5; v += 0.25) {
        const SkinPoint p = torso.skin(torso.place({aspect, u, v}));
        EXPECT_LE(std::abs(p.at.x), 14.5);
        EXPECT_LE(std::abs(p.at.y), 14.0);
        EXPECT_GT(p.wall_cm, 0.3);
      }
    }
  }
}

TEST(Build, LevelFallsWithTheWall) {
  double last = 100.0;
  for (const double wall_cm : {1.0, 2.0, 3.0, 4.0, 5.0, 6.0}) {
    patient::Person person = adult();
    person.wall_front_cm = person.wall_side_cm = person.wall_back_cm = wall_cm;
    const double level = level_db(make_piece(kLeftBase, person), steady());
    std::printf("[ FIGURE   ] wall %.0f cm: %.1f dB\n", wall_cm, level);
    EXPECT_LT(level, last - 0.8);
    last = level;
  }
}

TEST(Build, SoundCrossesToTheOtherSideMoreInAnInfant) {
  SyntheticBreath left_only = steady();
  left_only.change = [](patient::Snapshot& s) {
    for (std::size_t l = 0; l < 3; ++l) s.lobe[l].flow_L_per_s = 0.0;
    s.trachea_flow_L_per_s = 0.0;
  };
  const auto isolation = [&](const patient::Person& person, double flow) {
    SyntheticBreath breath = left_only;
    breath.peak_in_L_per_s = flow;
    return level_db(make_piece(kLeftBase, person), breath) -
           level_db(make_piece(kRightBase, person), breath);
  };
  const double grown = isolation(adult(), 0.8), born = isolation(newborn(), 0.06);
  std::printf("[ FIGURE   ] isolation of the other side: adult %.1f dB, newborn %.1f dB\n", grown,
              born);
  EXPECT_GT(grown, 18.0);
  EXPECT_LT(born, grown - 6.0);
}

TEST(Contact, ClothIsAudiblyWorse) {
  Chestpiece clothed = make_piece(kLeftBase);
  clothed.set_clothing(0.6);
  EXPECT_LT(level_db(std::move(clothed), steady(), 200.0, 800.0),
            level_db(make_piece(kLeftBase), steady(), 200.0, 800.0) - 6.0);
}

TEST(Contact, BellFavoursLowsAndDiaphragmHighs) {
  const auto tilt = [](Head head) {
    Chestpiece piece = make_piece(kLeftBase);
    piece.set_head(head);
    const Rendered sound = render(piece, steady(), 0.0, 8.0, kRate_hz);
    const Spectrum s = spectrum_of(phase_part(sound, steady(), Phase::kInspiration), kRate_hz);
    return s.level_db(40.0, 112.0) - s.level_db(300.0, 800.0);
  };
  EXPECT_GT(tilt(Head::kBell), tilt(Head::kDiaphragm) + 8.0);
}

TEST(Contact, AMovingCabinHidesQuietBreathing) {
  Chestpiece quiet = make_piece(kLeftBase), cabin = make_piece(kLeftBase),
             flight = make_piece(kLeftBase);
  cabin.set_surroundings(Surroundings::kCabin);
  flight.set_surroundings(Surroundings::kHelicopter);
  const SyntheticBreath breath = steady(0.4);
  for (Chestpiece* piece : {&quiet, &cabin, &flight}) render(*piece, breath, 0.0, 1.0, kRate_hz);
  EXPECT_TRUE(quiet.audibility().breath_is_audible);
  EXPECT_LT(cabin.audibility().normal_breath_db, quiet.audibility().normal_breath_db - 15.0);
  EXPECT_FALSE(flight.audibility().breath_is_audible);
}

TEST(Contact, LiftedHearsOnlyTheRoom) {
  Chestpiece piece = make_piece(kLeftBase);
  render(piece, steady(), 0.0, 0.5, kRate_hz);
  piece.lift();
  render(piece, steady(), 0.5, 0.5, kRate_hz);
  const Rendered after = render(piece, steady(), 1.0, 0.5, kRate_hz);
  EXPECT_LT(signal::dbfs_from_rms(signal::rms(after.samples)), -48.0);
}

TEST(Consolidation, SoundsBronchialAndCarriesTheVoice) {
  SyntheticBreath solid = steady();
  solid.change = [](patient::Snapshot& s) { s.lobe[2].consolidation = 0.9; };
  Chestpiece over = make_piece(kRightBase), other = make_piece(kLeftBase);
  const Rendered a = render(over, solid, 0.0, 8.0, kRate_hz);
  const Rendered b = render(other, solid, 0.0, 8.0, kRate_hz);
  EXPECT_GT(count(a.events, Sound::kBronchial), 2u);
  EXPECT_EQ(count(b.events, Sound::kBronchial), 0u);
  // The long "ee": energy where "ay" has it, 500-1200 Hz, against the lows.
  const auto brightness = [](bool is_solid) {
    SyntheticBreath saying = steady(0.2);
    saying.change = [=](patient::Snapshot& s) {
      if (is_solid) s.lobe[2].consolidation = 0.9;
      s.voice = patient::Voice::kVowel;
    };
    Chestpiece piece = make_piece(kRightBase);
    const Rendered sound = render(piece, saying, 0.0, 6.0, kRate_hz);
    EXPECT_GE(count(sound.events, Sound::kVoice), 1u);
    const Spectrum s = spectrum_of(phase_part(sound, saying, Phase::kExpiration), kRate_hz);
    return s.level_db(500.0, 2500.0) - s.level_db(90.0, 300.0);
  };
  EXPECT_GT(brightness(true), brightness(false) + 10.0);
}

TEST(Percussion, TellsGasFromSolidFromFluid) {
  const auto note_of = [](const std::function<void(patient::Snapshot&)>& change) {
    SyntheticBreath breath = steady(0.3);
    breath.change = change;
    Chestpiece piece = make_piece(kLeftBase);
    render(piece, breath, 0.0, 0.1, kRate_hz);
    return piece.percuss(kRightBase);
  };
  EXPECT_EQ(note_of({}), patient::Percussion::kResonant);
  EXPECT_EQ(note_of([](patient::Snapshot& s) { s.lobe[2].consolidation = 0.9; }),
            patient::Percussion::kDull);
  EXPECT_EQ(note_of([](patient::Snapshot& s) { s.pleura[0].fluid_L = 1.2; }),
            patient::Percussion::kStonyDull);
  EXPECT_EQ(note_of([](patient::Snapshot& s) { s.pleura[0].gas_L = 1.5; }),
            patient::Percussion::kHyperresonant);
}

TEST(BodySounds, HeartIsLoudestOverItAndFollowsTheRate) {
  SyntheticBreath breath = steady(0.1);
  breath.change = [](patient::Snapshot& s) { s.heart.loudness = 1.0; };
  Chestpiece apex = make_piece({Aspect::kFront, 0.5, 1.0}), base = make_piece(kRightBase);
  const Rendered a = render(apex, breath, 0.0, 8.0, kRate_hz);
  const Rendered b = render(base, breath, 0.0, 8.0, kRate_hz);
  EXPECT_NEAR(static_cast<double>(count(a.events, Sound::kHeart)), 10.0, 1.0);  // 75 per minute
  EXPECT_GT(spectrum_of(a.samples, kRate_hz).level_db(25.0, 120.0),
            spectrum_of(b.samples, kRate_hz).level_db(25.0, 120.0) + 10.0);
}

TEST(BodySounds, RubIsOnItsSideInBothPhases) {
  SyntheticBreath breath;
  breath.change = [](patient::Snapshot& s) { s.pleura[1].friction = 0.8; };
  Chestpiece left = make_piece({Aspect::kLeftSide, 0.0, 1.1}),
             right = make_piece({Aspect::kRightSide, 0.0, 1.1});
  const auto heard = render(left, breath, 0.0, 8.0, kRate_hz).events;
  std::size_t in = 0, out = 0;
  for (const TruthEvent& e : heard) {
    if (e.sound != Sound::kPleuralFrictionRub || !e.audible) continue;
    (e.phase == Phase::kInspiration ? in : out) += 1;
  }
  EXPECT_GE(in, 2u);
  EXPECT_GE(out, 2u);
  EXPECT_EQ(count(render(right, breath, 0.0, 8.0, kRate_hz).events, Sound::kPleuralFrictionRub),
            0u);
}

TEST(BodySounds, GurglingAndGruntingComeFromTheThroat) {
  SyntheticBreath breath;
  breath.change = [](patient::Snapshot& s) {
    s.upper_airway.secretions = 0.8;
    s.upper_airway.grunting = 0.8;
  };
  Chestpiece neck = make_piece(kTrachea);
  const auto heard = render(neck, breath, 0.0, 8.0, kRate_hz).events;
  EXPECT_GE(count(heard, Sound::kGurgling), 2u);
  EXPECT_GE(count(heard, Sound::kGrunting), 2u);
  for (const TruthEvent& e : heard) {
    EXPECT_TRUE(e.sound != Sound::kGrunting || e.phase == Phase::kExpiration);
  }
}

}  // namespace
}  // namespace phren::acoustics
