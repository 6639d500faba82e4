// Cases over HTTP: the list, one case, and its patient as the numbers the browser engine takes. A
// case that a station uses is shown to nobody but those who teach, marked as in use, until that
// station is released.
#pragma once

#include <memory>
#include <mutex>
#include <set>
#include <string>
#include <vector>

#include "app/server/api/case_json.h"
#include "app/server/api/routes.h"

namespace phren::app::server {

// Cases that open stations use just now. Threads: any.
class CasesInUse {
 public:
  bool has(const std::string& case_id) const {
    const std::lock_guard lock(mutex_);
    return ids_.count(case_id) > 0;
  }
  void set(const std::vector<std::string>& case_ids) {
    const std::lock_guard lock(mutex_);
    ids_ = {case_ids.begin(), case_ids.end()};
  }

 private:
  mutable std::mutex mutex_;
  std::set<std::string> ids_;
};

struct Office;
void add_case_routes(RouteTable& table, const std::shared_ptr<const Office>& office);

}  // namespace phren::app::server
