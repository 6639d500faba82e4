// Simulated learners against a running server: they join a station by key, begin, and act until
// time is up. One asynchronous thread, one connection each.
//
// Usage: class_load HOST PORT CODE KEYS_FILE SECONDS PACE_MS ACKS_FILE
//   KEYS_FILE  one key a line; so many learners
//   PACE_MS    mean pause between the actions of one learner
//   ACKS_FILE  gets one line "ENCOUNTER ACTION" for each action that the server acknowledged, and
//              "ENCOUNTER ACTION ?" for the one that was under way when the connection broke
// Prints one line of JSON: how many, how fast.
#include <algorithm>
#include <boost/asio.hpp>
#include <boost/beast/core.hpp>
#include <boost/beast/http.hpp>
#include <chrono>
#include <cstdio>
#include <fstream>
#include <nlohmann/json.hpp>
#include <random>

namespace asio = boost::asio;
namespace beast = boost::beast;
namespace http = beast::http;
using asio::ip::tcp;
using nlohmann::json;
using Clock = std::chrono::steady_clock;

namespace {

struct Settings {
  tcp::endpoint server;
  std::string host, code;
  double seconds = 10.0, pace_ms = 250.0;
};

struct Totals {
  std::vector<double> action_ms, start_ms;
  std::vector<std::string> acks;
  int learners_begun = 0, refused = 0, broken = 0;
};

double now_ms() {
  using namespace std::chrono;
  return duration<double, std::milli>(system_clock::now().time_since_epoch()).count();
}

class Learner {
 public:
  Learner(asio::io_context& io, const Settings& settings, Totals& totals, std::string key,
          unsigned number)
      : stream_(io),
        timer_(io),
        settings_(settings),
        totals_(totals),
        key_(std::move(key)),
        random_(number) {}

  asio::awaitable<void> live() {
    try {
      co_await stream_.async_connect(settings_.server, asio::use_awaitable);
      stream_.socket().set_option(tcp::no_delay(true));
      co_await pause(settings_.pace_ms);
      const auto from = Clock::now();
      // g++ 12 stumbles over braces within co_await, so bodies are made before.
      json joining;
      joining["code"] = settings_.code;
      joining["key"] = key_;
      const json session = co_await ask("/api/v1/join", joining);
      csrf_ = session.at("csrf");
      json beginning;
      beginning["station_id"] = session.at("station_id");
      const json encounter = co_await ask("/api/v1/encounters", beginning);
      totals_.start_ms.push_back(since(from));
      ++totals_.learners_begun;
      id_ = encounter.at("id");
      co_await act(encounter.at("started_ms"), encounter.at("actions"));
    } catch (const std::exception&) {
      ++totals_.broken;
      if (!under_way_.empty()) totals_.acks.push_back(id_ + " " + under_way_ + " ?");
    }
  }

 private:
  static double since(Clock::time_point from) {
    return std::chrono::duration<double, std::milli>(Clock::now() - from).count();
  }

  asio::awaitable<void> pause(double mean_ms) {
    std::uniform_real_distribution<double> length(0.0, 2.0 * mean_ms);
    timer_.expires_after(std::chrono::microseconds(static_cast<int>(1000.0 * length(random_))));
    co_await timer_.async_wait(asio::use_awaitable);
  }

  asio::awaitable<void> act(double started_ms, int already) {
    const auto until = Clock::now() + std::chrono::duration<double>(settings_.seconds);
    std::uniform_real_distribution<double> where(-0.9, 0.9);
    for (int n = already; Clock::now() < until; ++n) {
      under_way_ = "a" + std::to_string(n);
      const json body = action_body((now_ms() - started_ms) / 1000.0, where(random_));
      const std::string path = "/api/v1/encounters/" + id_ + "/actions";
      const auto from = Clock::now();
      co_await ask(path, body);
      totals_.action_ms.push_back(since(from));
      totals_.acks.push_back(id_ + " " + under_way_);
      under_way_.clear();
      co_await pause(settings_.pace_ms);
    }
  }

  json action_body(double t, double u) const {
    const json action{{"id", under_way_}, {"t", t}, {"do", "place"},
                      {"aspect", "back"}, {"u", u}, {"v", 0.5}};
    return {{"actions", json::array({action})}};
  }

  asio::awaitable<json> ask(std::string path, json body) {
    http::request<http::string_body> request(http::verb::post, path, 11);
    request.set(http::field::host, settings_.host);
    request.set(http::field::content_type, "application/json");
    if (!cookie_.empty()) request.set(http::field::cookie, cookie_);
    if (!csrf_.empty()) request.set("X-Phren-CSRF", csrf_);
    request.body() = body.dump();
    request.prepare_payload();
    stream_.expires_after(std::chrono::seconds(30));
    co_await http::async_write(stream_, request, asio::use_awaitable);
    http::response<http::string_body> response;
    co_await http::async_read(stream_, buffer_, response, asio::use_awaitable);
    const auto set = response[http::field::set_cookie];
    if (!set.empty()) {
      const std::string text(set.data(), set.size());
      cookie_ = text.substr(0, text.find(';'));
    }
    if (response.result_int() >= 300) {
      ++totals_.refused;
      std::fprintf(stderr, "%s: %u %s\n", path.c_str(), response.result_int(),
                   response.body().c_str());
      throw std::runtime_error("refused");
    }
    co_return json::parse(response.body());
  }

  beast::tcp_stream stream_;
  asio::steady_timer timer_;
  const Settings& settings_;
  Totals& totals_;
  std::string key_, cookie_, csrf_, id_, under_way_;
  beast::flat_buffer buffer_;
  std::mt19937 random_;
};

double quantile(std::vector<double>& values, double share) {
  if (values.empty()) return 0.0;
  std::sort(values.begin(), values.end());
  return values[std::min(values.size() - 1,
                         static_cast<std::size_t>(share * static_cast<double>(values.size())))];
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 8) return 2;
  Settings settings;
  settings.server = {asio::ip::make_address(argv[1]),
                     static_cast<std::uint16_t>(std::atoi(argv[2]))};
  settings.host = std::string(argv[1]) + ":" + argv[2];
  settings.code = argv[3];
  settings.seconds = std::atof(argv[5]);
  settings.pace_ms = std::atof(argv[6]);
  asio::io_context io(1);
  Totals totals;
  std::vector<std::unique_ptr<Learner>> learners;
  std::ifstream keys(argv[4]);
  for (std::string key; std::getline(keys, key);) {
    const auto number = static_cast<unsigned>(learners.size() + 1);
    learners.push_back(std::make_unique<Learner>(io, settings, totals, key, number));
  }
  const auto from = Clock::now();
  for (auto& learner : learners) asio::co_spawn(io, learner->live(), asio::detached);
  io.run();
  const double seconds = std::chrono::duration<double>(Clock::now() - from).count();
  std::ofstream acks(argv[7]);
  for (const std::string& line : totals.acks) acks << line << "\n";
  const std::size_t actions = totals.action_ms.size();
  std::printf("%s\n", json{{"learners", learners.size()},
                           {"begun", totals.learners_begun},
                           {"actions", actions},
                           {"actions_per_s", static_cast<double>(actions) / seconds},
                           {"p50_ms", quantile(totals.action_ms, 0.5)},
                           {"p99_ms", quantile(totals.action_ms, 0.99)},
                           {"max_ms", quantile(totals.action_ms, 1.0)},
                           {"start_p99_ms", quantile(totals.start_ms, 0.99)},
                           {"refused", totals.refused},
                           {"broken", totals.broken}}
                          .dump()
                          .c_str());
  return 0;
}
