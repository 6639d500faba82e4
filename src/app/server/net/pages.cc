#include "app/server/net/pages.h"

#include <algorithm>
#include <string>

namespace phren::app::server {
namespace {

// True when the Accept-Encoding header names `coding` and does not give it weight zero.
bool accepts(std::string_view header, std::string_view coding) {
  while (!header.empty()) {
    const std::size_t comma = header.find(',');
    std::string_view item = header.substr(0, comma);
    header = comma == std::string_view::npos ? std::string_view() : header.substr(comma + 1);
    const std::size_t begin = item.find_first_not_of(' ');
    if (begin == std::string_view::npos) continue;
    item.remove_prefix(begin);
    const std::string_view name = item.substr(0, item.find_first_of("; "));
    if (name != coding) continue;
    const std::size_t weight = item.find("q=0");
    return weight == std::string_view::npos ||
           item.find_first_of("123456789", weight + 2) != std::string_view::npos;
  }
  return false;
}

}  // namespace

std::optional<Response> answer_page(std::span<const Page> pages, const Request& request) {
  const std::string_view path =
      request.path == "/" ? "/index.html" : std::string_view(request.path);
  const auto found = std::lower_bound(
      pages.begin(), pages.end(), path,
      [](const Page& page, std::string_view wanted) { return page.path < wanted; });
  if (found == pages.end() || found->path != path) return std::nullopt;
  if (request.method != "GET" && request.method != "HEAD") {
    Response refused = problem(405, "method not allowed", "pages can only be read (GET or HEAD)");
    refused.headers.push_back({"Allow", "GET, HEAD"});
    return refused;
  }
  Response response;
  response.content_type = found->content_type;
  response.headers = {
      {"Cache-Control", found->is_immutable ? "public, max-age=31536000, immutable" : "no-cache"},
      {"ETag", std::string(found->etag)},
      {"Vary", "Accept-Encoding"}};
  if (request.if_none_match == found->etag) {
    response.status = 304;
    return response;
  }
  response.fixed_body = found->plain;
  if (!found->brotli.empty() && accepts(request.accept_encoding, "br")) {
    response.fixed_body = found->brotli;
    response.headers.push_back({"Content-Encoding", "br"});
  } else if (!found->gzip.empty() && accepts(request.accept_encoding, "gzip")) {
    response.fixed_body = found->gzip;
    response.headers.push_back({"Content-Encoding", "gzip"});
  }
  return response;
}

}  // namespace phren::app::server
