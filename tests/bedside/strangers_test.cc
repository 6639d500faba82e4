// Learners and forgers that the rules of plausible.h were not set by: 400 honest logs, and forty forged ones of the
// six kinds, by somebody who takes some trouble.
#include "bedside/strangers.h"

#include <gtest/gtest.h>

#include <functional>
#include <map>

#include "bedside/logs.h"

namespace phren::bedside {
namespace {

constexpr std::size_t kHonest = 400;

bool is_afar(std::string_view id) {
  return id == "stridor";
}

const std::vector<Arrived>& honest() {
  static const auto all = [] {
    std::vector<Arrived> list;
    for (unsigned seed = 1; seed <= kHonest; ++seed)
      list.push_back(Stranger(9000 + seed).examine());
    return list;
  }();
  return all;
}

// What is odd in it, held against some of the others of the station too.
std::vector<Doubt> all_doubts(const Arrived& one, std::size_t from, std::size_t to) {
  auto doubts = doubts_of(one.log, one.stored_s, is_afar);
  for (std::size_t i = from; i < to; ++i) {
    for (auto& more : doubts_between(one.log, honest()[i].log, "another")) doubts.push_back(more);
  }
  return doubts;
}

TEST(StrangersSlow, HonestOnesAreNeverRefusedAndHardlyEverFlagged) {
  int num_refused = 0, num_flagged = 0;
  for (std::size_t i = 0; i < kHonest; ++i) {
    num_refused += taken(honest()[i].log) ? 0 : 1;
    const auto doubts = all_doubts(honest()[i], i < 29 ? 0 : i - 29, i);  // a class of thirty
    num_flagged += doubts.empty() ? 0 : 1;
    if (!doubts.empty()) std::printf("honest %zu: %s\n", i + 1, rules_of(doubts).c_str());
  }
  std::printf("%zu honest strangers: %d refused, %d flagged\n", kHonest, num_refused, num_flagged);
  EXPECT_EQ(num_refused, 0);
  EXPECT_LE(num_flagged, 4);
}

// ---- forging ----

using Times = std::vector<double>;

// The forger's own random numbers.
class Forger {
 public:
  explicit Forger(unsigned seed) : random_(seed) {}
  double unit() { return std::uniform_real_distribution<>(0.0, 1.0)(random_); }
  double normal() { return normal_(random_); }
  std::mt19937& random() { return random_; }

  static Times at_once(const EncounterLog& log, double every_s) {
    Times list;
    for (const EncounterAction& action : log.actions) {
      list.push_back(std::ceil((action.time_s + 0.5) / every_s) * every_s);
    }
    return list;
  }
  Times as_it_goes(const EncounterLog& log) {
    Times list;
    for (const EncounterAction& action : log.actions) list.push_back(action.time_s + 0.2 * unit());
    return list;
  }

  // Own ids; times in order.
  Arrived sent(EncounterLog log, Times stored_s = {}) {
    std::stable_sort(log.actions.begin(), log.actions.end(),
                     [](const auto& a, const auto& b) { return a.time_s < b.time_s; });
    for (EncounterAction& action : log.actions) {
      action.id = "f" + std::to_string(random_());
      action.time_s = std::max(0.0, std::floor(action.time_s * 1000.0) / 1000.0);
    }
    if (stored_s.empty()) stored_s = as_it_goes(log);
    return {std::move(log), std::move(stored_s)};
  }

