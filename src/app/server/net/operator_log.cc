#include "app/server/net/operator_log.h"

#include <array>
#include <ctime>
#include <iostream>
#include <nlohmann/json.hpp>

namespace phren::app::server {
namespace {

constexpr std::chrono::seconds kSameWordEvery{10};

std::string now_text() {
  const std::time_t now = std::time(nullptr);
  std::tm parts{};
  gmtime_r(&now, &parts);
  std::array<char, 32> text{};
  std::strftime(text.data(), text.size(), "%Y-%m-%dT%H:%M:%SZ", &parts);
  return text.data();
}

constexpr std::string_view word_of(Level level) {
  return level == Level::kInfo ? "info" : level == Level::kWarning ? "warning" : "error";
}

}  // namespace

OperatorLog::OperatorLog(Write write) : write_(std::move(write)) {
  if (!write_) write_ = [](const std::string& line) { std::cerr << line << std::flush; };
}

void OperatorLog::tell(Level level, std::string_view what, std::string_view about,
                       std::string_view to_do) {
  const std::lock_guard lock(mutex_);
  const auto now = std::chrono::steady_clock::now();
  auto found = told_.find(what);
  if (found != told_.end() && level != Level::kInfo && now - found->second.at < kSameWordEvery) {
    ++found->second.unsaid;
    return;
  }
  const int times = found == told_.end() ? 1 : found->second.unsaid + 1;
  told_[std::string(what)] = {now, 0};
  nlohmann::ordered_json line{{"at", now_text()}, {"level", word_of(level)}, {"what", what}};
  if (!about.empty()) line["about"] = about;
  if (!to_do.empty()) line["do"] = to_do;
  if (times > 1) line["times"] = times;
  write_(line.dump(-1, ' ', false, nlohmann::json::error_handler_t::replace) + "\n");
}

}  // namespace phren::app::server
