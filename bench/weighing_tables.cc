// Tables and pictures of the weighing study: study.md, confusion.csv, calibration.svg, looks.svg.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/files.h"
#include "bench/weighing_judge.h"

namespace phren::bench {
namespace {

double percent(std::size_t part, std::size_t whole) {
  return whole == 0 ? 0.0 : 100.0 * static_cast<double>(part) / static_cast<double>(whole);
}

double mean(std::size_t sum, std::size_t count) {
  return static_cast<double>(sum) / static_cast<double>(count);
}

std::string instead_of(const PerCondition& c, const std::string& id) {
  std::vector<std::pair<std::size_t, std::string>> wrong;
  for (const auto& [first, count] : c.first) {
    if (first != id) wrong.emplace_back(count, first);
  }
  std::sort(wrong.rbegin(), wrong.rend());
  std::string text;
  for (std::size_t i = 0; i < wrong.size() && i < 3; ++i) {
    text += fmt::format("{}{} {}", i == 0 ? "" : ", ", wrong[i].second, wrong[i].first);
  }
  return text;
}

std::string condition_table(const Judgement& j) {
  std::string text =
      "| condition | patients | first | among first three | what came first instead (patients) | "
      "threat named, severity 0.5 and more | threats named, mean | open, "
      "mean |\n|---|---|---|---|---|---|---|---|\n";
  PerCondition all;
  for (const auto& [id, c] : j.conditions) {
    const std::string threat =
        c.threatened == 0
            ? "-"
            : fmt::format("{} of {}{}", c.threat_named, c.threatened,
                          c.threat_open == 0 ? "" : fmt::format(", {} open", c.threat_open));
    text += fmt::format("| {} | {} | {:.0f} % | {:.0f} % | {} | {} | {:.1f} | {:.1f} |\n", id,
                        c.count, percent(c.top1, c.count), percent(c.top3, c.count),
                        instead_of(c, id), threat, mean(c.named, c.count), mean(c.open, c.count));
    all.count += c.count;
    all.top1 += c.top1;
    all.top3 += c.top3;
    all.threatened += c.threatened;
    all.threat_named += c.threat_named;
    all.threat_open += c.threat_open;
    all.named += c.named;
    all.open += c.open;
  }
  return text +
         fmt::format(
             "| **all** | {} | {:.1f} % | {:.1f} % | | {} of {} ({:.1f} %), {} open | {:.1f} "
             "| {:.1f} |\n",
             all.count, percent(all.top1, all.count), percent(all.top3, all.count),
             all.threat_named, all.threatened, percent(all.threat_named, all.threatened),
             all.threat_open, mean(all.named, all.count), mean(all.open, all.count));
}

std::string way_table(const Judgement& j) {
  std::string text =
      "| way of weighing | Brier | log loss | first | among first three |\n|---|---|---|---|---|\n";
  for (const Scores& s : j.ways) {
    text += fmt::format("| {} | {:.5f} | {:.4f} | {:.1f} % | {:.1f} % |\n", s.name, s.brier,
                        s.log_loss, 100 * s.top1, 100 * s.top3);
  }
  return text;
}

std::string calibration_table(const Scores& s) {
  std::string text = "| shown | observed | judgements |\n|---|---|---|\n";
  for (const Bin& b : s.bins) {
    if (b.count == 0) continue;
    text += fmt::format("| {:.1f} % | {:.1f} % | {} |\n", 100 * b.predicted / b.weight,
                        100 * b.observed / b.weight, b.count);
  }
  return text;
}

std::string curve_table(const Judgement& j) {
  std::string text =
      "| looks | bits, best first | bits, head to toe | first, best | first, head to toe | threat "
      "named, best | threat named, head to toe | seconds, best | seconds, head to toe |\n"
      "|---|---|---|---|---|---|---|---|---|\n";
  for (std::size_t k = 0; k < j.best_first.size(); k += k < 6 ? 1 : 2) {
    const CurvePoint &a = j.best_first[k], &b = j.head_to_toe[k];
    text += fmt::format(
        "| {} | {:.2f} | {:.2f} | {:.0f} % | {:.0f} % | {:.0f} % | {:.0f} % | {:.0f} | {:.0f} |\n",
        k, a.bits, b.bits, 100 * a.top1, 100 * b.top1, 100 * a.threat, 100 * b.threat, a.seconds,
        b.seconds);
  }
  return text;
}

// A square plot with both axes from 0 to 1.
struct Plot {
  std::string body;
  static double x(double v) { return 50 + 300 * v; }
  static double y(double v) { return 330 - 300 * v; }
  void line(double x1, double y1, double x2, double y2, const char* style) {
    body += fmt::format("<line x1='{:.1f}' y1='{:.1f}' x2='{:.1f}' y2='{:.1f}' {}/>\n", x(x1),
                        y(y1), x(x2), y(y2), style);
  }
  void dot(double px, double py, double radius) {
    body += fmt::format("<circle cx='{:.1f}' cy='{:.1f}' r='{:.1f}' fill='#1f5f8b'/>\n", x(px),
                        y(py), radius);
  }
  void words(double px, double py, const std::string& text, const char* anchor) {
    body += fmt::format("<text x='{:.1f}' y='{:.1f}' text-anchor='{}'>{}</text>\n", px, py, anchor,
                        text);
  }
  std::string svg(const std::string& title) const {
    return fmt::format(
        "<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 380 380' font-family='sans-serif' "
        "font-size='11'><title>{}</title>\n<rect width='380' height='380' fill='#fff'/>\n"
        "<path d='M50 30V330H350' fill='none' stroke='#444'/>\n{}</svg>\n",
        title, body);
  }
};

std::string calibration_plot(const Scores& s) {
  Plot plot;
  plot.line(0, 0, 1, 1, "stroke='#999' stroke-dasharray='4 4'");
  for (const Bin& b : s.bins) {
    if (b.count == 0) continue;
    plot.dot(b.predicted / b.weight, b.observed / b.weight,
             2.0 + 1.5 * std::log10(static_cast<double>(b.count)));
  }
  plot.words(200, 365, "probability shown", "middle");
  plot.words(50, 20, "share in which the condition was there", "start");
  for (const double v : {0.0, 0.5, 1.0}) {
    plot.words(Plot::x(v), 345, fmt::format("{:g} %", 100 * v), "middle");
    plot.words(45, Plot::y(v) + 4, fmt::format("{:g}", 100 * v), "end");
  }
  return plot.svg("Calibration of the weighing on simulated patients");
}

std::string look_plot(const Judgement& j) {
  Plot plot;
  double most = 0.1;
  for (const auto* curve : {&j.best_first, &j.head_to_toe}) {
    for (const CurvePoint& p : *curve) most = std::max(most, p.bits);
  }
  const auto draw = [&](const std::vector<CurvePoint>& curve, const char* style) {
    const auto n = static_cast<double>(curve.size() - 1);
    for (std::size_t k = 1; k < curve.size(); ++k) {
      plot.line(static_cast<double>(k - 1) / n, std::max(0.0, curve[k - 1].bits) / most,
                static_cast<double>(k) / n, std::max(0.0, curve[k].bits) / most, style);
    }
  };
  draw(j.best_first, "stroke='#1f5f8b' stroke-width='2.5'");
  draw(j.head_to_toe, "stroke='#a0522d' stroke-width='2.5' stroke-dasharray='6 4'");
  plot.words(200, 365, fmt::format("looks, 0 to {}", j.best_first.size() - 1), "middle");
  plot.words(50, 20, fmt::format("information about the true condition, 0 to {:.1f} bits", most),
             "start");
  plot.words(345, 300, "solid: best look next", "end");
  plot.words(345, 315, "dashed: head to toe", "end");
  return plot.svg("Information by number of looks");
}

std::string confusion(const Judgement& j) {
  std::string text = "true";
  for (const auto& [id, c] : j.conditions) text += "," + id;
  text += '\n';
  for (const auto& [id, c] : j.conditions) {
    text += id;
    for (const auto& [first, other] : j.conditions) {
      const auto found = c.first.find(first);
      text += fmt::format(",{}", found == c.first.end() ? 0 : found->second);
    }
    text += '\n';
  }
  return text;
}

}  // namespace

int write_tables(const Judgement& j, const std::filesystem::path& folder) {
  const std::string text =
      fmt::format("{} patients, {} with a second condition.\n\n", j.num_patients,
                  j.num_coexisting) +
      condition_table(j) + "\n" + way_table(j) + "\n" + calibration_table(j.ways.front()) + "\n" +
      fmt::format("Looks, {} patients:\n\n", j.num_curve_patients) + curve_table(j);
  fmt::print("{}", text);
  bool all_written = static_cast<bool>(make_directories(folder));
  for (const auto& [name, contents] :
       {std::pair{"study.md", text}, std::pair{"confusion.csv", confusion(j)},
        std::pair{"calibration.svg", calibration_plot(j.ways.front())},
        std::pair{"looks.svg", look_plot(j)}}) {
    all_written = all_written && write_file(folder / name, contents);
  }
  return all_written ? 0 : 1;
}

}  // namespace phren::bench
