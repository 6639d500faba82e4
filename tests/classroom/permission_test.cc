// Who gets what answer at which address: permissions.csv, for every address that the server has, held
// against the server, on both stores. An address without a line fails, and so does a line without an
// address.
#include <gmock/gmock.h>

#include <algorithm>
#include <array>
#include <cstring>
#include <map>
#include <sstream>

#include "room.h"

namespace phren::app::server {
namespace {

// Who asks, in the order of the columns. Those of "another" are of another class with a station on the
// same case; the guest came in by name at an open station; the examiner and the colleague are on the
// staff of the class that the instructor made.
constexpr std::array kWho{"nobody",
                          "forged",
                          "owner",
                          "classmate",
                          "guest",
                          "another_learner",
                          "examiner",
                          "another_examiner",
                          "instructor",
                          "colleague",
                          "another_instructor"};
constexpr std::size_t kOwner = 2;

using Answers = std::vector<int>;               // a status for each of kWho
using Matrix = std::map<std::string, Answers>;  // by "METHOD /address"
const std::array<std::string, 2> kPhases{"open", "released"};

struct Line {
  std::string when, address;
  Answers answers;
};

std::vector<Line> written_lines() {
  std::istringstream in(read_file(data_directory() / "../tests/classroom/permissions.csv").value());
  std::vector<Line> lines;
  for (std::string text; std::getline(in, text);) {
    if (text.empty() || text.starts_with("#") || text.starts_with("when,")) continue;
    std::istringstream row(text);
    Line line;
    std::string method, address, cell;
    std::getline(row, line.when, ',');
    std::getline(row, method, ',');
    std::getline(row, address, ',');
    line.address = method + " " + address;
    while (std::getline(row, cell, ',')) line.answers.push_back(std::stoi(cell));
    lines.push_back(std::move(line));
  }
  return lines;
}

std::string text_of(const std::string& when, const std::string& address, const Answers& answers) {
  std::string text = when + "," + address;
  text.replace(text.find(' '), 1, ",");
  for (const int one : answers) text += "," + std::to_string(one);
  return text;
}

class Permissions : public RoomTest {
 protected:
  void SetUp() override {
    RoomTest::SetUp();
    if (HasFatalFailure()) return;
    enter(ingrid_, "ingrid", records::Role::kInstructor, "10.0.0.1");
    enter(halvard_, "halvard", records::Role::kInstructor, "10.0.0.2");
    ours_ = make_class(*ingrid_, "a", {{"admission", "open"}});
    theirs_ = make_class(*halvard_, "b");
    for (std::size_t i = 0; i < kWho.size(); ++i) {
      who_.emplace_back(*room, "10.0.1." + std::to_string(i));
    }
    who_[1].cookie = "phren_session=" + std::string(64, '0');
    who_[1].csrf = std::string(64, '0');
    who_[3].join(ours_.code, ours_.keys[1]);
    who_[4].csrf = who_[4].post_json("join", {{"code", ours_.code}, {"name", "Vagn"}})["csrf"];
    who_[5].join(theirs_.code, theirs_.keys[0]);
    staff(who_[6], *ingrid_, ours_.id, "eira", "examiner");
    staff(who_[7], *halvard_, theirs_.id, "sunniva", "examiner");
    who_[8] = *ingrid_;
    staff(who_[9], *ingrid_, ours_.id, "runa", "instructor");
    who_[10] = *halvard_;
    make_owners_things();
  }

  void staff(Browser& who, Browser& by, const std::string& in, const std::string& login,
             const std::string& role) {
    by.post_json(
        "classes/" + in + "/staff",
        {{"login", login}, {"role", role}, {"name", login}, {"password", "correct horse"}});
    who.log_in(login);
  }

  // An encounter with a deed in it, a drill question and an ability test.
  void make_owners_things() {
    Browser& owner = who_[kOwner];
    encounter_ = begin(owner, ours_, 0);
    room->now_ms += 60'000;
    owner.post_json("encounters/" + encounter_ + "/actions",
                    {{"actions", {{{"id", "a1"}, {"t", 0.2}, {"do", "lift"}}}}});
    drill_ = owner.post_json("drill/next", {{"mode", "name"}});
    test_ = owner.post_json("ability-tests", json::object(), 201);
    round_ = ingrid_->post_json("rounds", {{"case_id", "asthma"}}, 201);
    rules_ = ingrid_->get_json("classes/" + ours_.id + "/drill");
    plan_ = ingrid_->get_json("stations/" + ours_.station);
    examiner_id_ = who_[6].get_json("session")["person"]["id"];
  }

