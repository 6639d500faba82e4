// `phren serve`: the pages people use, and the JSON interface under them.
#include <fmt/format.h>

#include <ostream>

#include "app/cli/command.h"
#include "app/cli/commands.h"
#include "app/server/api.h"
#include "app/server/server.h"
#include "base/files.h"

namespace phren::app {
namespace {

struct Options {
  std::optional<std::string> listen;
  std::optional<std::string> data;
};

int serve(const Options& options, Context& context) {
  const auto listen = server::parse_listen(options.listen.value_or("127.0.0.1:8080"));
  if (!listen) return context.report(listen.error());
  auto api =
      server::load_api(options.data ? std::filesystem::path(*options.data) : data_directory());
  if (!api) return context.report(api.error());
  auto made = server::Server::make(*listen, std::move(*api), server::embedded_pages());
  if (!made) return context.report(made.error());
  const bool is_v6 = listen->address.find(':') != std::string::npos;
  context.out << fmt::format("Phren is at http://{}{}{}:{}/ (Ctrl-C stops it)\n", is_v6 ? "[" : "",
                             listen->address, is_v6 ? "]" : "", (*made)->port())
              << std::flush;
  if (server::embedded_pages().empty()) {
    context.err
        << "phren: built without pages (PHREN_WEB=OFF): only the JSON interface is served\n";
  }
  (*made)->run();
  return kOk;
}

}  // namespace

void add_serve(Program& program) {
  auto options = std::make_shared<Options>();
  program.command("serve", "Serve the pages and the JSON interface")
      .option("--listen", options->listen, "ADDRESS:PORT",
              "where to listen; this machine only unless said otherwise (127.0.0.1:8080)")
      .option("--data", options->data, "DIR", "the folder of data files")
      .example("phren serve", "open the printed address in a browser on this machine")
      .example("phren serve --listen :8080", "let phones on the room's network in")
      .run([options](Context& context) { return serve(*options, context); });
}

}  // namespace phren::app
