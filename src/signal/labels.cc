#include "signal/labels.h"

#include <charconv>
#include <cmath>
#include <cstdio>

namespace phren::signal {
namespace {

bool parse_seconds(std::string_view text, double& value) {
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  return error == std::errc() && end == text.data() + text.size() && std::isfinite(value);
}

Result<Label> parse_line(std::string_view line, std::size_t number) {
  const auto bad = [&](std::string_view why) {
    return fail(ErrorCode::kMalformed,
                "line " + std::to_string(number) + " is '" + std::string(line) + "': " +
                    std::string(why) + "; it must be start, end (seconds) and text, tabs between");
  };
  const std::size_t first = line.find('\t');
  if (first == std::string_view::npos) return bad("no tab");
  const std::size_t second = line.find('\t', first + 1);
  Label label;
  const std::string_view end_text =
      line.substr(first + 1, second == std::string_view::npos ? second : second - first - 1);
  if (!parse_seconds(line.substr(0, first), label.start_s)) return bad("the start is not a number");
  if (!parse_seconds(end_text, label.end_s)) return bad("the end is not a number");
  if (label.start_s < 0.0) return bad("the start is below 0");
  if (label.end_s < label.start_s) return bad("the end is before the start");
  if (second != std::string_view::npos) label.text = std::string(line.substr(second + 1));
  return label;
}

}  // namespace

std::string format_labels(const std::vector<Label>& labels) {
  std::string out;
  char head[64];
  for (const Label& label : labels) {
    std::snprintf(head, sizeof head, "%.6f\t%.6f\t", label.start_s, label.end_s);
    out += head;
    for (const char c : label.text) out += (c == '\t' || c == '\n' || c == '\r') ? ' ' : c;
    out += '\n';
  }
  return out;
}

Result<std::vector<Label>> parse_labels(std::string_view text) {
  std::vector<Label> labels;
  std::size_t number = 0;
  while (!text.empty()) {
    ++number;
    const std::size_t end = text.find('\n');
    std::string_view line = text.substr(0, end);
    text = end == std::string_view::npos ? std::string_view() : text.substr(end + 1);
    if (!line.empty() && line.back() == '\r') line.remove_suffix(1);
    if (line.empty() || line.front() == '\\') continue;
    auto label = TRY(parse_line(line, number));
    labels.push_back(std::move(label));
  }
  return labels;
}

}  // namespace phren::signal
