#include "measurement/whitened.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "measurement/fast_math.h"
#include "measurement/transients.h"
#include "signal/envelope.h"

namespace phren::measurement {
namespace {

constexpr std::size_t kWindow = 64, kStep = 8;                                   // 16 ms every 2 ms
constexpr std::size_t kFirstBin = 2, kEndBin = 10, kBins = kEndBin - kFirstBin;  // of 62.5 Hz
constexpr std::size_t kReach = 50, kEvery = 25;  // frames behind a median, and between two medians
constexpr std::size_t kApart = 4, kFlank = 7;    // 8 and 14 ms
constexpr float kHeight_db = 6.0f, kFall_db = 3.0f;
constexpr float kLeast = 1e-14f;

using Row = std::array<float, kBins>;

// Logarithm of each bin's median around frame `centre`.
Row background_at(const std::vector<float>& power, std::size_t frames, std::size_t centre) {
  const std::size_t from = centre >= kReach ? centre - kReach : 0;
  const std::size_t count = std::min(frames, centre + kReach + 1) - from;
  Row out{};
  std::array<float, 2 * kReach + 1> near;
  for (std::size_t k = 0; k < kBins; ++k) {
    for (std::size_t i = 0; i < count; ++i)
      near[i] = power[(from + i) * kEndBin + kFirstBin + k] + kLeast;
    const auto middle = near.begin() + static_cast<std::ptrdiff_t>(count / 2);
    std::nth_element(near.begin(), middle, near.begin() + static_cast<std::ptrdiff_t>(count));
    out[k] = fast_log(*middle);
  }
  return out;
}

// Mean over the bins of power over background, in dB.
void whiten(const std::vector<float>& power, std::vector<float>& level_db) {
  const std::size_t frames = level_db.size();
  Row before = background_at(power, frames, 0), after = before;
  for (std::size_t t = 0; t < frames; ++t) {
    if (t % kEvery == 0) {
      before = t == 0 ? before : after;
      after = t + kEvery < frames ? background_at(power, frames, t + kEvery) : before;
    }
    const float share = static_cast<float>(t % kEvery) / static_cast<float>(kEvery);
    float sum = 0.0f;
    for (std::size_t k = 0; k < kBins; ++k)
      sum += (power[t * kEndBin + kFirstBin + k] + kLeast) *
             fast_exp(-before[k] - share * (after[k] - before[k]));
    level_db[t] = power_db(sum / static_cast<float>(kBins));
  }
}

bool is_peak(const std::vector<float>& level_db, std::size_t t) {
  const std::size_t from = t >= kApart ? t - kApart : 0;
  const std::size_t to = std::min(level_db.size(), t + kApart + 1);
  const auto begin = level_db.begin();
  if (std::max_element(begin + static_cast<std::ptrdiff_t>(from),
                       begin + static_cast<std::ptrdiff_t>(to)) !=
      begin + static_cast<std::ptrdiff_t>(t))
    return false;
  const float foot_db = level_db[t] - kFall_db;
  return (t < kFlank || level_db[t - kFlank] < foot_db) &&
         (t + kFlank >= level_db.size() || level_db[t + kFlank] < foot_db);
}

}  // namespace

WhitenedCrackles::WhitenedCrackles()
    : stft_(*signal::Stft::make({kWindow, kWindow, kStep, kEndBin})) {}

std::vector<Crackle> WhitenedCrackles::find(const Analysis& a) {
  std::vector<Crackle> out;
  const std::size_t frames = stft_.num_frames(a.samples.size());
  if (frames == 0) return out;
  power_.resize(frames * kEndBin);
  level_db_.resize(frames);
  stft_.process(a.samples, power_);
  whiten(power_, level_db_);
  const auto median_db = static_cast<float>(
      signal::median_of(std::vector<double>(level_db_.begin(), level_db_.end())));
  const TransientGates gates;
  for (std::size_t t = 0; t < frames; ++t) {
    if (level_db_[t] < median_db + kHeight_db || !is_peak(level_db_, t)) continue;
    const std::size_t centre = t * kStep + kWindow / 2;
    Crackle crackle;
    if (const auto shape = measure_waveform(a.high_passed, centre);
        shape && shape->two_cycle_ms >= gates.min_two_cycle_ms &&
        shape->two_cycle_ms <= gates.max_two_cycle_ms)
      crackle = *shape;
    crackle.at_s = static_cast<double>(centre) / kWorkRate_hz;
    crackle.height_db = static_cast<double>(level_db_[t] - median_db);
    out.push_back(crackle);
  }
  return out;
}

}  // namespace phren::measurement
