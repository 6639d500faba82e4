// Rules about what was measured, looked for and done.
#include <algorithm>
#include <set>

#include "bedside/words.h"
#include "exam/names.h"
#include "teaching/marking/rule_parts.h"
#include "teaching/marking/words.h"

namespace phren::teaching {
namespace {

using bedside::TimedDeed;

// Treatments of the list that were given, on a side or not, in their order.
std::vector<const TimedDeed*> given_treatments(const bedside::Performance& p,
                                               const std::vector<std::string>& ids) {
  std::vector<const TimedDeed*> out;
  for (const TimedDeed& deed : p.deeds) {
    const auto* treat = std::get_if<bedside::Treat>(&deed.deed);
    if (treat != nullptr && contains(ids, treat->treatment_id)) out.push_back(&deed);
  }
  return out;
}

exam::Side side_of(const TimedDeed& treated) {
  return std::get<bedside::Treat>(treated.deed).side;
}

std::string treatment_text(const TimedDeed& treated) {
  return spaced(std::get<bedside::Treat>(treated.deed).treatment_id) + on_side(side_of(treated));
}

// The first of `ids` that was given on a side that the item asks for, or nullptr.
const TimedDeed* first_fitting(const ChecklistItem& item, const Given& given) {
  for (const TimedDeed* one : given_treatments(given.p, item.treatments)) {
    if (fits_side(item.sides, side_of(*one), given.affected)) return one;
  }
  return nullptr;
}

// A tap gives the note, whatever it is; who says what was seen has looked.
std::vector<std::string> findings_looked_for(const bedside::Deed& deed) {
  if (std::holds_alternative<bedside::Tap>(deed))
    return {"dull_percussion", "hyperresonant_percussion"};
  const auto* report = std::get_if<bedside::Report>(&deed);
  if (report != nullptr && report->finding.basis == exam::Basis::kSeen) return {report->finding.id};
  const auto* examine = std::get_if<bedside::Examine>(&deed);
  return examine == nullptr ? std::vector<std::string>{} : std::vector{examine->finding_id};
}

}  // namespace

Judgement judge_measured(const ChecklistItem& item, const Given& given) {
  Judgement j;
  std::vector<std::string> missing;
  for (const std::string& vital : item.vitals) {
    const auto found = std::find_if(
        given.p.deeds.begin(), given.p.deeds.end(), [&](const bedside::TimedDeed& deed) {
          const auto* measure = std::get_if<bedside::Measure>(&deed.deed);
          return measure != nullptr && measure->vital == vital && in_time(item, deed.time_s);
        });
    if (found == given.p.deeds.end()) {
      missing.push_back(vital_in_words(vital));
    } else {
      j.action_ids.push_back(found->action_id);
    }
  }
  j.share = static_cast<double>(j.action_ids.size()) / static_cast<double>(item.vitals.size());
  j.reason = missing.empty() ? "All vital signs asked for were taken."
                             : "Not taken" +
                                   (item.within_s > 0 ? " within " + seconds_text(item.within_s)
                                                      : std::string()) +
                                   ": " + list_text(missing) + ".";
  return j;
}

Judgement judge_measured_again(const ChecklistItem& item, const Given& given) {
  Judgement j;
  const auto treated = given_treatments(given.p, item.treatments);
  const double treated_s = treated.empty() ? given.p.end_s + 1.0 : treated.front()->time_s;
  std::set<std::string> before, after;
  for (const TimedDeed& deed : given.p.deeds) {
    const auto* measure = std::get_if<bedside::Measure>(&deed.deed);
    if (measure == nullptr || !contains(item.vitals, measure->vital)) continue;
    const bool is_before = deed.time_s <= treated_s;
    if (!is_before && item.within_s > 0.0 && deed.time_s > treated_s + item.within_s) continue;
    (is_before ? before : after).insert(measure->vital);
    j.action_ids.push_back(deed.action_id);
  }
  const double all = 2.0 * static_cast<double>(item.vitals.size());
  j.share = static_cast<double>(before.size() + after.size()) / all;
  std::vector<std::string> missing;
  for (const std::string& vital : item.vitals) {
    if (!before.contains(vital)) missing.push_back(vital_in_words(vital) + " before");
    if (!after.contains(vital)) missing.push_back(vital_in_words(vital) + " after");
  }
  if (treated.empty()) {
    j.reason = "No " + alternatives(item.treatments) + " was given, so nothing was taken after it.";
  } else if (missing.empty()) {
    j.reason = "All vital signs asked for were taken before and after " +
               treatment_text(*treated.front()) + " at " + seconds_text(treated_s) + ".";
  } else {
    j.reason = "Around the treatment at " + seconds_text(treated_s) +
               " these were not taken: " + list_text(missing) + ".";
  }
  return j;
}

Judgement judge_examined(const ChecklistItem& item, const Given& given) {
  Judgement j;
  std::vector<std::string> done;
  for (const bedside::TimedDeed& deed : given.p.deeds) {
    if (!in_time(item, deed.time_s)) continue;
    for (const std::string& finding : findings_looked_for(deed.deed)) {
      const std::string name = spaced(finding);
      if (!contains(item.findings, finding) || contains(done, name)) continue;
      done.push_back(name);
      j.action_ids.push_back(deed.action_id);
    }
  }
  j.share = std::min(1.0, static_cast<double>(done.size()) / static_cast<double>(item.count));
  j.reason = done.empty() ? "Never looked for " + alternatives(item.findings) + "."
                          : "Looked for " + list_text(done) + ".";
  return j;
}

Judgement judge_percussed_pairs(const ChecklistItem& item, const Given& given) {
  Judgement j;
  std::set<std::string> tapped, pairs;
  for (const TimedDeed& deed : given.p.deeds) {
    const auto* tap = std::get_if<bedside::Tap>(&deed.deed);
    if (tap == nullptr) continue;
    const auto site = given.sites.find(bedside::nearest_site(given.sites, tap->point));
    if (!site) continue;
    tapped.insert(site->id);
    j.action_ids.push_back(deed.action_id);
    if (site->mirror_id.empty() || !tapped.contains(site->mirror_id)) continue;
    pairs.insert(std::min(site->id, site->mirror_id) + "/" + std::max(site->id, site->mirror_id));
  }
  j.share = std::min(1.0, static_cast<double>(pairs.size()) / static_cast<double>(item.count));
  j.reason = pairs.empty()
                 ? "No place was percussed on both sides."
                 : "Percussed on both sides at " + list_text({pairs.begin(), pairs.end()}) + "; " +
                       std::to_string(item.count) + " asked for.";
  return j;
}

Judgement judge_treated(const ChecklistItem& item, const Given& given) {
  Judgement j;
  const auto all = given_treatments(given.p, item.treatments);
  if (all.empty()) {
    j.reason = "No " + alternatives(item.treatments) + " was given.";
    return j;
  }
  const TimedDeed* fitting = first_fitting(item, given);
  const TimedDeed& shown = fitting == nullptr ? *all.front() : *fitting;
  j.share = fitting != nullptr && in_time(item, fitting->time_s) ? 1.0 : 0.0;
  j.action_ids.push_back(shown.action_id);
  j.reason = "Gave " + treatment_text(shown) + " " + when(item, shown.time_s) +
             (fitting == nullptr ? ": not the side asked for." : ".");
  return j;
}

Judgement judge_reassessed(const ChecklistItem& item, const Given& given) {
  Judgement j;
  const auto all = given_treatments(given.p, item.treatments);
  if (all.empty()) {
    j.reason = "No " + alternatives(item.treatments) + " was given, so nothing was reassessed.";
    return j;
  }
  const TimedDeed& treated = *all.front();
  const double until_s = item.within_s > 0.0 ? treated.time_s + item.within_s : given.p.end_s;
  double listened_s = 0.0;
  for (const bedside::Stay& stay : given.p.stays) {
    const double from_s = std::max(stay.start_s, treated.time_s);
    const double to_s = std::min(stay.end_s, until_s);
    if (to_s <= from_s || !fits_side(item.sides, exam::side_of(stay.point), given.affected))
      continue;
    listened_s += to_s - from_s;
    j.action_ids.push_back(stay.action_id);
  }
  j.share = listened_s >= item.least_s ? 1.0 : 0.0;
  j.reason = "After the treatment at " + seconds_text(treated.time_s) + " listened again for " +
             seconds_text(listened_s) +
             (item.within_s > 0.0 ? " within " + seconds_text(item.within_s) : std::string()) +
             "; " + seconds_text(item.least_s) + " asked for.";
  return j;
}

Judgement judge_no_harm(const ChecklistItem& item, const Given& given) {
  if (const TimedDeed* harm = first_fitting(item, given)) {
    return {0.0,
            true,
            "Gave " + treatment_text(*harm) + " at " + seconds_text(harm->time_s) +
                ", which can harm here.",
            {harm->action_id}};
  }
  for (const TimedDeed& deed : given.p.deeds) {
    const auto* posture = std::get_if<bedside::SetPosture>(&deed.deed);
    if (posture == nullptr) continue;
    const std::string word(word_of(posture->posture));
    if (!contains(item.postures, word)) continue;
    return {0.0,
            true,
            "Brought the patient to " + word + " at " + seconds_text(deed.time_s) +
                ", which can harm here.",
            {deed.action_id}};
  }
  return {1.0, true, "Nothing harmful was done.", {}};
}

Judgement judge_positioned(const ChecklistItem& item, const Given& given) {
  Judgement j;
  for (const bedside::TimedDeed& deed : given.p.deeds) {
    const auto* posture = std::get_if<bedside::SetPosture>(&deed.deed);
    if (posture == nullptr) continue;
    const std::string word(word_of(posture->posture));
    if (!contains(item.postures, word)) continue;
    j.share = in_time(item, deed.time_s) ? 1.0 : 0.0;
    j.action_ids.push_back(deed.action_id);
    j.reason = "Brought the patient to " + word + " " + when(item, deed.time_s) + ".";
    return j;
  }
  j.reason = "The patient was not brought to " + alternatives(item.postures) + ".";
  return j;
}

Judgement judge_finished(const ChecklistItem& item, const Given& given) {
  const bool ended =
      !given.p.deeds.empty() && std::holds_alternative<bedside::End>(given.p.deeds.back().deed);
  if (!ended) return {0.0, true, "The encounter was never ended.", {}};
  return {in_time(item, given.p.end_s) ? 1.0 : 0.0,
          true,
          "Ended " + when(item, given.p.end_s) + ".",
          {given.p.deeds.back().action_id}};
}

}  // namespace phren::teaching
