#include "app/server/api/qr.h"

#include <fmt/format.h>
#include <qrencode.h>

#include <memory>

namespace phren::app::server {
namespace {

constexpr int kBorder = 4;

struct Freer {
  void operator()(QRcode* code) const { QRcode_free(code); }
};

}  // namespace

Result<std::string> qr_svg(const std::string& text) {
  const std::unique_ptr<QRcode, Freer> code(QRcode_encodeString8bit(text.c_str(), 0, QR_ECLEVEL_M));
  if (!code) {
    return fail(out_of_range("text of a QR code", static_cast<double>(text.size()),
                             "1 to about 2300 bytes"));
  }
  const int width = code->width;
  std::string path;
  for (int y = 0; y < width; ++y) {
    for (int x = 0; x < width; ++x) {
      if (code->data[y * width + x] & 1) {
        path += fmt::format("M{} {}h1v1h-1z", x + kBorder, y + kBorder);
      }
    }
  }
  const int size = width + 2 * kBorder;
  return fmt::format(
      "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {0} {0}\" role=\"img\" "
      "aria-label=\"QR code\" shape-rendering=\"crispEdges\"><rect width=\"{0}\" height=\"{0}\" "
      "fill=\"#fff\"/><path fill=\"#000\" d=\"{1}\"/></svg>\n",
      size, path);
}

}  // namespace phren::app::server
