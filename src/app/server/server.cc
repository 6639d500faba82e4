#include "app/server/server.h"

#include <fmt/format.h>

#include <algorithm>
#include <atomic>
#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/signal_set.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/thread_pool.hpp>
#include <boost/beast/core.hpp>
#include <boost/beast/http.hpp>
#include <boost/beast/version.hpp>
#include <csignal>
#include <set>

namespace phren::app::server {
namespace {

namespace asio = boost::asio;
namespace beast = boost::beast;
namespace http = beast::http;
using asio::ip::tcp;

constexpr std::size_t kMaxHeader_bytes = 8u << 10;
constexpr std::size_t kMaxDrain_bytes = 128u << 20;
constexpr std::chrono::seconds kDrainTime{5};
constexpr std::chrono::seconds kStopGrace{5};

std::string text_of(beast::string_view text) {
  return {text.data(), text.size()};
}

class Session;

// What all sessions share; touched only on the network thread, but for `api` and `pages`.
struct Shared {
  ServerOptions options;
  RouteTable api;
  std::span<const Page> pages;
  asio::thread_pool slow{1};
  std::size_t waiting_slow = 0;
  std::set<Session*> sessions;
  bool is_stopping = false;
};

// One connection. It keeps itself alive through the handlers it has under way.
class Session : public std::enable_shared_from_this<Session> {
 public:
  Session(tcp::socket socket, Shared& shared) : stream_(std::move(socket)), shared_(shared) {
    shared_.sessions.insert(this);
  }
  ~Session() { shared_.sessions.erase(this); }
  Session(const Session&) = delete;
  Session& operator=(const Session&) = delete;

  void start() {
    beast::error_code ignored;
    stream_.socket().set_option(tcp::no_delay(true), ignored);
    read_header(shared_.options.header_timeout);
  }
  void stop() {
    if (is_idle_) stream_.cancel();
  }

 private:
  void read_header(std::chrono::milliseconds time) {
    if (shared_.is_stopping) return close();
    parser_.emplace();
    parser_->header_limit(kMaxHeader_bytes);
    parser_->body_limit(kMaxRecordingBody_bytes);
    is_idle_ = buffer_.size() == 0;
    stream_.expires_after(time);
    http::async_read_header(stream_, buffer_, *parser_,
                            [self = shared_from_this()](beast::error_code error, std::size_t) {
                              self->is_idle_ = false;
                              self->on_header(error);
                            });
  }

  void on_header(beast::error_code error) {
    if (error == http::error::end_of_stream) return close();
    if (error == http::error::header_limit) {
      return refuse(problem(431, "headers too large",
                            fmt::format("at most {} bytes of headers are read", kMaxHeader_bytes)));
    }
    if (error == http::error::body_limit) return refuse_body(kMaxRecordingBody_bytes);
    if (error && error.category() == http::make_error_code(http::error::bad_method).category()) {
      return refuse(problem(400, "malformed request", "this is not HTTP/1.1: " + error.message()));
    }
    if (error) return close();
    const auto path = decode_path(target_path());
    if (!path) return refuse(problem(path.error()));
    request_ = head_of_request(*path);
    const auto match = shared_.api.find(request_.method, request_.path);
    is_slow_ = match.route != nullptr && match.route->is_slow;
    // Where there is no route, a small body is read so that the answer can say so.
    body_limit_bytes_ = match.route != nullptr ? match.route->max_body_bytes : kMaxJsonBody_bytes;
    const auto length = parser_->content_length();
    if (length && *length > body_limit_bytes_) return refuse_body(body_limit_bytes_);
    parser_->body_limit(std::max<std::size_t>(body_limit_bytes_, 1));
    read_body();
  }

  void read_body() {
    stream_.expires_after(shared_.options.body_timeout);
    http::async_read(stream_, buffer_, *parser_,
                     [self = shared_from_this()](beast::error_code error, std::size_t) {
                       self->on_body(error);
                     });
  }

  void on_body(beast::error_code error) {
    if (error == http::error::body_limit) return refuse_body(body_limit_bytes_);
    if (error && error.category() == http::make_error_code(http::error::bad_chunk).category()) {
      return refuse(problem(400, "malformed request", error.message()));
    }
    if (error) return close();
    keep_alive_ = parser_->get().keep_alive();
    request_.body = std::move(parser_->get().body());
    if (is_slow_) return answer_slowly();
    send(answer());
  }

  std::string_view target_path() const {
    const auto target = parser_->get().target();
    const std::string_view text(target.data(), target.size());
    return text.substr(0, text.find('?'));
  }

  Request head_of_request(const std::string& path) const {
    const auto& head = parser_->get();
    Request request;
    request.method = text_of(head.method_string());
    request.path = path;
    const std::string target = text_of(head.target());
    if (const auto mark = target.find('?'); mark != std::string::npos) {
      request.query = target.substr(mark + 1);
    }
    request.host = text_of(head[http::field::host]);
    request.origin = text_of(head[http::field::origin]);
    request.content_type = text_of(head[http::field::content_type]);
    request.accept_encoding = text_of(head[http::field::accept_encoding]);
    request.if_none_match = text_of(head[http::field::if_none_match]);
    return request;
  }

  Response answer() const {
    if (request_.method != "GET" && request_.method != "HEAD" && is_cross_site(request_)) {
      return problem(403, "cross-site request",
                     fmt::format("a page of {} may not send to this server", request_.origin));
    }
    if (auto page = answer_page(shared_.pages, request_)) return std::move(*page);
    return shared_.api.answer(request_);
  }

