#include "measurement/decide.h"

#include <gtest/gtest.h>

#include <numeric>

namespace phren::measurement {
namespace {

Event event(EventLabel label, double p) {
  Event e;
  e.probabilities.fill((1.0 - p) / 6.0);
  e.probabilities[static_cast<std::size_t>(label)] = p;
  e.label = most_likely(e.probabilities);
  return e;
}

RecordProbabilities record_probabilities(const std::vector<Event>& events, double poor) {
  EventSummary summary;
  for (const Event& e : events) summary.add(e);
  return measurement::record_probabilities(summary, poor);
}

TEST(RecordRule, IsTheDataSetsRule) {
  using E = EventLabel;
  const auto of = [](std::vector<E> v) { return record_label_of(v); };
  EXPECT_EQ(of({}), RecordLabel::kPoorQuality);
  EXPECT_EQ(of({E::kNormal, E::kNormal}), RecordLabel::kNormal);
  EXPECT_EQ(of({E::kNormal, E::kStridor}), RecordLabel::kContinuous);
  EXPECT_EQ(of({E::kRhonchi, E::kWheeze}), RecordLabel::kContinuous);
  EXPECT_EQ(of({E::kFineCrackle, E::kNormal}), RecordLabel::kDiscontinuous);
  EXPECT_EQ(of({E::kCoarseCrackle, E::kWheeze}), RecordLabel::kBoth);
  EXPECT_EQ(of({E::kMixed}), RecordLabel::kBoth);
}

TEST(RecordProbabilities, ProbabilitiesSumToOne) {
  for (const double poor : {0.0, 0.3, 1.0})
    for (const auto label : {EventLabel::kNormal, EventLabel::kWheeze, EventLabel::kMixed}) {
      const std::vector<Event> events{event(label, 0.9), event(EventLabel::kNormal, 0.7)};
      const auto p = record_probabilities(events, poor);
      EXPECT_NEAR(std::accumulate(p.begin(), p.end(), 0.0), 1.0, 1e-9);
    }
}

TEST(RecordProbabilities, SureEventsGiveTheRulesLabel) {
  EXPECT_EQ(most_likely(record_probabilities(std::vector{event(EventLabel::kWheeze, 0.97)}, 0.01)),
            RecordLabel::kContinuous);
  EXPECT_EQ(most_likely(record_probabilities(std::vector{event(EventLabel::kNormal, 0.97)}, 0.01)),
            RecordLabel::kNormal);
  EXPECT_EQ(most_likely(record_probabilities(std::vector{event(EventLabel::kNormal, 0.97)}, 0.9)),
            RecordLabel::kPoorQuality);
}

TEST(VerdictOf, HoldsEveryLabelThatIsNotImprobable) {
  const RecordProbabilities p{0.2, 0.5, 0.05, 0.2, 0.05};
  using L = std::vector<RecordLabel>;
  EXPECT_EQ(verdict_of(p, 0.3, true, true).set, (L{RecordLabel::kContinuous}));
  EXPECT_EQ(verdict_of(p, 0.2, true, true).set,
            (L{RecordLabel::kContinuous, RecordLabel::kNormal, RecordLabel::kBoth}));
  EXPECT_EQ(verdict_of(p, 0.9, true, true).set, (L{RecordLabel::kContinuous}));  // never empty
}

TEST(VerdictOf, SaysWhyItCannotTell) {
  const RecordProbabilities p{0.2, 0.5, 0.05, 0.2, 0.05};
  EXPECT_EQ(verdict_of(p, 0.3, true, true).doubt, Doubt::kNone);
  EXPECT_EQ(verdict_of(p, 0.2, true, true).doubt, Doubt::kTooManyLabels);
  EXPECT_EQ(verdict_of(p, 0.3, false, true).doubt, Doubt::kUnfamiliar);
  EXPECT_EQ(verdict_of(p, 0.3, true, false).doubt, Doubt::kPoor);
}

}  // namespace
}  // namespace phren::measurement
