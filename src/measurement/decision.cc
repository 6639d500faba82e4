#include "measurement/decision.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <nlohmann/json.hpp>

#include "base/files.h"
#include "measurement/evidence.h"
#include "signal/envelope.h"

namespace phren::measurement {
namespace {

constexpr double kLeast = 1e-6;  // no judge may rule a label out

void softmax(std::vector<double>& p) {
  const double top = *std::max_element(p.begin(), p.end());
  double sum = 0.0;
  for (double& v : p) v = std::exp(v - top), sum += v;
  for (double& v : p) v /= sum;
}

Result<Weighing> read_weighing(const nlohmann::json& all, const std::string& key,
                               std::size_t num_judges, std::size_t num_labels,
                               const std::string& name) {
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
  softmax(p);
  return p;
}

std::vector<double> Calibration::apply(std::span<const double> probabilities) const {
  std::vector<double> p = bias;
  for (std::size_t c = 0; c < p.size(); ++c)
    p[c] += scale * std::log(std::max(kLeast, probabilities[c]));
  softmax(p);
  return p;
}

std::vector<double> LinearJudge::scores(std::span<const double> evidence) const {
  constexpr double kFarthest = 4.0;  // standard deviations
  std::vector<double> out;
  for (const auto& row : weights) {
    double z = row.back();
    for (std::size_t i = 0; i < evidence.size(); ++i)
      z += row[i] * std::clamp((evidence[i] - mean[i]) / deviation[i], -kFarthest, kFarthest);
    out.push_back(z);
  }
  return out;
}

std::vector<double> KindWeighing::event_by_judge(std::span<const double> evidence,
                                                 std::span<const double> by_network) const {
  std::vector<double> p = event_judge.scores(evidence);
  softmax(p);
  constexpr std::array<std::size_t, kNumEventLabels> kAnswer{0, 2, 2, 2, 1, 1, 3};
  std::array<double, 4> sum{};
  for (std::size_t c = 0; c < kNumEventLabels; ++c)
    sum[kAnswer[c]] += std::max(kLeast, by_network[c]);
  std::vector<double> out(kNumEventLabels);
  for (std::size_t c = 0; c < kNumEventLabels; ++c)
    out[c] = p[kAnswer[c]] * std::max(kLeast, by_network[c]) / sum[kAnswer[c]];
  return out;
}

std::vector<double> KindWeighing::record_by_judge(std::span<const double> evidence,
                                                  double poor) const {
  const std::vector<double> z = record_judge.scores(evidence);
  const double c = 1.0 / (1.0 + std::exp(-z[0])), d = 1.0 / (1.0 + std::exp(-z[1]));
  const double good = 1.0 - poor;
  return {good * (1.0 - c) * (1.0 - d), good * c * (1.0 - d), good * (1.0 - c) * d, good * c * d,
          poor};
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

namespace {

Status read_numbers(const nlohmann::json& list, std::span<double> out, const std::string& where) {
  const bool is_right =
      list.is_array() && list.size() == out.size() &&
      std::all_of(list.begin(), list.end(), [](const auto& v) { return v.is_number(); });
  if (!is_right)
    return fail(ErrorCode::kMalformed,
                where + " must be " + std::to_string(out.size()) + " numbers");
  for (std::size_t i = 0; i < out.size(); ++i) out[i] = list[i].template get<double>();
  return {};
}

// An empty object where there is none or something else: then its first field is said to be missing.
nlohmann::json object_at(const nlohmann::json& all, const char* key) {
  const auto found = all.is_object() ? all.find(key) : all.end();
  return found != all.end() && found->is_object() ? *found : nlohmann::json::object();
}

Status read_kind_model(const nlohmann::json& all, KindModel& model, const std::string& name) {
  const auto entry = object_at(all, "kind_model");
  const auto part = [&](const char* field) { return entry.value(field, nlohmann::json()); };
  const std::string where = name + ": kind_model.";
  TRY(read_numbers(part("mean"), model.mean, where + "mean"));
  TRY(read_numbers(part("deviation"), model.deviation, where + "deviation"));
  const auto weights = part("weights"), centre = part("centre"), spread = part("spread");
  for (const auto* list : {&weights, &centre, &spread})
    if (!list->is_array() || list->size() != kNumRecordingKinds)
      return fail(ErrorCode::kMalformed,
                  where + "weights, centre and spread must have a row for each kind");
  for (std::size_t k = 0; k < kNumRecordingKinds; ++k) {
    TRY(read_numbers(weights[k], model.weights[k], where + "weights"));
    TRY(read_numbers(centre[k], model.centre[k], where + "centre"));
    TRY(read_numbers(spread[k], model.spread[k], where + "spread"));
  }
  model.farthest = entry.value("farthest", 0.0);
  return {};
}

Status read_clip_on(const nlohmann::json& all, ClipOnModel& model, const std::string& name) {
  const auto entry = object_at(all, "clip_on");
  const std::string where = name + ": clip_on.";
  TRY(read_numbers(entry.value("mean", nlohmann::json()), model.mean, where + "mean"));
  TRY(read_numbers(entry.value("deviation", nlohmann::json()), model.deviation,
                   where + "deviation"));
  TRY(read_numbers(entry.value("weights", nlohmann::json()), model.weights, where + "weights"));
  return {};
}

// A kind without such a judge is weighed.
Status read_judge(const nlohmann::json& kind, const char* key, std::size_t num_answers,
                  std::size_t num_evidence, LinearJudge& judge, const std::string& name) {
  if (!kind.contains(key)) return {};
  const auto entry = object_at(kind, key);
  const std::string where = name + "." + key + ".";
  const auto rows = entry.value("weights", nlohmann::json());
  if (!rows.is_array() || rows.size() != num_answers)
    return fail(ErrorCode::kMalformed,
                where + "weights must have " + std::to_string(num_answers) + " rows");
  judge.mean.resize(num_evidence);
  judge.deviation.resize(num_evidence);
  TRY(read_numbers(entry.value("mean", nlohmann::json()), judge.mean, where + "mean"));
  TRY(read_numbers(entry.value("deviation", nlohmann::json()), judge.deviation,
                   where + "deviation"));
  judge.weights.assign(num_answers, std::vector<double>(num_evidence + 1));
  for (std::size_t r = 0; r < num_answers; ++r)
    TRY(read_numbers(rows[r], judge.weights[r], where + "weights"));
  return {};
}

Status read_calibration(const nlohmann::json& kind, const char* key, std::size_t num_labels,
                        Calibration& out, const std::string& name) {
  const auto entry = object_at(kind, key);
  const std::string where = name + "." + key + ".";
  out.bias.resize(num_labels);
  TRY(read_numbers(entry.value("bias", nlohmann::json()), out.bias, where + "bias"));
  for (const char* field : {"scale", "least_in_set"})
    if (!entry.contains(field) || !entry[field].is_number())
      return fail(ErrorCode::kMalformed, where + field + " must be a number");
  out.scale = entry["scale"];
  out.least_in_set = entry["least_in_set"];
  return {};
}

Status read_segments(const nlohmann::json& json, SegmentFinder& out, const std::string& name) {
  const auto entry = object_at(json, "segments");
  const std::string where = name + ": segments.";
  out.mean.resize(SegmentFinder::kNumFeatures);
  out.deviation.resize(SegmentFinder::kNumFeatures);
  TRY(read_numbers(entry.value("mean", nlohmann::json()), out.mean, where + "mean"));
  TRY(read_numbers(entry.value("deviation", nlohmann::json()), out.deviation, where + "deviation"));
  for (const char* field : {"cost", "continuous_cost"})
    if (!entry.contains(field) || !entry[field].is_number())
      return fail(ErrorCode::kMalformed, where + field + " must be a number");
  out.cost = entry["cost"];
  out.continuous_cost = entry["continuous_cost"];
  const auto judges = entry.value("judges", nlohmann::json());
  if (!judges.is_array() || judges.empty())
    return fail(ErrorCode::kMalformed, where + "judges must hold at least one");
  for (const auto& layers : judges) {
    std::size_t width = SegmentFinder::kNumFeatures;
    auto& into = out.judges.emplace_back();
    for (const auto& layer : layers) {
      SegmentFinder::Rows rows(layer.is_array() ? layer.size() : 0, std::vector<double>(width + 1));
      for (std::size_t r = 0; r < rows.size(); ++r)
        TRY(read_numbers(layer[r], rows[r], where + "judges"));
      width = rows.size();
      into.push_back(std::move(rows));
    }
    if (width != SegmentFinder::kNumAnswers)
      return fail(ErrorCode::kMalformed, where + "judges must end in " +
                                             std::to_string(SegmentFinder::kNumAnswers) + " rows");
  }
  return {};
}

constexpr std::array<const char*, kNumRecordingKinds> kKindKeys{"children", "stethoscope", "other"};

}  // namespace

Result<Decision> Decision::load(const std::filesystem::path& path) {
  const auto text = TRY(read_file(path));
  return read(text, path.string());
}

Result<Decision> Decision::read(std::string_view text, const std::string& name) {
  const auto json = nlohmann::json::parse(text, nullptr, false);
  if (!json.is_object()) return fail(ErrorCode::kMalformed, name + ": is not JSON");
  Decision out;
  const auto breath = json.value("breath", nlohmann::json::object());
  if (!breath.is_object() || !breath.contains("taps") || !breath["taps"].is_array() ||
      breath["taps"].size() != BreathFilter::kTaps + 2 || !breath.contains("cost") ||
      !breath["cost"].is_number())
    return fail(ErrorCode::kMalformed, name + ": breath must have a cost and " +
                                           std::to_string(BreathFilter::kTaps + 2) + " taps");
  for (const auto& tap : breath["taps"])
    out.breath.weights.push_back(tap.is_number() ? tap.get<double>() : 0.0);
  out.breath.cost = breath["cost"];
  TRY(read_kind_model(json, out.kind, name));
  TRY(read_clip_on(json, out.clip_on, name));
  TRY(read_segments(json, out.segments, name));
  const auto kinds = json.value("kinds", nlohmann::json::object());
  for (std::size_t k = 0; k < kNumRecordingKinds; ++k) {
    const auto entry = kinds.value(kKindKeys[k], nlohmann::json::object());
    KindWeighing& into = out.kinds[k];
    const std::string where = name + ": kinds." + kKindKeys[k];
    into.event = TRY(read_weighing(entry, "event", 2, kNumEventLabels, where));
    into.event_fast = TRY(read_weighing(entry, "event_fast", 1, kNumEventLabels, where));
    into.record = TRY(read_weighing(entry, "record", 2, kNumRecordLabels, where));
    into.record_fast = TRY(read_weighing(entry, "record_fast", 1, kNumRecordLabels, where));
    TRY(read_judge(entry, "event_judge", 4, kNumEventEvidence, into.event_judge, where));
    TRY(read_judge(entry, "record_judge", 2, kNumRecordEvidence, into.record_judge, where));
    TRY(read_calibration(entry, "event_chance", kNumEventLabels, into.event_chance, where));
    TRY(read_calibration(entry, "record_chance", kNumRecordLabels, into.record_chance, where));
  }
  return out;
}

}  // namespace phren::measurement
