// What tests of plausible hands share: logs as the server takes them.
#pragma once

#include <string>
#include <vector>

#include "bedside/log_text.h"
#include "bedside/plausible.h"

namespace phren::bedside {

// What the server does when they come: all at once, or as they happen.
inline Status taken(const EncounterLog& log) {
  for (std::size_t i = 1; i < log.actions.size(); ++i) {
    if (auto ok = check_follows(log.actions[i], log.actions[i - 1].time_s); !ok) return ok;
  }
  return check_possible({}, log.actions);
}
inline std::string rules_of(const std::vector<Doubt>& doubts) {
  std::string text;
  for (const Doubt& doubt : doubts) text += doubt.rule + " (" + doubt.reason + ") ";
  return text;
}

}  // namespace phren::bedside
