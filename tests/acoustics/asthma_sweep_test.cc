// Asthma from none to its worst: what the ear is told as the body gets sicker. Nobody writes the
// sound of a severity; it has to come out of flow, gaps, mucus and volumes.
#include <gtest/gtest.h>

#include <cstdio>
#include <filesystem>
#include <fstream>
#include <functional>

#include "acoustics/bedside.h"

namespace phren::acoustics {
namespace {

using namespace testing;

constexpr std::array<std::uint64_t, 5> kBodies{3, 7, 11, 13, 20};  // seeds
constexpr std::array kSites{"F5", "F6", "P1", "P2", "P5", "P6", "P9", "P10"};

struct Heard {  // means over the bodies of medians over the sites
  double severity = 0.0;
  double wheeze_share = 0.0, level_dbfs = 0.0;
  double highest_hz = 0.0,
         singing = 0.0;  // the note: mean over the bodies that wheeze, their count
  double swing_cmH2O = 0.0, accessory = 0.0, tidal_L = 0.0, peak_in_L_per_s = 0.0;
  double paco2_mmHg = 0.0, spo2_percent = 0.0;
};

void listen_to(const patient::Patient& body, std::uint64_t seed, Heard& sum) {
  std::vector<double> share, level, note;
  for (const char* id : kSites) {
    const Recording r = listen(body, site(id), 16.0, 4000.0, seed);
    const Wheezing w = wheezing(r, 0.1);
    share.push_back(w.share);
    note.push_back(w.highest_hz);
    level.push_back(breathing_level_dbfs(r, body));
  }
  auto after = body;
  double peak = 0.0;
  while (after.time_s() < body.time_s() + 16.0) {
    after.step();
    if (after.breathing().manoeuvre() == patient::Manoeuvre::kTidal) {
      peak = std::max(peak, after.snapshot().trachea_flow_L_per_s);
    }
  }
  const patient::Inside in = after.inside();
  constexpr double kPart = 1.0 / static_cast<double>(kBodies.size());
  sum.wheeze_share += kPart * median(share);
  if (median(note) > 0.0) {
    sum.highest_hz = (sum.singing * sum.highest_hz + median(note)) / (sum.singing + 1.0);
    sum.singing += 1.0;
  }
  sum.level_dbfs += kPart * median(level);
  sum.swing_cmH2O += kPart * (in.most_pleural_cmH2O - in.least_pleural_cmH2O);
  sum.accessory += kPart * after.signs().accessory_muscles;
  sum.tidal_L += kPart * in.tidal_L;
  sum.peak_in_L_per_s += kPart * peak;
  sum.paco2_mmHg += kPart * in.paco2_mmHg;
  sum.spo2_percent += kPart * after.monitor().spo2_percent;
}

Heard hear_severity(double severity) {
  Heard h;
  h.severity = severity;
  for (const std::uint64_t seed : kBodies) {
    listen_to(sick("asthma", severity, adult(), exam::Side::kMidline, -1, seed), seed, h);
  }
  return h;
}

void print(const Heard& h) {
  std::printf(
      "[ FIGURE   ] asthma %.2f: wheeze %.0f %% of the time, highest %.0f Hz, level %.1f dBFS, "
      "pleural swing %.0f cmH2O, accessory muscles %.2f, tidal %.2f L, peak inflow %.2f L/s, "
      "PaCO2 %.0f mmHg, SpO2 %.0f %%\n",
      h.severity, 100.0 * h.wheeze_share, h.highest_hz, h.level_dbfs, h.swing_cmH2O, h.accessory,
      h.tidal_L, h.peak_in_L_per_s, h.paco2_mmHg, h.spo2_percent);
}

// The table of docs/validation/asthma_sweep.md.
void write_table(const std::vector<Heard>& sweep, const std::filesystem::path& path) {
  std::ofstream out(path);
  out << "| severity | wheeze, share of the time | highest note | level, 100-1000 Hz | pleural "
         "swing "
         "| accessory muscles | tidal volume | peak flow in | PaCO2 | SpO2 |\n"
         "|---|---|---|---|---|---|---|---|---|---|\n";
  for (const Heard& h : sweep) {
    std::array<char, 256> row{};
    std::snprintf(
        row.data(), row.size(),
        "| %.2f | %.0f %% | %.0f Hz | %.1f dBFS | %.0f cmH2O | %.2f | %.2f L | %.2f L/s | "
        "%.0f mmHg | %.0f %% |\n",
        h.severity, 100.0 * h.wheeze_share, h.highest_hz, h.level_dbfs, h.swing_cmH2O, h.accessory,
        h.tidal_L, h.peak_in_L_per_s, h.paco2_mmHg, h.spo2_percent);
    out << row.data();
  }
}

// The picture of docs/validation/asthma_sweep.svg: three curves over severity, each to its own
// span.
void draw(const std::vector<Heard>& sweep, const std::filesystem::path& path) {
  std::ofstream out(path);
  out << "<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 640 300' font-family='sans-serif' "
         "font-size='13'><rect width='640' height='300' fill='#fdfcf8'/>\n"
         "<path d='M60 250H600M60 30V250' stroke='#555' fill='none'/>\n";
  const auto x_of = [](double severity) { return static_cast<int>(60.0 + 540.0 * severity); };
  for (int k = 0; k <= 5; ++k) {
    out << "<text x='" << x_of(0.2 * k) - 8 << "' y='270'>"
        << (k == 0   ? "0"
            : k == 5 ? "1"
                     : "0.")
        << (k > 0 && k < 5 ? std::to_string(2 * k) : "") << "</text>\n";
  }
  out << "<text x='270' y='292'>severity of asthma</text>\n";
  const auto curve = [&](const char* colour, const char* dash, const char* name, double y,
                         const std::function<double(const Heard&)>& share) {
    out << "<polyline fill='none' stroke-width='2.5' stroke='" << colour << "' stroke-dasharray='"
        << dash << "' points='";
    for (const Heard& h : sweep) {
      out << x_of(h.severity) << ',' << static_cast<int>(250.0 - 210.0 * share(h)) << ' ';
    }
    out << "'/>\n<text x='70' y='" << y << "' fill='" << colour << "'>" << name << "</text>\n";
  };
  curve("#1b4f72", "", "solid: wheeze, 0 to 100 % of the time", 46,
        [](const Heard& h) { return h.wheeze_share; });
  curve("#7a3e00", "8 4", "dashed: level, -60 to -30 dBFS", 64,
        [](const Heard& h) { return (h.level_dbfs + 60.0) / 30.0; });
  curve("#2f5d2f", "2 4", "dotted: pleural swing, 0 to 70 cmH2O", 82,
        [](const Heard& h) { return h.swing_cmH2O / 70.0; });
  out << "</svg>\n";
}

TEST(AsthmaSweepSlow, WheezeRisesThenTheChestFallsSilentWhileEffortRises) {
  std::vector<Heard> sweep;
  for (const double severity :
       {0.0, 0.1, 0.2, 0.25, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.85, 0.9, 0.95, 1.0}) {
    sweep.push_back(hear_severity(severity));
    print(sweep.back());
  }
  const auto folder = std::filesystem::temp_directory_path();
  write_table(sweep, folder / "phren_asthma_sweep.md");
  draw(sweep, folder / "phren_asthma_sweep.svg");

  const auto at = [&](double severity) {
    return *std::find_if(sweep.begin(), sweep.end(),
                         [=](const Heard& h) { return h.severity == severity; });
  };
  const Heard most = *std::max_element(
      sweep.begin(), sweep.end(),
      [](const Heard& a, const Heard& b) { return a.wheeze_share < b.wheeze_share; });
  const Heard loudest =
      *std::max_element(sweep.begin(), sweep.end(),
                        [](const Heard& a, const Heard& b) { return a.level_dbfs < b.level_dbfs; });
  // From nothing through some wheeze in mild disease to most of the breath.
  EXPECT_EQ(sweep.front().wheeze_share, 0.0);
  EXPECT_GT(at(0.3).wheeze_share, 0.05);
  EXPECT_LT(at(0.2).wheeze_share, 0.3);
  EXPECT_GT(most.wheeze_share, 0.6);
  EXPECT_GE(most.severity, 0.6);
  EXPECT_LE(most.severity, 0.9);
  for (std::size_t i = 1; i < sweep.size() && sweep[i].severity <= most.severity; ++i) {
    EXPECT_GE(sweep[i].wheeze_share, sweep[i - 1].wheeze_share - 0.05) << sweep[i].severity;
  }
  // Then silence, while the work goes on rising.
  constexpr double kTires = 0.9;
  const Heard& worst = sweep.back();
  std::printf(
      "[ FIGURE   ] silence: level %.1f dB below its peak at %.2f, wheeze %.0f %% of %.0f\n",
      loudest.level_dbfs - worst.level_dbfs, loudest.severity, 100.0 * worst.wheeze_share,
      100.0 * most.wheeze_share);
  EXPECT_LT(worst.level_dbfs, loudest.level_dbfs - 14.0);
  // Quieter than a healthy chest at rest, though the effort is more than ten times as great.
  EXPECT_LT(worst.level_dbfs, sweep.front().level_dbfs);
  EXPECT_GT(worst.swing_cmH2O, 10.0 * sweep.front().swing_cmH2O);
  EXPECT_LT(worst.wheeze_share, 0.05);
  for (std::size_t i = 1; i < sweep.size(); ++i) {
    if (sweep[i].severity <= loudest.severity) continue;
    EXPECT_LT(sweep[i].level_dbfs, sweep[i - 1].level_dbfs) << sweep[i].severity;
    // At the very worst the muscles tire: the swing shrinks, and is still ten times a healthy one.
    if (sweep[i].severity <= kTires) {
      EXPECT_GT(sweep[i].swing_cmH2O, sweep[i - 1].swing_cmH2O) << sweep[i].severity;
    }
    EXPECT_GE(sweep[i].accessory, sweep[i - 1].accessory - 0.01) << sweep[i].severity;
  }
  // It breathes all the same: this is the silence of too little flow, not of death.
  EXPECT_GT(worst.tidal_L, 0.1);
  EXPECT_GT(worst.paco2_mmHg, 42.0);  // near-fatal asthma: raised PaCO2 (BTS/SIGN)
}

// Spence 1992, Thorax 47:680: wheeze can be heard after FEV1 has fallen by 35 % (standard error
// 6.3 % of six subjects, so a standard deviation of 15 %).
TEST(AsthmaSweepSlow, WheezeBeginsWhereFev1HasFallenByAThird) {
  const auto body_of = [](double severity, std::uint64_t seed) {
    return sick("asthma", severity, adult(), exam::Side::kMidline, -1, seed);
  };
  double sum = 0.0;
  for (const std::uint64_t seed : kBodies) {
    const double healthy = body_of(0.0, seed).forced_breath().fev1_L;
    double severity = 0.05, fall = 0.0;
    for (bool is_heard = false; !is_heard && severity < 0.8; severity += 0.025) {
      const auto body = body_of(severity, seed);
      fall = 1.0 - body.forced_breath().fev1_L / healthy;
      for (const char* id : {"P9", "P10", "F5", "F6"}) {
        const Recording r = listen(body, site(id), 16.0, 4000.0, seed);
        is_heard = is_heard || wheezing(r).share > 0.02;
      }
    }
    std::printf("body %llu: first wheeze at severity %.3f, FEV1 %.0f %% down\n",
                static_cast<unsigned long long>(seed), severity - 0.025, 100.0 * fall);
    sum += fall / static_cast<double>(kBodies.size());
  }
  std::printf("[ FIGURE   ] 25 first wheeze at a fall of FEV1 by %.0f %%; published 35 +- 15 %%\n",
              100.0 * sum);
  EXPECT_NEAR(sum, 0.35, 0.15);
}

}  // namespace
}  // namespace phren::acoustics
