#include "bedside/plausible.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>

#include "bedside/log_text.h"

namespace phren::bedside {
namespace {

// Impossible: this many deeds of hands within this time.
constexpr std::size_t kMostInWindow = 20;
constexpr double kWindow_s = 1.0;
constexpr std::size_t kMostPosturesInWindow = 5;

// Odd.
constexpr double kSameTouch_cm = 5.0;    // nearer than that the chestpiece is only moved a little
constexpr double kShortTouch_s = 0.7;    // no breath is heard in it
constexpr double kLeastTravel_s = 0.15;  // from one place to another
constexpr double kLeastTurn_s = 0.4;     // and to another side of the chest
constexpr double kLeastPosture_s = 1.0;  // a patient turns over
constexpr double kLongestLag_s =
    20.0;  // pages send at once; so long after, nobody has seen it happen
// A line that falters for a moment brings less at once than this.
constexpr std::size_t kFewInBatch = 4;
constexpr double kBatchSpan_s = 10.0;
constexpr std::size_t kFewDeeds = 8;  // below this nothing is said about a habit
constexpr double kSteadyShare =
    0.08;                             // spread of the pauses over their mean; people's is above 0.3
constexpr double kLeastPace_s = 1.4;  // for each deed, over a whole examination
constexpr double kSlide_s = 0.3;      // pages send a chestpiece that slides every 0.15 s
constexpr double kOneMoment_s = 0.8;  // a pair of taps, a wobble: within this at about one place
constexpr double kFastestSlide_cm_per_s = 150.0;
constexpr double kTellingPause_s = 0.6;  // shorter ones are alike in everybody
constexpr int kCopiedPauses = 7, kNearlyCopiedPauses = 11;
constexpr double kCopiedPause_s = 0.12, kNearPause_share = 0.04, kNearPlace_cm = 2.0;
constexpr double kEnoughToReport_s = 1.0;  // of listening before a sound is reported

bool is_of_hands(const Deed& deed) {
  return std::holds_alternative<Place>(deed) || std::holds_alternative<Tap>(deed) ||
         std::holds_alternative<Expose>(deed) || std::holds_alternative<Cover>(deed) ||
         std::holds_alternative<SetPosture>(deed) || std::holds_alternative<Treat>(deed) ||
         std::holds_alternative<StopTreatment>(deed) || std::holds_alternative<TurnHead>(deed);
}
bool is_posture(const Deed& deed) {
  return std::holds_alternative<SetPosture>(deed);
}

// Half breadth and height of the chest, as in performance.cc; between sides there is no straight way.
double distance_cm(const exam::TorsoPoint& a, const exam::TorsoPoint& b) {
  return std::hypot(14.0 * (a.u - b.u), 20.0 * (a.v - b.v));
}
bool is_elsewhere(const exam::TorsoPoint& a, const exam::TorsoPoint& b) {
  return a.aspect != b.aspect || distance_cm(a, b) > kSameTouch_cm;
}

// The chestpiece on the skin at about one place, or sliding, from putting it there to taking it away.
struct Touch {
  exam::TorsoPoint point;
  std::string action_id;
  double start_s = 0.0, end_s = 0.0;
};

// Whether the chestpiece slid there without leaving the skin, at the speed of a hand.
bool is_slide(const exam::TorsoPoint& from, const exam::TorsoPoint& to, double takes_s) {
  return from.aspect == to.aspect && takes_s > 0.0 && takes_s <= kSlide_s &&
         distance_cm(from, to) <= kFastestSlide_cm_per_s * takes_s;
}

std::vector<Touch> touches_of(const EncounterLog& log) {
  std::vector<Touch> list;
  bool is_down = false;
  exam::TorsoPoint last;
  double last_s = 0.0;
  for (const EncounterAction& action : log.actions) {
    const auto* place = std::get_if<Place>(&action.deed);
    const bool lifts = std::holds_alternative<Lift>(action.deed) ||
                       std::holds_alternative<End>(action.deed) ||
                       std::holds_alternative<TakeUp>(action.deed);
    if (is_down) list.back().end_s = action.time_s;
    if (lifts) is_down = false;
    if (place == nullptr) continue;
    if (is_down && is_slide(last, place->point, action.time_s - last_s)) {
      list.back().point = place->point;
    } else if (!is_down || is_elsewhere(place->point, list.back().point)) {
      list.push_back({place->point, action.id, action.time_s, action.time_s});
    }
    is_down = true;
    last = place->point;
    last_s = action.time_s;
  }
  return list;
}

using Doubts = std::vector<Doubt>;

void doubt_listening(const std::vector<Touch>& touches, Doubts& doubts) {
  std::size_t num_short = 0;
  const Touch* first = nullptr;
  for (const Touch& touch : touches) {
    if (touch.end_s - touch.start_s >= kShortTouch_s) continue;
    ++num_short;
    if (first == nullptr) first = &touch;
  }
  if (num_short < 3 || 2 * num_short < touches.size()) return;
  doubts.push_back(
      {"short_listening", first->action_id, first->start_s,
       fmt::format("at {} of {} places the chestpiece lay for less than {} s: no breath "
                   "is heard in that",
                   num_short, touches.size(), kShortTouch_s)});
}

void doubt_travel(const std::vector<Touch>& touches, Doubts& doubts) {
  int num_fast = 0;
  const Touch* first = nullptr;
  for (std::size_t i = 1; i < touches.size(); ++i) {
    const double way_s = touches[i].start_s - touches[i - 1].end_s;
    const double stay_s = touches[i - 1].end_s - touches[i - 1].start_s;
    const bool turns = touches[i].point.aspect != touches[i - 1].point.aspect;
    // A touch of a screen lifts and places at once; what counts is that it is not done again at once.
    if (way_s + stay_s >= (turns ? kLeastTurn_s : kLeastTravel_s)) continue;
    ++num_fast;
    if (first == nullptr) first = &touches[i];
  }
  if (num_fast < 2) return;
  doubts.push_back(
      {"travel", first->action_id, first->start_s,
       fmt::format("{} times the chestpiece was at another place sooner than a hand can "
                   "bring it there",
                   num_fast)});
}

void doubt_postures(const EncounterLog& log, Doubts& doubts) {
  std::optional<double> last_s;
  int num_fast = 0;
  const EncounterAction* first = nullptr;
  for (const EncounterAction& action : log.actions) {
    if (!is_posture(action.deed)) continue;
    if (last_s && action.time_s - *last_s < kLeastPosture_s) {
      ++num_fast;
      if (first == nullptr) first = &action;
    }
    last_s = action.time_s;
  }
  if (num_fast < 2) return;
  doubts.push_back(
      {"postures", first->id, first->time_s,
       fmt::format("{} times the patient was turned over within {} s of the time before", num_fast,
                   kLeastPosture_s)});
}

const exam::TorsoPoint* point_of(const Deed& deed) {
  if (const auto* place = std::get_if<Place>(&deed)) return &place->point;
  if (const auto* tap = std::get_if<Tap>(&deed)) return &tap->point;
  return nullptr;
}

// Whether the second only goes on with what the hand did in the first: one slide along the skin, a
// finger that wobbles, the second tap of a pair.
bool goes_on(const EncounterAction& first, const EncounterAction& second) {
  if (first.deed.index() != second.deed.index()) return false;
  const auto *from = point_of(first.deed), *to = point_of(second.deed);
  if (from == nullptr || to == nullptr) return false;
  const double pause_s = second.time_s - first.time_s;
  if (std::holds_alternative<Place>(second.deed) && pause_s < kSlide_s) return true;
  return pause_s < kOneMoment_s && !is_elsewhere(*from, *to);
}

// Deeds one after another, those of one movement taken as one.
std::vector<const EncounterAction*> moments_of(const EncounterLog& log) {
  std::vector<const EncounterAction*> list;
  const EncounterAction* last = nullptr;
  for (const EncounterAction& action : log.actions) {
    if (std::holds_alternative<Lift>(action.deed) || std::holds_alternative<End>(action.deed))
      continue;
    if (last == nullptr || !goes_on(*last, action)) list.push_back(&action);
    last = &action;
  }
  return list;
}

void doubt_clockwork(const EncounterLog& log, Doubts& doubts) {
  const auto moments = moments_of(log);
  if (moments.size() < kFewDeeds) return;
  bool are_round = true;
  double sum = 0.0, squares = 0.0;
  for (std::size_t i = 0; i < moments.size(); ++i) {
    const double tenths = moments[i]->time_s * 10.0;
    are_round = are_round && std::abs(tenths - std::round(tenths)) < 1e-6;
    if (i == 0) continue;
    const double pause_s = moments[i]->time_s - moments[i - 1]->time_s;
    sum += pause_s;
    squares += pause_s * pause_s;
  }
  const auto count = static_cast<double>(moments.size() - 1);
  const double mean_s = sum / count;
  const double spread_s = std::sqrt(std::max(0.0, squares / count - mean_s * mean_s));
  const bool is_steady = mean_s > 0.0 && spread_s < kSteadyShare * mean_s;
  if (!are_round && !is_steady) return;
  doubts.push_back(
      {"clockwork", moments.front()->id, moments.front()->time_s,
       are_round ? fmt::format("all {} deeds fall on whole tenths of a second", moments.size())
                 : fmt::format("all pauses are {:.2f} s but for {:.2f} s: a hand is not "
                               "as even",
                               mean_s, spread_s)});
}

void doubt_pace(const EncounterLog& log, Doubts& doubts) {
  const auto moments = moments_of(log);
  if (moments.size() < kFewDeeds) return;
  const double all_s = log.actions.back().time_s - moments.front()->time_s;
  if (all_s >= kLeastPace_s * static_cast<double>(moments.size())) return;
  doubts.push_back(
      {"pace", moments.front()->id, moments.front()->time_s,
       fmt::format("{} deeds within {:.0f} s: less than {} s for each, listening included",
                   moments.size(), all_s, kLeastPace_s)});
}

bool is_about_sound(const Report& report) {
  return report.finding.basis == exam::Basis::kHeard;
}

void doubt_reports(const EncounterLog& log,
                   const std::function<bool(std::string_view)>& is_heard_from_afar,
                   Doubts& doubts) {
  double listened_s = 0.0, since_s = 0.0;
  bool is_down = false;
  for (const EncounterAction& action : log.actions) {
    if (is_down) listened_s += action.time_s - since_s;
    since_s = action.time_s;
    if (std::holds_alternative<Place>(action.deed)) is_down = true;
    if (std::holds_alternative<Lift>(action.deed)) is_down = false;
    const auto* report = std::get_if<Report>(&action.deed);
    if (report == nullptr || !is_about_sound(*report) || listened_s >= kEnoughToReport_s) continue;
    if (is_heard_from_afar && is_heard_from_afar(report->finding.id)) continue;
    doubts.push_back({"unheard", action.id, action.time_s,
                      fmt::format("a sound is reported after {:.1f} s of listening", listened_s)});
    return;
  }
}

void doubt_order(const EncounterLog& log, Doubts& doubts) {
  bool is_down = false;
  // What the crew before had begun may be stopped once without having been begun here.
  std::vector<std::string> running, stopped;
  for (const EncounterAction& action : log.actions) {
    std::string what;
    if (std::holds_alternative<Lift>(action.deed) && !is_down)
      what = "the chestpiece is lifted twice";
    if (std::holds_alternative<Lift>(action.deed)) is_down = false;
    if (std::holds_alternative<Place>(action.deed)) is_down = true;
    if (const auto* treat = std::get_if<Treat>(&action.deed))
      running.push_back(treat->treatment_id);
    if (const auto* stop = std::get_if<StopTreatment>(&action.deed)) {
      const auto found = std::find(running.begin(), running.end(), stop->treatment_id);
      const bool was_on = found != running.end();
      if (!was_on && std::count(stopped.begin(), stopped.end(), stop->treatment_id) > 0)
        what = "a treatment is stopped that was not begun";
      if (was_on) running.erase(found);
      stopped.push_back(stop->treatment_id);
    }
    if (what.empty()) continue;
    doubts.push_back({"order", action.id, action.time_s, what + ": the pages send no such thing"});
    return;
  }
}

// How often several deeds came at one moment although they claim to lie far apart.
std::size_t batches_of(const EncounterLog& log, std::span<const double> stored_s,
                       std::size_t count) {
  std::size_t num_batches = 0, begin = 0;
  for (std::size_t i = 1; i <= count; ++i) {
    if (i < count && stored_s[i] - stored_s[begin] < kOneMoment_s) continue;
    const double span_s = log.actions[i - 1].time_s - log.actions[begin].time_s;
    if (i - begin >= kFewInBatch && span_s > kBatchSpan_s) ++num_batches;
    begin = i;
  }
  return num_batches;
}

void doubt_arrival(const EncounterLog& log, std::span<const double> stored_s, Doubts& doubts) {
  const std::size_t count = std::min(log.actions.size(), stored_s.size());
  std::size_t num_late = 0;
  double longest_s = 0.0;
  const EncounterAction* first = nullptr;
  for (std::size_t i = 0; i < count; ++i) {
    const double lag_s = stored_s[i] - log.actions[i].time_s;
    // Alone, a late one is a page that slept.
    if (lag_s < kLongestLag_s) continue;
    ++num_late;
    longest_s = std::max(longest_s, lag_s);
    if (first == nullptr) first = &log.actions[i];
  }
  if (num_late == 0 || (num_late < kFewDeeds && batches_of(log, stored_s, count) < 2)) return;
  doubts.push_back({"sent_together", first->id, first->time_s,
                    fmt::format("{} of {} deeds came up to {:.0f} s after the time they claim: the "
                                "line was gone, or they were written afterwards",
                                num_late, log.actions.size(), longest_s)});
}

// What was done, without its id and time; where, apart.
struct Step {
  std::string content;
  std::optional<exam::TorsoPoint> point;
  double time_s = 0.0;
};

std::vector<Step> steps_of(const EncounterLog& log) {
  std::vector<Step> list;
  for (const EncounterAction& action : log.actions) {
    EncounterAction bare = action;
    bare.id = "x";
    bare.time_s = 0.0;
    Step step{{}, {}, action.time_s};
    const auto take_point = [&](exam::TorsoPoint& point) {
      step.point = point;
      point = {point.aspect, 0.0, 0.0};
    };
    if (auto* place = std::get_if<Place>(&bare.deed)) take_point(place->point);
    if (auto* tap = std::get_if<Tap>(&bare.deed)) take_point(tap->point);
    step.content = to_line(bare);
    list.push_back(std::move(step));
  }
  return list;
}

bool is_same_deed(const Step& a, const Step& b, double within_cm) {
  return a.content == b.content && a.point.has_value() == b.point.has_value() &&
         (!a.point || distance_cm(*a.point, *b.point) <= within_cm);
}

// A stretch of one log that is found in another: how many pauses bear it out, where it began.
struct Stretch {
  int num_pauses = -1;  // none
  std::size_t first = 0;
};

struct Likeness {
  double within_cm, pause_s, pause_share;
  std::size_t most_skipped;  // deeds that one has and the other has not, between two that both have
};

// The longest common stretch, by dynamic programming over the pairs of deeds.
Stretch longest_common(const std::vector<Step>& ours, const std::vector<Step>& theirs,
                       const Likeness& how) {
  const std::size_t rows = how.most_skipped + 2, width = theirs.size();
  std::vector<std::vector<Stretch>> ends(rows, std::vector<Stretch>(width));
  Stretch best;
  for (std::size_t i = 0; i < ours.size(); ++i) {
    for (std::size_t j = 0; j < width; ++j) {
      Stretch& here = ends[i % rows][j] = {};
      if (!is_same_deed(ours[i], theirs[j], how.within_cm)) continue;
      here = {0, i};
      for (std::size_t a = 1; a <= how.most_skipped + 1 && a <= i; ++a) {
        for (std::size_t b = 1; b <= how.most_skipped + 1 && b <= j; ++b) {
          const Stretch& before = ends[(i - a) % rows][j - b];
          if (before.num_pauses < 0 || (a > 1 && b > 1)) continue;
          const double pause_s = ours[i].time_s - ours[i - a].time_s;
          const double other_s = theirs[j].time_s - theirs[j - b].time_s;
          if (std::abs(pause_s - other_s) > std::max(how.pause_s, how.pause_share * other_s))
            continue;
          const int num_pauses = before.num_pauses + (pause_s >= kTellingPause_s ? 1 : 0);
          if (num_pauses > here.num_pauses) here = {num_pauses, before.first};
        }
      }
      if (here.num_pauses > best.num_pauses) best = here;
    }
  }
  return best;
}

}  // namespace

Status check_possible(std::span<const EncounterAction> before,
                      std::span<const EncounterAction> batch) {
  std::vector<const EncounterAction*> hands;
  std::vector<double> postures_s;
  const auto look = [&](const EncounterAction& action) {
    if (is_of_hands(action.deed)) hands.push_back(&action);
    if (is_posture(action.deed)) postures_s.push_back(action.time_s);
  };
  for (const EncounterAction& action : before) look(action);
  for (const EncounterAction& action : batch) {
    look(action);
    const std::size_t n = hands.size(), p = postures_s.size();
    const bool is_rush =
        n > kMostInWindow && action.time_s - hands[n - 1 - kMostInWindow]->time_s < kWindow_s;
    const bool is_whirl = p > kMostPosturesInWindow &&
                          action.time_s - postures_s[p - 1 - kMostPosturesInWindow] < kWindow_s;
    if (is_rush || is_whirl) {
      return fail(
          ErrorCode::kInvalidArgument,
          fmt::format("action {}: no hands do more than {} things, or turn a patient over more "
                      "than {} times, within {} s",
                      action.id, kMostInWindow, kMostPosturesInWindow, kWindow_s));
    }
  }
  return {};
}

std::vector<Doubt> doubts_of(const EncounterLog& log, std::span<const double> stored_s,
                             const std::function<bool(std::string_view)>& is_heard_from_afar) {
  Doubts doubts;
  const auto touches = touches_of(log);
  doubt_listening(touches, doubts);
  doubt_travel(touches, doubts);
  doubt_postures(log, doubts);
  doubt_clockwork(log, doubts);
  doubt_pace(log, doubts);
  doubt_reports(log, is_heard_from_afar, doubts);
  doubt_order(log, doubts);
  doubt_arrival(log, stored_s, doubts);
  return doubts;
}

std::vector<Doubt> doubts_between(const EncounterLog& log, const EncounterLog& other,
                                  const std::string& whose) {
  const auto ours = steps_of(log), theirs = steps_of(other);
  const auto doubt = [&](const Stretch& found, const char* how) -> std::vector<Doubt> {
    const EncounterAction& first = log.actions[found.first];
    return {{"copied", first.id, first.time_s,
             fmt::format("{} pauses in a row, and what was done between them, are {} those of {}",
                         found.num_pauses, how, whose)}};
  };
  const Stretch same = longest_common(ours, theirs, {0.0, kCopiedPause_s, 0.0, 0});
  if (same.num_pauses >= kCopiedPauses) return doubt(same, "exactly");
  const Stretch near =
      longest_common(ours, theirs, {kNearPlace_cm, kCopiedPause_s, kNearPause_share, 1});
  if (near.num_pauses >= kNearlyCopiedPauses) return doubt(near, "nearly");
  return {};
}

}  // namespace phren::bedside
