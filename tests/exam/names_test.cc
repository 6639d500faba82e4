#include "exam/names.h"

#include <gtest/gtest.h>

namespace phren::exam {
namespace {

TEST(Names, EverySoundComesBackFromItsName) {
  for (int i = 0; i <= static_cast<int>(Sound::kVoice); ++i) {
    const auto sound = static_cast<Sound>(i);
    EXPECT_EQ(parse_sound(to_string(sound)).value(), sound);
    EXPECT_NE(label_of(sound), "unknown");
  }
}

TEST(Names, UnknownWordNamesTheWordAndTheAllowedOnes) {
  const auto wrong = parse_lobe("middle");
  ASSERT_FALSE(wrong);
  EXPECT_EQ(wrong.error().message, "lobe is 'middle'; it must be one of rul, rml, rll, lul, lll");
}

}  // namespace
}  // namespace phren::exam
