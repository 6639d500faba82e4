// Lung findings as NEMSIS 3.5.1 codes (eExam.22, eExam.23), and what is lost on the way.
//
// Errors:  none; a finding without a code comes back as a loss in words, never as a near code.
// Source:  NEMSIS 3.5.1 dictionary, build 250403CP1, pages 345-349 (VERIFIED).
// Limits:  the standard knows a side but no place, no fine or coarse crackle, no rub, no squawk.
#pragma once

#include <string>
#include <vector>

#include "exam/types.h"

namespace phren::records {

struct NemsisLung {
  std::string location_code;  // eExam.22
  std::string location_label;
  std::string finding_code;  // eExam.23
  std::string finding_label;
  bool pertinent_negative = false;  // 8801005 Exam Finding Not Present
};

struct NemsisExport {
  std::vector<NemsisLung> findings;
  std::vector<std::string> losses;  // one sentence each
};
NemsisExport to_nemsis(const exam::Examination& examination);

}  // namespace phren::records
