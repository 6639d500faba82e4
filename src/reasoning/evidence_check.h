// Checks the published evidence as a whole and counts what it covers: `phren evidence check`.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "reasoning/evidence.h"
#include "reasoning/knowledge.h"

namespace phren::reasoning {

struct Coverage {
  std::string condition_id, label;
  std::size_t num_rows = 0;         // published rows that speak of the condition
  std::size_t num_weighed = 0;      // of them weighed
  std::size_t num_findings = 0;     // findings with a published ratio that is weighed
  std::size_t num_from_memory = 0;  // of the weighed rows
};

// Ranges, ratio against sensitivity and specificity, sources, unknown ids, duplicates and two rows
// weighed for one state. Errors first, each with file and line.
std::vector<Complaint> check_evidence(const std::filesystem::path& published_csv,
                                      const FindingTable& findings,
                                      const std::vector<ConditionInfo>& conditions);
std::vector<Complaint> check_rows(const std::vector<EvidenceRow>& rows,
                                  const FindingTable& findings,
                                  const std::vector<ConditionInfo>& conditions);

std::vector<Coverage> coverage(const Knowledge& knowledge);

}  // namespace phren::reasoning
