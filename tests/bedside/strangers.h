// Learners who are not those that the rules of plausible.h were set by (plausible_test.cc): beginners to experts,
// mouse, finger and keys, other laws of time, the slips that people make.
#pragma once

#include <algorithm>
#include <cmath>
#include <random>
#include <string>
#include <vector>

#include "bedside/log_text.h"

namespace phren::bedside {

struct Arrived {
  EncounterLog log;
  std::vector<double> stored_s;
};

// Times of a deed are a normal plus an exponential part (ex-Gaussian, as in Ratcliff, Psychological Bulletin
// 1979;86:446; from memory), listening lasts whole breaths, thinking has a long tail.
class Stranger {
 public:
  explicit Stranger(unsigned seed) : random_(seed) {
    skill_ = unit();
    device_ = static_cast<int>(random_() % 3);
    breath_s_ = 60.0 / (12.0 + 22.0 * unit());
    breaths_ = 1.0 + 2.5 * unit() * (1.3 - skill_);
    reach_s_ = 0.35 + 1.4 * (1.0 - skill_) * unit();
    think_s_ = 0.8 + 7.0 * (1.0 - skill_) * unit();
    slides_ = chance(0.25);
  }

  Arrived examine() {
    log_.header = {1, "s" + std::to_string(random_()), "asthma", 7, "test", ""};
    spend(2.0 + think_s_);
    if (chance(0.1)) report_all({"stridor"});  // heard from the door
    if (chance(0.8)) act(Expose{}, reach_s_);
    measure();
    std::vector<exam::Aspect> sides{exam::Aspect::kFront, exam::Aspect::kBack};
    if (chance(0.5)) std::swap(sides[0], sides[1]);
    if (chance(0.2)) sides.pop_back();
    for (const exam::Aspect side : sides) listen(side);
    if (chance(0.4)) percuss();
    if (chance(0.4)) turn();
    if (chance(0.3)) instruct();
    if (chance(0.6)) treat();
    if (chance(0.3)) listen(sides[0]);
    report_all(
        {"wheeze", "crackles", "absent_sounds", "prolonged_expiration", "cyanosis", "retractions"});
    if (chance(0.8)) act(Rank{{"asthma"}}, think_s_ + 2.0);
    act(End{}, reach_s_ + 1.0);
    return {log_, arrivals()};
  }

 private:
  double unit() { return std::uniform_real_distribution<>(0.0, 1.0)(random_); }
  bool chance(double share) { return unit() < share; }
  // Mostly about `typical_s`; once in a while a long thought.
  void spend(double typical_s) {
    const double steady = typical_s * (0.6 + 0.12 * normal_(random_));
    const double rest = typical_s * 0.4 * -std::log(1.0 - unit());
    const double thought = chance(0.03) ? think_s_ * std::pow(1.0 - unit(), -0.7) : 0.0;
    now_s_ += std::max(0.12, steady + rest) + std::min(60.0, thought);
  }
  // A page stamps the step at which the body felt it, cut to the millisecond.
  void act(Deed deed, double after_s = 0.0) {
    if (after_s > 0.0) spend(after_s);
    const double step_s = std::ceil(now_s_ * 128.0) / 128.0;
    log_.actions.push_back(
        {"a" + std::to_string(random_()), std::floor(step_s * 1000.0) / 1000.0, std::move(deed)});
  }
  // Keys go to the sites themselves; a mouse beside them; a finger further.
  double beside(double value) {
    const double spread = device_ == 0 ? 0.0 : device_ == 1 ? 0.04 : 0.07;
    return std::round((value + spread * normal_(random_)) * 1000.0) / 1000.0;
  }

