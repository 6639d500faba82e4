// Runs the program, or a part of it, and keeps what it printed.
#pragma once

#include <sstream>
#include <string>
#include <vector>

#include "app/cli/command.h"

namespace phren::app {

struct Ran {
  int code = -1;
  std::string out, err;
};

template <class Action>
Ran run_with(Action action) {
  std::ostringstream out, err;
  Context context{out, err, false};
  const int code = action(context);
  return {code, out.str(), err.str()};
}

// As `phren ARGUMENTS...` on the command line.
inline Ran run_phren(const std::vector<std::string>& arguments) {
  return run_with([&](Context& context) { return run_program(arguments, context); });
}

}  // namespace phren::app
