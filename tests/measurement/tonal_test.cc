#include "measurement/tonal.h"

#include <gtest/gtest.h>

#include "sounds.h"

namespace phren::measurement {
namespace {

std::vector<TonalTrack> tracks_in(const std::vector<float>& x) {
  static Analyser analyser;
  return find_tracks(analyser.analyse(x));
}

TEST(Tracks, MeasureFrequencyWithinOneHertzAndEdgesWithinTenMilliseconds) {
  for (const double hz : {143.0, 262.5, 401.3, 777.0, 1210.0})
    for (const double length_s : {0.15, 0.25, 0.5, 1.2}) {
      SCOPED_TRACE(testing::Message() << hz << " Hz for " << length_s << " s");
      auto x = test::noise(3.0, 0.001, 5);
      test::add_tone(x, hz, 1.013, length_s, 0.02);
      const auto tracks = tracks_in(x);
      ASSERT_EQ(tracks.size(), 1u);
      EXPECT_NEAR(tracks[0].mean_hz, hz, 1.0);
      EXPECT_NEAR(tracks[0].start_s, 1.013, 0.010);
      EXPECT_NEAR(tracks[0].end_s, 1.013 + length_s, 0.010);
    }
}

TEST(Tracks, AreRareInNoise) {
  std::size_t found = 0;
  for (std::uint64_t seed = 1; seed <= 20; ++seed)
    found += tracks_in(test::noise(10.0, 0.01, seed)).size();
  EXPECT_LE(found, 20u) << "in 200 s of noise";
}

TEST(Tracks, FollowAGlide) {
  std::vector<float> x = test::noise(2.0, 0.0005, 8);
  double phase = 0.0;
  for (std::size_t i = 2000; i < 6000; ++i) {
    phase += 2.0 * M_PI * (300.0 + 100.0 * static_cast<double>(i - 2000) / 4000.0) / kWorkRate_hz;
    x[i] += 0.02f * static_cast<float>(std::sin(phase));
  }
  const auto tracks = tracks_in(x);
  ASSERT_EQ(tracks.size(), 1u);
  EXPECT_NEAR(tracks[0].mean_hz, 350.0, 10.0);
  EXPECT_NEAR(tracks[0].start_hz, 300.0, 15.0);
  EXPECT_NEAR(tracks[0].end_hz, 400.0, 15.0);
}

TEST(Tracks, OfTwoNotesAreTwoAndOfHarmonicsOne) {
  auto two = test::noise(2.0, 0.0005, 8);
  test::add_tone(two, 300.0, 0.5, 0.8, 0.02);
  test::add_tone(two, 433.0, 0.5, 0.8, 0.02);
  EXPECT_EQ(tracks_in(two).size(), 2u);
  auto one = test::noise(2.0, 0.0005, 8);
  for (int h = 1; h <= 4; ++h) test::add_tone(one, 200.0 * h, 0.5, 0.8, 0.02 / h);
  EXPECT_EQ(tracks_in(one).size(), 1u);
}

TEST(Tracks, DoNotDependOnGain) {
  auto x = test::noise(2.0, 0.0005, 8);
  test::add_tone(x, 410.0, 0.5, 0.8, 0.01);
  auto loud = x;
  for (float& v : loud) v *= 40.0f;
  const auto a = tracks_in(x), b = tracks_in(loud);
  ASSERT_EQ(a.size(), 1u);
  ASSERT_EQ(b.size(), 1u);
  EXPECT_NEAR(a[0].start_s, b[0].start_s, 1e-3);
  EXPECT_NEAR(a[0].mean_hz, b[0].mean_hz, 0.01);
}

TEST(Tracks, OfNothingAreNone) {
  EXPECT_TRUE(tracks_in({}).empty());
  EXPECT_TRUE(tracks_in(std::vector<float>(1, 1.0f)).empty());
  EXPECT_TRUE(tracks_in(std::vector<float>(8000, 0.0f)).empty());
}

}  // namespace
}  // namespace phren::measurement
