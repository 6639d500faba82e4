#include "measurement/features.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "sounds.h"

namespace phren::measurement {
namespace {

std::size_t index_of(std::string_view name) {
  const auto& names = feature_names();
  return static_cast<std::size_t>(std::find(names.begin(), names.end(), name) - names.begin());
}

FeatureVector features_in(const std::vector<float>& x, double start_s, double end_s) {
  static Analyser analyser;
  const Analysis& a = analyser.analyse(x);
  return features_of(a, context_of(a), start_s, end_s);
}

TEST(Features, HaveDistinctNamesAndWords) {
  std::set<std::string_view> names, words;
  for (std::size_t i = 0; i < kNumFeatures; ++i) {
    names.insert(feature_names()[i]);
    words.insert(feature_in_words(i));
  }
  EXPECT_EQ(names.size(), kNumFeatures);
  EXPECT_EQ(words.size(), kNumFeatures);
}

TEST(Features, AreFiniteForNoiseSilenceAndScraps) {
  for (const auto& x : {test::noise(3.0, 0.01, 3), std::vector<float>(12000, 0.0f),
                        std::vector<float>(1, 1.0f), std::vector<float>()})
    for (const float v : features_in(x, 0.0, 1.0)) EXPECT_TRUE(std::isfinite(v));
}

TEST(Features, DoNotDependOnGain) {
  auto x = test::breathing(6.0, 20.0, 6.0, 3);
  test::add_tone(x, 400.0, 1.0, 0.5, 0.01);
  auto loud = x;
  for (float& v : loud) v *= 10.0f;
  const auto a = features_in(x, 0.5, 2.0), b = features_in(loud, 0.5, 2.0);
  for (std::size_t i = 0; i < kNumFeatures; ++i)
    EXPECT_NEAR(a[i], b[i], 2e-3 * std::max(1.0f, std::fabs(a[i]))) << feature_names()[i];
}

TEST(Features, SeeAToneWhereItIs) {
  auto x = test::noise(4.0, 0.002, 3);
  test::add_tone(x, 420.0, 1.0, 1.0, 0.02);
  const auto with = features_in(x, 1.0, 2.0), without = features_in(x, 2.5, 3.5);
  EXPECT_NEAR(with[index_of("ridge_high_hz")], 420.0, 8.0);
  EXPECT_GT(with[index_of("tone_250_share_12")], 0.9);
  EXPECT_LT(without[index_of("tone_250_share_12")], 0.4);
  EXPECT_GT(with[index_of("track_share")], 0.8);
  EXPECT_EQ(without[index_of("track_share")], 0.0);
}

TEST(Features, SeeCracklesWhereTheyAre) {
  auto x = test::noise(4.0, 0.001, 3);
  for (int i = 0; i < 6; ++i) test::add_crackle(x, 1.1 + 0.1 * i, 0.7, 5.0, 0.03);
  const auto with = features_in(x, 1.0, 2.0), without = features_in(x, 2.5, 3.5);
  EXPECT_EQ(with[index_of("crackle_count")], 6.0f);
  EXPECT_EQ(without[index_of("crackle_count")], 0.0f);
  EXPECT_GT(with[index_of("kurtosis_above_200hz")],
            without[index_of("kurtosis_above_200hz")] + 1.0f);
}

TEST(Features, OfTheRecordAreThoseOfItsWhole) {
  auto x = test::breathing(6.0, 20.0, 6.0, 3);
  test::add_tone(x, 400.0, 1.0, 1.5, 0.01);
  for (int i = 0; i < 6; ++i) test::add_crackle(x, 3.1 + 0.1 * i, 0.7, 5.0, 0.03);
  const auto whole = features_in(x, 0.0, 6.0);
  for (const auto& [record, stretch] : {std::pair{"record_tone_low", "tone_80_share_12"},
                                        {"record_crackle_rate_per_s", "crackle_rate_per_s"},
                                        {"record_transient_share_9", "transient_share_9"},
                                        {"record_centroid_hz", "centroid_hz"},
                                        {"record_kurtosis_above_200hz", "kurtosis_above_200hz"},
                                        {"record_track_share", "track_share"}})
    EXPECT_EQ(whole[index_of(record)], whole[index_of(stretch)]) << record;
  EXPECT_GT(whole[index_of("record_crackle_rate_per_s")], 0.4f);
}

TEST(Features, SayDurationInSeconds) {
  EXPECT_NEAR(features_in(test::noise(3.0, 0.01, 3), 0.5, 1.75)[index_of("duration_s")], 1.25,
              1e-6);
}

}  // namespace
}  // namespace phren::measurement
