// What one client may hold of what all share, over real sockets from two addresses of the loopback.
#include "app/server/net/shares.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <boost/asio.hpp>
#include <future>
#include <thread>

#include "app/server/net/server.h"

namespace phren::app::server {
namespace {

using boost::asio::ip::tcp;
using testing::StartsWith;

constexpr const char *kRude = "127.0.0.2", *kOther = "127.0.0.1";

Route held_route(const char* path, Lane lane, const std::shared_future<void>& go) {
  return {"GET", path, "", 0, lane, [go](const Request&, const PathValues&) {
            go.wait();
            return json_response("{}");
          }};
}

class SharesTest : public testing::Test {
 protected:
  void SetUp() override {
    RouteTable table;
    table.add(
        {"POST", "/api/v1/echo", "application/json", kMaxJsonBody_bytes, Lane::kNetwork,
         [](const Request& request, const PathValues&) { return json_response(request.body); }});
    table.add({"PUT", "/api/v1/table", "text/csv", kMaxTextBody_bytes, Lane::kNetwork,
               [](const Request&, const PathValues&) { return json_response("{}"); }});
    // As guard.cc does: says whether the cookie is of a session.
    table.add(
        {"GET", "/api/v1/me", "", 0, Lane::kNetwork, [](const Request& request, const PathValues&) {
           const bool is_real = cookie_value(request, "phren_session") == "real";
           Response response = json_response("{}", is_real ? 200 : 401);
           response.has_session = is_real;
           return response;
         }});
    const auto gate = go_.get_future().share();
    table.add(held_route("/api/v1/work", Lane::kWork, gate));
    table.add(held_route("/api/v1/slow", Lane::kSlow, gate));
    ServerOptions options;
    options.port = 0;
    server_ = std::move(Server::make(options, std::move(table), {}).value());
    thread_ = std::thread([this] { server_->run(); });
  }
  void TearDown() override {
    go_.set_value();
    server_->stop();
    thread_.join();
  }
  tcp::socket send(const char* from, const std::string& head) {
    tcp::socket socket(io_, tcp::v4());
    socket.bind({boost::asio::ip::make_address(from), 0});
    socket.connect({boost::asio::ip::make_address("127.0.0.1"), server_->port()});
    boost::asio::write(socket, boost::asio::buffer(head));
    return socket;
  }
  std::string exchange(const char* from, const std::string& head) {
    tcp::socket socket = send(from, head);
    std::string text;
    boost::system::error_code error;
    boost::asio::read(socket, boost::asio::dynamic_buffer(text), error);
    return text;
  }
  static std::string get(const std::string& path, const std::string& cookie) {
    return "GET " + path +
           " HTTP/1.1\r\nHost: x\r\nConnection: close\r\nCookie: phren_session=" + cookie +
           "\r\n\r\n";
  }
  static std::string body_head(const char* line, const char* type, std::size_t bytes) {
    return std::string(line) +
           " HTTP/1.1\r\nHost: x\r\nConnection: close\r\nContent-Type: " + type +
           "\r\nContent-Length: " + std::to_string(bytes) + "\r\n\r\n";
  }
  // How many of `count` such requests are let in; they stay under way. The server has one network
  // thread, so when a later question is answered, the earlier ones have been looked at.
  int held(const char* from, const std::function<std::string(int)>& request, int count) {
    std::vector<tcp::socket> sent;
    for (int i = 0; i < count; ++i) {
      sent.push_back(send(from, request(i)));
      exchange(kOther, get("/api/v1/me", "nobody"));
    }
    exchange(kOther, get("/api/v1/me", "nobody"));
    int refused = 0;
    for (tcp::socket& socket : sent) {
      if (socket.available() > 0) ++refused;
      under_way_.push_back(std::move(socket));
    }
    return count - refused;
  }

