#include "measurement/breath.h"

#include <algorithm>
#include <cmath>

#include "signal/envelope.h"

namespace phren::measurement {
namespace {

constexpr double kFrame_s = 0.02;
constexpr double kSlowest_per_min = 6.0, kFastest_per_min = 90.0;
constexpr double kCutOff_s = 0.1;  // nearer to an end of the recording: cut off by it

struct Burst {  // a stretch of flow between two valleys, in frames
  std::size_t begin = 0, end = 0;
  double level_db = 0.0;
  double duration_s() const { return static_cast<double>(end - begin) * kFrame_s; }
};

double percentile(std::vector<float> values, double q) {
  const auto at =
      values.begin() + static_cast<std::ptrdiff_t>(q * static_cast<double>(values.size() - 1));
  std::nth_element(values.begin(), at, values.end());
  return static_cast<double>(*at);
}

// Autocorrelation of the level at lags of 1/90 to 1/6 min. The first high peak is the breath;
// phases of unlike loudness make the peak at half a breath lower.
struct Period {
  std::size_t frames = 0;
  double strength = 0.0;
};
Period find_period(const std::vector<float>& level) {
  const auto n = level.size();
  const auto shortest = static_cast<std::size_t>(60.0 / kFastest_per_min / kFrame_s);
  const auto longest =
      std::min(static_cast<std::size_t>(60.0 / kSlowest_per_min / kFrame_s), n * 2 / 3);
  if (longest < shortest + 10) return {};
  // Every fourth frame is enough for a rate, and long recordings stay quick.
  constexpr std::size_t kStep = 4;
  std::vector<double> y;
  for (std::size_t i = 0; i < n; i += kStep) y.push_back(static_cast<double>(level[i]));
  const double floor = percentile(level, 0.1), top = percentile(level, 0.95);
  double mean = 0.0;
  for (double& v : y) v = std::clamp(v, floor, top), mean += v;
  mean /= static_cast<double>(y.size());
  double power = 1e-12;
  for (double& v : y) v -= mean, power += v * v;
  const std::size_t low = shortest / kStep, high = longest / kStep;
  std::vector<double> r(high + 2, 0.0);
  const std::size_t window = std::min<std::size_t>(y.size(), 15000);  // 20 min tell the rate
  for (std::size_t lag = low > 0 ? low - 1 : 0; lag <= high + 1 && lag < y.size(); ++lag) {
    double sum = 0.0;
    const std::size_t to = window - std::min(window, lag);
    for (std::size_t i = 0; i < to; ++i) sum += y[i] * y[i + lag];
    r[lag] = to > 0 ? sum / static_cast<double>(to) / (power / static_cast<double>(y.size())) : 0.0;
  }
  double best = 0.0;
  for (std::size_t lag = low; lag <= high; ++lag)
    if (r[lag] > r[lag - 1] && r[lag] >= r[lag + 1]) best = std::max(best, r[lag]);
  for (std::size_t lag = low; lag <= high; ++lag)
    if (r[lag] > r[lag - 1] && r[lag] >= r[lag + 1] && r[lag] > 0.85 * best && r[lag] > 0.1)
      return {lag * kStep, r[lag]};
  return {};
}

// Stretches where the level is above the line a third of the way from floor to top.
std::vector<Burst> find_bursts(const std::vector<float>& level, double floor, double top) {
  const double line = floor + 0.35 * (top - floor);
  std::vector<Burst> bursts;
  for (std::size_t i = 0; i < level.size(); ++i) {
    if (static_cast<double>(level[i]) < line) continue;
    Burst burst{i, i, 0.0};
    double sum = 0.0;
    for (; i < level.size() && static_cast<double>(level[i]) >= line; ++i)
      sum += static_cast<double>(level[i]);
    burst.end = i;
    burst.level_db = sum / static_cast<double>(burst.end - burst.begin);
    bursts.push_back(burst);
  }
  std::vector<Burst> merged;  // gaps below 80 ms are dips, bursts below 150 ms are not breaths
  for (const Burst& b : bursts) {
    if (!merged.empty() && b.begin - merged.back().end < 4) {
      merged.back().end = b.end;
      merged.back().level_db = std::max(merged.back().level_db, b.level_db);
    } else {
      merged.push_back(b);
    }
  }
  std::erase_if(merged, [](const Burst& b) { return b.duration_s() < 0.15; });
  return merged;
}

// Splits a burst that holds both phases at its deepest inner valley.
void split_long(std::vector<Burst>& bursts, const std::vector<float>& level, std::size_t period) {
  std::vector<Burst> out;
  for (const Burst& b : bursts) {
    const std::size_t length = b.end - b.begin, margin = length / 4;
    if (period == 0 || length < period * 6 / 10 || margin < 5) {
      out.push_back(b);
      continue;
    }
    const auto from = level.begin() + static_cast<std::ptrdiff_t>(b.begin);
    const auto valley = std::min_element(from + static_cast<std::ptrdiff_t>(margin),
                                         from + static_cast<std::ptrdiff_t>(length - margin));
    const auto cut = static_cast<std::size_t>(valley - level.begin());
    const auto mean = [&](std::size_t begin, std::size_t end) {
      double sum = 0.0;
      for (std::size_t i = begin; i < end; ++i) sum += static_cast<double>(level[i]);
      return sum / static_cast<double>(end - begin);
    };
    out.push_back({b.begin, cut, mean(b.begin, cut)});
    out.push_back({cut, b.end, mean(cut, b.end)});
  }
  bursts = std::move(out);
}

// +1 if the even-numbered bursts are inspirations, -1 if the odd ones; size tells how sure.
double alternation(const std::vector<Burst>& bursts) {
  double evidence = 0.0;
  for (std::size_t i = 0; i + 1 < bursts.size(); ++i) {
    const double sign = i % 2 == 0 ? 1.0 : -1.0;
    evidence += sign * std::clamp((bursts[i].level_db - bursts[i + 1].level_db) / 4.0, -1.0, 1.0);
    if (i > 0) {  // the longer pause comes before an inspiration
      const double before = static_cast<double>(bursts[i].begin - bursts[i - 1].end) * kFrame_s;
      const double after = static_cast<double>(bursts[i + 1].begin - bursts[i].end) * kFrame_s;
      evidence += sign * 0.5 * std::clamp((before - after) / 0.3, -1.0, 1.0);
    }
  }
  return evidence / std::max(1.0, static_cast<double>(bursts.size()) - 1.0);
}

// With one burst a breath, that burst is inspiration (expiration too soft to stand out).
void name_phases(const std::vector<Burst>& bursts, std::size_t period, Breathing& out) {
  std::vector<double> distances;
  for (std::size_t i = 1; i < bursts.size(); ++i)
    distances.push_back(static_cast<double>(bursts[i].begin - bursts[i - 1].begin));
  const bool is_single = period > 0 && !distances.empty() &&
                         signal::median_of(distances) > 0.75 * static_cast<double>(period);
  const double evidence = is_single ? 0.6 : alternation(bursts);
  const bool is_even_inspiration = evidence >= 0.0;
  for (std::size_t i = 0; i < bursts.size(); ++i) {
    const bool is_inspiration = is_single || (i % 2 == 0) == is_even_inspiration;
    out.phases.push_back({is_inspiration ? exam::Phase::kInspiration : exam::Phase::kExpiration,
                          static_cast<double>(bursts[i].begin) * kFrame_s,
                          static_cast<double>(bursts[i].end) * kFrame_s, bursts[i].level_db});
  }
  out.phase_confidence =
      std::clamp(std::fabs(evidence), 0.0, 1.0) * std::min(1.0, out.confidence * 1.5);
}

// A phase that the recording's start or end cuts off is not the mean of a breath: it is left out of
// the levels wherever a whole one was heard.
bool is_whole(const BreathPhase& p, const BreathTrace& trace) {
  const double end_s = static_cast<double>(trace.band_db.size()) * kFrame_s;
  return p.start_s > kCutOff_s && p.end_s < end_s - kCutOff_s;
}

// What is left of the breath after the inspiration, over the inspiration: a soft expiration fades
// into the noise, so where it ends is not heard, but the next breath is. Only from recordings whose
// inspirations come a breath apart and last alike; others tell nothing.
void measure_ratio(const Period& period, const BreathTrace& trace, Breathing& out) {
  constexpr double kAlike = 0.2, kMost = 0.75;
  const double breath_s = static_cast<double>(period.frames) * kFrame_s;
  std::vector<double> starts_s, lengths_s, unlike;
  for (const BreathPhase& p : out.phases) {
    if (p.phase != exam::Phase::kInspiration) continue;
    starts_s.push_back(p.start_s);
    if (is_whole(p, trace)) lengths_s.push_back(p.end_s - p.start_s);
  }
  if (!out.rate_per_min || starts_s.size() < 3 || lengths_s.size() < 2) return;
  double regular = 0.0;
  for (std::size_t i = 1; i < starts_s.size(); ++i)
    regular += std::fabs((starts_s[i] - starts_s[i - 1]) / breath_s - 1.0) < kAlike ? 1.0 : 0.0;
  const double length_s = signal::median_of(lengths_s);
  for (const double length : lengths_s) unlike.push_back(std::fabs(length / length_s - 1.0));
  if (regular < kMost * static_cast<double>(starts_s.size() - 1)) return;
  if (signal::median_of(unlike) > kAlike || length_s >= breath_s) return;
  out.expiration_to_inspiration = (breath_s - length_s) / length_s;
}

// Mean over phases and its standard error, per band.
void measure_bands(const BreathTrace& trace, Breathing& out) {
  for (std::size_t band = 0; band < kNumBands; ++band)
    for (const exam::Phase phase : {exam::Phase::kInspiration, exam::Phase::kExpiration}) {
      double n = 0.0, sum = 0.0, squares = 0.0;
      const bool has_whole =
          std::any_of(out.phases.begin(), out.phases.end(),
                      [&](const BreathPhase& p) { return p.phase == phase && is_whole(p, trace); });
      for (const BreathPhase& p : out.phases) {
        if (p.phase != phase || (has_whole && !is_whole(p, trace))) continue;
        const auto begin = static_cast<std::size_t>(p.start_s / kFrame_s);
        const auto end =
            std::min(trace.band_db.size(), static_cast<std::size_t>(p.end_s / kFrame_s));
        double power = 0.0;
        for (std::size_t t = begin; t < end; ++t)
          power += std::pow(10.0, 0.1 * static_cast<double>(trace.band_db[t][band]));
        if (end <= begin) continue;
        const double level = 10.0 * std::log10(power / static_cast<double>(end - begin) + 1e-20);
        n += 1.0;
        sum += level;
        squares += level * level;
      }
      const double mean = n > 0.0 ? sum / n : -200.0;
      const double variance =
          n > 1.5 ? std::max(0.0, squares / n - mean * mean) * n / (n - 1.0) : 9.0;
      const double error = std::sqrt(variance / std::max(1.0, n));
      BandLevel& level = out.bands[band];
      (phase == exam::Phase::kInspiration ? level.inspiration_db : level.expiration_db) = mean;
      (phase == exam::Phase::kInspiration ? level.inspiration_se_db : level.expiration_se_db) =
          error;
    }
}

}  // namespace

Breathing measure_breathing(const BreathTrace& trace) {
  Breathing out;
  if (trace.broadband_db.size() < 25) return out;
  const std::vector<float> level = signal::smoothed(trace.broadband_db, 6);  // 260 ms
  const double floor = percentile(level, 0.08), top = percentile(level, 0.92);
  const Period period = find_period(level);
  const double swing_db = top - floor;
  out.confidence =
      std::clamp(period.strength, 0.0, 1.0) * std::clamp((swing_db - 1.0) / 5.0, 0.0, 1.0);
  if (period.frames > 0 && out.confidence > 0.1)
    out.rate_per_min = 60.0 / (static_cast<double>(period.frames) * kFrame_s);
  if (swing_db >= 2.0) {
    std::vector<Burst> bursts = find_bursts(level, floor, top);
    split_long(bursts, level, period.frames);
    name_phases(bursts, period.frames, out);
    measure_ratio(period, trace, out);
  }
  measure_bands(trace, out);
  double power = 0.0;
  for (std::size_t b = 1; b <= 3; ++b) power += std::pow(10.0, 0.1 * out.bands[b].inspiration_db);
  out.level_db = 10.0 * std::log10(power + 1e-20);
  return out;
}

void BreathMeter::measure_when_long() {
  constexpr std::size_t kLong = 6000;  // two minutes
  if (trace_.broadband_db.size() >= kLong) measure();
}

void BreathMeter::measure() {
  const Breathing part = measure_breathing(trace_);
  const double start_s = static_cast<double>(first_frame_) * kFrame_s;
  for (BreathPhase phase : part.phases) {
    phase.start_s += start_s;
    phase.end_s += start_s;
    whole_.phases.push_back(phase);
  }
  if (part.rate_per_min) rates_.push_back(*part.rate_per_min);
  if (part.expiration_to_inspiration) ratios_.push_back(*part.expiration_to_inspiration);
  const auto weight = static_cast<double>(trace_.broadband_db.size());
  confidence_ += weight * part.confidence;
  phase_confidence_ += weight * part.phase_confidence;
  for (std::size_t b = 0; b < kNumBands; ++b) {
    const BandLevel& band = part.bands[b];
    level_sum_[b][0] += weight * band.inspiration_db;
    level_sum_[b][1] += weight * band.expiration_db;
    variance_sum_[b][0] += weight * weight * band.inspiration_se_db * band.inspiration_se_db;
    variance_sum_[b][1] += weight * weight * band.expiration_se_db * band.expiration_se_db;
  }
  whole_.level_db = part.level_db;
  weight_ += weight;
  parts_ += 1.0;
  first_frame_ += trace_.broadband_db.size();
  trace_.broadband_db.clear();
  trace_.band_db.clear();
}

Breathing BreathMeter::finish() {
  if (parts_ == 0.0) return measure_breathing(trace_);
  if (trace_.broadband_db.size() >= 500) measure();  // ten seconds: enough to tell a rate
  if (!rates_.empty()) whole_.rate_per_min = signal::median_of(rates_);
  if (!ratios_.empty()) whole_.expiration_to_inspiration = signal::median_of(ratios_);
  whole_.confidence = confidence_ / weight_;
  whole_.phase_confidence = phase_confidence_ / weight_;
  double power = 0.0;
  for (std::size_t b = 0; b < kNumBands; ++b) {
    BandLevel& band = whole_.bands[b];
    band.inspiration_db = level_sum_[b][0] / weight_;
    band.expiration_db = level_sum_[b][1] / weight_;
    band.inspiration_se_db = std::sqrt(variance_sum_[b][0]) / weight_;
    band.expiration_se_db = std::sqrt(variance_sum_[b][1]) / weight_;
    if (b >= 1 && b <= 3) power += std::pow(10.0, 0.1 * band.inspiration_db);
  }
  whole_.level_db = 10.0 * std::log10(power + 1e-20);
  return std::move(whole_);
}

}  // namespace phren::measurement
