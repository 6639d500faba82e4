// The instructor's own folder, and what the projector is told.
#include "teaching/own_cases.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <set>

#include "app/specimen/show.h"
#include "base/files.h"
#include "teaching/library.h"

namespace phren::teaching {
namespace {

namespace fs = std::filesystem;

constexpr std::string_view kText = R"(title = "T"
story = "S"
[person]
age_years = 70
sex = "male"
height_cm = 188
weight_kg = 112
[[condition]]
id = "tension_pneumothorax"
severity = 0.7
side = "right"
)";

class OwnFolder : public testing::Test {
 protected:
  OwnFolder() {
    const auto* info = testing::UnitTest::GetInstance()->current_test_info();
    folder_ = fs::temp_directory_path() / ("phren-own-" + std::string(info->name()));
    fs::remove_all(folder_);
    library_ = Library::load(data_directory(), folder_).value();
  }
  ~OwnFolder() override { fs::remove_all(folder_); }
  fs::path folder_;
  std::shared_ptr<const Library> library_;
};

TEST_F(OwnFolder, WhatIsKeptIsThereUntilItIsRemoved) {
  const OwnCases& own = *library_->own;
  EXPECT_TRUE(own.list().empty());  // no folder yet is no trouble
  ASSERT_TRUE(own.save("own-k7qm2xpa", kText));
  EXPECT_EQ(own.text("own-k7qm2xpa").value(), kText);
  ASSERT_TRUE(library_->get("own-k7qm2xpa"));
  EXPECT_EQ(library_->get("own-k7qm2xpa")->patient.conditions.front().id, "tension_pneumothorax");
  EXPECT_GT(library_->get("own-k7qm2xpa")->patient.person.lung_height_cm, 0.0);
  ASSERT_EQ(own.list().size(), 1u);
  ASSERT_TRUE(own.remove("own-k7qm2xpa"));
  EXPECT_FALSE(library_->get("own-k7qm2xpa"));
  EXPECT_EQ(own.remove("own-k7qm2xpa").error().code, ErrorCode::kNotFound);
}

TEST_F(OwnFolder, AFileWithAFaultIsNotKeptAndSaysWhere) {
  std::string text(kText);
  text.replace(text.find("0.7"), 3, "7.0");
  const auto saved = library_->own->save("own-k7qm2xpa", text);
  ASSERT_FALSE(saved);
  EXPECT_EQ(
      saved.error().message,
      "own-k7qm2xpa.toml:10: [[condition]] severity is 7; it must be a number between 0 and 1");
  EXPECT_FALSE(fs::exists(folder_ / "own-k7qm2xpa.toml"));
}

TEST_F(OwnFolder, NoNameLeavesTheFolderOrHidesAnother) {
  for (const char* id :
       {"", ".", "..", "../x", "a/b", "A", "own k", "surprise-beginner-1", "x.toml"}) {
    EXPECT_FALSE(OwnCases::is_id(id)) << id;
    EXPECT_FALSE(library_->own->save(id, kText)) << id;
    EXPECT_FALSE(library_->own->has(id)) << id;
  }
  // A file of the same name as a prepared patient does not take its place.
  ASSERT_TRUE(library_->own->save("asthma", kText));
  EXPECT_EQ(library_->get("asthma")->patient.conditions.front().id, "asthma");
}

TEST_F(OwnFolder, AFilePutThereByHandIsSeenAndABrokenOneIsListedWithItsFault) {
  fs::create_directories(folder_);
  ASSERT_TRUE(write_file(folder_ / "by_hand.toml", kText));
  ASSERT_TRUE(write_file(folder_ / "broken.toml", "title = 3"));
  const auto all = library_->own->list();
  ASSERT_EQ(all.size(), 2u);
  EXPECT_TRUE(library_->get("by_hand"));
  int broken = 0;
  for (const ListedCase& one : all) broken += !one.loaded;
  EXPECT_EQ(broken, 1);
}

TEST(OwnCases, WithoutAFolderThereAreNone) {
  const auto library = Library::load(data_directory()).value();
  EXPECT_TRUE(library->own->list().empty());
  EXPECT_FALSE(library->own->save("own-k7qm2xpa", kText));
  EXPECT_FALSE(library->own->has("README"));
}

TEST(Show, EverySpecimenHasItsWordsAndALookAlikeOtherThanItself) {
  const auto specimens =
      app::Specimens::load(data_directory() / "acoustics_specimens.toml").value();
  const auto show = app::Show::load(data_directory() / "show.toml", specimens).value();
  std::set<std::string> told;
  const auto library = Library::load(data_directory()).value();
  for (const app::ShowWords& words : show.words()) {
    told.insert(words.id);
    EXPECT_NE(words.look_alike, words.id);
    // A sentence is read at ten metres.
    for (const std::string& text : {words.where, words.means, words.apart}) {
      EXPECT_LE(text.size(), 100u) << words.id << ": " << text;
    }
    EXPECT_THAT((std::set<std::string>{"verified", "from memory", "engineering"}),
                testing::Contains(words.status));
    if (!words.treatment.empty()) {
      EXPECT_TRUE(library->treatments.find(words.treatment)) << words.id;
    }
  }
  for (const app::Specimen& one : specimens.all()) EXPECT_TRUE(told.contains(one.id)) << one.id;
}

}  // namespace
}  // namespace phren::teaching
