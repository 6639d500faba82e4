// One connection of the server, from its first byte to its last. Included by server.cc alone: the
// network library is slow to compile.
#pragma once

#include <fmt/format.h>
#include <poll.h>

#include <algorithm>
#include <atomic>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/ssl.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/beast/core.hpp>
#include <boost/beast/http.hpp>
#include <boost/beast/ssl.hpp>
#include <boost/beast/websocket/rfc6455.hpp>
#include <map>
#include <set>
#include <type_traits>

#include "app/server/net/query.h"
#include "app/server/net/refusals.h"
#include "app/server/net/server.h"
#include "app/server/net/shares.h"

namespace phren::app::server {

namespace asio = boost::asio;
namespace beast = boost::beast;
namespace http = beast::http;
using asio::ip::tcp;

inline constexpr std::size_t kMaxHeader_bytes = 8u << 10;
// Read ahead of what is understood: the extension of a chunk, too, has to fit in.
inline constexpr std::size_t kMaxBuffer_bytes = 128u << 10;
inline constexpr std::size_t kMaxDrain_bytes = 128u << 20;
inline constexpr std::chrono::seconds kDrainTime{5};
inline constexpr std::chrono::milliseconds kLookAfterClient{250};

inline std::string text_of(beast::string_view text) {
  return {text.data(), text.size()};
}

// Of the 64 places in the work lane and the 8 in the slow one (lanes.h): an honest page is never
// refused, and whoever sits at one address leaves some for the others (ENGINEERING).
inline constexpr PlaceLimits kWorkPlaces{6, 16, 48};
inline constexpr PlaceLimits kSlowPlaces{3, 4, 6};

// IPv4 as such, also where it came in through IPv6.
inline std::string plain_address(const asio::ip::address& address) {
  if (!address.is_v6() || !address.to_v6().is_v4_mapped()) return address.to_string();
  return asio::ip::make_address_v4(asio::ip::v4_mapped, address.to_v6()).to_string();
}

// Whether the other end has closed its side; what it still sent stays to be read.
inline bool has_hung_up(int socket) {
  pollfd one{socket, POLLRDHUP, 0};
  return poll(&one, 1, 0) > 0 && (one.revents & (POLLRDHUP | POLLHUP | POLLERR)) != 0;
}

class Connection {
 public:
  virtual ~Connection() = default;
  virtual void stop() = 0;   // at once when idle, else after the answer under way
  virtual void hurry() = 0;  // long work under way ends without an answer
  // While it has sent no whole request head, it can give way to others.
  struct Standing {
    bool is_waiting = false, has_been_served = false;
    std::chrono::steady_clock::time_point since;
  };
  virtual Standing standing() const = 0;
  virtual const std::string& peer() const = 0;
  virtual void give_way() = 0;
};

// What all connections share; touched only on the network thread, but for `api` and `pages`.
struct Shared {
  explicit Shared(const ServerOptions& given)
      : options(given),
        small_bodies(given.max_small_bodies_bytes, given.max_small_bodies_address_bytes),
        large_bodies(given.max_large_bodies_bytes, given.max_large_bodies_address_bytes) {}

  ServerOptions options;
  RouteTable api;
  std::span<const Page> pages;
  std::shared_ptr<Lanes> lanes;
  std::set<Connection*> sessions;
  std::map<std::string, std::size_t> sessions_of_address;
  KnownSessions known;
  Places work_places{kWorkPlaces}, slow_places{kSlowPlaces};
  Share small_bodies, large_bodies;  // bytes being sent or answered, by address
  bool is_stopping = false;
};

using PlainStream = beast::tcp_stream;
using TlsStream = beast::ssl_stream<beast::tcp_stream>;

template <class Stream>
class SocketConnection;  // websocket.h

// One connection. It keeps itself alive through the handlers it has under way.
template <class Stream>
class Session : public Connection, public std::enable_shared_from_this<Session<Stream>> {
 public:
  // `more`: what the stream needs beside its socket.
  template <class... More>
  Session(tcp::socket socket, Shared& shared, More&... more)
      : stream_(std::move(socket), more...), shared_(shared) {
    shared_.sessions.insert(this);
    beast::error_code ignored;
    const auto remote = lowest().socket().remote_endpoint(ignored);
    if (!ignored) peer_ = plain_address(remote.address());
    ++shared_.sessions_of_address[peer_];
  }
  ~Session() override {
    give_back_body();
    Places::give_back(place_);
    shared_.sessions.erase(this);
    less_by_one(shared_.sessions_of_address, peer_);
  }
  Session(const Session&) = delete;
  Session& operator=(const Session&) = delete;

