// What the judging of the weighing study counts, as plain data for weighing_tables.cc.
#pragma once

#include <array>
#include <filesystem>
#include <map>
#include <string>
#include <vector>

#include "bench/weighing_study.h"
#include "reasoning/types.h"

namespace phren::bench {

inline constexpr std::size_t kBins = 10;

struct Bin {
  double weight = 0.0, predicted = 0.0, observed = 0.0;  // weighted sums
  std::size_t count = 0;
};

// One way of weighing over all patients. Scores count each patient by how common the condition is
// (prior of the setting over the number of patients made), so that they speak of a real mix.
struct Scores {
  std::string name;
  double brier = 0.0, log_loss = 0.0;  // one condition against the rest, mean over conditions
  double top1 = 0.0, top3 = 0.0;       // plain share of patients
  std::array<Bin, kBins> bins;
};

struct PerCondition {
  std::size_t count = 0, top1 = 0, top3 = 0;
  std::size_t threatened = 0, threat_named = 0, threat_open = 0;  // life-threatening cases
  std::size_t named = 0, open = 0;           // threats named, and not excluded, in all its patients
  std::map<std::string, std::size_t> first;  // what came first
};

// bits: gain of the logarithmic score over the priors, all conditions together, patients counted as
// in Scores; the rest are plain shares of patients.
struct CurvePoint {
  double bits = 0.0, top1 = 0.0, threat = 0.0, seconds = 0.0;
};

struct Judgement {
  std::size_t num_patients = 0, num_coexisting = 0;
  std::vector<Scores> ways;  // the default first
  std::map<std::string, PerCondition> conditions;
  std::vector<CurvePoint> best_first, head_to_toe;  // after 0, 1, 2 ... looks
  std::size_t num_curve_patients = 0;
};

int write_tables(const Judgement& judgement, const std::filesystem::path& folder);

}  // namespace phren::bench
