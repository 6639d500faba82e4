// What a live test of rounds is made of: `phren serve` as a process, and a device that runs the native engine behind
// a WebSocket, whose messages can be lost and late.
#pragma once

#include <gtest/gtest.h>
#include <signal.h>
#include <spawn.h>
#include <sys/wait.h>

#include <atomic>
#include <barrier>
#include <boost/asio/connect.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/beast/core.hpp>
#include <boost/beast/http.hpp>
#include <boost/beast/websocket.hpp>
#include <cstdlib>
#include <deque>
#include <filesystem>
#include <fstream>
#include <functional>
#include <nlohmann/json.hpp>
#include <random>
#include <thread>

#include "base/files.h"
#include "bedside/deed_json.h"
#include "bedside/log_text.h"
#include "bedside/replay.h"
#include "bedside/round_playout.h"
#include "teaching/library.h"

extern char** environ;

namespace phren::bedside {

namespace asio = boost::asio;
namespace beast = boost::beast;
namespace http = beast::http;
namespace websocket = beast::websocket;
using asio::ip::tcp;
using nlohmann::json;
using Json = nlohmann::ordered_json;
using Clock = std::chrono::steady_clock;
using std::chrono::milliseconds;

inline double seconds_since(Clock::time_point then) {
  return std::chrono::duration<double>(Clock::now() - then).count();
}

// ---- the server ----

// As it was built, or where PHREN_PROGRAM says: a test that was carried to another machine.
inline std::string server_program() {
  const char* given = std::getenv("PHREN_PROGRAM");
  return given != nullptr ? given : PHREN_PROGRAM;
}

class ServerProcess {
 public:
  explicit ServerProcess(std::filesystem::path folder) : folder_(std::move(folder)) {
    // A port that was free a moment ago; the server takes it again after it is killed.
    asio::io_context io;
    tcp::acceptor free(io, {asio::ip::make_address("127.0.0.1"), 0});
    port_ = free.local_endpoint().port();
  }
  ~ServerProcess() { kill_it(SIGTERM); }
  void start() {
    const std::string out = (folder_ / "out").string(),
                      listen = "127.0.0.1:" + std::to_string(port_),
                      records = (folder_ / "records").string();
    std::filesystem::remove(out);
    posix_spawn_file_actions_t files;
    posix_spawn_file_actions_init(&files);
    posix_spawn_file_actions_addopen(&files, 1, out.c_str(), O_CREAT | O_WRONLY, 0600);
    const std::string program = server_program();
    const char* const words[] = {program.c_str(), "serve",         "--listen", listen.c_str(),
                                 "--records",     records.c_str(), "--create", nullptr};
    ASSERT_EQ(
        posix_spawn(&pid_, program.c_str(), &files, nullptr, const_cast<char**>(words), environ), 0)
        << program;
    posix_spawn_file_actions_destroy(&files);
    for (int i = 0; i < 6000 && key_of(out).empty(); ++i)
      std::this_thread::sleep_for(milliseconds(10));
    key_ = key_of(out);
    ASSERT_FALSE(key_.empty()) << "the server did not start";
  }
  void kill_it(int how) {
    if (pid_ <= 0) return;
    ::kill(pid_, how);
    waitpid(pid_, nullptr, 0);
    pid_ = -1;
  }
  double cpu_s() const {
    std::ifstream file("/proc/" + std::to_string(pid_) + "/stat");
    std::string word;
    double ticks = 0.0;
    for (int i = 1; i <= 15 && file >> word; ++i) {
      if (i >= 14) ticks += std::stod(word);
    }
    return ticks / static_cast<double>(sysconf(_SC_CLK_TCK));
  }
  std::uint16_t port() const { return port_; }

  json ask(const std::string& method, const std::string& path, const json& body = nullptr) {
    const std::string text = ask_text(method, path, body);
    return json::parse(text, nullptr, false);
  }
  std::string ask_text(const std::string& method, const std::string& path,
                       const json& body = nullptr) {
    asio::io_context io;
    tcp::socket socket(io);
    socket.connect({asio::ip::make_address("127.0.0.1"), port_});
    http::request<http::string_body> request(http::string_to_verb(method), "/api/v1/" + path, 11);
    request.set(http::field::host, "127.0.0.1:" + std::to_string(port_));
    request.set(http::field::cookie, "phren_local=" + key_);
    if (!csrf_.empty()) request.set("X-Phren-CSRF", csrf_);
    if (!body.is_null()) {
      request.set(http::field::content_type, "application/json");
      request.body() = body.dump();
    }
    request.prepare_payload();
    http::write(socket, request);
    beast::flat_buffer buffer;
    http::response_parser<http::string_body> parser;
    parser.body_limit(256u << 20);
    http::read(socket, buffer, parser);
    return parser.get().body();
  }
  void log_in() { csrf_ = ask("GET", "session").value("csrf", ""); }