  void release() {
    who_[kOwner].post_json("encounters/" + encounter_ + "/end", {{"id", "e"}, {"t", 30.0}});
    room->mark(encounter_);
    for (const auto& [who, in] : {std::pair{&*ingrid_, ours_}, std::pair{&*halvard_, theirs_}}) {
      for (const char* state : {"closed", "released"}) {
        who->post_json("stations/" + in.station + "/state", {{"state", state}});
      }
    }
  }

  std::string address_of(std::string pattern) const {
    pattern = pattern.substr(std::string("/api/v1/").size());
    const std::string first = pattern.substr(0, pattern.find('/'));
    const std::map<std::string, std::string> own{
        {"classes", ours_.id},        {"stations", ours_.station},   {"encounters", encounter_},
        {"people", ours_.people[0]},  {"cases", "asthma"},           {"specimens", "wheeze"},
        {"drill", drill_["item_id"]}, {"ability-tests", test_["id"]}};
    const bool is_staff = pattern.find("/staff/") != std::string::npos;
    const std::map<std::string, std::string> values{
        {"{id}", own.contains(first) ? own.at(first) : "nothing"},
        {"{person}", is_staff ? examiner_id_ : ours_.people[0]},
        {"{item}", test_["item"]["item_id"]},
        {"{answer}", drill_["choices"][0]["id"]},
        {"{number}", "0"},
        {"{build}", "own"},
        {"{key}", std::string(16, '0')}};
    for (const auto& [name, value] : values) {
      if (const auto at = pattern.find(name); at != std::string::npos) {
        pattern.replace(at, name.size(), value);
      }
    }
    return pattern;
  }

  // What would do for who may. An address that is not here is sent an empty object.
  std::string body_of(const std::string& address) const {
    const std::map<std::string, json> bodies{
        {"POST session", {{"login", "ingrid"}, {"password", Room::kPassword}}},
        {"POST session/password", {{"old", Room::kPassword}, {"new", "a new and long one"}}},
        {"POST join", {{"code", ours_.code}, {"key", ours_.keys[2]}}},
        {"POST impression",
         {{"schema_version", 1},
          {"age_years", 34},
          {"setting", "ems_adult"},
          {"findings", json::array()}}},
        {"POST classes", {{"title", "Another"}}},
        {"POST classes/{id}/staff", {{"login", "halvard"}, {"role", "examiner"}}},
        {"POST classes/{id}/stations", plan_},
        {"PUT stations/{id}", plan_},
        {"POST stations/{id}/state", {{"state", "closed"}}},
        {"PUT stations/{id}/angoff", {{"chances", json::object()}}},
        {"PUT classes/{id}/drill", rules_},
        {"POST encounters", {{"station_id", ours_.station}}},
        {"POST encounters/{id}/actions",
         {{"actions", {{{"id", "x"}, {"t", 0.5}, {"do", "lift"}}}}}},
        {"POST encounters/{id}/end", {{"id", "x"}, {"t", 0.5}}},
        {"PUT encounters/{id}/examiner", {{"global_rating", 4}}},
        // What makes a new sound takes long: here who may is told what is wrong with the body.
        {"POST ability-tests", json::array()},
        {"POST ability-tests/{id}/answers",
         {{"item_id", test_["item"]["item_id"]}, {"answered", "nothing"}}},
        {"POST rounds", {{"case_id", "asthma"}}},
        {"POST rounds/join", {{"code", round_["round"]["code"]}, {"name", "Vagn"}}},
        {"POST drill/next", {{"mode", "guess"}}},
        {"POST drill/answers",
         {{"item_id", drill_["item_id"]}, {"answered", "nothing"}, {"seconds", 3.0}}}};
    const auto found = bodies.find(address);
    return found == bodies.end() ? "{}" : found->second.dump();
  }

  Response ask(const Route& route, Browser who) const {
    const std::string name = route.method + " " + route.pattern.substr(std::strlen("/api/v1/"));
    std::string body = route.body_type.empty() ? "" : body_of(name);
    if (route.body_type == "text/csv") body = "login,name\na1,Maren\na2,Torvald\na3,Solveig\n";
    const std::string query = route.pattern.ends_with("/export") ? "?form=csv" : "";
    return who.ask(route.method, address_of(route.pattern) + query, body, route.body_type);
  }

