#include "app/cli/command.h"
#include "app/cli/commands.h"

namespace phren::app {

int run_program(const std::vector<std::string>& arguments, Context& context) {
  Program program;
  // In the order --help lists them: the job first, then what it is made of.
  for (const auto add : {
           add_examine,
           add_render,
           add_measure,
           add_compare,
           add_import,
           add_instruments,
           add_score,
           add_weigh,
           add_evidence,
           add_replay,
           add_watch,
           add_specimen,
           add_cases,
           add_conditions,
           add_sites,
           add_serve,
           add_records,
           add_doctor,
       }) {
    add(program);
  }
  return program.run(arguments, context);
}

}  // namespace phren::app
