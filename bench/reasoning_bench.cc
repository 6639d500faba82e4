// Weighing: one examination with intervals, looks, threats and rules; ten thousand of them; and the
// price of loading the tables.
#include <benchmark/benchmark.h>

#include "base/files.h"
#include "base/random.h"
#include "reasoning/json.h"
#include "reasoning/weigh.h"

namespace {

using namespace phren;

const reasoning::Knowledge& knowledge() {
  static const auto loaded = reasoning::Knowledge::load(data_directory()).value();
  return loaded;
}

// A third of all findings looked at, four in ten of them there, and all vital signs.
exam::Examination patient(std::uint64_t seed) {
  RandomStream random(Seed{seed}, "bench");
  exam::Examination x;
  x.age_years = random.uniform(1, 90);
  x.setting = x.age_years < 16 ? "ems_child" : "ems_adult";
  x.vital_signs = {random.uniform(8, 40),   random.uniform(80, 100), random.uniform(20, 60),
                   random.uniform(50, 150), random.uniform(80, 200), random.uniform(50, 100),
                   random.uniform(36, 40)};
  for (const auto& info : knowledge().findings.all()) {
    if (info.pattern || !random.chance(0.33)) continue;
    exam::Finding f;
    f.id = info.id;
    f.presence = random.chance(0.4) ? exam::Presence::kPresent : exam::Presence::kAbsent;
    f.basis = info.found_by;
    x.findings.push_back(std::move(f));
  }
  return x;
}

const std::vector<exam::Examination>& ten_thousand() {
  static const auto patients = [] {
    std::vector<exam::Examination> out;
    for (std::uint64_t seed = 0; seed < 10000; ++seed) out.push_back(patient(seed));
    return out;
  }();
  return patients;
}

void weigh_one(benchmark::State& state) {
  std::size_t n = 0;
  for (auto _ : state) {
    benchmark::DoNotOptimize(reasoning::weigh(ten_thousand()[++n % 10000], knowledge()));
  }
}
BENCHMARK(weigh_one)->Unit(benchmark::kMillisecond);

void weigh_ten_thousand(benchmark::State& state) {
  const auto& patients = ten_thousand();
  for (auto _ : state) {
    for (const auto& x : patients) benchmark::DoNotOptimize(reasoning::weigh(x, knowledge()));
  }
  state.SetItemsProcessed(state.iterations() * 10000);
}
BENCHMARK(weigh_ten_thousand)->Unit(benchmark::kMillisecond)->Iterations(1);

void impression_as_json(benchmark::State& state) {
  const auto impression = reasoning::weigh(patient(1), knowledge()).value();
  for (auto _ : state) benchmark::DoNotOptimize(reasoning::to_json_text(impression));
}
BENCHMARK(impression_as_json)->Unit(benchmark::kMillisecond);

void load_tables(benchmark::State& state) {
  for (auto _ : state) benchmark::DoNotOptimize(reasoning::Knowledge::load(data_directory()));
}
BENCHMARK(load_tables)->Unit(benchmark::kMillisecond);

}  // namespace
