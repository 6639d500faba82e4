// What listening costs: share of one core per second of sound for demo conditions, and against the
// same count of noise sources, filters and oscillators in a Faust-compiled graph, in Csound and in
// the browser's module. Best of several slices each, all in this one run; what is not installed is
// left out with a word.
#include <sys/resource.h>
#include <time.h>

#include <algorithm>
#include <array>
#include <cstdio>
#include <cstdlib>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "base/files.h"
#include "bedside/bedside.h"
#include "patient/conditions.h"

#ifdef PHREN_FAUST
#include "faust_host.h"
#endif

namespace {

using phren::bedside::Bedside;

constexpr double kRate_hz = 48000.0;
constexpr std::size_t kBlock = 128;

// Processor time of this thread, and of the programs it has waited for: what other programs do
// meanwhile does not count.
double cpu_s() {
  timespec now{};
  clock_gettime(CLOCK_THREAD_CPUTIME_ID, &now);
  return static_cast<double>(now.tv_sec) + 1e-9 * static_cast<double>(now.tv_nsec);
}
double children_cpu_s() {
  rusage used{};
  getrusage(RUSAGE_CHILDREN, &used);
  return static_cast<double>(used.ru_utime.tv_sec + used.ru_stime.tv_sec) +
         1e-6 * static_cast<double>(used.ru_utime.tv_usec + used.ru_stime.tv_usec);
}

phren::patient::PatientConfig config_of(const std::string& condition, double severity) {
  const auto conditions = phren::patient::Conditions::load(phren::data_directory() / "conditions");
  const auto treatments = phren::patient::Treatments::load(phren::data_directory() / "treatments");
  phren::patient::PatientSetup setup;
  setup.person.height_cm = 172.0;
  setup.person.weight_kg = 70.0;
  phren::patient::ConditionUse use;
  use.id = condition;
  use.severity = severity;
  setup.conditions.push_back(use);
  return *phren::patient::configure(setup, *conditions, *treatments);
}

struct Cost {
  double whole_ns = 0.0;  // patient and sound, per sample
  double sound_ns = 0.0;  // sound alone
  double block_us = 0.0;  // 99.9th percentile of a 128-frame block
};

Cost cost_of(const std::string& condition, double severity) {
  const auto config = config_of(condition, severity);
  Cost cost;
  {
    auto engine = *Bedside::make({config, {}, {}, {}}, phren::Seed{1}, kRate_hz);
    engine.chestpiece().move_to({phren::exam::Aspect::kBack, -0.45, 0.82});
    std::array<float, kBlock> out{};
    std::vector<double> block_s;
    double best = 1e9;
    for (int slice = 0; slice < 40; ++slice) {
      const double from = cpu_s();
      for (std::size_t i = 0; i < 375; ++i) {  // one second of sound
        const double start = cpu_s();
        engine.render(out);
        block_s.push_back(cpu_s() - start);
      }
      best = std::min(best, cpu_s() - from);
    }
    cost.whole_ns = 1e9 * best / kRate_hz;
    std::sort(block_s.begin(), block_s.end());
    cost.block_us =
        1e6 * block_s[static_cast<std::size_t>(0.999 * static_cast<double>(block_s.size()))];
  }
  auto body = *phren::patient::Patient::make(config, phren::Seed{1});
  auto piece = *phren::acoustics::Chestpiece::make({kRate_hz, body.person(), phren::Seed{1}});
  piece.move_to({phren::exam::Aspect::kBack, -0.45, 0.82});
  std::vector<float> out(375);  // one patient step
  double best = 1e9;
  for (int slice = 0; slice < 40; ++slice) {
    std::vector<phren::patient::Snapshot> states;
    for (int i = 0; i < 128; ++i) {
      body.step();
      states.push_back(body.snapshot());
    }
    const double from = cpu_s();
    for (const auto& state : states) piece.render(state, out);
    best = std::min(best, cpu_s() - from);
  }
  cost.sound_ns = 1e9 * best / kRate_hz;
  return cost;
}

std::string output_of(const std::string& command) {
  std::string text;
  if (FILE* pipe = popen(command.c_str(), "r")) {
    char line[256];
    while (std::fgets(line, sizeof line, pipe) != nullptr) text += line;
    if (pclose(pipe) != 0) text.clear();
  }
  return text;
}

bool has(const std::string& program) {
  return std::system(("command -v " + program + " >/dev/null 2>&1").c_str()) == 0;
}

double csound_ns() {
  const auto run = [](int seconds) {
    const std::string command =
        "csound --omacro:SECONDS=1 --smacro:SECONDS=" + std::to_string(seconds) +
        " " PHREN_BENCH_SOURCE "/acoustics_graph.csd >/dev/null 2>&1";
    double best = 1e9;
    for (int i = 0; i < 3; ++i) {
      const double from = children_cpu_s();
      if (std::system(command.c_str()) != 0) return -1.0;
      best = std::min(best, children_cpu_s() - from);
    }
    return best;
  };
  const double longer = run(12), shorter = run(2);
  return longer < 0.0 || shorter < 0.0 ? -1.0 : 1e9 * (longer - shorter) / (10.0 * kRate_hz);
}

void compare(const char* name, double other_ns, double ours_ns, const char* wanted) {
  if (other_ns <= 0.0) {
    std::printf("%-34s not installed or failed: left out\n", name);
  } else {
    std::printf("%-34s %8.1f ns/sample   ours is %.2f x   %s\n", name, other_ns, ours_ns / other_ns,
                wanted);
  }
}

}  // namespace

