// The `phren` program.
#include <unistd.h>

#include <iostream>

#include "app/cli/command.h"

int main(int argc, char** argv) {
  std::ios::sync_with_stdio(false);
  phren::app::Context context{std::cout, std::cerr, isatty(STDERR_FILENO) != 0};
  const int code =
      phren::app::run_program(std::vector<std::string>(argv + 1, argv + argc), context);
  std::cout.flush();
  if (!std::cout && code == phren::app::kOk) {
    std::cerr << "phren: standard output cannot be written\n";
    return phren::app::kInputFailed;
  }
  return code;
}
