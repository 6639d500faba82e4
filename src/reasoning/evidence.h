// Published diagnostic evidence: one row of data/evidence/published.csv per printed figure.
//
// Units:   sensitivity and specificity 0..1; likelihood ratios; ages in years.
// Errors:  read_evidence() collects every complaint with file, line, column, value and range.
// Limits:  a figure nobody printed stays empty; it is never filled in.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "base/csv.h"
#include "base/result.h"
#include "exam/types.h"
#include "reasoning/findings.h"

namespace phren::reasoning {

// How far a figure may be trusted as printed.
enum class Standing { kVerified, kPartVerified, kDerived, kMemory, kEngineering, kNoData };
std::string_view to_string(Standing standing);  // "verified", "from memory", ...
Result<Standing> parse_standing(std::string_view status_text);

enum class Use { kBoth, kPresent, kAbsent, kBeside };

// In the lines of rules a limit may also be on the age.
inline constexpr std::string_view kAgeWord = "age_years";

struct Cut {  // the study's own limit on a vital sign: "respiratory_rate_per_min>=20"
  std::string vital;
  Comparison comparison = Comparison::kAbove;
  double limit = 0.0;
};
Result<Cut> parse_cut(std::string_view text);

struct Ratio {
  std::optional<double> value, lo, hi;  // lo and hi without value: a range over studies, no ratio
  bool derived = false;                 // worked out here from printed sensitivity and specificity
};

struct EvidenceRow {
  std::string id;  // "P001"
  std::vector<std::string> condition_ids;
  std::string finding_id;
  Use use = Use::kBeside;
  double age_from_years = 0.0, age_to_years = 130.0;
  std::optional<Cut> cut;
  std::string requires_finding;
  std::vector<std::string> settings;  // weighed only in these; empty = in all
  std::string condition_words, finding_words, population;
  std::optional<double> sensitivity, specificity;
  Ratio positive, negative;
  std::string source, doi, status;
  Standing standing = Standing::kNoData;
  std::string place;  // file and line
};

struct Complaint {
  bool is_error = true;  // false: worth knowing, the row is used as printed
  std::string where, message;
};

std::vector<EvidenceRow> read_evidence(const CsvTable& table, std::vector<Complaint>& complaints);

// Does the row speak of this state (present or absent) at this age?
bool speaks_of(const EvidenceRow& row, exam::Presence presence, double age_years);

}  // namespace phren::reasoning
