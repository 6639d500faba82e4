// The network in C++ against the framework that trained it, on made-up sounds (training/golden.py).
#include <gtest/gtest.h>

#include <cmath>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "base/files.h"
#include "measurement/measure.h"
#include "measurement/network.h"

namespace phren::measurement {
namespace {

constexpr double kTolerance = 1e-4;

std::vector<float> sound(double seconds, std::uint32_t state) {  // `sound` in training/golden.py
  const auto n = static_cast<std::size_t>(std::lround(seconds * 4000.0));
  std::vector<float> out(n);
  for (std::size_t i = 0; i < n; ++i) {
    state = 1664525u * state + 1013904223u;
    const double noise = static_cast<double>(state >> 8) / 16777216.0 - 0.5;
    const double rise = std::abs(static_cast<double>(i % 3200) - 1600.0) / 1600.0;
    const double t = static_cast<double>(i) / 4000.0;
    const bool on = i % 4000 >= 1200 && i % 4000 < 2400;
    const double tone = std::sin(2.0 * M_PI * (220.0 * t + 8.0 * t * t));
    out[i] = static_cast<float>(0.02 * noise * rise + (on ? 0.004 * tone : 0.0));
  }
  return out;
}

TEST(GoldenVectors, AgreeWithTheTrainingFramework) {
  const std::filesystem::path folder = model_directory();
  auto network = Network::load(folder / "recording_network.bin");
  ASSERT_TRUE(network) << network.error().message;
  auto text = read_file(folder / "golden.json");
  ASSERT_TRUE(text) << text.error().message;
  const auto golden = nlohmann::json::parse(*text);
  Analyser analyser;
  double worst_plane = 0.0, worst_logit = 0.0;
  const auto near = [](double is, double must, double& worst) {
    EXPECT_NEAR(is, must, kTolerance);
    worst = std::max(worst, std::abs(is - must));
  };
  for (const auto& c : golden.at("cases")) {
    SCOPED_TRACE(c.at("seconds").dump() + " s");
    network->run(analyser.analyse(sound(c.at("seconds"), c.at("seed"))));
    const auto planes = network->input_planes();
    const std::size_t length = planes.size() / 256, at = c.at("frame");
    for (std::size_t p = 0; p < 4; ++p)
      for (std::size_t b = 0; b < 64; ++b)
        near(static_cast<double>(planes[(p * 64 + b) * length + at]), c.at("planes")[p][b],
             worst_plane);
    const auto frames = network->frame_logits();
    ASSERT_EQ(frames.size(), 5 * c.at("frames")[0].size());
    for (std::size_t i = 0; i < frames.size(); ++i)
      near(static_cast<double>(frames[i]),
           c.at("frames")[i / network->num_frames()][i % network->num_frames()], worst_logit);
    for (std::size_t kind = 0; kind < kNumRecordingKinds; ++kind) {
      const auto like = static_cast<RecordingKind>(kind);
      for (const auto& e : c.at("events")) {
        const auto logits = network->event_logits(e.at("start_ms").get<double>() / 1000.0,
                                                  e.at("end_ms").get<double>() / 1000.0, like);
        for (std::size_t k = 0; k < logits.size(); ++k)
          near(static_cast<double>(logits[k]), e.at("logits")[kind][k], worst_logit);
      }
      const auto record = network->record_logits(like);
      for (std::size_t k = 0; k < record.size(); ++k)
        near(static_cast<double>(record[k]), c.at("record")[kind][k], worst_logit);
    }
  }
  std::printf("[ FIGURE   ] golden vectors: planes within %.1e, logits within %.1e\n", worst_plane,
              worst_logit);
}

}  // namespace
}  // namespace phren::measurement
