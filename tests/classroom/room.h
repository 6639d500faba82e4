// A server without sockets for tests: its routes, a store of its own, a clock that tests set, and
// browsers that keep cookies.
#pragma once

#include <gtest/gtest.h>

#include <nlohmann/json.hpp>
#include <string>

#include "app/server/api/api.h"
#include "app/server/api/desk.h"
#include "app/server/api/marker.h"
#include "base/files.h"
#include "records/people.h"
#include "records/temporary_store.h"

namespace phren::app::server {

using nlohmann::json;

constexpr std::int64_t kNow_ms = 1'795'600'000'000;
inline const records::PasswordCost kCheap{1, 8192};

class Room {
 public:
  explicit Room(const std::string& store, bool is_local = false,
                const std::function<void(Office&)>& change = {})
      : connection(store), db_(records::Database::open(store).value()) {
    OfficeOptions options;
    if (is_local) options.local_key = kLocalKey;
    options.cost = kCheap;
    office_ = Office::open(data_directory(), options).value();
    if (change) change(*office_);
    table_ = load_api(office_).value();
  }

  Response answer(const Request& request) {
    if (!keeps) return answer_and_forget(request);
    Desk desk{db_, now_ms};
    return table_.answer(request, &desk);
  }
  bool keeps = true;  // false: what a request changes is taken back once it is answered
  void mark(const std::string& encounter_id) {
    const auto done = mark_encounter(*office_, db_, encounter_id, now_ms);
    ASSERT_TRUE(done) << done.error().message;
  }
  void add_person(const std::string& login, records::Role role) {
    const auto made =
        records::People(db_, kCheap).add(login, "Name of " + login, role, kPassword, now_ms);
    ASSERT_TRUE(made) << made.error().message;
  }
  int count_audit(const std::string& event) {
    const auto entries = records::read_audit(db_).value();
    return static_cast<int>(
        std::count_if(entries.begin(), entries.end(),
                      [&](const records::AuditEntry& one) { return one.event == event; }));
  }
  records::Database& db() { return db_; }
  const Office& office() const { return *office_; }
  const RouteTable& table() const { return table_; }

  const std::string connection;
  static constexpr const char* kLocalKey = "0123456789abcdef";
  static constexpr const char* kPassword = "correct horse";
  std::int64_t now_ms = kNow_ms;

 private:
  Response answer_and_forget(const Request& request) {
    Response response;
    std::vector<std::function<void()>> never;
    const Status taken_back = db_.transact([&](auto&) -> Status {
      Desk desk{db_, now_ms, &never};
      response = table_.answer(request, &desk);
      return fail(ErrorCode::kConflict, "taken back");
    });
    EXPECT_FALSE(taken_back);
    return response;
  }
  records::Database db_;
  std::shared_ptr<Office> office_;
  RouteTable table_;
};

// One browser: keeps its cookie and sends the CSRF header.
class Browser {
 public:
  Browser(Room& room, std::string remote) : room_(&room), remote_(std::move(remote)) {}

  Response ask(const std::string& method, const std::string& path, const std::string& body = {},
               const std::string& type = "application/json") {
    Request request;
    request.method = method;
    const auto mark = path.find('?');
    request.path = "/api/v1/" + path.substr(0, mark);
    if (mark != std::string::npos) request.query = path.substr(mark + 1);
    request.host = "127.0.0.1:8080";
    request.content_type = body.empty() ? "" : type;
    request.body = body;
    request.cookie = cookie;
    request.csrf = csrf;
    request.remote = remote_;
    Response response = room_->answer(request);
    for (const Header& header : response.headers) {
      if (header.name == "Set-Cookie") cookie = header.value.substr(0, header.value.find(';'));
    }
    return response;
  }
  Response get(const std::string& path) { return ask("GET", path); }
  Response post(const std::string& path, const json& body) {
    return ask("POST", path, body.dump());
  }
  Response put(const std::string& path, const json& body) { return ask("PUT", path, body.dump()); }
  Response remove(const std::string& path) { return ask("DELETE", path); }
  // The answer as JSON; fails the test on another status.
  json get_json(const std::string& path, int status = 200) { return checked(get(path), status); }
  json post_json(const std::string& path, const json& body, int status = 200) {
    return checked(post(path, body), status);
  }
  json put_json(const std::string& path, const json& body, int status = 200) {
    return checked(put(path, body), status);
  }

