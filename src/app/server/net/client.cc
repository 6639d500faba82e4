#include "app/server/net/client.h"

#include <arpa/inet.h>

#include <algorithm>
#include <charconv>
#include <cstring>
#include <optional>

namespace phren::app::server {
namespace {

std::string_view trimmed(std::string_view text) {
  while (!text.empty() && (text.front() == ' ' || text.front() == '\t')) text.remove_prefix(1);
  while (!text.empty() && (text.back() == ' ' || text.back() == '\t')) text.remove_suffix(1);
  return text;
}

std::optional<std::array<std::uint8_t, 16>> parse_address(std::string_view text) {
  const std::string name(text);
  std::array<std::uint8_t, 16> bytes{};
  if (inet_pton(AF_INET6, name.c_str(), bytes.data()) == 1) return bytes;
  std::array<std::uint8_t, 4> four{};
  if (inet_pton(AF_INET, name.c_str(), four.data()) != 1) return std::nullopt;
  bytes = {0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0xff, 0xff, four[0], four[1], four[2], four[3]};
  return bytes;
}

bool is_within(const std::array<std::uint8_t, 16>& address, const Network& network) {
  for (int bit = 0; bit < network.prefix_bits; ++bit) {
    const auto byte = static_cast<std::size_t>(bit / 8);
    const int mask = 0x80 >> (bit % 8);
    if (((address[byte] ^ network.bytes[byte]) & mask) != 0) return false;
  }
  return true;
}

// Takes the last part off a list that commas divide.
std::string_view take_last(std::string_view& list) {
  const std::size_t comma = list.rfind(',');
  const std::string_view last = comma == std::string_view::npos ? list : list.substr(comma + 1);
  list = comma == std::string_view::npos ? std::string_view() : list.substr(0, comma);
  return trimmed(last);
}

}  // namespace

Result<Network> parse_network(std::string_view text) {
  const std::size_t slash = text.find('/');
  const std::string_view name = text.substr(0, slash);
  const bool is_four = name.find(':') == std::string_view::npos;
  const auto bytes = parse_address(name);
  int bits = is_four ? 32 : 128;
  bool is_right = bytes.has_value();
  if (is_right && slash != std::string_view::npos) {
    const std::string_view digits = text.substr(slash + 1);
    int given = -1;
    const auto [end, error] = std::from_chars(digits.data(), digits.data() + digits.size(), given);
    is_right =
        error == std::errc() && end == digits.data() + digits.size() && given >= 0 && given <= bits;
    bits = given;
  }
  if (!is_right) {
    return fail(out_of_range("--trusted-proxy", "'" + std::string(text) + "'",
                             "an address or a block such as 127.0.0.1, 10.0.0.0/8 or ::1"));
  }
  return Network{*bytes, is_four ? bits + 96 : bits};
}

Result<std::vector<Network>> parse_networks(std::string_view text) {
  std::vector<Network> list;
  while (!text.empty()) {
    auto one = parse_network(take_last(text));
    if (!one) return fail(one.error());
    list.push_back(*one);
  }
  return list;
}

bool contains(const std::vector<Network>& networks, std::string_view address) {
  const auto bytes = parse_address(address);
  return bytes && std::any_of(networks.begin(), networks.end(),
                              [&](const Network& one) { return is_within(*bytes, one); });
}

Result<PublicUrl> parse_public_url(std::string_view text) {
  PublicUrl url;
  url.is_secure = text.starts_with("https://");
  std::string_view host = text;
  if (url.is_secure || text.starts_with("http://")) host.remove_prefix(url.is_secure ? 8 : 7);
  const bool has_scheme = host.size() < text.size();
  if (host.ends_with('/')) host.remove_suffix(1);
  const bool is_right =
      has_scheme && !host.empty() &&
      host.find_first_not_of("abcdefghijklmnopqrstuvwxyz0123456789.-:[]") == std::string_view::npos;
  if (!is_right) {
    return fail(out_of_range("--public-url", "'" + std::string(text) + "'",
                             "scheme, lower-case host and perhaps a port, for example "
                             "https://phren.school.example, without a path"));
  }
  url.host = host;
  url.origin = std::string(url.is_secure ? "https://" : "http://") + url.host;
  return url;
}

Client client_behind(const std::vector<Network>& proxies, const std::string& peer, bool is_tls,
                     std::string_view forwarded_for, std::string_view forwarded_proto) {
  Client client{peer, is_tls};
  if (!contains(proxies, peer)) return client;
  client.is_secure = is_tls || take_last(forwarded_proto) == "https";
  while (!forwarded_for.empty()) {
    const std::string_view said = take_last(forwarded_for);
    if (!parse_address(said)) break;
    client.address = said;
    if (!contains(proxies, said)) break;
  }
  return client;
}

}  // namespace phren::app::server
