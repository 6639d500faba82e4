// `phren serve`: the pages people use, the JSON interface under them, and the records of classes.
#include <fmt/format.h>
#include <unistd.h>

#include <condition_variable>
#include <mutex>
#include <ostream>
#include <thread>

#include "app/cli/command.h"
#include "app/cli/commands.h"
#include "app/cli/local_key.h"
#include "app/cli/store_place.h"
#include "app/server/api/api.h"
#include "app/server/api/marker.h"
#include "app/server/api/round_hub.h"
#include "app/server/net/certificate.h"
#include "app/server/net/class_clock.h"
#include "app/server/net/server.h"
#include "base/files.h"
#include "records/audit.h"
#include "records/stations.h"
#include "records/store_care.h"
#include "records/store_lock.h"

namespace phren::app {
namespace {

struct ServeArguments {
  std::optional<std::string> listen, data, records, certificate, private_key, public_url, proxies,
      cases;
  bool self_signed = false, requires_login = false, creates = false;
};

// Whatever runs when a stop is asked for, the process has ended by then: what was acknowledged is on
// disk, and what else was under way can be worked out again.
constexpr std::chrono::seconds kLongestStop{9};

bool is_this_machine_only(const std::string& address) {
  return address.starts_with("127.") || address == "::1";
}

Status choose_certificate(const ServeArguments& options, const std::filesystem::path& folder,
                          server::ServerOptions& listen, Context& context) {
  if (options.certificate.has_value() != options.private_key.has_value()) {
    return fail(ErrorCode::kInvalidArgument, "--cert and --key belong together: give both");
  }
  if (options.certificate) {
    listen.certificate = *options.certificate;
    listen.private_key = *options.private_key;
    listen.tells_https_only = true;
    return {};
  }
  if (!options.self_signed) return {};
  const auto own = TRY(server::own_certificate(folder, server::network_addresses()));
  listen.certificate = own.certificate;
  listen.private_key = own.private_key;
  context.out << fmt::format(
      "This server signs for itself ({}). On first visit a phone says that the connection is not\n"
      "private or not trusted. That is expected here: choose Advanced (or Show details), then go "
      "on\n"
      "to the address. To be sure that it is this machine, compare the SHA-256 fingerprint that "
      "the\n"
      "browser shows for the certificate:\n  {}\n",
      own.certificate.string(), own.fingerprint);
  return {};
}

Status choose_proxy(const ServeArguments& options, server::ServerOptions& listen) {
  if (options.public_url) {
    auto url = server::parse_public_url(*options.public_url);
    if (!url) return fail(url.error());
    listen.public_url = std::move(*url);
    listen.tells_https_only = listen.public_url.is_secure;
  }
  if (!options.proxies) return {};
  auto proxies = server::parse_networks(*options.proxies);
  if (!proxies) return fail(proxies.error());
  listen.trusted_proxies = std::move(*proxies);
  return {};
}

std::string url_of(const std::string& scheme, const std::string& host, std::uint16_t port) {
  const bool is_v6 = host.find(':') != std::string::npos;
  return fmt::format("{}://{}{}{}:{}", scheme, is_v6 ? "[" : "", host, is_v6 ? "]" : "", port);
}

void tell_addresses(const server::ServerOptions& listen, std::uint16_t port,
                    const server::OfficeOptions& office, bool has_accounts, Context& context) {
  std::vector<std::string>& addresses = *office.addresses;
  const std::string scheme = listen.certificate.empty() ? "http" : "https";
  const bool is_everywhere = listen.address == "0.0.0.0" || listen.address == "::";
  if (!listen.public_url.origin.empty()) {
    addresses.push_back(listen.public_url.origin);
  } else if (is_everywhere) {
    for (const std::string& one : server::network_addresses()) {
      addresses.push_back(url_of(scheme, one, port));
    }
  } else if (!is_this_machine_only(listen.address)) {
    addresses.push_back(url_of(scheme, listen.address, port));
  }
  if (!addresses.empty() && scheme == "http" && !listen.public_url.is_secure) {
    context.err << "phren: without TLS others on the network can read passwords and keys, and "
                   "browsers there use no microphone: add --self-signed, or --cert and --key\n";
  }
  const std::string own = url_of(scheme, is_everywhere ? "127.0.0.1" : listen.address, port);
  context.out << fmt::format("Phren is at {}/ (Ctrl-C stops it)\n", own);
  for (const std::string& one : addresses) context.out << "  for others: " << one << "/\n";
  if (!office.local_key.empty() && !has_accounts) {
    context.out << fmt::format(
        "  for you, the instructor at this machine (open it once; keep it to yourself):\n"
        "  {}/api/v1/session/local/{}\n",
        own, office.local_key);
  }
  context.out << std::flush;
}

// Locked, of today's version, read through; made where that is wanted.
Result<records::StoreLock> open_store(const StorePlace& place, bool may_create,
                                      server::OperatorLog& log) {
  records::OpenRules rules;
  rules.older = records::Older::kLeave;
  rules.may_create = false;
  if (!may_create) TRY(records::Database::open(place.connection, rules));
  auto lock = records::StoreLock::take(place.connection);
  if (!lock) return lock;
  rules.may_create = true;
  if (may_create) TRY(records::Database::open(place.connection, rules));
  const auto backup = records::bring_up_to_date(place.connection, place.folder);
  if (!backup) return fail(backup.error());
  if (*backup) {
    log.tell(server::Level::kInfo, "store_brought_up_to_date",
             "a backup of the older store is " + (*backup)->string());
  }
  auto store = records::Database::open(place.connection);
  if (!store) return fail(store.error());
  if (auto sound = store->verify(); !sound) {
    return fail(ErrorCode::kIo, sound.error().message + ": " +
                                    std::string(remedy_of(records::TroubleKind::kDamaged)));
  }
  const auto head = records::audit_head(*store);
  if (!head) return fail(head.error());
  log.tell(server::Level::kInfo, "audit_head", records::to_string(*head));
  return lock;
}

Result<std::int64_t> newest_stamp(const std::string& connection) {
  auto store = records::Database::open(connection);
  if (!store) return fail(store.error());
  return records::newest_stamp_ms(*store);
}

// A database server that was started anew has forgotten whose store it is: says so again.
class LockKeeper {
 public:
  LockKeeper(records::StoreLock& lock, std::shared_ptr<server::OperatorLog> log)
      : lock_(lock), log_(std::move(log)), thread_([this] { run(); }) {}
  LockKeeper(const LockKeeper&) = delete;
  LockKeeper& operator=(const LockKeeper&) = delete;
  ~LockKeeper() {
    {
      const std::lock_guard guard(mutex_);
      is_over_ = true;
    }
    changed_.notify_all();
    thread_.join();
  }