  void start() {
    beast::error_code ignored;
    lowest().socket().set_option(tcp::no_delay(true), ignored);
    if constexpr (kIsTls) {
      lowest().expires_after(shared_.options.header_timeout);
      stream_.async_handshake(asio::ssl::stream_base::server,
                              [self = this->shared_from_this()](beast::error_code error) {
                                if (error) return self->close();
                                self->read_header(self->shared_.options.header_timeout);
                              });
    } else {
      read_header(shared_.options.header_timeout);
    }
  }
  void stop() override {
    if (is_idle_) lowest().cancel();
  }
  void hurry() override {
    if (abandoned_) *abandoned_ = true;
  }
  Standing standing() const override { return {is_waiting_, has_been_served_, waiting_since_}; }
  const std::string& peer() const override { return peer_; }
  void give_way() override {
    is_waiting_ = false;
    lowest().cancel();
  }

 private:
  static constexpr bool kIsTls = !std::is_same_v<Stream, PlainStream>;
  beast::tcp_stream& lowest() { return beast::get_lowest_layer(stream_); }

  void read_header(std::chrono::milliseconds time) {
    if (shared_.is_stopping) return close();
    is_waiting_ = true;
    waiting_since_ = std::chrono::steady_clock::now();
    parser_.emplace();
    parser_->header_limit(kMaxHeader_bytes);
    parser_->body_limit(kMaxRecordingBody_bytes);
    is_idle_ = buffer_.size() == 0;
    lowest().expires_after(time);
    http::async_read_header(
        stream_, buffer_, *parser_,
        [self = this->shared_from_this()](beast::error_code error, std::size_t) {
          self->is_idle_ = self->is_waiting_ = false;
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
    if (auto odd = check_framing()) return refuse(std::move(*odd));
    const auto path = decode_path(target_path());
    if (!path) {
      request_ = head_of_request(std::string(target_path()));
      return refuse(problem(path.error()));
    }
    request_ = head_of_request(*path);
    if (const auto ok = check_query(request_.query); !ok) return refuse(problem(ok.error()));
    if (beast::websocket::is_upgrade(parser_->get())) return upgrade();
    const auto match = shared_.api.find(request_.method, request_.path);
    lane_ = match.route != nullptr ? match.route->lane : Lane::kNetwork;
    // Where there is no route, a small body is read so that the answer can say so.
    body_limit_bytes_ = match.route != nullptr ? match.route->max_body_bytes : kMaxJsonBody_bytes;
    const auto length = parser_->content_length();
    if (length && *length > body_limit_bytes_) return refuse_body(body_limit_bytes_);
    const bool is_chunked = parser_->chunked();
    if (!take_body(is_chunked ? body_limit_bytes_ : static_cast<std::size_t>(length.value_or(0)))) {
      return refuse(busy());
    }
    parser_->body_limit(std::max<std::size_t>(body_limit_bytes_, 1));
    read_body();
  }

  // The stream goes to a connection of another kind; this one ends.
  void upgrade() {
    const OpenSocket* open = shared_.api.find_socket(request_.path);
    if (open == nullptr) {
      return refuse(problem(404, "not found", "there is no WebSocket at " + request_.path));
    }
    if (is_cross_site(request_)) {
      return refuse(problem(403, "cross-site request",
                            "a page of " + request_.origin + " may not speak to this server"));
    }
    const auto socket =
        std::make_shared<SocketConnection<Stream>>(std::move(stream_), shared_, peer_);
    socket->start(parser_->get(), request_, *open);
  }

  // Where a request ends must be beyond doubt, or the body of one is read as the next (RFC 9112 6.1,
  // 6.3).
  std::optional<Response> check_framing() const {
    const auto coding = parser_->get().find(http::field::transfer_encoding);
    if (coding == parser_->get().end()) return std::nullopt;
    if (!beast::iequals(coding->value(), "chunked")) {
      return problem(501, "not implemented",
                     "the only Transfer-Encoding that is read is chunked, alone");
    }
    if (parser_->get().find(http::field::content_length) == parser_->get().end()) {
      return std::nullopt;
    }
    return problem(400, "malformed request",
                   "Content-Length and Transfer-Encoding exclude each other");
  }

  // Takes the bytes of the body from the common budget; false when that, or what of it this
  // address may hold, is used up.
  bool take_body(std::size_t bytes) {
    Share& bodies = bytes > kMaxJsonBody_bytes ? shared_.large_bodies : shared_.small_bodies;
    if (!bodies.take(request_.remote, bytes)) return false;
    bodies_ = &bodies;
    body_owner_ = request_.remote;
    taken_bytes_ = bytes;
    return true;
  }
  void give_back_body() {
    if (bodies_ != nullptr) bodies_->give_back(body_owner_, taken_bytes_);
    bodies_ = nullptr;
  }
  static void less_by_one(std::map<std::string, std::size_t>& counts, const std::string& name) {
    const auto found = counts.find(name);
    if (found != counts.end() && --found->second == 0) counts.erase(found);
  }

  void read_body() {
    lowest().expires_after(shared_.options.body_timeout);
    http::async_read(stream_, buffer_, *parser_,
                     [self = this->shared_from_this()](beast::error_code error, std::size_t) {
                       self->on_body(error);
                     });
  }

  void on_body(beast::error_code error) {
    if (error == http::error::body_limit || error == http::error::buffer_overflow) {
      return refuse_body(body_limit_bytes_);
    }
    if (error && error.category() == http::make_error_code(http::error::bad_chunk).category()) {
      return refuse(problem(400, "malformed request", error.message()));
    }
    if (error) return close();
    keep_alive_ = parser_->get().keep_alive();
    request_.body = std::move(parser_->get().body());
    if (lane_ != Lane::kNetwork) return answer_on_lane();
    send(answer(nullptr));
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
    request.cookie = text_of(head[http::field::cookie]);
    request.csrf = text_of(head["X-Phren-CSRF"]);
    const Client client = client_behind(shared_.options.trusted_proxies, peer_, kIsTls,
                                        all_of("X-Forwarded-For"), all_of("X-Forwarded-Proto"));
    request.remote = client.address;
    request.is_secure = client.is_secure;
    request.own_origin = shared_.options.public_url.origin;
    return request;
  }
  std::string all_of(const char* name) const {
    std::string all;
    const auto [begin, end] = parser_->get().equal_range(name);
    for (auto one = begin; one != end; ++one) {
      all += (all.empty() ? "" : ",") + text_of(one->value());
    }
    return all;
  }

  Response answer(Desk* desk) const {
    // Routes with the store refuse such a request themselves, knowing who asks.
    if (desk == nullptr && request_.method != "GET" && request_.method != "HEAD" &&
        is_cross_site(request_)) {
      return problem(403, "cross-site request",
                     fmt::format("a page of {} may not send to this server", request_.origin));
    }
    if (auto page = answer_page(shared_.pages, request_)) return std::move(*page);
    return shared_.api.answer(request_, desk);
  }

  // The job runs while this connection waits for it, so it may read the request. The last hold on
  // the connection goes back to the network thread: it must not end on another.
  void answer_on_lane() {
    lowest().expires_never();
    if (!take_place()) return send(busy());
    watch_client();
    const bool is_taken = shared_.lanes->submit(
        lane_, [this](Desk* desk) { return *abandoned_ ? busy() : answer(desk); },
        [self = this->shared_from_this()](Response response) mutable {
          auto held = std::make_shared<Response>(std::move(response));
          auto executor = self->stream_.get_executor();
          asio::post(executor, [mine = std::move(self), held] {
            mine->watch_.cancel();
            mine->send(std::move(*held));
          });
        },
        asker());
    if (is_taken) return;
    watch_.cancel();
    send(busy());
  }

  Asker asker() const {
    const std::string token = session_token(request_);
    const bool is_session = shared_.known.has(token);
    return {is_session ? token : request_.remote, is_session};
  }

  // Only long work is worth ending early: what the store lane does is over at once.
  void watch_client() {
    abandoned_ = std::make_shared<std::atomic<bool>>(false);
    request_.is_abandoned = abandoned_;
    if (lane_ == Lane::kStore) return;
    work_ends_ = std::chrono::steady_clock::now() + shared_.options.longest_work;
    look_after_client();
  }
  void look_after_client() {
    watch_.expires_after(kLookAfterClient);
    watch_.async_wait([self = this->shared_from_this()](beast::error_code error) {
      if (error) return;
      const bool is_late = std::chrono::steady_clock::now() > self->work_ends_;
      if (is_late || has_hung_up(self->lowest().socket().native_handle())) {
        *self->abandoned_ = true;
        return;
      }
      self->look_after_client();
    });
  }

  static Response busy() {
    Response response = problem(503, "busy", "too much is under way; try again soon");
    response.headers.push_back({"Retry-After", "5"});
    return response;
  }

  bool take_place() {
    if (lane_ == Lane::kStore) return true;
    Places& places = lane_ == Lane::kWork ? shared_.work_places : shared_.slow_places;
    const std::string token = session_token(request_);
    return places.take(shared_.known.has(token) ? token : "", request_.remote, place_);
  }
  void learn_session(const Response& response) {
    if (!response.has_session && response.status != 401) return;
    const std::string token = session_token(request_);
    if (token.empty()) return;
    if (response.has_session) {
      shared_.known.add(token);
    } else {
      shared_.known.remove(token);
    }
  }

  void send(Response response) {
    Places::give_back(place_);
    learn_session(response);
    const RefusalLog* log = shared_.api.refusals();
    if (request_.remote.empty()) request_.remote = peer_;  // of what could not be read
    const bool is_to_note =
        log != nullptr && log->wants(request_, response, shared_.lanes->now_ms());
    if (is_to_note) return note_and_send(std::move(response));
    send_now(std::move(response));
  }

  // Refused without the store: written down before it is told, unless the store has no time at all.
  void note_and_send(Response response) {
    lowest().expires_never();
    auto held = std::make_shared<Response>(std::move(response));
    const bool is_taken = shared_.lanes->submit(
        Lane::kStore,
        [this, held](Desk* desk) {
          if (desk != nullptr) shared_.api.refusals()->note(*desk, request_, *held);
          return Response{};
        },
        [self = this->shared_from_this(), held](Response) mutable {
          auto executor = self->stream_.get_executor();
          asio::post(executor,
                     [mine = std::move(self), held] { mine->send_now(std::move(*held)); });
        });
    if (!is_taken) send_now(std::move(*held));
  }

  void send_now(Response response) {
    held_ = std::move(response);
    const bool is_head = request_.method == "HEAD";
    message_ = {};
    message_.result(static_cast<unsigned>(held_.status));
    message_.version(11);
    for (const Header& header : security_headers()) message_.set(header.name, header.value);
    if (request_.is_secure && shared_.options.tells_https_only) {
      message_.set(http::field::strict_transport_security, "max-age=31536000");
    }
    for (const Header& header : held_.headers) message_.set(header.name, header.value);
    if (!held_.content_type.empty()) message_.set(http::field::content_type, held_.content_type);
    const std::string_view bytes = held_.bytes();
    if (!is_head) message_.body() = {bytes.data(), bytes.size()};
    if (held_.status != 304) message_.content_length(bytes.size());
    message_.keep_alive(keep_alive_ && !shared_.is_stopping);
    lowest().expires_after(shared_.options.body_timeout);
    http::async_write(stream_, message_,
                      [self = this->shared_from_this()](beast::error_code error, std::size_t) {
                        self->on_sent(error);
                      });
  }

  void on_sent(beast::error_code error) {
    if (error) return close();
    has_been_served_ = true;
    if (!message_.keep_alive()) return is_refused_ ? drain() : close();
    request_ = {};
    parser_.reset();
    give_back_body();
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
    lowest().socket().shutdown(tcp::socket::shutdown_send, ignored);
    lowest().expires_after(kDrainTime);
    drain_some();
  }
  void drain_some() {
    buffer_.clear();
    lowest().async_read_some(
        buffer_.prepare(64u << 10),
        [self = this->shared_from_this()](beast::error_code error, std::size_t count) {
          self->drained_bytes_ += count;
          if (error || self->drained_bytes_ > kMaxDrain_bytes) return self->close();
          self->drain_some();
        });
  }

  void close() {
    beast::error_code ignored;
    lowest().socket().shutdown(tcp::socket::shutdown_send, ignored);
    lowest().close();
  }

  Stream stream_;
  Shared& shared_;
  asio::steady_timer watch_{stream_.get_executor()};
  std::shared_ptr<std::atomic<bool>> abandoned_;
  std::chrono::steady_clock::time_point work_ends_,
      waiting_since_ = std::chrono::steady_clock::now();
  std::string peer_;
  std::string body_owner_;
  beast::flat_buffer buffer_{kMaxBuffer_bytes};
  std::optional<http::request_parser<http::string_body>> parser_;
  Request request_;
  Response held_;
  http::response<http::span_body<const char>> message_;
  std::size_t body_limit_bytes_ = 0;
  std::size_t drained_bytes_ = 0;
  std::size_t taken_bytes_ = 0;
  Share* bodies_ = nullptr;  // of which taken_bytes_ are held
  Places::Place place_;
  bool is_idle_ = false;
  bool is_waiting_ = true;  // for a handshake or a request's head
  bool has_been_served_ = false;
  Lane lane_ = Lane::kNetwork;
  bool keep_alive_ = true;
  bool is_refused_ = false;
};

}  // namespace phren::app::server
