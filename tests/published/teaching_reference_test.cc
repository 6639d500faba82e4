// Standard errors and intervals against R packages psych and eRm, run here when they are installed.
#include <gtest/gtest.h>

#include <array>
#include <cstdio>
#include <sstream>

#include "psychometrics_csv.h"
#include "teaching/statistics/rasch.h"
#include "teaching/statistics/reliability.h"
#include "teaching/statistics/two_raters.h"

namespace phren::teaching {
namespace {

using published::number;
using published::read_csv;
using published::Tally;

// Lines of "name value", or nothing when R or the package is missing.
std::map<std::string, double> run_r(const std::string& package, const std::string& code) {
  const std::string command =
      "Rscript --vanilla -e 'suppressMessages(library(" + package + "));" + code + "' 2>/dev/null";
  std::map<std::string, double> values;
  FILE* pipe = popen(command.c_str(), "r");
  if (pipe == nullptr) return values;
  std::string output;
  std::array<char, 512> buffer{};
  while (std::fgets(buffer.data(), buffer.size(), pipe) != nullptr) output += buffer.data();
  pclose(pipe);
  std::istringstream lines(output);
  std::string name;
  for (double value = 0.0; lines >> name >> value;) values[name] = value;
  return values;
}

constexpr const char* kLsat =
    "p<-read.csv(\"tests/published/psychometrics/lsat6_lsat7_patterns.csv\");"
    "x<-p[rep(1:32,p$lsat6_freq),2:6];";

TEST(ReferencePackagesSlow, ErmGivesTheSameRaschStandardErrors) {
  const auto r = run_r("eRm", std::string(kLsat) +
                                  "m<-RM(x,sum0=TRUE);"
                                  "for(i in 1:5){cat(\"b\",i,\" \",-m$betapar[i],\"\\n\",sep=\"\");"
                                  "cat(\"se\",i,\" \",m$se.beta[i],\"\\n\",sep=\"\")}");
  if (r.empty()) GTEST_SKIP() << "R with package eRm is not installed";
  std::vector<AnswerPattern> patterns;
  for (const auto& row : read_csv("lsat6_lsat7_patterns.csv")) {
    AnswerPattern pattern{{}, number(row, "lsat6_freq")};
    for (int j = 1; j <= 5; ++j) {
      pattern.right.push_back(static_cast<int>(number(row, "i" + std::to_string(j))));
    }
    patterns.push_back(pattern);
  }
  Tally tally("eRm");
  const auto fit = calibrate_rasch(patterns);
  for (std::size_t j = 0; j < 5; ++j) {
    const std::string item = std::to_string(j + 1);
    tally.near("difficulty " + item, fit->difficulty[j].value, r.at("b" + item), 1e-4);
    tally.near("se " + item, fit->difficulty[j].se, r.at("se" + item), 1e-4);
  }
}

TEST(ReferencePackagesSlow, PsychGivesTheSameAlphaIntervalAndKappaErrors) {
  const auto r =
      run_r("psych", std::string(kLsat) +
                         "a<-suppressWarnings(suppressMessages(alpha(x)));"
                         "cat(\"alpha\",a$total$raw_alpha,\"\\n\");"
                         "cat(\"low\",a$feldt$lower.ci[[1]],\"\\n\");"
                         "cat(\"high\",a$feldt$upper.ci[[1]],\"\\n\");"
                         "k<-cohen.kappa(matrix(c(88,14,18,10,40,10,2,6,12),3,byrow=TRUE));"
                         "cat(\"kappa\",k$kappa,\"\\n\");cat(\"var\",k$var.kappa,\"\\n\");"
                         "cat(\"weighted\",k$weighted.kappa,\"\\n\");");
  if (r.empty()) GTEST_SKIP() << "R with package psych is not installed";
  Table scores;
  for (const auto& row : read_csv("lsat6_lsat7_patterns.csv")) {
    std::vector<double> answers;
    for (int j = 1; j <= 5; ++j) answers.push_back(number(row, "i" + std::to_string(j)));
    for (int f = 0; f < number(row, "lsat6_freq"); ++f) scores.push_back(answers);
  }
  Tally tally("psych");
  const auto alpha = cronbach_alpha(scores);
  tally.near("alpha", alpha->value, r.at("alpha"), 1e-6);
  tally.near("Feldt low", alpha->low, r.at("low"), 1e-3);
  tally.near("Feldt high", alpha->high, r.at("high"), 1e-3);
  const auto table = two_raters({{88, 14, 18}, {10, 40, 10}, {2, 6, 12}});
  tally.near("kappa", table->kappa.kappa.value, r.at("kappa"), 1e-6);
  tally.near("variance", std::pow(table->kappa.kappa.se, 2), r.at("var"), 1e-6);
  tally.near("weighted", table->quadratic.kappa.value, r.at("weighted"), 1e-6);
  // psych's variance of weighted kappa (.00414 here) is not Fleiss, Cohen & Everitt's (.00442);
  // the jackknife (.00453) sides with the latter, see CohenKappa.WeightedErrorAgreesWithJackknife.
}

}  // namespace
}  // namespace phren::teaching
