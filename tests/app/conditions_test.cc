// The pages of docs/conditions are what the data say now; watch and conditions refuse bad input.
#include <gtest/gtest.h>

#include <filesystem>
#include <sstream>

#include "app/cli/command.h"
#include "app/temporary_folder.h"
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
  EXPECT_EQ(pages, 38);
  std::filesystem::remove_all(folder);
}

TEST(WatchCommand, FollowsTreatmentAndNamesWhatIsWrong) {
  std::ostringstream out, err;
  Context context{out, err};
  EXPECT_EQ(kOk, run_program({"watch", "asthma", "--minutes", "4", "--do", "1:oxygen,2:-oxygen"},
                             context))
      << err.str();
  EXPECT_NE(out.str().find("oxygen"), std::string::npos);
  EXPECT_NE(out.str().find("medical direction"), std::string::npos);
  EXPECT_EQ(kInputFailed, run_program({"watch", "asthma", "--do", "4:oxygn"}, context));
  EXPECT_NE(err.str().find("Did you mean 'oxygen'?"), std::string::npos);
  EXPECT_EQ(kInputFailed, run_program({"watch", "asthma", "--do", "oxygen"}, context));
  EXPECT_NE(err.str().find("MINUTE:TREATMENT"), std::string::npos);
}

// The same page as SVG with its words as text, and as a PNG by its signature (PNG
// specification 5.2).
TEST(WatchCommand, DrawsItsChartAsSvgAndAsPng) {
  TemporaryFolder folder;
  for (const char* name : {"trend.svg", "trend.png"}) {
    std::ostringstream out, err;
    Context context{out, err};
    ASSERT_EQ(kOk, run_program({"watch", "right_pneumothorax", "--minutes", "6", "--do",
                                "2:assisted_ventilation,4:needle_decompression:right", "--chart",
                                folder.file(name)},
                               context))
        << err.str();
  }
  const auto svg = read_file(folder.file("trend.svg"), 1u << 20);
  ASSERT_TRUE(svg);
  for (const char* word : {"<svg", "SpO2", "needle decompression", "medical direction", "6 min"}) {
    EXPECT_NE(svg->find(word), std::string::npos) << word;
  }
  const auto png = read_file(folder.file("trend.png"), 1u << 22);
  ASSERT_TRUE(png);
  EXPECT_EQ(png->substr(0, 8), "\x89PNG\r\n\x1a\n");
  EXPECT_GT(png->size(), 10000u);
}

}  // namespace
}  // namespace phren::app
