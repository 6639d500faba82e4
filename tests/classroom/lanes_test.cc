// The threads beside the network thread: shared commits, and nobody told "kept" before it is.
#include "app/server/lanes.h"

#include <gtest/gtest.h>

#include <atomic>
#include <future>
#include <thread>

#include "records/audit.h"
#include "records/temporary_store.h"

namespace phren::app::server {
namespace {

class LanesTest : public testing::Test {
 protected:
  void SetUp() override { folder_ = records::temporary_folder(); }
  void TearDown() override { std::filesystem::remove_all(folder_); }
  std::string store() const { return "sqlite:" + (folder_ / "l.db").string(); }
  std::filesystem::path folder_;
};

Lanes::Job note(const std::string& subject, int status = 200) {
  return [subject, status](Desk* desk) {
    records::note_audit(desk->db, {desk->now_ms, "", "test", subject, ""});
    return json_response("{}", status);
  };
}

TEST_F(LanesTest, WhatIsAnsweredIsInTheStoreForOthersToSee) {
  LaneOptions options;
  options.store = store();
  auto lanes = Lanes::start(options).value();
  auto other = records::Database::open(store()).value();
  for (int i = 0; i < 20; ++i) {
    std::promise<std::size_t> seen;
    ASSERT_TRUE(lanes->submit(Lane::kStore, note(std::to_string(i)), [&](Response) {
      seen.set_value(records::read_audit(other)->size());
    }));
    EXPECT_EQ(seen.get_future().get(), static_cast<std::size_t>(i + 1));
  }
  lanes->finish();
}

TEST_F(LanesTest, AFaultOfOneHarmsNoOther) {
  LaneOptions options;
  options.store = store();
  auto lanes = Lanes::start(options).value();
  std::atomic<int> kept{0}, faults{0};
  for (int i = 0; i < 100; ++i) {
    Lanes::Job job = note(std::to_string(i));
    if (i % 10 == 3) {
      job = [](Desk*) -> Response { throw std::runtime_error("a fault"); };
    }
    ASSERT_TRUE(lanes->submit(
        Lane::kStore, job, [&](Response response) { ++(response.status == 200 ? kept : faults); }));
  }
  lanes->finish();
  EXPECT_EQ(kept, 90);
  EXPECT_EQ(faults, 10);
  auto after = records::Database::open(store()).value();
  EXPECT_EQ(records::read_audit(after)->size(), 90u);
}

TEST_F(LanesTest, TooMuchIsTurnedAway) {
  LaneOptions options;
  options.max_waiting_slow = 2;
  auto lanes = Lanes::start(options).value();
  std::promise<void> go;
  const auto gate = go.get_future().share();
  const auto wait = [gate](Desk*) {
    gate.wait();
    return json_response("{}");
  };
  std::atomic<int> done{0};
  EXPECT_TRUE(lanes->submit(Lane::kSlow, wait, [&](Response) { ++done; }));
  EXPECT_TRUE(lanes->submit(Lane::kSlow, wait, [&](Response) { ++done; }));
  EXPECT_FALSE(lanes->submit(Lane::kSlow, wait, [&](Response) { ++done; }));
  go.set_value();
  lanes->finish();
  EXPECT_EQ(done, 2);
}

TEST_F(LanesTest, ABadStoreIsSaidAtTheStart) {
  LaneOptions options;
  options.store = "sqlite:/nowhere/at/all/x.db";
  EXPECT_FALSE(Lanes::start(options));
}

}  // namespace
}  // namespace phren::app::server
