#include "bedside/looked.h"

#include <algorithm>

#include "exam/names.h"

namespace phren::bedside {
namespace {

using exam::Finding;
using exam::Presence;
using exam::Side;

// None where the body cannot show it.
const Finding* truth_of(const Finding& said, std::span<const Finding> there) {
  const auto found = std::find_if(there.begin(), there.end(),
                                  [&](const Finding& one) { return one.id == said.id; });
  return found == there.end() ? nullptr : &*found;
}

}  // namespace

bool is_seen_finding(std::string_view finding_id) {
  return std::any_of(kSeenAt.begin(), kSeenAt.end(),
                     [&](const SeenAt& one) { return one.finding_id == finding_id; });
}

bool Looks::is_told(std::string_view finding_id) const {
  return std::find(told_.begin(), told_.end(), finding_id) != told_.end();
}

void Looks::note(const EncounterAction& action) {
  if (const auto* examine = std::get_if<Examine>(&action.deed)) {
    told_.push_back(examine->finding_id);
    return;
  }
  const auto* report = std::get_if<Report>(&action.deed);
  if (report == nullptr || report->finding.basis != exam::Basis::kSeen) return;
  const Finding& said = report->finding;
  if (!is_seen_finding(said.id) || is_told(said.id)) return;
  std::erase_if(looks_, [&](const LookedAt& one) {
    return one.said.id == said.id && one.said.side == said.side;
  });
  if (said.presence == Presence::kUnknown) return;  // taken back
  looks_.push_back({action.id, action.time_s, said, {}});
}

JudgedMark judge_look(const LookedAt& look) {
  const Finding& said = look.said;
  const Finding* truth = truth_of(said, look.there);
  if (truth == nullptr) return {};
  const bool is_there = truth->presence == Presence::kPresent;
  const std::string where =
      truth->side == Side::kMidline ? "" : " on the " + std::string(exam::to_string(truth->side));
  if (said.presence == Presence::kAbsent) {
    if (is_there) return {MarkVerdict::kWrong, "It was there to be seen" + where + "."};
    return {MarkVerdict::kRight, "It was not there."};
  }
  if (!is_there) return {MarkVerdict::kWrong, "It was not there."};
  if (truth->side == said.side || truth->side == Side::kMidline)
    return {MarkVerdict::kRight, "It was there to be seen" + where + "."};
  return {said.side == Side::kMidline ? MarkVerdict::kNearly : MarkVerdict::kWrong,
          "It was" + where + "."};
}

std::vector<MissedFinding> missed_looks(const Looks& looks, std::span<const Finding> there) {
  std::vector<MissedFinding> out;
  for (const Finding& one : there) {
    if (one.presence != Presence::kPresent || !is_seen_finding(one.id) || looks.is_told(one.id))
      continue;
    const bool is_named = std::any_of(looks.all().begin(), looks.all().end(),
                                      [&](const LookedAt& look) { return look.said.id == one.id; });
    if (!is_named) out.push_back({one.id, one.side, {}, ""});
  }
  return out;
}

}  // namespace phren::bedside
