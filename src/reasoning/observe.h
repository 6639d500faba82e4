// From an examination record to what is known about each finding: merged, implied and monitored
// ones filled in, sides turned into patterns. Unknown stays unknown.
//
// Units:   confidence 0..1 as in exam::Finding.
#pragma once

#include <string>
#include <vector>

#include "exam/types.h"
#include "reasoning/findings.h"

namespace phren::reasoning {

struct Observation {
  exam::Presence presence = exam::Presence::kUnknown;
  exam::Basis basis = exam::Basis::kHeard;
  double confidence = 1.0;
};

struct Observations {
  std::vector<Observation> by_finding;  // indexed as FindingTable
  exam::VitalSigns vitals;
  double age_years = 40.0;
  std::vector<std::string> unknown_ids;  // findings of the record that the table does not have
};

// Repeats of one finding count once: present at one place outweighs absent at another. The order
// of the record never matters.
Observations observe(const exam::Examination& examination, const FindingTable& table);

}  // namespace phren::reasoning
