// Rules about what the learner says: sounds, sides, what is going on, the handover.
#include <algorithm>
#include <cctype>
#include <map>

#include "bedside/verdict.h"
#include "exam/names.h"
#include "teaching/marking/rule_parts.h"
#include "teaching/marking/words.h"

namespace phren::teaching {
namespace {

using bedside::TimedDeed;

constexpr std::size_t kPairsForSides =
    2;  // places on both sides, before "no side is softer" is fair

const Judgement kNotReplayed{
    0.0,
    false,
    "Not judged: the encounter was not replayed, so what was audible is not known.",
    {}};

// A report by place is on the side of its places, if they agree.
exam::Finding reported(const TimedDeed& report, const exam::SiteMap& sites) {
  exam::Finding finding = std::get<bedside::Report>(report.deed).finding;
  if (finding.side != exam::Side::kMidline || finding.site_ids.empty()) return finding;
  bool is_right = true, is_left = true;
  for (const std::string& id : finding.site_ids) {
    const auto site = sites.find(id);
    is_right = is_right && site && site->side == exam::Side::kRight;
    is_left = is_left && site && site->side == exam::Side::kLeft;
  }
  if (is_right != is_left) finding.side = is_right ? exam::Side::kRight : exam::Side::kLeft;
  return finding;
}

std::vector<bedside::HeardAt> heard_of(const bedside::Performance& p) {
  std::vector<bedside::HeardAt> out;
  for (const bedside::Stay& stay : p.stays) out.push_back(stay.found);
  return out;
}

std::string finding_text(const exam::Finding& finding) {
  return spaced(finding.id) + on_side(finding.side);
}

// 1 for the exact term, one half for the broad family, 0 for neither.
double naming_of(const bedside::Performance& p, exam::Sound sound, Judgement& j) {
  const bedside::SoundNames names = bedside::finding_names(sound);
  double best = 0.0;
  for (const TimedDeed& report : p.last_reports) {
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

std::string lower(std::string text) {
  for (char& c : text) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  return text;
}

std::size_t count_words(const std::string& text) {
  std::size_t count = 0;
  bool is_inside = false;
  for (const char c : text) {
    const bool is_space = std::isspace(static_cast<unsigned char>(c)) != 0;
    if (!is_space && !is_inside) ++count;
    is_inside = !is_space;
  }
  return count;
}

// One of the alternatives of "needle|decompress" stands in the text; "affected" is the side of the illness.
bool is_mentioned(const std::string& alternatives_text, const std::string& said,
                  exam::Side affected) {
  for (std::size_t from = 0; from <= alternatives_text.size();) {
    const std::size_t to = std::min(alternatives_text.find('|', from), alternatives_text.size());
    std::string word = lower(alternatives_text.substr(from, to - from));
    if (word == "affected") {
      if (affected == exam::Side::kMidline) return true;
      word = exam::to_string(affected);
    }
    if (!word.empty() && said.find(word) != std::string::npos) return true;
    from = to + 1;
  }
  return false;
}

}  // namespace

Judgement judge_reported(const ChecklistItem& item, const Given& given) {
  Judgement j;
  bool wrong_side = false;
  for (const TimedDeed& report : given.p.last_reports) {
    const exam::Finding f = reported(report, given.sites);
    if (!contains(item.findings, f.id) || f.presence != item.presence) continue;
    const bool side_fits = fits_side(item.sides, f.side, given.affected);
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

Judgement judge_not_reported(const ChecklistItem& item, const Given& given) {
  Judgement j{1.0, true, "Did not report " + alternatives(item.findings) + ".", {}};
  for (const TimedDeed& report : given.p.last_reports) {
    const exam::Finding& f = std::get<bedside::Report>(report.deed).finding;
    if (!contains(item.findings, f.id) || f.presence != exam::Presence::kPresent) continue;
    j.share = 0.0;
    j.action_ids.push_back(report.action_id);
    j.reason = "Reported " + finding_text(f) + ", " + when(item, report.time_s) +
               ", though it is not there.";
  }
  return j;
}

Judgement judge_named(const ChecklistItem& item, const Given& given) {
  if (!given.p.replayed) return kNotReplayed;
  Judgement j;
  std::map<exam::Sound, int> audible;
  for (const bedside::Stay& stay : given.p.stays) {
    if (stay.seconds() < item.least_s) continue;
    for (const bedside::AddedSound& one : stay.found.added) {
      if (one.is_noticed()) ++audible[one.sound];
    }
    const bool is_bronchial = stay.found.breath == exam::Sound::kBronchial;
    if (is_bronchial && stay.found.loudness != bedside::Loudness::kAbsent)
      ++audible[stay.found.breath];
  }
  std::vector<std::string> named, missed;
  double worth = 0.0;
  for (const auto& [sound, places] : audible) {
    const double one = naming_of(given.p, sound, j);
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

Judgement judge_named_soft_side(const ChecklistItem& item, const Given& given) {
  if (!given.p.replayed) return kNotReplayed;
  const auto heard = heard_of(given.p);
  Judgement j;
  std::vector<std::string> named, missed;
  for (const exam::Side side : {exam::Side::kRight, exam::Side::kLeft}) {
    const bool is_soft = std::any_of(heard.begin(), heard.end(), [&](const bedside::HeardAt& one) {
      return one.is_softer() && exam::side_of(one.point) == side;
    });
    if (!is_soft) continue;
    const std::size_t before = j.action_ids.size();
    for (const TimedDeed& report : given.p.last_reports) {
      const exam::Finding f = reported(report, given.sites);
      const bool is_right = bedside::is_softness_finding(f.id) &&
                            f.presence == exam::Presence::kPresent &&
                            (f.side == side || f.side == exam::Side::kMidline) &&
                            bedside::judge_mark(f, heard).verdict <= bedside::MarkVerdict::kNearly;
      if (is_right) j.action_ids.push_back(report.action_id);
    }
    (j.action_ids.size() > before ? named : missed).emplace_back(exam::to_string(side));
  }
  if (named.empty() && missed.empty()) {
    const bool has_tried = num_pairs_listened(given, item.least_s) >= kPairsForSides;
    return {0.0,
            !has_tried,
            has_tried ? "Not judged: breath sounds were as loud as in health wherever the chest "
                        "was listened to."
                      : "Too few places were listened to on both sides to find a softer one.",
            {}};
  }
  j.share = static_cast<double>(named.size()) / static_cast<double>(named.size() + missed.size());
  j.reason = missed.empty()
                 ? "Named softer or absent breath sounds on the " + list_text(named) + "."
                 : "Breath sounds were soft or absent on the " + list_text(missed) +
                       ", and no mark says so.";
  return j;
}

Judgement judge_no_wrong_marks(const Given& given) {
  if (!given.p.replayed) return kNotReplayed;
  const auto heard = heard_of(given.p);
  Judgement j;
  std::vector<std::string> wrong;
  int judged = 0;
  for (const TimedDeed& report : given.p.last_reports) {
    const exam::Finding f = reported(report, given.sites);
    const bedside::JudgedMark mark = bedside::judge_mark(f, heard);
    if (mark.verdict == bedside::MarkVerdict::kNotJudged) continue;
    ++judged;
    if (mark.verdict != bedside::MarkVerdict::kWrong) continue;
    wrong.push_back((f.presence == exam::Presence::kAbsent ? "no " : "") + finding_text(f));
    j.action_ids.push_back(report.action_id);
  }
  if (judged == 0) return {0.0, true, "Nothing heard was reported.", {}};
  j.share = wrong.empty() ? 1.0 : 0.0;
  j.reason =
      wrong.empty() ? "Every sound reported could be heard." : "Not so: " + list_text(wrong) + ".";
  return j;
}

Judgement judge_ranked(const ChecklistItem& item, const Given& given) {
  Judgement j;
  for (std::size_t i = 0; i < given.p.ranking.size(); ++i) {
    if (!contains(item.conditions, given.p.ranking[i])) continue;
    j.share = i < item.count ? 1.0 : 0.0;
    j.reason = "Ranked " + spaced(given.p.ranking[i]) + " number " + std::to_string(i + 1) +
               "; among the first " + std::to_string(item.count) + " asked for.";
    return j;
  }
  j.reason = given.p.ranking.empty()
                 ? "Gave no ranking of what is going on."
                 : "Did not name " + alternatives(item.conditions) + " in the ranking.";
  return j;
}

Judgement judge_handed_over(const ChecklistItem& item, const Given& given) {
  Judgement j;
  std::string said;
  for (const TimedDeed& deed : given.p.deeds) {
    const auto* say = std::get_if<bedside::Say>(&deed.deed);
    if (say == nullptr) continue;
    said += lower(say->text) + "\n";
    j.action_ids.push_back(deed.action_id);
  }
  const std::size_t words = count_words(said);
  if (words < item.count) {
    j.reason = said.empty() ? "Nothing was handed over in words."
                            : "The handover has " + std::to_string(words) + " words; " +
                                  std::to_string(item.count) + " asked for.";
    return j;
  }
  std::vector<std::string> missing;
  for (const std::string& one : item.mentions) {
    if (!is_mentioned(one, said, given.affected)) missing.push_back(one.substr(0, one.find('|')));
  }
  const double all = static_cast<double>(item.mentions.size());
  j.share = item.mentions.empty() ? 1.0 : 1.0 - static_cast<double>(missing.size()) / all;
  j.reason = missing.empty() ? "Handed over in " + std::to_string(words) + " words."
                             : "The handover does not mention: " + list_text(missing) + ".";
  return j;
}

}  // namespace phren::teaching
