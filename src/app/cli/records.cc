// `phren records`: the records of classes from the command line: accounts, backup, audit,
// forgetting.
#include <termios.h>
#include <unistd.h>

#include <chrono>
#include <iostream>
#include <nlohmann/json.hpp>
#include <ostream>

#include "app/cli/command.h"
#include "app/cli/commands.h"
#include "app/cli/store_place.h"
#include "base/files.h"
#include "records/dump.h"
#include "records/people.h"

namespace phren::app {
namespace {

struct Options {
  std::string what;
  std::optional<std::string> subject, file, role, name, records;
};

std::int64_t now_ms() {
  using namespace std::chrono;
  return duration_cast<milliseconds>(system_clock::now().time_since_epoch()).count();
}

// From the first line of standard input; typed in the dark at a terminal.
std::string read_password(Context& context) {
  std::string line;
  termios old{};
  const bool is_dark = isatty(STDIN_FILENO) != 0 && tcgetattr(STDIN_FILENO, &old) == 0;
  if (is_dark) {
    termios dark = old;
    dark.c_lflag &= static_cast<tcflag_t>(~ECHO);
    tcsetattr(STDIN_FILENO, TCSANOW, &dark);
    context.err << "Password (10 to 200 characters): " << std::flush;
  }
  std::getline(std::cin, line);
  if (is_dark) {
    tcsetattr(STDIN_FILENO, TCSANOW, &old);
    context.err << "\n";
  }
  return line;
}

Error needs(const char* what) {
  return {ErrorCode::kInvalidArgument, std::string("this needs ") + what};
}

Status add(records::Database& db, const Options& options, Context& context) {
  if (!options.subject) return fail(needs("--login LOGIN"));
  const auto role = TRY(records::parse_role(options.role.value_or("instructor")));
  const auto made =
      TRY(records::People(db).add(*options.subject, options.name.value_or(*options.subject), role,
                                  read_password(context), now_ms()));
  context.out << "added " << made.login << " (" << records::to_string(made.role) << ")\n";
  return {};
}

Status set_password(records::Database& db, const Options& options, Context& context) {
  if (!options.subject) return fail(needs("--login LOGIN"));
  records::People people(db);
  const auto person = TRY(people.find_login(*options.subject));
  return people.set_password(person.id, read_password(context), now_ms());
}

Status list(records::Database& db, Context& context) {
  const auto all = TRY(records::People(db).all());
  for (const auto& one : all) {
    context.out << one.login << "\t" << one.name << "\t" << records::to_string(one.role) << "\n";
  }
  return {};
}

Status write_out(const Options& options, const std::string& text, Context& context) {
  if (!options.file) {
    context.out << text;
    return {};
  }
  return write_file(*options.file, text);
}

Status back_up(records::Database& db, const Options& options, Context& context) {
  const auto text = TRY(records::dump_all(db));
  return write_out(options, text, context);
}

Status restore(records::Database& db, const Options& options, Context& context) {
  if (!options.file) return fail(needs("--file FILE: the backup to read"));
  const auto text = TRY(read_file(*options.file, 4ULL << 30));
  TRY(at(*options.file, records::restore_all(db, text)));
  context.out << "restored\n";
  return {};
}

Status export_one(records::Database& db, const Options& options, Context& context) {
  if (!options.subject) return fail(needs("--login LOGIN"));
  const auto person = TRY(records::People(db).find_login(*options.subject));
  const auto text = TRY(records::export_person(db, person.id));
  return write_out(options, text, context);
}

Status forget(records::Database& db, const Options& options, Context& context) {
  if (!options.subject) return fail(needs("--login LOGIN"));
  records::People people(db);
  const auto person = TRY(people.find_login(*options.subject));
  TRY(people.remove(person.id, "command line", now_ms()));
  context.out << "forgotten: account, memberships, encounters, answers and marks\n";
  return {};
}

Status audit(records::Database& db, Context& context) {
  const auto all = TRY(records::read_audit(db));
  for (const auto& one : all) {
    context.out << nlohmann::ordered_json{{"at_ms", one.at_ms},   {"actor", one.actor_id},
                                          {"event", one.event},   {"subject", one.subject},
                                          {"detail", one.detail}, {"class_id", one.class_id}}
                       .dump(-1, ' ', false, nlohmann::json::error_handler_t::replace)
                << "\n";
  }
  return {};
}

Status act(records::Database& db, const Options& options, Context& context) {
  if (options.what == "add") return add(db, options, context);
  if (options.what == "password") return set_password(db, options, context);
  if (options.what == "list") return list(db, context);
  if (options.what == "backup") return back_up(db, options, context);
  if (options.what == "restore") return restore(db, options, context);
  if (options.what == "export") return export_one(db, options, context);
  if (options.what == "forget") return forget(db, options, context);
  if (options.what == "audit") return audit(db, context);
  return fail(out_of_range("ACTION", "'" + options.what + "'",
                           "one of add, password, list, backup, restore, export, forget, audit"));
}

int run(const Options& options, Context& context) {
  const StorePlace place = store_place(options.records);
  if (auto made = prepare(place); !made) return context.report(made.error());
  auto db = records::Database::open(place.connection);
  if (!db) return context.report(db.error());
  if (auto ok = act(*db, options, context); !ok) return context.report(ok.error());
  return kOk;
}

}  // namespace

void add_records(Program& program) {
  auto options = std::make_shared<Options>();
  program.command("records", "Accounts, backup and audit of the records of classes")
      .argument("ACTION", options->what,
                "add, password, list, backup, restore, export, forget or audit")
      .option("--login", options->subject, "LOGIN", "whom it is about")
      .option("--name", options->name, "NAME", "the name of a new account")
      .option("--role", options->role, "ROLE", "instructor (default), examiner or learner")
      .option("--file", options->file, "FILE", "the backup or export to write or read")
      .option("--records", options->records, "STORE", store_help())
      .example("phren records add --login ingrid --name 'Ingrid' --role instructor",
               "make an account; the password is read from standard input")
      .example("phren records backup --file backup.jsonl",
               "everything, also while the server runs; keep it as safe as the store")
      .example("phren records restore --file backup.jsonl --records sqlite:new.db",
               "into an empty store, SQLite or PostgreSQL")
      .run([options](Context& context) { return run(*options, context); });
}

}  // namespace phren::app
