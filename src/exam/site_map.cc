// What needs no file: the browser module has this too.
#include <string>

#include "exam/sites.h"

namespace phren::exam {

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