  void listen(exam::Aspect side) {
    static constexpr double kSites[][2] = {{-0.45, 0.15}, {0.45, 0.15}, {-0.5, 0.4},  {0.5, 0.4},
                                           {-0.55, 0.62}, {0.55, 0.62}, {-0.8, 0.55}, {0.8, 0.55}};
    const std::size_t count = 2 + static_cast<std::size_t>((2.0 + 5.0 * skill_) * unit());
    const bool keeps_on = chance(0.4);
    for (std::size_t i = 0; i < count; ++i) {
      exam::TorsoPoint at{side, beside(kSites[i % 8][0]), beside(kSites[i % 8][1])};
      if (chance(0.04)) slip(at);
      if (slides_ && i > 0 && keeps_on) slide(at);
      act(Place{at, 0.6}, reach_s_);
      if (device_ == 2) wobble(at);
      spend(breath_s_ * std::max(1.0, std::round(breaths_ + 0.5 * normal_(random_))));
      last_ = at;
      if (!keeps_on || i + 1 == count) act(Lift{});
      if (chance(0.05)) instruct();
    }
  }
  // A touch by mistake.
  void slip(const exam::TorsoPoint& near) {
    act(Place{{near.aspect, beside(-near.u), near.v}, 0.6}, reach_s_);
    now_s_ += 0.1 + 0.3 * unit();
    act(Lift{});
  }
  // A finger that does not lie still.
  void wobble(exam::TorsoPoint at) {
    for (std::size_t n = random_() % 3; n > 0; --n) {
      now_s_ += 0.15 + 0.3 * unit();
      at.u += 0.01 * normal_(random_);
      act(Place{at, 0.6});
    }
  }
  // From the last place to this one without lifting: 15 to 50 cm a second, at most seven places in it.
  void slide(const exam::TorsoPoint& to) {
    if (last_.aspect != to.aspect) return;
    const double way_cm = std::hypot(14.0 * (to.u - last_.u), 20.0 * (to.v - last_.v));
    const double takes_s = way_cm / (15.0 + 35.0 * unit());
    spend(reach_s_);
    for (double t = 0.0; t < takes_s;) {
      const double pause_s = 0.15 + 0.03 * unit();
      t += pause_s;
      now_s_ += pause_s;
      const double share = std::min(1.0, t / takes_s);
      act(Place{{to.aspect, last_.u + share * (to.u - last_.u), last_.v + share * (to.v - last_.v)},
                0.6});
    }
  }
  void percuss() {
    const bool twice = skill_ > 0.5;
    for (std::size_t i = 0, n = 4 + random_() % 10; i < n; ++i) {
      const exam::TorsoPoint at{exam::Aspect::kFront, beside(i % 2 ? 0.5 : -0.5), beside(0.3)};
      act(Tap{at}, 0.3 + 0.5 * (1.0 - skill_));
      if (!twice) continue;
      now_s_ += 0.16 + 0.1 * unit();
      act(Tap{at});
    }
  }
  void turn() {
    act(SetPosture{patient::Posture::kLying}, think_s_ + reach_s_);
    if (chance(0.1)) act(SetPosture{patient::Posture::kReclined}, 0.5);  // the wrong button
    act(SetPosture{patient::Posture::kSitting}, 4.0 + think_s_);
  }
  void instruct() { act(Instruct{patient::Manoeuvre::kDeep, 20.0}, reach_s_); }
  void measure() {
    for (const char* vital : {"spo2_percent", "respiratory_rate_per_min", "heart_rate_per_min"}) {
      if (chance(0.6)) act(Measure{vital, {}}, reach_s_ + 0.3 * think_s_);
    }
  }
  void treat() {
    act(Treat{"inhaled_bronchodilator", exam::Side::kMidline}, think_s_);
    if (chance(0.3)) act(StopTreatment{"inhaled_bronchodilator"}, 20.0);
  }
  // Down a list of buttons.
  void report_all(const std::vector<const char*>& ids) {
    spend(think_s_);
    for (const char* id : ids) {
      if (!chance(0.7)) continue;
      exam::Finding finding;
      finding.id = id;
      finding.presence = chance(0.5) ? exam::Presence::kPresent : exam::Presence::kAbsent;
      if (finding.id == "cyanosis" || finding.id == "retractions")
        finding.basis = exam::Basis::kSeen;
      act(Report{finding}, 0.5 + 0.4 * think_s_);
    }
  }
  // The network: a fraction of a second, now and then more; one in 200 is off it for half a minute.
  std::vector<double> arrivals() {
    std::vector<double> list;
    const double gone_s = chance(0.005) ? log_.actions.back().time_s * unit() : -1.0;
    for (const EncounterAction& action : log_.actions) {
      double at_s = action.time_s + 0.05 + 0.15 * -std::log(1.0 - unit()) +
                    (chance(0.01) ? 5.0 * unit() : 0.0);
      if (gone_s >= 0.0 && at_s > gone_s) at_s = std::max(at_s, gone_s + 40.0);
      list.push_back(list.empty() ? at_s : std::max(at_s, list.back()));
    }
    return list;
  }

  std::mt19937 random_;
  std::normal_distribution<> normal_;
  double skill_ = 0.5, breath_s_ = 4.0, breaths_ = 2.0, reach_s_ = 1.0, think_s_ = 2.0,
         now_s_ = 0.0;
  int device_ = 0;  // keys, mouse, finger
  bool slides_ = false;
  exam::TorsoPoint last_;
  EncounterLog log_;
};

}  // namespace phren::bedside
