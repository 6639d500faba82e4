#include "app/server/net/http.h"

#include <nlohmann/json.hpp>
#include <utility>

#include "app/server/net/query.h"
#include "base/utf8.h"

namespace phren::app::server {
namespace {

int hex_value(char c) {
  if (c >= '0' && c <= '9') return c - '0';
  if (c >= 'a' && c <= 'f') return c - 'a' + 10;
  if (c >= 'A' && c <= 'F') return c - 'A' + 10;
  return -1;
}

int status_of(ErrorCode code) {
  switch (code) {
    case ErrorCode::kInvalidArgument:
      return 422;
    case ErrorCode::kNotFound:
      return 404;
    case ErrorCode::kMalformed:
      return 400;
    case ErrorCode::kUnsupported:
      return 415;
    case ErrorCode::kConflict:
      return 409;
    case ErrorCode::kTooMany:
      return 429;
    case ErrorCode::kIo:  // the store or the machine cannot do it now; the same may succeed later
      return 503;
  }
  return 500;
}

// Escapes undone; a bad one is kept as it stands.
std::string decode_query(std::string_view raw) {
  std::string text;
  for (std::size_t i = 0; i < raw.size(); ++i) {
    const int high = raw[i] == '%' && i + 2 < raw.size() ? hex_value(raw[i + 1]) : -1;
    const int low = high >= 0 ? hex_value(raw[i + 2]) : -1;
    if (low >= 0) {
      text.push_back(static_cast<char>(high * 16 + low));
      i += 2;
    } else {
      text.push_back(raw[i] == '+' ? ' ' : raw[i]);
    }
  }
  return text;
}

// The part after "NAME=" among parts that `separator` divides.
std::string_view find_part(std::string_view all, char separator, std::string_view name) {
  while (!all.empty()) {
    const std::size_t end = all.find(separator);
    std::string_view part = all.substr(0, end);
    all = end == std::string_view::npos ? std::string_view() : all.substr(end + 1);
    while (part.starts_with(' ')) part.remove_prefix(1);
    if (part.size() > name.size() && part.starts_with(name) && part[name.size()] == '=') {
      return part.substr(name.size() + 1);
    }
  }
  return {};
}

}  // namespace

Status check_query(std::string_view raw) {
  const std::string text = decode_query(raw);
  if (is_utf8(text) && text.find('\0') == std::string::npos) return {};
  return fail(ErrorCode::kMalformed, "what follows '?' in the address is not UTF-8 text");
}

std::string query_value(const Request& request, std::string_view name) {
  return decode_query(find_part(request.query, '&', name));
}

std::string cookie_value(const Request& request, std::string_view name) {
  return std::string(find_part(request.cookie, ';', name));
}

std::string_view session_cookie_name(bool is_secure) {
  return is_secure ? "__Host-phren_session" : "phren_session";
}

std::string session_token(const Request& request) {
  return cookie_value(request, session_cookie_name(request.is_secure));
}

Response json_response(std::string body, int status) {
  Response response;
  response.status = status;
  response.content_type = "application/json";
  response.body = std::move(body);
  response.headers.push_back({"Cache-Control", "no-cache"});
  return response;
}

Response problem(int status, std::string_view title, std::string_view detail) {
  const nlohmann::json body = {{"title", title}, {"status", status}, {"detail", detail}};
  // A message may quote what was sent, and what was sent need not be UTF-8.
  Response response =
      json_response(body.dump(-1, ' ', false, nlohmann::json::error_handler_t::replace), status);
  response.content_type = "application/problem+json";
  return response;
}

Response problem(const Error& error) {
  Response response = problem(status_of(error.code), to_string(error.code), error.message);
  if (response.status == 503) response.headers.push_back({"Retry-After", "2"});
  return response;
}

Result<std::string> decode_path(std::string_view raw) {
  std::string path;
  for (std::size_t i = 0; i < raw.size(); ++i) {
    char c = raw[i];
    if (c == '%') {
      const int high = i + 2 < raw.size() ? hex_value(raw[i + 1]) : -1;
      const int low = high >= 0 ? hex_value(raw[i + 2]) : -1;
      if (high < 0 || low < 0) {
        return fail(ErrorCode::kMalformed,
                    "the address has a '%' without two hexadecimal digits after it");
      }
      c = static_cast<char>(high * 16 + low);
      i += 2;
    }
    if (c == '\0') return fail(ErrorCode::kMalformed, "the address contains a zero byte");
    path.push_back(c);
  }
  if (!is_utf8(path)) return fail(ErrorCode::kMalformed, "the address is not UTF-8");
  if (path.empty() || path.front() != '/') {
    return fail(ErrorCode::kMalformed, "the address must begin with '/'");
  }
  if (path.find("/..") != std::string::npos) {
    return fail(ErrorCode::kMalformed, "the address must not contain '..'");
  }
  return path;
}

const std::vector<Header>& security_headers() {
  // wasm-unsafe-eval lets the engine be compiled; it does not allow eval of script.
  static const std::vector<Header> headers = {
      {"Content-Security-Policy",
       "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; style-src 'self'; "
       "font-src 'self'; img-src 'self' blob: data:; media-src 'self' blob:; connect-src 'self'; "
       "worker-src 'self'; "
       "manifest-src 'self'; form-action 'none'; base-uri 'none'; frame-ancestors 'none'"},
      {"X-Content-Type-Options", "nosniff"},
      {"X-Frame-Options", "DENY"},
      {"Referrer-Policy", "no-referrer"},
      {"Cross-Origin-Opener-Policy", "same-origin"},
      {"Cross-Origin-Embedder-Policy", "require-corp"},
      {"Cross-Origin-Resource-Policy", "same-origin"},
      {"Permissions-Policy", "microphone=(self), camera=(), geolocation=(), payment=(), usb=()"}};
  return headers;
}

bool is_cross_site(const Request& request) {
  if (request.origin.empty()) return false;
  if (!request.own_origin.empty() && request.origin == request.own_origin) return false;
  const std::size_t scheme_end = request.origin.find("://");
  return scheme_end == std::string::npos || request.origin.substr(scheme_end + 3) != request.host;
}

}  // namespace phren::app::server
