// A device of a round: however late its lines come, it lives the same body and makes the same samples, and its
// log is an encounter log.
#include <gtest/gtest.h>

#include <algorithm>
#include <nlohmann/json.hpp>
#include <random>

#include "base/files.h"
#include "bedside/answers.h"
#include "bedside/log_text.h"
#include "bedside/replay.h"
#include "bedside/round_device.h"
#include "bedside/round_playout.h"
#include "teaching/library.h"

namespace phren::bedside {
namespace {

constexpr double kRate_hz = 16000.0;

const teaching::Library& library() {
  static const auto one = teaching::Library::load(data_directory()).value();
  return *one;
}
const Setup& setup() {
  static const Setup one = teaching::setup_of(library().get("asthma").value(), library().conditions,
                                              library().treatments, library().instruments)
                               .value();
  return one;
}
RoundDevice device() {
  return RoundDevice::make(setup(), Seed{7}, kRate_hz).value();
}

RoundLine line(std::int64_t seq, int take, std::int64_t step, Deed deed) {
  RoundLine one;
  one.seq = seq;
  one.take = take;
  one.step = step;
  one.person = "p1";
  one.deed = std::move(deed);
  return one;
}
RoundLine go_back(std::int64_t seq, int take, std::int64_t step) {
  RoundLine one = line(seq, take, step, End{});
  one.deed.reset();
  one.begins_take = true;
  return one;
}
std::vector<RoundLine> shared_lines() {
  return {line(1, 0, 256, SetPosture{patient::Posture::kLying}),
          line(2, 0, 300, Instruct{Manoeuvre::kDeep, 10.0}), line(3, 0, 300, Expose{}),
          line(4, 0, 700, Steer{0, 0.9, 5.0}),
          line(5, 0, 900, Treat{"oxygen", exam::Side::kMidline})};
}
const Place kBase{{exam::Aspect::kBack, -0.4, 0.85}};

using Samples = std::vector<float>;
void put(Samples& to, std::span<const float> sound) {
  to.insert(to.end(), sound.begin(), sound.end());
}

// Everything known from the beginning, in one go.
Samples in_one_go(std::int64_t steps) {
  RoundDevice one = device();
  Samples made;
  for (const RoundLine& each : shared_lines()) EXPECT_TRUE(one.hear(each));
  one.allow(0, steps, 5);
  one.own(kBase);
  while (one.may_step()) put(made, one.make_step());
  return made;
}

TEST(RoundDevice, LinesThatComeInPiecesGiveTheSameSamples) {
  const Samples whole = in_one_go(1200);
  RoundDevice late = device();
  Samples made;
  late.own(kBase);
  std::int64_t known = 0;
  for (const RoundLine& each : shared_lines()) {
    // As a server would: allowed up to the line, then the line, in uneven pieces.
    late.allow(0, each.step, known);
    while (late.may_step()) put(made, late.make_step());
    ASSERT_TRUE(late.hear(each));
    ASSERT_TRUE(late.hear(each)) << "a repeated line changes nothing";
    known = each.seq;
  }
  late.allow(0, 1200, known);
  while (late.may_step()) put(made, late.make_step());
  EXPECT_EQ(made, whole);
}

TEST(RoundDevice, AGapIsNamedAndNothingIsAllowedBeyondIt) {
  RoundDevice one = device();
  const auto lines = shared_lines();
  ASSERT_TRUE(one.hear(lines[0]));
  const auto gap = one.hear(lines[2]);
  ASSERT_FALSE(gap);
  EXPECT_NE(gap.error().message.find("line 2"), std::string::npos) << gap.error().message;
  one.allow(0, 5000, 3);
  EXPECT_FALSE(one.may_step()) << "lines up to 3 are not there";
  ASSERT_TRUE(one.hear(lines[1]));
  ASSERT_TRUE(one.hear(lines[2]));
  one.allow(0, 5000, 3);
  EXPECT_TRUE(one.may_step());
}

TEST(RoundDevice, CaughtUpDeafItIsTheSameBody) {
  RoundDevice heard = device(), deaf = device();
  for (const RoundLine& each : shared_lines()) {
    ASSERT_TRUE(heard.hear(each));
    ASSERT_TRUE(deaf.hear(each));
  }
  for (RoundDevice* one : {&heard, &deaf}) one->allow(0, 1280, 5);
  while (heard.may_step()) (void)heard.make_step();
  deaf.catch_up(1280);
  EXPECT_EQ(sum_of_state(heard.bedside()), sum_of_state(deaf.bedside()));
  ASSERT_TRUE(deaf.take_taken_up());
  const auto sum = heard.take_sum(), other = deaf.take_sum();
  ASSERT_TRUE(sum && other);
  EXPECT_EQ(sum->step, 1280);
  EXPECT_EQ(sum->sum, other->sum);
}

TEST(RoundDevice, SteeringChangesTheBody) {
  RoundDevice steered = device(), left = device();
  ASSERT_TRUE(steered.hear(line(1, 0, 128, Steer{0, 1.0, 0.0})));
  steered.allow(0, 128 * 120, 1);
  left.allow(0, 128 * 120, 0);
  steered.catch_up(128 * 120);
  left.catch_up(128 * 120);
  EXPECT_NE(sum_of_state(steered.bedside()), sum_of_state(left.bedside()));
  EXPECT_FALSE(steered.hear(line(2, 0, 200, Steer{9, 1.0, 0.0}))) << "there is no tenth illness";
}

// Gone back, what was done later has not been: as if the lines after the moment had never come.
TEST(RoundDevice, GoneBackItIsAsItWas) {
  RoundDevice one = device();
  for (const RoundLine& each : shared_lines()) ASSERT_TRUE(one.hear(each));
  one.allow(0, 1200, 5);
  while (one.may_step()) (void)one.make_step();
  ASSERT_TRUE(one.hear(go_back(6, 1, 500)));
  EXPECT_EQ(one.step(), 500);
  ASSERT_TRUE(one.hear(line(7, 1, 600, SetPosture{patient::Posture::kSitting})));
  one.allow(0, 2000, 7);
  EXPECT_FALSE(one.may_step()) << "the older take may not go on";
  one.allow(1, 1500, 7);
  one.catch_up(1500);

  RoundDevice fresh = device();
  const auto lines = shared_lines();
  for (std::size_t i = 0; i < 3; ++i) ASSERT_TRUE(fresh.hear(lines[i]));
  ASSERT_TRUE(fresh.hear(line(4, 0, 600, SetPosture{patient::Posture::kSitting})));
  fresh.allow(0, 1500, 4);
  fresh.catch_up(1500);
  EXPECT_EQ(sum_of_state(one.bedside()), sum_of_state(fresh.bedside()));
}

TEST(RoundDevice, ALineLaterThanPromisedIsLivedAfterAll) {
  RoundDevice one = device(), other = device();
  one.allow(0, 1000, 0);
  while (one.may_step()) (void)one.make_step();
  const RoundLine late = line(1, 0, 400, SetPosture{patient::Posture::kLying});
  ASSERT_TRUE(one.hear(late));
  ASSERT_TRUE(other.hear(late));
  other.allow(0, 1000, 1);
  other.catch_up(1000);
  EXPECT_EQ(sum_of_state(one.bedside()), sum_of_state(other.bedside()));
}

// What a person did and heard in a round is an encounter log: replayed, the same samples come out.
TEST(RoundLog, ReplayGivesTheSamplesOfEachTake) {
  RoundDevice one = device();
  std::vector<RoundLine> shared = shared_lines(), own;
  for (const RoundLine& each : shared) ASSERT_TRUE(one.hear(each));
  std::vector<Samples> by_step(2 * 2000);
  one.on_step([&](int take, std::int64_t step, std::span<const float> sound) {
    put(by_step[static_cast<std::size_t>(take * 2000 + step)], sound);
  });
  const auto do_own = [&](const Deed& deed) {
    own.push_back(one.own(deed));
    own.back().seq = static_cast<std::int64_t>(own.size());
  };
  const auto play_to = [&](std::int64_t step) {
    one.allow(one.take(), step, one.next_seq() - 1);
    while (one.may_step()) (void)one.make_step();
  };
  play_to(100);
  do_own(kBase);
  play_to(350);
  do_own(TurnHead{Head::kBell});
  play_to(1100);
  shared.push_back(go_back(6, 1, 640));
  ASSERT_TRUE(one.hear(shared.back()));
  ASSERT_TRUE(one.take_taken_up());
  do_own(TakeUp{});
  play_to(700);
  do_own(Place{{exam::Aspect::kFront, 0.6, 0.45}});
  play_to(1000);

  for (const int take : {0, 1}) {
    EncounterLog log;
    log.header.encounter_id = "e";
    log.header.case_id = "asthma";
    log.header.seed = 7;
    log.actions = encounter_of(shared, own, take, take == 0 ? 1100 : 1000);
    // By way of its text, as `phren replay` has it.
    const auto again = parse_log(to_text(log), "round");
    ASSERT_TRUE(again) << again.error().message;
    std::int64_t compared = 0;
    ReplayOptions options;
    options.sample_rate_hz = kRate_hz;
    options.on_sound = [&](double start_s, std::span<const float> sound) {
      const auto step = static_cast<std::int64_t>(start_s * 128.0 + 0.5);
      if (step >= (take == 0 ? 1100 : 1000) || (take == 1 && step < 640)) return;
      const Samples& played = by_step[static_cast<std::size_t>(take * 2000 + step)];
      ASSERT_TRUE(std::equal(played.begin(), played.end(), sound.begin(), sound.end()))
          << "take " << take << ", step " << step;
      ++compared;
    };
    const auto done = replay(again->log, setup(), library().sites, options);
    ASSERT_TRUE(done) << done.error().message;
    EXPECT_EQ(compared, take == 0 ? 1100 : 360);
    EXPECT_FALSE(done->stays.empty());
  }
}

// A phone's own debrief asks for its log; the answer is the server's.
TEST(RoundLog, APageGetsItsLogFromTheLinesThatCame) {
  const std::string shared = R"([{"n":1,"take":0,"step":0,"by":"p1","room":{"clock":"run"}},
    {"n":2,"take":0,"step":300,"by":"p1","do":"posture","posture":"lying"},
    {"n":3,"take":1,"step":200,"by":"p1","do":"go_back"}])";
  const std::string own =
      R"([{"n":1,"take":0,"step":64,"by":"p2","do":"place","aspect":"front","u":-0.6,"v":0.45},
    {"n":2,"take":0,"step":250,"by":"p2","do":"lift"},
    {"n":3,"take":1,"step":260,"by":"p2","do":"say","text":"worse"}])";
  const auto ask = [&](const std::string& take) {
    return answer(
        R"({"ask":"round_log","id":"e","case_id":"c","seed":"7","end_step":640,"shared":)" +
            shared + R"(,"own":)" + own + R"(,"take":)" + take + "}",
        library().sites, nullptr);
  };
  for (const int take : {0, 1}) {
    const auto got = ask(std::to_string(take));
    ASSERT_TRUE(got) << got.error().message;
    EncounterLog wanted;
    wanted.header.encounter_id = "e";
    wanted.header.case_id = "c";
    wanted.header.seed = 7;
    wanted.actions =
        encounter_of(parse_round_lines(shared).value(), parse_round_lines(own).value(), take, 640);
    EXPECT_EQ(wanted.actions.size(), 4U);  // place, lift, posture, end; place, take up, say, end
    EXPECT_EQ(nlohmann::json::parse(*got).get<std::string>(), to_text(wanted)) << take;
  }
  EXPECT_FALSE(ask("-1"));
  EXPECT_FALSE(ask("2000000000"));
}

