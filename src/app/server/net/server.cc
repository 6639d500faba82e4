#include "app/server/net/server.h"

#include <fmt/format.h>
#include <sys/resource.h>
#include <sys/stat.h>

#include <boost/asio/io_context.hpp>
#include <boost/asio/signal_set.hpp>
#include <boost/asio/steady_timer.hpp>
#include <csignal>
#include <tuple>

#include "app/server/net/session.h"
#include "app/server/net/websocket.h"

namespace phren::app::server {
namespace {

// A stop: what is under way has this long, then long work is told to end, then all connections close.
constexpr std::chrono::seconds kHurryAfter{3};
constexpr std::chrono::seconds kStopGrace{5};
constexpr std::chrono::milliseconds kAfterAcceptError{100};
constexpr rlim_t kFilesBesideConnections = 256;

// Each connection is a file; many systems allow 1024 unless asked for more.
void allow_files(std::size_t connections) {
  rlimit limit{};
  if (getrlimit(RLIMIT_NOFILE, &limit) != 0) return;
  const rlim_t wanted = std::min<rlim_t>(connections + kFilesBesideConnections, limit.rlim_max);
  if (limit.rlim_cur >= wanted) return;
  limit.rlim_cur = wanted;
  setrlimit(RLIMIT_NOFILE, &limit);  // what cannot be had is met by the pause in accept()
}

// Only what today's browsers need: TLS 1.2 and newer, and of 1.2 only forward secrecy with
// authenticated encryption (RFC 9325 4.2).
constexpr const char* kCiphers_12 = "ECDHE+AESGCM:ECDHE+CHACHA20";

Status check_key_file(const std::filesystem::path& file) {
  struct stat found{};
  if (stat(file.c_str(), &found) != 0 || (found.st_mode & (S_IRWXG | S_IRWXO)) == 0) return {};
  return fail(ErrorCode::kInvalidArgument,
              fmt::format("--key {}: others than its owner may read this private key; take that "
                          "away with chmod 600",
                          file.string()));
}

Result<std::unique_ptr<asio::ssl::context>> make_tls(const std::filesystem::path& certificate,
                                                     const std::filesystem::path& key) {
  if (auto ok = check_key_file(key); !ok) return fail(ok.error());
  auto tls = std::make_unique<asio::ssl::context>(asio::ssl::context::tls_server);
  tls->set_options(asio::ssl::context::default_workarounds | asio::ssl::context::no_tlsv1 |
                   asio::ssl::context::no_tlsv1_1);
  SSL_CTX_set_cipher_list(tls->native_handle(), kCiphers_12);
  beast::error_code error;
  tls->use_certificate_chain_file(certificate.string(), error);
  if (error) {
    return fail(ErrorCode::kIo, fmt::format("--cert {}: cannot be read as a PEM certificate: {}",
                                            certificate.string(), error.message()));
  }
  tls->use_private_key_file(key.string(), asio::ssl::context::pem, error);
  if (error) {
    return fail(ErrorCode::kIo,
                fmt::format("--key {}: cannot be read as the PEM key of that certificate: {}",
                            key.string(), error.message()));
  }
  return tls;
}

class BeastServer final : public Server {
 public:
  BeastServer(const ServerOptions& options, RouteTable api, std::span<const Page> pages)
      : shared_(options),
        io_(1),
        acceptor_(io_),
        signals_(io_),
        renewal_(io_),
        stop_timer_(io_),
        hurry_timer_(io_),
        accept_timer_(io_) {
    shared_.api = std::move(api);
    shared_.pages = pages;
    shared_.lanes = options.lanes;
  }

  Status load_certificate() {
    if (shared_.options.certificate.empty()) return {};
    auto made = make_tls(shared_.options.certificate, shared_.options.private_key);
    if (!made) return fail(made.error());
    tls_ = std::move(*made);
    return {};
  }

  Status listen() {
    beast::error_code error;
    const auto address = asio::ip::make_address(shared_.options.address, error);
    if (error) {
      return fail(out_of_range("--listen", shared_.options.address,
                               "an IPv4 or IPv6 address, for example 127.0.0.1:8080"));
    }
    const tcp::endpoint endpoint(address, shared_.options.port);
    acceptor_.open(endpoint.protocol(), error);
    if (!error) acceptor_.set_option(asio::socket_base::reuse_address(true), error);
    if (!error) acceptor_.bind(endpoint, error);
    if (!error) acceptor_.listen(asio::socket_base::max_listen_connections, error);
    // From here on a signal to end is kept until run() answers it in good order.
    if (!error) signals_.add(SIGINT, error);
    if (!error) signals_.add(SIGTERM, error);
    if (!error && tls_) renewal_.add(SIGHUP, error);
    if (!error) return {};
    return fail(ErrorCode::kIo,
                fmt::format("cannot listen on {}:{}: {}; stop the other program or "
                            "choose another port with --listen",
                            shared_.options.address, shared_.options.port, error.message()));
  }

  std::uint16_t port() const override { return acceptor_.local_endpoint().port(); }

  void run() override {
    signals_.async_wait([this](beast::error_code error, int) {
      if (!error) begin_stop();
    });
    allow_files(shared_.options.max_connections);
    if (tls_) renew_on_signal();
    accept();
    io_.run();
    shared_.lanes->finish();
  }

