#include "exam/sites.h"

#include <toml++/toml.h>

#include <cmath>
#include <string>

#include "base/files.h"
#include "exam/names.h"

namespace phren::exam {
namespace {

std::string place(std::string_view file, const toml::node& node) {
  return std::string(file) + ":" + std::to_string(node.source().begin.line);
}

Result<Site> read_site(const toml::table& row, std::string_view file) {
  const std::string where = place(file, row);
  Site site;
  const auto id = row["id"].value<std::string>();
  if (!id || id->empty()) return fail(ErrorCode::kMalformed, where + ": a site needs an id");
  site.id = *id;
  const std::string here = where + ": site " + site.id;
  for (const auto& [key, target] :
       {std::pair{"name", &site.name}, std::pair{"landmark", &site.landmark}}) {
    const auto text = row[key].value<std::string>();
    if (!text) return fail(ErrorCode::kMalformed, here + ": needs the text field " + key);
    *target = *text;
  }
  site.mirror_id = row["mirror"].value_or(std::string());
  const auto side = parse_side(row["side"].value_or(std::string_view()));
  if (!side) return fail(at(here, side.error()));
  site.side = *side;
  const auto aspect = parse_aspect(row["aspect"].value_or(std::string_view()));
  if (!aspect) return fail(at(here, aspect.error()));
  site.at.aspect = *aspect;
  for (const auto& [key, target] : {std::pair{"u", &site.at.u}, std::pair{"v", &site.at.v}}) {
    const auto number = row[key].value<double>();
    if (!number || !(*number >= -1.5 && *number <= 1.5)) {
      return fail(
          at(here, out_of_range(key, number.value_or(NAN), "a number between -1.5 and 1.5")));
    }
    *target = *number;
  }
  double sum = site.airway_weight = row["airway"].value_or(0.0);
  if (const auto* lobes = row["lobes"].as_table()) {
    for (const auto& [key, node] : *lobes) {
      const auto lobe = parse_lobe(key.str());
      if (!lobe) return fail(at(here, lobe.error()));
      const double weight = node.value_or(-1.0);
      if (!(weight >= 0.0 && weight <= 1.0)) {
        return fail(at(here, out_of_range(key.str(), weight, "between 0 and 1")));
      }
      site.lobe_weight[static_cast<std::size_t>(*lobe)] = weight;
      sum += weight;
    }
  }
  if (std::abs(sum - 1.0) > 0.011) {
    return fail(at(here, out_of_range("the sum of lobe and airway weights", sum, "1")));
  }
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
  toml::table root;
  try {
    root = toml::parse(toml_text, std::string(file_name));
  } catch (const toml::parse_error& error) {
    return fail(ErrorCode::kMalformed, std::string(file_name) + ":" +
                                           std::to_string(error.source().begin.line) + ": " +
                                           std::string(error.description()));
  }
  const auto* rows = root["site"].as_array();
  if (rows == nullptr || rows->empty()) {
    return fail(ErrorCode::kMalformed, std::string(file_name) + ": needs at least one [[site]]");
  }
  SiteMap map;
  for (const auto& node : *rows) {
    const auto* row = node.as_table();
    if (row == nullptr)
      return fail(ErrorCode::kMalformed, place(file_name, node) + ": not a table");
    auto site = read_site(*row, file_name);
    if (!site) return fail(site.error());
    for (const Site& earlier : map.sites_) {
      if (earlier.id == site->id) {
        return fail(ErrorCode::kInvalidArgument,
                    place(file_name, node) + ": site id " + site->id + " is used twice");
      }
    }
    map.sites_.push_back(std::move(*site));
  }
  if (auto status = check_mirrors(map.sites_, file_name); !status) return fail(status.error());
  return map;
}

Result<SiteMap> SiteMap::load(const std::filesystem::path& file) {
  auto text = read_file(file);
  if (!text) return fail(text.error());
  return parse(*text, file.filename().string());
}

Result<Site> SiteMap::find(std::string_view id) const {
  std::vector<std::string_view> ids;
  for (const Site& site : sites_) {
    if (site.id == id) return site;
    ids.push_back(site.id);
  }
  return fail(ErrorCode::kNotFound, "site '" + std::string(id) + "' is not in the site map." +
                                        did_you_mean(id, ids) + " `phren sites` lists all " +
                                        std::to_string(sites_.size()) + ".");
}

}  // namespace phren::exam
