#include "app/cli/command.h"

#include <CLI/CLI.hpp>
#include <charconv>
#include <cmath>
#include <ostream>

namespace phren::app {
namespace {

constexpr const char* kExitCodes =
    "Exit codes: 0 done; 1 an input could not be used (the others were); 2 wrong command line; "
    "3 a fault of Phren.\nPhren is a training aid: not a medical device, not for diagnosing or "
    "treating anyone.";

std::string text_of(double value) {
  std::string text(32, '\0');
  const auto [end, error] = std::to_chars(text.data(), text.data() + text.size(), value);
  text.resize(static_cast<std::size_t>(end - text.data()));
  return text;
}

// "is 'abc'; it must be ..." is prefixed with the option's name by whoever prints it.
[[noreturn]] void refuse(const std::string& name, const std::string& seen,
                         const std::string& allowed) {
  throw CLI::ValidationError(out_of_range(name, "'" + seen + "'", allowed).message);
}

// The part of "-o,--out" that a message should show.
std::string long_name(const std::string& name) {
  const std::size_t dashes = name.find("--");
  return dashes == std::string::npos ? name : name.substr(dashes);
}

// A message may quote a file's name or what stands in it; a terminal must not obey what is quoted.
std::string without_controls(std::string text) {
  for (char& c : text) {
    const auto byte = static_cast<unsigned char>(c);
    if ((byte < 0x20 && c != '\n' && c != '\t') || byte == 0x7f) c = '?';
  }
  return text;
}

}  // namespace

int Context::report(const Error& error) const {
  err << "phren: " << without_controls(error.message) << '\n';
  return kInputFailed;
}

struct Command::State {
  CLI::App* app = nullptr;
  std::string examples;
  std::function<int(Context&)> action;
};

struct Program::State {
  CLI::App app{"Phren, a listening bench for chest examination.", "phren"};
  std::vector<std::shared_ptr<Command::State>> commands;
};

Command& Command::argument(const std::string& name, std::string& target, const std::string& help) {
  state_->app->add_option(name, target, help)->required()->type_name("");
  return *this;
}

Command& Command::arguments(const std::string& name, std::vector<std::string>& target,
                            const std::string& help) {
  state_->app->add_option(name, target, help)->required()->type_name("");
  return *this;
}

Command& Command::option(const std::string& name, std::optional<std::string>& target,
                         const std::string& placeholder, const std::string& help) {
  state_->app
      ->add_option_function<std::string>(
          name, [&target](const std::string& text) { target = text; }, help)
      ->type_name(placeholder);
  return *this;
}

Command& Command::option(const std::string& name, double& target, Range range,
                         const std::string& help) {
  const std::string allowed =
      "a number between " + text_of(range.low) + " and " + text_of(range.high);
  const auto take = [&target, range, allowed, shown = long_name(name)](const std::string& text) {
    double value = NAN;
    const char* end = text.data() + text.size();
    const auto [stop, error] = std::from_chars(text.data(), end, value);
    if (error != std::errc() || stop != end || !(value >= range.low && value <= range.high)) {
      refuse(shown, text, allowed);
    }
    target = value;
  };
  state_->app->add_option_function<std::string>(name, take, help)
      ->type_name("NUMBER")
      ->default_str(text_of(target));
  return *this;
}

Command& Command::option(const std::string& name, std::uint64_t& target, WholeRange range,
                         const std::string& help) {
  const std::string allowed =
      "a whole number from " + std::to_string(range.low) + " to " + std::to_string(range.high);
  const auto take = [&target, range, allowed, shown = long_name(name)](const std::string& text) {
    std::uint64_t value = 0;
    const char* end = text.data() + text.size();
    const auto [stop, error] = std::from_chars(text.data(), end, value);
    if (error != std::errc() || stop != end || value < range.low || value > range.high) {
      refuse(shown, text, allowed);
    }
    target = value;
  };
  state_->app->add_option_function<std::string>(name, take, help)
      ->type_name("NUMBER")
      ->default_str(std::to_string(target));
  return *this;
}

Command& Command::flag(const std::string& name, bool& target, const std::string& help) {
  state_->app->add_flag(name, target, help);
  return *this;
}

Command& Command::json(bool& target) {
  return flag("--json", target, "machine-readable results on standard output");
}

Command& Command::example(const std::string& line, const std::string& meaning) {
  if (state_->examples.empty()) state_->examples = "Examples:\n";
  state_->examples += "  " + line + "\n      " + meaning + "\n";
  state_->app->footer(state_->examples + "\n" + kExitCodes);
  return *this;
}

Command& Command::run(std::function<int(Context&)> action) {
  state_->action = std::move(action);
  return *this;
}

Program::Program() : state_(std::make_unique<State>()) {
  state_->app.set_version_flag("--version", "phren " PHREN_VERSION);
  state_->app.require_subcommand(1);
  state_->app.footer("`phren COMMAND --help` tells what a command takes, with examples.\n" +
                     std::string(kExitCodes));
}

Program::~Program() = default;

Command Program::command(const std::string& name, const std::string& summary) {
  auto state = std::make_shared<Command::State>();
  state->app = state_->app.add_subcommand(name, summary);
  state->app->footer(kExitCodes);
  state_->commands.push_back(state);
  return Command(state);
}

int Program::fail_usage(Context& context, const std::string& message) const {
  const auto chosen = state_->app.get_subcommands();
  const std::string name = chosen.empty() ? "phren" : "phren " + chosen.front()->get_name();
  context.err << name << ": " << message << "\n`" << name << " --help` tells how it is used.\n";
  return kUsage;
}

int Program::run(const std::vector<std::string>& arguments, Context& context) {
  CLI::App& app = state_->app;
  try {
    app.parse(std::vector<std::string>(arguments.rbegin(), arguments.rend()));
    for (const auto& command : state_->commands) {
      if (command->app->parsed()) return command->action(context);
    }
    return kInternal;
  } catch (const CLI::Success& asked) {  // --help, --version
    app.exit(asked, context.out, context.err);
    return kOk;
  } catch (const CLI::ExtrasError&) {
    const auto extra = app.remaining(true);
    const std::string word = extra.empty() ? "" : extra.front();
    std::vector<std::string> known;
    const auto chosen = app.get_subcommands();
    const CLI::App* at_fault = chosen.empty() ? &app : chosen.front();
    for (const auto* option : at_fault->get_options()) {
      for (const auto& name : option->get_lnames()) known.push_back("--" + name);
    }
    return fail_usage(context, "'" + word + "' was not expected." + did_you_mean(word, known));
  } catch (const CLI::RequiredError& error) {
    const std::string word = arguments.empty() ? "" : arguments.front();
    if (!app.get_subcommands().empty()) return fail_usage(context, error.what());
    std::vector<std::string> known;
    for (const auto& command : state_->commands) known.push_back(command->app->get_name());
    return fail_usage(
        context, word.empty() ? "a command is needed."
                              : "'" + word + "' is not a command." + did_you_mean(word, known));
  } catch (const CLI::ParseError& error) {
    return fail_usage(context, error.what());
  } catch (const std::bad_alloc&) {
    context.err << "phren: not enough memory for this\n";
    return kInternal;
  } catch (const std::exception& error) {
    context.err << "phren: a fault of Phren itself: " << error.what() << '\n';
    return kInternal;
  }
}

}  // namespace phren::app
