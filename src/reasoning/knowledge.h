// Everything the weighing knows, read once from the data folder.
//
// Errors:  load() gives the first error with its file and line; the checker in evidence_check.h
//          lists all of them.
// Threads: a loaded Knowledge is never changed, so any number of threads may weigh with it.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "base/result.h"
#include "reasoning/evidence.h"
#include "reasoning/findings.h"
#include "reasoning/rules.h"
#include "reasoning/tables.h"
#include "reasoning/types.h"
#include "reasoning/when.h"

namespace phren::reasoning {

struct ThreatRule {
  Threat threat;  // words only; nothing of a patient
  std::vector<Line> when;
};

struct SayingRule {
  Saying saying;
  std::vector<Line> when;
};

struct Knowledge {
  FindingTable findings;
  std::vector<ConditionInfo> conditions;
  std::vector<EvidenceRow> published;
  FrequencyTable engineering;
  PriorTable priors;
  AgreementTable agreement;
  std::vector<LookInfo> looks;
  std::vector<ThreatRule> threats;
  std::vector<SayingRule> sayings;
  std::vector<Rule> rules;
  // Rows that are weighed, by [condition][finding].
  std::vector<std::vector<std::vector<std::size_t>>> weighed;

  // `data` is the data folder (base/files.h: data_directory()).
  static Result<Knowledge> load(const std::filesystem::path& data);
};

Result<std::vector<ThreatRule>> read_threats(std::string_view toml_text, std::string_view file_name,
                                             const FindingTable& table);
Result<std::vector<SayingRule>> read_sayings(std::string_view toml_text, std::string_view file_name,
                                             const FindingTable& table);

}  // namespace phren::reasoning
