// A connection after its upgrade to a WebSocket. Included by server.cc alone: the network library is slow to
// compile.
#pragma once

#include <boost/beast/websocket.hpp>
#include <boost/beast/websocket/ssl.hpp>
#include <deque>

#include "app/server/net/session.h"
#include "app/server/net/socket.h"

namespace phren::app::server {

namespace websocket = beast::websocket;

// ENGINEERING: a hand on a chest sends ten texts a second; a page that catches up sends more at once.
inline constexpr std::size_t kMaxSocketText_bytes = 64u << 10;
inline constexpr double kSocketTextsPerSecond = 40.0, kSocketTextsAtOnce = 400.0;
inline constexpr std::size_t kMaxSocketWaiting_bytes = 16u << 20;  // sent and not yet taken
inline constexpr std::chrono::seconds kSocketIdle{20};

template <class Stream>
class SocketConnection : public Connection,
                         public Socket,
                         public std::enable_shared_from_this<SocketConnection<Stream>> {
 public:
  SocketConnection(Stream stream, Shared& shared, std::string peer)
      : ws_(std::move(stream)), shared_(shared), peer_(std::move(peer)) {
    shared_.sessions.insert(this);
    ++shared_.sessions_of_address[peer_];
  }
  ~SocketConnection() override {
    shared_.sessions.erase(this);
    const auto found = shared_.sessions_of_address.find(peer_);
    if (found != shared_.sessions_of_address.end() && --found->second == 0) {
      shared_.sessions_of_address.erase(found);
    }
  }
  SocketConnection(const SocketConnection&) = delete;
  SocketConnection& operator=(const SocketConnection&) = delete;

  template <class Head>
  void start(const Head& head, const Request& request, const OpenSocket& open) {
    beast::get_lowest_layer(ws_).expires_never();
    websocket::stream_base::timeout times;
    times.handshake_timeout = std::chrono::seconds(5);
    times.idle_timeout = kSocketIdle;
    times.keep_alive_pings = true;
    ws_.set_option(times);
    ws_.read_message_max(kMaxSocketText_bytes);
    ws_.text(true);
    ws_.async_accept(head,
                     [self = this->shared_from_this(), request, open](beast::error_code error) {
                       if (error) return;
                       self->user_ = open(request, self);
                       if (!self->user_) return self->close("this address takes no socket now");
                       self->last_ = std::chrono::steady_clock::now();
                       self->read();
                     });
  }

  void send(std::shared_ptr<const std::string> text) override {
    asio::post(ws_.get_executor(), [self = this->shared_from_this(), text = std::move(text)] {
      self->put(std::move(text));
    });
  }
  void close(std::string_view why) override {
    asio::post(ws_.get_executor(), [self = this->shared_from_this(), why = std::string(why)] {
      self->begin_close(websocket::close_code::policy_error, why);
    });
  }

  void stop() override { begin_close(websocket::close_code::going_away, "the server stops"); }
  void hurry() override { beast::get_lowest_layer(ws_).close(); }
  // Until it has said anything it can give way to others, as a connection without a request can.
  Standing standing() const override { return {!has_spoken_, has_spoken_, last_}; }
  const std::string& peer() const override { return peer_; }
  void give_way() override { hurry(); }

 private:
  void read() {
    ws_.async_read(
        buffer_, [self = this->shared_from_this()](beast::error_code error, std::size_t) {
          if (error) return self->end();
          self->has_spoken_ = true;
          if (!self->may_read()) {
            self->begin_close(websocket::close_code::policy_error, "too many messages; slow down");
            return self->end();
          }
          const auto data = self->buffer_.cdata();
          self->user_->on_text({static_cast<const char*>(data.data()), data.size()});
          self->buffer_.consume(self->buffer_.size());
          self->read();
        });
  }

  // So many a second, and some more at once after a while of quiet.
  bool may_read() {
    const auto now = std::chrono::steady_clock::now();
    const double passed_s = std::chrono::duration<double>(now - last_).count();
    last_ = now;
    allowance_ = std::min(kSocketTextsAtOnce, allowance_ + passed_s * kSocketTextsPerSecond) - 1.0;
    return allowance_ >= 0.0;
  }

  void put(std::shared_ptr<const std::string> text) {
    if (is_closing_) return;
    waiting_bytes_ += text->size();
    if (waiting_bytes_ > kMaxSocketWaiting_bytes) return hurry();
    waiting_.push_back(std::move(text));
    if (waiting_.size() == 1) write();
  }
  void write() {
    const std::string& text = *waiting_.front();
    ws_.async_write(asio::buffer(text),
                    [self = this->shared_from_this()](beast::error_code error, std::size_t) {
                      if (error) return self->hurry();
                      self->waiting_bytes_ -= self->waiting_.front()->size();
                      self->waiting_.pop_front();
                      if (!self->waiting_.empty()) return self->write();
                      if (self->is_closing_) self->say_close();
                    });
  }

  void begin_close(websocket::close_code code, const std::string& why) {
    if (is_closing_) return;
    is_closing_ = true;
    reason_ = websocket::close_reason(code, why.substr(0, 100));
    if (waiting_.empty()) say_close();
  }
  void say_close() {
    ws_.async_close(reason_, [self = this->shared_from_this()](beast::error_code error) {
      if (error) self->hurry();
    });
  }
  void end() {
    is_closing_ = true;
    if (user_) std::exchange(user_, nullptr)->on_closed();
  }

  websocket::stream<Stream> ws_;
  Shared& shared_;
  std::string peer_;
  std::shared_ptr<SocketUser> user_;
  beast::flat_buffer buffer_;
  std::deque<std::shared_ptr<const std::string>> waiting_;
  std::size_t waiting_bytes_ = 0;
  double allowance_ = kSocketTextsAtOnce;
  std::chrono::steady_clock::time_point last_ = std::chrono::steady_clock::now();
  websocket::close_reason reason_;
  bool is_closing_ = false, has_spoken_ = false;
};

}  // namespace phren::app::server
