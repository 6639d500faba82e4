#include "app/watch/trend_chart.h"

#include <array>
#include <cmath>

namespace phren::app {
namespace {

constexpr double kWidth = 860.0, kLeft = 150.0, kRight = 40.0, kPanel = 92.0, kGap = 22.0,
                 kTop = 60.0;

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

std::string num(double v) {
  std::string s = std::to_string(std::round(v * 10.0) / 10.0);
  return s.substr(0, s.find('.') + 2);
}

std::string escape_text(std::string_view text) {
  std::string out;
  for (char c : text) {
    if (c == '&')
      out += "&amp;";
    else if (c == '<')
      out += "&lt;";
    else if (c == '>')
      out += "&gt;";
    else
      out += c;
  }
  return out;
}

std::string label(double x, double y, std::string_view text, std::string_view style) {
  return "<text x=\"" + num(x) + "\" y=\"" + num(y) + "\" " + std::string(style) + ">" +
         escape_text(text) + "</text>\n";
}

std::string panel_svg(const Panel& panel, const Trend& trend, double top, double span_min) {
  double low = panel.low, high = panel.high;
  for (const TrendRow& r : trend) {
    const double v = panel.value(r);
    if (v < low) low = std::floor(v / 10.0) * 10.0;
    if (v > high) high = std::ceil(v / 10.0) * 10.0;
  }
  const double inner = kWidth - kLeft - kRight;
  const auto x = [&](double minute) { return kLeft + inner * minute / span_min; };
  const auto y = [&](double v) { return top + kPanel * (high - v) / (high - low); };
  std::string out = "<rect x=\"" + num(kLeft) + "\" y=\"" + num(top) + "\" width=\"" + num(inner) +
                    "\" height=\"" + num(kPanel) + "\" fill=\"none\" stroke=\"#999\"/>\n";
  out += label(kLeft - 12, top + 20, panel.name, "text-anchor=\"end\" font-weight=\"600\"");
  out +=
      label(kLeft - 12, top + 38, panel.unit, "text-anchor=\"end\" fill=\"#555\" font-size=\"12\"");
  out += label(kLeft + 4, top + 13, num(high).substr(0, num(high).size() - 2),
               "fill=\"#555\" font-size=\"11\"");
  out += label(kLeft + 4, top + kPanel - 4, num(low).substr(0, num(low).size() - 2),
               "fill=\"#555\" font-size=\"11\"");
  std::string points;
  for (const TrendRow& r : trend) points += num(x(r.minute)) + "," + num(y(panel.value(r))) + " ";
  out +=
      "<polyline fill=\"none\" stroke=\"#14515c\" stroke-width=\"2\" points=\"" + points + "\"/>\n";
  for (const TrendRow& r : trend) {
    if (r.done.empty()) continue;
    out += "<line x1=\"" + num(x(r.minute)) + "\" x2=\"" + num(x(r.minute)) + "\" y1=\"" +
           num(top) + "\" y2=\"" + num(top + kPanel) +
           "\" stroke=\"#777\" stroke-dasharray=\"4 3\"/>\n";
  }
  return out;
}

}  // namespace

std::string trend_chart_svg(std::string_view title, const Trend& trend) {
  const double height = kTop + kPanels.size() * (kPanel + kGap) + 70.0;
  const double span = trend.empty() || trend.back().minute <= 0.0 ? 1.0 : trend.back().minute;
  std::string out = "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 " + num(kWidth) + " " +
                    num(height) +
                    "\" font-family=\"sans-serif\" font-size=\"14\">\n<rect width=\"100%\" "
                    "height=\"100%\" fill=\"#fbfaf6\"/>\n";
  out += label(kLeft, 30, title, "font-size=\"18\" font-weight=\"600\"");
  double top = kTop;
  for (const Panel& panel : kPanels) {
    out += panel_svg(panel, trend, top, span);
    top += kPanel + kGap;
  }
  const double inner = kWidth - kLeft - kRight;
  out += label(kLeft, top + 4, "0 min", "fill=\"#555\" font-size=\"12\"");
  out += label(kLeft + inner, top + 4, num(span) + " min",
               "text-anchor=\"end\" fill=\"#555\" font-size=\"12\"");
  int line = 0;
  for (const TrendRow& r : trend) {
    if (r.done.empty()) continue;
    const double x = kLeft + inner * r.minute / span;
    out += label(x + 3, kTop - 6 - 13 * (line++ % 2), r.done, "fill=\"#333\" font-size=\"12\"");
  }
  out += label(kLeft, top + 34,
               "Training aid. Simulated patient; treatments as effects, no doses. Follow local "
               "protocols and medical direction.",
               "fill=\"#555\" font-size=\"12\"");
  return out + "</svg>\n";
}

}  // namespace phren::app
