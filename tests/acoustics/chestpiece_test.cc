#include "acoustics/chestpiece.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "acoustics/measures.h"

namespace phren::acoustics {
namespace {

using namespace testing;
using exam::Phase;
using exam::Sound;

constexpr double kRate_hz = 48000.0;

double inspiration_db(const exam::TorsoPoint& at, const SyntheticBreath& breath,
                      const patient::Person& person = adult()) {
  Chestpiece piece = make_piece(at, person);
  const Rendered sound = render(piece, breath, 0.0, 8.0, kRate_hz);
  const auto part = phase_part(sound, breath, Phase::kInspiration);
  return spectrum_of(part, kRate_hz).level_db(100.0, 1000.0);
}

TEST(Chestpiece, RejectsASampleRateOutOfRange) {
  const auto piece = Chestpiece::make({1000.0, adult(), Seed{1}});
  ASSERT_FALSE(piece.has_value());
  EXPECT_THAT(piece.error().message, ::testing::HasSubstr("sample_rate_hz is 1000"));
  EXPECT_THAT(piece.error().message, ::testing::HasSubstr("between 4000 and 192000"));
}

TEST(Chestpiece, RejectsAPersonWhoseWallIsNotANumber) {
  patient::Person person = adult();
  person.wall_back_cm = std::nan("");
  const auto piece = Chestpiece::make({48000.0, person, Seed{1}});
  ASSERT_FALSE(piece.has_value());
  EXPECT_THAT(piece.error().message, ::testing::HasSubstr("person.wall_back_cm"));
}

TEST(Chestpiece, AnAdultAtOneLitrePerSecondSoundsAtMinusThirtyAtTheBackBase) {
  SyntheticBreath breath{.peak_in_L_per_s = 1.0, .peak_out_L_per_s = 1.0, .square = true};
  double power = 0.0;
  for (const auto& at : {kRightBase, kLeftBase}) {
    Chestpiece piece = make_piece(at);
    const Rendered sound = render(piece, breath, 0.0, 12.0, kRate_hz);
    const auto part = phase_part(sound, breath, Phase::kInspiration);
    power += 0.5 * spectrum_of(part, kRate_hz).band_power(60.0, 2000.0);
  }
  constexpr double kTolerance_db = 1.0;  // noise of a short piece
  EXPECT_NEAR(10.0 * std::log10(power), -30.0, kTolerance_db);
}

TEST(Chestpiece, HealthyMirroredSitesAreWithinFourDecibels) {
  const SyntheticBreath breath;
  for (const auto& at : {kRightBase, kRightUpperFront, kRightUpperBack,
                         exam::TorsoPoint{exam::Aspect::kFront, -0.6, 0.95}}) {
    exam::TorsoPoint mirror = at;
    mirror.u = -mirror.u;
    SCOPED_TRACE(::testing::Message() << "u " << at.u << " v " << at.v);
    EXPECT_NEAR(inspiration_db(at, breath), inspiration_db(mirror, breath), 4.0);
  }
}

TEST(Chestpiece, RightPneumothoraxIsTenDecibelsBelowTheLeft) {
  SyntheticBreath breath;
  breath.change = [](patient::Snapshot& s) {
    s.pleura[0].gas_L = 1.5;
    for (std::size_t l = 0; l < 3; ++l) s.lobe[l].flow_L_per_s *= 0.3;
  };
  for (const auto& at : {kRightBase, kRightUpperFront, kRightUpperBack}) {
    exam::TorsoPoint mirror = at;
    mirror.u = -mirror.u;
    EXPECT_LT(inspiration_db(at, breath), inspiration_db(mirror, breath) - 10.0);
  }
}

TEST(Chestpiece, SameSeedGivesTheSameSamplesAndAnotherSeedOthers) {
  const SyntheticBreath breath;
  Chestpiece a = make_piece(kLeftBase), b = make_piece(kLeftBase),
             c = make_piece(kLeftBase, adult(), 8);
  const auto x = render(a, breath, 0.0, 1.0, kRate_hz).samples;
  EXPECT_EQ(x, render(b, breath, 0.0, 1.0, kRate_hz).samples);
  EXPECT_NE(x, render(c, breath, 0.0, 1.0, kRate_hz).samples);
}

TEST(Chestpiece, BreathHoldingIsNearlySilent) {
  SyntheticBreath breath{.peak_in_L_per_s = 0.0, .peak_out_L_per_s = 0.0};
  Chestpiece piece = make_piece(kLeftBase);
  const auto sound = render(piece, breath, 0.0, 2.0, kRate_hz);
  EXPECT_LT(signal::dbfs_from_rms(signal::rms(sound.samples)), -65.0);
  EXPECT_EQ(count(sound.events, Sound::kNormal), 0u);
}

// Expiratory flow limitation in every lobe after the first tenth of the breath.
SyntheticBreath wheezing(double speed_m_per_s, double gap_mm, double flow_L_per_s = 0.4) {
  SyntheticBreath breath{.peak_in_L_per_s = 0.5, .peak_out_L_per_s = flow_L_per_s};
  breath.change = [=](patient::Snapshot& s) {
    if (s.phase != Phase::kExpiration) return;
    for (auto& lobe : s.lobe) {
      lobe.flow_limitation = s.since_phase_s > 0.2 ? 0.9 : 0.0;
      lobe.choke_speed_m_per_s = speed_m_per_s;
      lobe.choke_half_gap_mm = gap_mm;
      lobe.squeeze_cmH2O = 40.0;  // flattened, as by a forced breath
      lobe.limited_volume_mL = s.since_phase_s > 0.2 ? (s.since_phase_s - 0.2) * 250.0 : 0.0;
    }
  };
  return breath;
}

TEST(Wheeze, FollowsThePitchLawInExpirationOnly) {
  const SyntheticBreath breath = wheezing(10.0, 1.0);
  Chestpiece piece = make_piece(kRightUpperFront);
  const Rendered sound = render(piece, breath, 0.0, 8.0, kRate_hz);
  ASSERT_GT(count(sound.events, Sound::kWheeze), 2u);
  bool on_law = false;
  for (const TruthEvent& e : sound.events) {
    if (e.sound != Sound::kWheeze) continue;
    EXPECT_EQ(e.phase, Phase::kExpiration);
    on_law = on_law || std::abs(e.pitch_hz - 438.0) < 8.0;
  }
  EXPECT_TRUE(on_law);
  // In the sound itself: a peak at the note stands out of its surroundings.
  const auto part = phase_part(sound, breath, Phase::kExpiration);
  const Spectrum s = spectrum_of(part, kRate_hz);
  EXPECT_GT(s.level_db(425.0, 451.0), s.level_db(760.0, 786.0) + 10.0);
}

TEST(Wheeze, IsSilentWithoutFlow) {
  const SyntheticBreath breath = wheezing(10.0, 1.0, 0.01);
  Chestpiece piece = make_piece(kRightUpperFront);
  EXPECT_EQ(count(render(piece, breath, 0.0, 8.0, kRate_hz).events, Sound::kWheeze), 0u);
}

TEST(Rhonchus, IsLowAndCoughMovesIt) {
  SyntheticBreath breath;
  breath.change = [](patient::Snapshot& s) {
    for (auto& lobe : s.lobe) lobe.secretions = 0.8;
    if (s.time_s > 4.0 && s.time_s < 4.4) s.voice = patient::Voice::kCough;
  };
  Chestpiece piece = make_piece(kRightUpperFront);
  const Rendered sound = render(piece, breath, 0.0, 12.0, kRate_hz);
  std::vector<double> before, after;
  for (const TruthEvent& e : sound.events) {
    if (e.sound != Sound::kRhonchus || !e.audible) continue;
    EXPECT_LT(e.pitch_hz, 300.0);
    (e.start_s < 4.0 ? before : after).push_back(e.pitch_hz);
  }
  ASSERT_FALSE(before.empty());
  ASSERT_FALSE(after.empty());
  EXPECT_GT(std::abs(before[0] - after[0]), 1.0);
}

SyntheticBreath crackling(double fine, double coarse, double mean, double sd) {
  SyntheticBreath breath;
  breath.change = [=](patient::Snapshot& s) {
    for (const std::size_t l : {std::size_t{2}, std::size_t{4}}) {
      s.lobe[l].reopening = {fine, coarse, mean, sd};
      s.lobe[l].lung_water = 0.5;
    }
  };
  return breath;
}

TEST(Crackles, RepeatAtTheSameVolumeBreathAfterBreath) {
  const SyntheticBreath breath = crackling(14.0, 0.0, 0.62, 0.16);
  Chestpiece piece = make_piece(kLeftBase);
  const Rendered sound = render(piece, breath, 0.0, 16.0, kRate_hz);
  std::vector<std::vector<double>> breaths(4);
  for (const TruthEvent& e : sound.events) {
    if (e.sound != Sound::kFineCrackle || e.phase != Phase::kInspiration) continue;
    if (e.region != Region::kLll) continue;
    const auto b = static_cast<std::size_t>(e.start_s / breath.period_s());
    if (b < 4) breaths[b].push_back(e.start_s - static_cast<double>(b) * breath.period_s());
  }
  ASSERT_GT(breaths[1].size(), 5u);
  ASSERT_EQ(breaths[1].size(), breaths[2].size());
  for (std::size_t i = 0; i < breaths[1].size(); ++i) {
    EXPECT_NEAR(breaths[1][i], breaths[2][i], 0.05);
  }
}

TEST(Crackles, AreHeardOverTheirLobeAndNotOverTheUpperFront) {
  const SyntheticBreath breath = crackling(14.0, 8.0, 0.62, 0.16);
  Chestpiece base = make_piece(kLeftBase), front = make_piece(kRightUpperFront);
  const auto at_base = render(base, breath, 0.0, 8.0, kRate_hz).events;
  const auto at_front = render(front, breath, 0.0, 8.0, kRate_hz).events;
  EXPECT_GT(count(at_base, Sound::kFineCrackle), 8u);
  EXPECT_GT(count(at_base, Sound::kCoarseCrackle), 5u);
  EXPECT_LT(count(at_front, Sound::kFineCrackle), count(at_base, Sound::kFineCrackle) / 4);
}

TEST(Stridor, IsLoudestAtTheNeckAndInspiratory) {
  SyntheticBreath breath;
  breath.change = [](patient::Snapshot& s) {
    s.upper_airway.narrowing = 0.7;
    s.upper_airway.area_mm2 = s.phase == Phase::kInspiration ? 18.0 : 40.0;
    s.upper_airway.jet_speed_m_per_s = s.trachea_flow_L_per_s / s.upper_airway.area_mm2 * 1e3;
  };
  Chestpiece neck = make_piece(kTrachea), base = make_piece(kLeftBase);
  const Rendered at_neck = render(neck, breath, 0.0, 8.0, kRate_hz);
  const Rendered at_base = render(base, breath, 0.0, 8.0, kRate_hz);
  ASSERT_GE(count(at_neck.events, Sound::kStridor), 2u);
  double in_s = 0.0, out_s = 0.0;
  for (const TruthEvent& e : at_neck.events) {
    if (e.sound != Sound::kStridor) continue;
    (e.phase == Phase::kInspiration ? in_s : out_s) += e.end_s - e.start_s;
  }
  EXPECT_GT(in_s, 2.0 * out_s);
  EXPECT_GT(signal::rms(at_neck.samples), 4.0 * signal::rms(at_base.samples));
}

}  // namespace
}  // namespace phren::acoustics
