#include "app/server/net/server.h"

#include <fmt/format.h>
#include <sys/resource.h>

#include <boost/asio/io_context.hpp>
#include <boost/asio/signal_set.hpp>
#include <boost/asio/steady_timer.hpp>
#include <csignal>

#include "app/server/net/session.h"

namespace phren::app::server {
namespace {

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

class BeastServer final : public Server {
 public:
  BeastServer(const ServerOptions& options, RouteTable api, std::span<const Page> pages)
      : shared_(options),
        io_(1),
        acceptor_(io_),
        signals_(io_),
        stop_timer_(io_),
        accept_timer_(io_) {
    shared_.api = std::move(api);
    shared_.pages = pages;
    shared_.lanes = options.lanes;
  }

  // Only what today's browsers need: TLS 1.2 and newer.
  Status load_certificate() {
    if (shared_.options.certificate.empty()) return {};
    tls_.emplace(asio::ssl::context::tls_server);
    tls_->set_options(asio::ssl::context::default_workarounds | asio::ssl::context::no_tlsv1 |
                      asio::ssl::context::no_tlsv1_1);
    beast::error_code error;
    tls_->use_certificate_chain_file(shared_.options.certificate.string(), error);
    if (error) {
      return fail(ErrorCode::kIo,
                  fmt::format("--cert {}: cannot be read as a PEM certificate: {}",
                              shared_.options.certificate.string(), error.message()));
    }
    tls_->use_private_key_file(shared_.options.private_key.string(), asio::ssl::context::pem,
                               error);
    if (error) {
      return fail(ErrorCode::kIo,
                  fmt::format("--key {}: cannot be read as the PEM key of that certificate: {}",
                              shared_.options.private_key.string(), error.message()));
    }
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
    accept();
    io_.run();
    shared_.lanes->finish();
  }

  void stop() override {
    asio::post(io_, [this] { begin_stop(); });
  }

 private:
  void accept() {
    acceptor_.async_accept([this](beast::error_code error, tcp::socket socket) {
      if (shared_.is_stopping) return;
      if (error == asio::error::operation_aborted) return;
      if (error) return accept_later();
      if (has_room_for(socket)) begin_session(std::move(socket));
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

  bool has_room_for(const tcp::socket& socket) const {
    if (shared_.sessions.size() >= shared_.options.max_connections) return false;
    beast::error_code error;
    const auto remote = socket.remote_endpoint(error);
    if (error) return false;
    const auto found = shared_.sessions_of_address.find(remote.address().to_string());
    return found == shared_.sessions_of_address.end() ||
           found->second < shared_.options.max_connections_address;
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
    accept_timer_.cancel();
    acceptor_.close(ignored);
    for (Connection* session : shared_.sessions) session->stop();
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
      return;
    }
    auto poll = std::make_shared<asio::steady_timer>(io_, std::chrono::milliseconds(20));
    poll->async_wait([this, poll](beast::error_code) { wait_for_sessions(); });
  }

  Shared shared_;  // outlives io_, whose destructor ends the sessions
  std::optional<asio::ssl::context> tls_;
  asio::io_context io_;
  tcp::acceptor acceptor_;
  asio::signal_set signals_;
  asio::steady_timer stop_timer_, accept_timer_;
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
