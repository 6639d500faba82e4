#include "measurement/segments.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "signal/envelope.h"

namespace phren::measurement {
namespace {

constexpr double kFrame_s = 0.04;
constexpr float kLeastPeak = -4.0f;
constexpr double kFarLogit = 6.0, kFarthest = 4.0;  // standard deviations
constexpr std::size_t kShortest = 4, kLongest = 100, kBeside = 6, kShort = 4;
constexpr double kTypical = 33.0;
constexpr std::size_t kNumOutputs = 5, kOnset = 1, kOffset = 2;
constexpr std::array<std::size_t, 3> kSounds{0, 3, 4};  // presence, continuous, crackle

using Row = std::vector<double>;

struct Stretch {
  std::size_t start, end;  // end exclusive
  double value;
};

struct Frames {  // of a piece, and their running sums
  std::size_t num = 0;
  std::array<Row, kNumOutputs> logit, logit_sum, chance_sum, over_short;

  Frames(std::span<const float> logits, std::size_t num_frames) : num(num_frames) {
    for (std::size_t o = 0; o < kNumOutputs; ++o) {
      logit_sum[o] = chance_sum[o] = Row(num + 1);
      for (std::size_t t = 0; t < num; ++t) {
        const auto z = static_cast<double>(logits[o * num + t]);
        logit[o].push_back(std::clamp(z, -kFarLogit, kFarLogit));
        logit_sum[o][t + 1] = logit_sum[o][t] + logit[o][t];
        chance_sum[o][t + 1] = chance_sum[o][t] + 1.0 / (1.0 + std::exp(-z));
      }
      for (std::size_t t = 0; t + kShort <= num; ++t)
        over_short[o].push_back((logit_sum[o][t + kShort] - logit_sum[o][t]) / kShort);
    }
  }
};

double mean_of(const Row& sums, std::size_t start, std::size_t end) {
  return (sums[end] - sums[start]) /
         static_cast<double>(std::max<std::size_t>(1, end > start ? end - start : 1));
}

std::size_t less(std::size_t t, std::size_t by) {
  return t > by ? t - by : 0;
}

template <class Best>
double over(const Row& v, std::size_t start, std::size_t end, Best best) {
  if (end <= start) return -kFarLogit;
  double out = v[start];
  for (std::size_t t = start + 1; t < end; ++t) out = best(out, v[t]);
  return out;
}

double highest(const Row& v, std::size_t start, std::size_t end) {
  return over(v, start, end, [](double a, double b) { return std::max(a, b); });
}

double lowest(const Row& v, std::size_t start, std::size_t end) {
  return over(v, start, end, [](double a, double b) { return std::min(a, b); });
}

std::vector<std::size_t> peaks(const float* v, std::size_t n) {
  std::vector<std::size_t> out;
  for (std::size_t t = 0; t < n; ++t)
    if (v[t] > kLeastPeak && (t == 0 || v[t] >= v[t - 1]) && (t + 1 == n || v[t] >= v[t + 1]))
      out.push_back(t);
  return out;
}

// In the order of training/segments.py.
Row features_of(const Frames& f, std::size_t a, std::size_t b, double usual, const Row& whole) {
  const double length = std::log(static_cast<double>(b - a));
  Row x{length, length * length, length - usual, std::fabs(length - usual)};
  for (const std::size_t o : kSounds) x.push_back(mean_of(f.chance_sum[o], a, b));
  for (std::size_t o = 0; o < kNumOutputs; ++o) x.push_back(mean_of(f.logit_sum[o], a, b));
  for (const std::size_t o : kSounds)
    x.push_back(a == 0 ? -kFarLogit : mean_of(f.logit_sum[o], less(a, kBeside), a));
  for (const std::size_t o : kSounds)
    x.push_back(b == f.num ? -kFarLogit : mean_of(f.logit_sum[o], b, std::min(f.num, b + kBeside)));
  for (const std::size_t o : kSounds)
    x.push_back(mean_of(f.logit_sum[o], a, std::min(a + kBeside, b)));
  for (const std::size_t o : kSounds)
    x.push_back(mean_of(f.logit_sum[o], std::max(a, less(b, kBeside)), b));
  x.push_back(f.logit[kOnset][a]);
  x.push_back(f.logit[kOffset][b - 1]);
  x.push_back(highest(f.logit[kOnset], a + 4, less(b, 3)));
  x.push_back(highest(f.logit[kOffset], a + 3, less(b, 4)));
  const std::size_t last = std::max(a + 1, b - kShort + 1);
  x.push_back(lowest(f.over_short[0], a, last));
  x.push_back(highest(f.over_short[3], a, last));
  x.push_back(highest(f.over_short[4], a, last));
  const auto near = [&](std::size_t o, std::size_t from, std::size_t to) {
    return f.chance_sum[o][to] - f.chance_sum[o][from];
  };
  x.push_back(near(kOnset, less(a, 3), std::min(f.num, a + 4)));
  x.push_back(near(kOffset, less(b, 4), std::min(f.num, b + 3)));
  x.push_back(a == 0 ? 1.0 : 0.0);
  x.push_back(b == f.num ? 1.0 : 0.0);
  x.insert(x.end(), whole.begin(), whole.end());
  return x;
}

Row through(const SegmentFinder::Rows& layer, const Row& x, bool is_hidden) {
  Row y;
  for (const Row& row : layer) {
    double sum = row.back();
    for (std::size_t i = 0; i < x.size(); ++i) sum += row[i] * x[i];
    y.push_back(is_hidden ? std::max(0.0, sum) : sum);
  }
  return y;
}

// What keeping a stretch is worth.
double value_of(const SegmentFinder& finder, Row x) {
  for (std::size_t i = 0; i < x.size(); ++i)
    x[i] = std::clamp((x[i] - finder.mean[i]) / finder.deviation[i], -kFarthest, kFarthest);
  std::array<double, SegmentFinder::kNumAnswers> odds{};  // over no event, as logarithms at first
  for (const auto& layers : finder.judges) {
    Row y = x;
    for (const auto& layer : layers) y = through(layer, y, &layer != &layers.back());
    for (std::size_t i = 0; i < odds.size(); ++i)
      odds[i] += (y[i] - y[0]) / static_cast<double>(finder.judges.size());
  }
  double sum = 0.0;
  for (double& v : odds) v = std::exp(v), sum += v;
  const double some = std::max(1e-9, (sum - odds[0]) / sum), continuous = odds[3] / sum;
  return some - finder.cost + continuous * (1.0 - finder.continuous_cost / some);
}

// Those without overlap whose values sum highest.
std::vector<std::pair<double, double>> best_of(const std::vector<Stretch>& all, std::size_t num) {
  std::vector<std::vector<const Stretch*>> ending(num + 1);
  for (const Stretch& s : all) ending[s.end].push_back(&s);
  std::vector<double> best(num + 1);
  std::vector<const Stretch*> taken(num + 1);
  for (std::size_t t = 1; t <= num; ++t) {
    best[t] = best[t - 1];
    for (const Stretch* s : ending[t])
      if (best[s->start] + s->value > best[t]) best[t] = best[s->start] + s->value, taken[t] = s;
  }
  std::vector<std::pair<double, double>> out;
  for (std::size_t t = num; t > 0;) {
    const Stretch* s = taken[t];
    if (s != nullptr)
      out.emplace_back(kFrame_s * static_cast<double>(s->start),
                       kFrame_s * static_cast<double>(s->end));
    t = s != nullptr ? s->start : t - 1;
  }
  std::reverse(out.begin(), out.end());
  return out;
}

}  // namespace

std::vector<std::pair<double, double>> SegmentFinder::find(
    std::span<const float> logits, std::size_t num_frames,
    std::span<const std::pair<double, double>> path_s) const {
  if (num_frames < kShortest) return {};
  const Frames f(logits, num_frames);
  std::vector<double> lengths;
  for (const auto& [start_s, end_s] : path_s)
    lengths.push_back(std::round((end_s - start_s) / kFrame_s));
  const double usual =
      std::log(lengths.size() > 1 ? signal::percentile_of(lengths, 50.0) : kTypical);
  Row whole;
  for (const std::size_t o : kSounds) whole.push_back(mean_of(f.chance_sum[o], 0, num_frames));
  for (const std::size_t o : {kSounds[1], kSounds[2]})
    whole.push_back(highest(f.over_short[o], 0, f.over_short[o].size()));
  whole.push_back(usual);

  std::vector<std::size_t> starts = peaks(logits.data() + kOnset * num_frames, num_frames);
  if (starts.empty() || starts.front() != 0) starts.insert(starts.begin(), 0);
  std::vector<std::size_t> ends = peaks(logits.data() + kOffset * num_frames, num_frames);
  for (std::size_t& end : ends) ++end;
  if (ends.empty() || ends.back() != num_frames) ends.push_back(num_frames);
  std::vector<Stretch> stretches;
  for (const std::size_t a : starts)
    for (const std::size_t b : ends) {
      if (b < a + kShortest || b > a + kLongest) continue;
      const double value = value_of(*this, features_of(f, a, b, usual, whole));
      if (value > 0.0) stretches.push_back({a, b, value});
    }
  return best_of(stretches, num_frames);
}

}  // namespace phren::measurement
