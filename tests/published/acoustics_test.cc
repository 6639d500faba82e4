// Breath sound against the literature, measured on rendered sound with a flat contact sensor.
// Each test names its source; docs/validation/acoustics.md holds the same rows. The breaths are
// square (constant flow), as in studies with flow targets.
#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <cstdio>
#include <string>

#include "acoustics/measures.h"
#include "acoustics/musical.h"
#include "acoustics/paths.h"
#include "signal/filter.h"

namespace phren::acoustics {
namespace {

using namespace testing;
using exam::Phase;

constexpr double kRate_hz = 48000.0;

// One line of the validation table, printed so that the document can be checked against it.
void row(const std::string& name, double ours, const std::string& published) {
  std::printf("[ FIGURE   ] %s: ours %.4g; published %s\n", name.c_str(), ours, published.c_str());
}

SyntheticBreath square_breath(double flow_L_per_s) {
  SyntheticBreath breath;
  breath.peak_in_L_per_s = breath.peak_out_L_per_s = flow_L_per_s;
  breath.inspiration_s = breath.expiration_s = 2.0;
  breath.square = true;
  return breath;
}

struct Pair {
  Spectrum in, out;
};

Pair listen(const exam::TorsoPoint& at, const SyntheticBreath& breath,
            const patient::Person& person = adult(), double seconds = 26.4) {
  Chestpiece piece = make_piece(at, person);
  const Rendered sound = render(piece, breath, 0.0, seconds, kRate_hz);
  return {spectrum_of(phase_part(sound, breath, Phase::kInspiration), kRate_hz),
          spectrum_of(phase_part(sound, breath, Phase::kExpiration), kRate_hz)};
}

double level(const Spectrum& s) {
  return s.level_db(100.0, 1000.0);
}

// Gavriely & Cugell 1996, J Appl Physiol 80:5: amplitude = k flow^1.66 (SD 0.35), 0.5-3 L/s, breath
// hold subtracted. VERIFIED.
TEST(PublishedAcoustics, AmplitudeGrowsWithFlowToThePower1_66) {
  const double floor_power = listen(kRightBase, square_breath(0.0)).in.band_power(100.0, 1000.0);
  double n = 0, sx = 0, sy = 0, sxx = 0, sxy = 0;
  for (const double flow : {0.5, 1.0, 1.5, 2.0, 3.0}) {
    const double power =
        listen(kRightBase, square_breath(flow)).in.band_power(100.0, 1000.0) - floor_power;
    const double x = std::log(flow), y = 0.5 * std::log(power);
    n += 1, sx += x, sy += y, sxx += x * x, sxy += x * y;
  }
  const double exponent = (n * sxy - sx * sy) / (n * sxx - sx * sx);
  row("1 flow exponent", exponent, "1.66 +- 0.35");
  EXPECT_NEAR(exponent, 1.66, 0.35);
}

// Same source: 1.99-2.43 (6.0-7.7 dB); Kompis 1997: 10-11 dB. VERIFIED.
TEST(PublishedAcoustics, ChestIsLouderInInspiration) {
  for (const auto& at : {kRightBase, kLeftBase, kRightUpperFront}) {
    const Pair s = listen(at, square_breath(1.0));
    row("2 chest in/out dB", level(s.in) - level(s.out), "6.0-7.7, 10-11; accepted 2.2-11");
    EXPECT_GE(level(s.in) - level(s.out), 2.2);
    EXPECT_LE(level(s.in) - level(s.out), 11.0);
  }
}

// Same source: no difference at the trachea. Tolerance ours.
TEST(PublishedAcoustics, TracheaIsAlikeInBothPhases) {
  const Pair s = listen(kTrachea, square_breath(1.0));
  row("3 trachea in/out dB", level(s.in) - level(s.out), "0 +- 2");
  EXPECT_NEAR(level(s.in), level(s.out), 2.0);
}

// Same source: left posterior base 32 % louder (2.4 dB). Tolerance 1 dB ours.
TEST(PublishedAcoustics, LeftBaseIsLouder) {
  const double left = level(listen(kLeftBase, square_breath(1.0)).in);
  const double right = level(listen(kRightBase, square_breath(1.0)).in);
  row("4 left/right base dB", left - right, "2.4 +- 1");
  EXPECT_NEAR(left - right, 2.4, 1.0);
}

// Trachea 8 times (18 dB) louder than chest: Mussell 1992. Tolerance 3 dB ours.
TEST(PublishedAcoustics, TracheaIsEighteenDecibelsAboveTheChest) {
  const double neck = level(listen(kTrachea, square_breath(1.0)).in);
  const double chest = 0.5 * (level(listen(kLeftBase, square_breath(1.0)).in) +
                              level(listen(kRightBase, square_breath(1.0)).in));
  row("trachea - chest dB", neck - chest, "18");
  EXPECT_NEAR(neck - chest, 18.0, 3.0);
}

// Gavriely 1995, Thorax 50:1292: high line -12.7 to -15.2 (in), -13.4 to -20.3 dB/octave (out).
TEST(PublishedAcoustics, ChestSpectrumFallsAsMeasured) {
  for (const auto& at : {kRightBase, kLeftBase, kRightUpperFront}) {
    const Pair s = listen(at, square_breath(1.0));
    const double in = s.in.slope_db_per_octave(300.0, 1000.0);
    const double out = s.out.slope_db_per_octave(300.0, 1000.0);
    row("5 slope in", in, "-12.7 to -15.2");
    row("6 slope out", out, "-13.4 to -20.3");
    EXPECT_LE(in, -12.7);
    EXPECT_GE(in, -15.2);
    EXPECT_LE(out, -13.4);
    EXPECT_GE(out, -20.3);
  }
}

// Gavriely 1981: trachea flat and broad, sharp cut-off between 850 and 1600 Hz. Flatness +-6 dB
// ours.
TEST(PublishedAcoustics, TracheaIsFlatAndCutsOffBetween850And1600Hz) {
  const Spectrum s = listen(kTrachea, square_breath(1.0)).in;
  const auto density_db = [&](double f) {
    return s.level_db(0.94 * f, 1.06 * f) - 10.0 * std::log10(0.12 * f);
  };
  const double plateau = s.level_db(200.0, 700.0) - 10.0 * std::log10(500.0);
  for (double f = 120.0; f < 800.0; f *= 1.12) EXPECT_NEAR(density_db(f), plateau, 6.0) << f;
  double cut = 300.0;
  while (density_db(cut) > plateau - 10.0 && cut < 4000.0) cut *= 1.02;
  row("7 tracheal cut-off Hz (-10 dB)", cut, "850-1600");
  EXPECT_GE(cut, 850.0);
  EXPECT_LE(cut, 1600.0);
}

struct Transfer {
  double peak_hz = 0.0, q = 0.0, slope = 0.0;
};

// Chest over trachea with the lung itself silent, as with sound sent in at the mouth.
Transfer transfer_to(const exam::TorsoPoint& at) {
  SyntheticBreath breath = square_breath(2.5);
  breath.change = [](patient::Snapshot& s) {
    for (auto& lobe : s.lobe) lobe.flow_L_per_s = 0.0;
  };
  const Spectrum chest = listen(at, breath, adult(), 70.0).in;
  const Spectrum neck = listen(kTrachea, breath, adult(), 70.0).in;
  const auto ratio = [&](double f) {
    const double w = 0.035 * f;
    return std::sqrt(chest.band_power(f - w, f + w) / neck.band_power(f - w, f + w));
  };
  Transfer t;
  double best = 0.0;
  for (double f = 80.0; f < 300.0; f += 1.0) {
    if (ratio(f) > best) best = ratio(f), t.peak_hz = f;
  }
  double low = t.peak_hz, high = t.peak_hz;
  while (ratio(low) > best / std::sqrt(2.0) && low > 25.0) low -= 1.0;
  while (ratio(high) > best / std::sqrt(2.0) && high < 500.0) high += 1.0;
  t.q = t.peak_hz / (high - low);
  t.slope = 20.0 * std::log10(ratio(600.0) / ratio(300.0));
  return t;
}

// Wodicka & Shannon 1990, J Appl Physiol 69:2126, 8 men. VERIFIED.
TEST(PublishedAcoustics, WayFromTracheaToUpperBack) {
  const Transfer t = transfer_to(kRightUpperBack);
  row("8 peak Hz", t.peak_hz, "143 +- 13");
  row("8 Q", t.q, "2.0 +- 0.2");
  row("8 slope dB/octave", t.slope, "-10 +- 4");
  EXPECT_NEAR(t.peak_hz, 143.0, 13.0);
  EXPECT_NEAR(t.q, 2.0, 0.2);
  EXPECT_NEAR(t.slope, -10.0, 4.0);
}

TEST(PublishedAcoustics, WayFromTracheaToLowerBack) {
  const Transfer t = transfer_to(kRightBase);
  row("9 peak Hz", t.peak_hz, "129 +- 6");
  row("9 Q", t.q, "2.2 +- 0.4");
  row("9 slope dB/octave", t.slope, "-17 +- 5");
  EXPECT_NEAR(t.peak_hz, 129.0, 6.0);
  EXPECT_NEAR(t.q, 2.2, 0.4);
  EXPECT_NEAR(t.slope, -17.0, 5.0);
}

// Lag in ms of the chest behind the trachea, by cross-correlation above the wall's resonance.
double transit_ms(const exam::TorsoPoint& at) {
  SyntheticBreath breath = square_breath(2.5);
  breath.change = [](patient::Snapshot& s) {
    for (auto& lobe : s.lobe) lobe.flow_L_per_s = 0.0;
  };
  Chestpiece chest = make_piece(at), neck = make_piece(kTrachea);
  auto x = render(neck, breath, 0.0, 1.9, kRate_hz).samples;
  auto y = render(chest, breath, 0.0, 1.9, kRate_hz).samples;
  auto high = signal::FilterChain::butterworth({true, 4, kRate_hz, 400.0});
  auto high2 = signal::FilterChain::butterworth({true, 4, kRate_hz, 400.0});
  high->process(x, x);
  high2->process(y, y);
  double best = 0.0;
  std::size_t best_lag = 0;
  for (std::size_t lag = 0; lag < 480; ++lag) {
    double sum = 0.0;
    for (std::size_t i = 4800; i + lag < x.size(); ++i) {
      sum += static_cast<double>(x[i]) * static_cast<double>(y[i + lag]);
    }
    if (std::abs(sum) > best) best = std::abs(sum), best_lag = lag;
  }
  return 1000.0 * static_cast<double>(best_lag) / kRate_hz;
}

// Mahagnah & Gavriely 1995, J Appl Physiol 78:928. VERIFIED.
TEST(PublishedAcoustics, TransitFromTracheaToChest) {
  const double front = transit_ms(kRightUpperFront), base = transit_ms(kRightBase);
  row("10 transit right upper front ms", front, "1.5 +- 0.5");
  row("10 transit right base ms", base, "5.2 +- 0.5");
  EXPECT_NEAR(front, 1.5, 0.5);
  EXPECT_NEAR(base, 5.2, 0.5);
}

// Rice 1983, J Appl Physiol 54:304: 25-70 m/s; 0.30 of it at 0.1 atm, 2.6 times at 7 atm.
TEST(PublishedAcoustics, SoundIsSlowInLung) {
  const double at_one = lung_sound_speed_m_per_s(0.85, 1.0);
  row("11 speed m/s at 85 % gas", at_one, "25-70");
  EXPECT_GE(at_one, 25.0);
  EXPECT_LE(lung_sound_speed_m_per_s(0.95, 1.0), 70.0);
  EXPECT_NEAR(lung_sound_speed_m_per_s(0.8, 0.1) / lung_sound_speed_m_per_s(0.8, 1.0), 0.30, 0.03);
  EXPECT_NEAR(lung_sound_speed_m_per_s(0.8, 7.0) / lung_sound_speed_m_per_s(0.8, 1.0), 2.6, 0.1);
  EXPECT_NEAR(lung_sound_speed_m_per_s(0.75, 1.0), 23.2, 0.1);  // own derivation
}

double median_hz(const std::function<void(patient::Snapshot&)>& change,
                 const patient::Person& person = adult(), double flow = 1.0) {
  SyntheticBreath breath = square_breath(flow);
  breath.change = change;
  return listen(kRightBase, breath, person).in.quantile_hz(0.5, 100.0, 1000.0);
}

// Malmberg 1995, Thorax 50:1285: 206 +- 14, 239 +- 19, 201 +- 21 Hz, flow-standardised. The band is
// ours (100-1000 Hz): F50 depends on it.
TEST(PublishedAcoustics, MedianFrequencyInHealthAsthmaAndCopd) {
  const double healthy = median_hz({});
  const double asthma = median_hz([](patient::Snapshot& s) {
    for (auto& lobe : s.lobe) lobe.airway_radius_ratio = 0.75;
  });
  const double copd = median_hz([](patient::Snapshot& s) {
    for (auto& lobe : s.lobe) lobe.emphysema = 0.6, lobe.airway_radius_ratio = 0.95;
  });
  row("12 F50 control Hz", healthy, "206 +- 14");
  row("12 F50 asthma Hz", asthma, "239 +- 19");
  row("12 F50 COPD Hz", copd, "201 +- 21");
  EXPECT_NEAR(healthy, 206.0, 14.0);
  EXPECT_NEAR(asthma, 239.0, 19.0);
  EXPECT_NEAR(copd, 201.0, 21.0);
}

// Kanga & Kraman 1986: lower lobes 243 +- 56 Hz in adults, 386 +- 76 Hz in term newborns.
TEST(PublishedAcoustics, MedianFrequencyOfAdultAndNewborn) {
  const double grown = median_hz({});
  const double born = median_hz({}, newborn(), body_scale(newborn()).flow_L_per_s);
  row("13 F50 adult Hz", grown, "243 +- 56");
  row("13 F50 newborn Hz", born, "386 +- 76");
  EXPECT_NEAR(grown, 243.0, 56.0);
  EXPECT_NEAR(born, 386.0, 76.0);
}

// Gavriely 1989, J Appl Physiol 66:2251: f = 228 + 0.021 u/b, valid 283-720 Hz.
TEST(PublishedAcoustics, WheezePitchLaw) {
  EXPECT_NEAR(wheeze_pitch_hz(10.0, 1.0), 438.0, 1.0);
  EXPECT_NEAR(wheeze_pitch_hz(2.619, 1.0), 283.0, 1.0);
  EXPECT_NEAR(wheeze_pitch_hz(20.0, 1.0), 648.0, 1.0);
  EXPECT_NEAR(wheeze_pitch_hz(23.429, 1.0), 720.0, 1.0);
}

// A forced breath: every lobe limited and pressed upon from the start of expiration, gas speed and half-gap as given.
SyntheticBreath limited_breath(double speed_m_per_s, double gap_mm, double peak_L_per_s) {
  SyntheticBreath breath;
  breath.peak_in_L_per_s = 0.8;
  breath.peak_out_L_per_s = peak_L_per_s;
  breath.square = true;
  breath.change = [=](patient::Snapshot& s) {
    if (s.phase != Phase::kExpiration) return;
    for (auto& lobe : s.lobe) {
      lobe.flow_limitation = 0.9;
      lobe.squeeze_cmH2O = 40.0;
      lobe.choke_speed_m_per_s = speed_m_per_s;
      lobe.choke_half_gap_mm = gap_mm;
    }
  };
  return breath;
}

// The same law in the sound: the strongest line between 250 and 760 Hz where the law puts it.
TEST(PublishedAcoustics, WheezePitchInTheSoundFollowsTheLaw) {
  for (const double speed : {5.0, 10.0, 15.0, 20.0}) {
    const Spectrum s = listen(kRightUpperFront, limited_breath(speed, 1.0, 0.4), adult(), 13.0).out;
    const double law = wheeze_pitch_hz(speed, 1.0);
    double best = 0.0, at_hz = 0.0;
    for (double f = law - 40.0; f < law + 40.0; f += 2.0) {
      const double power = s.band_power(f - 6.0, f + 6.0);
      if (power > best) best = power, at_hz = f;
    }
    row("15 pitch in the sound Hz, u/b " + std::to_string(1000.0 * speed), at_hz,
        std::to_string(law));
    EXPECT_NEAR(at_hz, law, 8.0);  // flutter of half a per cent and one bin
    EXPECT_GT(best, 2.0 * s.band_power(law + 60.0, law + 72.0));
  }
  SyntheticBreath free = limited_breath(10.0, 1.0, 0.4);
  free.change = {};
  Chestpiece piece = make_piece(kRightUpperFront);
  EXPECT_EQ(count(render(piece, free, 0.0, 8.0, kRate_hz).events, exam::Sound::kWheeze), 0u);
}

// Gavriely 1987, J Appl Physiol 62:2398, six normals: wheeze 107 +- 45 mL after the onset of flow
// limitation in a forced breath.
TEST(PublishedAcoustics, ForcedBreathWheezesAbout107MillilitresAfterLimitation) {
  double sum_mL = 0.0, n = 0.0;
  for (std::uint64_t seed = 1; seed <= 24; ++seed) {
    SyntheticBreath breath = limited_breath(18.0, 1.0, 3.0);
    breath.expiration_s = 1.0;
    Chestpiece piece = make_piece(kRightUpperFront, adult(), seed, 16000.0);
    const Rendered sound = render(piece, breath, 0.0, 2.8, 16000.0, 43);
    double first_s = 1e9;
    for (const TruthEvent& e : sound.events) {
      if (e.sound == exam::Sound::kWheeze) first_s = std::min(first_s, e.start_s);
    }
    if (first_s > 100.0) continue;
    sum_mL += 1000.0 * 3.0 * (first_s - breath.inspiration_s);
    n += 1.0;
  }
  ASSERT_GT(n, 20.0);
  row("17 wheeze after limitation mL", sum_mL / n, "107 +- 45");
  EXPECT_NEAR(sum_mL / n, 107.0, 45.0);
}

// Yonemaru 1991, dogs: loss at 100 Hz 3.7, 6.6, 10.0 dB (SD 3.7, 4.9, 5.7) for 5, 10, 15 mL/kg and
// side; 5 to 9 dB more above 500 Hz. Sound of the windpipe, over the fluid.
TEST(PublishedAcoustics, EffusionTakesLowsAndLiftsHighs) {
  SyntheticBreath dry = square_breath(2.5);
  const auto airways_only = [](patient::Snapshot& s) {
    for (auto& lobe : s.lobe) lobe.flow_L_per_s = 0.0;
  };
  dry.change = airways_only;
  const exam::TorsoPoint low{exam::Aspect::kBack, -0.45, 0.88};
  const Spectrum before = listen(low, dry, adult(), 40.0).in;
  const std::array<double, 3> per_kg{5.0, 10.0, 15.0}, loss_db{3.7, 6.6, 10.0}, sd{3.7, 4.9, 5.7};
  for (std::size_t i = 0; i < 3; ++i) {
    SyntheticBreath wet = dry;
    const double fluid_L = per_kg[i] * adult().weight_kg / 1000.0;
    wet.change = [=](patient::Snapshot& s) {
      airways_only(s);
      s.pleura[0].fluid_L = fluid_L;
    };
    const Spectrum after = listen(low, wet, adult(), 40.0).in;
    const double at_100 = after.level_db(90.0, 110.0) - before.level_db(90.0, 110.0);
    const double above = after.level_db(500.0, 900.0) - before.level_db(500.0, 900.0);
    row("20 effusion at 100 Hz dB, " + std::to_string(per_kg[i]) + " mL/kg", at_100,
        std::to_string(-loss_db[i]));
    row("20 effusion above 500 Hz dB", above, "+5 to +9");
    EXPECT_NEAR(at_100, -loss_db[i], sd[i]);
    EXPECT_GE(above, 4.5);
    EXPECT_LE(above, 9.0);
  }
}

// Brown 1997, Ann Emerg Med 29:228: breath sounds judged rightly in 251 of 260 trials (96 %) in
// quiet and 140 of 260 (54 %) in a moving ambulance. Ours: share of bodies and sites where breath
// sound stands above the noise, adults of five builds breathing quietly. Tolerance ours: 15 points.
TEST(PublishedAcoustics, AMovingAmbulanceHidesBreathSounds) {
  SyntheticBreath breath;
  breath.square = true;
  breath.peak_in_L_per_s = breath.peak_out_L_per_s = 0.40;
  std::array<double, 2> heard{};
  double all = 0.0;
  for (const double wall_cm : {1.6, 2.2, 3.0, 4.0, 5.5}) {
    patient::Person person = adult();
    person.wall_front_cm = person.wall_side_cm = wall_cm;
    person.wall_back_cm = 1.15 * wall_cm;
    for (const auto& at : {kRightBase, kLeftBase, kRightUpperFront, kLeftUpperFront,
                           exam::TorsoPoint{exam::Aspect::kFront, 0.7, 0.95},
                           exam::TorsoPoint{exam::Aspect::kRightSide, 0.0, 1.3},
                           exam::TorsoPoint{exam::Aspect::kBack, 0.45, 0.62}}) {
      for (std::size_t place = 0; place < 2; ++place) {
        Chestpiece piece = make_piece(at, person);
        piece.set_head(Head::kDiaphragm);
        piece.set_surroundings(place == 0 ? Surroundings::kQuiet : Surroundings::kCabin);
        render(piece, breath, 0.0, 0.6, kRate_hz);
        heard[place] += piece.audibility().breath_is_audible ? 1.0 : 0.0;
      }
      all += 1.0;
    }
  }
  row("ambulance: heard in quiet %", 100.0 * heard[0] / all, "96");
  row("ambulance: heard while moving %", 100.0 * heard[1] / all, "54");
  EXPECT_GE(heard[0] / all, 0.90);
  EXPECT_NEAR(heard[1] / all, 0.54, 0.15);
}

}  // namespace
}  // namespace phren::acoustics
