// Rules about where and how the chest was listened to.
#include <algorithm>
#include <map>
#include <set>

#include "exam/names.h"
#include "teaching/marking/rule_parts.h"
#include "teaching/marking/words.h"

namespace phren::teaching {
namespace {

constexpr double kInPassing_s = 0.5;  // shorter: the chestpiece slid over it (ENGINEERING)

// Pairs of mirrored sites both listened to for least_s, right one first in the name.
std::vector<std::string> pairs_listened(const bedside::Performance& p, const exam::SiteMap& sites,
                                        double least_s, double from_s) {
  std::vector<std::string> pairs;
  for (const exam::Site& site : sites.all()) {
    if (site.side != exam::Side::kRight || site.mirror_id.empty()) continue;
    if (seconds_at(p, site.id, from_s) >= least_s &&
        seconds_at(p, site.mirror_id, from_s) >= least_s) {
      pairs.push_back(site.id + "/" + site.mirror_id);
    }
  }
  return pairs;
}

}  // namespace

double seconds_at(const bedside::Performance& performance, const std::string& site_id,
                  double from_s) {
  double sum = 0.0;
  for (const bedside::Stay& stay : performance.stays) {
    if (stay.site_id != site_id || stay.end_s <= from_s) continue;
    sum += stay.end_s - std::max(stay.start_s, from_s);
  }
  return sum;
}

std::size_t num_pairs_listened(const Given& given, double least_s) {
  return pairs_listened(given.p, given.sites, least_s, 0.0).size();
}

Judgement judge_listened_at(const ChecklistItem& item, const Given& given) {
  Judgement j;
  std::vector<std::string> heard, missed;
  for (const std::string& id : item.sites) {
    const double seconds = seconds_at(given.p, id);
    const bool enough = seconds >= item.least_s;
    (enough ? heard : missed).push_back(id + " (" + seconds_text(seconds) + ")");
    for (const bedside::Stay& stay : given.p.stays) {
      if (enough && stay.site_id == id) j.action_ids.push_back(stay.action_id);
    }
  }
  j.share = static_cast<double>(heard.size()) / static_cast<double>(item.sites.size());
  if (missed.empty()) {
    j.reason = "Listened at " + list_text(heard) + ".";
  } else {
    j.reason = "Not listened long enough at " + list_text(missed) + "; " +
               seconds_text(item.least_s) + " at each is asked for.";
  }
  return j;
}

Judgement judge_listened_aspects(const ChecklistItem& item, const Given& given) {
  Judgement j;
  std::vector<std::string> words;
  double share = 0.0;
  for (const std::string& aspect : item.aspects) {
    std::map<std::string, double> seconds;  // by site, or by placing where no site is near
    for (const bedside::Stay& stay : given.p.stays) {
      if (exam::to_string(stay.point.aspect) != aspect) continue;
      seconds[stay.site_id.empty() ? stay.action_id : stay.site_id] += stay.seconds();
      j.action_ids.push_back(stay.action_id);
    }
    const auto places = std::count_if(seconds.begin(), seconds.end(),
                                      [&](const auto& one) { return one.second >= item.least_s; });
    share += std::min(1.0, static_cast<double>(places) / static_cast<double>(item.count));
    words.push_back(spaced(aspect) + ": " + std::to_string(places));
  }
  j.share = share / static_cast<double>(item.aspects.size());
  j.reason = "Places listened to for " + seconds_text(item.least_s) +
             ", by side of the body: " + list_text(words) + "; " + std::to_string(item.count) +
             " asked for on each.";
  return j;
}

Judgement judge_listened_pairs(const ChecklistItem& item, const Given& given) {
  Judgement j;
  const auto pairs = pairs_listened(given.p, given.sites, item.least_s, 0.0);
  j.share = std::min(1.0, static_cast<double>(pairs.size()) / static_cast<double>(item.count));
  j.reason = pairs.empty() ? "No pair of mirrored sites was listened to on both sides for " +
                                 seconds_text(item.least_s) + "."
                           : "Listened on both sides at " + list_text(pairs) + "; " +
                                 std::to_string(item.count) + " pairs asked for.";
  return j;
}

Judgement judge_compared_sides(const ChecklistItem& item, const Given& given) {
  Judgement j;
  std::set<std::string> pairs;
  const bedside::Stay* before = nullptr;
  for (const bedside::Stay& stay : given.p.stays) {
    if (stay.seconds() < kInPassing_s) continue;
    const auto site = given.sites.find(before == nullptr ? "" : before->site_id);
    before = &stay;
    if (!site || site->mirror_id.empty() || site->mirror_id != stay.site_id) continue;
    pairs.insert(std::min(site->id, site->mirror_id) + "/" + std::max(site->id, site->mirror_id));
    j.action_ids.push_back(stay.action_id);
  }
  j.share = std::min(1.0, static_cast<double>(pairs.size()) / static_cast<double>(item.count));
  j.reason = "Went straight from one side to the same place on the other at " +
             std::to_string(pairs.size()) + " of " + std::to_string(item.count) +
             " places asked for" +
             (pairs.empty() ? "." : ": " + list_text({pairs.begin(), pairs.end()}) + ".");
  return j;
}

Judgement judge_exposed_first(const Given& given) {
  Judgement j;
  for (const bedside::Stay& stay : given.p.stays) {
    if (!stay.through_clothing) continue;
    j.action_ids.push_back(stay.action_id);
    if (j.action_ids.size() > 1) continue;
    j.reason = "Listened through clothing at " +
               (stay.site_id.empty() ? std::string("a place on the ") +
                                           std::string(exam::to_string(stay.point.aspect))
                                     : stay.site_id) +
               " (" + seconds_text(stay.start_s) + " to " + seconds_text(stay.end_s) + ").";
  }
  if (given.p.stays.empty()) {
    j.reason = "The chest was never listened to.";
  } else if (j.action_ids.empty()) {
    j.share = 1.0;
    j.reason = "Every place was bare when it was listened to.";
  }
  return j;
}

Judgement judge_deep_breaths(const Given& given) {
  Judgement j;
  const double last_s = given.p.stays.empty() ? 0.0 : given.p.stays.back().end_s;
  for (const bedside::TimedDeed& deed : given.p.deeds) {
    const auto* instruct = std::get_if<bedside::Instruct>(&deed.deed);
    if (instruct == nullptr || instruct->manoeuvre != bedside::Manoeuvre::kDeep) continue;
    if (deed.time_s > last_s) continue;
    j.share = 1.0;
    j.action_ids.push_back(deed.action_id);
    j.reason = "Asked for deep breaths at " + seconds_text(deed.time_s) + ".";
    return j;
  }
  j.reason = "Deep breaths were never asked for while listening.";
  return j;
}

}  // namespace phren::teaching