 private:
  static std::string key_of(const std::string& out) {
    std::ifstream file(out);
    std::stringstream all;
    all << file.rdbuf();
    const std::string text = all.str(), mark = "/session/local/";
    const auto at = text.find(mark);
    if (at == std::string::npos) return {};
    const auto end = text.find_first_not_of("0123456789abcdef", at + mark.size());
    return end == std::string::npos ? std::string()
                                    : text.substr(at + mark.size(), end - at - mark.size());
  }
  std::filesystem::path folder_;
  std::uint16_t port_ = 0;
  pid_t pid_ = -1;
  std::string key_, csrf_;
};

inline std::string bytes_of(const std::string& base64) {
  std::string out;
  std::uint32_t bits = 0;
  int count = 0;
  for (const char c : base64) {
    const std::string_view signs =
        "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    const auto value = signs.find(c);
    if (value == std::string_view::npos) break;
    bits = (bits << 6) | static_cast<std::uint32_t>(value);
    if (count += 6; count >= 8) {
      count -= 8;
      out.push_back(static_cast<char>((bits >> count) & 0xffU));
    }
  }
  return out;
}

inline std::uint64_t sum_of(std::span<const float> sound) {
  std::uint64_t sum = 14695981039346656037ULL;
  for (const float one : sound) {
    std::uint32_t bits = 0;
    std::memcpy(&bits, &one, sizeof bits);
    sum = (sum ^ bits) * 1099511628211ULL;
  }
  return sum;
}

// Does one thing for each of many, on all cores: sixty loudspeakers ask at the same time.
class Hands {
 public:
  Hands() : num_(std::max(1U, std::thread::hardware_concurrency())), gate_(num_) {
    for (unsigned i = 1; i < num_; ++i) threads_.emplace_back([this] { work(); });
  }
  ~Hands() {
    is_over_ = true;
    gate_.arrive_and_wait();
  }
  Hands(const Hands&) = delete;
  Hands& operator=(const Hands&) = delete;
  void for_each(std::size_t count, const std::function<void(std::size_t)>& what) {
    count_ = count;
    what_ = &what;
    next_ = 0;
    gate_.arrive_and_wait();
    take();
    gate_.arrive_and_wait();
  }

 private:
  void work() {
    for (;;) {
      gate_.arrive_and_wait();
      if (is_over_) return;
      take();
      gate_.arrive_and_wait();
    }
  }
  void take() {
    for (std::size_t i = next_++; i < count_; i = next_++) (*what_)(i);
  }
  unsigned num_;
  std::barrier<> gate_;
  std::atomic<bool> is_over_ = false;
  std::atomic<std::size_t> next_ = 0;
  std::size_t count_ = 0;
  const std::function<void(std::size_t)>* what_ = nullptr;
  std::vector<std::jthread> threads_;
};

// ---- a device ----

struct Trouble {
  double lost = 0.0;     // share of messages that never arrive
  int most_late_ms = 0;  // the others are late by up to this, in order
};

class Device {
 public:
  Device(asio::io_context& io, ServerProcess& server, std::string token, double rate_hz,
         const Trouble& trouble, unsigned seed)
      : io_(io),
        server_(server),
        token_(std::move(token)),
        rate_hz_(rate_hz),
        trouble_(trouble),
        random_(seed),
        timer_(io) {
    connect();
  }

  bool is_ready() const { return device_.has_value(); }
  bool is_playing() const { return playout_.is_playing(); }
  RoundDevice& device() { return *device_; }
  const std::string& person() const { return person_; }
  std::size_t num_lines() const { return shared_.size(); }
  std::size_t num_unsent() const { return unsent_.size(); }
  const std::vector<double>& latencies_s() const { return latencies_s_; }
  const std::map<std::pair<int, std::int64_t>, std::uint64_t>& sums() const { return sums_; }
  const std::vector<std::uint64_t>& heard(int take) { return heard_[take]; }
  int num_gaps() const { return num_gaps_; }
  const std::string& texts() const { return texts_; }

