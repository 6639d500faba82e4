// A small line drawing that is written once and comes out as SVG or as PNG.
//
// Units:   points of a page with its origin at the top left; colours 0xRRGGBB.
// Errors:  none; the PNG is empty if the picture library has no memory left.
#pragma once

#include <cstdint>
#include <string>
#include <utility>
#include <vector>

namespace phren::app {

struct Stroke {
  std::vector<std::pair<double, double>> points;
  std::uint32_t colour = 0x333333;
  double width = 1.0;
  bool is_dashed = false, is_closed = false;
};

struct Label {
  double x = 0.0, y = 0.0;  // of the baseline
  std::string text;
  double size = 14.0;
  bool is_bold = false, ends_at_x = false;
  std::uint32_t colour = 0x222222;
};

struct Drawing {
  double width = 100.0, height = 100.0;
  std::uint32_t paper = 0xfbfaf6;
  std::vector<Stroke> strokes;
  std::vector<Label> labels;
};

std::string svg_of(const Drawing& drawing);
std::string png_of(const Drawing& drawing, double pixels_per_point = 2.0);

}  // namespace phren::app
