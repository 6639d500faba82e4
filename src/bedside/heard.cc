#include "bedside/heard.h"

#include <algorithm>
#include <cmath>

#include "base/det_math.h"
#include "exam/names.h"

namespace phren::bedside {
namespace {

bool is_click(exam::Sound sound) {
  return sound == exam::Sound::kFineCrackle || sound == exam::Sound::kCoarseCrackle;
}

// How much of it: clicks by number, the rest by time.
double amount(const InPhase& part, exam::Sound sound) {
  return is_click(sound) ? static_cast<double>(part.audible) : part.audible_s;
}

std::string rounded(double value) {
  return std::to_string(static_cast<long>(std::lround(value)));
}

std::string plural(exam::Sound sound) {
  const std::string label(exam::label_of(sound));
  return is_click(sound) ? label + "s" : label;
}

std::string breath_in_words(const HeardAt& heard) {
  const bool is_bronchial = heard.breath == exam::Sound::kBronchial;
  switch (heard.loudness) {
    case Loudness::kAbsent:
      return "breath sounds absent";
    case Loudness::kDiminished:
      return is_bronchial ? "bronchial breathing, diminished" : "breath sounds diminished";
    case Loudness::kNormal:
      if (heard.is_hidden()) return "breath sounds hidden by the noise around";
      if (is_bronchial) return "bronchial breathing";
      return heard.breath == exam::Sound::kTracheal ? "breath sounds normal (tracheal)"
                                                    : "breath sounds normal (vesicular)";
    case Loudness::kUnknown:
      break;
  }
  return "listened too briefly to judge the breath sounds";
}

}  // namespace

bool AddedSound::is_noticed() const {
  if (is_click(sound)) return audible() >= kNoticedClicks;
  return in.audible_s + out.audible_s >= kNoticedTone_s;
}

double AddedSound::prominence_db(double listened_s) const {
  const double heard_s =
      is_click(sound) ? kClickInTheEar_s * audible() : in.audible_s + out.audible_s;
  const double share = std::min(1.0, heard_s / std::max(1e-3, listened_s));
  return std::min(over_hiding_db(), kPlain_db) + 10.0 * det::log10(share + 1e-6);
}

bool AddedSound::is_in(exam::Phase phase) const {
  const double here = amount(phase == exam::Phase::kInspiration ? in : out, sound);
  const double all = amount(in, sound) + amount(out, sound);
  return phase != exam::Phase::kPause && all > 0.0 && here >= kPhaseShare * all;
}

Loudness loudness_of(double below_health_db, bool is_breath_audible) {
  if (below_health_db >= kAbsent_db) return Loudness::kAbsent;
  if (below_health_db < kDiminished_db) return Loudness::kNormal;
  return is_breath_audible ? Loudness::kDiminished : Loudness::kAbsent;
}

std::string_view to_string(Loudness value) {
  switch (value) {
    case Loudness::kNormal:
      return "normal";
    case Loudness::kDiminished:
      return "diminished";
    case Loudness::kAbsent:
      return "absent";
    case Loudness::kUnknown:
      break;
  }
  return "unknown";
}

void compare_sides(std::span<HeardAt> places, const exam::SiteMap& sites) {
  for (HeardAt& here : places) {
    here.below_mirror_db.reset();
    const auto site = sites.find(here.site_id);
    if (!site || site->mirror_id.empty() || !here.level_db) continue;
    // The last time the other side was listened to before this, or else the first time after it.
    const HeardAt* other = nullptr;
    for (const HeardAt& one : places) {
      if (one.site_id != site->mirror_id || !one.level_db) continue;
      if (other == nullptr || &one < &here) other = &one;
    }
    if (other != nullptr) here.below_mirror_db = *other->level_db - *here.level_db;
  }
}

std::string phases_in_words(const AddedSound& added) {
  const bool in = added.is_in(exam::Phase::kInspiration),
             out = added.is_in(exam::Phase::kExpiration);
  return in && out ? "breathing in and out" : in ? "breathing in" : out ? "breathing out" : "";
}

std::string in_words(const AddedSound& added) {
  const std::string label = plural(added.sound);
  if (added.is_masked()) return label + " there but masked";
  if (!added.is_noticed()) return "too little " + label + " to count";
  std::string text = label + " " + phases_in_words(added) +
                     (added.over_hiding_db() >= kClear_db ? ", clear" : ", faint");
  if (added.is_carried())
    text += ", carried over from the " + std::string(exam::to_string(added.carried_from));
  return text;
}

std::string in_words(const HeardAt& heard) {
  std::string text = breath_in_words(heard);
  const bool is_sided = heard.below_mirror_db && *heard.below_mirror_db >= kDiminished_db;
  if (heard.is_softer() && heard.below_health_db) {
    text += ", " + rounded(*heard.below_health_db) + " dB below the same body in health";
    if (is_sided) text += " and " + rounded(*heard.below_mirror_db) + " dB below the other side";
  } else if (is_sided) {
    text += ", " + rounded(*heard.below_mirror_db) + " dB below the other side";
  }
  if (heard.is_prolonged) text += "; breathing out prolonged";
  for (const AddedSound& one : heard.added) text += "; " + in_words(one);
  return text;
}

std::string in_short(const HeardAt& heard) {
  std::string text(heard.loudness == Loudness::kUnknown ? "not judged" : to_string(heard.loudness));
  if (heard.is_hidden()) text = "hidden by noise";
  if (heard.breath == exam::Sound::kBronchial && heard.loudness != Loudness::kAbsent) {
    text = heard.is_softer() ? "bronchial breathing, diminished" : "bronchial breathing";
  }
  for (const AddedSound& one : heard.added) {
    if (!one.is_noticed()) continue;
    const bool in = one.is_in(exam::Phase::kInspiration), out = one.is_in(exam::Phase::kExpiration);
    text +=
        "; " + plural(one.sound) +
        (in && out ? " (in and out"
         : in      ? " (in"
                   : " (out") +
        (one.is_carried() ? ", from the " + std::string(exam::to_string(one.carried_from)) : "") +
        ")";
  }
  if (heard.is_prolonged) text += "; long breath out";
  return text;
}

}  // namespace phren::bedside
