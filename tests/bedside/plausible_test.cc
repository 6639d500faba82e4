// Hands: 400 honest logs of simulated ones at human speed, and forty forged ones.
#include "bedside/plausible.h"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

#include "bedside/logs.h"

namespace phren::bedside {
namespace {

using exam::Aspect;

// An examiner's hands: pauses of log-normal length, as reaction and decision times are found to be
// (Luce, Response Times, 1986; from memory), places a little beside the site, habits of their own.
class Hands {
 public:
  explicit Hands(unsigned seed) : random_(seed), pace_(std::exp(0.35 * normal_(random_))) {}

  EncounterLog examine() {
    log_.header = {1, "e" + std::to_string(random_()), "asthma", 7, "test", ""};
    wait(6.0);
    if (chance(0.8)) act(Expose{});
    for (const Aspect aspect : {Aspect::kFront, Aspect::kBack}) listen_around(aspect);
    if (chance(0.5)) percuss();
    if (chance(0.4)) turn_over();
    for (const char* vital : {"spo2_percent", "respiratory_rate_per_min"}) {
      wait(3.0);
      act(Measure{vital, {}});
    }
    for (int i = 0; i < 3; ++i) report();
    if (chance(0.7)) treat();
    wait(8.0);
    act(Rank{{"asthma"}});
    wait(5.0);
    act(End{});
    return log_;
  }

 private:
  bool chance(double share) { return std::uniform_real_distribution<>(0.0, 1.0)(random_) < share; }
  // About `typical_s`, never faster than a hand reacts.
  void wait(double typical_s) {
    now_s_ += std::max(0.18, typical_s * pace_ * std::exp(0.45 * normal_(random_)));
  }
  void act(Deed deed) {
    EncounterAction action;
    action.id = "a" + std::to_string(random_());
    action.time_s = std::round(now_s_ * 1000.0) / 1000.0;
    action.deed = std::move(deed);
    log_.actions.push_back(std::move(action));
  }
  double near(double value) {
    return std::round((value + 0.03 * normal_(random_)) * 1000.0) / 1000.0;
  }

  void listen_around(Aspect aspect) {
    const int num_places = 3 + static_cast<int>(random_() % 4);
    const bool keeps_on = chance(0.5);
    for (int i = 0; i < num_places; ++i) {
      const double u = (i % 2 == 0 ? -0.6 : 0.6), v = 0.2 + 0.2 * (i / 2);
      act(Place{{aspect, near(u), near(v)}, 0.6});
      if (chance(0.2)) drag(aspect, u, v);
      wait(4.0);
      if (keeps_on && i + 1 < num_places) continue;
      act(Lift{});
      wait(1.2);
    }
  }
  void drag(Aspect aspect, double u, double v) {
    for (int step = 1; step <= 6; ++step) {
      now_s_ += 0.15 + 0.01 * std::abs(normal_(random_));
      act(Place{{aspect, near(u + 0.04 * step), near(v + 0.01 * step)}, 0.6});
    }
  }
  void percuss() {
    for (int i = 0; i < 8; ++i) {
      act(Tap{{Aspect::kFront, near(i % 2 == 0 ? -0.5 : 0.5), near(0.4)}});
      wait(0.45);
    }
  }
  void turn_over() {
    wait(3.0);
    act(SetPosture{patient::Posture::kLying});
    wait(6.0);
    act(SetPosture{patient::Posture::kSitting});
  }
  void report() {
    wait(6.0);
    exam::Finding finding;
    finding.id = "wheeze";
    finding.presence = exam::Presence::kPresent;
    act(Report{finding});
  }
  void treat() {
    wait(4.0);
    act(Treat{"inhaled_bronchodilator", exam::Side::kMidline});
    wait(30.0);
  }

