// `phren doctor`: looks an installation over and says what is wrong and what to do about it.
#include <fmt/format.h>
#include <openssl/pem.h>
#include <openssl/x509.h>
#include <sys/stat.h>

#include <chrono>
#include <nlohmann/json.hpp>
#include <ostream>

#include "app/cli/command.h"
#include "app/cli/commands.h"
#include "app/cli/store_place.h"
#include "app/server/api/office.h"
#include "base/files.h"
#include "measurement/measure.h"
#include "records/audit.h"
#include "records/people.h"
#include "records/store_care.h"
#include "records/store_lock.h"

namespace phren::app {
namespace {

struct DoctorArguments {
  std::optional<std::string> data, records, certificate, private_key;
  bool json = false;
};

struct Finding {
  enum class State { kWell, kNote, kWrong };
  State state = State::kWell;
  std::string what, says, to_do;
};

class Report {
 public:
  void well(std::string what, std::string says) {
    findings_.push_back({Finding::State::kWell, std::move(what), std::move(says), {}});
  }
  void note(std::string what, std::string says, std::string to_do) {
    findings_.push_back(
        {Finding::State::kNote, std::move(what), std::move(says), std::move(to_do)});
  }
  void wrong(std::string what, std::string says, std::string to_do) {
    findings_.push_back(
        {Finding::State::kWrong, std::move(what), std::move(says), std::move(to_do)});
    ++num_wrong_;
  }
  int num_wrong() const { return num_wrong_; }

  void print(std::ostream& out, bool as_json) const {
    constexpr const char* kWords[] = {"well", "note", "WRONG"};
    if (as_json) {
      nlohmann::ordered_json list = nlohmann::ordered_json::array();
      for (const Finding& one : findings_) {
        list.push_back({{"what", one.what},
                        {"is_well", one.state != Finding::State::kWrong},
                        {"says", one.says},
                        {"do", one.to_do}});
      }
      out << nlohmann::ordered_json{{"findings", list}, {"wrong", num_wrong_}}.dump(2) << "\n";
      return;
    }
    for (const Finding& one : findings_) {
      out << fmt::format("{:<6}{}: {}\n", kWords[static_cast<int>(one.state)], one.what, one.says);
      if (!one.to_do.empty()) out << fmt::format("      what to do: {}\n", one.to_do);
    }
  }

