// The pages, embedded in the program when it was built (web/embed.mjs makes the table).
//
// Shapes:  each page is held once per encoding; `gzip` and `brotli` are empty when not smaller.
#pragma once

#include <optional>
#include <span>
#include <string_view>

#include "app/server/net/http.h"

namespace phren::app::server {

struct Page {
  std::string_view path;  // "/assets/app-1a2b3c4d.js"
  std::string_view content_type;
  std::string_view etag;  // quoted
  bool is_immutable;      // its name changes with its content
  std::string_view plain;
  std::string_view gzip;
  std::string_view brotli;
};

// Sorted by path; empty in a build without pages (-DPHREN_WEB=OFF).
std::span<const Page> embedded_pages();

// The page at the request's path ("/" is "/index.html"), encoded as the browser prefers, or 304;
// nullopt when there is none.
std::optional<Response> answer_page(std::span<const Page> pages, const Request& request);

}  // namespace phren::app::server