  // One status for each who, at each address. What is asked changes nothing: it is taken back.
  Matrix measured() {
    Matrix matrix;
    room->keeps = false;
    for (const Route& route : room->table().all()) {
      Answers& answers = matrix[route.method + " " + route.pattern];
      for (const Browser& one : who_) {
        // A route that has no handler with a desk cannot know who asks.
        const bool knows = route.desk_handler != nullptr || answers.empty();
        answers.push_back(knows ? ask(route, one).status : answers.front());
      }
    }
    room->keeps = true;
    return matrix;
  }

  std::optional<Browser> ingrid_, halvard_;
  std::vector<Browser> who_;
  Class ours_, theirs_;
  std::string encounter_, examiner_id_;
  json drill_, test_, rules_, plan_, round_;
};
INSTANTIATE_TEST_SUITE_P(Sqlite, Permissions, testing::Values(records::Backend::kSqlite));
INSTANTIATE_TEST_SUITE_P(Postgresql, Permissions, testing::Values(records::Backend::kPostgresql));

TEST_P(Permissions, EveryAddressAnswersEveryoneAsWritten) {
  std::array<Matrix, 2> found;
  found[0] = measured();
  release();
  found[1] = measured();
  std::size_t checks = 0;
  for (const Line& line : written_lines()) {
    for (std::size_t phase = 0; phase < 2; ++phase) {
      if (line.when != "always" && line.when != kPhases[phase]) continue;
      const auto answered = found[phase].find(line.address);
      if (answered == found[phase].end()) {
        ADD_FAILURE() << "permissions.csv: there is no such address: " << line.address;
        continue;
      }
      EXPECT_EQ(line.answers, answered->second)
          << "written:  " << text_of(line.when, line.address, line.answers)
          << "\nanswered: " << text_of(kPhases[phase], line.address, answered->second);
      checks += answered->second.size();
      found[phase].erase(answered);
    }
  }
  for (std::size_t phase = 0; phase < 2; ++phase) {
    for (const auto& [address, answers] : found[phase]) {
      ADD_FAILURE()
          << "permissions.csv has no line for this address; think who may what, then write: "
          << text_of(kPhases[phase], address, answers);
    }
  }
  std::printf("%zu checks\n", checks);
  EXPECT_GT(checks, 1000u);
}

// What is one's own stays out of the cache of a shared device: in version 0.1 the sounds of ability tests did not.
TEST_P(Permissions, WhatNeedsASessionIsKeptInNoCache) {
  room->keeps = false;
  int checks = 0;
  for (const Route& route : room->table().all()) {
    if (route.method != "GET" || !route.desk_handler) continue;
    const bool is_for_all = ask(route, who_[0]).status < 400;
    for (const Browser* one : {&who_[kOwner], &who_[8]}) {
      const Response answer = ask(route, *one);
      if (is_for_all || answer.status >= 300) continue;
      ++checks;
      EXPECT_TRUE(std::any_of(answer.headers.begin(), answer.headers.end(),
                              [](const Header& header) {
                                return header.name == "Cache-Control" && header.value == "no-store";
                              }))
          << route.pattern;
    }
  }
  std::printf("%d answers\n", checks);
  EXPECT_GT(checks, 30);
}

// The file itself: who is outside reaches nothing that belongs to a class, a person or an encounter.
TEST(PermissionsFile, ItLetsNobodyIntoAnothersThings) {
  const std::array outside{0, 1, 5, 7, 10};  // nobody, forged, and the three of another class
  int lines = 0;
  for (const Line& line : written_lines()) {
    ASSERT_EQ(line.answers.size(), kWho.size()) << line.address;
    if (line.address.find("{id}") == std::string::npos ||
        line.address.find("/cases/{") != std::string::npos ||
        line.address.find("/specimens/") != std::string::npos ||
        line.address.find("/patients/") != std::string::npos ||
        line.address.find("/show/") != std::string::npos) {
      continue;
    }
    ++lines;
    for (const int who : outside) {
      const int status = line.answers[static_cast<std::size_t>(who)];
      EXPECT_TRUE(status == 401 || status == 403 || status == 404)
          << kWho[static_cast<std::size_t>(who)] << " " << line.address << " " << status;
    }
  }
  EXPECT_GT(lines, 40);
}

}  // namespace
}  // namespace phren::app::server
