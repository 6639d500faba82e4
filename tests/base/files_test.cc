#include "base/files.h"

#include <gtest/gtest.h>

namespace phren {
namespace {

std::filesystem::path scratch(const char* name) {
  return std::filesystem::path(testing::TempDir()) / name;
}

TEST(Files, WhatIsWrittenIsRead) {
  const auto path = scratch("phren_files_test.txt");
  ASSERT_TRUE(write_file(path, std::string_view("a\0b", 3)));
  EXPECT_EQ(read_file(path).value(), std::string("a\0b", 3));
}

TEST(Files, MissingFileAndFolderAreNamed) {
  EXPECT_EQ(read_file("/no/such/file").error().code, ErrorCode::kNotFound);
  EXPECT_NE(read_file("/no/such/file").error().message.find("/no/such/file"), std::string::npos);
  EXPECT_FALSE(read_file(testing::TempDir()));
}

// A device has no size to ask for, and this one no end.
TEST(Files, WhatNeverEndsIsReadUpToTheLimit) {
  const auto endless = read_file("/dev/zero", 1u << 20);
  ASSERT_FALSE(endless);
  EXPECT_EQ(endless.error().code, ErrorCode::kUnsupported);
}

TEST(Files, FailedWriteLeavesTheOldFile) {
  const auto path = scratch("phren_no_folder/x.txt");
  EXPECT_EQ(write_file(path, "x").error().code, ErrorCode::kIo);
}

TEST(Files, RefusesAFileOverTheLimit) {
  const auto path = scratch("phren_big.txt");
  ASSERT_TRUE(write_file(path, std::string(100, 'x')));
  EXPECT_EQ(read_file(path, 99).error().code, ErrorCode::kUnsupported);
}

TEST(Files, DataDirectoryHoldsTheSites) {
  EXPECT_TRUE(std::filesystem::exists(data_directory() / "sites.toml"));
}

}  // namespace
}  // namespace phren
