// Whether hands can have done what a log says: one chestpiece, one pair of hands, some time for
// everything, a way between two places.
//
// Rules:   what no hands can do is impossible and is not taken; what hands hardly do, or what was not
//          seen while it happened, is odd and is shown to the examiner with the reason: it never changes
//          a mark by itself.
// Units:   seconds of encounter time, cm on the skin of an average adult.
// Source:  all limits are ENGINEERING, set from what the pages can send (a drag is at most seven places a
//          second, everything else is one touch of a screen): an impossible rate is three times that of
//          the fastest tapping with one finger, 6 to 7 a second (from memory).
// Limits:  whoever knows these rules can write a log that keeps them; it then lasts as long as an honest
//          one and has to be sent while it happens.
#pragma once

#include <functional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.h"
#include "bedside/log.h"

namespace phren::bedside {

struct Doubt {
  std::string rule;  // "short_listening", "travel", "clockwork", "sent_together", "copied", ...
  std::string action_id;  // where it shows first
  double time_s = 0.0;
  std::string reason;  // for the examiner, in words with the figures
};

// kInvalidArgument names the first action of `batch` that no hands can have done after `before`.
Status check_possible(std::span<const EncounterAction> before,
                      std::span<const EncounterAction> batch);

// What is odd, one entry a rule. `stored_s`: when the server got each action, in encounter time; empty:
// unknown. `is_heard_from_afar`: whether the sound of that id needs no chestpiece; empty: none does.
std::vector<Doubt> doubts_of(const EncounterLog& log, std::span<const double> stored_s = {},
                             const std::function<bool(std::string_view)>& is_heard_from_afar = {});

// Nothing, or one entry when a stretch of the log is that of another, deed by deed with its pauses: exactly,
// or nearly and for longer, some deeds left out or put in. `whose` names the other in the reason.
std::vector<Doubt> doubts_between(const EncounterLog& log, const EncounterLog& other,
                                  const std::string& whose);

}  // namespace phren::bedside
