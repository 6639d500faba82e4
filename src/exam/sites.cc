#include "exam/sites.h"

#include <cmath>
#include <string>

#include "base/files.h"
#include "base/toml_fields.h"
#include "exam/names.h"

namespace phren::exam {
namespace {

void read_weights(TomlFields& fields, Site& site) {
  fields.number("airway", site.airway_weight, 0.0, 1.0);
  double sum = site.airway_weight;
  fields.table("lobes", [&](TomlFields& lobes) {
    for (std::size_t i = 0; i < site.lobe_weight.size(); ++i) {
      lobes.number(to_string(static_cast<Lobe>(i)), site.lobe_weight[i], 0.0, 1.0);
      sum += site.lobe_weight[i];
    }
  });
  if (std::abs(sum - 1.0) > 0.011) {
    fields.note(out_of_range("the sum of lobe and airway weights", sum, "1"));
  }
}

Site read_site(TomlFields& fields) {
  Site site;
  fields.text("id", site.id, true);
  fields.is_called("site " + site.id);
  fields.text("name", site.name, true);
  fields.text("landmark", site.landmark, true);
  fields.text("mirror", site.mirror_id);
  fields.word("side", site.side, parse_side, true);
  fields.word("aspect", site.at.aspect, parse_aspect, true);
  fields.number("u", site.at.u, -1.5, 1.5, true);
  fields.number("v", site.at.v, -1.5, 1.5, true);
  read_weights(fields, site);
  return site;
}

Status check_mirrors(const std::vector<Site>& sites, std::string_view file) {
  for (const Site& site : sites) {
    if (site.mirror_id.empty()) continue;
    bool found = false;
    for (const Site& other : sites) {
      found = found || (other.id == site.mirror_id && other.mirror_id == site.id);
    }
    if (!found) {
      return fail(ErrorCode::kInvalidArgument,
                  std::string(file) + ": site " + site.id + ": mirror '" + site.mirror_id +
                      "' must be a site that names " + site.id + " as its own mirror");
    }
  }
  return {};
}

}  // namespace

Result<SiteMap> SiteMap::parse(std::string_view toml_text, std::string_view file_name) {
  SiteMap map;
  TRY(read_toml(toml_text, file_name, [&](TomlFields& top) {
    top.rows("site", [&](TomlFields& row) { row.add(map.sites_, read_site(row)); }, true);
  }));
  TRY(check_mirrors(map.sites_, file_name));
  return map;
}

Result<SiteMap> SiteMap::load(const std::filesystem::path& file) {
  auto text = TRY(read_file(file));
  return parse(text, file.filename().string());
}

}  // namespace phren::exam
