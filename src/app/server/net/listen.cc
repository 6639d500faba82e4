// Parsing of --listen; apart from server.cc so that it needs no network headers.
#include <charconv>
#include <string>

#include "app/server/net/server.h"

namespace phren::app::server {

Result<ServerOptions> parse_listen(std::string_view text) {
  ServerOptions options;
  const std::size_t colon = text.rfind(':');
  std::string_view port = text;
  if (colon != std::string_view::npos) {
    std::string_view address = text.substr(0, colon);
    port = text.substr(colon + 1);
    if (address.starts_with('[') && address.ends_with(']')) {
      address = address.substr(1, address.size() - 2);
    }
    options.address = address.empty() ? "0.0.0.0" : std::string(address);
  }
  const auto [end, error] = std::from_chars(port.data(), port.data() + port.size(), options.port);
  if (error != std::errc() || end != port.data() + port.size()) {
    return fail(out_of_range("--listen", text, "ADDRESS:PORT with a port from 0 to 65535"));
  }
  return options;
}

}  // namespace phren::app::server
