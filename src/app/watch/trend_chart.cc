#include "app/watch/trend_chart.h"

#include <array>
#include <cmath>

namespace phren::app {
namespace {

constexpr double kWidth = 860.0, kLeft = 150.0, kRight = 40.0, kPanel = 92.0, kGap = 22.0,
                 kTop = 96.0, kLine = 14.0;
constexpr double kInner = kWidth - kLeft - kRight;
constexpr int kRowsOfNames = 3;  // names of treatments stand in so many rows above the panels
constexpr std::uint32_t kFaint = 0x555555, kFrame = 0x999999, kMark = 0x777777, kTrace = 0x14515c;

struct Panel {
  std::string_view name, unit;
  double (*value)(const TrendRow&);
  double low, high;  // least span shown
};
constexpr std::array<Panel, 5> kPanels{{
    {"Breaths", "per min", [](const TrendRow& r) { return r.monitor.respiratory_rate_per_min; }, 0,
     30},
    {"SpO2", "%", [](const TrendRow& r) { return r.monitor.spo2_percent; }, 80, 100},
    {"EtCO2", "mmHg", [](const TrendRow& r) { return r.monitor.etco2_mmHg; }, 20, 50},
    {"Heart rate", "per min", [](const TrendRow& r) { return r.monitor.heart_rate_per_min; }, 50,
     120},
    {"Systolic", "mmHg", [](const TrendRow& r) { return r.monitor.systolic_mmHg; }, 70, 150},
}};

// "-cpap, needle_decompression" as a reader would say it.
std::string said(const std::string& done) {
  std::string out;
  std::size_t from = 0;
  while (from < done.size()) {
    std::size_t comma = done.find(", ", from);
    if (comma == std::string::npos) comma = done.size();
    std::string one = done.substr(from, comma - from);
    if (one.starts_with('-')) one = one.substr(1) + " off";
    for (char& c : one) c = c == '_' ? ' ' : c;
    out += (out.empty() ? "" : ", ") + one;
    from = comma + 2;
  }
  return out;
}

std::string whole(double v) {
  return std::to_string(static_cast<int>(std::lround(v)));
}

void add_panel(const Panel& panel, const Trend& trend, double top, double span_min, Drawing& out) {
  double low = panel.low, high = panel.high;
  for (const TrendRow& r : trend) {
    const double v = panel.value(r);
    if (v < low) low = std::floor(v / 10.0) * 10.0;
    if (v > high) high = std::ceil(v / 10.0) * 10.0;
  }
  const auto x = [&](double minute) { return kLeft + kInner * minute / span_min; };
  const auto y = [&](double v) { return top + kPanel * (high - v) / (high - low); };
  out.strokes.push_back(
      {{{kLeft, top}, {kLeft + kInner, top}, {kLeft + kInner, top + kPanel}, {kLeft, top + kPanel}},
       kFrame,
       1.0,
       false,
       true});
  for (const TrendRow& r : trend) {
    if (r.done.empty()) continue;
    out.strokes.push_back(
        {{{x(r.minute), top}, {x(r.minute), top + kPanel}}, kMark, 1.0, true, false});
  }
  Stroke trace{{}, kTrace, 2.0, false, false};
  for (const TrendRow& r : trend) trace.points.emplace_back(x(r.minute), y(panel.value(r)));
  out.strokes.push_back(std::move(trace));
  out.labels.push_back({kLeft - 42, top + 20, std::string(panel.name), 14.0, true, true, 0x222222});
  out.labels.push_back({kLeft - 42, top + 38, std::string(panel.unit), 12.0, false, true, kFaint});
  out.labels.push_back({kLeft - 6, top + 11, whole(high), 11.0, false, true, kFaint});
  out.labels.push_back({kLeft - 6, top + kPanel, whole(low), 11.0, false, true, kFaint});
}

}  // namespace

Drawing trend_chart(std::string_view title, const Trend& trend) {
  Drawing out;
  out.width = kWidth;
  out.height = kTop + kPanels.size() * (kPanel + kGap) + 56.0;
  const double span = trend.empty() || trend.back().minute <= 0.0 ? 1.0 : trend.back().minute;
  out.labels.push_back({kLeft, 30.0, std::string(title), 18.0, true, false, 0x222222});
  int line = 0;
  for (const TrendRow& r : trend) {
    if (r.done.empty()) continue;
    const double x = kLeft + kInner * r.minute / span;
    const bool is_late = r.minute > 0.7 * span;  // keeps long names on the page
    out.labels.push_back({is_late ? x - 3 : x + 3,
                          kTop - 8 - kLine * (kRowsOfNames - 1 - line++ % kRowsOfNames),
                          said(r.done), 12.0, false, is_late, 0x333333});
  }
  double top = kTop;
  for (const Panel& panel : kPanels) {
    add_panel(panel, trend, top, span, out);
    top += kPanel + kGap;
  }
  out.labels.push_back({kLeft, top + 2, "0 min", 12.0, false, false, kFaint});
  out.labels.push_back({kLeft + kInner, top + 2, whole(span) + " min", 12.0, false, true, kFaint});
  out.labels.push_back({kLeft, top + 32,
                        "Training aid. Simulated patient; treatments as effects, no doses. Follow "
                        "local protocols and medical direction.",
                        12.0, false, false, kFaint});
  return out;
}

}  // namespace phren::app
