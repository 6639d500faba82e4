#include "reasoning/observe.h"

#include <algorithm>
#include <optional>
#include <tuple>

namespace phren::reasoning {
namespace {

using exam::Presence;
using exam::Side;

struct Sides {
  bool right = false, left = false;
};

int strength(Presence presence) {
  return presence == Presence::kPresent ? 2 : presence == Presence::kAbsent ? 1 : 0;
}

void merge(Observation& into, const Observation& other) {
  const auto key = [](const Observation& o) {
    return std::tuple(strength(o.presence), o.confidence, static_cast<int>(o.basis));
  };
  if (key(other) > key(into)) into = other;
}

void note_side(Sides& sides, const exam::Finding& finding) {
  if (finding.presence != Presence::kPresent) return;
  const bool both = finding.side == Side::kMidline && finding.site_ids.size() > 1;
  sides.right = sides.right || finding.side == Side::kRight || both;
  sides.left = sides.left || finding.side == Side::kLeft || both;
}

// As absent as the least sure of its kinds; nothing when one of them was not looked for or is
// there.
std::optional<Observation> absent_kinds(const FindingTable& table, std::size_t family,
                                        const std::vector<Observation>& known) {
  std::optional<Observation> least;
  for (const auto& id : table[family].implied_by) {
    const Observation& kind = known[*table.index_of(id)];
    if (kind.presence != Presence::kAbsent) return std::nullopt;
    if (!least || kind.confidence < least->confidence) least = kind;
  }
  return least;
}

// A kind implies the family ("fine crackles" are crackles); a family looked for and not found
// excludes its kinds; all kinds excluded excludes the family only where they are all there are.
void imply(const FindingTable& table, std::vector<Observation>& known, std::vector<Sides>& sides) {
  for (std::size_t i = 0; i < known.size(); ++i) {
    for (const auto& id : table[i].implied_by) {
      const std::size_t kind = *table.index_of(id);
      if (known[kind].presence == Presence::kPresent) {
        merge(known[i], known[kind]);
        sides[i].right = sides[i].right || sides[kind].right;
        sides[i].left = sides[i].left || sides[kind].left;
      }
    }
    if (known[i].presence == Presence::kUnknown && table[i].kinds_complete) {
      if (const auto absent = absent_kinds(table, i, known)) known[i] = *absent;
    }
    if (known[i].presence != Presence::kAbsent) continue;
    for (const auto& id : table[i].implied_by) {
      const std::size_t kind = *table.index_of(id);
      if (known[kind].presence == Presence::kUnknown) known[kind] = known[i];
    }
  }
}

void add_patterns(const FindingTable& table, std::vector<Observation>& known,
                  const std::vector<Sides>& sides) {
  for (std::size_t i = 0; i < known.size(); ++i) {
    if (!table[i].pattern || table[i].of.empty()) continue;
    const std::size_t of = *table.index_of(table[i].of);
    if (known[of].presence != Presence::kPresent || !(sides[of].right || sides[of].left)) continue;
    known[i] = known[of];
    known[i].presence = sides[of].right && sides[of].left ? Presence::kAbsent : Presence::kPresent;
  }
}

void add_any_abnormal_vital(const FindingTable& table, std::vector<Observation>& known) {
  const auto target = table.index_of("abnormal_vital_sign");
  if (!target) return;
  int num_absent = 0;
  for (const auto id : {"fever", "tachypnoea", "tachycardia"}) {
    const auto index = table.index_of(id);
    if (!index) return;
    if (known[*index].presence == Presence::kPresent) known[*target] = known[*index];
    num_absent += known[*index].presence == Presence::kAbsent ? 1 : 0;
  }
  if (num_absent == 3) {
    known[*target] = {Presence::kAbsent, exam::Basis::kMonitored, 1.0};
  }
}

}  // namespace

Observations observe(const exam::Examination& examination, const FindingTable& table) {
  Observations out;
  out.vitals = examination.vital_signs;
  out.age_years = examination.age_years;
  out.by_finding.resize(table.all().size());
  std::vector<Sides> sides(table.all().size());
  for (const exam::Finding& finding : examination.findings) {
    const auto index = table.index_of(finding.id);
    if (!index) {
      out.unknown_ids.push_back(finding.id);
      continue;
    }
    if (table[*index].pattern) continue;  // worked out below, never taken from outside
    merge(out.by_finding[*index], {finding.presence, finding.basis, finding.confidence});
    note_side(sides[*index], finding);
  }
  for (const exam::Finding& f :
       findings_from_vitals(examination.vital_signs, examination.age_years, table)) {
    out.by_finding[*table.index_of(f.id)] = {f.presence, f.basis, f.confidence};
  }
  imply(table, out.by_finding, sides);
  add_patterns(table, out.by_finding, sides);
  add_any_abnormal_vital(table, out.by_finding);
  std::sort(out.unknown_ids.begin(), out.unknown_ids.end());
  return out;
}

}  // namespace phren::reasoning
