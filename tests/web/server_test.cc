// The server over real sockets on the loopback: limits, faults, stopping.
#include "app/server/net/server.h"

#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <boost/asio.hpp>
#include <condition_variable>
#include <mutex>
#include <thread>

namespace phren::app::server {
namespace {

using boost::asio::ip::tcp;
using testing::HasSubstr;
using testing::StartsWith;

// Lets a test hold a slow request open until it says go.
struct Gate {
  std::mutex mutex;
  std::condition_variable changed;
  bool has_entered = false;
  bool is_open = false;

  void pass() {
    std::unique_lock lock(mutex);
    has_entered = true;
    changed.notify_all();
    changed.wait(lock, [&] { return is_open; });
  }
  void wait_until_entered() {
    std::unique_lock lock(mutex);
    changed.wait(lock, [&] { return has_entered; });
  }
  void open() {
    const std::lock_guard lock(mutex);
    is_open = true;
    changed.notify_all();
  }
};

RouteTable test_table(Gate& gate) {
  RouteTable table;
  table.add({"GET", "/api/v1/health", "", 0, Lane::kNetwork,
             [](const Request&, const PathValues&) { return json_response("{}"); }});
  table.add(
      {"POST", "/api/v1/echo", "application/json", 1000, Lane::kNetwork,
       [](const Request& request, const PathValues&) { return json_response(request.body); }});
  table.add({"POST", "/api/v1/slow", "application/json", 1000, Lane::kSlow,
             [&gate](const Request&, const PathValues&) {
               gate.pass();
               return json_response("\"done\"");
             }});
  return table;
}

constexpr Page kPages[] = {{"/index.html", "text/html", "\"1\"", false, "<p>front", {}, {}}};

class ServerTest : public testing::Test {
 protected:
  void start(ServerOptions options = {}) {
    options.port = 0;
    server_ = std::move(Server::make(options, test_table(gate_), kPages).value());
    thread_ = std::thread([this] { server_->run(); });
  }
  void SetUp() override { start(); }
  void TearDown() override {
    gate_.open();
    finish();
  }
  void finish() {
    if (!thread_.joinable()) return;
    server_->stop();
    thread_.join();
  }
  tcp::socket connect() {
    tcp::socket socket(io_);
    socket.connect({boost::asio::ip::make_address("127.0.0.1"), server_->port()});
    return socket;
  }
  // Everything the server says until it closes.
  static std::string read_all(tcp::socket& socket) {
    std::string text;
    boost::system::error_code error;
    boost::asio::read(socket, boost::asio::dynamic_buffer(text), error);
    return text;
  }
  std::string exchange(const std::string& sent) {
    tcp::socket socket = connect();
    boost::system::error_code ignored;
    boost::asio::write(socket, boost::asio::buffer(sent), ignored);
    return read_all(socket);
  }
  std::string get(const std::string& path, const std::string& more = "") {
    return exchange("GET " + path + " HTTP/1.1\r\nHost: x\r\nConnection: close\r\n" + more +
                    "\r\n");
  }

