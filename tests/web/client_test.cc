// Who asks, when a proxy stands between; and the clock of a class.
#include "app/server/net/client.h"

#include <gtest/gtest.h>

#include "app/server/net/class_clock.h"

namespace phren::app::server {
namespace {

std::string address(const std::vector<Network>& proxies, const std::string& peer,
                    std::string_view forwarded) {
  return client_behind(proxies, peer, false, forwarded, "").address;
}

TEST(Client, OnlyATrustedProxyIsBelieved) {
  const auto proxies = parse_networks("127.0.0.1,10.0.0.0/8,::1").value();
  EXPECT_EQ(address({}, "127.0.0.1", "192.0.2.1"), "127.0.0.1");
  EXPECT_EQ(address(proxies, "192.0.2.9", "192.0.2.1"), "192.0.2.9");
  EXPECT_EQ(address(proxies, "127.0.0.1", "192.0.2.1"), "192.0.2.1");
  EXPECT_EQ(address(proxies, "::1", "2001:db8::7"), "2001:db8::7");
  EXPECT_EQ(address(proxies, "10.9.8.7", ""), "10.9.8.7");
}

// What a client claims of itself stands before what the proxy adds.
TEST(Client, TheLastAddressThatIsNoProxyCounts) {
  const auto proxies = parse_networks("127.0.0.1, 10.0.0.0/8").value();
  EXPECT_EQ(address(proxies, "127.0.0.1", "198.51.100.1, 192.0.2.1"), "192.0.2.1");
  EXPECT_EQ(address(proxies, "127.0.0.1", "198.51.100.1, 192.0.2.1, 10.1.1.1"), "192.0.2.1");
  EXPECT_EQ(address(proxies, "127.0.0.1", "10.1.1.1,10.1.1.2"), "10.1.1.1");
  EXPECT_EQ(address(proxies, "127.0.0.1", "192.0.2.1, <script>"), "127.0.0.1");
  EXPECT_EQ(address(proxies, "127.0.0.1", "192.0.2.1, , 10.1.1.1"), "10.1.1.1");
}

TEST(Client, TheWayIsSecureWhenTheLastProxySaysSo) {
  const auto proxies = parse_networks("127.0.0.1").value();
  EXPECT_TRUE(client_behind(proxies, "127.0.0.1", false, "", "https").is_secure);
  EXPECT_TRUE(client_behind(proxies, "127.0.0.1", false, "", "http, https").is_secure);
  EXPECT_FALSE(client_behind(proxies, "127.0.0.1", false, "", "https, http").is_secure);
  EXPECT_FALSE(client_behind(proxies, "192.0.2.1", false, "", "https").is_secure);
  EXPECT_TRUE(client_behind({}, "192.0.2.1", true, "", "").is_secure);
}

TEST(Client, WrongNetworksAndUrlsAreNamed) {
  for (const char* bad : {"proxy", "10.0.0.0/33", "10.0.0.0/", "::1/129", "10.0.0/8", ""}) {
    EXPECT_FALSE(parse_network(bad)) << bad;
  }
  EXPECT_TRUE(contains(parse_networks("10.0.0.0/8").value(), "::ffff:10.2.3.4"));
  for (const char* bad : {"phren.example", "ftp://phren.example", "https://", "https://a/b",
                          "https://a b", "https://a\r\nX: y", "https://User@a"}) {
    EXPECT_FALSE(parse_public_url(bad)) << bad;
  }
  EXPECT_EQ(parse_public_url("https://phren.example:8443/")->origin, "https://phren.example:8443");
}

struct Machine {
  std::int64_t wall_ms = 1'795'600'000'000, passed_ms = 5'000;
  ClockSources sources() {
    return {[this] { return wall_ms; }, [this] { return passed_ms; }};
  }
};

TEST(ClassClock, NeverJumpsWhateverTheMachinesClockDoes) {
  Machine machine;
  const std::int64_t begin = machine.wall_ms;
  const ClassClock clock(begin - 1000, machine.sources());
  for (const std::int64_t jump_ms :
       {-60'000LL, 20 * 60'000LL, 13 * 3'600'000LL, -20 * 3'600'000LL}) {
    machine.wall_ms += jump_ms;
    machine.passed_ms += 1'000;
    EXPECT_EQ(clock.now_ms() - begin, machine.passed_ms - 5'000) << jump_ms;
  }
}

TEST(ClassClock, AfterAStartItIsNeverBehindWhatIsStored) {
  Machine machine;
  const std::int64_t stored = machine.wall_ms + 60'000;
  const ClassClock behind(stored, machine.sources());
  EXPECT_EQ(behind.now_ms(), stored);
  EXPECT_EQ(behind.drift_ms(), -60'000);
  const ClassClock wrong_store(machine.wall_ms + 30LL * 24 * 3'600'000, machine.sources());
  EXPECT_EQ(wrong_store.now_ms(), machine.wall_ms);
  const ClassClock after_a_pause(machine.wall_ms - 600'000, machine.sources());
  EXPECT_EQ(after_a_pause.gap_ms(), 600'000);
  EXPECT_EQ(ClassClock(0, machine.sources()).gap_ms(), 0);
}

}  // namespace
}  // namespace phren::app::server
