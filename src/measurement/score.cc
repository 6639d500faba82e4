#include "measurement/score.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <tuple>

#include "base/random.h"
#include "signal/envelope.h"

namespace phren::measurement {
namespace {

struct Counts {
  double adventitious = 0.0, adventitious_right = 0.0, normal = 0.0, normal_right = 0.0;
  void operator+=(const Counts& other) {
    adventitious += other.adventitious;
    adventitious_right += other.adventitious_right;
    normal += other.normal;
    normal_right += other.normal_right;
  }
};

Scores scores_of(const Counts& c) {
  return {c.adventitious > 0.0 ? c.adventitious_right / c.adventitious : 0.0,
          c.normal > 0.0 ? c.normal_right / c.normal : 0.0};
}

Counts count_events(const ScoredRecording& r, bool is_exact) {
  Counts c;
  for (std::size_t i = 0; i < r.true_events.size() && i < r.given_events.size(); ++i) {
    const EventLabel truth = r.true_events[i].label, guess = r.given_events[i].label;
    if (truth == EventLabel::kNormal) {
      c.normal += 1.0;
      c.normal_right += guess == EventLabel::kNormal ? 1.0 : 0.0;
    } else {
      c.adventitious += 1.0;
      c.adventitious_right +=
          (is_exact ? guess == truth : guess != EventLabel::kNormal) ? 1.0 : 0.0;
    }
  }
  return c;
}

bool is_adventitious(RecordLabel label) {
  return label != RecordLabel::kNormal && label != RecordLabel::kPoorQuality;
}

Counts count_record(const ScoredRecording& r, bool is_exact) {
  Counts c;
  if (r.truth == RecordLabel::kNormal) {
    c.normal = 1.0;
    c.normal_right = r.guess == RecordLabel::kNormal ? 1.0 : 0.0;
  } else if (is_adventitious(r.truth)) {
    c.adventitious = 1.0;
    c.adventitious_right = (is_exact ? r.guess == r.truth : is_adventitious(r.guess)) ? 1.0 : 0.0;
  }
  return c;
}

Counts count(Task task, const ScoredRecording& r) {
  switch (task) {
    case Task::kEventBinary:
      return count_events(r, false);
    case Task::kEventClasses:
      return count_events(r, true);
    case Task::kRecordMerged:
      return count_record(r, false);
    case Task::kRecordClasses:
      return count_record(r, true);
  }
  return {};
}

// One-to-one matches with an overlap of at least half of the union, best overlap first.
std::size_t count_matches(const std::vector<Span>& truth, const std::vector<Span>& found) {
  struct Pair {
    double overlap;
    std::size_t t, f;
  };
  std::vector<Pair> pairs;
  for (std::size_t t = 0; t < truth.size(); ++t)
    for (std::size_t f = 0; f < found.size(); ++f) {
      const double both =
          std::min(truth[t].end_s, found[f].end_s) - std::max(truth[t].start_s, found[f].start_s);
      const double either =
          std::max(truth[t].end_s, found[f].end_s) - std::min(truth[t].start_s, found[f].start_s);
      if (both > 0.0 && both >= 0.5 * either) pairs.push_back({both / either, t, f});
    }
  std::sort(pairs.begin(), pairs.end(), [](const Pair& a, const Pair& b) {
    return std::tie(b.overlap, a.t, a.f) < std::tie(a.overlap, b.t, b.f);
  });
  std::vector<bool> is_used_t(truth.size()), is_used_f(found.size());
  std::size_t matches = 0;
  for (const Pair& p : pairs) {
    if (is_used_t[p.t] || is_used_f[p.f]) continue;
    is_used_t[p.t] = is_used_f[p.f] = true;
    ++matches;
  }
  return matches;
}

Detection detection(std::size_t matches, std::size_t num_true, std::size_t num_found) {
  Detection d;
  d.num_true = num_true;
  d.num_found = num_found;
  const auto share = [](std::size_t part, std::size_t whole) {
    return whole > 0 ? static_cast<double>(part) / static_cast<double>(whole) : 0.0;
  };
  d.recall = share(matches, num_true);
  d.precision = share(matches, num_found);
  d.f1 = share(2 * matches, num_true + num_found);
  return d;
}

std::vector<Span> only(const std::vector<Span>& spans, EventLabel label) {
  std::vector<Span> out;
  std::copy_if(spans.begin(), spans.end(), std::back_inserter(out),
               [&](const Span& s) { return s.label == label; });
  return out;
}

}  // namespace

double Scores::harmonic() const {
  const double sum = sensitivity + specificity;
  return sum > 0.0 ? 2.0 * sensitivity * specificity / sum : 0.0;
}

Scores score_of(Task task, const std::vector<ScoredRecording>& recordings) {
  Counts all;
  for (const ScoredRecording& r : recordings) all += count(task, r);
  return scores_of(all);
}

Detection detection_of(const std::vector<ScoredRecording>& recordings) {
  std::size_t matches = 0, num_true = 0, num_found = 0;
  for (const ScoredRecording& r : recordings) {
    matches += count_matches(r.true_events, r.found_events);
    num_true += r.true_events.size();
    num_found += r.found_events.size();
  }
  return detection(matches, num_true, num_found);
}

Detection detection_of(const std::vector<ScoredRecording>& recordings, EventLabel label) {
  std::size_t matches = 0, num_true = 0, num_found = 0;
  for (const ScoredRecording& r : recordings) {
    const auto truth = only(r.true_events, label), found = only(r.found_events, label);
    matches += count_matches(truth, found);
    num_true += truth.size();
    num_found += found.size();
  }
  return detection(matches, num_true, num_found);
}

PoorQuality poor_quality_of(const std::vector<ScoredRecording>& recordings) {
  std::size_t both = 0;
  PoorQuality out;
  for (const ScoredRecording& r : recordings) {
    const bool is_true = r.truth == RecordLabel::kPoorQuality;
    const bool is_called = r.guess == RecordLabel::kPoorQuality;
    out.num_true += is_true ? 1 : 0;
    out.num_called += is_called ? 1 : 0;
    both += is_true && is_called ? 1 : 0;
  }
  const auto share = [&](std::size_t whole) {
    return whole > 0 ? static_cast<double>(both) / static_cast<double>(whole) : 0.0;
  };
  out.recall = share(out.num_true);
  out.precision = share(out.num_called);
  return out;
}

double calibration_error(const std::vector<ScoredRecording>& recordings) {
  constexpr std::size_t kBins = 10;
  std::array<double, kBins> confidence{}, right{}, number{};
  double all = 0.0;
  for (const ScoredRecording& r : recordings)
    for (std::size_t i = 0; i < r.given_events.size() && i < r.true_events.size(); ++i) {
      const double p = r.given_confidence[i];
      const auto bin = std::min(kBins - 1, static_cast<std::size_t>(p * kBins));
      confidence[bin] += p;
      right[bin] += r.given_events[i].label == r.true_events[i].label ? 1.0 : 0.0;
      number[bin] += 1.0;
      all += 1.0;
    }
  double error = 0.0;
  for (std::size_t b = 0; b < kBins; ++b) error += std::fabs(confidence[b] - right[b]);
  return all > 0.0 ? error / all : 0.0;
}

Interval patient_interval(Task task, const std::vector<ScoredRecording>& recordings,
                          std::size_t num_draws, std::uint64_t seed) {
  std::map<std::string, Counts> by_patient;
  for (const ScoredRecording& r : recordings) by_patient[r.patient] += count(task, r);
  std::vector<Counts> patients;
  for (const auto& [patient, counts] : by_patient) patients.push_back(counts);
  if (patients.empty()) return {};
  RandomStream random(Seed{seed}, "patient bootstrap");
  std::vector<double> scores;
  for (std::size_t draw = 0; draw < num_draws; ++draw) {
    Counts all;
    for (std::size_t i = 0; i < patients.size(); ++i)
      all += patients[random.below(static_cast<std::uint32_t>(patients.size()))];
    scores.push_back(scores_of(all).score());
  }
  return {signal::percentile_of(scores, 2.5), signal::percentile_of(scores, 97.5)};
}

}  // namespace phren::measurement
