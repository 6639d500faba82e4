#include "measurement/decision.h"

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "base/files.h"

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
  auto weights = numbers("weights", num_judges);
  if (!weights) return fail(weights.error());
  auto bias = numbers("bias", num_labels);
  if (!bias) return fail(bias.error());
  return Weighing{std::move(*weights), std::move(*bias)};
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

Result<Decision> Decision::load(const std::filesystem::path& path) {
  auto text = read_file(path);
  if (!text) return fail(text.error());
  const auto json = nlohmann::json::parse(*text, nullptr, false);
  if (!json.is_object()) return fail(ErrorCode::kMalformed, path.string() + ": is not JSON");
  Decision out;
  const struct {
    const char* key;
    std::size_t num_judges, num_labels;
    Weighing* into;
  } kParts[] = {{"event", 2, kNumEventLabels, &out.event},
                {"event_fast", 1, kNumEventLabels, &out.event_fast},
                {"record", 2, kNumRecordLabels, &out.record},
                {"record_fast", 1, kNumRecordLabels, &out.record_fast}};
  for (const auto& part : kParts) {
    auto weighing = read(json, part.key, part.num_judges, part.num_labels, path.string());
    if (!weighing) return fail(weighing.error());
    *part.into = std::move(*weighing);
  }
  return out;
}

}  // namespace phren::measurement
