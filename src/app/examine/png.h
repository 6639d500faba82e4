// Pixels as PNG bytes. The same pixels give the same bytes: no time stamp, no metadata.
#pragma once

#include <cstddef>
#include <cstdint>
#include <string>
#include <vector>

namespace phren::app {

struct Colour {
  std::uint8_t red = 0, green = 0, blue = 0;
};

// Row-major pixels. REQUIRES: width > 0 and pixels.size() a positive multiple of width.
std::string encode_png(const std::vector<Colour>& pixels, std::size_t width);

}  // namespace phren::app
