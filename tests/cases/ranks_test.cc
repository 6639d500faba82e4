// Each prepared patient examined as `phren examine` does: its condition comes first, or its danger is named; and every
// place of its case sheet says something.
#include <gtest/gtest.h>

#include <algorithm>
#include <cstdio>

#include "app/examine/examine.h"
#include "base/files.h"
#include "bedside/heard.h"
#include "teaching/expected.h"

namespace phren::app {
namespace {

const teaching::Library& library() {
  static const auto all = teaching::Library::load(data_directory()).value();
  return *all;
}

std::string condition_of(const teaching::Case& one) {
  return one.patient.conditions.empty() ? "healthy" : one.patient.conditions.front().id;
}

// Whether a named threat is one that this condition may stand behind.
bool is_danger_named(const reasoning::Impression& impression, const std::string& id) {
  return std::any_of(impression.threats.begin(), impression.threats.end(), [&](const auto& threat) {
    return threat.is_named && std::find(threat.condition_ids.begin(), threat.condition_ids.end(),
                                        id) != threat.condition_ids.end();
  });
}

void expect_found(const teaching::Case& one) {
  const auto examined = examine(one, {}, library(), [](const std::string&) {});
  ASSERT_TRUE(examined) << examined.error().message;
  const auto& ranking = examined->impression.ranking;
  const std::string id = condition_of(one);
  const auto at = std::find_if(ranking.begin(), ranking.end(),
                               [&](const auto& ranked) { return ranked.id == id; });
  const auto rank = at - ranking.begin() + 1;
  const bool is_named = is_danger_named(examined->impression, id);
  std::printf("%-28s rank %2td%s\n", one.id.c_str(), rank, is_named ? ", danger named" : "");
  EXPECT_TRUE(rank == 1 || is_named) << one.id << ": first is " << ranking.front().id;
}

TEST(PreparedPatientsSoak, ExamineRanksTheConditionFirstOrNamesItsDanger) {
  for (const teaching::Case& one : library().cases) expect_found(one);
}

TEST(PreparedPatientsSoak, EveryPlaceOfTheCaseSheetSaysSomething) {
  for (const teaching::Case& one : library().cases) {
    const auto setup =
        setup_of(one, library().conditions, library().treatments, library().instruments).value();
    const auto places = teaching::expected_at_sites(setup, library().sites, Seed{1}).value();
    ASSERT_EQ(places.size(), library().sites.all().size()) << one.id;
    for (const auto& place : places) {
      EXPECT_FALSE(bedside::in_words(place).empty()) << one.id << ' ' << place.site_id;
    }
  }
}

// A few of them at each `make test`, so that a change of the evidence is noticed the same day.
TEST(PreparedPatientsSlow, ThreeOfTheEasilyConfusedAreFound) {
  for (const char* id : {"drowning", "whooping_cough", "aspiration_pneumonia"}) {
    expect_found(*library().find(id));
  }
}

}  // namespace
}  // namespace phren::app
