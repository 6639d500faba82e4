#include "app/cli/command.h"

#include <gtest/gtest.h>

#include "app/run.h"

namespace phren::app {
namespace {

struct Trial {
  std::string name;
  std::optional<std::string> out;
  double seconds = 12.0;
  std::uint64_t seed = 1;
  bool json = false;
  std::vector<std::string> files;
};

// A program of one command that takes everything; `trial` holds what was parsed.
Ran run_trial(const std::vector<std::string>& arguments, Trial& trial) {
  Program program;
  program.command("trial", "Try things")
      .argument("name", trial.name, "a name")
      .arguments("files", trial.files, "files")
      .option("-o,--out", trial.out, "FILE", "where")
      .option("--seconds", trial.seconds, {0.5, 600}, "how long")
      .option("--seed", trial.seed, {}, "which")
      .json(trial.json)
      .example("phren trial a b", "tries b")
      .run([](Context& context) {
        context.out << "ran\n";
        return kOk;
      });
  return run_with([&](Context& context) { return program.run(arguments, context); });
}

// A file's name may hold what a terminal would obey.
TEST(Command, WhatIsQuotedDoesNotReachTheTerminalAsItIs) {
  const Ran ran = run_with([](Context& context) {
    return context.report({ErrorCode::kNotFound, "a\x1b[2Jb\x07.wav: no such file"});
  });
  EXPECT_EQ(ran.err, "phren: a?[2Jb?.wav: no such file\n");
}

TEST(Command, TakesArgumentsOptionsAndFlags) {
  Trial trial;
  const Ran ran = run_trial({"trial", "a", "b", "c", "-o", "x", "--seconds=2.5", "--seed",
                             "18446744073709551615", "--json"},
                            trial);
  EXPECT_EQ(ran.code, kOk) << ran.err;
  EXPECT_EQ(ran.out, "ran\n");
  EXPECT_EQ(trial.name, "a");
  EXPECT_EQ(trial.files, (std::vector<std::string>{"b", "c"}));
  EXPECT_EQ(trial.out, "x");
  EXPECT_EQ(trial.seconds, 2.5);
  EXPECT_EQ(trial.seed, UINT64_MAX);
  EXPECT_TRUE(trial.json);
}

TEST(Command, WrongNumbersAreUsageErrorsNamingOptionValueAndRange) {
  for (const std::string wrong : {"0.1", "601", "abc", "nan", "2x", "-3", "1e999"}) {
    SCOPED_TRACE(wrong);
    Trial trial;
    const Ran ran = run_trial({"trial", "a", "b", "--seconds=" + wrong}, trial);
    EXPECT_EQ(ran.code, kUsage);
    EXPECT_EQ(ran.out, "");
    EXPECT_NE(ran.err.find("phren trial: --seconds is '" + wrong +
                           "'; it must be a number between 0.5 and 600"),
              std::string::npos)
        << ran.err;
  }
  Trial trial;
  EXPECT_NE(run_trial({"trial", "a", "b", "--seed", "1.5"}, trial)
                .err.find("--seed is '1.5'; it must be a whole number from 0 to 1844674407"),
            std::string::npos);
}

TEST(Command, MissingAndUnknownWordsAreUsageErrors) {
  Trial trial;
  EXPECT_EQ(run_trial({"trial", "a"}, trial).code, kUsage);
  EXPECT_EQ(run_trial({}, trial).code, kUsage);
  EXPECT_NE(run_trial({"trail", "a", "b"}, trial).err.find("Did you mean 'trial'?"),
            std::string::npos);
  EXPECT_NE(run_trial({"trial", "a", "b", "--secnds", "3"}, trial)
                .err.find("'--secnds' was not expected. Did you mean '--seconds'?"),
            std::string::npos);
}

TEST(Command, HelpShowsExamplesDefaultsAndExitCodes) {
  Trial trial;
  const Ran ran = run_trial({"trial", "--help"}, trial);
  EXPECT_EQ(ran.code, kOk);
  for (const char* part : {"phren trial a b", "tries b", "Exit codes:", "12", "--json"}) {
    EXPECT_NE(ran.out.find(part), std::string::npos) << part << "\n" << ran.out;
  }
}

TEST(Command, AFaultInsideIsExitCodeThree) {
  Program program;
  program.command("fault", "Fails").run([](Context&) -> int {
    throw std::runtime_error("broken");
  });
  const Ran ran = run_with([&](Context& context) { return program.run({"fault"}, context); });
  EXPECT_EQ(ran.code, kInternal);
  EXPECT_NE(ran.err.find("broken"), std::string::npos);
}

}  // namespace
}  // namespace phren::app
