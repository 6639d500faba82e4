// `phren instruments`: what one can listen with, with source and status.
#include "acoustics/instruments.h"

#include <nlohmann/json.hpp>
#include <ostream>

#include "app/cli/command.h"
#include "app/cli/commands.h"
#include "app/cli/table.h"
#include "base/files.h"

namespace phren::app {
namespace {

nlohmann::ordered_json json_of(const acoustics::NamedInstrument& one) {
  nlohmann::ordered_json figures;
  for (std::size_t i = 0; i < acoustics::kNumFigures; ++i) {
    const acoustics::FigureInfo& info = acoustics::kFigures[i];
    figures[info.table][info.key] = one.instrument.figures[i];
  }
  // `packed` is what the browser engine takes.
  return {{"id", one.id},         {"name", one.name},
          {"source", one.source}, {"status", one.status},
          {"figures", figures},   {"packed", acoustics::pack(one.instrument)}};
}

int run_instruments(bool json, Context& context) {
  const auto all = acoustics::Instruments::load(data_directory() / "instruments");
  if (!all) return context.report(all.error());
  if (json) {
    nlohmann::ordered_json list = nlohmann::ordered_json::array();
    for (const auto& one : all->all()) list.push_back(json_of(one));
    context.out << list.dump(2) << '\n';
    return kOk;
  }
  Table table({"id", "what", "status", "source"});
  for (const auto& one : all->all()) table.row({one.id, one.name, one.status, one.source});
  table.print(context.out);
  return kOk;
}

}  // namespace

void add_instruments(Program& program) {
  auto json = std::make_shared<bool>(false);
  program.command("instruments", "List what one can listen with, with source and status")
      .json(*json)
      .example("phren instruments", "the ids that --instrument takes")
      .run([json](Context& context) { return run_instruments(*json, context); });
}

}  // namespace phren::app
