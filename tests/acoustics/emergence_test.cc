// Asthma from none to its worst: what the ear is told as the body gets sicker. Nobody writes the
// sound of a severity; it has to come out of flow, gaps and volumes.
#include <gtest/gtest.h>

#include <cstdio>
#include <filesystem>
#include <fstream>
#include <functional>

#include "acoustics/measures.h"
#include "acoustics/record.h"
#include "base/files.h"
#include "patient/conditions.h"

namespace phren::acoustics {
namespace {

using namespace testing;
using exam::Phase;
using exam::Sound;

struct Heard {
  double severity = 0.0, wheeze_share = 0.0, level_dbfs = 0.0, highest_hz = 0.0;
  double effort_cmH2O = 0.0, tidal_L = 0.0;
};

patient::PatientConfig asthma(double severity) {
  const auto conditions = patient::Conditions::load(data_directory() / "conditions");
  const auto treatments = patient::Treatments::load(data_directory() / "treatments");
  patient::PatientSetup setup;
  setup.person = adult();
  patient::ConditionUse use;
  use.id = "asthma";
  use.severity = severity;
  setup.conditions.push_back(use);
  return *patient::configure(setup, *conditions, *treatments);
}

// Share of the time in which at least one wheeze can be heard.
double share_of_time(const Recording& r, Sound sound) {
  const double length_s = static_cast<double>(r.samples.size()) / r.sample_rate_hz;
  std::vector<bool> sings(static_cast<std::size_t>(length_s * 100.0), false);
  for (const TruthEvent& e : r.events) {
    if (e.sound != sound || !e.audible) continue;
    for (double t = e.start_s - r.start_s; t < e.end_s - r.start_s; t += 0.01) {
      const auto i = static_cast<std::size_t>(t < 0.0 ? 0.0 : t * 100.0);
      if (i < sings.size()) sings[i] = true;
    }
  }
  double sum = 0.0;
  for (const bool x : sings) sum += x ? 1.0 : 0.0;
  return sum / static_cast<double>(sings.size());
}

// A cough is a forced breath, and forced breaths wheeze: such notes say nothing of the disease.
bool is_in_cough(const Recording& r, const TruthEvent& wheeze) {
  for (const TruthEvent& e : r.events) {
    if (e.sound == Sound::kCough && wheeze.start_s < e.end_s + 0.5 && e.start_s < wheeze.end_s) {
      return true;
    }
  }
  return false;
}

Heard listen_to(double severity, double after_s) {
  auto body = *patient::Patient::make(asthma(severity), Seed{20});
  body.advance_to(body.time_s() + after_s);
  RecordingRequest request;
  request.at = kLeftBase;
  request.seconds = 16.0;
  request.sample_rate_hz = 8000.0;
  request.head = Head::kSensor;
  const Recording r = *record(body, Seed{20}, request);
  Heard h;
  h.severity = severity;
  h.wheeze_share = share_of_time(r, Sound::kWheeze);
  h.level_dbfs = signal::dbfs_from_rms(signal::rms(r.samples));
  for (const TruthEvent& e : r.events) {
    if (e.sound != Sound::kWheeze || !e.audible || is_in_cough(r, e)) continue;
    h.highest_hz = std::max(h.highest_hz, e.pitch_hz);
  }
  h.effort_cmH2O = body.inside().effort_cmH2O;
  h.tidal_L = body.inside().tidal_L;
  return h;
}

void print(const Heard& h) {
  std::printf(
      "[ FIGURE   ] asthma %.2f: wheeze %.0f %% of the time, highest %.0f Hz, level %.1f dBFS, "
      "effort %.0f cmH2O, tidal volume %.2f L\n",
      h.severity, 100.0 * h.wheeze_share, h.highest_hz, h.level_dbfs, h.effort_cmH2O, h.tidal_L);
}

// The picture of docs/validation/asthma_sweep.svg: three curves over severity, each to its own
// span.
void draw(const std::vector<Heard>& sweep) {
  std::ofstream out(std::filesystem::temp_directory_path() / "phren_asthma_sweep.svg");
  out << "<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 640 300' font-family='sans-serif' "
         "font-size='13'><rect width='640' height='300' fill='#fdfcf8'/>\n"
         "<path d='M60 250H600M60 30V250' stroke='#555' fill='none'/>\n";
  for (std::size_t i = 0; i < sweep.size(); i += 2) {
    out << "<text x='" << 52 + 54 * i << "' y='270'>" << sweep[i].severity << "</text>\n";
  }
  out << "<text x='270' y='292'>severity of asthma</text>\n";
  const auto curve = [&](const char* colour, const char* dash, const char* name, double y,
                         const std::function<double(const Heard&)>& share) {
    out << "<polyline fill='none' stroke-width='2.5' stroke='" << colour << "' stroke-dasharray='"
        << dash << "' points='";
    for (std::size_t i = 0; i < sweep.size(); ++i) {
      out << 60 + 54 * i << ',' << static_cast<int>(250.0 - 210.0 * share(sweep[i])) << ' ';
    }
    out << "'/>\n<text x='70' y='" << y << "' fill='" << colour << "'>" << name << "</text>\n";
  };
  curve("#1b4f72", "", "solid: wheeze, 0 to 100 % of the time", 46,
        [](const Heard& h) { return h.wheeze_share; });
  curve("#7a3e00", "8 4", "dashed: level, -55 to -35 dBFS", 64,
        [](const Heard& h) { return (h.level_dbfs + 55.0) / 20.0; });
  curve("#2f5d2f", "2 4", "dotted: effort, 0 to 70 cmH2O", 82,
        [](const Heard& h) { return h.effort_cmH2O / 70.0; });
  out << "</svg>\n";
}

TEST(EmergenceSlow, WheezeRisesWithAsthmaThenSoundFadesWhileEffortRises) {
  std::vector<Heard> sweep;
  for (double severity = 0.0; severity < 1.01; severity += 0.1) {
    sweep.push_back(listen_to(severity, 0.0));
    print(sweep.back());
  }
  draw(sweep);
  EXPECT_EQ(sweep.front().wheeze_share, 0.0);
  const auto by_wheeze = [](const Heard& a, const Heard& b) {
    return a.wheeze_share < b.wheeze_share;
  };
  const auto by_level = [](const Heard& a, const Heard& b) { return a.level_dbfs < b.level_dbfs; };
  const Heard most = *std::max_element(sweep.begin(), sweep.end(), by_wheeze);
  const Heard loudest = *std::max_element(sweep.begin(), sweep.end(), by_level);
  EXPECT_GT(most.wheeze_share, 0.4);
  EXPECT_GE(most.severity, 0.6);
  EXPECT_LT(most.severity, 0.99);
  for (std::size_t i = 1; i < sweep.size() && sweep[i].severity <= most.severity; ++i) {
    EXPECT_GE(sweep[i].wheeze_share, sweep[i - 1].wheeze_share - 0.05);
  }
  const Heard& worst = sweep.back();
  EXPECT_LT(worst.wheeze_share, most.wheeze_share - 0.05);
  EXPECT_LT(worst.level_dbfs, loudest.level_dbfs - 1.5);
  EXPECT_GT(worst.effort_cmH2O, loudest.effort_cmH2O);
  // Left without help the muscles tire, flow falls and so does every sound.
  const Heard later = listen_to(1.0, 1500.0);
  print(later);
  EXPECT_LT(later.level_dbfs, worst.level_dbfs - 1.0);
  EXPECT_LE(later.wheeze_share, worst.wheeze_share + 0.02);
}

// Baughman & Loudon 1984, Chest 86:718, 20 acute asthmatics: share of the breath 86 -> 31 %,
// highest note 440 -> 298 Hz after a bronchodilator. Direction is strict, size is printed.
TEST(EmergenceSlow, BronchodilatorShortensAndLowersTheWheeze) {
  const auto config = asthma(0.85);
  const auto treatments = patient::Treatments::load(data_directory() / "treatments");
  int index = -1;
  for (std::size_t i = 0; i < treatments->all().size(); ++i) {
    if (treatments->all()[i].id == "inhaled_bronchodilator") index = static_cast<int>(i);
  }
  ASSERT_GE(index, 0);
  auto body = *patient::Patient::make(config, Seed{20});
  RecordingRequest request;
  request.at = kLeftBase;
  request.seconds = 20.0;
  request.sample_rate_hz = 8000.0;
  const auto note = [](const Recording& r) {
    double high = 0.0;
    for (const TruthEvent& e : r.events) {
      if (e.sound != Sound::kWheeze || !e.audible || is_in_cough(r, e)) continue;
      if (e.end_s - e.start_s > 0.1) high = std::max(high, e.pitch_hz);  // CORSA's gate
    }
    return high;
  };
  auto before_body = body;
  const Recording before = *record(before_body, Seed{20}, request);
  EXPECT_TRUE(body.act({patient::ActionKind::kTreat, index, exam::Side::kMidline, 0.0}));
  body.advance_to(body.time_s() + 420.0);
  const Recording after = *record(body, Seed{20}, request);
  std::printf(
      "[ FIGURE   ] bronchodilator: wheeze %.0f -> %.0f %% of the time, highest %.0f -> %.0f Hz; "
      "published 86 -> 31 %%, 440 -> 298 Hz\n",
      100.0 * share_of_time(before, Sound::kWheeze), 100.0 * share_of_time(after, Sound::kWheeze),
      note(before), note(after));
  EXPECT_LT(share_of_time(after, Sound::kWheeze), 0.7 * share_of_time(before, Sound::kWheeze));
  EXPECT_LT(note(after), note(before));
}

}  // namespace
}  // namespace phren::acoustics