  void log_in(const std::string& login) {
    const json session = post_json("session", {{"login", login}, {"password", Room::kPassword}});
    csrf = session.value("csrf", "");
  }
  json join(const std::string& code, const std::string& key) {
    json session = post_json("join", {{"code", code}, {"key", key}});
    csrf = session.value("csrf", "");
    return session;
  }

  std::string cookie, csrf;

 private:
  static json checked(const Response& response, int status) {
    EXPECT_EQ(response.status, status) << response.bytes();
    return json::parse(response.bytes(), nullptr, false);
  }
  Room* room_;
  std::string remote_;
};

// One PostgreSQL server for all tests of a program.
inline records::PostgresServer& postgres() {
  static records::PostgresServer one;
  return one;
}

// Every test runs on both stores.
class RoomTest : public testing::TestWithParam<records::Backend> {
 protected:
  void SetUp() override {
    folder_ = records::temporary_folder();
    ASSERT_TRUE(GetParam() == records::Backend::kSqlite || postgres().running())
        << "PostgreSQL cannot be started here; scripts/install-packages.sh installs it";
    room = std::make_unique<Room>(fresh());
  }
  void TearDown() override {
    room.reset();
    std::error_code ignored;
    std::filesystem::remove_all(folder_, ignored);
  }
  std::string fresh() {
    static int count = 0;
    const std::string name = "room" + std::to_string(++count);
    if (GetParam() == records::Backend::kSqlite) {
      return "sqlite:" + (folder_ / (name + ".db")).string();
    }
    EXPECT_TRUE(postgres().create(name));
    return postgres().connection(name);
  }

  // Somebody new, logged in from an address of their own.
  void enter(std::optional<Browser>& who, const std::string& login, records::Role role,
             const std::string& address) {
    room->add_person(login, role);
    who.emplace(*room, address);
    who->log_in(login);
  }

  // An instructor with a class of three learners and an open station on the asthma case.
  struct Class {
    std::string id, station, code;
    std::vector<std::string> keys, people;
  };
  Class make_class(Browser& instructor, const std::string& prefix, json changes = json::object()) {
    Class made;
    made.id = instructor.post_json("classes", {{"title", "Class of " + prefix}}, 201)["id"];
    const std::string roll = "login,name,extra_time_percent\n" + prefix + "1,Maren,0\n" + prefix +
                             "2,Torvald,25\n" + prefix + "3,Solveig,\n";
    EXPECT_EQ(instructor.ask("PUT", "classes/" + made.id + "/roster", roll, "text/csv").status,
              200);
    for (const json& one : json(instructor.get_json("classes/" + made.id)["members"])) {
      made.keys.push_back(one["key"]);
      made.people.push_back(one["person_id"]);
    }
    json checklist;
    for (const json& one : json(instructor.get_json("checklists")["checklists"])) {
      if (one["id"] == "asthma_station") checklist = one;
    }
    json plan{{"title", "Station"}, {"case_ids", {"asthma"}}, {"checklist", checklist}};
    plan.update(changes);
    const json station = instructor.post_json("classes/" + made.id + "/stations", plan, 201);
    made.station = station["id"];
    made.code = station["join_code"];
    instructor.post_json("stations/" + made.station + "/state", {{"state", "open"}});
    return made;
  }
  std::string begin(Browser& learner, const Class& in, std::size_t who) {
    learner.join(in.code, in.keys[who]);
    return learner.post_json("encounters", {{"station_id", in.station}}, 201)["id"];
  }

  std::filesystem::path folder_;
  std::unique_ptr<Room> room;
};

}  // namespace phren::app::server
