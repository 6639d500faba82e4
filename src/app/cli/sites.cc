// `phren sites`: where to listen.
#include "exam/sites.h"

#include <nlohmann/json.hpp>
#include <ostream>

#include "app/cli/command.h"
#include "app/cli/commands.h"
#include "app/cli/table.h"
#include "base/files.h"
#include "exam/names.h"

namespace phren::app {
namespace {

void print_json(const std::vector<exam::Site>& sites, std::ostream& out) {
  auto rows = nlohmann::ordered_json::array();
  for (const exam::Site& site : sites) {
    nlohmann::ordered_json row = {
        {"id", site.id},
        {"name", site.name},
        {"landmark", site.landmark},
        {"side", exam::to_string(site.side)},
        {"at", {{"aspect", exam::to_string(site.at.aspect)}, {"u", site.at.u}, {"v", site.at.v}}},
        {"mirror_id", site.mirror_id}};
    for (std::size_t i = 0; i < exam::kNumLobes; ++i) {
      const auto lobe = static_cast<exam::Lobe>(i);
      row["lobe_weight"][std::string(exam::to_string(lobe))] = site.lobe_weight[i];
    }
    row["airway_weight"] = site.airway_weight;
    rows.push_back(row);
  }
  out << rows.dump(2) << '\n';
}

void print_table(const std::vector<exam::Site>& sites, std::ostream& out) {
  Table table({"site", "name", "landmark", "mirror"});
  for (const exam::Site& site : sites) {
    table.row({site.id, site.name, site.landmark, site.mirror_id.empty() ? "-" : site.mirror_id});
  }
  table.print(out);
}

}  // namespace

void add_sites(Program& program) {
  auto json = std::make_shared<bool>(false);
  program.command("sites", "List the listening sites with their landmarks")
      .json(*json)
      .example("phren sites", "every site, found by rib space and vertical line")
      .run([json](Context& context) {
        const auto map = exam::SiteMap::load(data_directory() / "sites.toml");
        if (!map) return context.report(map.error());
        *json ? print_json(map->all(), context.out) : print_table(map->all(), context.out);
        return kOk;
      });
}

}  // namespace phren::app
