#include "app/server/net/http.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "app/server/net/query.h"
#include "app/server/net/server.h"

namespace phren::app::server {
namespace {

using testing::HasSubstr;

TEST(DecodePath, KeepsPlainAndDecodesEscapes) {
  EXPECT_EQ(decode_path("/").value(), "/");
  EXPECT_EQ(decode_path("/api/v1/cases/a%20b%C3%A9").value(), "/api/v1/cases/a b\xC3\xA9");
}

TEST(DecodePath, RefusesWhatCouldClimbOrCut) {
  for (const char* bad : {"", "api", "/../etc/passwd", "/a/%2e%2e/b", "/a%00b", "/a%2", "/a%zz",
                          "/a%FF", "/a\xE9", "/a%C3"}) {
    SCOPED_TRACE(bad);
    const auto path = decode_path(bad);
    ASSERT_FALSE(path.has_value());
    EXPECT_EQ(path.error().code, ErrorCode::kMalformed);
  }
}

TEST(CheckQuery, RefusesWhatIsNotText) {
  EXPECT_TRUE(check_query("form=csv&x=%C3%A9+b"));
  for (const char* bad : {"form=%FF", "form=\xE9", "a=b%00"}) {
    SCOPED_TRACE(bad);
    EXPECT_FALSE(check_query(bad).has_value());
  }
}

TEST(Problem, IsProblemJsonEvenWhenTheDetailIsNotUtf8) {
  const Response response = problem(422, "invalid argument", "name is \xff\xfe; it must be text");
  EXPECT_EQ(response.content_type, "application/problem+json");
  const auto body = nlohmann::json::parse(response.body);
  EXPECT_EQ(body["status"], 422);
  EXPECT_THAT(body["detail"].get<std::string>(), HasSubstr("it must be text"));
}

TEST(CrossSite, OnlyAnOriginOfAnotherHostIs) {
  Request request;
  request.host = "127.0.0.1:8080";
  EXPECT_FALSE(is_cross_site(request));  // not from a page at all
  request.origin = "http://127.0.0.1:8080";
  EXPECT_FALSE(is_cross_site(request));
  for (const char* other : {"http://127.0.0.1:8081", "http://elsewhere.example", "null"}) {
    request.origin = other;
    EXPECT_TRUE(is_cross_site(request)) << other;
  }
}

TEST(SecurityHeaders, AllowNoInlineOrForeignScript) {
  std::string policy;
  for (const Header& header : security_headers()) {
    if (header.name == "Content-Security-Policy") policy = header.value;
  }
  EXPECT_THAT(policy, HasSubstr("default-src 'none'"));
  EXPECT_THAT(policy, HasSubstr("script-src 'self' 'wasm-unsafe-eval';"));
  EXPECT_THAT(policy, testing::Not(HasSubstr("unsafe-inline")));
  EXPECT_THAT(policy, testing::Not(HasSubstr("'unsafe-eval'")));
}

TEST(ParseListen, ReadsAddressAndPort) {
  EXPECT_EQ(parse_listen("127.0.0.1:8080")->port, 8080);
  EXPECT_EQ(parse_listen("[::1]:9")->address, "::1");
  EXPECT_EQ(parse_listen(":80")->address, "0.0.0.0");
  EXPECT_EQ(parse_listen("0")->address, "127.0.0.1");
}

TEST(ParseListen, NamesTheOptionAndWhatWouldBeRight) {
  for (const char* bad : {"", "host", "127.0.0.1:", "127.0.0.1:65536", ":80x", ":-1"}) {
    SCOPED_TRACE(bad);
    const auto options = parse_listen(bad);
    ASSERT_FALSE(options.has_value());
    EXPECT_THAT(options.error().message, HasSubstr("--listen"));
    EXPECT_THAT(options.error().message, HasSubstr("65535"));
  }
}

}  // namespace
}  // namespace phren::app::server
