// What a learner found in an encounter, as one examination record that other programs can read.
//
// Shapes:  findings are the learner's last reports, those taken back left out; vital signs are those taken, as
//          the learner read or counted them, else as the monitor showed them at that time; places listened
//          to become site records. With `now`, what stays on the patient is read as it is now.
// Limits:  without values in the log and without a replayed performance, vital signs stay empty.
#pragma once

#include "bedside/performance.h"
#include "exam/types.h"

namespace phren::bedside {

struct Examined {
  std::string case_id;
  std::uint64_t seed = 0;
  double age_years = 40.0;
  patient::Sex sex = patient::Sex::kFemale;
  std::string setting;
};

exam::Examination examination_of(const Performance& performance, const Examined& who,
                                 const patient::Monitor* now = nullptr);

}  // namespace phren::bedside
