#include "app/watch/drawing.h"

#include <cairo/cairo.h>

#include <cmath>
#include <memory>

#include "base/text.h"

namespace phren::app {
namespace {

std::string num(double v) {
  std::string s = std::to_string(std::round(v * 10.0) / 10.0);
  return s.substr(0, s.find('.') + 2);
}

std::string hex(std::uint32_t colour) {
  std::string out = "#";
  for (int shift = 20; shift >= 0; shift -= 4) out += "0123456789abcdef"[(colour >> shift) & 15u];
  return out;
}

std::string svg_of(const Stroke& s) {
  std::string points;
  for (const auto& [x, y] : s.points) points += num(x) + "," + num(y) + " ";
  return std::string(s.is_closed ? "<polygon" : "<polyline") + " fill=\"none\" stroke=\"" +
         hex(s.colour) + "\" stroke-width=\"" + num(s.width) + "\"" +
         (s.is_dashed ? " stroke-dasharray=\"4 3\"" : "") + " points=\"" + points + "\"/>\n";
}

std::string svg_of(const Label& l) {
  return "<text x=\"" + num(l.x) + "\" y=\"" + num(l.y) + "\" font-size=\"" + num(l.size) +
         "\" fill=\"" + hex(l.colour) + "\"" + (l.is_bold ? " font-weight=\"600\"" : "") +
         (l.ends_at_x ? " text-anchor=\"end\"" : "") + ">" + escape_markup(l.text) + "</text>\n";
}

void use(cairo_t* page, std::uint32_t colour) {
  const auto part = [colour](int shift) { return ((colour >> shift) & 255u) / 255.0; };
  cairo_set_source_rgb(page, part(16), part(8), part(0));
}

void draw(cairo_t* page, const Stroke& s) {
  use(page, s.colour);
  cairo_set_line_width(page, s.width);
  const double dashes[] = {4.0, 3.0};
  cairo_set_dash(page, dashes, s.is_dashed ? 2 : 0, 0.0);
  for (const auto& [x, y] : s.points) cairo_line_to(page, x, y);
  if (s.is_closed) cairo_close_path(page);
  cairo_stroke(page);
}

void draw(cairo_t* page, const Label& l) {
  use(page, l.colour);
  cairo_select_font_face(page, "sans-serif", CAIRO_FONT_SLANT_NORMAL,
                         l.is_bold ? CAIRO_FONT_WEIGHT_BOLD : CAIRO_FONT_WEIGHT_NORMAL);
  cairo_set_font_size(page, l.size);
  cairo_text_extents_t extents;
  cairo_text_extents(page, l.text.c_str(), &extents);
  cairo_move_to(page, l.ends_at_x ? l.x - extents.x_advance : l.x, l.y);
  cairo_show_text(page, l.text.c_str());
}

cairo_status_t append(void* closure, const unsigned char* data, unsigned int length) {
  static_cast<std::string*>(closure)->append(reinterpret_cast<const char*>(data), length);
  return CAIRO_STATUS_SUCCESS;
}

}  // namespace

std::string svg_of(const Drawing& d) {
  std::string out = "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 " + num(d.width) +
                    " " + num(d.height) +
                    "\" font-family=\"sans-serif\">\n<rect width=\"100%\" height=\"100%\" fill=\"" +
                    hex(d.paper) + "\"/>\n";
  for (const Stroke& s : d.strokes) out += svg_of(s);
  for (const Label& l : d.labels) out += svg_of(l);
  return out + "</svg>\n";
}

std::string png_of(const Drawing& d, double pixels_per_point) {
  const std::unique_ptr<cairo_surface_t, void (*)(cairo_surface_t*)> surface(
      cairo_image_surface_create(CAIRO_FORMAT_RGB24, static_cast<int>(d.width * pixels_per_point),
                                 static_cast<int>(d.height * pixels_per_point)),
      &cairo_surface_destroy);
  const std::unique_ptr<cairo_t, void (*)(cairo_t*)> page(cairo_create(surface.get()),
                                                          &cairo_destroy);
  cairo_scale(page.get(), pixels_per_point, pixels_per_point);
  use(page.get(), d.paper);
  cairo_paint(page.get());
  for (const Stroke& s : d.strokes) draw(page.get(), s);
  for (const Label& l : d.labels) draw(page.get(), l);
  std::string png;
  cairo_surface_write_to_png_stream(surface.get(), &append, &png);
  return png;
}

}  // namespace phren::app
