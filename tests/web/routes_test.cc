#include "app/server/api/routes.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace phren::app::server {
namespace {

RouteTable small_table() {
  RouteTable table;
  Route read{"GET", "/api/v1/cases/{id}", "", 0, Lane::kNetwork, {}};
  read.handler = [](const Request&, const PathValues& values) {
    return json_response(values.at("id"));
  };
  table.add(read);
  Route send{"POST", "/api/v1/impression", "application/json", 4, Lane::kNetwork, {}};
  send.handler = [](const Request& request, const PathValues&) {
    return json_response(request.body);
  };
  table.add(send);
  return table;
}

Request make_request(std::string method, std::string path) {
  Request request;
  request.method = std::move(method);
  request.path = std::move(path);
  return request;
}

TEST(RouteTable, FillsTheNamesOfThePattern) {
  EXPECT_EQ(small_table().answer(make_request("GET", "/api/v1/cases/pier")).body, "pier");
  EXPECT_EQ(small_table().answer(make_request("HEAD", "/api/v1/cases/pier")).status, 200);
}

TEST(RouteTable, SaysNotFoundForLongerShorterAndEmptyParts) {
  for (const char* path : {"/api/v1/cases", "/api/v1/cases/", "/api/v1/cases/a/b", "/", "/api"}) {
    EXPECT_EQ(small_table().answer(make_request("GET", path)).status, 404) << path;
  }
}

TEST(RouteTable, NamesTheMethodsAnAddressTakes) {
  const Response response = small_table().answer(make_request("GET", "/api/v1/impression"));
  EXPECT_EQ(response.status, 405);
  EXPECT_THAT(response.body, testing::HasSubstr("POST"));
}

TEST(RouteTable, ChecksSizeAndKindOfWhatIsSent) {
  Request request = make_request("POST", "/api/v1/impression");
  request.content_type = "application/json; charset=utf-8";
  request.body = "1234";
  EXPECT_EQ(small_table().answer(request).status, 200);
  request.body = "12345";
  const Response large = small_table().answer(request);
  EXPECT_EQ(large.status, 413);
  EXPECT_THAT(large.body, testing::HasSubstr("at most 4 bytes; 5 were sent"));
  request.body = "1";
  request.content_type = "text/plain";
  EXPECT_EQ(small_table().answer(request).status, 415);
}

}  // namespace
}  // namespace phren::app::server