  void put(const Place& place) {
    place_ = place;
    own(place);
  }
  // A loudspeaker asks for what belongs to the time that has passed. Touches nothing but this device.
  void render(Clock::time_point now) {
    is_rendered_ = false;
    if (!device_) return;
    if (played_until_ == Clock::time_point{}) played_until_ = now;
    const auto due = static_cast<std::size_t>(
        std::chrono::duration<double>(now - played_until_).count() * rate_hz_);
    if (due == 0) return;
    played_until_ += std::chrono::duration_cast<Clock::duration>(
        std::chrono::duration<double>(static_cast<double>(due) / rate_hz_));
    out_.assign(std::min<std::size_t>(due, static_cast<std::size_t>(rate_hz_)), 0.0F);
    playout_.render(*device_, out_);
    is_rendered_ = true;
  }
  // What came of it is told.
  void tell(Clock::time_point now) {
    if (!is_rendered_) return;
    if (device_->take_taken_up()) {
      own(TakeUp{});
      if (place_) own(*place_);
    }
    if (const auto sum = device_->take_sum()) {
      sums_[{sum->take, sum->step}] = sum->sum;
      say({{"sum", {{"take", sum->take}, {"step", sum->step}, {"sum", std::to_string(sum->sum)}}}});
    }
    for (auto one = awaited_.begin(); one != awaited_.end();) {
      if (one->take != device_->take() || device_->step() <= one->step) {
        one = one->take == device_->take() ? std::next(one) : awaited_.erase(one);
        continue;
      }
      latencies_s_.push_back(std::chrono::duration<double>(now - one->sent).count());
      one = awaited_.erase(one);
    }
  }
  // Of a desk; noted so that everybody measures when it is heard.
  void deed(const Deed& deed, const std::string& id) {
    Json line{{"id", id}, {"do", name_of(deed)}};
    write_deed(deed, line);
    say_text(Json{{"do", line}}.dump());
  }
  void say(const json& message) { say_text(message.dump()); }

  static inline std::map<std::string, Clock::time_point> sent_at;

 private:
  struct Awaited {
    int take;
    std::int64_t step;
    Clock::time_point sent;
  };
  using Stream = websocket::stream<beast::tcp_stream>;

  void connect() {
    stream_ = std::make_shared<Stream>(io_);
    is_up_ = false;
    writing_.clear();
    const auto stream = stream_;
    beast::get_lowest_layer(*stream).async_connect(
        tcp::endpoint(asio::ip::make_address("127.0.0.1"), server_.port()),
        [this, stream](beast::error_code error) {
          if (error) return later();
          stream->async_handshake(
              "127.0.0.1:" + std::to_string(server_.port()), "/api/v1/rounds/live",
              [this, stream](beast::error_code failed) {
                if (failed) return later();
                is_open_ = true;
                say({{"hello", {{"token", token_}, {"page", 1}, {"have", shared_.size()}}}});
                read(stream);
              });
        });
  }
  void later() {
    is_open_ = is_up_ = false;
    timer_.expires_after(milliseconds(100));
    timer_.async_wait([this](beast::error_code error) {
      if (!error) connect();
    });
  }
  void read(const std::shared_ptr<Stream>& stream) {
    auto buffer = std::make_shared<beast::flat_buffer>();
    stream->async_read(*buffer, [this, stream, buffer](beast::error_code error, std::size_t) {
      if (error) return later();
      const std::string text = beast::buffers_to_string(buffer->data());
      arrive(text);
      read(stream);
    });
  }
  // Some messages are lost on the way, the others late.
  void arrive(const std::string& text) {
    const bool is_welcome = text.find("{\"welcome\"") == 0;
    const double chance = std::uniform_real_distribution<>(0.0, 1.0)(random_);
    if (!is_welcome && chance < trouble_.lost) return;
    if (trouble_.most_late_ms == 0) return hear(text);
    auto due = Clock::now() +
               milliseconds(std::uniform_int_distribution<>(0, trouble_.most_late_ms)(random_));
    due = std::max(due, last_due_);
    last_due_ = due;
    auto timer = std::make_shared<asio::steady_timer>(io_, due);
    timer->async_wait([this, timer, text](beast::error_code) { hear(text); });
  }

