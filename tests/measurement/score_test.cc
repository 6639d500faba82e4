#include "measurement/score.h"

#include <gtest/gtest.h>

namespace phren::measurement {
namespace {

ScoredRecording events(const std::vector<std::pair<EventLabel, EventLabel>>& truth_and_guess,
                       const std::string& patient = "p") {
  ScoredRecording r;
  r.patient = patient;
  double t = 0.0;
  for (const auto& [truth, guess] : truth_and_guess) {
    r.true_events.push_back({t, t + 1.0, truth});
    r.given_events.push_back({t, t + 1.0, guess});
    r.given_confidence.push_back(1.0);
    t += 2.0;
  }
  return r;
}
ScoredRecording record(RecordLabel truth, RecordLabel guess) {
  ScoredRecording r;
  r.truth = truth;
  r.guess = guess;
  return r;
}

// Worked by hand from the published formulas.
TEST(Scores, MatchTheWorkedExamples) {
  EXPECT_NEAR((Scores{0.5, 1.0}.score()), 0.708333, 1e-6);
  EXPECT_NEAR((Scores{0.8, 0.8}.score()), 0.8, 1e-12);
  EXPECT_NEAR((Scores{0.0, 1.0}.score()), 0.25, 1e-12);
  EXPECT_EQ((Scores{0.0, 0.0}.harmonic()), 0.0);
}

TEST(Scores, BinaryForgivesTheWrongKindAndClassesDoNot) {
  using E = EventLabel;
  const std::vector<ScoredRecording> all{events({{E::kWheeze, E::kRhonchi},
                                                 {E::kFineCrackle, E::kFineCrackle},
                                                 {E::kNormal, E::kNormal},
                                                 {E::kNormal, E::kWheeze},
                                                 {E::kStridor, E::kNormal}})};
  EXPECT_NEAR(score_of(Task::kEventBinary, all).sensitivity, 2.0 / 3.0, 1e-12);
  EXPECT_NEAR(score_of(Task::kEventClasses, all).sensitivity, 1.0 / 3.0, 1e-12);
  EXPECT_NEAR(score_of(Task::kEventClasses, all).specificity, 0.5, 1e-12);
}

TEST(Scores, PoorQualityCountsInNeitherButCallingOthersPoorIsWrong) {
  using R = RecordLabel;
  const std::vector<ScoredRecording> all{
      record(R::kPoorQuality, R::kNormal), record(R::kPoorQuality, R::kPoorQuality),
      record(R::kNormal, R::kPoorQuality), record(R::kNormal, R::kNormal),
      record(R::kBoth, R::kContinuous),    record(R::kDiscontinuous, R::kDiscontinuous)};
  EXPECT_NEAR(score_of(Task::kRecordMerged, all).sensitivity, 1.0, 1e-12);
  EXPECT_NEAR(score_of(Task::kRecordMerged, all).specificity, 0.5, 1e-12);
  EXPECT_NEAR(score_of(Task::kRecordClasses, all).sensitivity, 0.5, 1e-12);
  EXPECT_NEAR(poor_quality_of(all).recall, 0.5, 1e-12);
  EXPECT_NEAR(poor_quality_of(all).precision, 0.5, 1e-12);
}

TEST(Detection, NeedsHalfOfTheUnionAndMatchesOneToOne) {
  ScoredRecording r;
  r.true_events = {{0.0, 1.0, EventLabel::kNormal}, {2.0, 3.0, EventLabel::kWheeze}};
  r.found_events = {{0.5, 1.5, EventLabel::kNormal},    // a third of the union
                    {2.0, 2.6, EventLabel::kWheeze},    // 60 %
                    {2.05, 3.0, EventLabel::kNormal}};  // 95 %: takes the match
  const Detection d = detection_of({r});
  EXPECT_NEAR(d.recall, 0.5, 1e-12);
  EXPECT_NEAR(d.precision, 1.0 / 3.0, 1e-12);
  EXPECT_NEAR(d.f1, 0.4, 1e-12);
  EXPECT_NEAR(detection_of({r}, EventLabel::kWheeze).f1, 1.0, 1e-12);
}

TEST(Calibration, ErrorIsTheGapBetweenConfidenceAndTruth) {
  using E = EventLabel;
  ScoredRecording r = events({{E::kNormal, E::kNormal}, {E::kNormal, E::kWheeze}});
  r.given_confidence = {0.75, 0.75};
  EXPECT_NEAR(calibration_error({r}), 0.25, 1e-12);
}

TEST(PatientInterval, HoldsTheScoreAndIsWiderThanNothing) {
  using E = EventLabel;
  std::vector<ScoredRecording> all;
  for (int p = 0; p < 30; ++p)
    all.push_back(
        events({{E::kWheeze, p % 3 == 0 ? E::kNormal : E::kWheeze}, {E::kNormal, E::kNormal}},
               std::to_string(p)));
  const double score = score_of(Task::kEventClasses, all).score();
  const Interval i = patient_interval(Task::kEventClasses, all);
  EXPECT_LT(i.low, score);
  EXPECT_GT(i.high, score);
  EXPECT_GT(i.high - i.low, 0.05);
}

TEST(Scores, OfNothingAreZero) {
  EXPECT_EQ(score_of(Task::kEventBinary, {}).score(), 0.0);
  EXPECT_EQ(detection_of({}).f1, 0.0);
  EXPECT_EQ(calibration_error({}), 0.0);
  EXPECT_EQ(patient_interval(Task::kEventBinary, {}).high, 0.0);
}

}  // namespace
}  // namespace phren::measurement
