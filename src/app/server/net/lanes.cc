#include "app/server/net/lanes.h"

#include <algorithm>
#include <atomic>
#include <chrono>
#include <condition_variable>
#include <deque>
#include <exception>
#include <iterator>
#include <map>
#include <mutex>
#include <optional>
#include <thread>
#include <utility>
#include <vector>

#include "records/store_care.h"

namespace phren::app::server {
namespace {

// Long work of one asker that waits, beside what runs: half the places are others'.
constexpr std::size_t kMostSlowOfOne = 4;

using SteadyTime = std::chrono::steady_clock::time_point;

struct Task {
  Lanes::Job job;
  Lanes::Done done;
  SteadyTime put_at = std::chrono::steady_clock::now();
};

// Tasks waiting for one kind of thread; the askers take turns.
class Queue {
 public:
  struct Limits {
    std::size_t all;
    std::size_t session, address;                          // waiting of one asker
    std::size_t session_at_once = 1, address_at_once = 1;  // of one asker in one take()
  };
  explicit Queue(const Limits& limits) : limits_(limits) {}

  bool put(const Asker& asker, Task task) {
    {
      const std::lock_guard lock(mutex_);
      if (is_over_ || waiting_ + running_ >= limits_.all) return false;
      Line& line = lines_[asker.name];
      if (line.tasks.size() >= (asker.is_session ? limits_.session : limits_.address)) return false;
      line.is_session = asker.is_session;
      if (line.tasks.empty()) turns_.push_back(asker.name);
      line.tasks.push_back(std::move(task));
      ++waiting_;
    }
    changed_.notify_one();
    return true;
  }
  // Up to `most` tasks as soon as there is one, some of each asker in turn; none when all is over, or
  // when nothing came within `patience`.
  std::vector<Task> take(std::size_t most, std::chrono::milliseconds patience) {
    std::unique_lock lock(mutex_);
    changed_.wait_for(lock, patience, [&] { return is_over_ || waiting_ > 0; });
    std::vector<Task> taken;
    for (std::size_t askers = turns_.size(); askers > 0 && taken.size() < most; --askers) {
      take_of_next(most, taken);
    }
    waiting_ -= taken.size();
    running_ += taken.size();
    return taken;
  }
  bool is_over() const {
    const std::lock_guard lock(mutex_);
    return is_over_ && waiting_ == 0;
  }
  std::chrono::milliseconds longest_wait() const {
    const std::lock_guard lock(mutex_);
    SteadyTime first = std::chrono::steady_clock::now();
    const SteadyTime now = first;
    for (const auto& [name, line] : lines_) first = std::min(first, line.tasks.front().put_at);
    return std::chrono::duration_cast<std::chrono::milliseconds>(now - first);
  }
  void finished(std::size_t count) {
    const std::lock_guard lock(mutex_);
    running_ -= count;
  }
  void end() {
    {
      const std::lock_guard lock(mutex_);
      is_over_ = true;
    }
    changed_.notify_all();
  }

 private:
  struct Line {
    std::deque<Task> tasks;
    bool is_session = false;
  };

  void take_of_next(std::size_t most, std::vector<Task>& taken) {
    const std::string name = std::move(turns_.front());
    turns_.pop_front();
    const auto found = lines_.find(name);
    Line& line = found->second;
    std::size_t share = line.is_session ? limits_.session_at_once : limits_.address_at_once;
    for (; share > 0 && !line.tasks.empty() && taken.size() < most; --share) {
      taken.push_back(std::move(line.tasks.front()));
      line.tasks.pop_front();
    }
    if (line.tasks.empty()) {
      lines_.erase(found);
    } else {
      turns_.push_back(name);
    }
  }

