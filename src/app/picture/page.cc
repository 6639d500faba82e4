#include "app/picture/page.h"

#include <cairo/cairo-svg.h>
#include <cairo/cairo.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <memory>

#include "base/text.h"
#include "exam/names.h"

namespace phren::app {
namespace {

constexpr double kWidth = 1080, kHeight = 500, kLeft = 70, kRight = 20, kTop = 92;
constexpr double kPlotWidth = kWidth - kLeft - kRight, kPlotHeight = 230;
constexpr double kPhaseHeight = 16, kTickHeight = 16, kRowHeight = 34;
constexpr std::uint32_t kPaper = 0xfbf9f4, kInk = 0x1a1c3a, kText = 0x222222, kFaint = 0x5c5c5c;
constexpr std::uint32_t kTone = 0xb3400f, kCrackle = 0x7a1f6b, kIn = 0x2f6f8f, kOut = 0xb9c9d2;
constexpr std::uint32_t kCalm = 0xe4e6df, kNotable = 0xf3d9b8;

using Surface = std::unique_ptr<cairo_surface_t, void (*)(cairo_surface_t*)>;
using Pen = std::unique_ptr<cairo_t, void (*)(cairo_t*)>;

void use(cairo_t* pen, std::uint32_t colour) {
  const auto part = [colour](int shift) {
    return static_cast<double>((colour >> shift) & 255u) / 255.0;
  };
  cairo_set_source_rgb(pen, part(16), part(8), part(0));
}

enum class Align { kStart, kMiddle, kEnd };
struct TextStyle {
  double size = 13;
  std::uint32_t colour = kText;
  bool is_bold = false;
  Align align = Align::kStart;
};

double text_width(cairo_t* pen, const std::string& text, const TextStyle& style) {
  cairo_select_font_face(pen, "sans-serif", CAIRO_FONT_SLANT_NORMAL,
                         style.is_bold ? CAIRO_FONT_WEIGHT_BOLD : CAIRO_FONT_WEIGHT_NORMAL);
  cairo_set_font_size(pen, style.size);
  cairo_text_extents_t extents;
  cairo_text_extents(pen, text.c_str(), &extents);
  return extents.x_advance;
}

void write(cairo_t* pen, double x, double y, const std::string& text, const TextStyle& style) {
  const double width = text_width(pen, text, style);
  use(pen, style.colour);
  cairo_move_to(pen,
                style.align == Align::kStart ? x
                : style.align == Align::kEnd ? x - width
                                             : x - 0.5 * width,
                y);
  cairo_show_text(pen, text.c_str());
}

void box(cairo_t* pen, double x, double y, double width, double height, std::uint32_t fill) {
  use(pen, fill);
  cairo_rectangle(pen, x, y, width, height);
  cairo_fill(pen);
}

// Where a moment and a pitch are on the page.
struct Place {
  const PicturePage* page;
  double x(double time_s) const {
    const double share = (time_s - page->start_s) / page->length_s;
    return kLeft + kPlotWidth * std::clamp(share, 0.0, 1.0);
  }
  double y(double hz) const {
    return kTop + kPlotHeight * (1.0 - std::clamp(hz / page->scale.max_hz, 0.0, 1.0));
  }
  bool shows(double start_s, double end_s) const {
    return end_s > page->start_s && start_s < page->start_s + page->length_s;
  }
};

void draw_spectrogram(cairo_t* pen, const PicturePage& page) {
  const auto& grid = page.grid;
  const Surface image(
      cairo_image_surface_create(CAIRO_FORMAT_RGB24, static_cast<int>(grid.num_columns),
                                 static_cast<int>(grid.num_rows)),
      &cairo_surface_destroy);
  cairo_surface_flush(image.get());
  unsigned char* pixels = cairo_image_surface_get_data(image.get());
  if (pixels == nullptr) return;
  const auto stride = static_cast<std::size_t>(cairo_image_surface_get_stride(image.get()));
  for (std::size_t row = 0; row < grid.num_rows; ++row)
    for (std::size_t column = 0; column < grid.num_columns; ++column) {
      const double level = static_cast<double>(grid.levels_db[row * grid.num_columns + column]);
      const double share = std::clamp(
          (level - page.scale.top_db + page.scale.range_db) / page.scale.range_db, 0.0, 1.0);
      std::uint32_t mixed = 0;
      for (const int shift : {16, 8, 0}) {
        const double from = (kPaper >> shift) & 255u, to = (kInk >> shift) & 255u;
        mixed |= static_cast<std::uint32_t>(std::lround(from + (to - from) * share)) << shift;
      }
      *reinterpret_cast<std::uint32_t*>(pixels + row * stride + 4 * column) = mixed;
    }
  cairo_surface_mark_dirty(image.get());
  cairo_save(pen);
  cairo_translate(pen, kLeft, kTop);
  cairo_scale(pen, kPlotWidth / static_cast<double>(grid.num_columns),
              kPlotHeight / static_cast<double>(grid.num_rows));
  cairo_set_source_surface(pen, image.get(), 0, 0);
  cairo_pattern_set_filter(cairo_get_source(pen), CAIRO_FILTER_BILINEAR);
  cairo_pattern_set_extend(cairo_get_source(pen), CAIRO_EXTEND_PAD);
  cairo_rectangle(pen, 0, 0, static_cast<double>(grid.num_columns),
                  static_cast<double>(grid.num_rows));
  cairo_fill(pen);
  cairo_restore(pen);
}

void draw_axes(cairo_t* pen, const PicturePage& page, const Place& at) {
  use(pen, kFaint);
  cairo_set_line_width(pen, 1.0);
  cairo_rectangle(pen, kLeft, kTop, kPlotWidth, kPlotHeight);
  cairo_stroke(pen);
  for (double hz = 0.0; hz <= page.scale.max_hz; hz += 200.0)
    write(pen, kLeft - 6, at.y(hz) + 4, number_text(hz, 0), {11, kFaint, false, Align::kEnd});
  write(pen, kLeft - 36, kTop - 8, "Hz", {11, kFaint});
  const double step_s = page.length_s > 12.0 ? 2.0 : 1.0, end_s = page.start_s + page.length_s;
  for (double t = std::ceil(page.start_s / step_s) * step_s; t <= end_s + 1e-6; t += step_s)
    write(pen, at.x(t), kTop + kPlotHeight + kTickHeight + 14, number_text(t, 0) + " s",
          {11, kFaint, false, Align::kMiddle});
}

void draw_phases(cairo_t* pen, const PicturePage& page, const Place& at) {
  for (const auto& phase : page.measurement->breathing.phases) {
    if (!at.shows(phase.start_s, phase.end_s)) continue;
    const bool is_in = phase.phase == exam::Phase::kInspiration;
    const double x = at.x(phase.start_s), width = at.x(phase.end_s) - x - 1.0;
    box(pen, x, kTop - kPhaseHeight - 2, width, kPhaseHeight, is_in ? kIn : kOut);
    if (width > 22)
      write(pen, x + 0.5 * width, kTop - 6, is_in ? "in" : "out",
            {11, is_in ? 0xffffffu : kText, false, Align::kMiddle});
  }
}

void draw_tones(cairo_t* pen, const PicturePage& page, const Place& at) {
  cairo_set_line_width(pen, 2.5);
  use(pen, kTone);
  std::vector<const measurement::TonalTrack*> shown;
  for (const auto& tone : page.marks->tones)
    if (at.shows(tone.start_s, tone.end_s) && tone.mean_hz <= page.scale.max_hz)
      shown.push_back(&tone);
  for (const auto* tone : shown) {
    cairo_move_to(pen, at.x(tone->start_s), at.y(tone->start_hz));
    cairo_line_to(pen, at.x(0.5 * (tone->start_s + tone->end_s)), at.y(tone->mean_hz));
    cairo_line_to(pen, at.x(tone->end_s), at.y(tone->end_hz));
    cairo_stroke(pen);
  }
  double free_from = 0.0;  // pitches above their lines, where there is room
  for (const auto* tone : shown) {
    const std::string text = number_text(tone->mean_hz, 0) + " Hz";
    const double x = at.x(tone->start_s), width = text_width(pen, text, {11, kTone, true});
    if (x < free_from || x + width > kLeft + kPlotWidth) continue;
    const double y = std::min(at.y(tone->start_hz), at.y(tone->mean_hz)) - 6;
    box(pen, x - 1, y - 10, width + 3, 12, kPaper);
    write(pen, x, y, text, {11, kTone, true});
    free_from = x + width + 6;
  }
}

// Crackles as marks under the plot, long for coarse ones, so that they do not hide it.
void draw_crackles(cairo_t* pen, const PicturePage& page, const Place& at) {
  use(pen, kCrackle);
  cairo_set_line_width(pen, 1.2);
  for (const auto& crackle : page.marks->crackles) {
    if (!at.shows(crackle.at_s, crackle.at_s + 0.01)) continue;
    const double x = at.x(crackle.at_s), y = kTop + kPlotHeight + 2;
    cairo_move_to(pen, x, y);
    cairo_line_to(pen, x, y + (crackle.is_fine() ? 0.5 : 1.0) * kTickHeight);
    cairo_stroke(pen);
  }
}

// As much of a text as fits, with a sign that there was more.
std::string fitted(cairo_t* pen, std::string text, double width, const TextStyle& style) {
  if (text_width(pen, text, style) <= width) return text;
  while (!text.empty() && text_width(pen, text + "..", style) > width) text.pop_back();
  return text.empty() ? text : text + "..";
}

// Where it is in the spectrogram.
void frame(cairo_t* pen, double x, double width) {
  use(pen, kTone);
  cairo_set_line_width(pen, 1.0);
  const std::array<double, 2> dashes{4.0, 3.0};
  cairo_set_dash(pen, dashes.data(), 2, 0);
  cairo_rectangle(pen, x, kTop, width, kPlotHeight);
  cairo_stroke(pen);
  cairo_set_dash(pen, nullptr, 0, 0);
}

void draw_events(cairo_t* pen, const PicturePage& page, const Place& at) {
  constexpr double kTopOfEvents = kTop + kPlotHeight + kTickHeight + 26;
  std::vector<const PictureMarks::EventMark*> shown;
  for (const auto& event : page.marks->events)
    if (at.shows(event.start_s, event.end_s)) shown.push_back(&event);
  if (shown.empty())
    write(pen, kLeft, kTopOfEvents + 14, "No whole breath was found to label.", {12, kFaint});
  std::array<double, 2> free_from{0.0, 0.0};  // of each row
  for (std::size_t i = 0; i < shown.size(); ++i) {
    const auto& event = *shown[i];
    const double x = at.x(event.start_s), width = std::max(2.0, at.x(event.end_s) - x - 1.0);
    const std::size_t row = free_from[0] <= x + 0.5 ? 0 : 1;
    free_from[row] = x + width;
    const double y = kTopOfEvents + static_cast<double>(row) * (kRowHeight + 3);
    box(pen, x, y, width, kRowHeight, event.is_normal ? kCalm : kNotable);
    if (!event.is_normal) frame(pen, x, width);
    // Words may run on to where the next breath begins.
    const double next_x = i + 1 < shown.size() ? at.x(shown[i + 1]->start_s) : kLeft + kPlotWidth;
    const double room = std::max(width, next_x - x) - 5;
    const TextStyle bold{11, kText, !event.is_normal}, plain{10, kFaint};
    write(pen, x + 3, y + 14, fitted(pen, event.label, room, bold), bold);
    write(pen, x + 3, y + 28, fitted(pen, event.evidence, room, plain), plain);
  }
}

void draw(cairo_t* pen, const PicturePage& page) {
  const Place at{&page};
  box(pen, 0, 0, kWidth, kHeight, kPaper);
  write(pen, kLeft, 28, page.title, {18, kText, true});
  write(pen, kLeft, 50, page.subtitle, {13, kText});
  draw_spectrogram(pen, page);
  draw_phases(pen, page, at);
  draw_crackles(pen, page, at);
  draw_tones(pen, page, at);
  draw_events(pen, page, at);
  draw_axes(pen, page, at);
  write(pen, kLeft, kHeight - 28,
        "in, out: breath phases by loudness.  Line: tone by the published gates, with its pitch.  "
        "Mark under the plot: crackle, short fine, long coarse.",
        {11, kFaint});
  write(pen, kLeft, kHeight - 12,
        "Boxes: breaths found, with label and probability. Darker: louder. Training aid: says what "
        "is in a sound, never what a person has.",
        {11, kFaint});
}

cairo_status_t append(void* closure, const unsigned char* data, unsigned int length) {
  static_cast<std::string*>(closure)->append(reinterpret_cast<const char*>(data), length);
  return CAIRO_STATUS_SUCCESS;
}

}  // namespace

PictureFiles draw_page(const PicturePage& page) {
  PictureFiles out;
  constexpr double kPixelsPerPoint = 1.5;
  const Surface image(
      cairo_image_surface_create(CAIRO_FORMAT_RGB24, static_cast<int>(kWidth * kPixelsPerPoint),
                                 static_cast<int>(kHeight * kPixelsPerPoint)),
      &cairo_surface_destroy);
  {
    const Pen pen(cairo_create(image.get()), &cairo_destroy);
    cairo_scale(pen.get(), kPixelsPerPoint, kPixelsPerPoint);
    draw(pen.get(), page);
  }
  cairo_surface_write_to_png_stream(image.get(), &append, &out.png);
  {
    const Surface lines(cairo_svg_surface_create_for_stream(&append, &out.svg, kWidth, kHeight),
                        &cairo_surface_destroy);
    const Pen pen(cairo_create(lines.get()), &cairo_destroy);
    draw(pen.get(), page);
    cairo_surface_finish(lines.get());
  }
  return out;
}

}  // namespace phren::app