  void stop() override {
    asio::post(io_, [this] { begin_stop(); });
  }

 private:
  // A certificate that cannot be used leaves the old one in place.
  void renew_on_signal() {
    renewal_.async_wait([this](beast::error_code error, int) {
      if (error) return;
      const Status renewed = load_certificate();
      if (shared_.options.log && renewed) {
        shared_.options.log->tell(Level::kInfo, "certificate_renewed", "read anew");
      } else if (shared_.options.log) {
        shared_.options.log->tell(Level::kError, "certificate_not_renewed", renewed.error().message,
                                  "mend the files, then send SIGHUP again");
      }
      renew_on_signal();
    });
  }

  void accept() {
    acceptor_.async_accept([this](beast::error_code error, tcp::socket socket) {
      if (shared_.is_stopping) return;
      if (error == asio::error::operation_aborted) return;
      if (error) return accept_later();
      if (make_room_for(socket)) begin_session(std::move(socket));
      accept();
    });
  }

  // When files have run out, asking again at once would only keep the processor busy.
  void accept_later() {
    accept_timer_.expires_after(kAfterAcceptError);
    accept_timer_.async_wait([this](beast::error_code error) {
      if (!error && !shared_.is_stopping) accept();
    });
  }

  // When all places are taken, who only holds one gives way to who comes: of the address with most
  // connections, first one that was never served, the longest waiting of those.
  bool make_room_for(const tcp::socket& socket) {
    beast::error_code error;
    const auto remote = socket.remote_endpoint(error);
    if (error) return false;
    const std::string peer = plain_address(remote.address());
    const auto found = shared_.sessions_of_address.find(peer);
    const bool is_proxy = contains(shared_.options.trusted_proxies, peer);
    if (!is_proxy && found != shared_.sessions_of_address.end() &&
        found->second >= shared_.options.max_connections_address) {
      return make_one_give_way(&peer);
    }
    return shared_.sessions.size() < shared_.options.max_connections || make_one_give_way(nullptr);
  }

  bool make_one_give_way(const std::string* of_address) {
    const auto now = std::chrono::steady_clock::now();
    Connection* chosen = nullptr;
    std::tuple<std::size_t, bool, std::chrono::steady_clock::duration> best{};
    for (Connection* one : shared_.sessions) {
      const Connection::Standing standing = one->standing();
      if (!standing.is_waiting || (of_address != nullptr && one->peer() != *of_address)) continue;
      const std::tuple rank{shared_.sessions_of_address[one->peer()], !standing.has_been_served,
                            now - standing.since};
      if (chosen != nullptr && rank <= best) continue;
      chosen = one;
      best = rank;
    }
    if (chosen == nullptr) return false;
    chosen->give_way();
    return true;
  }

  void begin_session(tcp::socket socket) {
    if (tls_) {
      std::make_shared<Session<TlsStream>>(std::move(socket), shared_, *tls_)->start();
    } else {
      std::make_shared<Session<PlainStream>>(std::move(socket), shared_)->start();
    }
  }

  void begin_stop() {
    if (shared_.is_stopping) return;
    shared_.is_stopping = true;
    beast::error_code ignored;
    signals_.cancel(ignored);
    renewal_.cancel(ignored);
    accept_timer_.cancel();
    acceptor_.close(ignored);
    if (shared_.options.on_stop) shared_.options.on_stop();
    for (Connection* session : shared_.sessions) session->stop();
    hurry_timer_.expires_after(kHurryAfter);
    hurry_timer_.async_wait([this](beast::error_code error) {
      if (error) return;
      for (Connection* session : shared_.sessions) session->hurry();
    });
    stop_timer_.expires_after(kStopGrace);
    stop_timer_.async_wait([this](beast::error_code error) {
      if (!error) io_.stop();
    });
    wait_for_sessions();
  }

  // The grace timer alone would keep io_ running its full time.
  void wait_for_sessions() {
    if (shared_.sessions.empty()) {
      stop_timer_.cancel();
      hurry_timer_.cancel();
      return;
    }
    auto poll = std::make_shared<asio::steady_timer>(io_, std::chrono::milliseconds(20));
    poll->async_wait([this, poll](beast::error_code) { wait_for_sessions(); });
  }

  Shared shared_;                            // outlives io_, whose destructor ends the sessions
  std::unique_ptr<asio::ssl::context> tls_;  // connections under way keep the one they began with
  asio::io_context io_;
  tcp::acceptor acceptor_;
  asio::signal_set signals_, renewal_;
  asio::steady_timer stop_timer_, hurry_timer_, accept_timer_;
};

}  // namespace

Result<std::unique_ptr<Server>> Server::make(const ServerOptions& options, RouteTable api,
                                             std::span<const Page> pages) {
  ServerOptions complete = options;
  if (!complete.lanes) {
    complete.lanes = TRY(Lanes::start({}));
  }
  auto server = std::make_unique<BeastServer>(complete, std::move(api), pages);
  TRY(server->load_certificate());
  TRY(server->listen());
  return server;
}

}  // namespace phren::app::server
