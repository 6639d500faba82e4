// Plays a script on a patient and writes every number of its state as bits, minute by minute: what
// two compilers must agree on.
//
// Errors: a script that cannot be read or a patient that cannot be made gives a line that says so.
#pragma once

#include <istream>
#include <ostream>
#include <string>
#include <vector>

#include "patient/patient.h"

namespace phren::patient {

struct Act {
  double minute = 0.0;
  Action action;
};

struct Script {
  Seed seed;
  double minutes = 20.0;
  std::vector<Act> acts;       // by minute
  std::vector<double> config;  // pack()
};

void write(const Script& script, std::ostream& out);
Script read(std::istream& in);
std::string play(const Script& script);

}  // namespace phren::patient
