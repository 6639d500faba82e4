#include "teaching/marking/rules.h"

#include <algorithm>
#include <map>

#include "bedside/words.h"
#include "exam/names.h"
#include "teaching/marking/rule_parts.h"
#include "teaching/marking/words.h"

namespace phren::teaching {
namespace {

bool contains(const std::vector<std::string>& list, const std::string& word) {
  return std::find(list.begin(), list.end(), word) != list.end();
}

bool in_time(const ChecklistItem& item, double time_s) {
  return item.within_s <= 0.0 || time_s <= item.within_s;
}

// "at 12.0 s" or "at 12.0 s, after the 10.0 s allowed"
std::string when(const ChecklistItem& item, double time_s) {
  return "at " + seconds_text(time_s) +
         (in_time(item, time_s) ? "" : ", after the " + seconds_text(item.within_s) + " allowed");
}

std::string finding_text(const exam::Finding& finding) {
  return spaced(finding.id) + (finding.side == exam::Side::kMidline
                                   ? ""
                                   : ", " + std::string(exam::to_string(finding.side)));
}

Judgement judge_reported(const ChecklistItem& item, const bedside::Performance& p) {
  Judgement j;
  bool wrong_side = false;
  for (const bedside::TimedDeed& report : p.last_reports) {
    const exam::Finding& f = std::get<bedside::Report>(report.deed).finding;
    if (!contains(item.findings, f.id) || f.presence != item.presence) continue;
    const bool side_fits = item.sides.empty() || std::find(item.sides.begin(), item.sides.end(),
                                                           f.side) != item.sides.end();
    wrong_side = wrong_side || !side_fits;
    if (!side_fits || !in_time(item, report.time_s)) continue;
    j.share = 1.0;
    j.action_ids.push_back(report.action_id);
    j.reason = "Reported " + finding_text(f) + " as " + std::string(exam::to_string(f.presence)) +
               " " + when(item, report.time_s) + ".";
    return j;
  }
  j.reason = "Never reported " + alternatives(item.findings) + " as " +
             std::string(exam::to_string(item.presence)) +
             (wrong_side ? " on the side asked for; another side was named." : ".");
  return j;
}

Judgement judge_not_reported(const ChecklistItem& item, const bedside::Performance& p) {
  Judgement j{1.0, true, "Did not report " + alternatives(item.findings) + ".", {}};
  for (const bedside::TimedDeed& report : p.last_reports) {
    const exam::Finding& f = std::get<bedside::Report>(report.deed).finding;
    if (!contains(item.findings, f.id) || f.presence != exam::Presence::kPresent) continue;
    j.share = 0.0;
    j.action_ids.push_back(report.action_id);
    j.reason = "Reported " + finding_text(f) + ", " + when(item, report.time_s) +
               ", though it is not there.";
  }
  return j;
}

// 1 for the exact term, one half for the broad family, 0 for neither.
double naming_of(const bedside::Performance& p, exam::Sound sound, Judgement& j) {
  const SoundNames names = finding_names(sound);
  double best = 0.0;
  for (const bedside::TimedDeed& report : p.last_reports) {
    const exam::Finding& f = std::get<bedside::Report>(report.deed).finding;
    if (f.presence != exam::Presence::kPresent) continue;
    const double worth = contains(names.exact, f.id)    ? 1.0
                         : contains(names.family, f.id) ? 0.5
                                                        : 0.0;
    if (worth > 0.0) j.action_ids.push_back(report.action_id);
    best = std::max(best, worth);
  }
  return best;
}

Judgement judge_named(const ChecklistItem& item, const bedside::Performance& p) {
  Judgement j;
  if (!p.replayed) {
    j.judged = false;
    j.reason = "Not judged: the encounter was not replayed, so what was audible is not known.";
    return j;
  }
  std::map<exam::Sound, double> audible_s;
  for (const bedside::Stay& stay : p.stays) {
    if (stay.seconds() < item.least_s) continue;
    for (const bedside::HeardSound& heard : stay.heard) audible_s[heard.sound] += heard.seconds;
  }
  std::vector<std::string> named, missed;
  double worth = 0.0;
  for (const auto& [sound, seconds] : audible_s) {
    if (finding_names(sound).exact.empty()) continue;  // normal breathing, heart, voice
    const double one = naming_of(p, sound, j);
    worth += one;
    (one > 0.0 ? named : missed)
        .push_back(std::string(exam::label_of(sound)) + (one == 0.5 ? " (family only)" : ""));
  }
  const double all = static_cast<double>(named.size() + missed.size());
  if (all == 0.0) {
    j.judged = false;
    j.reason = "Not judged: no added sound could be heard where the chest was listened to.";
    return j;
  }
  j.share = item.share > 0.0 ? std::min(1.0, worth / all / item.share) : 1.0;
  j.reason = (named.empty() ? std::string() : "Named " + list_text(named) + ". ") +
             (missed.empty() ? "Nothing audible was missed."
                             : "Audible where listened but not named: " + list_text(missed) + ".");
  return j;
}

Judgement judge_measured(const ChecklistItem& item, const bedside::Performance& p) {
  Judgement j;
  std::vector<std::string> missing;
  for (const std::string& vital : item.vitals) {
    const auto found =
        std::find_if(p.deeds.begin(), p.deeds.end(), [&](const bedside::TimedDeed& deed) {
          const auto* measure = std::get_if<bedside::Measure>(&deed.deed);
          return measure != nullptr && measure->vital == vital && in_time(item, deed.time_s);
        });
    if (found == p.deeds.end()) {
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

// A tap gives the note, whatever it is.
std::vector<std::string> findings_looked_for(const bedside::Deed& deed) {
  if (std::holds_alternative<bedside::Tap>(deed))
    return {"dull_percussion", "hyperresonant_percussion"};
  const auto* examine = std::get_if<bedside::Examine>(&deed);
  return examine == nullptr ? std::vector<std::string>{} : std::vector{examine->finding_id};
}

Judgement judge_examined(const ChecklistItem& item, const bedside::Performance& p) {
  Judgement j;
  std::vector<std::string> done;
  for (const bedside::TimedDeed& deed : p.deeds) {
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

Judgement judge_treated(const ChecklistItem& item, const bedside::Performance& p) {
  Judgement j;
  const bedside::TimedDeed* given = first_treatment(p, item.treatments);
  if (given == nullptr) {
    j.reason = "No " + alternatives(item.treatments) + " was given.";
    return j;
  }
  j.share = in_time(item, given->time_s) ? 1.0 : 0.0;
  j.action_ids.push_back(given->action_id);
  j.reason = "Gave " + spaced(std::get<bedside::Treat>(given->deed).treatment_id) + " " +
             when(item, given->time_s) + ".";
  return j;
}

Judgement judge_no_harm(const ChecklistItem& item, const bedside::Performance& p) {
  Judgement j{1.0, true, "Nothing harmful was given.", {}};
  if (const bedside::TimedDeed* given = first_treatment(p, item.treatments)) {
    j = {0.0,
         true,
         "Gave " + spaced(std::get<bedside::Treat>(given->deed).treatment_id) + " at " +
             seconds_text(given->time_s) + ", which can harm here.",
         {given->action_id}};
  }
  return j;
}

Judgement judge_positioned(const ChecklistItem& item, const bedside::Performance& p) {
  Judgement j;
  for (const bedside::TimedDeed& deed : p.deeds) {
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

Judgement judge_ranked(const ChecklistItem& item, const bedside::Performance& p) {
  Judgement j;
  for (std::size_t i = 0; i < p.ranking.size(); ++i) {
    if (!contains(item.conditions, p.ranking[i])) continue;
    j.share = i < item.count ? 1.0 : 0.0;
    j.reason = "Ranked " + spaced(p.ranking[i]) + " number " + std::to_string(i + 1) +
               "; among the first " + std::to_string(item.count) + " asked for.";
    return j;
  }
  j.reason = p.ranking.empty()
                 ? "Gave no ranking of what is going on."
                 : "Did not name " + alternatives(item.conditions) + " in the ranking.";
  return j;
}

Judgement judge_finished(const ChecklistItem& item, const bedside::Performance& p) {
  const bool ended = !p.deeds.empty() && std::holds_alternative<bedside::End>(p.deeds.back().deed);
  if (!ended) return {0.0, true, "The encounter was never ended.", {}};
  return {in_time(item, p.end_s) ? 1.0 : 0.0,
          true,
          "Ended " + when(item, p.end_s) + ".",
          {p.deeds.back().action_id}};
}

}  // namespace

const bedside::TimedDeed* first_treatment(const bedside::Performance& p,
                                          const std::vector<std::string>& ids) {
  for (const bedside::TimedDeed& deed : p.deeds) {
    const auto* treat = std::get_if<bedside::Treat>(&deed.deed);
    if (treat != nullptr && contains(ids, treat->treatment_id)) return &deed;
  }
  return nullptr;
}

std::string alternatives(const std::vector<std::string>& ids) {
  std::string text;
  for (std::size_t i = 0; i < ids.size(); ++i) {
    if (i > 0) text += i + 1 == ids.size() ? " or " : ", ";
    text += spaced(ids[i]);
  }
  return text;
}

SoundNames finding_names(exam::Sound sound) {
  switch (sound) {
    case exam::Sound::kWheeze:
      return {{"wheeze"}, {"rhonchi"}};
    case exam::Sound::kRhonchus:
      return {{"rhonchi"}, {"wheeze"}};
    case exam::Sound::kStridor:
      return {{"stridor"}, {"wheeze"}};
    case exam::Sound::kSquawk:
      return {{"squawk"}, {"wheeze"}};
    case exam::Sound::kFineCrackle:
      return {{"fine_crackles"}, {"crackles", "coarse_crackles"}};
    case exam::Sound::kCoarseCrackle:
      return {{"coarse_crackles"}, {"crackles", "fine_crackles"}};
    case exam::Sound::kPleuralFrictionRub:
      return {{"pleural_friction_rub"}, {"crackles", "coarse_crackles"}};
    case exam::Sound::kBronchial:
      return {{"bronchial_breathing"}, {}};
    case exam::Sound::kGrunting:
      return {{"grunting"}, {}};
    case exam::Sound::kGurgling:
      return {{"gurgling"}, {"rhonchi", "coarse_crackles"}};
    default:
      return {};
  }
}

Judgement judge(const ChecklistItem& item, const bedside::Performance& p,
                const exam::SiteMap& sites) {
  switch (item.rule) {
    case RuleKind::kListenedAt:
      return judge_listened_at(item, p);
    case RuleKind::kListenedPairs:
      return judge_listened_pairs(item, p, sites);
    case RuleKind::kComparedSides:
      return judge_compared_sides(item, p, sites);
    case RuleKind::kExposedFirst:
      return judge_exposed_first(p);
    case RuleKind::kDeepBreaths:
      return judge_deep_breaths(p);
    case RuleKind::kReported:
      return judge_reported(item, p);
    case RuleKind::kNotReported:
      return judge_not_reported(item, p);
    case RuleKind::kNamedWhatIsThere:
      return judge_named(item, p);
    case RuleKind::kMeasured:
      return judge_measured(item, p);
    case RuleKind::kExamined:
      return judge_examined(item, p);
    case RuleKind::kTreated:
      return judge_treated(item, p);
    case RuleKind::kReassessed:
      return judge_reassessed(item, p);
    case RuleKind::kNoHarm:
      return judge_no_harm(item, p);
    case RuleKind::kPositioned:
      return judge_positioned(item, p);
    case RuleKind::kRanked:
      return judge_ranked(item, p);
    case RuleKind::kFinished:
      return judge_finished(item, p);
    case RuleKind::kExaminer:
      return {0.0, false, "The examiner has not marked it.", {}};
  }
  return {};
}

}  // namespace phren::teaching
