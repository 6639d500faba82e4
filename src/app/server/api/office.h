// What the routes of a class share: the data they teach from, and how this server is reached.
//
// Errors:  open() names the data file it could not use.
// Threads: does not change once the server runs, but for the parts that lock themselves.
#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <string>
#include <vector>

#include "app/server/api/bell.h"
#include "app/server/api/case_routes.h"
#include "app/server/net/refusals.h"
#include "app/specimen/drill_player.h"
#include "app/specimen/show.h"
#include "records/people.h"
#include "teaching/library.h"

namespace phren::app::server {

struct OfficeOptions {
  // While the store has no account, whoever shows this key is the instructor: it is printed where the
  // server was started, so knowing it means sitting at this machine, whatever proxy stands between.
  // Empty: nobody is anything without an account.
  std::string local_key = {};
  records::PasswordCost cost = {};
  records::LoginLimits login = {};
  records::SessionLimits session = {};
  // When this server began, and how long before that nobody could send anything (net/class_clock.h).
  std::int64_t began_ms = 0, gap_ms = 0;
  std::filesystem::path own_cases = {};  // the instructor's own folder; empty: none
  // Where others reach this server, best first ("https://10.0.0.5:8443"); filled when it listens.
  std::shared_ptr<std::vector<std::string>> addresses =
      std::make_shared<std::vector<std::string>>();
};

class Lanes;     // net/lanes.h
class RoundHub;  // round_hub.h

struct Office {
  OfficeOptions options;
  std::shared_ptr<const teaching::Library> library;
  std::filesystem::path data;                 // the folder all this was read from
  std::shared_ptr<const DrillPlayer> player;  // the drill's sounds
  std::shared_ptr<const Show> show;           // what is told about them on the projector
  teaching::DrillBook book;                   // of both
  std::uint64_t drill_secret = 0;  // new at every start: no learner can work out what comes next
  std::shared_ptr<CasesInUse> cases_in_use = std::make_shared<CasesInUse>();
  std::string local_csrf;  // of the local instructor, new at every start
  // What readiness asks; null and empty in tests of routes alone.
  std::shared_ptr<Lanes> lanes;
  std::string store;
  // Rung when an encounter has ended and is on disk.
  std::shared_ptr<Bell> marker_bell = std::make_shared<Bell>();
  std::shared_ptr<RefusalLog> refusals = std::make_shared<RefusalLog>();
  std::shared_ptr<RoundHub> rounds;  // the rounds under way

  static Result<std::shared_ptr<Office>> open(const std::filesystem::path& data,
                                              const OfficeOptions& options);
};

}  // namespace phren::app::server