  boost::asio::io_context io_;
  std::promise<void> go_;
  std::vector<tcp::socket> under_way_;
  std::unique_ptr<Server> server_;
  std::thread thread_;
};

// Bodies that were announced and never sent, by one who is not even logged in.
TEST_F(SharesTest, BodiesOfOneAddressKeepNoOtherOut) {
  const auto table = [](int) { return body_head("PUT /api/v1/table", "text/csv", 1u << 20); };
  EXPECT_EQ(held(kRude, table, 130), 128);
  const auto json = [](int) {
    return body_head("POST /api/v1/echo", "application/json", kMaxJsonBody_bytes);
  };
  EXPECT_EQ(held(kRude, json, 130), 128);
  const std::string echo = body_head("POST /api/v1/echo", "application/json", 2) + "{}";
  EXPECT_THAT(exchange(kRude, echo), StartsWith("HTTP/1.1 503"));
  EXPECT_THAT(exchange(kOther, echo), StartsWith("HTTP/1.1 200"));
  EXPECT_THAT(exchange(kOther, body_head("PUT /api/v1/table", "text/csv", 2) + "a\n"),
              StartsWith("HTTP/1.1 200"));
  under_way_.clear();
  std::string after;
  for (int i = 0; i < 1000 && !after.starts_with("HTTP/1.1 200"); ++i)
    after = exchange(kRude, echo);
  EXPECT_THAT(after, StartsWith("HTTP/1.1 200"));
}

TEST_F(SharesTest, AMadeUpCookieGivesNoPlacesOfItsOwn) {
  const auto made_up = [](int i) { return get("/api/v1/work", "made-up-" + std::to_string(i)); };
  const auto real = [](int) { return get("/api/v1/work", "real"); };
  EXPECT_EQ(held(kRude, made_up, 40), 16);
  EXPECT_EQ(held(kRude, real, 1), 0) << "the server has not seen it yet";
  EXPECT_THAT(exchange(kRude, get("/api/v1/me", "real")), StartsWith("HTTP/1.1 200"));
  EXPECT_EQ(held(kRude, real, 8), 6);
  EXPECT_EQ(held(kOther, made_up, 1), 1);
}

TEST_F(SharesTest, TheSlowLaneHasASharePerClientToo) {
  const auto slow = [](int) { return get("/api/v1/slow", "none"); };
  EXPECT_EQ(held(kRude, slow, 8), 4);
  EXPECT_EQ(held(kOther, slow, 8), 4);
}

TEST(Shares, AnAddressWithManySessionsLeavesPlacesForOthers) {
  Places places({6, 16, 48});
  std::vector<Places::Place> held;
  for (int i = 0; i < 100; ++i) {
    Places::Place place;
    if (places.take("session " + std::to_string(i), "a", place)) held.push_back(place);
  }
  EXPECT_EQ(held.size(), 48u);
  Places::Place place;
  EXPECT_FALSE(places.take("", "a", place));
  EXPECT_EQ(place.of, nullptr);
  EXPECT_TRUE(places.take("", "b", place));
  for (auto& one : held) Places::give_back(one);
  EXPECT_TRUE(places.take("", "a", place));
}

TEST(Shares, WhatIsGivenBackCanBeTakenAgain) {
  Share share(10, 6);
  EXPECT_TRUE(share.take("a", 6));
  EXPECT_FALSE(share.take("a", 1));
  EXPECT_FALSE(share.take("b", 5)) << "more than is left of all";
  EXPECT_TRUE(share.take("b", 4));
  EXPECT_TRUE(share.take("c", 0));
  share.give_back("a", 6);
  EXPECT_TRUE(share.take("c", 6));
}

TEST(Shares, AFloodOfSessionsIsForgotten) {
  KnownSessions known;
  for (int i = 0; i < 10'001; ++i) known.add(std::to_string(i));
  EXPECT_FALSE(known.has("0"));
  EXPECT_TRUE(known.has("10000"));
  known.remove("10000");
  EXPECT_FALSE(known.has("10000"));
}

}  // namespace
}  // namespace phren::app::server
