// How many seconds of patient one second of one core gives, and that the cost is linear in
// patients.
#include <benchmark/benchmark.h>

#include <vector>

#include "base/files.h"
#include "patient/conditions.h"
#include "patient/patient.h"

namespace phren::patient {
namespace {

Patient adult(const char* condition) {
  const Conditions conditions = *Conditions::load(data_directory() / "conditions");
  const Treatments treatments = *Treatments::load(data_directory() / "treatments");
  PatientSetup setup;
  setup.conditions = {{.id = condition, .severity = 0.7}};
  setup.minutes_before = 2.0;
  return *Patient::make(*configure(setup, conditions, treatments), Seed{1});
}

void BM_OneAdult(benchmark::State& state, const char* condition) {
  Patient p = adult(condition);
  for (auto _ : state) p.advance_to(p.time_s() + 1.0);
  state.counters["x_real_time"] =
      benchmark::Counter(static_cast<double>(state.iterations()), benchmark::Counter::kIsRate);
}
BENCHMARK_CAPTURE(BM_OneAdult, healthy, "healthy");
BENCHMARK_CAPTURE(BM_OneAdult, asthma, "asthma");
BENCHMARK_CAPTURE(BM_OneAdult, cardiogenic_oedema, "cardiogenic_oedema");

void BM_ManyPatients(benchmark::State& state) {
  std::vector<Patient> ward(static_cast<std::size_t>(state.range(0)), adult("asthma"));
  for (auto _ : state) {
    for (Patient& p : ward) p.advance_to(p.time_s() + 1.0);
  }
  state.SetComplexityN(state.range(0));
  state.counters["x_real_time_each"] = benchmark::Counter(
      static_cast<double>(state.iterations() * state.range(0)), benchmark::Counter::kIsRate);
}
BENCHMARK(BM_ManyPatients)->RangeMultiplier(4)->Range(1, 256)->Complexity(benchmark::oN);

}  // namespace
}  // namespace phren::patient
