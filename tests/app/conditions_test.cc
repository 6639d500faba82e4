// The pages of docs/conditions are what the data say now; watch and conditions refuse bad input.
#include <gtest/gtest.h>

#include <filesystem>
#include <sstream>

#include "app/cli/command.h"
#include "base/files.h"

namespace phren::app {
namespace {

TEST(ConditionPages, AreCurrent) {
  const auto folder = std::filesystem::temp_directory_path() / "phren-condition-pages";
  std::ostringstream out, err;
  Context context{out, err};
  ASSERT_EQ(kOk, run_program({"conditions", "--docs", folder.string()}, context)) << err.str();
  int pages = 0;
  for (const auto& entry : std::filesystem::directory_iterator(folder)) {
    const auto fresh = read_file(entry.path());
    const auto kept =
        read_file(data_directory().parent_path() / "docs" / "conditions" / entry.path().filename());
    ASSERT_TRUE(kept) << kept.error().message;
    EXPECT_EQ(*fresh, *kept) << "run: phren conditions --docs docs/conditions";
    ++pages;
  }
  EXPECT_EQ(pages, 22);
  std::filesystem::remove_all(folder);
}

TEST(WatchCommand, FollowsTreatmentAndNamesWhatIsWrong) {
  std::ostringstream out, err;
  Context context{out, err};
  EXPECT_EQ(kOk, run_program({"watch", "asthma", "--minutes", "4", "--do", "1:oxygen,2:-oxygen"},
                             context))
      << err.str();
  EXPECT_NE(out.str().find("oxygen"), std::string::npos);
  EXPECT_EQ(kInputFailed, run_program({"watch", "asthma", "--do", "4:oxygn"}, context));
  EXPECT_NE(err.str().find("Did you mean 'oxygen'?"), std::string::npos);
  EXPECT_EQ(kInputFailed, run_program({"watch", "asthma", "--do", "oxygen"}, context));
  EXPECT_NE(err.str().find("MINUTE:TREATMENT"), std::string::npos);
}

}  // namespace
}  // namespace phren::app
