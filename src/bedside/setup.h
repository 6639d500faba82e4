// All that a bedside needs to begin: the patient as plain numbers, what lies around, what can be given
// and what is told. One packet of bytes, so that a page passes it on without reading it.
//
// Errors:  prepare() as patient::configure(); unpack() refuses what pack() cannot have made.
// Format:  docs/engine.md.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.h"
#include "bedside/at_hand.h"
#include "bedside/log.h"
#include "exam/types.h"
#include "patient/config.h"

namespace phren::acoustics {
class Instruments;
}

namespace phren::bedside {

struct Circumstances {
  Clothing clothing = Clothing::kBare;  // that the patient comes in
  acoustics::Surroundings room = acoustics::Surroundings::kQuiet;
};

struct Setup {
  patient::PatientConfig patient;
  Circumstances around;
  std::vector<std::string> treatment_ids;  // in the order of patient.treatments
  std::vector<exam::Finding> told;         // what asking and looking bring to light beside the body
  std::vector<AtHand> instruments{};       // what one can listen with; old packets have none
};

Result<Setup> prepare(const patient::PatientSetup& patient, const Circumstances& around,
                      std::vector<exam::Finding> told, const patient::Conditions& conditions,
                      const patient::Treatments& treatments,
                      const acoustics::Instruments* instruments = nullptr);  // null: none to choose

std::string pack(const Setup& setup);
// The same hidden under a key (patient/keyed_pack.h), what is told with it; unpack() reads both.
std::string pack_keyed(const Setup& setup, std::uint64_t key);
Result<Setup> unpack(std::string_view bytes);

}  // namespace phren::bedside
