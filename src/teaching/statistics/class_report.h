// What the marks of a whole class say about the class, the items and the examiners.
//
// Shapes:  points[learner][item], each 0 .. max_points[item]; agreement[i][j] counts items that the
//          log put in class i and an examiner in class j (0 missed, 1 partly, 2 met);
//          ratings[examiner][thing], empty = not rated.
// Errors:  none: a statistic that does not exist for these data has no estimate and a note that
//          says why.
// Source:  the statistics themselves: their headers; words: data/statistics.toml.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "teaching/statistics/estimate.h"
#include "teaching/statistics/many_raters.h"

namespace phren::teaching {

struct ClassScores {
  std::vector<double> max_points;
  Table points;
  Table agreement;
  Ratings ratings;
};

struct ReportLine {
  std::string statistic;  // id in data/statistics.toml
  std::optional<Estimate> estimate;
  std::string note;
};
struct ReportItem {
  Estimate difficulty, discrimination, upper_lower;
  double alpha_if_dropped = 0.0;  // NaN where it does not exist
  std::optional<Estimate> rasch;  // difficulty in logits; an item counts as right at full points
};
struct ClassReport {
  std::vector<ReportLine> lines;
  std::vector<ReportItem> items;                   // empty when there are too few learners
  std::vector<std::optional<Estimate>> abilities;  // per learner, logits
};
ClassReport report_on(const ClassScores& scores);

}  // namespace phren::teaching
