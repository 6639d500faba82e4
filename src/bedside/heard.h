// What is heard at a place of the chest, in the trade's words: told here once, and read by debrief, marks, drill keys,
// case sheets, reports and results.
//
// Units:   dB; levels are of breath sound at the skin while a breath goes in, 100..1000 Hz (kFullScale_dbspl is 0 dB);
//          seconds of listening.
// Errors:  none. What was listened to for less than a breath in is kUnknown, never guessed.
// Source:  how far below health is called diminished or absent, and when a sound is noticed: ENGINEERING (below).
//          A wheeze lasts more than 100 ms (CORSA 2000, from memory). Expiration: quiet adults breathe 1:1.4 to 1:2,
//          with obstruction 1:3 to 1:4 (common practice; Tobin 1983); the limit between them is our choice.
#pragma once

#include <array>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "exam/place_words.h"
#include "exam/sites.h"
#include "exam/types.h"

namespace phren::bedside {

inline constexpr double kDiminished_db =
    10.0;                                   // below the same body in health: a tenth of the power
inline constexpr double kAbsent_db = 20.0;  // a hundredth; or nothing of it can be heard
inline constexpr double kProlongedRatio = 2.5;  // breath out against breath in
inline constexpr double kNoticedTone_s = 0.1;   // together; shorter is no wheeze
inline constexpr int kNoticedClicks = 2;        // one crackle alone is chance
inline constexpr double kClear_db = 6.0;        // over the threshold: clear; below that: faint
// Beyond this a sound is plain, and how long it goes on decides which of two a listener names; a click
// stays in the ear for longer than it lasts.
inline constexpr double kPlain_db = 15.0;
inline constexpr double kClickInTheEar_s = 0.05;
inline constexpr double kPhaseShare =
    0.2;  // less of a sound than this in a phase does not name the phase
inline constexpr double kCarriedShare = 0.9;  // from the other side: it is called carried over

enum class Loudness { kNormal, kDiminished, kAbsent, kUnknown };

// One added sound in one phase of the breath.
struct InPhase {
  int events = 0;                  // that were made and reached this place at all
  int audible = 0;                 // of them, over what hides them
  double audible_s = 0.0;          // their length together
  double over_hiding_db = -100.0;  // the loudest, over the least that could be heard; < 0: masked
};

struct AddedSound {
  exam::Sound sound = exam::Sound::kWheeze;
  InPhase in, out;
  // The other side of the chest, where nearly all of it arises there; kMidline otherwise.
  exam::Side carried_from = exam::Side::kMidline;
  bool is_carried() const { return carried_from != exam::Side::kMidline; }
  int audible() const { return in.audible + out.audible; }
  double over_hiding_db() const {
    return in.over_hiding_db > out.over_hiding_db ? in.over_hiding_db : out.over_hiding_db;
  }
  bool is_masked() const { return audible() == 0; }
  // What a listener would name first: how plain it is, and for how much of the time (ENGINEERING).
  double prominence_db(double listened_s) const;
  // Enough of it for a name; a sound that is not noticed is no finding.
  bool is_noticed() const;
  // Phases that a listener would name: those that hold kPhaseShare of what is audible or more.
  bool is_in(exam::Phase phase) const;
};

struct HeardAt {
  exam::TorsoPoint point;
  std::string site_id;  // of the nearest site; empty between sites
  double seconds = 0.0;
  Loudness loudness = Loudness::kUnknown;
  exam::Sound breath = exam::Sound::kNormal;  // or bronchial, or tracheal
  bool is_breath_audible = false;             // over the noise around
  bool is_prolonged = false;                  // breathing out takes long
  std::optional<double> out_over_in;          // time of breath out / in
  std::optional<double> level_db;
  std::optional<double>
      below_health_db;  // > 0: softer than the same body in health, at the same place
  std::optional<double>
      below_mirror_db;            // > 0: softer than the mirrored place, where that was listened to
  std::vector<AddedSound> added;  // the most prominent first; masked ones last
  bool is_softer() const {
    return loudness == Loudness::kDiminished || loudness == Loudness::kAbsent;
  }
  // Nothing of the breath could be heard although the body makes as much as in health: the noise hides it.
  bool is_hidden() const { return !is_breath_audible && loudness == Loudness::kNormal; }
};

Loudness loudness_of(double below_health_db, bool is_breath_audible);
std::string_view to_string(Loudness value);  // "normal", "diminished", "absent", "unknown"

// Fills below_mirror_db of each place whose mirrored site is among `places`, by the same kind of breath.
void compare_sides(std::span<HeardAt> places, const exam::SiteMap& sites);

// "breath sounds absent, 38 dB below the same body in health; wheeze breathing out, clear"
std::string in_words(const HeardAt& heard);
// The same without figures, for a table or a mark: "absent; wheeze (out, from the left)".
std::string in_short(const HeardAt& heard);
// "wheeze breathing in and out, clear"; "wheeze breathing out, faint, carried over from the left"
std::string in_words(const AddedSound& added);
std::string phases_in_words(const AddedSound& added);  // "breathing in and out"

}  // namespace phren::bedside
