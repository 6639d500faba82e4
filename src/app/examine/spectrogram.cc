#include "app/examine/spectrogram.h"

#include <fmt/core.h>

#include <algorithm>
#include <bit>
#include <cmath>

#include "app/examine/markup.h"
#include "app/examine/png.h"
#include "signal/stft.h"

namespace phren::app {
namespace {

constexpr std::size_t kRows = 84;     // of the pictures in a report
constexpr double kWindow_s = 0.05;    // breath sounds: fine enough for wheeze, quick for crackles
constexpr double kFloor_db = -200.0;  // stands for no sound at all
constexpr int kInkSteps = 32;         // few shades make a small PNG and are all an eye tells apart
constexpr Colour kPaper{251, 249, 244}, kInk{26, 28, 58};
constexpr double kLeft = 38, kTop = 12, kBottom = 30;  // margins of the plot, in pixels

// Frames of the sound, one for each column as far as the sound is long enough.
std::vector<float> frames_of(const signal::Audio& audio, std::size_t window, std::size_t columns,
                             std::size_t& num_bins) {
  const std::size_t n = audio.samples.size();
  signal::StftConfig config;
  config.window_samples = window;
  config.fft_size = window;
  config.hop_samples = std::max<std::size_t>(1, (n - window) / std::max<std::size_t>(columns, 1));
  auto stft = signal::Stft::make(config);
  if (!stft) return {};
  num_bins = stft->num_bins();
  std::vector<float> power(stft->num_frames(n) * num_bins);
  stft->process(audio.samples, power);
  return power;
}

float level_db(double power) {
  return static_cast<float>(power > 1e-20 ? 10.0 * std::log10(power) : kFloor_db);
}

std::string phase_band(const SpectrogramMarks& marks, double x_per_s) {
  std::string out;
  const double y = kTop + static_cast<double>(kRows) + 3.0;
  for (const PhaseMark& mark : marks.phases) {
    if (mark.phase == exam::Phase::kPause) continue;
    const bool is_in = mark.phase == exam::Phase::kInspiration;
    const double x = kLeft + mark.start_s * x_per_s;
    const double width = std::max(1.0, (mark.end_s - mark.start_s) * x_per_s - 1.0);
    out += fmt::format("<rect class='{}' x='{:.1f}' y='{:.1f}' width='{:.1f}' height='10'/>",
                       is_in ? "in" : "out", x, y, width);
    if (width > 18) {
      out += fmt::format("<text class='{}' x='{:.1f}' y='{:.1f}'>{}</text>", is_in ? "int" : "outt",
                         x + width / 2, y + 8, is_in ? "in" : "out");
    }
  }
  return out;
}

std::string track_lines(const SpectrogramMarks& marks, const SpectrogramScale& scale,
                        double x_per_s) {
  std::string out;
  for (const TrackMark& track : marks.tracks) {
    out += "<polyline class='track' points='";
    for (const auto& [time_s, frequency_hz] : track.points) {
      const double share = std::clamp(frequency_hz / scale.max_hz, 0.0, 1.0);
      out += fmt::format("{:.1f},{:.1f} ", kLeft + time_s * x_per_s,
                         kTop + (1.0 - share) * static_cast<double>(kRows));
    }
    out += "'/>";
  }
  return out;
}

std::string crackle_ticks(const SpectrogramMarks& marks, double x_per_s) {
  std::string out;
  for (const TickMark& tick : marks.ticks) {  // long mark: coarse, short mark: fine
    const double x = kLeft + tick.time_s * x_per_s;
    out += fmt::format("<path class='tick' d='M{:.1f} {} V{}'/>", x, kTop - 2,
                       tick.is_coarse ? kTop - 11 : kTop - 6);
  }
  return out;
}

std::string axes(const SpectrogramScale& scale, double duration_s, double x_per_s) {
  std::string out;
  for (const double share : {0.0, 0.5, 1.0}) {
    out += fmt::format("<text class='ax e' x='{}' y='{:.1f}'>{}</text>", kLeft - 4,
                       kTop + (1.0 - share) * static_cast<double>(kRows) + 3,
                       number(share * scale.max_hz));
  }
  const double step_s = duration_s > 40 ? 10 : duration_s > 6 ? 2 : 1;
  for (double t = 0.0; t <= duration_s + 1e-9; t += step_s) {
    out += fmt::format("<text class='ax m' x='{:.1f}' y='{:.1f}'>{} s</text>", kLeft + t * x_per_s,
                       kTop + static_cast<double>(kRows) + 25, number(t));
  }
  return out;
}

}  // namespace

SpectrogramGrid spectrogram_grid(const signal::Audio& audio, double max_hz, std::size_t num_rows,
                                 std::size_t num_columns) {
  SpectrogramGrid grid{num_rows, num_columns,
                       std::vector<float>(num_rows * num_columns, kFloor_db)};
  const auto wanted = static_cast<std::size_t>(std::max(64.0, kWindow_s * audio.sample_rate_hz));
  const std::size_t window = std::min<std::size_t>(std::bit_ceil(wanted), 65536);
  if (audio.samples.size() < window) return grid;
  std::size_t num_bins = 0;
  const std::vector<float> power = frames_of(audio, window, num_columns, num_bins);
  if (num_bins == 0) return grid;
  const std::size_t num_frames = power.size() / num_bins;
  const double bin_hz = audio.sample_rate_hz / static_cast<double>(window);
  for (std::size_t row = 0; row < num_rows; ++row) {
    const double frequency_hz =
        max_hz * (static_cast<double>(num_rows - row) - 0.5) / static_cast<double>(num_rows);
    const double bin = frequency_hz / bin_hz;
    const auto low = static_cast<std::size_t>(bin);
    if (low + 1 >= num_bins) continue;
    const double part = bin - static_cast<double>(low);
    for (std::size_t column = 0; column < num_columns; ++column) {
      const std::size_t frame = std::min(column, num_frames - 1);
      const float* at = power.data() + frame * num_bins + low;
      grid.levels_db[row * num_columns + column] = level_db((1.0 - part) * at[0] + part * at[1]);
    }
  }
  return grid;
}

double upper_level_db(const SpectrogramGrid& grid, double share) {
  if (grid.levels_db.empty()) return kFloor_db;
  std::vector<float> levels = grid.levels_db;
  const auto rank =
      static_cast<std::ptrdiff_t>((1.0 - share) * static_cast<double>(levels.size() - 1));
  std::nth_element(levels.begin(), levels.begin() + rank, levels.end());
  return levels[static_cast<std::size_t>(rank)];
}

std::string spectrogram_png(const SpectrogramGrid& grid, const SpectrogramScale& scale) {
  std::vector<Colour> pixels;
  pixels.reserve(grid.levels_db.size());
  for (const float level : grid.levels_db) {
    const double share =
        std::clamp((level - scale.top_db + scale.range_db) / scale.range_db, 0.0, 1.0);
    const double stepped = std::round(share * kInkSteps) / kInkSteps;
    const auto mix = [&](std::uint8_t from, std::uint8_t to) {
      return static_cast<std::uint8_t>(std::lround(from + (to - from) * stepped));
    };
    pixels.push_back(
        {mix(kPaper.red, kInk.red), mix(kPaper.green, kInk.green), mix(kPaper.blue, kInk.blue)});
  }
  return encode_png(pixels, grid.num_columns);
}

std::string spectrogram_svg(const SpectrogramGrid& grid, const SpectrogramScale& scale,
                            double duration_s, const SpectrogramMarks& marks,
                            const std::string& description) {
  const double width = static_cast<double>(grid.num_columns);
  const double height = static_cast<double>(grid.num_rows);
  const double x_per_s = duration_s > 0.0 ? width / duration_s : 0.0;
  std::string out = fmt::format(
      "<svg class='spectrogram' role='img' viewBox='0 0 {:.0f} {:.0f}'><title>{}</title>"
      "<image x='{}' y='{}' width='{:.0f}' height='{:.0f}' preserveAspectRatio='none' "
      "href='data:image/png;base64,{}'/>",
      kLeft + width + 8, kTop + height + kBottom, escape(description), kLeft, kTop, width, height,
      base64(spectrogram_png(grid, scale)));
  out += fmt::format("<rect class='frame' x='{}' y='{}' width='{:.0f}' height='{:.0f}'/>", kLeft,
                     kTop, width, height);
  out += phase_band(marks, x_per_s) + track_lines(marks, scale, x_per_s) +
         crackle_ticks(marks, x_per_s) + axes(scale, duration_s, x_per_s);
  return out + "</svg>";
}

}  // namespace phren::app