 private:
  std::vector<Finding> findings_;
  int num_wrong_ = 0;
};

void look_at_data(const std::filesystem::path& data, Report& report) {
  const auto office = server::Office::open(data, {});
  if (!office) {
    report.wrong("data files", office.error().message,
                 "install the folder of data files anew, or name it with --data");
    return;
  }
  report.well("data files", data.string());
  const auto measurer = measurement::Measurer::load();
  if (!measurer) {
    report.wrong("model", measurer.error().message,
                 "install the folder `model` beside the data files; without it no recording is "
                 "measured");
    return;
  }
  report.well("model", measurement::model_directory().string());
}

// Others must not read what lies beside the records.
void look_at_modes(const std::filesystem::path& folder, Report& report) {
  std::error_code ignored;
  std::string open;
  for (const auto& entry : std::filesystem::directory_iterator(folder, ignored)) {
    struct stat found{};
    if (stat(entry.path().c_str(), &found) != 0 || !S_ISREG(found.st_mode)) continue;
    if ((found.st_mode & (S_IRWXG | S_IRWXO)) != 0) open += " " + entry.path().filename().string();
  }
  struct stat found{};
  const bool is_closed = stat(folder.c_str(), &found) == 0 && (found.st_mode & S_IRWXO) == 0;
  if (open.empty() || is_closed) {
    report.well("who may read the records", "their owner alone");
    return;
  }
  report.wrong("who may read the records", "others than their owner may read" + open,
               "chmod 700 " + folder.string());
}

void look_at_disk(const StorePlace& place, Report& report) {
  const auto free = records::free_bytes(place.connection);
  if (!free) return;
  const std::string says = fmt::format("{} MB free", *free >> 20);
  if (*free < records::kLeastFree_bytes) {
    report.wrong("disk", says, "make room where the records lie: when it is full nothing is kept");
  } else {
    report.well("disk", says);
  }
}

void look_into_store(records::Database& store, Report& report) {
  if (const auto sound = store.verify(); !sound) {
    report.wrong("store", sound.error().message,
                 std::string(remedy_of(records::TroubleKind::kDamaged)));
    return;
  }
  report.well("store", "every page and table can be read");
  const auto head = records::verify_audit(store);
  if (!head) {
    report.wrong("audit log", head.error().message,
                 "keep a copy of the store and the newest backups: somebody has changed the log");
  } else {
    report.well("audit log", fmt::format("{} entries hold together", head->position));
  }
  const auto now_ms = std::chrono::duration_cast<std::chrono::milliseconds>(
                          std::chrono::system_clock::now().time_since_epoch())
                          .count();
  const auto newest = records::newest_stamp_ms(store);
  if (newest && *newest > now_ms + 2000) {
    report.wrong("clock",
                 fmt::format("the store has seen a time {} s ahead of this machine's clock",
                             (*newest - now_ms) / 1000),
                 "set the machine's clock; the server goes on with the later time");
  } else {
    report.well("clock", "not behind what the store has seen");
  }
  const auto has_accounts = records::People(store).anyone_has_password();
  if (has_accounts && !*has_accounts) {
    report.note("accounts", "there is none: only the instructor at this machine gets in",
                "phren records add --login LOGIN --name NAME, before others can reach the server");
  } else if (has_accounts) {
    report.well("accounts", "there are accounts, so everybody logs in");
  }
}

void look_at_store(const StorePlace& place, Report& report) {
  records::OpenRules rules;
  rules.may_create = false;
  rules.older = records::Older::kRefuse;
  std::string said;
  rules.on_trouble = [&](const records::Trouble& trouble) { said = trouble.said; };
  auto store = records::Database::open(place.connection, rules);
  if (!store && store.error().code == ErrorCode::kNotFound && place.is_usual) {
    report.note("store", "there is none yet", "`phren serve` makes it");
    return;
  }
  if (!store) {
    report.wrong("store", store.error().message,
                 "see that --records names the store, that its database runs, and who may read it");
    return;
  }
  const auto holder = records::StoreLock::holder(place.connection);
  if (holder && !holder->empty()) {
    report.note("server", "one is running on this store (" + *holder + ")", "");
  }
  if (const auto beats = records::try_room(*store, 0); !beats) {
    const auto trouble = records::trouble_of(said);
    report.wrong("writing", beats.error().message + (said.empty() ? "" : " (" + said + ")"),
                 std::string(remedy_of(trouble.kind)));
  } else {
    report.well("writing", "the store keeps what is written");
  }
  look_into_store(*store, report);
}

void look_at_certificate(const std::string& file, Report& report) {
  const auto text = read_file(file);
  const std::unique_ptr<BIO, decltype(&BIO_free)> bio(
      text ? BIO_new_mem_buf(text->data(), static_cast<int>(text->size())) : nullptr, BIO_free);
  const std::unique_ptr<X509, decltype(&X509_free)> certificate(
      bio ? PEM_read_bio_X509(bio.get(), nullptr, nullptr, nullptr) : nullptr, X509_free);
  int days = 0, seconds = 0;
  if (!certificate ||
      ASN1_TIME_diff(&days, &seconds, nullptr, X509_get0_notAfter(certificate.get())) != 1) {
    report.wrong("certificate", file + ": cannot be read as a PEM certificate",
                 "give the chain that the authority has sent");
  } else if (days < 0 || seconds < 0) {
    report.wrong("certificate", file + ": has run out", "renew it, then send the server SIGHUP");
  } else if (days < 14) {
    report.note("certificate", fmt::format("{}: runs out in {} days", file, days),
                "renew it, then send the server SIGHUP");
  } else {
    report.well("certificate", fmt::format("{}: good for {} days", file, days));
  }
}

void look_at_key(const std::string& file, Report& report) {
  struct stat found{};
  if (stat(file.c_str(), &found) != 0) {
    report.wrong("private key", file + ": cannot be found", "see how --key is spelt");
  } else if ((found.st_mode & (S_IRWXG | S_IRWXO)) != 0) {
    report.wrong("private key", file + ": others than its owner may read it", "chmod 600 " + file);
  } else {
    report.well("private key", "for its owner alone");
  }
}

int doctor(const DoctorArguments& options, Context& context) {
  const auto place = store_place(options.records);
  if (!place) return context.report(place.error());
  Report report;
  look_at_data(options.data ? std::filesystem::path(*options.data) : data_directory(), report);
  std::error_code ignored;
  if (std::filesystem::exists(place->folder, ignored)) look_at_modes(place->folder, report);
  look_at_disk(*place, report);
  look_at_store(*place, report);
  if (options.certificate) look_at_certificate(*options.certificate, report);
  if (options.private_key) look_at_key(*options.private_key, report);
  report.print(context.out, options.json);
  return report.num_wrong() == 0 ? kOk : kInputFailed;
}

}  // namespace

void add_doctor(Program& program) {
  auto options = std::make_shared<DoctorArguments>();
  program.command("doctor", "Look an installation over: what is wrong and what to do")
      .option("--records", options->records, "STORE", store_help())
      .option("--data", options->data, "DIR", "the folder of data files")
      .option("--cert", options->certificate, "FILE", "a certificate to look at")
      .option("--key", options->private_key, "FILE", "its private key")
      .json(options->json)
      .example("phren doctor", "the usual store; exit code 1 when something is wrong")
      .run([options](Context& context) { return doctor(*options, context); });
}

}  // namespace phren::app