TEST(RoundLog, AStepNamesTheIllnessOnlyToAPageThatKnowsIt) {
  const auto ask = [&](const std::string& labels) {
    return answer(
               R"({"ask":"steps","log":[{"id":"a","t":1,"do":"steer","condition":0,"severity":1,)"
               R"("seconds":60}],"labels":)" +
                   labels + "}",
               library().sites, nullptr)
        .value();
  };
  EXPECT_NE(ask(R"({"illness_1":"asthma"})").find("Asthma goes to 100 % in 60 s"),
            std::string::npos);
  EXPECT_NE(ask("{}").find("Illness 1 goes to 100 % in 60 s"), std::string::npos);
}

TEST(RoundPlayout, StopsAtWhatIsAllowedAndGoesOnWithoutLosingAStep) {
  RoundDevice one = device();
  std::vector<std::int64_t> steps;
  one.on_step([&](int, std::int64_t step, std::span<const float>) { steps.push_back(step); });
  RoundPlayout playout;
  std::vector<float> out(320);  // 20 ms
  std::mt19937 random(5);
  std::int64_t allowed = 0;
  for (int i = 0; i < 300; ++i) {
    // News comes unevenly, sometimes for half a second not at all.
    if (random() % 10 < 4 && (i / 25) % 3 != 2) {
      allowed = std::int64_t{i} * 128 / 50;
      one.allow(0, allowed, 0);
    }
    playout.render(one, out);
    EXPECT_LE(one.step(), allowed);
  }
  ASSERT_GT(steps.size(), 500U);
  for (std::size_t i = 0; i < steps.size(); ++i) {
    ASSERT_EQ(steps[i], static_cast<std::int64_t>(i)) << "every step once, in order";
  }
}