  Limits limits_;
  mutable std::mutex mutex_;
  std::condition_variable changed_;
  std::map<std::string, Line> lines_;  // of those who wait; none is empty
  std::deque<std::string> turns_;
  std::size_t waiting_ = 0, running_ = 0;
  bool is_over_ = false;
};

std::int64_t system_now_ms() {
  using namespace std::chrono;
  return duration_cast<milliseconds>(system_clock::now().time_since_epoch()).count();
}

Response fault(const char* kept) {
  return problem(500, "fault",
                 std::string("a fault of the server: ") + kept + "; please report it");
}

void tell_fault(OperatorLog* log, const std::exception& error) {
  if (log == nullptr) return;
  log->tell(Level::kError, "fault", error.what(), "report it: this is a fault of the program");
}

Response run_job(const Lanes::Job& job, Desk* desk, OperatorLog* log) {
  try {
    return job(desk);
  } catch (const std::exception& error) {
    tell_fault(log, error);
    return fault(desk == nullptr ? "nothing was kept"
                                 : "part of this may be kept, so look before you do it again");
  }
}

class ThreadLanes final : public Lanes {
 public:
  explicit ThreadLanes(const LaneOptions& options)
      : options_(options),
        store_({options.max_waiting_store, options.max_waiting_store_session,
                options.max_waiting_store_address, options.most_in_commit_session,
                options.most_in_commit_address}),
        work_({options.max_waiting_work, options.max_waiting_work, options.max_waiting_work}),
        slow_({options.max_waiting_slow, kMostSlowOfOne, kMostSlowOfOne}) {
    if (!options_.now_ms) options_.now_ms = system_now_ms;
    rules_.may_create = false;
    rules_.older = records::Older::kRefuse;
    rules_.on_trouble = [this](const records::Trouble& trouble) { note(trouble); };
  }
  ~ThreadLanes() override { finish(); }

  Status open() {
    const std::size_t stores = options_.store.empty() ? 0 : options_.work_threads + 1;
    for (std::size_t i = 0; i < stores; ++i) {
      // The first one makes what is not there; whoever may not make a store has asked before.
      auto opened = TRY(records::Database::open(options_.store, i == 0 ? first_rules() : rules_));
      databases_.push_back(std::make_unique<records::Database>(std::move(opened)));
    }
    threads_.emplace_back([this] { run_store(database(0)); });
    for (std::size_t i = 0; i < options_.work_threads; ++i) {
      threads_.emplace_back([this, i] { run_singly(work_, database(i + 1)); });
    }
    threads_.emplace_back([this] { run_singly(slow_, nullptr); });
    return {};
  }

  bool submit(Lane lane, Job job, Done done, const Asker& asker) override {
    Queue& queue = lane == Lane::kStore ? store_ : lane == Lane::kWork ? work_ : slow_;
    return queue.put(asker, {std::move(job), std::move(done)});
  }

  StoreHealth store_health() const override {
    const int word = trouble_;
    if (word < 0) return {};
    return {false, static_cast<records::TroubleKind>(word)};
  }

  std::int64_t now_ms() const override { return options_.now_ms(); }

  std::chrono::milliseconds longest_wait(Lane lane) const override {
    return (lane == Lane::kStore ? store_ : lane == Lane::kWork ? work_ : slow_).longest_wait();
  }

  void finish() override {
    for (Queue* queue : {&store_, &work_, &slow_}) queue->end();
    for (std::thread& thread : threads_) {
      if (thread.joinable()) thread.join();
    }
  }

 private:
  records::Database* database(std::size_t i) {
    return i < databases_.size() ? databases_[i].get() : nullptr;
  }

  // What fails in one answer ends neither its lane nor the answers of others.
  void deliver(Task& task, Response response) {
    try {
      task.done(std::move(response));
    } catch (const std::exception& error) {
      tell_fault(options_.log.get(), error);
    }
  }

  void run_singly(Queue& queue, records::Database* db) {
    while (!queue.is_over()) {
      auto tasks = queue.take(1, options_.try_store_every);
      if (tasks.empty()) continue;
      std::optional<Desk> desk;
      if (db != nullptr) reopen_if_lost(*db);
      if (db != nullptr) desk.emplace(Desk{*db, options_.now_ms()});
      Response response = run_job(tasks[0].job, desk ? &*desk : nullptr, options_.log.get());
      queue.finished(1);
      deliver(tasks[0], std::move(response));
    }
  }

  // A PostgreSQL server that was started anew has closed the connection.
  void reopen_if_lost(records::Database& db) {
    if (db.backend() == records::Backend::kSqlite) return;
    if (db.transact([](soci::session&) -> Status { return {}; })) return;
    if (auto again = records::Database::open(options_.store, rules_)) db = std::move(*again);
  }

