#include "acoustics/instrument.h"

#include <string>

#include "acoustics/lanes.h"

namespace phren::acoustics {
namespace {

constexpr double kFormat = 1.0;

// A second-order section of gain G at its middle or beyond its corner, in the analogue model:
// (high h + band b + low l) of the state-variable filter.
struct Shares {
  double high, band, low;
};
Shares shares_of(const FilterSection& s) noexcept {
  const double gain = det::ratio_from_db(s.gain_db);
  switch (s.kind) {
    case SectionKind::kHighPass:
      return {1.0, 0.0, 0.0};
    case SectionKind::kLowPass:
      return {0.0, 0.0, 1.0};
    case SectionKind::kPeak:
      return {1.0, gain, 1.0};
    case SectionKind::kLowShelf:
      return {1.0, det::sqrt(gain), gain};
    case SectionKind::kHighShelf:
      return {gain, det::sqrt(gain), 1.0};
    default:
      return {1.0, 1.0, 1.0};
  }
}

}  // namespace

#define PHREN_TRAIN(table)                                                               \
  {table, "clusters_per_minute", 0.0, 2000.0}, {table, "rate_sd_log", 0.0, 2.0},         \
      {table, "cluster_size", 1.0, 40.0}, {table, "single_share", 0.0, 1.0},             \
      {table, "gap_s", 0.001, 1.0}, {table, "gap_sd_log", 0.0, 2.0},                     \
      {table, "level_db", -60.0, 40.0}, {table, "placing_sd_db", 0.0, 20.0},             \
      {table, "cluster_sd_db", 0.0, 20.0}, {table, "each_sd_db", 0.0, 20.0},             \
      {table, "pitch_hz", 20.0, 2000.0}, {table, "placing_pitch_sd_log", 0.0, 1.5},      \
      {table, "cluster_pitch_sd_log", 0.0, 1.5}, {table, "each_pitch_sd_log", 0.0, 1.5}, \
      {table, "q", 0.3, 30.0}, {table, "q_sd_log", 0.0, 1.5}, {table, "soft_share", 0.0, 1.0}

const std::array<FigureInfo, kNumFigures> kFigures = {{
    {"sound", "gain_db", -60.0, 60.0},
    {"coupling", "breath_tilt_sd_db_per_octave", 0.0, 6.0},
    {"coupling", "whole_tilt_sd_db_per_octave", 0.0, 6.0},
    {"coupling", "breath_band_sd_db", 0.0, 12.0},
    {"coupling", "wander_db", 0.0, 12.0},
    {"coupling", "wander_s", 0.05, 60.0},
    {"flutter", "fast_db", 0.0, 12.0},
    {"flutter", "fast_over_250_hz_db", 0.0, 12.0},
    {"flutter", "fast_s", 0.002, 1.0},
    {"flutter", "slow_db", 0.0, 12.0},
    {"flutter", "slow_s", 0.01, 10.0},
    {"flutter", "shared", 0.0, 1.0},
    {"flutter", "placing_sd_log", 0.0, 1.5},
    {"floor", "level_db", -80.0, 20.0},
    {"floor", "placing_sd_db", 0.0, 15.0},
    {"floor", "tilt_sd_db_per_octave", 0.0, 6.0},
    {"floor", "band_sd_db", 0.0, 12.0},
    {"floor", "wander_db", 0.0, 12.0},
    {"floor", "wander_s", 0.05, 60.0},
    {"floor", "band_20_45_hz_db", -100.0, 60.0},
    {"floor", "band_45_80_hz_db", -100.0, 60.0},
    {"floor", "band_80_150_hz_db", -100.0, 60.0},
    {"floor", "band_150_250_hz_db", -100.0, 60.0},
    {"floor", "band_250_400_hz_db", -100.0, 60.0},
    {"floor", "band_400_650_hz_db", -100.0, 60.0},
    {"floor", "band_over_650_hz_db", -100.0, 60.0},
    {"muscle", "level_db", -80.0, 40.0},
    {"muscle", "effort_db", 0.0, 20.0},
    {"heart", "level_db", -60.0, 40.0},
    PHREN_TRAIN("clicks"),
    PHREN_TRAIN("knocks"),
    {"rubs", "per_minute", 0.0, 600.0},
    {"rubs", "rate_sd_log", 0.0, 2.0},
    {"rubs", "length_s", 0.01, 2.0},
    {"rubs", "length_sd_log", 0.0, 1.5},
    {"rubs", "level_db", -60.0, 40.0},
    {"rubs", "placing_sd_db", 0.0, 20.0},
    {"rubs", "each_sd_db", 0.0, 20.0},
    {"rubs", "low_hz", 20.0, 1000.0},
    {"rubs", "high_hz", 50.0, 4000.0},
    {"rubs", "grain_db", 0.0, 15.0},
    {"recorder", "start_chance", 0.0, 1.0},
    {"recorder", "start_db", -20.0, 60.0},
    {"recorder", "start_sd_db", 0.0, 20.0},
    {"recorder", "buttons", 0.0, 20.0},
    {"recorder", "button_db", -20.0, 60.0},
    {"hand", "still_s", 0.2, 600.0},
    {"hand", "moving_s", 0.05, 60.0},
    {"hand", "moving_factor", 1.0, 20.0},
    {"hand", "bout_sd_log", 0.0, 2.0},
    {"hand", "tremor_db", 0.0, 6.0},
    {"hand", "pressure_db", 0.0, 6.0},
}};
#undef PHREN_TRAIN

double response_power(const Instrument& instrument, double f_hz) noexcept {
  double power = 1.0;
  for (const FilterSection& s : instrument.response) {
    if (s.kind == SectionKind::kOff) continue;
    const Shares by = shares_of(s);
    const double x = f_hz / s.hz;  // high -x^2, band j x / q, low 1, over the common denominator
    const double real = by.low - by.high * x * x, imaginary = by.band * x / s.q;
    power *= (real * real + imaginary * imaginary) * low_pass_power(f_hz, s.hz, s.q);
  }
  return power;
}

double response_level(const Instrument& instrument) noexcept {
  constexpr std::array<double, 6> kAt_hz = {125.0, 160.0, 200.0, 250.0, 315.0, 400.0};
  double mean = 0.0;
  for (const double hz : kAt_hz) mean += response_power(instrument, hz) / kAt_hz.size();
  return 1.0 / det::sqrt(mean);
}

std::vector<double> pack(const Instrument& instrument) {
  std::vector<double> out{kFormat, static_cast<double>(instrument.head)};
  for (const FilterSection& s : instrument.response) {
    out.insert(out.end(), {static_cast<double>(s.kind), s.hz, s.q, s.gain_db});
  }
  out.insert(out.end(), instrument.figures.begin(), instrument.figures.end());
  return out;
}

Result<Instrument> unpack_instrument(std::span<const double> numbers) {
  constexpr std::size_t kLength = 2 + 4 * kNumSections + kNumFigures;
  const auto wrong = [](std::size_t at) {
    return fail(ErrorCode::kMalformed, "packed instrument: number " + std::to_string(at) +
                                           " is not what pack() writes there");
  };
  if (numbers.size() != kLength) return wrong(numbers.size());
  if (numbers[0] != kFormat) return wrong(0);
  const auto whole = [](double v, double most) { return v >= 0.0 && v <= most; };
  Instrument out;
  if (!whole(numbers[1], 2.0)) return wrong(1);
  out.head = static_cast<Head>(static_cast<int>(numbers[1]));
  std::size_t at = 2;
  for (FilterSection& s : out.response) {
    const double kind = numbers[at];
    if (!whole(kind, 5.0)) return wrong(at);
    s = {static_cast<SectionKind>(static_cast<int>(kind)), numbers[at + 1], numbers[at + 2],
         numbers[at + 3]};
    if (!(s.hz >= 5.0 && s.hz <= 20000.0 && s.q >= 0.1 && s.q <= 30.0 && s.gain_db >= -60.0 &&
          s.gain_db <= 60.0)) {
      return wrong(at);
    }
    at += 4;
  }
  for (std::size_t i = 0; i < kNumFigures; ++i, ++at) {
    if (!(numbers[at] >= kFigures[i].low && numbers[at] <= kFigures[i].high)) return wrong(at);
    out.figures[i] = numbers[at];
  }
  return out;
}

}  // namespace phren::acoustics
