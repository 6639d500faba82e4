// Damaged texts through every reader of text from outside: each is read or refused, and nothing else
// happens. Under the sanitizers of the asan preset these watch; `make soak` runs a minute of each.
#include <gtest/gtest.h>

#include <cstdio>
#include <cstdlib>
#include <random>

#include "fuzz/mutate.h"
#include "fuzz/texts.h"

namespace phren::fuzz {
namespace {

constexpr std::size_t kReaders = 8;

// `.ci/run` gives each reader more time than `make test`; a seed that was printed repeats a run.
double from_environment(const char* name, double otherwise) {
  const char* text = std::getenv(name);
  return text != nullptr ? std::atof(text) : otherwise;
}

// A test a reader, so that two run at a time.
void damage(std::size_t which, double seconds, std::uint64_t seed) {
  ASSERT_EQ(text_readers().size(), kReaders);
  const TextReader& reader = text_readers()[which];
  ASSERT_FALSE(reader.whole.empty()) << reader.name;
  std::printf("%s: seed %llu\n", reader.name, static_cast<unsigned long long>(seed));
  std::fflush(stdout);
  RandomStream random(Seed{seed}, reader.name);
  const auto end = std::chrono::steady_clock::now() + std::chrono::duration<double>(seconds);
  int count = 0;
  for (; std::chrono::steady_clock::now() < end; ++count) {
    reader.read(mutated(reader.whole, random));
  }
  std::printf("%s: %d damaged texts in %.0f s\n", reader.name, count, seconds);
  EXPECT_GT(count, 10 * seconds);
}

class DamagedTextsSlow : public testing::TestWithParam<std::size_t> {};
TEST_P(DamagedTextsSlow, AreReadOrRefused) {
  damage(GetParam(), from_environment("PHREN_FUZZ_SECONDS", 1.0), 20261130);
}
INSTANTIATE_TEST_SUITE_P(Every, DamagedTextsSlow, testing::Range<std::size_t>(0, kReaders));

// Other damage at every run.
class DamagedTextsSoak : public testing::TestWithParam<std::size_t> {};
TEST_P(DamagedTextsSoak, AMinuteOfReader) {
  const double seed = from_environment("PHREN_FUZZ_SEED", std::random_device{}());
  damage(GetParam(), 60.0, static_cast<std::uint64_t>(seed));
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
  // A letter beyond ASCII where toml++ looks for a blank.
  EXPECT_FALSE(parse_toml("a = 1\u00e9\n", "letter.toml"));
  EXPECT_FALSE(parse_toml("\u00e9 = 1\n", "letter.toml"));
  const auto folded = parse_toml("a = \"\"\"\\\n\u00c9lan\"\"\"\n", "letter.toml");
  ASSERT_TRUE(folded) << folded.error().message;
  EXPECT_EQ((*folded)["a"].value<std::string>(), "\u00c9lan");
  for (const char* odd :
       {"{\"phren\":[]}\n", "{\"phren\":{}}\n", "{\"phren\":7}\n", "{}\n", "[]\n"}) {
    EXPECT_FALSE(bedside::parse_log(odd, "odd.jsonl")) << odd;
  }
}

}  // namespace
}  // namespace phren::fuzz
