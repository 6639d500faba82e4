// Elementary functions and random draws: the price of the same bits everywhere.
#include <benchmark/benchmark.h>

#include <cmath>

#include "base/det_math.h"
#include "base/random.h"

namespace {

template <double Function(double)>
void measure_function(benchmark::State& state) {
  double x = 0.0;
  for (auto _ : state) {
    x = x > 6.0 ? 0.001 : x + 0.01;
    benchmark::DoNotOptimize(Function(x));
  }
}
double our_sin(double x) {
  return phren::det::sin(x);
}
double our_exp(double x) {
  return phren::det::exp(x);
}
double libm_sin(double x) {
  return std::sin(x);
}
double libm_exp(double x) {
  return std::exp(x);
}
BENCHMARK(measure_function<our_sin>)->Name("sin, ours");
BENCHMARK(measure_function<libm_sin>)->Name("sin, libm (baseline)");
BENCHMARK(measure_function<our_exp>)->Name("exp, ours");
BENCHMARK(measure_function<libm_exp>)->Name("exp, libm (baseline)");

void draw_normal(benchmark::State& state) {
  phren::RandomStream random(phren::Seed{1}, "bench");
  for (auto _ : state) benchmark::DoNotOptimize(random.normal());
}
BENCHMARK(draw_normal)->Name("one normal draw");

}  // namespace
