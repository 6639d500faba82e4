// A text as a QR code, drawn as SVG: dark modules as one path, four modules of quiet border.
//
// Errors:  kInvalidArgument when the text is too long for a code.
// Source:  ISO/IEC 18004 through libqrencode, error correction level M.
#pragma once

#include <string>

#include "base/result.h"

namespace phren::app::server {

Result<std::string> qr_svg(const std::string& text);

}  // namespace phren::app::server
