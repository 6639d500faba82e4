// A made-up learner for studies of the drill: knows each class of sound a little, learns by
// practice, forgets between days and mistakes one class for its look-alikes.
//
// The rules differ on purpose from those the drill believes in (exponential forgetting of log-odds
// here, a power law of recall there), so that the drill is not tested against its own mirror.
// Start: shares right of students as published where a class has a figure (bmjopenrespres
// 7/1/e000564: normal 17.1, wheezes 86.4, stridor 72.1, rub 3.2 %; Greek survey: fine 55.2, coarse
// 74.5, squawk 18.75 %; VERIFIED abstracts), else 40 % (ENGINEERING). Learning and forgetting
// rates: ENGINEERING.
#pragma once

#include <algorithm>
#include <cmath>
#include <map>
#include <string>
#include <vector>

#include "base/random.h"
#include "teaching/drill/skills.h"

namespace phren::teaching {

class SimulatedLearner {
 public:
  SimulatedLearner(const std::vector<Skill>& skills, Seed seed)
      : skills_(skills), random_(seed, "simulated learner") {
    static const std::map<std::string, double> kStart{{"normal", 0.171},
                                                      {"wheeze", 0.864},
                                                      {"stridor", 0.721},
                                                      {"fine_crackle", 0.552},
                                                      {"coarse_crackle", 0.745},
                                                      {"squawk", 0.1875},
                                                      {"pleural_friction_rub", 0.032}};
    for (const Skill& skill : skills) {
      const auto found = kStart.find(skill.id);
      const double share = found == kStart.end() ? 0.40 : found->second;
      Known k;
      k.start = k.log_odds = std::log(share / (1.0 - share)) + random_.normal(0.0, 0.5);
      k.rate = random_.log_normal(0.06, 0.4);
      k.half_life_days = random_.log_normal(2.0, 0.3);
      known_.push_back(k);
    }
  }

  double share_right(std::size_t skill, double time_days) const {
    return 1.0 / (1.0 + std::exp(-log_odds(skill, time_days)));
  }

  // What the learner says; feedback follows, so practice teaches either way.
  std::size_t hear(std::size_t skill, double time_days) {
    Known& k = known_[skill];
    const double now = log_odds(skill, time_days);
    const bool right = random_.chance(1.0 / (1.0 + std::exp(-now)));
    k.log_odds = now + k.rate * (kCeiling - now);
    k.last_days = time_days;
    k.half_life_days = std::min(60.0, k.half_life_days * 1.06);
    if (right) return skill;
    const auto& alike = skills_[skill].confusable;
    if (!alike.empty() && random_.chance(0.8)) {
      return alike[random_.below(static_cast<std::uint32_t>(alike.size()))];
    }
    auto other = random_.below(static_cast<std::uint32_t>(skills_.size() - 1));
    return other >= skill ? other + 1u : other;
  }

 private:
  static constexpr double kCeiling = 4.0;
  struct Known {
    double start = 0.0, log_odds = 0.0, rate = 0.0, half_life_days = 1.0, last_days = 0.0;
  };
  double log_odds(std::size_t skill, double time_days) const {
    const Known& k = known_[skill];
    const double kept = std::exp2(-(time_days - k.last_days) / k.half_life_days);
    return k.start + (k.log_odds - k.start) * kept;
  }

  const std::vector<Skill>& skills_;
  RandomStream random_;
  std::vector<Known> known_;
};

}  // namespace phren::teaching
