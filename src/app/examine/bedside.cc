#include "app/examine/bedside.h"

#include <algorithm>

#include "patient/findings.h"

namespace phren::app {

std::vector<exam::Finding> bedside_findings(const patient::Patient& patient,
                                            const teaching::Case& prepared) {
  std::vector<exam::Finding> out =
      patient::findings_of(patient.signs(), patient.monitor(), patient.person());
  std::erase_if(out, [&](const exam::Finding& seen) {
    return std::any_of(prepared.told.begin(), prepared.told.end(),
                       [&](const exam::Finding& told) { return told.id == seen.id; });
  });
  out.insert(out.end(), prepared.told.begin(), prepared.told.end());
  return out;
}

}  // namespace phren::app
