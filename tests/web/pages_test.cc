#include "app/server/net/pages.h"

#include <gtest/gtest.h>

#include <algorithm>

namespace phren::app::server {
namespace {

constexpr Page kPages[] = {
    {"/assets/a.js", "text/javascript", "\"1\"", true, "plain", "gz", "b"},
    {"/index.html", "text/html", "\"2\"", false, "front page", {}, {}},
};

std::optional<Response> get(std::string path, std::string accept = "", std::string method = "GET") {
  Request request;
  request.path = std::move(path);
  request.accept_encoding = std::move(accept);
  request.method = std::move(method);
  return answer_page(kPages, request);
}

std::string header(const Response& response, std::string_view name) {
  for (const Header& one : response.headers) {
    if (one.name == name) return one.value;
  }
  return "";
}

TEST(Pages, RootIsTheFrontPage) {
  EXPECT_EQ(get("/")->bytes(), "front page");
  EXPECT_EQ(header(*get("/"), "Cache-Control"), "no-cache");
}

TEST(Pages, UnknownPathIsNotAPage) {
  EXPECT_FALSE(get("/nothing").has_value());
}

TEST(Pages, GivesTheBestEncodingTheBrowserTakes) {
  EXPECT_EQ(get("/assets/a.js", "gzip, deflate, br")->bytes(), "b");
  EXPECT_EQ(get("/assets/a.js", "gzip;q=1.0, br;q=0")->bytes(), "gz");
  EXPECT_EQ(get("/assets/a.js", "br;q=0.5")->bytes(), "b");
  EXPECT_EQ(get("/assets/a.js", "identity")->bytes(), "plain");
  EXPECT_EQ(get("/assets/a.js", "brotli, xgzip")->bytes(), "plain");
  EXPECT_EQ(header(*get("/assets/a.js", "br"), "Content-Encoding"), "br");
  EXPECT_EQ(header(*get("/assets/a.js"), "Content-Encoding"), "");
}

TEST(Pages, NamedByContentIsKeptForever) {
  EXPECT_NE(header(*get("/assets/a.js"), "Cache-Control").find("immutable"), std::string::npos);
}

TEST(Pages, KnownTagIsAnsweredWithoutBody) {
  Request request;
  request.method = "GET";
  request.path = "/";
  request.if_none_match = "\"2\"";
  const auto response = answer_page(kPages, request);
  EXPECT_EQ(response->status, 304);
  EXPECT_TRUE(response->bytes().empty());
}

TEST(Pages, CannotBeWritten) {
  const auto response = get("/", "", "POST");
  EXPECT_EQ(response->status, 405);
  EXPECT_EQ(header(*response, "Allow"), "GET, HEAD");
}

TEST(EmbeddedPages, AreSortedSoThatTheyCanBeFound) {
  const auto pages = embedded_pages();
  EXPECT_TRUE(std::is_sorted(pages.begin(), pages.end(),
                             [](const Page& a, const Page& b) { return a.path < b.path; }));
}

TEST(EmbeddedPages, HoldNoInlineScriptOrStyle) {
  for (const Page& page : embedded_pages()) {
    if (!page.content_type.starts_with("text/html")) continue;
    SCOPED_TRACE(page.path);
    for (std::size_t i = page.plain.find("<script"); i != std::string_view::npos;
         i = page.plain.find("<script", i + 1)) {
      const auto tag = page.plain.substr(i, page.plain.find('>', i) - i);
      EXPECT_NE(tag.find(" src="), std::string_view::npos) << tag;
    }
    EXPECT_EQ(page.plain.find("<style"), std::string_view::npos);
    EXPECT_EQ(page.plain.find(" style="), std::string_view::npos);
    EXPECT_EQ(page.plain.find(" onclick"), std::string_view::npos);
  }
}

TEST(EmbeddedPages, WeighUnderOneMegabyteCompressed) {
  // What measures recordings is loaded at the Bench alone.
  std::size_t bytes = 0, at_the_bench = 0;
  for (const Page& page : embedded_pages()) {
    const bool is_measurer = page.path == "/measurer.wasm" || page.path == "/measurer_model.bin";
    (is_measurer ? at_the_bench : bytes) +=
        page.brotli.empty() ? page.plain.size() : page.brotli.size();
  }
  RecordProperty("compressed_bytes", static_cast<int>(bytes));
  EXPECT_LT(bytes, 1'000'000u);
  EXPECT_GT(at_the_bench, 0u);
  EXPECT_LT(at_the_bench, 1'200'000u);
}

}  // namespace
}  // namespace phren::app::server
