// One request and its answer, free of sockets, so that every answer can be tested as a value.
//
// Errors:  problem() is the one shape of every error answer: RFC 9457 problem details.
// Threads: plain values.
#pragma once

#include <atomic>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.h"

namespace phren::app::server {

struct Request {
  std::string method;
  std::string path;   // decoded, without the query
  std::string query;  // as sent, without '?'
  std::string host;
  std::string origin;
  std::string content_type;
  std::string accept_encoding;
  std::string if_none_match;
  std::string body;
  std::string cookie;      // the whole header
  std::string csrf;        // X-Phren-CSRF
  std::string remote;      // network address of who asks, behind trusted proxies (client.h)
  bool is_secure = false;  // came over TLS, to us or to a trusted proxy
  // True once nobody waits for the answer any more: long work asks now and then, and ends early.
  std::shared_ptr<const std::atomic<bool>> is_abandoned = {};
  std::string own_origin;  // of --public-url; empty: the Host header says how we are reached
};

struct Header {
  std::string name;
  std::string value;
};

struct Response {
  int status = 200;
  std::string content_type;
  std::string body;
  std::string_view fixed_body;  // used instead of `body` when set; lives as long as the program
  std::vector<Header> headers;
  // Of a refusal, for the audit log (refusals.h); never sent.
  std::string actor_id = {}, class_id = {};
  bool is_noted = false;
  bool has_session = false;  // the cookie of the request is of a session; not sent

  std::string_view bytes() const { return fixed_body.data() != nullptr ? fixed_body : body; }
};

Response json_response(std::string body, int status = 200);
// `detail` is for a person: what happened and what would be right.
Response problem(int status, std::string_view title, std::string_view detail);
Response problem(const Error& error);

// "%2F" and friends; kMalformed for a bad escape, a NUL, or a path that climbs ("..").
Result<std::string> decode_path(std::string_view raw);

// Value of `name` in "a=1&b=2", decoded; empty when it is not there.
std::string query_value(const Request& request, std::string_view name);
// Value of a cookie; empty when it was not sent.
std::string cookie_value(const Request& request, std::string_view name);

// The session's secret; empty when none was sent. Over TLS its cookie has the prefix that keeps other
// hosts and plain connections from setting it (draft-ietf-httpbis-rfc6265bis 4.1.3.2).
std::string session_token(const Request& request);
std::string_view session_cookie_name(bool is_secure);

// Headers every answer carries, pages and data alike.
const std::vector<Header>& security_headers();

// A page of another origin may not post to us: browsers always name the origin of such a request.
bool is_cross_site(const Request& request);

}  // namespace phren::app::server