 private:
  void run() {
    std::unique_lock guard(mutex_);
    while (!changed_.wait_for(guard, std::chrono::seconds(5), [&] { return is_over_; })) {
      if (const auto kept = lock_.keep(); !kept) {
        log_->tell(server::Level::kError, "store_not_ours", kept.error().message,
                   "see that no other server uses this store");
      }
    }
  }

  records::StoreLock& lock_;
  std::shared_ptr<server::OperatorLog> log_;
  std::mutex mutex_;
  std::condition_variable changed_;
  bool is_over_ = false;
  std::thread thread_;  // last: it uses the others
};

int run_server(server::ServerOptions& listen, const std::shared_ptr<server::Office>& office,
               const StorePlace& place, const server::ClassClock& clock, bool has_accounts,
               Context& context) {
  auto api = server::load_api(office);
  if (!api) return context.report(api.error());
  server::LaneOptions lane_options;
  lane_options.store = place.connection;
  lane_options.now_ms = [&clock] { return clock.now_ms(); };
  lane_options.log = listen.log;
  auto lanes = server::Lanes::start(lane_options);
  if (!lanes) return context.report(lanes.error());
  listen.lanes = *lanes;
  office->lanes = *lanes;
  office->rounds->begin(*lanes);
  listen.on_stop = [log = listen.log] {
    std::thread([log] {
      std::this_thread::sleep_for(kLongestStop);
      log->tell(server::Level::kWarning, "stopped_at_once",
                "some work had not ended in time; what was acknowledged is kept");
      _exit(kOk);
    }).detach();
  };
  auto made = server::Server::make(listen, std::move(*api), server::embedded_pages());
  if (!made) return context.report(made.error());
  auto marker = server::Marker::start(office, place.connection, lane_options.now_ms);
  if (!marker) return context.report(marker.error());
  tell_addresses(listen, (*made)->port(), office->options, has_accounts, context);
  if (server::embedded_pages().empty()) {
    context.err
        << "phren: built without pages (PHREN_WEB=OFF): only the JSON interface is served\n";
  }
  (*made)->run();
  (*marker)->stop();
  office->rounds->stop();
  office->lanes.reset();
  return kOk;
}

int serve(const ServeArguments& options, Context& context) {
  auto listen = server::parse_listen(options.listen.value_or("127.0.0.1:8080"));
  if (!listen) return context.report(listen.error());
  const auto place = store_place(options.records);
  if (!place) return context.report(place.error());
  const bool may_create = options.creates || place->is_usual;
  if (auto made = prepare(*place, may_create); !made) return context.report(made.error());
  if (auto ok = choose_proxy(options, *listen); !ok) return context.report(ok.error());
  listen->log = std::make_shared<server::OperatorLog>(
      [&context](const std::string& line) { context.err << line << std::flush; });
  auto lock = open_store(*place, may_create, *listen->log);
  if (!lock) return context.report(lock.error());
  if (auto ok = choose_certificate(options, place->folder, *listen, context); !ok) {
    return context.report(ok.error());
  }
  const auto newest_ms = newest_stamp(place->connection);
  if (!newest_ms) return context.report(newest_ms.error());
  const server::ClassClock clock(*newest_ms);
  if (clock.drift_ms() < -1000) {
    listen->log->tell(server::Level::kWarning, "clock_behind",
                      fmt::format("the machine's clock is {} s behind what the store has seen; the "
                                  "class goes on with the later time",
                                  -clock.drift_ms() / 1000),
                      "set the machine's clock");
  }
  server::OfficeOptions office_options;
  // A whole class may log in from behind one router.
  office_options.login.most_failures_address = 200;
  office_options.began_ms = clock.began_ms();
  office_options.gap_ms = clock.gap_ms();
  office_options.own_cases =
      options.cases ? std::filesystem::path(*options.cases) : place->folder / "cases";
  // Whoever stands behind a proxy is not at this machine.
  const bool is_alone = is_this_machine_only(listen->address) && !options.requires_login &&
                        !options.public_url && !options.proxies;
  if (is_alone) {
    auto key = local_key(place->folder);
    if (!key) return context.report(key.error());
    office_options.local_key = std::move(*key);
  }
  auto office = server::Office::open(
      options.data ? std::filesystem::path(*options.data) : data_directory(), office_options);
  if (!office) return context.report(office.error());
  (*office)->store = place->connection;
  auto store = records::Database::open(place->connection);
  if (!store) return context.report(store.error());
  const auto in_use = records::Stations(*store).cases_in_use();
  if (!in_use) return context.report(in_use.error());
  (*office)->cases_in_use->set(*in_use);
  const auto has_accounts = records::People(*store).anyone_has_password();
  if (!has_accounts) return context.report(has_accounts.error());
  if (!is_alone && !*has_accounts) {
    context.err << "phren: nobody can log in yet: make an instructor with\n"
                   "  phren records add --login LOGIN --name NAME\n";
  }
  const LockKeeper keeper(*lock, listen->log);
  const int code = run_server(*listen, *office, *place, clock, *has_accounts, context);
  if (const auto head = records::audit_head(*store)) {
    listen->log->tell(server::Level::kInfo, "audit_head", records::to_string(*head));
  }
  return code;
}

}  // namespace

void add_serve(Program& program) {
  auto options = std::make_shared<ServeArguments>();
  program.command("serve", "Serve the pages and the JSON interface")
      .option("--listen", options->listen, "ADDRESS:PORT",
              "where to listen; this machine only unless said otherwise (127.0.0.1:8080)")
      .option("--cert", options->certificate, "FILE",
              "certificate chain (PEM), for TLS; SIGHUP reads it and the key anew")
      .option("--key", options->private_key, "FILE", "its private key (PEM)")
      .flag("--self-signed", options->self_signed,
            "TLS with a certificate made here, kept beside the records")
      .option("--records", options->records, "STORE", store_help())
      .flag("--create", options->creates, "make the store named by --records if there is none")
      .flag("--require-login", options->requires_login,
            "nobody is anything without an account, not even at this machine")
      .option("--public-url", options->public_url, "URL",
              "where others reach this server through a proxy, e.g. https://phren.school.example")
      .option("--trusted-proxy", options->proxies, "ADDRESS[,...]",
              "proxies (address or block) whose X-Forwarded-For and -Proto are believed")
      .option("--cases", options->cases, "DIR",
              "the folder of your own patients; left out: cases beside the records")
      .option("--data", options->data, "DIR", "the folder of data files")
      .example("phren serve", "open the printed address in a browser on this machine")
      .example("phren serve --listen :8443 --self-signed",
               "let phones on the room's network in, with sound")
      .example("phren serve --public-url https://phren.school.example --trusted-proxy 127.0.0.1",
               "behind a proxy on this machine that speaks TLS")
      .run([options](Context& context) { return serve(*options, context); });
}

}  // namespace phren::app
