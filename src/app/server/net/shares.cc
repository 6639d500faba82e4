#include "app/server/net/shares.h"

#include <limits>

namespace phren::app::server {
namespace {

constexpr std::size_t kNoLimit = std::numeric_limits<std::size_t>::max();

}  // namespace

bool Share::take(const std::string& name, std::size_t amount) {
  const auto found = held_.find(name);
  const std::size_t held = found == held_.end() ? 0 : found->second;
  if (amount > most_ - used_ || held > most_of_one_ || amount > most_of_one_ - held) return false;
  if (amount == 0) return true;
  used_ += amount;
  held_[name] = held + amount;
  return true;
}

void Share::give_back(const std::string& name, std::size_t amount) {
  const auto found = held_.find(name);
  if (found == held_.end()) return;
  used_ -= amount;
  found->second -= amount;
  if (found->second == 0) held_.erase(found);
}

void KnownSessions::add(const std::string& token) {
  if (tokens_.size() >= kMost && !has(token)) tokens_.clear();
  tokens_.insert(token);
}

Places::Places(const PlaceLimits& limits)
    : sessions_(kNoLimit, limits.session),
      strangers_(kNoLimit, limits.stranger),
      addresses_(kNoLimit, limits.address) {}

bool Places::take(const std::string& token, const std::string& address, Place& place) {
  Share& own = token.empty() ? strangers_ : sessions_;
  const std::string& name = token.empty() ? address : token;
  if (!own.take(name, 1)) return false;
  if (!addresses_.take(address, 1)) {
    own.give_back(name, 1);
    return false;
  }
  place = {this, token, address};
  return true;
}

void Places::give_back(Place& place) {
  if (place.of == nullptr) return;
  const bool is_stranger = place.token.empty();
  (is_stranger ? place.of->strangers_ : place.of->sessions_)
      .give_back(is_stranger ? place.address : place.token, 1);
  place.of->addresses_.give_back(place.address, 1);
  place = {};
}

}  // namespace phren::app::server
