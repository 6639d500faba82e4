// The listening sites, read from data/sites.toml.
#pragma once

#include <filesystem>
#include <string_view>
#include <utility>
#include <vector>

#include "base/result.h"
#include "exam/types.h"

namespace phren::exam {

class SiteMap {
 public:
  // kMalformed or kInvalidArgument naming file, line and field when the text is not a site map.
  static Result<SiteMap> parse(std::string_view toml_text, std::string_view file_name);
  static Result<SiteMap> load(const std::filesystem::path& file);

  // Of sites that are known to be right.
  static SiteMap of(std::vector<Site> sites) {
    SiteMap map;
    map.sites_ = std::move(sites);
    return map;
  }
  const std::vector<Site>& all() const { return sites_; }
  // kNotFound naming the id, with the nearest known one.
  Result<Site> find(std::string_view id) const;

 private:
  std::vector<Site> sites_;
};

}  // namespace phren::exam
