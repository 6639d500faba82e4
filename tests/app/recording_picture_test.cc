// The picture of a recording shows what was found where it is, and comes in pages.
#include "app/picture/recording_picture.h"

#include <cairo/cairo.h>
#include <gtest/gtest.h>

#include <cmath>
#include <cstring>

#include "app/picture/page.h"
#include "app/run.h"
#include "app/temporary_folder.h"
#include "base/files.h"
#include "signal/audio_file.h"

namespace phren::app {
namespace {

struct Pixels {
  int width = 0, height = 0;
  std::vector<std::uint32_t> rgb;
};

Pixels decoded(const std::string& png) {
  struct Source {
    const std::string* bytes;
    std::size_t at;
  } source{&png, 0};
  cairo_surface_t* surface = cairo_image_surface_create_from_png_stream(
      [](void* closure, unsigned char* data, unsigned int length) {
        auto& from = *static_cast<Source*>(closure);
        if (from.at + length > from.bytes->size()) return CAIRO_STATUS_READ_ERROR;
        std::memcpy(data, from.bytes->data() + from.at, length);
        from.at += length;
        return CAIRO_STATUS_SUCCESS;
      },
      &source);
  Pixels out{cairo_image_surface_get_width(surface), cairo_image_surface_get_height(surface), {}};
  const int stride = cairo_image_surface_get_stride(surface);
  for (int y = 0; y < out.height; ++y)
    for (int x = 0; x < out.width; ++x) {
      std::uint32_t pixel = 0;
      std::memcpy(&pixel, cairo_image_surface_get_data(surface) + y * stride + 4 * x, 4);
      out.rgb.push_back(pixel & 0xffffffu);
    }
  cairo_surface_destroy(surface);
  return out;
}

// Where the colour of tones is: mean row as a share of the height, and how many pixels.
std::pair<double, int> tone_row(const Pixels& pixels) {
  double sum = 0.0;
  int count = 0;
  for (std::size_t i = 0; i < pixels.rgb.size(); ++i)
    if (pixels.rgb[i] == 0xb3400f) sum += static_cast<double>(i) / pixels.width, ++count;
  return {count > 0 ? sum / count / pixels.height : 0.0, count};
}

PicturePage page_with(const measurement::RecordingMeasurement& m, const PictureMarks& marks) {
  PicturePage page;
  page.length_s = 5.0;
  page.grid = spectrogram_grid({8000.0, std::vector<float>(40000, 0.0f)}, 1300.0, 160, 990);
  page.scale.max_hz = 1300.0;
  page.measurement = &m;
  page.marks = &marks;
  return page;
}

TEST(RecordingPicture, DrawsAToneAtItsPitchAndNoneWhereNoneIs) {
  const measurement::RecordingMeasurement m;
  PictureMarks marks;
  EXPECT_EQ(tone_row(decoded(draw_page(page_with(m, marks)).png)).second, 0);
  marks.take(measurement::TonalTrack{1.0, 4.0, 300.0, 300.0, 300.0, 20.0});
  const auto low = tone_row(decoded(draw_page(page_with(m, marks)).png));
  marks.tones.front() = {1.0, 4.0, 1000.0, 1000.0, 1000.0, 20.0};
  const auto high = tone_row(decoded(draw_page(page_with(m, marks)).png));
  EXPECT_GT(low.second, 500);
  // 700 of 1300 Hz of a plot 230 points high on a page of 500.
  EXPECT_NEAR(low.first - high.first, 700.0 / 1300.0 * 230.0 / 500.0, 0.01);
}

TEST(RecordingPicture, SvgIsADocumentOfTheSamePage) {
  const measurement::RecordingMeasurement m;
  const PictureMarks marks;
  const PictureFiles files = draw_page(page_with(m, marks));
  EXPECT_EQ(files.svg.rfind("<?xml", 0), 0u);
  EXPECT_NE(files.svg.find("</svg>"), std::string::npos);
  EXPECT_NE(files.svg.find("viewBox=\"0 0 1080 500\""), std::string::npos);
}

TEST(MeasureCommand, PicturesComeOneForEachHalfMinute) {
  const TemporaryFolder folder;
  signal::Audio audio{4000.0, std::vector<float>(4000 * 65)};
  for (std::size_t i = 0; i < audio.samples.size(); ++i)
    audio.samples[i] = 0.05f * static_cast<float>(std::sin(0.6 * static_cast<double>(i)));
  const auto file = folder.path() / "long.wav", pictures = folder.path() / "made" / "here";
  ASSERT_TRUE(signal::write_audio(file, audio));
  const Ran ran = run_phren({"measure", "--fast", file.string(), "--picture", pictures.string()});
  EXPECT_EQ(ran.code, kOk) << ran.err;
  for (const char* name : {"long", "long-2", "long-3"}) {
    EXPECT_EQ(read_file(pictures / (std::string(name) + ".png"))->substr(1, 3), "PNG") << name;
    EXPECT_TRUE(std::filesystem::exists(pictures / (std::string(name) + ".svg"))) << name;
  }
  EXPECT_FALSE(std::filesystem::exists(pictures / "long-4.png"));
}

TEST(MeasureCommand, TwoRecordingsOfOneNameCannotShareAPicture) {
  const Ran ran = run_phren({"measure", "a/chest.wav", "b/chest.wav", "--picture", "p"});
  EXPECT_EQ(ran.code, kInputFailed);
  EXPECT_NE(ran.err.find("chest"), std::string::npos) << ran.err;
  EXPECT_NE(ran.err.find("one picture"), std::string::npos) << ran.err;
}

}  // namespace
}  // namespace phren::app
