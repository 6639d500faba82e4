// An examination as a FHIR R4 Bundle, marked as test data: a simulated patient, never a real one.
//
// Errors:  kInvalidArgument naming the field.
// Source:  FHIR R4 (CC0): Bundle, Observation; test mark HTEST of v3-ActReason (VERIFIED); LOINC
//          10207-9, 80341-1, 19889-5 VERIFIED, the other vital signs from memory; SNOMED CT as in
//          the open IHE paramedicine guide (VERIFIED there). SNOMED codes are off by default: using
//          them needs a licence in some countries.
#pragma once

#include <string>

#include "base/result.h"
#include "exam/types.h"

namespace phren::records {

struct FhirOptions {
  std::string bundle_id;  // 1-64 letters, digits, - or .
  std::string timestamp;  // ISO 8601 UTC
  bool with_snomed = false;
};
Result<std::string> fhir_bundle(const exam::Examination& examination, const FhirOptions& options);

}  // namespace phren::records
