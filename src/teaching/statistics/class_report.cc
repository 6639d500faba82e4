#include "teaching/statistics/class_report.h"

#include <utility>

#include "teaching/statistics/rasch.h"
#include "teaching/statistics/reliability.h"
#include "teaching/statistics/two_raters.h"

namespace phren::teaching {
namespace {

// An item counts as right at full points.
Table right_or_wrong(const ClassScores& scores) {
  Table table = scores.points;
  for (auto& row : table) {
    for (std::size_t i = 0; i < row.size(); ++i) {
      row[i] = row[i] >= scores.max_points[i] - 1e-9 ? 1.0 : 0.0;
    }
  }
  return table;
}

void add(ClassReport& report, const char* id, const Result<Estimate>& estimate,
         std::string note = {}) {
  if (estimate) {
    report.lines.push_back({id, *estimate, std::move(note)});
  } else {
    report.lines.push_back({id, std::nullopt, estimate.error().message});
  }
}

void add_reliability(const ClassScores& scores, const Table& right, ClassReport& report) {
  add(report, "cronbach_alpha", cronbach_alpha(scores.points));
  add(report, "kr20", kr20(right), "An item counts as right at full points.");
  add(report, "kr21", kr21(right), "An item counts as right at full points.");
  add(report, "sem", standard_error_of_measurement(scores.points), "In points of the total.");
}

void add_two_raters(const ClassScores& scores, ClassReport& report) {
  const std::string what = "The log and the examiners, over items that both judged.";
  const auto both = two_raters(scores.agreement);
  const auto part = [&](const Estimate TwoRaters::* member) -> Result<Estimate> {
    if (!both) return fail(both.error());
    return (*both).*member;
  };
  const auto kappa_part = [&](const Kappa TwoRaters::* member) -> Result<Estimate> {
    if (!both) return fail(both.error());
    return ((*both).*member).kappa;
  };
  add(report, "cohen_kappa", kappa_part(&TwoRaters::kappa), what);
  add(report, "weighted_kappa", kappa_part(&TwoRaters::linear), what + " Linear weights.");
  add(report, "gwet_ac1", part(&TwoRaters::gwet_ac1), what);
}

void add_many_raters(const ClassScores& scores, ClassReport& report) {
  const auto alpha = krippendorff_alpha(scores.ratings, Metric::kInterval);
  if (alpha) {
    report.lines.push_back({"krippendorff", alpha->alpha,
                            "Examiners among each other, over items that two or more marked."});
  } else {
    report.lines.push_back({"krippendorff", std::nullopt, alpha.error().message});
  }
}

void add_items(const ClassScores& scores, ClassReport& report) {
  const auto items = analyse_items(scores.points, scores.max_points);
  if (!items) return;
  for (const ItemAnalysis& item : *items) {
    report.items.push_back(
        {item.difficulty, item.item_rest, item.upper_lower, item.alpha_if_dropped, std::nullopt});
  }
}

// Only items that some got right and some did not can be placed on the scale.
void add_rasch(const Table& right, ClassReport& report) {
  report.abilities.assign(right.size(), std::nullopt);
  if (right.empty()) return;
  std::vector<std::size_t> used;
  for (std::size_t i = 0; i < right.front().size(); ++i) {
    double sum = 0.0;
    for (const auto& row : right) sum += row[i];
    if (sum > 0.0 && sum < static_cast<double>(right.size())) used.push_back(i);
  }
  std::vector<AnswerPattern> patterns;
  std::vector<std::size_t> scores;
  for (const auto& row : right) {
    AnswerPattern pattern;
    std::size_t score = 0;
    for (const std::size_t i : used) {
      pattern.right.push_back(row[i] > 0.5 ? 1 : 0);
      score += row[i] > 0.5 ? 1 : 0;
    }
    patterns.push_back(std::move(pattern));
    scores.push_back(score);
  }
  const auto rasch = used.size() < 2 ? Result<RaschCalibration>(fail(out_of_range(
                                           "items that some got right and some did not",
                                           static_cast<double>(used.size()), "2 at least")))
                                     : calibrate_rasch(patterns);
  if (!rasch) {
    report.lines.push_back({"ability", std::nullopt, rasch.error().message});
    return;
  }
  for (std::size_t k = 0; k < used.size() && used[k] < report.items.size(); ++k) {
    report.items[used[k]].rasch = rasch->difficulty[k];
  }
  for (std::size_t p = 0; p < scores.size(); ++p) {
    if (scores[p] >= 1 && scores[p] < used.size()) {
      report.abilities[p] = rasch->ability_by_score[scores[p] - 1];
    }
  }
  report.lines.push_back(
      {"ability", std::nullopt,
       "Given per learner on the Rasch scale; none for who got all or nothing right."});
}

}  // namespace

ClassReport report_on(const ClassScores& scores) {
  ClassReport report;
  const Table right = right_or_wrong(scores);
  add_reliability(scores, right, report);
  add_items(scores, report);
  add_rasch(right, report);
  add_two_raters(scores, report);
  add_many_raters(scores, report);
  return report;
}

}  // namespace phren::teaching