  void say_text(std::string text) {
    if (!is_open_) return;
    writing_.push_back(std::move(text));
    if (writing_.size() == 1) write();
  }
  void write() {
    const auto stream = stream_;
    const auto text = std::make_shared<std::string>(writing_.front());
    stream->async_write(asio::buffer(*text),
                        [this, stream, text](beast::error_code error, std::size_t) {
                          if (error || stream != stream_ || writing_.empty()) return;
                          writing_.pop_front();
                          if (!writing_.empty()) write();
                        });
  }

  void hear(const std::string& text) {
    if (!is_desk_) texts_ += text + "\n";
    const json message = json::parse(text);
    if (message.contains("welcome")) return greet(message["welcome"]);
    if (message.contains("lines")) return hear_lines(message["lines"]);
    if (message.contains("ack")) {
      const auto n = message["ack"].get<std::int64_t>();
      while (!unsent_.empty() && unsent_.front()["n"].get<std::int64_t>() <= n) unsent_.pop_front();
    }
    if (message.contains("refused")) ADD_FAILURE() << person_ << ": " << text;
    if (message.contains("over")) ADD_FAILURE() << person_ << ": " << text;
    if (message.contains("live_again")) ADD_FAILURE() << person_ << " lived another body";
    if (!message.contains("beat")) return;
    const json& beat = message["beat"];
    if (device_) device_->allow(beat[0], beat[1], beat[2]);
    if (beat[2].get<std::int64_t>() > static_cast<std::int64_t>(shared_.size())) ask_for_missing();
  }
  void greet(const json& welcome) {
    is_up_ = true;
    person_ = welcome["you"]["id"];
    is_desk_ = welcome["you"]["role"] == "desk";
    if (!device_) {
      own_n_ = welcome["own"];
      auto made =
          RoundDevice::make(unpack(bytes_of(welcome["packet"])).value(),
                            Seed{std::stoull(welcome["seed"].get<std::string>())}, rate_hz_);
      ASSERT_TRUE(made) << made.error().message;
      device_.emplace(std::move(*made));
      device_->on_step([this](int take, std::int64_t step, std::span<const float> sound) {
        auto& list = heard_[take];
        if (list.size() <= static_cast<std::size_t>(step))
          list.resize(static_cast<std::size_t>(step) + 1, 0);
        list[static_cast<std::size_t>(step)] = sum_of(sound);
      });
    }
    Json all = Json::array();
    for (const Json& line : unsent_) all.push_back(line);
    if (!all.empty()) say_text(Json{{"own", all}}.dump());
  }
  void hear_lines(const json& lines) {
    for (const json& one : lines) {
      const auto n = one["n"].get<std::size_t>();
      if (n <= shared_.size()) continue;
      if (n > shared_.size() + 1) return ask_for_missing();
      const auto line = parse_round_line(one.dump());
      ASSERT_TRUE(line) << line.error().message;
      const auto heard = device_->hear(*line);
      ASSERT_TRUE(heard) << heard.error().message;
      shared_.push_back(one);
      const auto sent = sent_at.find(one.value("id", ""));
      if (sent != sent_at.end()) awaited_.push_back({line->take, line->step, sent->second});
    }
  }
  void ask_for_missing() {
    ++num_gaps_;
    say({{"missing", shared_.size() + 1}});
  }
  void own(const Deed& deed) {
    const RoundLine made = device_->own(deed);
    Json line{{"n", ++own_n_}, {"take", made.take}, {"step", made.step}, {"do", name_of(deed)}};
    write_deed(deed, line);
    unsent_.push_back(line);
    if (is_up_) say_text(Json{{"own", Json::array({line})}}.dump());
  }

  asio::io_context& io_;
  ServerProcess& server_;
  std::string token_, person_;
  double rate_hz_;
  Trouble trouble_;
  std::mt19937 random_;
  asio::steady_timer timer_;
  std::shared_ptr<Stream> stream_;
  std::deque<std::string> writing_;
  bool is_open_ = false, is_up_ = false, is_desk_ = false;
  std::optional<RoundDevice> device_;
  RoundPlayout playout_;
  std::optional<Place> place_;
  std::vector<json> shared_;
  std::deque<Json> unsent_;
  std::int64_t own_n_ = 0;
  std::vector<float> out_;
  Clock::time_point played_until_{}, last_due_{};
  bool is_rendered_ = false;
  std::vector<Awaited> awaited_;
  std::vector<double> latencies_s_;
  std::map<std::pair<int, std::int64_t>, std::uint64_t> sums_;
  std::map<int, std::vector<std::uint64_t>> heard_;
  int num_gaps_ = 0;
  std::string texts_;
};

}  // namespace phren::bedside
