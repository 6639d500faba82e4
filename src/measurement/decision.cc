#include "measurement/decision.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <nlohmann/json.hpp>

#include "base/files.h"
#include "signal/envelope.h"

namespace phren::measurement {
namespace {

constexpr double kLeast = 1e-6;  // no judge may rule a label out

Result<Weighing> read(const nlohmann::json& all, const std::string& key, std::size_t num_judges,
                      std::size_t num_labels, const std::string& name) {
  const auto numbers = [&](const char* field, std::size_t count) -> Result<std::vector<double>> {
    const auto list = all.contains(key) && all[key].is_object()
                          ? all[key].value(field, nlohmann::json())
                          : nlohmann::json();
    std::vector<double> out;
    if (list.is_array())
      for (const auto& v : list)
        if (v.is_number()) out.push_back(v.get<double>());
    if (out.size() != count)
      return fail(ErrorCode::kMalformed, name + ": " + key + "." + field + " must be " +
                                             std::to_string(count) + " numbers");
    return out;
  };
  auto weights = TRY(numbers("weights", num_judges));
  auto bias = TRY(numbers("bias", num_labels));
  return Weighing{std::move(weights), std::move(bias)};
}

}  // namespace

std::vector<double> Weighing::weigh(std::span<const std::span<const double>> judges) const {
  std::vector<double> p = bias;
  for (std::size_t j = 0; j < judges.size(); ++j)
    for (std::size_t c = 0; c < p.size(); ++c)
      p[c] += weights[j] * std::log(std::max(kLeast, judges[j][c]));
  const double top = *std::max_element(p.begin(), p.end());
  double sum = 0.0;
  for (double& v : p) v = std::exp(v - top), sum += v;
  for (double& v : p) v /= sum;
  return p;
}

namespace {

// The level over the recording's own range, as the filter was fitted on.
struct RelativeLevel {
  std::vector<double> values;
  double range_db = 0.0;
};
RelativeLevel relative_level(std::span<const float> level_db) {
  const std::vector<float> smooth = signal::smoothed(level_db, 2);
  std::vector<double> level(smooth.begin(), smooth.end());
  const double floor = signal::percentile_of(level, 8.0),
               middle = signal::percentile_of(level, 50.0),
               top = signal::percentile_of(level, 92.0);
  for (double& v : level) v = std::clamp((v - middle) / std::max(3.0, top - floor), -1.5, 1.5);
  return {std::move(level), top - floor};
}

}  // namespace

std::vector<std::pair<double, double>> BreathFilter::find(std::span<const float> level_db) const {
  constexpr double kFrame_s = 0.02;
  constexpr std::size_t kShortest = 15;  // frames
  const std::size_t n = level_db.size();
  if (n == 0) return {};
  const RelativeLevel level = relative_level(level_db);
  constexpr auto kHalf = static_cast<std::ptrdiff_t>(kTaps / 2 * kStep);
  std::vector<std::array<bool, 2>> back(n);  // gap reached from breath; breath newly started
  double gap = 0.0, inside = 0.0;
  for (std::size_t t = 0; t < n; ++t) {
    double z = weights[kTaps] * level.range_db / 10.0 + weights[kTaps + 1];
    for (std::size_t k = 0; k < kTaps; ++k) {
      const auto at = std::clamp<std::ptrdiff_t>(static_cast<std::ptrdiff_t>(t + k * kStep) - kHalf,
                                                 0, static_cast<std::ptrdiff_t>(n) - 1);
      z += weights[k] * level.values[static_cast<std::size_t>(at)];
    }
    if (t == 0) {
      inside = z - cost;
      continue;
    }
    back[t] = {inside > gap, gap - cost > inside};
    const double started = std::max(inside, gap - cost) + z;
    gap = std::max(gap, inside);
    inside = started;
  }
  std::vector<std::pair<double, double>> breaths;
  bool is_inside = inside > gap;
  std::size_t end = n;
  for (std::size_t t = n; t-- > 0;) {
    if (is_inside && (t == 0 || back[t][1])) {
      if (end - t >= kShortest)
        breaths.emplace_back(static_cast<double>(t) * kFrame_s,
                             static_cast<double>(end) * kFrame_s);
      is_inside = false;
    } else if (!is_inside && t > 0 && back[t][0]) {
      is_inside = true;
      end = t;
    }
  }
  std::reverse(breaths.begin(), breaths.end());
  return breaths;
}

Result<Decision> Decision::load(const std::filesystem::path& path) {
  auto text = TRY(read_file(path));
  const auto json = nlohmann::json::parse(text, nullptr, false);
  if (!json.is_object()) return fail(ErrorCode::kMalformed, path.string() + ": is not JSON");
  Decision out;
  const auto breath = json.value("breath", nlohmann::json::object());
  if (!breath.is_object() || !breath.contains("taps") || !breath["taps"].is_array() ||
      breath["taps"].size() != BreathFilter::kTaps + 2 || !breath.contains("cost") ||
      !breath["cost"].is_number())
    return fail(ErrorCode::kMalformed, path.string() + ": breath must have a cost and " +
                                           std::to_string(BreathFilter::kTaps + 2) + " taps");
  for (const auto& tap : breath["taps"])
    out.breath.weights.push_back(tap.is_number() ? tap.get<double>() : 0.0);
  out.breath.cost = breath["cost"];
  const struct {
    const char* key;
    std::size_t num_judges, num_labels;
    Weighing* into;
  } kParts[] = {{"event", 2, kNumEventLabels, &out.event},
                {"event_fast", 1, kNumEventLabels, &out.event_fast},
                {"record", 2, kNumRecordLabels, &out.record},
                {"record_fast", 1, kNumRecordLabels, &out.record_fast}};
  for (const auto& part : kParts) {
    *part.into = TRY(read(json, part.key, part.num_judges, part.num_labels, path.string()));
  }
  return out;
}

}  // namespace phren::measurement