TEST(PossibleIllness, IsAbsentUntilItIsBroughtIn) {
  const auto base = library().get("asthma");
  const auto more = library().get("asthma__tension_pneumothorax-right");
  ASSERT_TRUE(base);
  ASSERT_TRUE(more) << more.error().message;
  EXPECT_EQ(more->id, "asthma__tension_pneumothorax-right");
  EXPECT_EQ(more->patient.conditions.size(), base->patient.conditions.size() + 1);
  EXPECT_FALSE(library().get("asthma__no_such_thing").has_value() &&
               teaching::setup_of(*library().get("asthma__no_such_thing"), library().conditions,
                                  library().treatments, library().instruments)
                   .has_value());
  const auto setup =
      teaching::setup_of(*more, library().conditions, library().treatments, library().instruments)
          .value();
  const auto index = static_cast<int>(setup.patient.conditions.size()) - 1;
  auto left = RoundDevice::make(setup, Seed{3}, kRate_hz).value();
  auto ill = RoundDevice::make(setup, Seed{3}, kRate_hz).value();
  ASSERT_TRUE(ill.hear(line(1, 0, 128, Steer{index, 0.8, 0.0})));
  left.allow(0, 128 * 180, 0);
  ill.allow(0, 128 * 180, 1);
  left.catch_up(128 * 180);
  ill.catch_up(128 * 180);
  EXPECT_NEAR(left.bedside().now().pleura[0].gas_L, 0.0, 0.02);
  EXPECT_GT(ill.bedside().now().pleura[0].gas_L, 0.1);
}

}  // namespace
}  // namespace phren::bedside
