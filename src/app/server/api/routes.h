// The table that says which address does what; the OpenAPI file is tested against it.
//
// Threads: a RouteTable does not change after it is made; its handlers may run on any thread, each
// on
//          the lane (lanes.h) that its route names.
#pragma once

#include <cstddef>
#include <functional>
#include <map>
#include <memory>
#include <string>
#include <vector>

#include "app/server/net/http.h"
#include "app/server/net/socket.h"

namespace phren::app::server {

// Values of the {names} in a pattern.
using PathValues = std::map<std::string, std::string, std::less<>>;
using Handler = std::function<Response(const Request&, const PathValues&)>;
struct Desk;       // the store as one thread has it: desk.h
class RefusalLog;  // refusals.h
using DeskHandler = std::function<Response(Desk&, const Request&, const PathValues&)>;

// Where a handler runs.
enum class Lane {
  kNetwork,  // at once, on the network thread: answers that are ready
  kStore,    // short work with the store; many share one commit
  kWork,     // longer work with the store: passwords, reports
  kSlow,     // long work without the store: measuring, rendering
};

inline constexpr std::size_t kMaxJsonBody_bytes = 256u << 10;
inline constexpr std::size_t kMaxTextBody_bytes = 1u << 20;
inline constexpr std::size_t kMaxRecordingBody_bytes = 64u << 20;

struct Route {
  std::string method;
  std::string pattern;    // "/api/v1/cases/{id}"
  std::string body_type;  // content type of what is sent; empty when nothing is
  std::size_t max_body_bytes = 0;
  Lane lane = Lane::kNetwork;
  Handler handler;  // at least one of the two; this one where there is no store
  DeskHandler desk_handler = {};
};

class RouteTable {
 public:
  void add(Route route) { routes_.push_back(std::move(route)); }
  const std::vector<Route>& all() const { return routes_; }
  // An address that takes WebSockets.
  void add_socket(std::string path, OpenSocket open) {
    sockets_[std::move(path)] = std::move(open);
  }
  const OpenSocket* find_socket(const std::string& path) const {
    const auto found = sockets_.find(path);
    return found == sockets_.end() ? nullptr : &found->second;
  }
  // Where refusals are written down; null: nowhere.
  void set_refusals(std::shared_ptr<RefusalLog> log) { refusals_ = std::move(log); }
  RefusalLog* refusals() const { return refusals_.get(); }

  struct Match {
    const Route* route = nullptr;  // null: no such address, or not with this method
    PathValues values;
    std::string allowed_methods;  // of the address, when only the method is wrong
  };
  Match find(std::string_view method, std::string_view path) const;
  // Finds the route and runs it; 404, 405, 413 and 415 as problems.
  // Without a desk, what needs one is 503. With one, a refusal is written down before it is told.
  Response answer(const Request& request, Desk* desk = nullptr) const;

 private:
  Response answer_unnoted(const Request& request, Desk* desk) const;
  std::shared_ptr<RefusalLog> refusals_;
  std::vector<Route> routes_;
  std::map<std::string, OpenSocket> sockets_;
};

}  // namespace phren::app::server
