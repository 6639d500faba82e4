// The table that says which address does what; the OpenAPI file is tested against it.
//
// Threads: a RouteTable does not change after it is made; its handlers may run on any thread.
#pragma once

#include <cstddef>
#include <functional>
#include <map>
#include <string>
#include <vector>

#include "app/server/http.h"

namespace phren::app::server {

// Values of the {names} in a pattern.
using PathValues = std::map<std::string, std::string, std::less<>>;
using Handler = std::function<Response(const Request&, const PathValues&)>;

inline constexpr std::size_t kMaxJsonBody_bytes = 256u << 10;
inline constexpr std::size_t kMaxRecordingBody_bytes = 64u << 20;

struct Route {
  std::string method;
  std::string pattern;    // "/api/v1/cases/{id}"
  std::string body_type;  // content type of what is sent; empty when nothing is
  std::size_t max_body_bytes = 0;
  bool is_slow = false;  // runs beside the network thread, one at a time
  Handler handler;
};

class RouteTable {
 public:
  void add(Route route) { routes_.push_back(std::move(route)); }
  const std::vector<Route>& all() const { return routes_; }

  struct Match {
    const Route* route = nullptr;  // null: no such address, or not with this method
    PathValues values;
    std::string allowed_methods;  // of the address, when only the method is wrong
  };
  Match find(std::string_view method, std::string_view path) const;
  // Finds the route and runs it; 404, 405, 413 and 415 as problems.
  Response answer(const Request& request) const;

 private:
  std::vector<Route> routes_;
};

}  // namespace phren::app::server
