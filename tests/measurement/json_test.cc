#include "measurement/json.h"

#include <gtest/gtest.h>

#include <limits>
#include <nlohmann/json.hpp>

namespace phren::measurement {
namespace {

TEST(Json, HasTheAgreedKeysAndLabels) {
  RecordingMeasurement m;
  m.duration_s = 9.216;
  m.events.resize(2);
  m.events[1].label = EventLabel::kMixed;
  m.events[1].because = {{3, 0.5}};
  m.given_events.resize(1);
  m.quality.reasons = {QualityReason::kHeartOnly};
  m.verdict = {Doubt::kTooManyLabels,
               {RecordLabel::kBoth, RecordLabel::kNormal, RecordLabel::kContinuous}};
  m.evidence[10] = 1.25;
  m.floor = {-3.5, 2.0};
  const auto json = nlohmann::json::parse(to_json(m, "a_b"));
  EXPECT_EQ(json["recording"], "a_b");
  EXPECT_EQ(json["duration_s"], 9.216);
  EXPECT_EQ(json["record"]["label"], "Normal");
  for (const char* label : {"Normal", "CAS", "DAS", "CAS & DAS", "Poor Quality"})
    EXPECT_TRUE(json["record"]["probabilities"].contains(label)) << label;
  EXPECT_EQ(json["quality"]["reasons"][0], "heart only");
  EXPECT_EQ(json["verdict"]["can_tell"], false);
  EXPECT_EQ(json["verdict"]["why_not"], "too many labels");
  EXPECT_EQ(json["verdict"]["set"], nlohmann::json({"CAS & DAS", "Normal", "CAS"}));
  EXPECT_EQ(json["evidence"]["peak_crackle"], 1.25);
  EXPECT_EQ(json["evidence"]["floor_db"], nlohmann::json({-3.5, 2.0}));
  EXPECT_TRUE(json["breath"]["rate_per_min"].is_null());
  EXPECT_EQ(json["events"][1]["label"], "Wheeze+Crackle");
  EXPECT_EQ(json["events"][0]["probabilities"].size(), kNumEventLabels);
  EXPECT_EQ(json["events"][0]["features"].size(), kNumFeatures);
  EXPECT_EQ(json["events"][1]["because"][0]["feature"], "band_50_db");
  EXPECT_EQ(json["given_events"].size(), 1u);
}

TEST(Json, StaysValidWithOddNamesAndNumbers) {
  RecordingMeasurement m;
  m.rms_dbfs = std::numeric_limits<double>::quiet_NaN();
  m.duration_s = std::numeric_limits<double>::infinity();
  m.breathing.level_db = -1e300;
  const std::string text = to_json(m, "quote\" back\\slash \n\x01 tab\t");
  const auto json = nlohmann::json::parse(text);
  EXPECT_EQ(json["recording"], "quote\" back\\slash \n\x01 tab\t");
  EXPECT_TRUE(json["rms_dbfs"].is_null());
  EXPECT_EQ(text.find('\n'), std::string::npos);
}

}  // namespace
}  // namespace phren::measurement
