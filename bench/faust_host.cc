#include "faust_host.h"

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdint>
#include <memory>
#include <vector>

// The little of Faust's own architecture that a graph needs.
struct Meta {
  void declare(const char*, const char*) {}
};
struct UI {
  void openVerticalBox(const char*) {}
  void openHorizontalBox(const char*) {}
  void closeBox() {}
  void addHorizontalSlider(const char*, float*, float, float, float, float) {}
  void declare(float*, const char*, const char*) {}
};
struct dsp {
  virtual ~dsp() = default;
};
#define FAUSTFLOAT float
#include "acoustics_graph.h"

double phren_faust_ns_per_sample(double sample_rate_hz) {
  auto graph = std::make_unique<Graph>();
  graph->init(static_cast<int>(sample_rate_hz));
  std::vector<float> out(128);
  float* outputs[] = {out.data()};
  double best = 1e9;
  for (int slice = 0; slice < 40; ++slice) {
    const auto from = std::chrono::steady_clock::now();
    for (int block = 0; block < 100; ++block) graph->compute(128, nullptr, outputs);
    const std::chrono::duration<double> took = std::chrono::steady_clock::now() - from;
    best = std::min(best, took.count() / (100.0 * 128.0));
  }
  return 1e9 * best;
}
