// Reading and writing an examination of 32 sites and 60 findings.
#include <benchmark/benchmark.h>

#include "exam/record.h"

namespace {

phren::exam::Examination full_examination() {
  phren::exam::Examination exam;
  for (int i = 0; i < 32; ++i) {
    exam.sites.push_back({"F" + std::to_string(i), "audio/F.wav", -31.4159 - i, {}, {"a note"}});
  }
  for (int i = 0; i < 60; ++i) {
    phren::exam::Finding finding;
    finding.id = "wheeze";
    finding.site_ids = {"F1", "F2", "F3"};
    finding.confidence = 1.0 / (1 + i);
    exam.findings.push_back(finding);
  }
  return exam;
}

void write(benchmark::State& state) {
  const auto exam = full_examination();
  for (auto _ : state) benchmark::DoNotOptimize(phren::exam::to_json(exam));
}
BENCHMARK(write)->Name("write an examination");

void read(benchmark::State& state) {
  const std::string text = phren::exam::to_json(full_examination());
  for (auto _ : state) benchmark::DoNotOptimize(phren::exam::examination_from_json(text, "e"));
  state.SetBytesProcessed(static_cast<std::int64_t>(state.iterations() * text.size()));
}
BENCHMARK(read)->Name("read an examination");

}  // namespace
