// How a command of the `phren` program says what it takes and does, without knowing the parser.
//
// A command is one file src/app/cli/<name>.cc with `void add_<name>(Program&)`, named in
// commands.h and in the list of program.cc:
//
//   void add_sites(Program& program) {
//     auto options = std::make_shared<Options>();       // lives as long as the program
//     program.command("sites", "List the listening sites")
//         .json(options->json)
//         .example("phren sites --json", "the same for a program")
//         .run([options](Context& context) { ...; return kOk; });
//   }
//
// Errors:  numbers out of range and words that are not numbers are usage errors (exit code 2) that
//          name the option, the value and the allowed range; `run` is not called.
#pragma once

#include <cstdint>
#include <functional>
#include <iosfwd>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.h"

namespace CLI {
class App;
}

namespace phren::app {

// Exit codes, part of the interface: scripts rely on them.
inline constexpr int kOk = 0;
inline constexpr int kInputFailed = 1;  // at least one input could not be used; the others were
inline constexpr int kUsage = 2;        // the command line itself is wrong; nothing was done
inline constexpr int kInternal = 3;     // a fault of Phren

struct Context {
  std::ostream& out;         // results only, so that they can be piped
  std::ostream& err;         // errors and progress
  bool is_terminal = false;  // err is a terminal: progress may rewrite its line

  // Prints "phren: MESSAGE" on err and returns kInputFailed.
  int report(const Error& error) const;
};

struct Range {
  double low, high;  // both allowed
};
struct WholeRange {
  std::uint64_t low = 0, high = UINT64_MAX;  // both allowed
};

class Command {
 public:
  // Positional: one required word, or one or more.
  Command& argument(const std::string& name, std::string& target, const std::string& help);
  Command& arguments(const std::string& name, std::vector<std::string>& target,
                     const std::string& help);
  // Options; `name` such as "--out" or "-o,--out". The value before parsing is the default.
  Command& option(const std::string& name, std::optional<std::string>& target,
                  const std::string& placeholder, const std::string& help);
  Command& option(const std::string& name, double& target, Range range, const std::string& help);
  Command& option(const std::string& name, std::uint64_t& target, WholeRange range,
                  const std::string& help);
  Command& flag(const std::string& name, bool& target, const std::string& help);
  Command& json(bool& target);  // --json: machine-readable results on standard output
  Command& example(const std::string& line, const std::string& meaning);
  Command& run(std::function<int(Context&)> action);

 private:
  friend class Program;
  struct State;
  explicit Command(std::shared_ptr<State> state) : state_(std::move(state)) {}
  std::shared_ptr<State> state_;
};

class Program {
 public:
  Program();
  ~Program();
  Command command(const std::string& name, const std::string& summary);
  // Parses, runs the chosen command and returns its exit code; prints help and usage errors.
  int run(const std::vector<std::string>& arguments, Context& context);

 private:
  int fail_usage(Context& context, const std::string& message) const;
  struct State;
  std::unique_ptr<State> state_;
};

// The whole program with all its commands, as main() and the tests call it.
int run_program(const std::vector<std::string>& arguments, Context& context);

}  // namespace phren::app
