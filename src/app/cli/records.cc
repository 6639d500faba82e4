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
#include "records/audit.h"
#include "records/dump.h"
#include "records/people.h"
#include "records/store_care.h"
#include "records/store_lock.h"

namespace phren::app {
namespace {

struct RecordsArguments {
  std::string what;
  std::optional<std::string> subject, file, role, name, records, head;
  bool creates = false, checks = false, verifies = false;
  double forget_after_days = 0.0;  // 0: no addresses are forgotten
};

constexpr std::uintmax_t kMostDump_bytes = 4ULL << 30;
constexpr double kDay_ms = 24.0 * 3600.0 * 1000.0;

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

Status add(records::Database& db, const RecordsArguments& options, Context& context) {
  if (!options.subject) return fail(needs("--login LOGIN"));
  const auto role = TRY(records::parse_role(options.role.value_or("instructor")));
  const auto made =
      TRY(records::People(db).add(*options.subject, options.name.value_or(*options.subject), role,
                                  read_password(context), now_ms()));
  context.out << "added " << made.login << " (" << records::to_string(made.role) << ")\n";
  return {};
}

Status set_password(records::Database& db, const RecordsArguments& options, Context& context) {
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

Status write_out(const RecordsArguments& options, const std::string& text, Context& context) {
  if (!options.file) {
    context.out << text;
    return {};
  }
  return write_file(*options.file, text);
}

// The log tells who has taken what out of the store, also from here.
Status note(records::Database& db, const std::string& event, const std::string& subject,
            const std::string& detail) {
  return records::note_audit(db, {now_ms(), "command line", event, subject, detail});
}

Status back_up(records::Database& db, const RecordsArguments& options, Context& context) {
  if (auto noted = note(db, "backup", "", options.file ? "to a file" : "to standard output");
      !noted)
    return noted;
  if (options.file) return records::back_up_to(db, *options.file);
  const auto text = records::dump_all(db);
  if (!text) return fail(text.error());
  context.out << *text;
  return {};
}

// A backup by itself, without a store.
Status check_backup(const RecordsArguments& options, Context& context) {
  if (!options.file) return fail(needs("--file FILE: the backup to check"));
  const auto text = read_file(*options.file, kMostDump_bytes);
  if (!text) return fail(text.error());
  const auto facts = records::check_dump(*text);
  if (!facts) return fail(at(*options.file, facts.error()));
  context.out << "version " << facts->version << ", " << facts->rows << " rows, "
              << (facts->has_end ? "whole: number and checksum fit"
                                 : "without an end: whether it is whole cannot be told")
              << "\n";
  if (facts->audit_head.position > 0) {
    context.out << "audit head " << records::to_string(facts->audit_head) << "\n";
  }
  return {};
}

Status restore(records::Database& db, const RecordsArguments& options, Context& context) {
  if (!options.file) return fail(needs("--file FILE: the backup to read"));
  const auto text = read_file(*options.file, kMostDump_bytes);
  if (!text) return fail(text.error());
  const auto facts = records::check_dump(*text);
  if (!facts) return fail(at(*options.file, facts.error()));
  if (auto ok = records::restore_all(db, *text); !ok) return fail(at(*options.file, ok.error()));
  if (auto noted = note(db, "restored", "", std::to_string(facts->rows) + " rows"); !noted)
    return noted;
  context.out << "restored " << facts->rows << " rows\n";
  if (!facts->has_end) {
    context.err << "phren: a backup of version " << facts->version
                << " has no checksum: see yourself that the newest of it is there\n";
  }
  return {};
}

Status export_one(records::Database& db, const RecordsArguments& options, Context& context) {
  if (!options.subject) return fail(needs("--login LOGIN"));
  const auto person = records::People(db).find_login(*options.subject);
  if (!person) return fail(person.error());
  const auto text = records::export_person(db, person->id);
  if (!text) return fail(text.error());
  if (auto noted = note(db, "person_exported", person->id, ""); !noted) return noted;
  return write_out(options, *text, context);
}

Status forget(records::Database& db, const RecordsArguments& options, Context& context) {
  if (!options.subject) return fail(needs("--login LOGIN"));
  records::People people(db);
  const auto person = TRY(people.find_login(*options.subject));
  TRY(people.remove(person.id, "command line", now_ms()));
  context.out << "forgotten: account, memberships, encounters, answers and marks\n";
  return {};
}

Status verify_audit(records::Database& db, const RecordsArguments& options, Context& context) {
  records::AuditHead noted;
  if (options.head) {
    auto parsed = records::parse_audit_head(*options.head);
    if (!parsed) return fail(parsed.error());
    noted = std::move(*parsed);
  }
  const auto head = records::verify_audit(db, noted);
  if (!head) return fail(head.error());
  context.out << head->position << " entries hold together\n";
  if (head->position > 0) context.out << "audit head " << records::to_string(*head) << "\n";
  return {};
}

Status audit(records::Database& db, const RecordsArguments& options, Context& context) {
  if (options.forget_after_days > 0.0) {
    const auto before = now_ms() - static_cast<std::int64_t>(options.forget_after_days * kDay_ms);
    const auto count = records::forget_addresses(db, before);
    if (!count) return fail(count.error());
    context.out << "forgot the addresses of " << *count << " entries\n";
    return note(db, "addresses_forgotten", "", std::to_string(*count) + " entries");
  }
  if (options.verifies) return verify_audit(db, options, context);
  const auto all = records::read_audit(db);
  if (!all) return fail(all.error());
  for (const auto& one : *all) {
    context.out << nlohmann::ordered_json{{"at_ms", one.at_ms},    {"actor", one.actor_id},
                                          {"event", one.event},    {"subject", one.subject},
                                          {"was", one.was},        {"became", one.became},
                                          {"detail", one.detail},  {"class_id", one.class_id},
                                          {"address", one.address}}
                       .dump(-1, ' ', false, nlohmann::json::error_handler_t::replace)
                << "\n";
  }
  return {};
}

Status act(records::Database& db, const RecordsArguments& options, Context& context) {
  if (options.what == "add") return add(db, options, context);
  if (options.what == "password") return set_password(db, options, context);
  if (options.what == "list") return list(db, context);
  if (options.what == "backup") return back_up(db, options, context);
  if (options.what == "restore") return restore(db, options, context);
  if (options.what == "export") return export_one(db, options, context);
  if (options.what == "forget") return forget(db, options, context);
  if (options.what == "audit") return audit(db, options, context);
  return fail(
      out_of_range("ACTION", "'" + options.what + "'",
                   "one of add, password, list, backup, restore, migrate, export, forget, audit"));
}

Status migrate(const StorePlace& place, Context& context) {
  const auto lock = records::StoreLock::take(place.connection);
  if (!lock) return fail(lock.error());
  const auto backup = records::bring_up_to_date(place.connection, place.folder);
  if (!backup) return fail(backup.error());
  if (*backup) {
    context.out << "brought up to date; the backup of what was before is " << (*backup)->string()
                << "\n";
  } else {
    context.out << "already up to date\n";
  }
  return {};
}

Status open_and_act(const StorePlace& place, const RecordsArguments& options, Context& context) {
  if (options.what == "migrate") return migrate(place, context);
  const bool restores = options.what == "restore";
  std::optional<records::StoreLock> lock;
  if (restores) {
    auto taken = records::StoreLock::take(place.connection);
    if (!taken) return fail(taken.error());
    lock.emplace(std::move(*taken));
  }
  records::OpenRules rules;
  rules.may_create = options.creates || place.is_usual || restores;
  rules.older = records::Older::kRefuse;
  auto db = records::Database::open(place.connection, rules);
  if (!db) return fail(db.error());
  return act(*db, options, context);
}

int run(const RecordsArguments& options, Context& context) {
  if (options.checks && options.what == "backup") {
    const Status checked = check_backup(options, context);
    return checked ? kOk : context.report(checked.error());
  }
  const auto place = store_place(options.records);
  if (!place) return context.report(place.error());
  const bool may_create = options.creates || options.what == "restore";
  if (auto made = prepare(*place, may_create); !made) return context.report(made.error());
  if (auto ok = open_and_act(*place, options, context); !ok) return context.report(ok.error());
  return kOk;
}

}  // namespace

void add_records(Program& program) {
  auto options = std::make_shared<RecordsArguments>();
  program.command("records", "Accounts, backup and audit of the records of classes")
      .argument("ACTION", options->what,
                "add, password, list, backup, restore, migrate, export, forget or audit")
      .option("--login", options->subject, "LOGIN", "whom it is about")
      .option("--name", options->name, "NAME", "the name of a new account")
      .option("--role", options->role, "ROLE", "instructor (default), examiner or learner")
      .option("--file", options->file, "FILE", "the backup or export to write or read")
      .option("--records", options->records, "STORE", store_help())
      .flag("--create", options->creates, "make the store named by --records if there is none")
      .flag("--check", options->checks, "backup: read the file instead and say whether it is whole")
      .flag("--verify", options->verifies, "audit: follow the chain of its entries instead")
      .option("--head", options->head, "NUMBER:HASH",
              "audit --verify: a head noted earlier, which must still be there")
      .option("--forget-addresses", options->forget_after_days, {0.0, 36500.0},
              "audit: forget network addresses older than so many days")
      .example("phren records add --login ingrid --name 'Ingrid' --role instructor",
               "make an account; the password is read from standard input")
      .example("phren records backup --file backup.jsonl",
               "everything, also while the server runs; keep it as safe as the store")
      .example("phren records restore --file backup.jsonl --records sqlite:new.db",
               "into an empty store, SQLite or PostgreSQL")
      .run([options](Context& context) { return run(*options, context); });
}

}  // namespace phren::app
