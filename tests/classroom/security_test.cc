// What must be refused is refused, and written down.
#include <gmock/gmock.h>

#include <algorithm>
#include <set>

#include "room.h"

namespace phren::app::server {
namespace {

using testing::HasSubstr;

json action(const std::string& id, double t) {
  return {{"id", id}, {"t", t}, {"do", "lift"}};
}

class Security : public RoomTest {
 protected:
  void SetUp() override {
    RoomTest::SetUp();
    if (HasFatalFailure()) return;
    enter(ingrid, "ingrid", records::Role::kInstructor, "10.0.0.1");
    enter(halvard, "halvard", records::Role::kInstructor, "10.0.0.2");
    ours = make_class(*ingrid, "a");
    theirs = make_class(*halvard, "b");
    maren.emplace(*room, "10.0.0.3");
    torvald.emplace(*room, "10.0.0.4");
    stranger.emplace(*room, "10.0.0.5");
    encounter = begin(*maren, ours, 0);
    torvald->join(ours.code, ours.keys[1]);
    stranger->join(theirs.code, theirs.keys[0]);
    noted = notes();
    ++room->now_ms;
  }
  std::vector<records::AuditEntry> notes() const {
    auto entries = records::read_audit(room->db()).value();
    std::erase_if(entries, [](const auto& one) { return one.event != "refused"; });
    return entries;
  }
  // Refused, and one more entry in the audit log says so: with this status, in these words.
  void refused(const Response& response, int status) {
    EXPECT_EQ(response.status, status) << response.bytes();
    const std::string said = std::to_string(status) + " " +
                             json::parse(response.bytes(), nullptr, false).value("detail", "");
    const std::size_t before = noted.size();
    noted = notes();
    EXPECT_EQ(noted.size(), before + 1) << said;
    // A login is left out of the log, and a long text is cut.
    const std::string start = said.substr(0, std::min<std::size_t>(said.find('\''), 200));
    EXPECT_TRUE(noted.back().detail.starts_with(start)) << noted.back().detail << "\n" << said;
    ++room->now_ms;  // the next one is the newest
  }

