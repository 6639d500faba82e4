// The threads beside the network thread: shared commits, and nobody told "kept" before it is.
#include "app/server/net/lanes.h"

#include <gtest/gtest.h>
#include <soci/soci.h>

#include <algorithm>
#include <atomic>
#include <future>
#include <mutex>
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

// "Nothing was kept" is true of what was finished before the fault, too.
TEST_F(LanesTest, OfAJobThatThrowsNothingIsKept) {
  LaneOptions options;
  options.store = store();
  auto lanes = Lanes::start(options).value();
  std::promise<Response> answer;
  std::atomic<int> steps{0};
  const auto job = [&](Desk* desk) -> Response {
    EXPECT_TRUE(records::note_audit(desk->db, {desk->now_ms, "", "test", "x", ""}));
    desk->once_kept([&] { ++steps; });
    throw std::runtime_error("a fault");
  };
  ASSERT_TRUE(lanes->submit(Lane::kStore, job, [&](Response one) { answer.set_value(one); }));
  const Response response = answer.get_future().get();
  lanes->finish();
  EXPECT_EQ(response.status, 500);
  EXPECT_NE(response.body.find("nothing was kept"), std::string::npos);
  EXPECT_EQ(steps, 0);
  auto after = records::Database::open(store()).value();
  EXPECT_TRUE(records::read_audit(after)->empty());
}

TEST_F(LanesTest, StepsFollowTheCommitAndFallWithIt) {
  LaneOptions options;
  options.store = store();
  auto lanes = Lanes::start(options).value();
  auto other = records::Database::open(store()).value();
  for (const bool is_kept : {true, false}) {
    std::promise<int> status;
    std::size_t seen = 0;  // by others, when the step runs
    const auto job = [&](Desk* desk) {
      desk->once_kept([&] { seen = records::read_audit(other)->size(); });
      auto& sql = desk->db.session();
      if (!is_kept) {  // refused by the commit: nobody of that id is there
        sql << "PRAGMA defer_foreign_keys=ON";
        sql << "INSERT INTO session (token_hash, person_id, csrf, created_ms, seen_ms, class_id,"
               " station_id) VALUES ('h', 'nobody', 'c', 1, 1, '', '')";
      }
      return note("x")(desk);
    };
    ASSERT_TRUE(
        lanes->submit(Lane::kStore, job, [&](Response one) { status.set_value(one.status); }));
    EXPECT_EQ(status.get_future().get(), is_kept ? 200 : 503);
    EXPECT_EQ(seen, is_kept ? 1u : 0u);
  }
  lanes->finish();
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

// In version 0.1 whoever repeated a batch kept all others waiting behind it.
TEST_F(LanesTest, ASessionThatRepeatsItselfLeavesOthersTheirTurn) {
  LaneOptions options;
  options.store = store();
  auto lanes = Lanes::start(options).value();
  std::promise<void> begun, go;
  const auto gate = go.get_future().share();
  ASSERT_TRUE(lanes->submit(
      Lane::kStore,
      [gate, &begun](Desk*) {
        begun.set_value();
        gate.wait();
        return json_response("{}");
      },
      [](Response) {}, {"gate", true}));
  begun.get_future().wait();  // else its commit may take some of the rude ones along
  std::mutex mutex;
  std::vector<std::string> order;
  const auto ask = [&](const std::string& who) {
    return lanes->submit(Lane::kStore, note(who),
                         [&, who](Response) {
                           const std::lock_guard lock(mutex);
                           order.push_back(who);
                         },
                         {who, true});
  };
  int num_rude = 0;
  while (num_rude < 200 && ask("rude")) ++num_rude;
  EXPECT_LE(num_rude, 32);
  for (int i = 0; i < 20; ++i) EXPECT_TRUE(ask("learner " + std::to_string(i)));
  go.set_value();
  lanes->finish();
  ASSERT_EQ(order.size(), static_cast<std::size_t>(num_rude) + 20);
  const auto last_learner =
      std::find_if(order.rbegin(), order.rend(), [](const auto& who) { return who != "rude"; });
  const auto before = std::count(last_learner, order.rend(), "rude");
  std::printf("FIGURE %td of %d rude ones were done before the last learner\n", before, num_rude);
  EXPECT_LE(before, num_rude / 2) << "whoever repeats waits longer than all others";
}

TEST_F(LanesTest, OneAskerLeavesOthersTheirPlacesForLongWork) {
  auto lanes = Lanes::start({}).value();
  std::promise<void> go;
  const auto gate = go.get_future().share();
  const auto wait = [gate](Desk*) {
    gate.wait();
    return json_response("{}");
  };
  const auto ask = [&](const char* who) {
    return lanes->submit(Lane::kSlow, wait, [](Response) {}, {who, false});
  };
  int num_taken = 0;
  while (num_taken < 100 && ask("10.0.0.1")) ++num_taken;
  EXPECT_LE(num_taken, 5);
  EXPECT_TRUE(ask("10.0.0.2"));
  EXPECT_TRUE(ask("10.0.0.3"));
  go.set_value();
  lanes->finish();
}

TEST_F(LanesTest, ABadStoreIsSaidAtTheStart) {
  LaneOptions options;
  options.store = "sqlite:/nowhere/at/all/x.db";
  EXPECT_FALSE(Lanes::start(options));
}

}  // namespace
}  // namespace phren::app::server
