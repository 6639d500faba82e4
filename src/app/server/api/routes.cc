#include "app/server/api/routes.h"

#include <fmt/format.h>

#include <optional>

#include "app/server/net/refusals.h"

namespace phren::app::server {
namespace {

std::string_view next_part(std::string_view& rest) {
  rest.remove_prefix(1);  // the slash
  const std::size_t end = rest.find('/');
  const std::string_view part = rest.substr(0, end);
  rest = end == std::string_view::npos ? std::string_view() : rest.substr(end);
  return part;
}

std::optional<PathValues> match_pattern(std::string_view pattern, std::string_view path) {
  PathValues values;
  while (!pattern.empty() && !path.empty()) {
    const std::string_view wanted = next_part(pattern);
    const std::string_view given = next_part(path);
    if (wanted.starts_with('{')) {
      if (given.empty()) return std::nullopt;
      values.emplace(wanted.substr(1, wanted.size() - 2), given);
    } else if (wanted != given) {
      return std::nullopt;
    }
  }
  if (!pattern.empty() || !path.empty()) return std::nullopt;
  return values;
}

}  // namespace

RouteTable::Match RouteTable::find(std::string_view method, std::string_view path) const {
  Match match;
  for (const Route& route : routes_) {
    auto values = match_pattern(route.pattern, path);
    if (!values) continue;
    if (route.method == method || (method == "HEAD" && route.method == "GET")) {
      return {&route, std::move(*values), {}};
    }
    if (!match.allowed_methods.empty()) match.allowed_methods += ", ";
    match.allowed_methods += route.method;
  }
  return match;
}

Response RouteTable::answer(const Request& request, Desk* desk) const {
  Response response = answer_unnoted(request, desk);
  if (desk != nullptr && refusals_) refusals_->note(*desk, request, response);
  return response;
}

Response RouteTable::answer_unnoted(const Request& request, Desk* desk) const {
  const Match match = find(request.method, request.path);
  if (match.route == nullptr) {
    if (match.allowed_methods.empty()) {
      return problem(404, "not found", fmt::format("there is nothing at {}", request.path));
    }
    Response refused = problem(405, "method not allowed",
                               fmt::format("{} takes {}", request.path, match.allowed_methods));
    refused.headers.push_back({"Allow", match.allowed_methods});
    return refused;
  }
  const Route& route = *match.route;
  if (request.body.size() > route.max_body_bytes) {
    return problem(413, "too large",
                   fmt::format("{} takes at most {} bytes; {} were sent", request.path,
                               route.max_body_bytes, request.body.size()));
  }
  if (route.body_type.starts_with("text/") && request.body.find('\0') != std::string::npos) {
    return problem(400, "malformed", "text must not contain the character NUL");
  }
  if (!route.body_type.empty() && !request.content_type.starts_with(route.body_type)) {
    return problem(415, "wrong kind of content",
                   fmt::format("{} takes {}; '{}' was sent", request.path, route.body_type,
                               request.content_type));
  }
  const bool needs_no_desk = !route.desk_handler || (desk == nullptr && route.handler);
  if (needs_no_desk) return route.handler(request, match.values);
  if (desk == nullptr) return problem(503, "no store", "this server keeps no records");
  return route.desk_handler(*desk, request, match.values);
}

}  // namespace phren::app::server
