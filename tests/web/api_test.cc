#include "app/server/api.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "base/files.h"
#include "exam/names.h"

namespace phren::app::server {
namespace {

using nlohmann::json;

const RouteTable& api() {
  static const RouteTable table = load_api(data_directory()).value();
  return table;
}

Response get(std::string path) {
  Request request;
  request.method = "GET";
  request.path = std::move(path);
  return api().answer(request);
}

TEST(Api, EverySiteHasItsMirrorOnTheOtherSide) {
  const json sites = json::parse(get("/api/v1/sites").body)["sites"];
  ASSERT_GT(sites.size(), 20u);
  for (const json& site : sites) {
    if (site["mirror_id"] == "") continue;
    for (const json& other : sites) {
      if (other["id"] != site["mirror_id"]) continue;
      EXPECT_EQ(other["mirror_id"], site["id"]);
      EXPECT_NE(other["side"], site["side"]);
    }
  }
}

TEST(Api, EveryFindingHasWordsAndAWayToFindIt) {
  const json findings = json::parse(get("/api/v1/findings").body)["findings"];
  ASSERT_GT(findings.size(), 50u);
  for (const json& finding : findings) {
    SCOPED_TRACE(finding["id"]);
    EXPECT_NE(finding["label"], "");
    EXPECT_TRUE(exam::parse_basis(finding["found_by"].get<std::string>()).has_value());
  }
}

TEST(Api, LoadNamesTheFileThatIsMissing) {
  const auto table = load_api("/nowhere");
  ASSERT_FALSE(table.has_value());
  EXPECT_THAT(table.error().message, testing::HasSubstr("sites.toml"));
}

// docs/openapi.json must describe exactly the addresses there are.
TEST(OpenApi, DescribesEveryRouteAndNoOther) {
  const auto text = read_file(data_directory() / ".." / "docs" / "openapi.json");
  ASSERT_TRUE(text.has_value()) << text.error().message;
  const json paths = json::parse(*text)["paths"];
  std::vector<std::string> described;
  for (const auto& [path, operations] : paths.items()) {
    for (const auto& [method, operation] : operations.items())
      described.push_back(method + " " + path);
  }
  std::vector<std::string> served;
  for (const Route& route : api().all()) {
    std::string method = route.method;
    for (char& c : method) c = static_cast<char>(std::tolower(c));
    served.push_back(method + " " + route.pattern);
  }
  EXPECT_THAT(served, testing::UnorderedElementsAreArray(described));
}

TEST(OpenApi, GivesTheBodyKindEachRouteTakes) {
  const json paths =
      json::parse(read_file(data_directory() / ".." / "docs" / "openapi.json").value())["paths"];
  for (const Route& route : api().all()) {
    if (route.body_type.empty()) continue;
    SCOPED_TRACE(route.pattern);
    const json& content = paths[route.pattern]["post"]["requestBody"]["content"];
    bool is_described = false;
    for (const auto& [type, schema] : content.items()) {
      is_described = is_described || type.starts_with(route.body_type);
    }
    EXPECT_TRUE(is_described);
  }
}

}  // namespace
}  // namespace phren::app::server