  std::mt19937 random_;
  std::normal_distribution<> normal_;
  double pace_;
  double now_s_ = 0.0;
  EncounterLog log_;
};

std::vector<double> sent_at_once(const EncounterLog& log) {
  std::vector<double> stored_s;
  for (const EncounterAction& action : log.actions) stored_s.push_back(action.time_s + 0.3);
  return stored_s;
}
TEST(Plausible, HonestHandsAreNeverRefusedAndHardlyEverFlagged) {
  std::vector<EncounterLog> all;
  int num_refused = 0, num_flagged = 0;
  for (unsigned seed = 1; seed <= 400; ++seed) all.push_back(Hands(seed).examine());
  for (std::size_t i = 0; i < all.size(); ++i) {
    num_refused += taken(all[i]) ? 0 : 1;
    auto doubts = doubts_of(all[i], sent_at_once(all[i]));
    for (std::size_t j = i >= 3 ? i - 3 : 0; j < i; ++j) {
      for (auto& one : doubts_between(all[i], all[j], "another")) doubts.push_back(one);
    }
    num_flagged += doubts.empty() ? 0 : 1;
    if (!doubts.empty()) std::printf("seed %zu: %s\n", i + 1, rules_of(doubts).c_str());
  }
  std::printf("400 honest logs: %d refused, %d flagged\n", num_refused, num_flagged);
  EXPECT_EQ(num_refused, 0);
  EXPECT_LE(num_flagged, 4);
}

// ---- forging ----

EncounterLog with_times(EncounterLog log,
                        const std::function<double(std::size_t, double)>& time_of) {
  double last = 0.0;
  for (std::size_t i = 0; i < log.actions.size(); ++i) {
    const double t = std::max(last, time_of(i, log.actions[i].time_s));
    log.actions[i].time_s = last = std::round(t * 1000.0) / 1000.0;
  }
  return log;
}

struct Forged {
  const char* how;
  EncounterLog log;
  std::vector<double> stored_s;
};

std::vector<Forged> forge(unsigned seed, const std::vector<EncounterLog>& others) {
  const EncounterLog honest = Hands(1000 + seed).examine();
  const std::size_t count = honest.actions.size();
  const double end_s = honest.actions.back().time_s;
  std::vector<Forged> all;
  const auto add = [&](const char* how, EncounterLog log, std::vector<double> stored_s = {}) {
    if (stored_s.empty()) stored_s = sent_at_once(log);
    all.push_back({how, std::move(log), std::move(stored_s)});
  };
  // Written afterwards, at human pauses, and sent in one go.
  add("back-dated", honest, std::vector<double>(count, end_s + 1.0));
  // The same deeds in a tenth of the time; all within a millisecond; at even pauses.
  add("ten times too fast", with_times(honest, [](std::size_t, double t) { return 0.1 * t; }));
  add("within a millisecond", with_times(honest, [](std::size_t, double) { return 1.0; }));
  add("even pauses",
      with_times(honest, [](std::size_t i, double) { return 1.0 + 2.0 * static_cast<double>(i); }));
  // The chestpiece in front and at the back at once.
  EncounterLog both = honest;
  for (std::size_t i = 0, n = 0; i < both.actions.size(); ++i) {
    const auto* place = std::get_if<Place>(&both.actions[i].deed);
    if (place == nullptr || ++n % 2 == 0) continue;
    EncounterAction twin = both.actions[i];
    twin.id += "b";
    twin.time_s += 0.002;
    std::get<Place>(twin.deed).point.aspect =
        place->point.aspect == Aspect::kFront ? Aspect::kBack : Aspect::kFront;
    both.actions.insert(both.actions.begin() + static_cast<std::ptrdiff_t>(i) + 1, twin);
    ++i;
  }
  add("two places at once", both);
  // The findings before the examination, at the times that were there.
  EncounterLog turned = honest;
  for (std::size_t i = 0, j = count - 2; i < j; ++i, --j) {
    std::swap(turned.actions[i].deed, turned.actions[j].deed);
  }
  add("reordered", turned);
  // Another's log under ids of one's own; the first half of one and the second of another.
  EncounterLog theirs = others[seed % others.size()];
  for (std::size_t i = 0; i < theirs.actions.size(); ++i)
    theirs.actions[i].id = "m" + std::to_string(i);
  add("another's", theirs);
  EncounterLog spliced = theirs;
  const EncounterLog& second = others[(seed + 1) % others.size()];
  spliced.actions.resize(spliced.actions.size() / 2);
  const double from_s = spliced.actions.back().time_s;
  const std::size_t half = second.actions.size() / 2;
  for (std::size_t i = half; i < second.actions.size(); ++i) {
    EncounterAction action = second.actions[i];
    action.id = "n" + std::to_string(i);
    action.time_s += std::max(0.0, from_s - second.actions[half].time_s) + 1.0;
    spliced.actions.push_back(action);
  }
  add("spliced", spliced);
  return all;
}

TEST(Plausible, EachOfFortyForgedLogsIsRefusedOrFlagged) {
  std::vector<EncounterLog> others;
  for (unsigned seed = 1; seed <= 12; ++seed) others.push_back(Hands(seed).examine());
  int num_forged = 0, num_refused = 0, num_flagged = 0;
  for (unsigned seed = 0; seed < 5; ++seed) {
    for (const Forged& forged : forge(seed, others)) {
      ++num_forged;
      const Status ok = taken(forged.log);
      auto doubts = doubts_of(forged.log, forged.stored_s);
      for (const EncounterLog& other : others) {
        for (auto& one : doubts_between(forged.log, other, "another")) doubts.push_back(one);
      }
      num_refused += ok ? 0 : 1;
      num_flagged += ok && !doubts.empty() ? 1 : 0;
      EXPECT_TRUE(!ok || !doubts.empty()) << forged.how << ", seed " << seed;
      if (seed == 0) {
        std::printf("%s: %s\n", forged.how,
                    ok ? rules_of(doubts).c_str() : ok.error().message.c_str());
      }
    }
  }
  std::printf("%d forged logs: %d refused, %d flagged\n", num_forged, num_refused, num_flagged);
  EXPECT_EQ(num_forged, 40);
}

// What was accepted and passed in version 0.1.
TEST(Plausible, HundredTapsAndFortyPosturesInAMillisecondAreImpossible) {
  const auto all = [](const Deed& deed, int count) {
    std::vector<EncounterAction> list;
    for (int i = 0; i < count; ++i) list.push_back({"t" + std::to_string(i), 5.0 + 1e-5 * i, deed});
    return list;
  };
  EXPECT_FALSE(check_possible({}, all(Tap{{Aspect::kFront, 0.5, 0.5}}, 100)));
  EXPECT_FALSE(check_possible({}, all(SetPosture{}, 40)));
  EXPECT_FALSE(check_possible({}, all(Place{{Aspect::kFront, 0.5, 0.5}}, 50)));
  // Sent one by one it is no more possible.
  const auto before = all(Tap{{Aspect::kFront, 0.5, 0.5}}, 20);
  EXPECT_TRUE(check_possible({}, before));
  EXPECT_FALSE(check_possible(before, all(Tap{{Aspect::kFront, 0.5, 0.5}}, 1)));
  // A page whose sound the system has stopped gives several deeds the same time.
  EXPECT_TRUE(check_possible({}, all(Tap{{Aspect::kFront, 0.5, 0.5}}, 12)));
}

TEST(Plausible, SixPlacesOfFiftyMillisecondsAreShownToTheExaminer) {
  EncounterLog log;
  for (int i = 0; i < 6; ++i) {
    log.actions.push_back({"p" + std::to_string(i), 1.0 + 1.537 * i,
                           Place{{Aspect::kFront, i % 2 ? 0.5 : -0.5, 0.2 + 0.1 * i}}});
    log.actions.push_back({"l" + std::to_string(i), 1.05 + 1.537 * i, Lift{}});
  }
  EXPECT_NE(rules_of(doubts_of(log)).find("short_listening"), std::string::npos);
}

}  // namespace
}  // namespace phren::bedside
