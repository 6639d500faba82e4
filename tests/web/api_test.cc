#include "app/server/api/api.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "base/files.h"
#include "base/random.h"
#include "bedside/setup.h"
#include "exam/names.h"
#include "signal/audio_file.h"

namespace phren::app::server {
namespace {

using nlohmann::json;

const RouteTable& api() {
  // Never destroyed: at exit the measuring library would be gone before its models.
  static const auto* table = new RouteTable(load_api(data_directory()).value());
  return *table;
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

Response post(std::string path, std::string type, std::string body) {
  Request request;
  request.method = "POST";
  request.path = std::move(path);
  request.content_type = std::move(type);
  request.body = std::move(body);
  return api().answer(request);
}

TEST(Api, EveryCaseGivesAPatientTheEngineTakes) {
  const json all = json::parse(get("/api/v1/cases").body);
  for (const json& one : all["cases"]) {
    const std::string id = one["id"];
    SCOPED_TRACE(id);
    EXPECT_EQ(json::parse(get("/api/v1/cases/" + id).body)["title"], one["title"]);
    const Response config = get("/api/v1/cases/" + id + "/config");
    ASSERT_EQ(config.status, 200);
    const auto unpacked = bedside::unpack(config.body);
    ASSERT_TRUE(unpacked.has_value()) << unpacked.error().message;
    EXPECT_EQ(unpacked->patient.person.age_years, one["person"]["age_years"]);
  }
}

TEST(Api, AnUnknownCaseNamesTheNearest) {
  const Response response = get("/api/v1/cases/astma");
  EXPECT_EQ(response.status, 404);
  EXPECT_THAT(response.body, testing::HasSubstr("Did you mean 'asthma'?"));
}

TEST(Api, WeighingNamesTheFieldThatIsWrong) {
  const Response response =
      post("/api/v1/impression", "application/json", R"({"schema_version": 1, "age_years": 300})");
  EXPECT_EQ(response.status, 422);
  EXPECT_THAT(response.body, testing::HasSubstr("age_years"));
  EXPECT_EQ(post("/api/v1/impression", "application/json", "{").status, 400);
}

// Two seconds of seeded noise as WAV, then broken in a thousand seeded ways.
TEST(Api, NoBrokenUploadIsMoreThanARefusedOne) {
  RandomStream random(Seed{7}, "upload");
  signal::Audio audio;
  audio.sample_rate_hz = 4000.0;
  for (int i = 0; i < 8000; ++i) audio.samples.push_back(static_cast<float>(0.1 * random.normal()));
  const std::string whole = signal::wav_bytes(audio).value();
  ASSERT_EQ(post("/api/v1/measurement", "application/octet-stream", whole).status, 200);
  int refused = 0;
  for (int i = 0; i < 1000; ++i) {
    std::string broken = whole.substr(0, random.below(static_cast<std::uint32_t>(whole.size())));
    for (std::uint32_t k = random.below(8); k > 0 && !broken.empty(); --k) {
      const auto reach = static_cast<std::uint32_t>(std::min<std::size_t>(broken.size(), 64));
      broken[random.below(reach)] = static_cast<char>(random.below(256));
    }
    const Response response = post("/api/v1/measurement", "application/octet-stream", broken);
    ASSERT_LT(response.status, 500) << "case " << i << ": " << response.body;
    if (response.status >= 400) {
      ++refused;
      EXPECT_EQ(response.content_type, "application/problem+json");
    }
  }
  EXPECT_GT(refused, 900);  // nearly all are cut short
}

TEST(Api, LoadNamesTheFileThatIsMissing) {
  const auto table = load_api("/nowhere");
  ASSERT_FALSE(table.has_value());
  EXPECT_THAT(table.error().message, testing::HasSubstr("/nowhere/"));
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
    const std::string method = route.method == "PUT" ? "put" : "post";
    const json& content = paths[route.pattern][method]["requestBody"]["content"];
    bool is_described = false;
    for (const auto& [type, schema] : content.items()) {
      is_described = is_described || type.starts_with(route.body_type);
    }
    EXPECT_TRUE(is_described);
  }
}

}  // namespace
}  // namespace phren::app::server
