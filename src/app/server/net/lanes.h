// The threads beside the network thread: one that owns the store and commits for many requests at
// once, a few for longer work, one for long work without the store.
//
// Errors:  start() says why the store cannot be opened. A job that throws is answered with 500; when a
//          commit fails, everyone whose work was in it is told so with 503, and nothing of it is kept.
//          What the store said goes to the operator's log.
// Rules:   those who wait take turns: of one asker at most a few jobs go into one commit, and at most
//          so many wait, however many connections they come by.
// Safety:  `done` of a job on the store lane is called only after its work is committed to disk.
// Threads: submit() from any thread; `done` is called on a lane's thread.
#pragma once

#include <chrono>
#include <cstdint>
#include <functional>
#include <memory>
#include <string>

#include "app/server/api/desk.h"
#include "app/server/api/routes.h"
#include "app/server/net/operator_log.h"
#include "records/trouble.h"

namespace phren::app::server {

struct LaneOptions {
  std::string store = {};  // connection string (records/database.h); empty: no store
  std::size_t work_threads = 2;
  std::size_t most_in_commit = 256;
  // More are turned away.
  std::size_t max_waiting_store = 4096;
  std::size_t max_waiting_work = 64;
  std::size_t max_waiting_slow = 8;
  // Of one asker: a session, or all of one address who show none.
  std::size_t max_waiting_store_session = 32;
  std::size_t max_waiting_store_address = 1024;
  std::size_t most_in_commit_session = 2;
  std::size_t most_in_commit_address = 32;
  // A store that nobody asks is tried this often, so that trouble shows before somebody needs it.
  std::chrono::milliseconds try_store_every{10'000};
  std::function<std::int64_t()> now_ms = {};  // empty: the system's clock
  std::shared_ptr<OperatorLog> log = {};      // empty: none
};

// Who asks, for taking turns.
struct Asker {
  std::string name;  // a session's token, or a network address
  bool is_session = false;
};

// How the store is, as the last work with it showed.
struct StoreHealth {
  bool is_well = true;
  records::TroubleKind trouble = records::TroubleKind::kOther;  // when it is not
};

class Lanes {
 public:
  using Job = std::function<Response(Desk*)>;  // null without a store
  using Done = std::function<void(Response)>;

  static Result<std::shared_ptr<Lanes>> start(const LaneOptions& options);
  virtual ~Lanes() = default;
  // False when too much is waiting; then neither is called. REQUIRES: lane is not kNetwork.
  virtual bool submit(Lane lane, Job job, Done done, const Asker& asker = {}) = 0;
  virtual std::int64_t now_ms() const = 0;  // since 1970 UTC
  virtual StoreHealth store_health() const = 0;
  // How long the first in line has waited.
  virtual std::chrono::milliseconds longest_wait(Lane lane) const = 0;
  // Does what waits, then ends the threads. Nothing may be submitted afterwards.
  virtual void finish() = 0;
};

}  // namespace phren::app::server
