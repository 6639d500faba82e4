// Same case, seed and actions: the same bits from g++ and from clang. The program that this test
// starts is built from the same files by the other of the two.
#include <gtest/gtest.h>

#include <cstdio>
#include <filesystem>
#include <fstream>
#include <sstream>

#include "people.h"
#include "state_bits.h"

namespace phren::patient {
namespace {

// Someone of an age at which the condition occurs.
Person person_for(const Condition& c) {
  if (c.most_age_years < 1.0) return {0.3, Sex::kFemale, 61.0, 6.0};
  if (c.most_age_years < 18.0) return {1.5, Sex::kFemale, 80.0, 11.0};
  if (c.least_age_years > 30.0) return {68.0, Sex::kMale, 174.0, 70.0};
  return {};
}

// Every voluntary act once, and five treatments, among them needles and held ones that are taken
// away again; which five goes round with `turn`, so that all are given to somebody.
std::vector<Act> acts_of(std::size_t turn, exam::Side side) {
  std::vector<Act> acts;
  const std::size_t count = treatments().all().size();
  const double minutes[] = {2.0, 4.5, 7.0, 10.0, 13.0};
  for (std::size_t k = 0; k < 5; ++k) {
    const int index = static_cast<int>((5 * turn + k) % count);
    acts.push_back({minutes[k], {ActionKind::kTreat, index, side}});
    if (k == 1) acts.push_back({9.0, {ActionKind::kStop, index, side}});
  }
  acts.push_back({1.0, Action::ask(Manoeuvre::kDeep, 15.0)});
  acts.push_back({1.5, Action::ask(Manoeuvre::kCough)});
  acts.push_back({3.0, Action::ask(Manoeuvre::kSpeech, 12.0)});
  acts.push_back({5.0, Action::ask(Manoeuvre::kHold, 8.0)});
  acts.push_back({6.0, Action::ask(Manoeuvre::kVowel, 6.0)});
  acts.push_back({12.0, Action::ask(Manoeuvre::kForced)});
  acts.push_back({15.0, {ActionKind::kSetPosture, static_cast<int>(Posture::kLying)}});
  acts.push_back({16.0, Action::steer(0, 0.9, 180.0)});
  acts.push_back({17.0, Action::happen(Event::kTornLung, side, 0.2)});
  acts.push_back({18.0, Action::happen(Event::kOneWayLeak, side)});
  acts.push_back({19.0, Action::happen(Event::kVomit, side, 0.7)});
  acts.push_back({20.0, Action::happen(Event::kTire, side, 0.3)});
  std::sort(acts.begin(), acts.end(),
            [](const Act& a, const Act& b) { return a.minute < b.minute; });
  return acts;
}

std::string bits_of_other_compiler(const Script& script, const std::string& name) {
  const auto file = std::filesystem::path(PHREN_TEST_OUT) / (name + ".script");
  {
    std::ofstream out(file);
    write(script, out);
  }
  const std::string command = std::string(PHREN_OTHER_PROGRAM) + " < '" + file.string() + "'";
  FILE* pipe = popen(command.c_str(), "r");
  if (!pipe) return "cannot start " + command;
  std::string bits;
  std::array<char, 65536> buffer;
  for (std::size_t n; (n = fread(buffer.data(), 1, buffer.size(), pipe)) > 0;)
    bits.append(buffer.data(), n);
  if (pclose(pipe) != 0) bits += "failed: " + command;
  return bits;
}

// The first minute and part that differ, rather than a page of hexadecimal.
std::string difference(const std::string& ours, const std::string& theirs) {
  std::istringstream a(ours), b(theirs);
  std::string minute, word, other;
  while (a >> word) {
    if (!(b >> other)) return "the other program stopped early";
    if (word == "minute") a >> minute, b >> other;
    if (word != "minute" && word != other)
      return "minute " + minute + ": " + word.substr(0, word.find('=')) + " differs";
  }
  return "the lengths differ";
}

void expect_same_bits(const PatientSetup& setup, const std::vector<Act>& acts,
                      const std::string& name) {
  SCOPED_TRACE(name);
  const auto config = configure(setup, conditions(), treatments());
  ASSERT_TRUE(config) << config.error().message;
  const Script script{Seed{20261125}, 22.0, acts, pack(*config)};
  const std::string ours = play(script);
  ASSERT_EQ(std::count(ours.begin(), ours.end(), '\n'), 23) << ours.substr(0, 200);
  const std::string theirs = bits_of_other_compiler(script, name);
  EXPECT_TRUE(ours == theirs) << difference(ours, theirs);
}

TEST(OtherCompiler, EveryConditionAndTreatmentGivesTheSameBits) {
  std::size_t turn = 0;
  for (const Condition& c : conditions().all()) {
    const PatientSetup setup{
        person_for(c), {{.id = c.id, .severity = 0.75}}, 5.0, Posture::kSitting};
    expect_same_bits(setup, acts_of(turn++, exam::Side::kRight), c.id);
  }
  std::printf("    %zu conditions, 22 minutes each, against %s\n", turn, PHREN_OTHER_NAME);
}

TEST(OtherCompiler, TwoIllnessesAtOnceGiveTheSameBits) {
  const PatientSetup setup{{66.0, Sex::kMale, 176.0, 82.0},
                           {{.id = "copd_exacerbation", .severity = 0.5},
                            {.id = "pneumothorax", .severity = 0.6, .side = exam::Side::kLeft}},
                           10.0,
                           Posture::kReclined};
  const auto act = [](double minute, const char* id) {
    return Act{minute, {ActionKind::kTreat, *treatments().index_of(id), exam::Side::kLeft}};
  };
  expect_same_bits(setup,
                   {act(1.0, "oxygen"), act(2.0, "inhaled_bronchodilator"), act(4.0, "cpap"),
                    act(8.0, "assisted_ventilation"), act(12.0, "needle_decompression"),
                    act(13.0, "needle_decompression"), act(16.0, "chest_seal")},
                   "two_illnesses");
}

}  // namespace
}  // namespace phren::patient
