// Who asks, also when a proxy stands between: address, whether the way is secure, and under which
// name this server is reached.
//
// Rules:   what a proxy says of its client (X-Forwarded-For, X-Forwarded-Proto) counts only when the
//          proxy is one of those named; from anyone else these headers are somebody's claim.
// Errors:  kInvalidArgument naming the option, what was given and what would be right.
#pragma once

#include <array>
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.h"

namespace phren::app::server {

// One address or a block of them, IPv4 or IPv6; IPv4 is kept as IPv6 (RFC 4291 2.5.5.2).
struct Network {
  std::array<std::uint8_t, 16> bytes{};
  int prefix_bits = 128;
};
// "10.0.0.7", "10.0.0.0/8", "::1", "fd00::/8".
Result<Network> parse_network(std::string_view text);
// Several, separated by commas.
Result<std::vector<Network>> parse_networks(std::string_view text);
bool contains(const std::vector<Network>& networks, std::string_view address);

// Where others reach this server: "https://phren.school.example" or with a port; no path.
struct PublicUrl {
  std::string origin;  // as a browser names it; empty: none given
  std::string host;    // with the port, if one was given
  bool is_secure = false;
};
Result<PublicUrl> parse_public_url(std::string_view text);

struct Client {
  std::string address;
  bool is_secure = false;
};
// `forwarded_for`, `forwarded_proto`: the headers as they came, several joined by commas. The client
// is the last address in the chain that is not itself a trusted proxy; what is no address ends it.
Client client_behind(const std::vector<Network>& proxies, const std::string& peer, bool is_tls,
                     std::string_view forwarded_for, std::string_view forwarded_proto);

}  // namespace phren::app::server
