// Damaged texts through every reader of text from outside: each is read or refused, and nothing else
// happens. Under the sanitizers of the asan preset these watch; `make soak` runs a minute of each.
#include <gtest/gtest.h>

#include "fuzz/mutate.h"
#include "fuzz/texts.h"

namespace phren::fuzz {
namespace {

constexpr std::uint64_t kSeed = 20261130;
constexpr std::size_t kReaders = 8;

int damage_for(const TextReader& reader, std::chrono::milliseconds time, int most) {
  RandomStream random(Seed{kSeed}, reader.name);
  const auto end = std::chrono::steady_clock::now() + time;
  int count = 0;
  for (; count < most && std::chrono::steady_clock::now() < end; ++count) {
    reader.read(mutated(reader.whole, random));
  }
  return count;
}

TEST(DamagedTextsSlow, EveryReaderReadsOrRefuses) {
  for (const TextReader& reader : text_readers()) {
    ASSERT_FALSE(reader.whole.empty()) << reader.name;
    const int count = damage_for(reader, std::chrono::seconds(2), 5000);
    std::printf("%s: %d damaged texts\n", reader.name, count);
    EXPECT_GT(count, 10) << reader.name;
  }
}

// One ctest entry a reader, so that two run at a time.
class DamagedTextsSoak : public testing::TestWithParam<std::size_t> {};
TEST_P(DamagedTextsSoak, AMinuteOfReader) {
  ASSERT_EQ(text_readers().size(), kReaders);
  const TextReader& reader = text_readers()[GetParam()];
  const int count = damage_for(reader, std::chrono::seconds(60), 100'000'000);
  std::printf("%s: %d damaged texts\n", reader.name, count);
  EXPECT_GT(count, 1000);
}
INSTANTIATE_TEST_SUITE_P(Every, DamagedTextsSoak, testing::Range<std::size_t>(0, kReaders));

// What ended the program, or made two people one, in version 0.1.
TEST(DamagedTexts, DeepTomlAndOddHeadersAreRefusedInWords) {
  std::string dotted = "a";
  for (int i = 0; i < 200'000; ++i) dotted += ".a";
  EXPECT_FALSE(parse_toml(dotted + " = 1\n", "deep.toml"));
  EXPECT_FALSE(parse_toml("[" + dotted + "]\n", "deep.toml"));
  EXPECT_FALSE(parse_toml("a = " + std::string(200'000, '['), "deep.toml"));
  EXPECT_FALSE(parse_toml("a = " + std::string(200'000, '{'), "deep.toml"));
  EXPECT_TRUE(parse_toml("a.b.c = \"x.y.z [[[\"\n", "flat.toml"));
  for (const char* odd :
       {"{\"phren\":[]}\n", "{\"phren\":{}}\n", "{\"phren\":7}\n", "{}\n", "[]\n"}) {
    EXPECT_FALSE(bedside::parse_log(odd, "odd.jsonl")) << odd;
  }
}

}  // namespace
}  // namespace phren::fuzz
