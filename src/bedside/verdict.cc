#include "bedside/verdict.h"

#include <algorithm>
#include <array>

#include "exam/names.h"

namespace phren::bedside {
namespace {

using exam::Finding;
using exam::Presence;
using exam::Side;
using exam::Sound;

constexpr std::size_t kFewestForSilence = 4;  // places, for a silent chest
constexpr std::array<Sound, 10> kAddedSounds = {Sound::kWheeze,
                                                Sound::kRhonchus,
                                                Sound::kStridor,
                                                Sound::kSquawk,
                                                Sound::kFineCrackle,
                                                Sound::kCoarseCrackle,
                                                Sound::kPleuralFrictionRub,
                                                Sound::kGrunting,
                                                Sound::kGurgling,
                                                Sound::kBronchial};

bool contains(const std::vector<std::string>& list, std::string_view word) {
  return std::find(list.begin(), list.end(), word) != list.end();
}

// "wheeze_one_sided" is judged as "wheeze" that is on one side only.
std::string_view base_of(std::string_view id) {
  if (id == "wheeze_one_sided") return "wheeze";
  return id == "crackles_one_sided" ? "crackles" : id;
}

std::string side_words(Side side) {
  return side == Side::kMidline ? "" : " on the " + std::string(exam::to_string(side));
}

std::string place_words(const HeardAt& place) {
  return place.site_id.empty() ? "a place between the sites" : place.site_id;
}

std::string list_words(const std::vector<const HeardAt*>& places) {
  std::vector<std::string> names;
  for (const HeardAt* one : places) {
    if (!contains(names, place_words(*one))) names.push_back(place_words(*one));
  }
  std::string out;
  for (std::size_t i = 0; i < names.size(); ++i) {
    if (i > 0) out += i + 1 == names.size() ? " and " : ", ";
    out += names[i];
  }
  return out;
}

bool is_on(const HeardAt& place, Side side) {
  return side == Side::kMidline || side_of(place.point) == side;
}

// Where a mark says it was heard: its sites, or else its side.
bool is_in_scope(const HeardAt& place, const Finding& mark) {
  return mark.site_ids.empty() ? is_on(place, mark.side) : contains(mark.site_ids, place.site_id);
}

// How well a place bears a sound's name: 2 exact, 1 the family or masked, 0 not at all. What arises there alone,
// where `is_own` asks for that.
int worth_at(const HeardAt& place, std::string_view id, bool is_own = false) {
  const auto worth = [&](Sound sound) {
    const SoundNames names = finding_names(sound);
    return contains(names.exact, id) || id == "crackles" ? 2 : contains(names.family, id) ? 1 : 0;
  };
  int best = 0;
  const bool has_bronchial =
      place.breath == Sound::kBronchial && place.loudness != Loudness::kAbsent;
  if (id == "bronchial_breathing" && has_bronchial) best = 2;
  for (const AddedSound& one : place.added) {
    const bool is_crackle = one.sound == Sound::kFineCrackle || one.sound == Sound::kCoarseCrackle;
    if ((id == "crackles" && !is_crackle) || (is_own && one.is_carried())) continue;
    const int as_named = worth(one.sound);
    best = std::max(best, one.is_noticed() ? as_named : std::min(as_named, 1));
  }
  return best;
}

using Places = std::vector<const HeardAt*>;
template <class Test>
Places where(std::span<const HeardAt> places, Test test) {
  Places out;
  for (const HeardAt& one : places) {
    if (test(one)) out.push_back(&one);
  }
  return out;
}

JudgedMark judge_sound(const Finding& mark, std::string_view id, std::span<const HeardAt> places,
                       const Places& scope) {
  const auto at_least = [&](const Places& among, int worth) {
    Places out;
    for (const HeardAt* one : among) {
      if (worth_at(*one, id) >= worth) out.push_back(one);
    }
    return out;
  };
  const Places exact = at_least(scope, 2), nearly = at_least(scope, 1);
  if (mark.presence == Presence::kAbsent) {
    if (exact.empty()) return {MarkVerdict::kRight, "It could not be heard where you listened."};
    return {MarkVerdict::kWrong, "It could be heard at " + list_words(exact) + "."};
  }
  if (!exact.empty()) {
    const bool claims_one = mark.id != id;
    const bool is_both = !where(places, [&](const HeardAt& one) {
                            const Side side = side_of(one.point);
                            return side != Side::kMidline &&
                                   side != side_of(exact.front()->point) &&
                                   worth_at(one, id, true) == 2;
                          }).empty();
    if (claims_one && is_both) return {MarkVerdict::kNearly, "It could be heard on both sides."};
    return {MarkVerdict::kRight, "It could be heard at " + list_words(exact) + "."};
  }
  if (!nearly.empty())
    return {MarkVerdict::kNearly,
            "Close: at " + list_words(nearly) + " " + in_words(*nearly.front()) + "."};
  const Places elsewhere =
      where(places, [&](const HeardAt& one) { return worth_at(one, id) == 2; });
  if (elsewhere.empty()) return {MarkVerdict::kWrong, "It could not be heard where you listened."};
  const bool is_same_side = std::any_of(
      elsewhere.begin(), elsewhere.end(),
      [&](const HeardAt* one) { return side_of(one->point) == side_of(scope.front()->point); });
  return {is_same_side ? MarkVerdict::kNearly : MarkVerdict::kWrong,
          "It could be heard at " + list_words(elsewhere) + ", not there."};
}

JudgedMark judge_softness(const Finding& mark, std::span<const HeardAt> places,
                          const Places& scope) {
  Places soft, absent, by_mirror;
  for (const HeardAt* one : scope) {
    if (one->is_softer()) soft.push_back(one);
    if (one->loudness == Loudness::kAbsent) absent.push_back(one);
    if (one->below_mirror_db && *one->below_mirror_db >= kDiminished_db) by_mirror.push_back(one);
  }
  if (mark.presence == Presence::kAbsent) {
    if (soft.empty()) return {MarkVerdict::kRight, "Breath sounds were as loud as in health."};
    return {MarkVerdict::kWrong, "At " + list_words(soft) + ": " + in_words(*soft.front()) + "."};
  }
  const bool wants_absent = mark.id == "absent_breath_sounds" || mark.id == "silent_chest";
  const bool is_one_sided = mark.id == "diminished_one_sided";
  if (mark.id == "silent_chest") {
    const Places all_absent =
        where(places, [](const HeardAt& one) { return one.loudness == Loudness::kAbsent; });
    if (all_absent.size() == places.size() && places.size() >= kFewestForSilence)
      return {MarkVerdict::kRight, "Breath sounds were absent at every place you listened."};
    if (soft.empty()) return {MarkVerdict::kWrong, "Breath sounds were as loud as in health."};
    return {MarkVerdict::kNearly,
            "Breath sounds were soft or absent at " + list_words(soft) + ", not everywhere."};
  }
  if (is_one_sided && !by_mirror.empty())
    return {MarkVerdict::kRight,
            "At " + list_words(by_mirror) + ": " + in_words(*by_mirror.front()) + "."};
  if (!soft.empty()) {
    const bool has_both =
        std::any_of(soft.begin(), soft.end(),
                    [](const HeardAt* one) { return side_of(one->point) == Side::kRight; }) &&
        std::any_of(soft.begin(), soft.end(),
                    [](const HeardAt* one) { return side_of(one->point) == Side::kLeft; });
    const std::string grounds = "At " + list_words(soft) + ": " + in_words(*soft.front()) + ".";
    if (wants_absent && absent.empty())
      return {MarkVerdict::kNearly, "Diminished, not absent. " + grounds};
    if (is_one_sided && has_both) return {MarkVerdict::kNearly, "Both sides were soft. " + grounds};
    return {MarkVerdict::kRight, grounds};
  }
  if (!by_mirror.empty())
    return {MarkVerdict::kNearly, "Softer than the other side but not softer than in health. " +
                                      std::string("At ") + list_words(by_mirror) + ": " +
                                      in_words(*by_mirror.front()) + "."};
  const Places elsewhere = where(places, [](const HeardAt& one) { return one.is_softer(); });
  if (!elsewhere.empty())
    return {MarkVerdict::kWrong,
            "Breath sounds were soft at " + list_words(elsewhere) + ", not there."};
  return {MarkVerdict::kWrong, "Breath sounds were as loud as in health."};
}

JudgedMark judge_normal(const Finding& mark, const Places& scope) {
  Places odd, added;
  for (const HeardAt* one : scope) {
    if (one->is_softer() || one->breath == Sound::kBronchial) odd.push_back(one);
    const bool has_added = std::any_of(one->added.begin(), one->added.end(),
                                       [](const AddedSound& s) { return s.is_noticed(); });
    if (has_added) added.push_back(one);
  }
  const bool is_normal = odd.empty() && added.empty();
  if (mark.presence == Presence::kAbsent) {
    return {is_normal ? MarkVerdict::kWrong : MarkVerdict::kRight,
            is_normal ? "Breath sounds were normal where you listened."
                      : "Breath sounds were not normal."};
  }
  if (is_normal) return {MarkVerdict::kRight, "Breath sounds were normal where you listened."};
  const HeardAt& first = odd.empty() ? *added.front() : *odd.front();
  return {odd.empty() ? MarkVerdict::kNearly : MarkVerdict::kWrong,
          "At " + place_words(first) + ": " + in_words(first) + "."};
}

JudgedMark judge_prolonged(const Finding& mark, const Places& scope) {
  const bool is_known = std::any_of(
      scope.begin(), scope.end(), [](const HeardAt* one) { return one->out_over_in.has_value(); });
  if (!is_known) return {MarkVerdict::kNotJudged, "No whole breath was listened to."};
  const bool is_there =
      std::any_of(scope.begin(), scope.end(), [](const HeardAt* one) { return one->is_prolonged; });
  const bool is_right = is_there == (mark.presence == Presence::kPresent);
  return {is_right ? MarkVerdict::kRight : MarkVerdict::kWrong,
          is_there ? "Breathing out took more than two and a half times as long as breathing in."
                   : "Breathing out was not prolonged."};
}

}  // namespace

SoundNames finding_names(Sound sound) {
  switch (sound) {
    case Sound::kWheeze:
      return {{"wheeze"}, {"rhonchi"}};
    case Sound::kRhonchus:
      return {{"rhonchi"}, {"wheeze"}};
    case Sound::kStridor:
      return {{"stridor"}, {"wheeze"}};
    case Sound::kSquawk:
      return {{"squawk"}, {"wheeze"}};
    case Sound::kFineCrackle:
      return {{"fine_crackles"}, {"crackles", "coarse_crackles"}};
    case Sound::kCoarseCrackle:
      return {{"coarse_crackles"}, {"crackles", "fine_crackles"}};
    case Sound::kPleuralFrictionRub:
      return {{"pleural_friction_rub"}, {"crackles", "coarse_crackles"}};
    case Sound::kBronchial:
      return {{"bronchial_breathing"}, {}};
    case Sound::kGrunting:
      return {{"grunting"}, {}};
    case Sound::kGurgling:
      return {{"gurgling"}, {"rhonchi", "coarse_crackles"}};
    default:
      return {};
  }
}

bool is_softness_finding(std::string_view id) {
  return id == "diminished_breath_sounds" || id == "absent_breath_sounds" ||
         id == "diminished_one_sided" || id == "silent_chest";
}

bool is_heard_finding(std::string_view id) {
  if (is_softness_finding(id) || id == "normal_breath_sounds" || id == "prolonged_expiration")
    return true;
  const std::string_view base = base_of(id);
  return base == "crackles" ||
         std::any_of(kAddedSounds.begin(), kAddedSounds.end(),
                     [&](Sound sound) { return contains(finding_names(sound).exact, base); });
}

std::string_view to_string(MarkVerdict value) {
  switch (value) {
    case MarkVerdict::kRight:
      return "right";
    case MarkVerdict::kNearly:
      return "nearly";
    case MarkVerdict::kWrong:
      return "wrong";
    case MarkVerdict::kNotJudged:
      break;
  }
  return "not judged";
}

JudgedMark judge_mark(const Finding& mark, std::span<const HeardAt> places) {
  if (mark.presence == Presence::kUnknown || !is_heard_finding(mark.id)) return {};
  const Places scope = where(places, [&](const HeardAt& one) { return is_in_scope(one, mark); });
  if (scope.empty()) return {MarkVerdict::kNotJudged, "You did not listen there."};
  if (mark.id == "normal_breath_sounds") return judge_normal(mark, scope);
  if (mark.id == "prolonged_expiration") return judge_prolonged(mark, scope);
  if (is_softness_finding(mark.id)) {
    const bool is_known = std::any_of(scope.begin(), scope.end(), [](const HeardAt* one) {
      return one->loudness != Loudness::kUnknown;
    });
    if (!is_known) return {MarkVerdict::kNotJudged, "You listened there too briefly."};
    return judge_softness(mark, places, scope);
  }
  return judge_sound(mark, base_of(mark.id), places, scope);
}

std::vector<MissedFinding> missed_findings(std::span<const Finding> marks,
                                           std::span<const HeardAt> places) {
  const auto is_named = [&](auto&& names) {
    return std::any_of(marks.begin(), marks.end(), [&](const Finding& mark) {
      const MarkVerdict verdict = judge_mark(mark, places).verdict;
      return mark.presence == Presence::kPresent && names(mark) &&
             (verdict == MarkVerdict::kRight || verdict == MarkVerdict::kNearly);
    });
  };
  std::vector<MissedFinding> out;
  const auto add = [&](std::string id, Side side, const Places& at, std::string words) {
    MissedFinding missed{std::move(id), side, {}, std::move(words)};
    for (const HeardAt* one : at) {
      if (!one->site_id.empty() && !contains(missed.site_ids, one->site_id))
        missed.site_ids.push_back(one->site_id);
    }
    out.push_back(std::move(missed));
  };
  for (const Side side : {Side::kRight, Side::kLeft}) {
    const Places soft = where(
        places, [&](const HeardAt& one) { return one.is_softer() && side_of(one.point) == side; });
    if (soft.empty()) continue;
    if (is_named([&](const Finding& mark) {
          return is_softness_finding(mark.id) && (mark.side == side || mark.side == Side::kMidline);
        }))
      continue;
    const bool is_absent = std::all_of(soft.begin(), soft.end(), [](const HeardAt* one) {
      return one->loudness == Loudness::kAbsent;
    });
    add(is_absent ? "absent_breath_sounds" : "diminished_breath_sounds", side, soft,
        std::string("breath sounds ") + (is_absent ? "absent" : "diminished") + side_words(side));
  }
  for (const Sound sound : kAddedSounds) {
    const SoundNames names = finding_names(sound);
    const auto places_with = [&](bool is_own) {
      return where(places, [&](const HeardAt& one) {
        if (sound == Sound::kBronchial) return worth_at(one, "bronchial_breathing") == 2;
        return std::any_of(one.added.begin(), one.added.end(), [&](const AddedSound& s) {
          return s.sound == sound && s.is_noticed() && !(is_own && s.is_carried());
        });
      });
    };
    Places there = places_with(true);  // where it arises, or else where it is carried to
    if (there.empty()) there = places_with(false);
    if (there.empty()) continue;
    if (is_named([&](const Finding& mark) {
          const std::string_view base = base_of(mark.id);
          return contains(names.exact, base) || contains(names.family, base);
        }))
      continue;
    std::string words(exam::label_of(sound));
    for (const AddedSound& one : there.front()->added) {
      if (one.sound == sound) words = in_words(one);
    }
    add(names.exact.front(), Side::kMidline, there, words);
  }
  return out;
}

}  // namespace phren::bedside
