#include "app/examine/png.h"

#include <cairo/cairo.h>

#include <cassert>
#include <cstring>
#include <memory>

namespace phren::app {
namespace {

cairo_status_t append(void* closure, const unsigned char* data, unsigned int length) {
  static_cast<std::string*>(closure)->append(reinterpret_cast<const char*>(data), length);
  return CAIRO_STATUS_SUCCESS;
}

}  // namespace

std::string encode_png(const std::vector<Colour>& pixels, std::size_t width) {
  assert(width > 0 && !pixels.empty() && pixels.size() % width == 0);
  const std::size_t height = pixels.size() / width;
  const std::unique_ptr<cairo_surface_t, void (*)(cairo_surface_t*)> surface(
      cairo_image_surface_create(CAIRO_FORMAT_RGB24, static_cast<int>(width),
                                 static_cast<int>(height)),
      &cairo_surface_destroy);
  unsigned char* rows = cairo_image_surface_get_data(surface.get());
  const auto stride = static_cast<std::size_t>(cairo_image_surface_get_stride(surface.get()));
  cairo_surface_flush(surface.get());
  for (std::size_t y = 0; y < height; ++y) {
    for (std::size_t x = 0; x < width; ++x) {
      const Colour& colour = pixels[y * width + x];
      const std::uint32_t word = std::uint32_t{colour.red} << 16 |
                                 std::uint32_t{colour.green} << 8 | std::uint32_t{colour.blue};
      std::memcpy(rows + y * stride + x * 4, &word, sizeof word);
    }
  }
  cairo_surface_mark_dirty(surface.get());
  std::string png;
  cairo_surface_write_to_png_stream(surface.get(), &append, &png);
  return png;
}

}  // namespace phren::app