  std::optional<Browser> ingrid, halvard, maren, torvald, stranger;
  Class ours, theirs;
  std::string encounter;
  std::vector<records::AuditEntry> noted;
};
INSTANTIATE_TEST_SUITE_P(Sqlite, Security, testing::Values(records::Backend::kSqlite));
INSTANTIATE_TEST_SUITE_P(Postgresql, Security, testing::Values(records::Backend::kPostgresql));

TEST_P(Security, AnotherLearnersRecordIsNotThere) {
  const std::string path = "encounters/" + encounter;
  for (Browser* browser : {&*torvald, &*stranger, &*halvard}) {
    for (const char* part : {"", "/log", "/config", "/mark", "/debrief", "/examiner"}) {
      refused(browser->get(path + part), 404);
    }
    refused(browser->post(path + "/actions", {{"actions", {action("x", 1)}}}), 404);
    refused(browser->post(path + "/end", {{"id", "x"}, {"t", 1}}), 404);
    refused(browser->put(path + "/examiner", {{"global_rating", 5}}), 404);
  }
  refused(torvald->get("people/" + ours.people[0] + "/export"), 404);
  refused(halvard->get("people/" + ours.people[0] + "/export"), 404);
  refused(halvard->remove("people/" + ours.people[0]), 404);
  EXPECT_EQ(maren->get(path + "/log").status, 200);
  EXPECT_EQ(ingrid->get(path + "/log").status, 200);
}

TEST_P(Security, AnotherClassIsNotThere) {
  const std::string in_class = "classes/" + ours.id, at = "stations/" + ours.station;
  for (Browser* browser : {&*stranger, &*halvard}) {
    for (const char* part : {"", "/roster", "/skills", "/report", "/cases", "/audit"}) {
      refused(browser->get(in_class + part), 404);
    }
    refused(browser->get(in_class + "/export?form=csv"), 404);
    refused(browser->get(in_class + "/members/" + ours.people[0]), 404);
    for (const char* part : {"", "/board", "/join", "/qr", "/standard"}) {
      refused(browser->get(at + part), 404);
    }
    refused(browser->post(at + "/state", {{"state", "closed"}}), 404);
    refused(browser->put(at + "/angoff", {{"chances", json::object()}}), 404);
    refused(browser->post("encounters", {{"station_id", ours.station}}), 404);
  }
  // A station of another class under one's own class's address.
  refused(halvard->get("classes/" + theirs.id + "/report?station=" + ours.station), 404);
  refused(halvard->get("classes/" + theirs.id + "/export?form=csv&station=" + ours.station), 404);
  // Nor can a learner of another class be drawn into one's own by guessing the login.
  refused(halvard->ask("PUT", "classes/" + theirs.id + "/roster", "login,name\na1,Mine now\n",
                       "text/csv"),
          422);
}

TEST_P(Security, LearnersCannotActAsStaff) {
  const std::string in_class = "classes/" + ours.id, at = "stations/" + ours.station;
  refused(torvald->post("classes", {{"title", "Mine"}}), 403);
  for (const char* part : {"/roster", "/skills", "/report", "/cases", "/audit"}) {
    refused(torvald->get(in_class + part), 403);
  }
  refused(torvald->get(at), 403);
  refused(torvald->get(at + "/board"), 403);
  refused(torvald->post(at + "/state", {{"state", "released"}}), 403);
  refused(torvald->post(in_class + "/staff", {{"login", "ingrid"}, {"role", "instructor"}}), 403);
  refused(maren->put("encounters/" + encounter + "/examiner", {{"global_rating", 5}}), 403);
  const json shown = torvald->get_json(in_class);
  EXPECT_TRUE(shown["members"].empty());
  EXPECT_TRUE(shown["staff"].empty());
  EXPECT_EQ(shown["join_code"], "");
}

TEST_P(Security, AnExaminerMayMarkButNotTeach) {
  ingrid->post_json(
      "classes/" + ours.id + "/staff",
      {{"login", "eira"}, {"role", "examiner"}, {"name", "Eira"}, {"password", "another horse"}});
  Browser eira(*room, "10.0.0.9");
  eira.csrf = eira.post_json("session", {{"login", "eira"}, {"password", "another horse"}})["csrf"];
  EXPECT_EQ(eira.get("stations/" + ours.station + "/board").status, 200);
  refused(eira.post("stations/" + ours.station + "/state", {{"state", "closed"}}), 403);
  refused(eira.get("classes/" + ours.id + "/roster"), 403);
  refused(eira.get("classes/" + theirs.id), 404);
  refused(eira.post("classes", {{"title", "Mine"}}), 403);
}

TEST_P(Security, AForgedReplayIsRefused) {
  const std::string path = "encounters/" + encounter;
  // Case and seed are the server's to deal.
  refused(torvald->post("encounters", {{"station_id", ours.station}, {"seed", "7"}}), 422);
  refused(
      torvald->post("encounters", {{"station_id", ours.station}, {"case_id", "healthy_volunteer"}}),
      422);
  // Minutes of work that the clock has not seen: not now.
  EXPECT_EQ(maren->post(path + "/actions", {{"actions", {action("a1", 400.0)}}}).status, 503);
  room->now_ms += 60'000;
  EXPECT_EQ(maren->post(path + "/actions", {{"actions", {action("a1", 50.0)}}}).status, 200);
  // History cannot be changed, only repeated.
  EXPECT_EQ(maren->post(path + "/actions", {{"actions", {action("a1", 50.0)}}}).status, 200);
  refused(maren->post(path + "/actions", {{"actions", {action("a1", 51.0)}}}), 422);
  refused(maren->post(path + "/actions", {{"actions", {action("a0", 10.0)}}}), 422);
  // A log with a header of one's own is no action.
  refused(maren->post(path + "/actions",
                      {{"actions",
                        {{{"phren", "encounter"}, {"version", 1}, {"case", "x"}, {"seed", "1"}}}}}),
          422);
  EXPECT_EQ(maren
                ->post(path + "/end",
                       {{"id", "e"},
                        {"t", 55.0},
                        {"claim",
                         {{"monitor",
                           {{"t", 55.0}, {"spo2_percent", 20.0}, {"heart_rate_per_min", 10.0}}}}}})
                .status,
            200);
  refused(maren->post(path + "/actions", {{"actions", {action("late", 56.0)}}}), 422);
  room->mark(encounter);
  EXPECT_EQ(ingrid->get_json(path + "/mark")["claim"], "contradicted");
  EXPECT_EQ(room->count_audit("claim_contradicted"), 1);
}

TEST_P(Security, AnExpiredSessionIsRefused) {
  room->now_ms += 2LL * 3600 * 1000 + 1;
  refused(maren->get("encounters/" + encounter), 401);
  EXPECT_EQ(room->count_audit("session_expired"), 1);
  refused(maren->get("me"), 401);
  Browser nobody(*room, "10.0.0.8");
  refused(nobody.get("classes"), 401);
  refused(nobody.post("classes", {{"title", "x"}}), 401);
  EXPECT_EQ(nobody.get("session").status, 200);
}

TEST_P(Security, BruteForceIsStopped) {
  Browser guesser(*room, "10.0.0.7");
  for (int i = 0; i < 8; ++i) {
    refused(guesser.post("session", {{"login", "ingrid"}, {"password", "guess guess"}}), 401);
  }
  refused(guesser.post("session", {{"login", "ingrid"}, {"password", Room::kPassword}}), 429);
  for (int i = 0; i < 60; ++i) {
    refused(guesser.post("join", {{"code", "WRONG" + std::to_string(i)}, {"key", "X"}}), 404);
  }
  refused(guesser.post("join", {{"code", ours.code}, {"key", ours.keys[2]}}), 429);
  // Others are not locked out, and it passes.
  Browser solveig(*room, "10.0.0.6");
  solveig.join(ours.code, ours.keys[2]);
  room->now_ms += 16 * 60 * 1000;
  EXPECT_EQ(guesser.post("session", {{"login", "ingrid"}, {"password", Room::kPassword}}).status,
            200);
}

TEST_P(Security, CrossSiteRequestsAreRefused) {
  const std::string right = ingrid->csrf;
  for (const std::string& csrf : {std::string(), std::string("wrong"), halvard->csrf}) {
    ingrid->csrf = csrf;
    refused(ingrid->post("classes", {{"title", "x"}}), 403);
    refused(ingrid->remove("people/" + ours.people[0]), 403);
    refused(ingrid->remove("session"), 403);
  }
  ingrid->csrf = right;
  EXPECT_EQ(ingrid->get("classes").status, 200);
}

TEST_P(Security, TheCookieIsClosedToScriptsAndOtherSites) {
  for (const bool is_secure : {false, true}) {
    Request request;
    request.method = "POST";
    request.path = "/api/v1/join";
    request.host = "127.0.0.1:8080";
    request.content_type = "application/json";
    request.is_secure = is_secure;
    request.body = json{{"code", ours.code}, {"key", ours.keys[2]}}.dump();
    std::string cookie;
    const Response response = room->answer(request);
    for (const Header& header : response.headers) {
      if (header.name == "Set-Cookie") cookie = header.value;
    }
    EXPECT_THAT(cookie, HasSubstr("; HttpOnly; SameSite=Strict;"));
    EXPECT_EQ(cookie.find("; Secure") != std::string::npos, is_secure);
  }
}

TEST_P(Security, NothingInATableRunsInASpreadsheet) {
  const std::string roll = "login,name\n=1+1,\"=HYPERLINK(\"\"http://evil\"\")\"\n@x,+cmd\n";
  ASSERT_EQ(ingrid->ask("PUT", "classes/" + ours.id + "/roster", roll, "text/csv").status, 200);
  const auto entries = records::read_audit(room->db()).value();
  EXPECT_TRUE(std::any_of(entries.begin(), entries.end(), [](const auto& one) {
    return one.event == "roster_merged" &&
           one.detail.ends_with("rows with text that a spreadsheet could run: 2");
  }));
  // Nobody from outside brings one in.
  json plan = ingrid->get_json("stations/" + ours.station);
  plan["admission"] = "open";
  const json open = ingrid->post_json("classes/" + ours.id + "/stations", plan, 201);
  ingrid->post_json("stations/" + open["id"].get<std::string>() + "/state", {{"state", "open"}});
  Browser guest(*room, "10.0.0.8");
  for (const char* name : {"=1+1", "+cmd|' /C calc'!A0", "-2+3", "@SUM(A1)", "\tx", "x;=1+1"}) {
    refused(guest.post("join", {{"code", open["join_code"]}, {"name", name}}), 422);
  }
  EXPECT_EQ(guest.post("join", {{"code", open["join_code"]}, {"name", "Jo-Ann"}}).status, 200);
  const std::string out(ingrid->get("classes/" + ours.id + "/roster").bytes());
  EXPECT_THAT(out, HasSubstr("'=1+1,\"'=HYPERLINK"));
  EXPECT_THAT(out, HasSubstr("'@x,'+cmd"));
  // It comes back as what it was.
  const auto again = ingrid->ask("PUT", "classes/" + ours.id + "/roster", out, "text/csv");
  EXPECT_EQ(again.status, 200);
  EXPECT_EQ(json::parse(again.body)["added"], 0);
  EXPECT_EQ(json::parse(again.body)["changed"], 0);
}

TEST_P(Security, NamesOfFilesAreOnlyNames) {
  for (const char* id : {"../../etc/passwd", "..", "asthma.toml", "/etc/passwd"}) {
    refused(ingrid->post("encounters", {{"case_id", id}}), 404);
    json plan = ingrid->get_json("stations/" + ours.station);
    plan["case_ids"] = {id};
    refused(ingrid->post("classes/" + ours.id + "/stations", plan), 422);
    plan["case_ids"] = {"asthma"};
    plan["checklist"]["id"] = id;
    const bool is_name = std::string(id).find_first_of("./") == std::string::npos;
    if (!is_name) refused(ingrid->post("classes/" + ours.id + "/stations", plan), 422);
  }
}

TEST_P(Security, AnAddressThatIsNotThereIsNotedWithWhoAsked) {
  refused(maren->get("nothing"), 404);
  EXPECT_EQ(noted.back().actor_id, ours.people[0]);
  EXPECT_EQ(noted.back().class_id, ours.id) << "the class she joined";
  EXPECT_EQ(noted.back().subject, "GET /api/v1/nothing");
  refused(maren->ask("DELETE", "classes"), 405);
  refused(maren->ask("POST", "classes", "x", "text/plain"), 415);
  refused(maren->ask("POST", "classes", std::string(kMaxJsonBody_bytes + 1, ' ')), 413);
  refused(maren->ask("POST", "encounters", "{"), 400);
  refused(maren->get("cases/..%2f..%2fdata"), 404);
  refused(maren->get("cases/no_such_case"), 404);
}

// Nothing that is refused is written beside the limit: two entries each, they used to be.
TEST_P(Security, OneAddressWritesAtMost120RefusalsAMinute) {
  const auto all = [&] { return records::read_audit(room->db()).value().size(); };
  const std::size_t before = all();
  const std::string path = "encounters/" + encounter;
  for (int i = 0; i < 100; ++i) {
    EXPECT_EQ(torvald->get(path + "/log").status, 404);
    EXPECT_EQ(torvald->post(path + "/actions", {{"actions", {action("x", 1)}}}).status, 404);
    EXPECT_EQ(torvald->get("cases/asthma").status, 403);
    EXPECT_EQ(torvald->get("nothing").status, 404);
  }
  EXPECT_EQ(all() - before, 120u);
  noted = notes();
  EXPECT_EQ(std::count_if(noted.begin(), noted.end(),
                          [](const auto& one) {
                            return one.detail.find("not listed this minute") != std::string::npos;
                          }),
            1);
  ++room->now_ms;
  refused(maren->get("nothing"), 404);
  room->now_ms += 60'000;
  refused(torvald->get("nothing"), 404);
}

TEST_P(Security, AWrongOldPasswordIsRefused) {
  refused(ingrid->post("session/password", {{"old", "guess guess"}, {"new", "a new and long one"}}),
          422);
  EXPECT_EQ(noted.back().subject, "POST /api/v1/session/password");
}

TEST_P(Security, TheTruthStaysHiddenDuringAStation) {
  for (const char* part : {"", "/config"}) {
    refused(maren->get(std::string("cases/asthma") + part), 403);
    EXPECT_EQ(noted.back().actor_id, ours.people[0]);
    EXPECT_EQ(noted.back().class_id, ours.id);
    EXPECT_EQ(noted.back().subject, std::string("GET /api/v1/cases/asthma") + part);
  }
  Browser nobody(*room, "10.0.0.8");
  refused(nobody.get("cases/asthma"), 403);
  for (const json& one : json(maren->get_json("cases")["cases"])) EXPECT_NE(one["id"], "asthma");
  refused(maren->post("encounters", {{"case_id", "asthma"}}), 403);
  const json shown = maren->get_json("encounters/" + encounter);
  EXPECT_EQ(shown.dump().find("\"asthma\""), std::string::npos) << shown.dump();
  EXPECT_FALSE(shown["patient"].contains("conditions"));
  EXPECT_EQ(maren->get("encounters/" + encounter + "/log").body.find("\"case\":\"asthma\""),
            std::string::npos);
  room->now_ms += 60'000;
  maren->post_json("encounters/" + encounter + "/end", {{"id", "e"}, {"t", 30.0}});
  room->mark(encounter);
  ingrid->put_json("encounters/" + encounter + "/examiner",
                   {{"global_rating", 4}, {"note", "Calm."}});
  const std::string own = "people/" + ours.people[0] + "/export";
  const std::string before(maren->get(own).bytes());
  EXPECT_EQ(before.find("asthma"), std::string::npos) << before;
  EXPECT_EQ(before.find("Calm."), std::string::npos) << before;
  EXPECT_THAT(before, HasSubstr("\"table\":\"encounter\",\"id\":\"" + encounter));
  EXPECT_THAT(std::string(ingrid->get(own).bytes()), HasSubstr("Calm."));
  EXPECT_EQ(maren->get("encounters/" + encounter + "/mark").status, 403);
  EXPECT_EQ(maren->get("encounters/" + encounter + "/debrief").status, 403);
  ingrid->post_json("stations/" + ours.station + "/state", {{"state", "closed"}});
  halvard->post_json("stations/" + theirs.station + "/state", {{"state", "closed"}});
  EXPECT_EQ(maren->get("cases/asthma").status, 403) << "both are closed, none is released";
  EXPECT_EQ(maren->get("encounters/" + encounter + "/mark").status, 403);
  ingrid->post_json("stations/" + ours.station + "/state", {{"state", "released"}});
  EXPECT_EQ(maren->get("cases/asthma").status, 403) << "the other class's is not released yet";
  halvard->post_json("stations/" + theirs.station + "/state", {{"state", "released"}});
  EXPECT_EQ(maren->get("cases/asthma").status, 200);
  EXPECT_EQ(maren->get("encounters/" + encounter + "/mark").status, 200);
  EXPECT_EQ(maren->get_json("encounters/" + encounter + "/debrief")["truth"]["conditions"][0]["id"],
            "asthma");
  const std::string after(maren->get(own).bytes());
  EXPECT_THAT(after, HasSubstr("asthma"));
  EXPECT_THAT(after, HasSubstr("Calm."));
}

TEST_P(Security, StaffSeeACaseInUseMarkedAsSuchAndKeepNoCopy) {
  ingrid->post_json(
      "classes/" + ours.id + "/staff",
      {{"login", "eira"}, {"role", "examiner"}, {"name", "Eira"}, {"password", "another horse"}});
  Browser eira(*room, "10.0.0.9");
  eira.csrf = eira.post_json("session", {{"login", "eira"}, {"password", "another horse"}})["csrf"];
  const auto marks = [](Browser& who) {
    std::map<std::string, bool> all;
    for (const json& one : json(who.get_json("cases")["cases"])) all[one["id"]] = one["is_in_use"];
    return all;
  };
  const auto is_kept = [](const Response& response) {
    return std::none_of(response.headers.begin(), response.headers.end(),
                        [](const Header& one) { return one.value == "no-store"; });
  };
  const std::size_t most = room->office().library->cases.size();
  for (Browser* who : {&*ingrid, &*halvard, &eira}) {
    const auto all = marks(*who);
    EXPECT_EQ(all.size(), most);
    for (const auto& [id, is_in_use] : all) EXPECT_EQ(is_in_use, id == "asthma") << id;
    for (const char* path : {"cases", "cases/asthma", "cases/asthma/config"}) {
      const Response response = who->get(path);
      EXPECT_EQ(response.status, 200) << path;
      EXPECT_FALSE(is_kept(response)) << path;
    }
    EXPECT_TRUE(is_kept(who->get("cases/healthy_volunteer")));
    EXPECT_EQ(who->post("encounters", {{"case_id", "asthma"}}).status, 201);
  }
  // Who teaches cannot be on a roll, and so learn from it before a station of his own.
  noted = notes();
  ++room->now_ms;
  refused(ingrid->ask("PUT", "classes/" + ours.id + "/roster", "login,name\nhalvard,Halvard\n",
                      "text/csv"),
          422);
  Browser nobody(*room, "10.0.0.8");
  const std::vector<Browser*> learners{&*maren, &*stranger, &nobody};
  for (Browser* who : learners) {
    const auto all = marks(*who);
    EXPECT_EQ(all.size(), most - 1);
    EXPECT_EQ(all.count("asthma"), 0u);
  }
  refused(stranger->get("cases/asthma"), 403);
  refused(stranger->post("encounters", {{"case_id", "asthma"}}), 403);
  for (const auto& [who, in] : {std::pair{&*ingrid, ours}, std::pair{&*halvard, theirs}}) {
    for (const char* state : {"closed", "released"}) {
      who->post_json("stations/" + in.station + "/state", {{"state", state}});
    }
  }
  for (Browser* who : learners) EXPECT_FALSE(marks(*who).at("asthma"));
  EXPECT_TRUE(is_kept(ingrid->get("cases/asthma")));
}

// Printing or copying a document takes stack for every level: 130 000 brackets ended the server.
TEST_P(Security, JsonThatIsNestedTooDeeplyIsRefusedEverywhere) {
  const json description =
      json::parse(read_file(data_directory() / "../docs/openapi.json").value());
  const std::string open(130'000, '['), whole = open + std::string(130'000, ']');
  const std::vector<std::string> bodies{open,
                                        whole,
                                        "{\"actions\":" + whole + "}",
                                        "{\"actions\":[{\"id\":" + whole + "}]}",
                                        "{\"schema_version\":" + whole + "}",
                                        "{\"id\":" + whole + ",\"t\":1,\"claim\":" + whole + "}",
                                        "{\"case_ids\":[" + whole + "],\"title\":\"x\"}",
                                        "{\"title\":\"x\",\"checklist\":" + whole + "}"};
  std::set<std::string> asked;
  for (const auto& [address, operations] : description["paths"].items()) {
    for (const char* method : {"post", "put"}) {
      const auto operation = operations.find(method);
      if (operation == operations.end() || !operation->contains("requestBody") ||
          !(*operation)["requestBody"]["content"].contains("application/json")) {
        continue;
      }
      std::string path = address.substr(std::string("/api/v1/").size());
      const auto id = path.find("{id}");
      if (id != std::string::npos) {
        path.replace(id, 4,
                     path.starts_with("encounters") ? encounter
                     : path.starts_with("stations") ? ours.station
                                                    : ours.id);
      }
      asked.insert(path);
      for (const std::string& body : bodies) {
        for (Browser* browser : {&*ingrid, &*maren}) {
          const auto answer =
              browser->ask(method == std::string("post") ? "POST" : "PUT", path, body);
          EXPECT_GE(answer.status, 400) << path;
          EXPECT_LT(answer.status, 500) << path << answer.bytes();
        }
      }
    }
  }
  for (const std::string& path : {std::string("impression"), "encounters/" + encounter + "/actions",
                                  "encounters/" + encounter + "/end",
                                  "classes/" + ours.id + "/stations", "stations/" + ours.station}) {
    EXPECT_TRUE(asked.count(path)) << path;
  }
  EXPECT_EQ(maren->get("encounters/" + encounter).status, 200);
}

TEST(LocalInstructor, NeedsNoLoginAndEndsWithTheFirstPassword) {
  const auto folder = records::temporary_folder();
  {
    Room room("sqlite:" + (folder / "r.db").string(), true);
    // Whoever has not read the key where the server was started is nobody, from wherever he comes.
    Browser stranger(room, "127.0.0.1");
    EXPECT_TRUE(stranger.get_json("session")["person"].is_null());
    EXPECT_EQ(stranger.get("classes").status, 401);
    EXPECT_EQ(stranger.get("session/local/0123456789abcdee").status, 403);
    EXPECT_TRUE(stranger.cookie.empty());
    Browser browser(room, "127.0.0.1");
    EXPECT_EQ(browser.get(std::string("session/local/") + Room::kLocalKey).status, 303);
    const json session = browser.get_json("session");
    EXPECT_TRUE(session["is_local"]);
    EXPECT_FALSE(session["login_needed"]);
    EXPECT_EQ(session["person"]["role"], "instructor");
    EXPECT_EQ(browser.post("classes", {{"title", "x"}}).status, 403) << "CSRF still counts";
    browser.csrf = session["csrf"];
    EXPECT_EQ(browser.post("classes", {{"title", "x"}}).status, 201);
    // A foreign name that points to this machine is not this machine.
    Request tricked;
    tricked.method = "GET";
    tricked.path = "/api/v1/classes";
    tricked.host = "evil.example:8080";
    tricked.cookie = browser.cookie;
    EXPECT_EQ(room.answer(tricked).status, 401);
    // A broken cookie does not make an instructor.
    Browser expired(room, "127.0.0.1");
    expired.cookie = "phren_session=0123";
    EXPECT_EQ(expired.get("classes").status, 401);
    room.add_person("ingrid", records::Role::kInstructor);
    EXPECT_EQ(browser.get("classes").status, 401);
    EXPECT_TRUE(browser.get_json("session")["login_needed"]);
  }
  std::filesystem::remove_all(folder);
}

}  // namespace
}  // namespace phren::app::server