  // Written afterwards: all at the end, or in batches of half a minute and more.
  Arrived back_dated(const EncounterLog& log, unsigned n) {
    const double end_s = log.actions.back().time_s + 1.0;
    return sent(log, at_once(log, n % 3 == 0 ? end_s : n % 3 == 1 ? end_s / 2.0 : 60.0));
  }
  // Four to thirty times too fast.
  Arrived too_fast(EncounterLog log, unsigned n) {
    const double share = std::array{0.25, 0.2, 0.15, 0.1, 0.06, 0.03, 0.2}[n % 7];
    for (EncounterAction& action : log.actions) action.time_s *= share;
    return sent(std::move(log));
  }
  // Two devices at one encounter.
  Arrived two_places(EncounterLog log, const EncounterLog& other) {
    const double end_s = log.actions.back().time_s;
    for (const EncounterAction& action : other.actions) {
      if (action.time_s < end_s && !std::holds_alternative<End>(action.deed)) {
        log.actions.push_back(action);
      }
    }
    return sent(std::move(log));
  }
  // The deeds in another order at the times that were there: shuffled, turned round, or the findings first.
  Arrived reordered(EncounterLog log, unsigned n) {
    std::vector<Deed> deeds;
    for (EncounterAction& action : log.actions) deeds.push_back(action.deed);
    deeds.pop_back();  // the end stays
    if (n % 3 == 0) std::shuffle(deeds.begin(), deeds.end(), random_);
    if (n % 3 == 1) std::reverse(deeds.begin(), deeds.end());
    if (n % 3 == 2) {
      std::stable_partition(deeds.begin(), deeds.end(), [](const Deed& deed) {
        return std::holds_alternative<Report>(deed) || std::holds_alternative<Rank>(deed);
      });
    }
    for (std::size_t i = 0; i < deeds.size(); ++i) log.actions[i].deed = deeds[i];
    return sent(std::move(log));
  }
  // Another's, with more and more care: as it is, later, times and places moved a little, a little slower, some
  // deeds left out.
  Arrived anothers(EncounterLog log, unsigned n) {
    double late_s = 0.0;
    std::vector<EncounterAction> kept;
    for (std::size_t i = 0; i < log.actions.size(); ++i) {
      EncounterAction action = log.actions[i];
      const bool is_end = i + 1 == log.actions.size();
      if (n == 6 && i % 7 == 5 && std::holds_alternative<Measure>(action.deed) && !is_end) continue;
      if (n == 1) action.time_s += 12.0;
      if (n == 2 || n >= 5) action.time_s += late_s = 0.03 * normal();
      if (n == 3 || n >= 5) move(action.deed);
      if (n == 4) action.time_s *= 1.03;
      kept.push_back(action);
    }
    log.actions = std::move(kept);
    return sent(std::move(log));
  }
  // The first half of one and the second of another.
  Arrived spliced(EncounterLog log, const EncounterLog& second, unsigned n) {
    log.actions.resize(log.actions.size() / 2);
    const std::size_t half = second.actions.size() / 2;
    const double shift_s = log.actions.back().time_s + 2.0 + unit() - second.actions[half].time_s;
    for (std::size_t i = half; i < second.actions.size(); ++i) {
      EncounterAction action = second.actions[i];
      action.time_s += shift_s;
      if (n >= 3) move(action.deed);
      log.actions.push_back(action);
    }
    return sent(std::move(log));
  }

 private:
  void move(Deed& deed) {
    auto* place = std::get_if<Place>(&deed);
    if (place == nullptr) return;
    place->point.u += 0.01 * normal();
    place->point.v += 0.01 * normal();
  }
  std::mt19937 random_;
  std::normal_distribution<> normal_;
};

struct Kind {
  const char* how;
  unsigned count;
  std::function<Arrived(Forger&, const EncounterLog& own, const EncounterLog& a,
                        const EncounterLog& b, unsigned n)>
      make;
};
const std::vector<Kind> kKinds{
    {"back-dated", 7,
     [](Forger& f, auto& own, auto&, auto&, unsigned n) { return f.back_dated(own, n); }},
    {"too fast", 7,
     [](Forger& f, auto& own, auto&, auto&, unsigned n) { return f.too_fast(own, n); }},
    {"two places at once", 6,
     [](Forger& f, auto& own, auto& a, auto&, unsigned) { return f.two_places(own, a); }},
    {"reordered", 7,
     [](Forger& f, auto& own, auto&, auto&, unsigned n) { return f.reordered(own, n); }},
    {"another's", 7, [](Forger& f, auto&, auto& a, auto&, unsigned n) { return f.anothers(a, n); }},
    {"spliced", 6,
     [](Forger& f, auto&, auto& a, auto& b, unsigned n) { return f.spliced(a, b, n); }}};

// Logs long enough to be worth forging: ten deeds and more.
const EncounterLog& any_of_station(Forger& forger) {
  for (;;) {
    const auto& log = honest()[forger.random()() % 30].log;
    if (log.actions.size() >= 24) return log;
  }
}

TEST(StrangersSlow, EachOfFortyForgedLogsIsRefusedOrFlagged) {
  int num_forged = 0, num_refused = 0, num_flagged = 0;
  for (const Kind& kind : kKinds) {
    int caught = 0;
    for (unsigned n = 0; n < kind.count; ++n, ++num_forged) {
      Forger forger(700 + 31 * static_cast<unsigned>(num_forged));
      // The forger's own run is none of the station's.
      EncounterLog own;
      while (own.actions.size() < 24)
        own = Stranger(static_cast<unsigned>(forger.random()())).examine().log;
      const EncounterLog &a = any_of_station(forger), &b = any_of_station(forger);
      const Arrived forged = kind.make(forger, own, a, b, n);
      const Status ok = taken(forged.log);
      const auto doubts = all_doubts(forged, 0, 30);
      num_refused += ok ? 0 : 1;
      num_flagged += ok && !doubts.empty() ? 1 : 0;
      caught += !ok || !doubts.empty() ? 1 : 0;
      EXPECT_TRUE(!ok || !doubts.empty()) << kind.how << " " << n;
      std::printf("%s %u: %s\n", kind.how, n,
                  ok ? rules_of(doubts).c_str() : ok.error().message.c_str());
    }
  }
  std::printf("%d forged logs: %d refused, %d flagged\n", num_forged, num_refused, num_flagged);
  EXPECT_EQ(num_forged, 40);
}

}  // namespace
}  // namespace phren::bedside
