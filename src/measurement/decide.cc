#include "measurement/decide.h"

#include <algorithm>
#include <array>

#include "measurement/names.h"

namespace phren::measurement {

EventLabel most_likely(const EventProbabilities& probabilities) {
  const auto best = std::max_element(probabilities.begin(), probabilities.end());
  return static_cast<EventLabel>(best - probabilities.begin());
}

RecordLabel most_likely(const RecordProbabilities& probabilities) {
  const auto best = std::max_element(probabilities.begin(), probabilities.end());
  return static_cast<RecordLabel>(best - probabilities.begin());
}

RecordLabel record_label_of(std::span<const EventLabel> events) {
  if (events.empty()) return RecordLabel::kPoorQuality;
  const bool c = std::any_of(events.begin(), events.end(), is_continuous);
  const bool d = std::any_of(events.begin(), events.end(), is_discontinuous);
  if (c && d) return RecordLabel::kBoth;
  if (c) return RecordLabel::kContinuous;
  return d ? RecordLabel::kDiscontinuous : RecordLabel::kNormal;
}

void EventSummary::add(const Event& event) {
  double c = 0.0, d = 0.0;
  for (std::size_t k = 0; k < kNumEventLabels; ++k) {
    const auto label = static_cast<EventLabel>(k);
    if (is_continuous(label)) c += event.probabilities[k];
    if (is_discontinuous(label)) d += event.probabilities[k];
  }
  continuous = std::max(continuous, c);
  discontinuous = std::max(discontinuous, d);
}

RecordProbabilities record_probabilities(const EventSummary& events, double poor_probability) {
  const double c = std::min(1.0, events.continuous), d = std::min(1.0, events.discontinuous);
  const double good = 1.0 - poor_probability;
  return {good * (1.0 - c) * (1.0 - d), good * c * (1.0 - d), good * (1.0 - c) * d, good * c * d,
          poor_probability};
}

Verdict verdict_of(const RecordProbabilities& probabilities, double least, bool is_familiar,
                   bool can_be_labelled) {
  constexpr std::size_t kMostLabels = 2;
  Verdict out;
  std::array<std::size_t, kNumRecordLabels> order{};
  for (std::size_t c = 0; c < order.size(); ++c) order[c] = c;
  std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) {
    return probabilities[a] > probabilities[b];
  });
  for (const std::size_t c : order)
    if (out.set.empty() || probabilities[c] >= least)
      out.set.push_back(static_cast<RecordLabel>(c));
  if (!can_be_labelled) {
    out.doubt = Doubt::kPoor;
  } else if (!is_familiar) {
    out.doubt = Doubt::kUnfamiliar;
  } else if (out.set.size() > kMostLabels) {
    out.doubt = Doubt::kTooManyLabels;
  }
  return out;
}

}  // namespace phren::measurement
