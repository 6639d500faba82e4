#include "app/server/net/lanes.h"

#include <chrono>
#include <condition_variable>
#include <deque>
#include <exception>
#include <iterator>
#include <mutex>
#include <optional>
#include <thread>
#include <utility>
#include <vector>

namespace phren::app::server {
namespace {

struct Task {
  Lanes::Job job;
  Lanes::Done done;
};

// Tasks waiting for one kind of thread.
class Queue {
 public:
  explicit Queue(std::size_t most) : most_(most) {}

  bool put(Task task) {
    {
      const std::lock_guard lock(mutex_);
      if (is_over_ || tasks_.size() + running_ >= most_) return false;
      tasks_.push_back(std::move(task));
    }
    changed_.notify_one();
    return true;
  }
  // Up to `most` tasks as soon as there is one; none when all is over.
  std::vector<Task> take(std::size_t most) {
    std::unique_lock lock(mutex_);
    changed_.wait(lock, [&] { return is_over_ || !tasks_.empty(); });
    std::vector<Task> taken;
    while (!tasks_.empty() && taken.size() < most) {
      taken.push_back(std::move(tasks_.front()));
      tasks_.pop_front();
    }
    running_ += taken.size();
    return taken;
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
  std::mutex mutex_;
  std::condition_variable changed_;
  std::deque<Task> tasks_;
  std::size_t most_;
  std::size_t running_ = 0;
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

Response run_job(const Lanes::Job& job, Desk* desk) {
  try {
    return job(desk);
  } catch (const std::exception&) {
    return fault(desk == nullptr ? "nothing was kept"
                                 : "part of this may be kept, so look before you do it again");
  }
}

Response store_trouble() {
  Response response =
      problem(503, "store", "the store could not keep this; nothing is lost here, try again");
  response.headers.push_back({"Retry-After", "2"});
  return response;
}

// Part of a commit that can fail alone: of a job that throws nothing is kept.
Response run_part(const Lanes::Job& job, Desk desk) {
  std::vector<std::function<void()>> steps, *shared = std::exchange(desk.after_commit, &steps);
  std::optional<Response> made;
  bool has_begun = false;
  const auto kept = desk.db.transact([&](soci::session&) -> Status {
    has_begun = true;
    made = job(&desk);
    return {};
  });
  if (!kept) return has_begun && !made ? fault("nothing was kept") : store_trouble();
  std::move(steps.begin(), steps.end(), std::back_inserter(*shared));
  return std::move(*made);
}

class ThreadLanes final : public Lanes {
 public:
  explicit ThreadLanes(const LaneOptions& options)
      : options_(options),
        store_(options.max_waiting_store),
        work_(options.max_waiting_work),
        slow_(options.max_waiting_slow) {
    if (!options_.now_ms) options_.now_ms = system_now_ms;
  }
  ~ThreadLanes() override { finish(); }

  Status open() {
    const std::size_t stores = options_.store.empty() ? 0 : options_.work_threads + 1;
    for (std::size_t i = 0; i < stores; ++i) {
      auto opened = TRY(records::Database::open(options_.store));
      databases_.push_back(std::make_unique<records::Database>(std::move(opened)));
    }
    threads_.emplace_back([this] { run_store(database(0)); });
    for (std::size_t i = 0; i < options_.work_threads; ++i) {
      threads_.emplace_back([this, i] { run_singly(work_, database(i + 1)); });
    }
    threads_.emplace_back([this] { run_singly(slow_, nullptr); });
    return {};
  }

  bool submit(Lane lane, Job job, Done done) override {
    Queue& queue = lane == Lane::kStore ? store_ : lane == Lane::kWork ? work_ : slow_;
    return queue.put({std::move(job), std::move(done)});
  }

  std::int64_t now_ms() const override { return options_.now_ms(); }

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

  void run_singly(Queue& queue, records::Database* db) {
    for (auto tasks = queue.take(1); !tasks.empty(); tasks = queue.take(1)) {
      std::optional<Desk> desk;
      if (db != nullptr) reopen_if_lost(*db);
      if (db != nullptr) desk.emplace(Desk{*db, options_.now_ms()});
      Response response = run_job(tasks[0].job, desk ? &*desk : nullptr);
      queue.finished(1);
      tasks[0].done(std::move(response));
    }
  }

  // A PostgreSQL server that was started anew has closed the connection.
  void reopen_if_lost(records::Database& db) {
    if (db.backend() == records::Backend::kSqlite) return;
    if (db.transact([](soci::session&) -> Status { return {}; })) return;
    if (auto again = records::Database::open(options_.store)) db = std::move(*again);
  }

  // While one commit is on its way to disk the next requests gather; they share the next commit.
  void run_store(records::Database* db) {
    if (db == nullptr) return run_singly(store_, nullptr);
    for (auto tasks = store_.take(options_.most_in_commit); !tasks.empty();
         tasks = store_.take(options_.most_in_commit)) {
      std::vector<Response> responses;
      std::vector<std::function<void()>> after_commit;
      bool is_kept = begin(*db);
      for (const Task& task : tasks) {
        if (!is_kept) break;
        responses.push_back(run_part(task.job, {*db, options_.now_ms(), &after_commit}));
      }
      is_kept = is_kept && db->commit_batch().has_value();
      for (const auto& step : after_commit) {
        if (is_kept) step();
      }
      store_.finished(tasks.size());
      for (std::size_t i = 0; i < tasks.size(); ++i) {
        tasks[i].done(is_kept ? std::move(responses[i]) : store_trouble());
      }
    }
  }

  // Opens the store anew when its connection was lost.
  bool begin(records::Database& db) {
    if (db.begin_batch()) return true;
    auto again = records::Database::open(options_.store);
    if (!again) return false;
    db = std::move(*again);
    return db.begin_batch().has_value();
  }

  LaneOptions options_;
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
