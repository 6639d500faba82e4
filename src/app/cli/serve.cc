// `phren serve`: the pages people use, the JSON interface under them, and the records of classes.
#include <fmt/format.h>

#include <ostream>

#include "app/cli/command.h"
#include "app/cli/commands.h"
#include "app/cli/store_place.h"
#include "app/server/api/api.h"
#include "app/server/api/marker.h"
#include "app/server/net/certificate.h"
#include "app/server/net/server.h"
#include "base/files.h"
#include "records/stations.h"

namespace phren::app {
namespace {

struct Options {
  std::optional<std::string> listen, data, records, certificate, private_key;
  bool self_signed = false;
};

bool is_this_machine_only(const std::string& address) {
  return address.starts_with("127.") || address == "::1";
}

Status choose_certificate(const Options& options, const std::filesystem::path& folder,
                          server::ServerOptions& listen, Context& context) {
  if (options.certificate.has_value() != options.private_key.has_value()) {
    return fail(ErrorCode::kInvalidArgument, "--cert and --key belong together: give both");
  }
  if (options.certificate) {
    listen.certificate = *options.certificate;
    listen.private_key = *options.private_key;
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

std::string url_of(const std::string& scheme, const std::string& host, std::uint16_t port) {
  const bool is_v6 = host.find(':') != std::string::npos;
  return fmt::format("{}://{}{}{}:{}", scheme, is_v6 ? "[" : "", host, is_v6 ? "]" : "", port);
}

void tell_addresses(const server::ServerOptions& listen, std::uint16_t port,
                    std::vector<std::string>& addresses, Context& context) {
  const std::string scheme = listen.certificate.empty() ? "http" : "https";
  const bool is_everywhere = listen.address == "0.0.0.0" || listen.address == "::";
  if (is_everywhere) {
    for (const std::string& one : server::network_addresses()) {
      addresses.push_back(url_of(scheme, one, port));
    }
  } else if (!is_this_machine_only(listen.address)) {
    addresses.push_back(url_of(scheme, listen.address, port));
  }
  if (!addresses.empty() && scheme == "http") {
    context.err << "phren: without TLS others on the network can read passwords and keys, and "
                   "browsers there use no microphone: add --self-signed, or --cert and --key\n";
  }
  context.out << fmt::format("Phren is at {}/ (Ctrl-C stops it)\n",
                             url_of(scheme, is_everywhere ? "127.0.0.1" : listen.address, port));
  for (const std::string& one : addresses) context.out << "  for others: " << one << "/\n";
  context.out << std::flush;
}

int serve(const Options& options, Context& context) {
  auto listen = server::parse_listen(options.listen.value_or("127.0.0.1:8080"));
  if (!listen) return context.report(listen.error());
  const StorePlace place = store_place(options.records);
  if (auto made = prepare(place); !made) return context.report(made.error());
  if (auto ok = choose_certificate(options, place.folder, *listen, context); !ok) {
    return context.report(ok.error());
  }
  server::OfficeOptions office_options;
  // A whole class may log in from behind one router.
  office_options.login.most_failures_address = 200;
  office_options.is_local = is_this_machine_only(listen->address);
  auto office = server::Office::open(
      options.data ? std::filesystem::path(*options.data) : data_directory(), office_options);
  if (!office) return context.report(office.error());
  {
    auto store = records::Database::open(place.connection);
    if (!store) return context.report(store.error());
    const auto in_use = records::Stations(*store).cases_in_use();
    if (!in_use) return context.report(in_use.error());
    (*office)->shelves.in_use->set(*in_use);
    const auto has_accounts = records::People(*store).anyone_has_password();
    if (!office_options.is_local && has_accounts && !*has_accounts) {
      context.err << "phren: nobody can log in yet: make an instructor with\n"
                     "  phren records add --login LOGIN --name NAME\n";
    }
  }
  auto api = server::load_api(*office);
  if (!api) return context.report(api.error());
  server::LaneOptions lane_options;
  lane_options.store = place.connection;
  auto lanes = server::Lanes::start(lane_options);
  if (!lanes) return context.report(lanes.error());
  listen->lanes = std::move(*lanes);
  auto made = server::Server::make(*listen, std::move(*api), server::embedded_pages());
  if (!made) return context.report(made.error());
  auto marker = server::Marker::start(*office, place.connection);
  if (!marker) return context.report(marker.error());
  tell_addresses(*listen, (*made)->port(), *office_options.addresses, context);
  if (server::embedded_pages().empty()) {
    context.err
        << "phren: built without pages (PHREN_WEB=OFF): only the JSON interface is served\n";
  }
  (*made)->run();
  (*marker)->stop();
  return kOk;
}

}  // namespace

void add_serve(Program& program) {
  auto options = std::make_shared<Options>();
  program.command("serve", "Serve the pages and the JSON interface")
      .option("--listen", options->listen, "ADDRESS:PORT",
              "where to listen; this machine only unless said otherwise (127.0.0.1:8080)")
      .option("--cert", options->certificate, "FILE", "certificate chain (PEM), for TLS")
      .option("--key", options->private_key, "FILE", "its private key (PEM)")
      .flag("--self-signed", options->self_signed,
            "TLS with a certificate made here, kept beside the records")
      .option("--records", options->records, "STORE", store_help())
      .option("--data", options->data, "DIR", "the folder of data files")
      .example("phren serve", "open the printed address in a browser on this machine")
      .example("phren serve --listen :8443 --self-signed",
               "let phones on the room's network in, with sound")
      .run([options](Context& context) { return serve(*options, context); });
}

}  // namespace phren::app