  void answer_slowly() {
    if (shared_.waiting_slow >= shared_.options.max_waiting_slow) {
      Response busy = problem(503, "busy", "other recordings are being measured; try again soon");
      busy.headers.push_back({"Retry-After", "5"});
      return send(std::move(busy));
    }
    ++shared_.waiting_slow;
    stream_.expires_never();
    asio::post(shared_.slow, [self = shared_from_this()] {
      auto response = std::make_shared<Response>(self->answer());
      asio::post(self->stream_.get_executor(), [self, response] {
        --self->shared_.waiting_slow;
        self->send(std::move(*response));
      });
    });
  }

  void send(Response response) {
    held_ = std::move(response);
    const bool is_head = request_.method == "HEAD";
    message_ = {};
    message_.result(static_cast<unsigned>(held_.status));
    message_.version(11);
    for (const Header& header : security_headers()) message_.set(header.name, header.value);
    for (const Header& header : held_.headers) message_.set(header.name, header.value);
    if (!held_.content_type.empty()) message_.set(http::field::content_type, held_.content_type);
    const std::string_view bytes = held_.bytes();
    if (!is_head) message_.body() = {bytes.data(), bytes.size()};
    if (held_.status != 304) message_.content_length(bytes.size());
    message_.keep_alive(keep_alive_ && !shared_.is_stopping);
    stream_.expires_after(shared_.options.body_timeout);
    http::async_write(stream_, message_,
                      [self = shared_from_this()](beast::error_code error, std::size_t) {
                        self->on_sent(error);
                      });
  }

  void on_sent(beast::error_code error) {
    if (error) return close();
    if (!message_.keep_alive()) return is_refused_ ? drain() : close();
    request_ = {};
    read_header(shared_.options.idle_timeout);
  }

  // Answers without reading the rest of what was sent, then closes.
  void refuse(Response response) {
    keep_alive_ = false;
    is_refused_ = true;
    send(std::move(response));
  }
  void refuse_body(std::size_t limit) {
    refuse(
        problem(413, "too large", fmt::format("{} takes at most {} bytes", request_.path, limit)));
  }

  // Lets the client finish sending, so that it gets to read our answer instead of a broken pipe.
  void drain() {
    beast::error_code ignored;
    stream_.socket().shutdown(tcp::socket::shutdown_send, ignored);
    stream_.expires_after(kDrainTime);
    drain_some();
  }
  void drain_some() {
    buffer_.clear();
    stream_.async_read_some(
        buffer_.prepare(64u << 10),
        [self = shared_from_this()](beast::error_code error, std::size_t count) {
          self->drained_bytes_ += count;
          if (error || self->drained_bytes_ > kMaxDrain_bytes) return self->close();
          self->drain_some();
        });
  }

  void close() {
    beast::error_code ignored;
    stream_.socket().shutdown(tcp::socket::shutdown_send, ignored);
    stream_.close();
  }

  beast::tcp_stream stream_;
  Shared& shared_;
  beast::flat_buffer buffer_;
  std::optional<http::request_parser<http::string_body>> parser_;
  Request request_;
  Response held_;
  http::response<http::span_body<const char>> message_;
  std::size_t body_limit_bytes_ = 0;
  std::size_t drained_bytes_ = 0;
  bool is_idle_ = false;
  bool is_slow_ = false;
  bool keep_alive_ = true;
  bool is_refused_ = false;
};

class BeastServer final : public Server {
 public:
  BeastServer(const ServerOptions& options, RouteTable api, std::span<const Page> pages)
      : io_(1), acceptor_(io_), signals_(io_), stop_timer_(io_) {
    shared_.options = options;
    shared_.api = std::move(api);
    shared_.pages = pages;
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
    if (!error) return {};
    return fail(ErrorCode::kIo,
                fmt::format("cannot listen on {}:{}: {}; stop the other program or "
                            "choose another port with --listen",
                            shared_.options.address, shared_.options.port, error.message()));
  }

  std::uint16_t port() const override { return acceptor_.local_endpoint().port(); }

  void run() override {
    signals_.add(SIGINT);
    signals_.add(SIGTERM);
    signals_.async_wait([this](beast::error_code error, int) {
      if (!error) begin_stop();
    });
    accept();
    io_.run();
    shared_.slow.join();
  }

  void stop() override {
    asio::post(io_, [this] { begin_stop(); });
  }

 private:
  void accept() {
    acceptor_.async_accept([this](beast::error_code error, tcp::socket socket) {
      if (shared_.is_stopping) return;
      if (!error && shared_.sessions.size() < shared_.options.max_connections) {
        std::make_shared<Session>(std::move(socket), shared_)->start();
      }
      if (error != asio::error::operation_aborted) accept();
    });
  }

  void begin_stop() {
    if (shared_.is_stopping) return;
    shared_.is_stopping = true;
    beast::error_code ignored;
    signals_.cancel(ignored);
    acceptor_.close(ignored);
    for (Session* session : shared_.sessions) session->stop();
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
  asio::io_context io_;
  tcp::acceptor acceptor_;
  asio::signal_set signals_;
  asio::steady_timer stop_timer_;
};

}  // namespace

Result<std::unique_ptr<Server>> Server::make(const ServerOptions& options, RouteTable api,
                                             std::span<const Page> pages) {
  auto server = std::make_unique<BeastServer>(options, std::move(api), pages);
  if (auto listening = server->listen(); !listening) return fail(listening.error());
  return server;
}

}  // namespace phren::app::server
