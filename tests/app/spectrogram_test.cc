#include "app/examine/spectrogram.h"

#include <cairo/cairo.h>
#include <gtest/gtest.h>

#include <cmath>
#include <cstring>
#include <memory>
#include <numbers>

#include "app/examine/png.h"

namespace phren::app {
namespace {

signal::Audio tone(double frequency_hz, double rate_hz, double seconds, double amplitude = 0.1) {
  signal::Audio audio;
  audio.sample_rate_hz = rate_hz;
  audio.samples.resize(static_cast<std::size_t>(rate_hz * seconds));
  for (std::size_t i = 0; i < audio.samples.size(); ++i) {
    const double t = static_cast<double>(i) / rate_hz;
    audio.samples[i] =
        static_cast<float>(amplitude * std::sin(2.0 * std::numbers::pi * frequency_hz * t));
  }
  return audio;
}

std::size_t loudest_row(const SpectrogramGrid& grid, std::size_t column) {
  std::size_t best = 0;
  for (std::size_t row = 1; row < grid.num_rows; ++row) {
    if (grid.levels_db[row * grid.num_columns + column] >
        grid.levels_db[best * grid.num_columns + column]) {
      best = row;
    }
  }
  return best;
}

TEST(Spectrogram, AToneIsALineAtItsHeightAtEveryRate) {
  for (const double rate_hz : {4000.0, 8000.0, 22050.0, 48000.0}) {
    SCOPED_TRACE(rate_hz);
    const SpectrogramGrid grid = spectrogram_grid(tone(500.0, rate_hz, 4.0), 2000.0);
    for (const std::size_t column : {std::size_t{5}, grid.num_columns / 2, grid.num_columns - 5}) {
      const double height_hz =
          2000.0 * (static_cast<double>(grid.num_rows - loudest_row(grid, column)) - 0.5) /
          static_cast<double>(grid.num_rows);
      EXPECT_NEAR(height_hz, 500.0, 2000.0 / static_cast<double>(grid.num_rows));
    }
  }
}

TEST(Spectrogram, SilenceShortSoundAndNoSoundGiveAnEmptyPicture) {
  for (const signal::Audio& audio : {signal::Audio{}, signal::Audio{8000.0, {0.5f}},
                                     signal::Audio{8000.0, std::vector<float>(9000)}}) {
    const SpectrogramGrid grid = spectrogram_grid(audio, 2000.0);
    EXPECT_EQ(upper_level_db(grid, 0.0), -200.0);
    EXPECT_FALSE(spectrogram_png(grid, {}).empty());
  }
}

TEST(Spectrogram, AQuieterSoundIsPaler) {
  const SpectrogramGrid loud = spectrogram_grid(tone(500, 8000, 2.0, 0.1), 2000.0);
  const SpectrogramGrid quiet = spectrogram_grid(tone(500, 8000, 2.0, 0.01), 2000.0);
  EXPECT_NEAR(upper_level_db(loud, 0.01) - upper_level_db(quiet, 0.01), 20.0, 0.1);
}

TEST(Spectrogram, PictureHoldsItsWordsPhasesTracksAndTicks) {
  const SpectrogramGrid grid = spectrogram_grid(tone(500, 8000, 4.0), 2000.0);
  SpectrogramMarks marks;
  marks.phases = {{exam::Phase::kInspiration, 0.0, 1.5}, {exam::Phase::kExpiration, 1.5, 4.0}};
  marks.tracks = {{{{1.6, 410.0}, {2.0, 400.0}}}};
  marks.ticks = {{0.5, true}};
  const std::string svg = spectrogram_svg(grid, {}, 4.0, marks, "5 < 6 \"tones\"");
  for (const char* part :
       {"<title>5 &lt; 6 &quot;tones&quot;</title>", "data:image/png;base64,", ">in</text>",
        ">out</text>", "class='track'", "class='tick'", "role='img'"}) {
    EXPECT_NE(svg.find(part), std::string::npos) << part;
  }
}

struct Source {
  const std::string& bytes;
  std::size_t position = 0;
};
cairo_status_t take(void* closure, unsigned char* data, unsigned int length) {
  auto& source = *static_cast<Source*>(closure);
  if (source.position + length > source.bytes.size()) return CAIRO_STATUS_READ_ERROR;
  std::memcpy(data, source.bytes.data() + source.position, length);
  source.position += length;
  return CAIRO_STATUS_SUCCESS;
}

TEST(Png, PixelsComeBack) {
  const std::vector<Colour> pixels = {{255, 0, 0}, {0, 255, 0}, {0, 0, 255},
                                      {1, 2, 3},   {9, 9, 9},   {250, 251, 252}};
  const std::string png = encode_png(pixels, 3);
  Source source{png};
  const std::unique_ptr<cairo_surface_t, void (*)(cairo_surface_t*)> surface(
      cairo_image_surface_create_from_png_stream(&take, &source), &cairo_surface_destroy);
  ASSERT_EQ(cairo_image_surface_get_width(surface.get()), 3);
  ASSERT_EQ(cairo_image_surface_get_height(surface.get()), 2);
  const unsigned char* rows = cairo_image_surface_get_data(surface.get());
  const int stride = cairo_image_surface_get_stride(surface.get());
  for (std::size_t i = 0; i < pixels.size(); ++i) {
    std::uint32_t word = 0;
    std::memcpy(&word, rows + static_cast<int>(i / 3) * stride + (i % 3) * 4, sizeof word);
    EXPECT_EQ(word & 0xFFFFFFu, std::uint32_t{pixels[i].red} << 16 |
                                    std::uint32_t{pixels[i].green} << 8 | pixels[i].blue);
  }
}

}  // namespace
}  // namespace phren::app
