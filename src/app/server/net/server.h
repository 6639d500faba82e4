// `phren serve`: the pages and the JSON interface over HTTP/1.1, with TLS or without, on one
// asynchronous thread.
//
// Errors:  make() names the address it could not listen on, or the certificate it could not read, and
//          why; nothing a client sends can stop the server.
// Threads: run() uses the calling thread, and the lanes (lanes.h) for what takes longer; stop() may
// be
//          called from any thread or a signal handler's thread.
// Limits:  browsers allow sound worklets, the microphone and the offline copy only on this machine
// or
//          over TLS.
#pragma once

#include <chrono>
#include <cstdint>
#include <filesystem>
#include <memory>
#include <string>

#include "app/server/api/routes.h"
#include "app/server/net/client.h"
#include "app/server/net/lanes.h"
#include "app/server/net/pages.h"

namespace phren::app::server {

struct ServerOptions {
  std::string address = "127.0.0.1";
  std::uint16_t port = 8080;  // 0: any free port
  std::chrono::milliseconds header_timeout{10'000};
  std::chrono::milliseconds body_timeout{60'000};
  std::chrono::milliseconds idle_timeout{30'000};
  std::size_t max_connections = 2048;
  // Of one network address. A whole class may be behind one router, with several connections a
  // browser; half of all is left for others.
  std::size_t max_connections_address = 1024;
  // What all connections together, and those of one address, may be sending at a time, as their
  // headers say; more is 503 before it is read. Large bodies (above what JSON may have: tables,
  // recordings) have a budget of their own, so that they cannot keep learners' actions out.
  std::size_t max_small_bodies_bytes = 128u << 20;
  std::size_t max_small_bodies_address_bytes = 32u << 20;
  std::size_t max_large_bodies_bytes = 256u << 20;
  std::size_t max_large_bodies_address_bytes = 128u << 20;
  std::shared_ptr<Lanes> lanes = {};       // none: a set of its own, without a store
  std::filesystem::path certificate = {};  // PEM; empty: plain HTTP
  std::filesystem::path private_key = {};
  std::vector<Network> trusted_proxies = {};
  PublicUrl public_url = {};
  bool tells_https_only = false;  // Strict-Transport-Security on every answer over TLS
  // Long work ends when nobody waits for it, and after this time in any case.
  std::chrono::milliseconds longest_work{120'000};
  std::shared_ptr<OperatorLog> log = {};  // empty: none
  std::function<void()> on_stop = {};     // when the stop begins, on the network thread
};

// "127.0.0.1:8080", "[::1]:8080", ":8080" (every address) or "8080".
Result<ServerOptions> parse_listen(std::string_view text);

class Server {
 public:
  static Result<std::unique_ptr<Server>> make(const ServerOptions& options, RouteTable api,
                                              std::span<const Page> pages);
  virtual ~Server() = default;
  virtual std::uint16_t port() const = 0;
  // Serves until stop(), SIGINT or SIGTERM; requests under way are answered first, but what takes
  // longer than a few seconds more is ended without an answer. SIGHUP reads the certificate anew.
  virtual void run() = 0;
  virtual void stop() = 0;
};

}  // namespace phren::app::server
