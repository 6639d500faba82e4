// Each of the trade's sounds where, when and on the side its condition should have it, read from
// the truth events of whole bodies. Site, side and phase of each: Bohadana 2014, NEJM 370:744, and
// CORSA 2000; early and late crackles: Nath & Capel 1974, Thorax 29:223; notes of percussion and
// voice sounds: common practice.
#include <gtest/gtest.h>

#include "acoustics/bedside.h"
#include "patient/person.h"

namespace phren::acoustics {
namespace {

using namespace testing;
using exam::Phase;
using exam::Side;
using exam::Sound;

constexpr int kRll = 2;

patient::Person child(double age_years, double height_cm, double weight_kg) {
  patient::Person p;
  p.age_years = age_years;
  p.height_cm = height_cm;
  p.weight_kg = weight_kg;
  return p;
}

std::size_t heard(const Recording& r, Sound sound, Phase phase) {
  return static_cast<std::size_t>(std::count_if(
      r.events.begin(), r.events.end(),
      [=](const TruthEvent& e) { return e.sound == sound && e.phase == phase && e.audible; }));
}

double level_db(const Recording& r) {
  return spectrum_of(r.samples, r.sample_rate_hz, 2048).level_db(100.0, 1000.0);
}

// Mean place in inspiration, 0 its start .. 1 its end, of audible crackles.
double place_in_inspiration(const Recording& r, patient::Patient body) {
  std::vector<std::pair<double, double>> breaths;  // start and end of each inspiration
  while (body.time_s() < r.start_s + 20.0) {
    body.step();
    const patient::Snapshot s = body.snapshot();
    if (s.phase != Phase::kInspiration) continue;
    const double now = s.time_s - r.start_s, start = now - s.since_phase_s;
    if (breaths.empty() || start - breaths.back().first > 0.1) breaths.emplace_back(start, now);
    breaths.back().second = now;
  }
  double sum = 0.0, n = 0.0;
  for (const TruthEvent& e : r.events) {
    if (e.sound != Sound::kFineCrackle && e.sound != Sound::kCoarseCrackle) continue;
    if (!e.audible || e.phase != Phase::kInspiration) continue;
    for (const auto& [from, to] : breaths) {
      if (e.start_s < from || e.start_s > to) continue;
      sum += (e.start_s - from) / (to - from), n += 1.0;
    }
  }
  return n > 0.0 ? sum / n : -1.0;
}

TEST(BedsideSounds, WheezeOfAsthmaOnBothSidesMostlyOut) {
  const auto body = sick("asthma", 0.5);
  for (const char* id : {"F5", "F6", "P9", "P10"}) {
    const Recording r = listen(body, site(id));
    EXPECT_GT(seconds_of(r, Sound::kWheeze, Phase::kExpiration), 2.0) << id;
    EXPECT_GT(seconds_of(r, Sound::kWheeze, Phase::kExpiration),
              2.0 * seconds_of(r, Sound::kWheeze, Phase::kInspiration))
        << id;
  }
}

TEST(BedsideSounds, RhonchusOfBronchitisOnBothSides) {
  const auto body = sick("bronchitis", 0.8);
  for (const char* id : {"F5", "F6"}) {
    const Recording r = listen(body, site(id));
    EXPECT_GT(seconds_of(r, Sound::kRhonchus, Phase::kExpiration), 1.0) << id;
    for (const TruthEvent& e : r.events) {
      EXPECT_TRUE(e.sound != Sound::kRhonchus || e.pitch_hz < 300.0);
    }
  }
}

TEST(BedsideSounds, FineCracklesOfFibrosisAreLateAtBothBasesCoarseOnesOfBronchitisEarly) {
  const auto stiff = sick("interstitial_fibrosis", 0.7), wet = sick("bronchitis", 0.8);
  const Recording right = listen(stiff, site("P9")), left = listen(stiff, site("P10"));
  const Recording front = listen(stiff, site("F5")), early = listen(wet, site("P10"));
  for (const Recording* r : {&right, &left}) {
    EXPECT_GT(heard(*r, Sound::kFineCrackle, Phase::kInspiration), 20u);
    EXPECT_GT(heard(*r, Sound::kFineCrackle, Phase::kInspiration),
              heard(*r, Sound::kFineCrackle, Phase::kExpiration));
    EXPECT_GT(heard(*r, Sound::kFineCrackle, Phase::kInspiration),
              heard(front, Sound::kFineCrackle, Phase::kInspiration) * 5 / 4);
  }
  EXPECT_GT(heard(early, Sound::kCoarseCrackle, Phase::kInspiration), 5u);
  const double late = place_in_inspiration(left, stiff), soon = place_in_inspiration(early, wet);
  std::printf("[ FIGURE   ] crackles, place in inspiration: fibrosis %.2f, bronchitis %.2f\n", late,
              soon);
  EXPECT_GT(late, 0.5);
  EXPECT_LT(soon, 0.5);
}

TEST(BedsideSounds, OedemaCracklesAtBothBasesMoreThanAbove) {
  const auto body = sick("cardiogenic_oedema", 0.5);
  const auto crackles = [&](const char* id) {
    const Recording r = listen(body, site(id));
    return heard(r, Sound::kFineCrackle, Phase::kInspiration) +
           heard(r, Sound::kCoarseCrackle, Phase::kInspiration);
  };
  const std::size_t apex = crackles("F3");
  EXPECT_GT(crackles("P9"), apex);
  EXPECT_GT(crackles("P10"), apex);
}

TEST(BedsideSounds, PneumoniaCracklesRubsAndSoundsBronchialOnItsSideOnly) {
  const auto body = sick("lobar_pneumonia", 0.8, adult(), Side::kRight, kRll);
  const Recording there = listen(body, site("P9")), other = listen(body, site("P10"));
  const auto all = [](const Recording& r, Sound s) {
    return heard(r, s, Phase::kInspiration) + heard(r, s, Phase::kExpiration);
  };
  EXPECT_GT(heard(there, Sound::kBronchial, Phase::kInspiration), 2u);
  EXPECT_GT(heard(there, Sound::kBronchial, Phase::kExpiration), 2u);
  EXPECT_EQ(all(other, Sound::kBronchial), 0u);
  EXPECT_GT(all(there, Sound::kFineCrackle) + all(there, Sound::kCoarseCrackle), 5u);
  EXPECT_EQ(all(other, Sound::kFineCrackle) + all(other, Sound::kCoarseCrackle), 0u);
  const auto rubbing = sick("lobar_pneumonia", 0.6, adult(), Side::kRight, kRll);
  const Recording side = listen(rubbing, site("S5"), 30.0);
  EXPECT_GT(heard(side, Sound::kPleuralFrictionRub, Phase::kInspiration), 1u);
  EXPECT_GT(heard(side, Sound::kPleuralFrictionRub, Phase::kExpiration), 1u);
  EXPECT_EQ(all(listen(rubbing, site("S6"), 30.0), Sound::kPleuralFrictionRub), 0u);
}

TEST(BedsideSounds, VoiceOverASolidLobeIsBrighterThanOverTheOther) {
  auto body = sick("lobar_pneumonia", 0.9, adult(), Side::kRight, kRll);
  body.act(patient::Action::ask(patient::Manoeuvre::kVowel));
  body.advance_to(body.time_s() + 5.0);
  const auto brightness = [&](const char* id) {
    const Recording r = listen(body, site(id), 10.0);
    EXPECT_GE(heard(r, Sound::kVoice, Phase::kExpiration), 1u) << id;
    const Spectrum s = spectrum_of(r.samples, r.sample_rate_hz, 2048);
    return s.level_db(500.0, 2500.0) - s.level_db(90.0, 300.0);
  };
  const double solid = brightness("P9"), sound = brightness("P10");
  std::printf(
      "[ FIGURE   ] long 'ee', 500-2500 over 90-300 Hz: solid lobe %.1f dB, other %.1f dB\n", solid,
      sound);
  EXPECT_GT(solid, sound + 8.0);
}

TEST(BedsideSounds, StridorIsAtTheNeckOnTheWayIn) {
  for (const auto& [id, severity] : {std::pair{"croup", 0.6}, {"epiglottitis", 0.7}}) {
    const auto body = sick(id, severity, child(3.0, 95.0, 14.5));
    const Recording neck = listen(body, site("N1")), base = listen(body, site("P10"));
    EXPECT_GT(seconds_of(neck, Sound::kStridor, Phase::kInspiration), 2.0) << id;
    EXPECT_GT(seconds_of(neck, Sound::kStridor, Phase::kInspiration),
              2.0 * seconds_of(neck, Sound::kStridor, Phase::kExpiration))
        << id;
    EXPECT_GT(level_db(neck), level_db(base) + 6.0) << id;
  }
}

TEST(BedsideSounds, SquawkOfStiffLungIsOnTheWayIn) {
  const Recording r = listen(sick("interstitial_fibrosis", 0.9), site("P9"), 40.0);
  EXPECT_GT(heard(r, Sound::kSquawk, Phase::kInspiration), 2u);
  EXPECT_EQ(heard(r, Sound::kSquawk, Phase::kExpiration), 0u);
}

TEST(BedsideSounds, GruntingIsOnTheWayOutAndGurglingInTheThroat) {
  const Recording infant =
      listen(sick("bronchiolitis", 0.9, child(0.3, 60.0, 6.0)), site("N1"), 20.0);
  EXPECT_GT(heard(infant, Sound::kGrunting, Phase::kExpiration), 2u);
  EXPECT_EQ(heard(infant, Sound::kGrunting, Phase::kInspiration), 0u);
  const auto drowsy = sick("aspiration_pneumonia", 0.8);
  const Recording throat = listen(drowsy, site("N1")), base = listen(drowsy, site("P10"));
  const auto gurgles = [](const Recording& r) {
    return heard(r, Sound::kGurgling, Phase::kInspiration) +
           heard(r, Sound::kGurgling, Phase::kExpiration);
  };
  EXPECT_GT(gurgles(throat), 10u);
  EXPECT_LT(gurgles(base), gurgles(throat) / 2);
}

TEST(BedsideSounds, DiminishedUnderFluidAndAbsentBehindABlockOnThatSideOnly) {
  const auto gap = [](const patient::Patient& body, const char* there, const char* other) {
    return level_db(listen(body, site(other))) - level_db(listen(body, site(there)));
  };
  const double fluid = gap(sick("pleural_effusion", 0.8, adult(), Side::kRight), "P11", "P12");
  const double gas = gap(sick("tension_pneumothorax", 0.7, adult(), Side::kLeft), "F6", "F5");
  const double block =
      gap(sick("bronchial_foreign_body", 1.0, adult(), Side::kRight, kRll), "P9", "P10");
  std::printf("[ FIGURE   ] below the other side: fluid %.1f, tension %.1f, block %.1f dB\n", fluid,
              gas, block);
  EXPECT_GT(fluid, 6.0);
  EXPECT_GT(gas, 15.0);
  EXPECT_GT(block, 6.0);
}

TEST(BedsideSounds, NotesOfPercussionFollowTheCondition) {
  const auto note_of = [](const patient::Patient& body, const char* id) {
    auto breathing = body;
    auto piece = make_piece(site("N1"));
    std::vector<float> out(375);
    for (int i = 0; i < 32; ++i) {
      breathing.step();
      piece.render(breathing.snapshot(), out);
    }
    return piece.percuss(site(id));
  };
  const auto solid = sick("lobar_pneumonia", 0.9, adult(), Side::kRight, kRll);
  const auto wet = sick("pleural_effusion", 0.8, adult(), Side::kRight);
  const auto gas = sick("pneumothorax", 0.8, adult(), Side::kRight);
  EXPECT_EQ(note_of(sick("healthy", 0.0), "P9"), patient::Percussion::kResonant);
  EXPECT_EQ(note_of(solid, "P9"), patient::Percussion::kDull);
  EXPECT_EQ(note_of(solid, "P10"), patient::Percussion::kResonant);
  EXPECT_EQ(note_of(wet, "P11"), patient::Percussion::kStonyDull);
  EXPECT_EQ(note_of(wet, "P12"), patient::Percussion::kResonant);
  EXPECT_EQ(note_of(gas, "F5"), patient::Percussion::kHyperresonant);
  EXPECT_EQ(note_of(gas, "F6"), patient::Percussion::kResonant);
}

// The wall follows from what a case says of a person: weight, height and muscle. All breathe the
// same, so that only the wall differs.
TEST(BedsideSounds, FatQuietensAndMuscleMakesTheBackLouderThanTheFront) {
  struct Levels {
    double front_cm, back_cm, front_db, back_db;
  };
  const auto levels = [](double weight_kg, double muscle) {
    patient::Person p;
    p.sex = patient::Sex::kMale;
    p.height_cm = 178.0;
    p.weight_kg = weight_kg;
    p.muscle = muscle;
    const patient::Person built = *patient::complete(p);
    SyntheticBreath breath;
    breath.peak_in_L_per_s = breath.peak_out_L_per_s = 0.8;
    const auto level = [&](const exam::TorsoPoint& at) {
      auto piece = make_piece(at, built, 7, 16000.0);
      const Rendered r = render(piece, breath, 0.0, 8.0, 16000.0);
      return spectrum_of(r.samples, 16000.0, 2048).level_db(100.0, 1000.0);
    };
    const Levels out{built.wall_front_cm, built.wall_back_cm,
                     level({exam::Aspect::kFront, 0.6, 0.65}), level(kLeftBase)};
    std::printf(
        "[ FIGURE   ] %.0f kg, muscle %.1f: walls %.1f and %.1f cm, front %.1f, back %.1f\n",
        weight_kg, muscle, out.front_cm, out.back_cm, out.front_db, out.back_db);
    return out;
  };
  Levels last{0.0, 0.0, 100.0, 100.0};
  for (const double weight_kg : {62.0, 78.0, 95.0, 115.0, 140.0}) {
    const Levels now = levels(weight_kg, 0.3);
    EXPECT_GT(now.front_cm, last.front_cm);
    EXPECT_LT(now.front_db, last.front_db - 0.5) << weight_kg;
    EXPECT_LT(now.back_db, last.back_db - 0.5) << weight_kg;
    last = now;
  }
  const Levels slight = levels(70.0, 0.0), strong = levels(88.0, 1.0);
  EXPECT_GT(slight.front_db, slight.back_db);
  EXPECT_GT(strong.back_db, strong.front_db + 1.0);
}

}  // namespace
}  // namespace phren::acoustics
