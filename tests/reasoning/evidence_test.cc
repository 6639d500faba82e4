#include "reasoning/evidence.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "base/files.h"
#include "reasoning/evidence_check.h"
#include "reasoning/make.h"

namespace phren::reasoning {
namespace {

const std::string kHead =
    "row,condition_id,finding_id,use,age_from_years,age_to_years,cut,requires,settings,condition,"
    "finding,population,sens,spec,lr_pos,lr_pos_lo,lr_pos_hi,lr_neg,lr_neg_lo,lr_neg_hi,source,doi,"
    "status\n";

std::vector<std::string> complaints_on(const std::string& rows) {
  const auto table = CsvTable::parse(kHead + rows, "e.csv");
  EXPECT_TRUE(table) << table.error().message;
  std::vector<Complaint> complaints;
  const auto read = read_evidence(*table, complaints);
  for (auto& c : check_rows(read, the_knowledge().findings, the_knowledge().conditions)) {
    complaints.push_back(c);
  }
  std::vector<std::string> out;
  for (const auto& c : complaints) out.push_back((c.is_error ? "error " : "note ") + c.message);
  return out;
}

TEST(Evidence, TheShippedTableHasNoError) {
  for (const Complaint& c : check_evidence(data_directory() / "evidence/published.csv",
                                           the_knowledge().findings, the_knowledge().conditions)) {
    EXPECT_FALSE(c.is_error) << c.where << ": " << c.message;
  }
  EXPECT_EQ(the_knowledge().published.size(), 273u);
}

TEST(Evidence, AGoodRowHasNoComplaint) {
  EXPECT_TRUE(complaints_on("P1,asthma,wheeze,both,0,130,,,,a,w,p,0.8,0.9,8,6,11,0.22,0.1,0.4,S,,"
                            "VERIFIED x\n")
                  .empty());
}

TEST(Evidence, FaultsAreNamedWithValueAndRange) {
  using testing::Contains;
  using testing::HasSubstr;
  const auto one = [](const std::string& row) { return complaints_on(row); };
  EXPECT_THAT(one("P1,asthma,wheeze,both,0,130,,,,a,w,p,1.8,0.9,,,,,,,S,,VERIFIED\n"),
              Contains(HasSubstr("sens is 1.8; it must be a number between 0")));
  EXPECT_THAT(one("P1,asthma,wheeze,both,0,130,,,,a,w,p,0.8,0.9,80,,,,,,S,,VERIFIED\n"),
              Contains(HasSubstr("error lr_pos is 80; sens and spec give")));
  EXPECT_THAT(one("P1,asthma,wheeze,both,0,130,,,,a,w,p,,,8,9,11,,,,S,,VERIFIED\n"),
              Contains("error lr_pos is 8; it must lie in its own interval"));
  EXPECT_THAT(one("P1,asthma,wheeze,both,0,130,,,,a,w,p,,,10,12,9,,,,S,,VERIFIED\n"),
              Contains("error lr_pos_lo is 12; it must be at most lr_pos_hi 9"));
  EXPECT_THAT(one("P1,asthma,wheeze,both,0,130,,,,a,w,p,,,8,,,,,,,,VERIFIED\n"),
              Contains("error a row needs a source"));
  EXPECT_THAT(one("P1,asthma,wheeze,both,0,130,,,,a,w,p,,,8,,,,,,S,,HEARSAY\n"),
              Contains(HasSubstr("status is 'HEARSAY'; it must be one that begins with")));
  EXPECT_THAT(one("P1,asthma,weeze,both,0,130,,,,a,w,p,,,8,,,,,,S,,VERIFIED\n"),
              Contains(HasSubstr("Did you mean 'wheeze'?")));
  EXPECT_THAT(one("P1,sniffles,wheeze,both,0,130,,,,a,w,p,,,8,,,,,,S,,VERIFIED\n"),
              Contains("error condition_id 'sniffles' is not in conditions.csv"));
  EXPECT_THAT(one("P1,asthma,wheeze,absent,0,130,,,,a,w,p,,,8,,,,,,S,,VERIFIED\n"),
              Contains(HasSubstr("lr_neg is blank")));
  EXPECT_THAT(one("P1,asthma,wheeze,often,0,130,,,,a,w,p,,,8,,,,,,S,,VERIFIED\n"),
              Contains(HasSubstr("use is 'often'; it must be both, present, absent or beside")));
  EXPECT_THAT(one("P1,asthma,hypoxia,both,0,130,sats<90,,,a,w,p,,,8,,,,,,S,,VERIFIED\n"),
              Contains(HasSubstr("cut is 'sats<90'; it must be a vital sign")));
}

TEST(Evidence, DuplicatesAndTwoWeighedRowsAreErrors) {
  using testing::Contains;
  using testing::HasSubstr;
  const std::string row = "asthma,wheeze,present,0,130,,,,a,w,p,,,8,,,,,,S,,VERIFIED\n";
  const auto c = complaints_on("P1," + row + "P1," + row);
  EXPECT_THAT(c, Contains("error the same condition, finding, population and source as e.csv:2"));
  EXPECT_THAT(c, Contains("error row id P1 is used twice"));
  EXPECT_THAT(c, Contains(HasSubstr("one of them must stand beside")));
}

TEST(Evidence, ARowWithoutANumberNeverGetsOne) {
  for (const EvidenceRow& row : the_knowledge().published) {
    if (!row.positive.value && !row.negative.value) {
      EXPECT_EQ(row.use, Use::kBeside) << row.id;
      EXPECT_FALSE(speaks_of(row, exam::Presence::kPresent, 40)) << row.id;
    }
    if (row.positive.derived) {
      EXPECT_TRUE(row.sensitivity && row.specificity) << row.id;
    }
  }
}

TEST(Evidence, CoverageCountsEveryCondition) {
  const auto lines = coverage(the_knowledge());
  EXPECT_EQ(lines.size(), 38u);
  std::size_t weighed = 0;
  for (const auto& line : lines) weighed += line.num_weighed;
  EXPECT_GE(weighed, 60u);
}

}  // namespace
}  // namespace phren::reasoning