int main() {
  std::printf("%-34s %10s %10s %9s %14s\n", "condition", "sound ns", "whole ns", "core %",
              "block p99.9 us");
  double busiest_ns = 0.0, whole_ns = 0.0;
  for (const auto& [name, severity] :
       {std::pair{"healthy", 0.0}, {"asthma", 0.8}, {"cardiogenic_oedema", 0.7}}) {
    const Cost c = cost_of(name, severity);
    std::printf("%-34s %10.1f %10.1f %8.2f%% %9.1f (%.1f %% of its time)\n", name, c.sound_ns,
                c.whole_ns, c.whole_ns * kRate_hz * 1e-7, c.block_us,
                100.0 * c.block_us / (1e6 * kBlock / kRate_hz));
    if (std::string(name) == "asthma") busiest_ns = c.sound_ns, whole_ns = c.whole_ns;
  }
  std::printf(
      "\nagainst asthma's sound: 40 noises, 59 second-order and 33 one-pole filters, 24 "
      "oscillators\n");
#ifdef PHREN_FAUST
  compare("Faust graph, compiled alike", phren_faust_ns_per_sample(kRate_hz), busiest_ns,
          "(wanted <= 0.50)");
#else
  compare("Faust graph", -1.0, busiest_ns, "");
#endif
  compare("Csound", has("csound") ? csound_ns() : -1.0, busiest_ns, "(wanted <= 0.30)");
  double wasm_ns = -1.0;
  if (has("node") && std::string(PHREN_ENGINE_FILE) != "") {
    const std::string file = std::string(PHREN_BENCH_OUT) + "/asthma_config.json";
    const auto numbers = nlohmann::json(phren::patient::pack(config_of("asthma", 0.8))).dump();
    if (phren::write_file(file, numbers)) {
      wasm_ns = std::atof(output_of("node " PHREN_BENCH_SOURCE
                                    "/acoustics_engine.mjs " PHREN_ENGINE_FILE " " +
                                    file + " 24")
                              .c_str());
    }
  }
  if (wasm_ns > 0.0) {
    std::printf("%-34s %8.1f ns/sample   %.2f x native %.1f   (wanted <= 2.20)\n",
                "whole engine as WebAssembly in V8", wasm_ns, wasm_ns / whole_ns, whole_ns);
  } else {
    std::printf("%-34s no node or no module: left out\n", "whole engine as WebAssembly");
  }
  return 0;
}