  // Damage stays noted until the server is started anew; anything else until a commit succeeds.
  void note(const records::Trouble& trouble) {
    const bool is_damage = trouble_ == static_cast<int>(records::TroubleKind::kDamaged);
    const bool is_passing = trouble.kind == records::TroubleKind::kConflict;
    if (!is_damage && !is_passing) trouble_ = static_cast<int>(trouble.kind);
    if (!options_.log) return;
    options_.log->tell(is_passing ? Level::kWarning : Level::kError, to_string(trouble.kind),
                       trouble.said, remedy_of(trouble.kind));
  }
  void note_success() {
    const int word = trouble_;
    if (word < 0 || word == static_cast<int>(records::TroubleKind::kDamaged)) return;
    trouble_ = -1;
    if (options_.log) options_.log->tell(Level::kInfo, "store_well", "the store keeps again");
  }
  Response store_trouble() const {
    const auto health = store_health();
    return problem(
        records::error_of(health.is_well ? records::TroubleKind::kConflict : health.trouble));
  }

  // Part of a commit that can fail alone: of a job that throws nothing is kept.
  Response run_part(const Job& job, Desk desk) {
    std::vector<std::function<void()>> steps, *shared = std::exchange(desk.after_commit, &steps);
    std::optional<Response> made;
    bool has_thrown = false;
    const auto kept = desk.db.transact([&](soci::session&) -> Status {
      try {
        made = job(&desk);
      } catch (const std::exception& error) {
        has_thrown = true;
        tell_fault(options_.log.get(), error);
        return fail(ErrorCode::kIo, "");
      }
      return {};
    });
    if (has_thrown) return fault("nothing was kept");
    if (!kept) return problem(kept.error());
    std::move(steps.begin(), steps.end(), std::back_inserter(*shared));
    return std::move(*made);
  }

  // While one commit is on its way to disk the next requests gather; they share the next commit.
  void run_store(records::Database* db) {
    if (db == nullptr) return run_singly(store_, nullptr);
    while (!store_.is_over()) {
      auto tasks = store_.take(options_.most_in_commit, options_.try_store_every);
      if (tasks.empty()) {
        try_store(*db);
        continue;
      }
      std::vector<Response> responses;
      std::vector<std::function<void()>> after_commit;
      bool is_kept = begin(*db);
      for (const Task& task : tasks) {
        if (!is_kept) break;
        responses.push_back(run_part(task.job, {*db, options_.now_ms(), &after_commit}));
      }
      const bool proves = is_kept && proves_room(*db);
      is_kept = is_kept && db->commit_batch().has_value();
      if (is_kept && proves) note_success();
      for (const auto& step : after_commit) {
        if (is_kept) step();
      }
      store_.finished(tasks.size());
      for (std::size_t i = 0; i < tasks.size(); ++i) {
        deliver(tasks[i], is_kept ? std::move(responses[i]) : store_trouble());
      }
    }
  }

  // A commit that wrote nothing proves nothing while the disk is full: then something is written with it.
  bool proves_room(records::Database& db) const {
    const auto health = store_health();
    const bool is_full = !health.is_well && health.trouble == records::TroubleKind::kFull;
    return !is_full || records::try_room(db, options_.now_ms()).has_value();
  }

  void try_store(records::Database& db) {
    if (!begin(db)) return;
    const bool is_kept = records::beat(db, options_.now_ms()) && proves_room(db);
    if (db.commit_batch() && is_kept) note_success();
  }

  // Opens the store anew when its connection was lost.
  bool begin(records::Database& db) {
    if (db.begin_batch()) return true;
    if (store_health().trouble == records::TroubleKind::kBusy) return false;
    auto again = records::Database::open(options_.store, rules_);
    if (!again) return false;
    db = std::move(*again);
    return db.begin_batch().has_value();
  }

  records::OpenRules first_rules() const {
    records::OpenRules rules;
    rules.on_trouble = rules_.on_trouble;
    return rules;
  }

  LaneOptions options_;
  records::OpenRules rules_;
  std::atomic<int> trouble_{-1};  // a TroubleKind; -1: none
  Queue store_, work_, slow_;
  std::vector<std::unique_ptr<records::Database>> databases_;
  std::vector<std::thread> threads_;
};

}  // namespace

Result<std::shared_ptr<Lanes>> Lanes::start(const LaneOptions& options) {
  auto lanes = std::make_shared<ThreadLanes>(options);
  TRY(lanes->open());
  return lanes;
}

}  // namespace phren::app::server
