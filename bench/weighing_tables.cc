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

std::string lead_text(double lead, double sd) {
  return fmt::format("{:+.2f} ({:+.2f} to {:+.2f})", lead, lead - 1.96 * sd, lead + 1.96 * sd);
}

std::string points_text(double lead, double sd) {
  return fmt::format("{:+.0f} ({:+.0f} to {:+.0f})", 100 * lead, 100 * (lead - 1.96 * sd),
                     100 * (lead + 1.96 * sd));
}

// Rows: looks, or seconds. Bits and share of threats named of each order, then the lead over the
// others with its 95 % interval.
std::string order_table(const Judgement& j, bool by_look) {
  std::string text = by_look ? "| looks |" : "| seconds |", rule = "|---|";
  for (const Order& o : j.orders) {
    text += " bits, " + o.name + " |";
    rule += "---|";
  }
  for (std::size_t o = 1; o < j.orders.size(); ++o) {
    text += " lead over " + j.orders[o].name + ", bits | threats named, points |";
    rule += "---|---|";
  }
  text += "\n" + rule + "\n";
  const std::size_t last = by_look ? kMostLooks : kTimeSteps;
  for (std::size_t k = 1; k <= last; k += k < (by_look ? 6 : 4) ? 1 : 2) {
    text += by_look ? fmt::format("| {} |", k)
                    : fmt::format("| {:.0f} |", kTimeStep_s * static_cast<double>(k));
    for (const Order& o : j.orders) {
      text += fmt::format(" {:.2f} |", (by_look ? o.by_look : o.by_time)[k].bits);
    }
    for (std::size_t o = 1; o < j.orders.size(); ++o) {
      const Lead& lead = (by_look ? j.orders[o].behind_by_look : j.orders[o].behind_by_time)[k];
      text += " " + lead_text(lead.bits, lead.bits_sd) + " | " +
              points_text(lead.threat, lead.threat_sd) + " |";
    }
    text += "\n";
  }
  return text;
}

// Smallest number that at least `share` of the patients do not exceed.
std::size_t quantile(const std::map<std::size_t, std::size_t>& counts, double share) {
  std::size_t all = 0, so_far = 0;
  for (const auto& [length, count] : counts) all += count;
  for (const auto& [length, count] : counts) {
    so_far += count;
    if (static_cast<double>(so_far) >= share * static_cast<double>(all)) return length;
  }
  return 0;
}

std::string length_text(const Judgement& j) {
  std::map<std::size_t, std::size_t> list, named, list_healthy;
  for (const auto& [id, c] : j.conditions) {
    for (const auto& [length, count] : c.list_lengths) list[length] += count;
    for (const auto& [length, count] : c.named_lengths) named[length] += count;
    if (id == "healthy") list_healthy = c.list_lengths;
  }
  return fmt::format(
      "Threats in the list: median {}, 90th percentile {}; named: {}, {}; in the healthy {}, {}.\n",
      quantile(list, 0.5), quantile(list, 0.9), quantile(named, 0.5), quantile(named, 0.9),
      quantile(list_healthy, 0.5), quantile(list_healthy, 0.9));
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

std::string time_plot(const Judgement& j) {
  Plot plot;
  double most = 0.1, least = 0.0;
  for (const Order& o : j.orders) {
    for (const CurvePoint& p : o.by_time) {
      most = std::max(most, p.bits);
      least = std::min(least, p.bits);
    }
  }
  const char* styles[] = {"stroke='#1f5f8b' stroke-width='2.5'",
                          "stroke='#a0522d' stroke-width='2.5' stroke-dasharray='6 4'",
                          "stroke='#6b6b00' stroke-width='2' stroke-dasharray='10 3 2 3'",
                          "stroke='#777' stroke-width='2' stroke-dasharray='2 3'"};
  const auto height = [&](double bits) { return (bits - least) / (most - least); };
  plot.line(0, height(0.0), 1, height(0.0), "stroke='#ccc'");
  for (std::size_t o = 0; o < j.orders.size(); ++o) {
    const auto& curve = j.orders[o].by_time;
    const auto n = static_cast<double>(curve.size() - 1);
    for (std::size_t k = 1; k < curve.size(); ++k) {
      plot.line(static_cast<double>(k - 1) / n, height(curve[k - 1].bits),
                static_cast<double>(k) / n, height(curve[k].bits), styles[o]);
    }
    const double y = 270.0 + 15.0 * static_cast<double>(o);
    plot.body += fmt::format("<line x1='170' y1='{0}' x2='205' y2='{0}' {1}/>\n", y - 4, styles[o]);
    plot.words(210, y, j.orders[o].name, "start");
  }
  for (const int part : {0, 1, 2, 3, 4}) {
    plot.words(Plot::x(part / 4.0), 345,
               fmt::format("{:.0f}", kTimeStep_s * static_cast<double>(kTimeSteps) * part / 4.0),
               "middle");
  }
  plot.words(45, Plot::y(height(0.0)) + 4, "0", "end");
  plot.words(45, Plot::y(1.0) + 4, fmt::format("{:.1f}", most), "end");
  plot.words(200, 365, "seconds spent looking", "middle");
  plot.words(50, 18, "information about what is there, bits", "start");
  return plot.svg("Information by seconds spent looking");
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
  const std::string text = fmt::format("{} patients, {} with a second condition.\n\n",
                                       j.num_patients, j.num_coexisting) +
                           condition_table(j) + "\n" + length_text(j) + "\n" + way_table(j) + "\n" +
                           calibration_table(j.ways.front()) + "\n" +
                           fmt::format("Looks, {} patients:\n\n", j.num_curve_patients) +
                           order_table(j, true) + "\n" + order_table(j, false);
  fmt::print("{}", text);
  bool all_written = static_cast<bool>(make_directories(folder));
  for (const auto& [name, contents] :
       {std::pair{"study.md", text}, std::pair{"confusion.csv", confusion(j)},
        std::pair{"calibration.svg", calibration_plot(j.ways.front())},
        std::pair{"looks.svg", time_plot(j)}}) {
    all_written = all_written && write_file(folder / name, contents);
  }
  return all_written ? 0 : 1;
}

}  // namespace phren::bench
