#include "bedside/performance.h"

#include <algorithm>
#include <cmath>

#include "bedside/covering.h"

namespace phren::bedside {
namespace {

struct Scale_cm {
  double per_u, per_v;
};

// Half breadth of the chest and notch-to-nipple or C7-to-T12 length of an average adult.
Scale_cm scale_of(exam::Aspect aspect) {
  switch (aspect) {
    case exam::Aspect::kBack:
      return {14.0, 28.0};
    case exam::Aspect::kRightSide:
    case exam::Aspect::kLeftSide:
      return {11.0, 17.0};
    default:
      return {14.0, 17.0};
  }
}

// Walks through the actions and keeps what holds at the moment.
class Walk {
 public:
  Walk(const exam::SiteMap& sites, Clothing worn) : sites_(sites), covering_(worn) {}

  void step(const EncounterAction& action) {
    const double now = action.time_s;
    if (const auto* place = std::get_if<Place>(&action.deed)) {
      close(now);
      open(*place, now, action.id);
      return;
    }
    if (std::holds_alternative<Lift>(action.deed)) return close(now);
    if (std::holds_alternative<TakeUp>(action.deed)) {
      close(now);
      head_ = Head::kDiaphragm;
      return;
    }
    if (std::holds_alternative<TurnHead>(action.deed) ||
        std::holds_alternative<Expose>(action.deed) || std::holds_alternative<Cover>(action.deed)) {
      change_contact(action.deed, now);
    }
    note(action);
  }

  Performance finish(double end_s) {
    close(end_s);
    result_.end_s = end_s;
    return std::move(result_);
  }

 private:
  void open(const Place& place, double now, const std::string& id) {
    held_ = place;
    held_id_ = id;
    Stay stay;
    stay.point = place.point;
    stay.pressure = place.pressure;
    stay.site_id = nearest_site(sites_, place.point);
    stay.start_s = now;
    stay.head = head_;
    stay.through_clothing = !covering_.is_bare(place.point.aspect);
    stay.action_id = id;
    result_.stays.push_back(stay);
    is_open_ = true;
  }

  void close(double now) {
    if (!is_open_) return;
    result_.stays.back().end_s = now;
    if (result_.stays.back().seconds() <= 0.0) result_.stays.pop_back();
    is_open_ = false;
  }

  void change_contact(const Deed& deed, double now) {
    const bool was_open = is_open_;
    close(now);
    if (const auto* turn = std::get_if<TurnHead>(&deed)) head_ = turn->head;
    covering_.apply(deed);
    if (was_open) open(held_, now, held_id_);
  }

  void note(const EncounterAction& action) {
    const TimedDeed timed{action.id, action.time_s, action.deed};
    result_.deeds.push_back(timed);
    result_.looks.note(action);
    if (const auto* rank = std::get_if<Rank>(&action.deed)) result_.ranking = rank->condition_ids;
    const auto* report = std::get_if<Report>(&action.deed);
    if (report == nullptr) return;
    for (TimedDeed& earlier : result_.last_reports) {
      const auto& other = std::get<Report>(earlier.deed).finding;
      if (other.id == report->finding.id && other.side == report->finding.side) {
        earlier = timed;
        return;
      }
    }
    result_.last_reports.push_back(timed);
  }

  const exam::SiteMap& sites_;
  Performance result_;
  Place held_;
  std::string held_id_;
  Head head_ = Head::kDiaphragm;
  bool is_open_ = false;
  Covering covering_;
};

}  // namespace

std::string nearest_site(const exam::SiteMap& sites, const exam::TorsoPoint& point,
                         double reach_cm) {
  std::string best;
  double best_cm = reach_cm;
  const Scale_cm scale = scale_of(point.aspect);
  for (const exam::Site& site : sites.all()) {
    if (site.at.aspect != point.aspect) continue;
    const double across_cm = (site.at.u - point.u) * scale.per_u;
    const double down_cm = (site.at.v - point.v) * scale.per_v;
    const double distance_cm = std::sqrt(across_cm * across_cm + down_cm * down_cm);
    if (distance_cm <= best_cm) {
      best_cm = distance_cm;
      best = site.id;
    }
  }
  return best;
}

Performance timeline_of(const EncounterLog& log, const exam::SiteMap& sites, Clothing worn,
                        double until_s) {
  Walk walk(sites, worn);
  for (const EncounterAction& action : log.actions) walk.step(action);
  return walk.finish(log.actions.empty() ? until_s : std::max(until_s, log.actions.back().time_s));
}

}  // namespace phren::bedside
