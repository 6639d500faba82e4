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
  std::map<std::size_t, std::size_t> list_lengths, named_lengths;  // patients by number of threats
};

// One order of looks, averaged over patients, after 0, 1, 2 ... looks and after so many seconds.
// bits: gain of the logarithmic score over the priors, all conditions together, patients counted as
// in Scores; the rest are plain shares of patients (threat: of those with a threat).
struct CurvePoint {
  double bits = 0.0, top1 = 0.0, threat = 0.0, seconds = 0.0;
};
// How far the best look is ahead of another order, same patients: difference and 95 % interval.
struct Lead {
  double bits = 0.0, bits_sd = 0.0, threat = 0.0, threat_sd = 0.0;
};
struct Order {
  std::string name;
  std::vector<CurvePoint> by_look, by_time;
  std::vector<Lead> behind_by_look, behind_by_time;  // empty for the best look itself
};
inline constexpr std::size_t kMostLooks = 16;
inline constexpr double kTimeStep_s = 15.0;
inline constexpr std::size_t kTimeSteps = 24;  // to six minutes

struct Judgement {
  std::size_t num_patients = 0, num_coexisting = 0;
  std::vector<Scores> ways;  // the default first
  std::map<std::string, PerCondition> conditions;
  std::vector<Order> orders;  // the best look first
  std::size_t num_curve_patients = 0;
};

struct Case {
  StudyPatient patient;
  exam::Examination seen;
  double weight = 0.0;
  const std::string& id() const { return patient.condition_ids.front(); }
};

// Able to kill soon, and severe enough to count (kLifeThreateningSeverity).
bool is_threatened(const Case& c);
inline constexpr double kLifeThreateningSeverity = 0.5;
// The threat that belongs to `condition` is named; or is in the list, named or not excluded yet.
bool is_threat_named(const reasoning::Impression& impression, const std::string& condition);
bool is_threat_held(const reasoning::Impression& impression, const std::string& condition);
// Each patient counts by the prior of its condition and of what comes with it; the settings count
// alike.
void set_weights(std::vector<Case>& cases, const reasoning::Knowledge& knowledge);

void compare_orders(const std::vector<Case>& cases, std::size_t per_condition,
                    const reasoning::Knowledge& knowledge, Judgement& out);
int write_tables(const Judgement& judgement, const std::filesystem::path& folder);

}  // namespace phren::bench
