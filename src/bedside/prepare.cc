// Reads the tables of conditions and treatments, so the browser module leaves this file out.
#include "acoustics/instruments.h"
#include "bedside/setup.h"
#include "patient/conditions.h"

namespace phren::bedside {

Result<Setup> prepare(const patient::PatientSetup& patient, const Circumstances& around,
                      std::vector<exam::Finding> told, const patient::Conditions& conditions,
                      const patient::Treatments& treatments,
                      const acoustics::Instruments* instruments) {
  Setup out{TRY(patient::configure(patient, conditions, treatments)), around, {}, std::move(told)};
  for (const patient::Treatment& one : treatments.all()) out.treatment_ids.push_back(one.id);
  if (instruments == nullptr) return out;
  for (const acoustics::NamedInstrument& one : instruments->all()) {
    out.instruments.push_back({one.id, one.name, one.other_side, one.instrument});
  }
  return out;
}

}  // namespace phren::bedside