  boost::asio::io_context io_;
  Gate gate_;
  std::unique_ptr<Server> server_;
  std::thread thread_;
};

TEST_F(ServerTest, ServesPagesAndData) {
  EXPECT_THAT(get("/"), HasSubstr("<p>front"));
  EXPECT_THAT(get("/api/v1/health?x=1"), StartsWith("HTTP/1.1 200"));
  EXPECT_THAT(get("/api/v1/nothing"), StartsWith("HTTP/1.1 404"));
}

TEST_F(ServerTest, EveryAnswerCarriesTheSecurityHeaders) {
  for (const char* path : {"/", "/api/v1/health", "/nothing", "/%"}) {
    SCOPED_TRACE(path);
    const std::string answer = get(path);
    for (const Header& header : security_headers()) {
      EXPECT_THAT(answer, HasSubstr(header.name + ": " + header.value));
    }
  }
}

TEST_F(ServerTest, KeepsTheConnectionForTheNextRequest) {
  const std::string one = "GET /api/v1/health HTTP/1.1\r\nHost: x\r\n\r\n";
  const std::string last = "GET / HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n";
  const std::string both = exchange(one + last);
  EXPECT_THAT(both, HasSubstr("{}HTTP/1.1 200 OK"));
  EXPECT_THAT(both, HasSubstr("<p>front"));
}

TEST_F(ServerTest, HeadHasLengthButNoBody) {
  const std::string answer = exchange("HEAD / HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n");
  EXPECT_THAT(answer, HasSubstr("Content-Length: 8"));
  EXPECT_THAT(answer, testing::EndsWith("\r\n\r\n"));
}

TEST_F(ServerTest, RefusesTooLargeABodyBeforeReadingIt) {
  const std::string head =
      "POST /api/v1/echo HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n";
  EXPECT_THAT(exchange(head + "Content-Length: 1001\r\n\r\n" + std::string(1001, ' ')),
              StartsWith("HTTP/1.1 413"));
  EXPECT_THAT(exchange(head + "Content-Length: 99999999999\r\n\r\n"), StartsWith("HTTP/1.1 413"));
  EXPECT_THAT(exchange(head + "Transfer-Encoding: chunked\r\n\r\n7d0\r\n" + std::string(2000, ' ') +
                       "\r\n0\r\n\r\n"),
              StartsWith("HTTP/1.1 413"));
}

// RFC 9112 6.1 and 6.3: what one reads as a body, another might read as the next request.
TEST_F(ServerTest, WhereARequestEndsIsBeyondDoubt) {
  const std::string head =
      "POST /api/v1/echo HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n";
  const std::string hidden = "GET /hidden HTTP/1.1\r\nHost: x\r\n\r\n";
  for (const char* coding :
       {"xchunked", "identity", "gzip, chunked", "chunked, identity", "chunkedx"}) {
    const std::string answer =
        exchange(head + "Transfer-Encoding: " + coding + "\r\n\r\n" + hidden);
    EXPECT_THAT(answer, testing::AnyOf(StartsWith("HTTP/1.1 501"), StartsWith("HTTP/1.1 400")))
        << coding;
    EXPECT_EQ(answer.find("HTTP/1.1 ", 1), std::string::npos) << coding << ": answered twice";
  }
  const std::string both =
      exchange(head + "Content-Length: 4\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n" + hidden);
  EXPECT_THAT(both, StartsWith("HTTP/1.1 400"));
  EXPECT_EQ(both.find("HTTP/1.1 ", 1), std::string::npos) << "answered twice";
}

// Whoever holds places with headers that never end gives way to who has something to ask.
TEST_F(ServerTest, SlowHeadersKeepNobodyOut) {
  finish();
  ServerOptions options;
  options.max_connections = 6;
  options.max_connections_address = 6;
  start(options);
  std::vector<tcp::socket> slow;
  for (int i = 0; i < 12; ++i) {
    slow.push_back(connect());
    boost::asio::write(slow.back(), boost::asio::buffer(std::string("GET / HTTP/1.1\r\nX-Slow: ")));
  }
  for (int i = 0; i < 20; ++i) EXPECT_THAT(get("/"), HasSubstr("<p>front")) << i;
}

TEST_F(ServerTest, AnswersMalformedRequestsAndGoesOn) {
  EXPECT_THAT(exchange("nonsense\r\n\r\n"), StartsWith("HTTP/1.1 400"));
  EXPECT_THAT(exchange("GET /" + std::string(20000, 'a') + " HTTP/1.1\r\n\r\n"),
              StartsWith("HTTP/1.1 431"));
  EXPECT_THAT(get("/..%2f..%2fetc/passwd"), StartsWith("HTTP/1.1 400"));
  EXPECT_THAT(get("/api/v1/%FF"), StartsWith("HTTP/1.1 400"));
  EXPECT_THAT(get("/api/v1/health?x=%FF"), StartsWith("HTTP/1.1 400"));
  EXPECT_THAT(get("/api/v1/health"), StartsWith("HTTP/1.1 200"));
}

TEST_F(ServerTest, RefusesAPageOfAnotherOriginToPost) {
  const std::string head =
      "POST /api/v1/echo HTTP/1.1\r\nHost: here\r\nConnection: close\r\n"
      "Content-Type: application/json\r\nContent-Length: 2\r\n";
  EXPECT_THAT(exchange(head + "Origin: http://there\r\n\r\n{}"), StartsWith("HTTP/1.1 403"));
  EXPECT_THAT(exchange(head + "Origin: http://here\r\n\r\n{}"), StartsWith("HTTP/1.1 200"));
}

TEST_F(ServerTest, DropsAClientThatNeverFinishesItsHeader) {
  finish();
  ServerOptions options;
  options.header_timeout = std::chrono::milliseconds(50);
  start(options);
  EXPECT_EQ(exchange("GET / HTTP/1.1\r\nHos"), "");  // would wait for ever if not dropped
  EXPECT_THAT(get("/"), StartsWith("HTTP/1.1 200"));
}

TEST_F(ServerTest, ASlowRequestDoesNotHoldUpOthers) {
  tcp::socket slow = connect();
  boost::asio::write(slow, boost::asio::buffer(std::string(
                               "POST /api/v1/slow HTTP/1.1\r\nHost: x\r\nConnection: close\r\n"
                               "Content-Type: application/json\r\nContent-Length: 0\r\n\r\n")));
  gate_.wait_until_entered();
  EXPECT_THAT(get("/"), StartsWith("HTTP/1.1 200"));
  gate_.open();
  EXPECT_THAT(read_all(slow), HasSubstr("\"done\""));
}

TEST_F(ServerTest, StopAnswersWhatIsUnderWayAndClosesIdleConnections) {
  tcp::socket idle = connect();
  tcp::socket slow = connect();
  boost::asio::write(slow, boost::asio::buffer(std::string(
                               "POST /api/v1/slow HTTP/1.1\r\nHost: x\r\n"
                               "Content-Type: application/json\r\nContent-Length: 0\r\n\r\n")));
  gate_.wait_until_entered();
  server_->stop();
  EXPECT_EQ(read_all(idle), "");
  gate_.open();
  EXPECT_THAT(read_all(slow), HasSubstr("\"done\""));
  thread_.join();
}

// One that is being sent counts from its header on; the next is refused before it is read.
TEST_F(ServerTest, BodiesUnderWayHaveABudget) {
  finish();
  ServerOptions options;
  options.max_small_bodies_bytes = options.max_small_bodies_address_bytes = 1500;
  start(options);
  const std::string head =
      "POST /api/v1/echo HTTP/1.1\r\nHost: x\r\nConnection: close\r\n"
      "Content-Type: application/json\r\nContent-Length: 1000\r\n";
  tcp::socket first = connect();
  boost::asio::write(first, boost::asio::buffer(head + "Expect: 100-continue\r\n\r\n"));
  std::string second;
  for (int i = 0; i < 1000 && !second.starts_with("HTTP/1.1 503"); ++i) {
    second = exchange(head + "\r\n" + std::string(1000, ' '));
  }
  EXPECT_THAT(second, StartsWith("HTTP/1.1 503"));
  boost::asio::write(first, boost::asio::buffer(std::string(1000, ' ')));
  EXPECT_THAT(read_all(first), StartsWith("HTTP/1.1 200"));
  EXPECT_THAT(exchange(head + "\r\n" + std::string(1000, ' ')), StartsWith("HTTP/1.1 200"));
}

TEST_F(ServerTest, OneAddressHasOnlySoManyConnections) {
  finish();
  ServerOptions options;
  options.max_connections_address = 2;
  start(options);
  tcp::socket one = connect(), two = connect();
  const std::string ask = "GET / HTTP/1.1\r\nHost: x\r\n\r\n";
  for (tcp::socket* socket : {&one, &two}) {
    boost::asio::write(*socket, boost::asio::buffer(ask));
    std::string answer(8, ' ');
    boost::asio::read(*socket, boost::asio::buffer(answer));
    EXPECT_EQ(answer, "HTTP/1.1");
  }
  // A third one takes the place of the one that has been idle longest; there are never three.
  EXPECT_THAT(get("/"), StartsWith("HTTP/1.1 200"));
  read_all(one);
  boost::asio::write(two, boost::asio::buffer(ask));
  EXPECT_THAT(read_all(two), HasSubstr("HTTP/1.1 200")) << "until it, too, is closed as idle";
}

// Nobody whose request is under way gives way.
TEST_F(ServerTest, OneAddressWithAllPlacesAtWorkWaits) {
  finish();
  ServerOptions options;
  options.max_connections_address = 1;
  start(options);
  tcp::socket slow = connect();
  boost::asio::write(slow, boost::asio::buffer(std::string(
                               "POST /api/v1/slow HTTP/1.1\r\nHost: x\r\nConnection: close\r\n"
                               "Content-Type: application/json\r\nContent-Length: 0\r\n\r\n")));
  gate_.wait_until_entered();
  EXPECT_EQ(get("/"), "");
  gate_.open();
  EXPECT_THAT(read_all(slow), HasSubstr("\"done\""));
}

TEST_F(ServerTest, NamesTheAddressItCannotListenOn) {
  ServerOptions options;
  options.port = server_->port();
  const auto second = Server::make(options, {}, {});
  ASSERT_FALSE(second.has_value());
  EXPECT_THAT(second.error().message, HasSubstr(fmt::format("127.0.0.1:{}", options.port)));
  options.address = "not-an-address";
  EXPECT_THAT(Server::make(options, {}, {}).error().message, HasSubstr("not-an-address"));
}

}  // namespace
}  // namespace phren::app::server
