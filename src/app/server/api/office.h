// What the routes of a class share: the data they teach from, and how this server is reached.
//
// Errors:  open() names the data file it could not use.
// Threads: does not change once the server runs, but for the parts that lock themselves.
#pragma once

#include <atomic>
#include <cstdint>
#include <filesystem>
#include <memory>
#include <string>
#include <vector>

#include "app/server/api/case_routes.h"
#include "app/server/net/refusals.h"
#include "app/specimen/specimen.h"
#include "exam/sites.h"
#include "reasoning/knowledge.h"
#include "records/people.h"
#include "teaching/drill/skills.h"
#include "teaching/marking/checklist.h"
#include "teaching/statistics/catalogue.h"

namespace phren::app::server {

struct OfficeOptions {
  bool is_local = true;  // only this machine can reach the server
  records::PasswordCost cost = {};
  records::LoginLimits login = {};
  records::SessionLimits session = {};
  // Where others reach this server, best first ("https://10.0.0.5:8443"); filled when it listens.
  std::shared_ptr<std::vector<std::string>> addresses =
      std::make_shared<std::vector<std::string>>();
};

// By which finding a drill skill can be asked about what it means; empty: the evidence carries no
// fair question.
struct Meaning {
  std::string weigh, threat;
};

// How many more times the marker looks after an end: the commit comes after the handler.
inline constexpr int kLooksAfterAnEnd = 20;

struct Office {
  OfficeOptions options;
  std::filesystem::path data;
  ApiShelves shelves;
  exam::SiteMap sites;
  std::vector<teaching::Checklist> checklists;
  teaching::StatisticCatalogue statistics;
  std::vector<teaching::Skill> skills;
  std::vector<Meaning> meanings;  // of each skill
  std::shared_ptr<const reasoning::Knowledge> knowledge;
  Specimens specimens;
  std::string local_csrf;  // of the local instructor, new at every start
  // How many more times the marker looks into the store for ended encounters.
  mutable std::atomic<int> looks_left{1};
  std::shared_ptr<RefusalLog> refusals = std::make_shared<RefusalLog>();

  static Result<std::shared_ptr<Office>> open(const std::filesystem::path& data,
                                              const OfficeOptions& options);
};

}  // namespace phren::app::server
