// How much of what all clients share one of them may hold: bytes of bodies, places in a lane.
//
// Errors:  a share that is used up is `false`; nothing is then taken.
// Threads: touched on the network thread only.
#pragma once

#include <cstddef>
#include <map>
#include <set>
#include <string>

namespace phren::app::server {

// An amount of which every name may hold at most a part.
class Share {
 public:
  Share(std::size_t most, std::size_t most_of_one) : most_(most), most_of_one_(most_of_one) {}
  bool take(const std::string& name, std::size_t amount);
  void give_back(const std::string& name, std::size_t amount);

 private:
  std::size_t most_, most_of_one_, used_ = 0;
  std::map<std::string, std::size_t> held_;  // none is 0
};

// Cookies that a handler has found to be of a session. Any client can make up others, so only
// these have places of their own; forgetting one costs it no more than those until its next
// request.
class KnownSessions {
 public:
  void add(const std::string& token);
  void remove(const std::string& token) { tokens_.erase(token); }
  bool has(const std::string& token) const { return tokens_.count(token) > 0; }

 private:
  static constexpr std::size_t kMost = 10'000;
  std::set<std::string> tokens_;
};

struct PlaceLimits {
  std::size_t session;   // of one known session: as many as a browser asks for at once
  std::size_t stranger;  // of all of one address who show none (a class that logs in)
  std::size_t address;   // of one address, with or without session: leaves places for others
};

// Places in one lane.
class Places {
 public:
  struct Place {
    Places* of = nullptr;  // null: none is held
    std::string token, address;
  };
  explicit Places(const PlaceLimits& limits);
  // `token`: of a known session; empty for everyone else.
  bool take(const std::string& token, const std::string& address, Place& place);
  static void give_back(Place& place);

 private:
  Share sessions_, strangers_, addresses_;
};

}  // namespace phren::app::server
