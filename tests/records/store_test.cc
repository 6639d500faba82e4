// One suite, two stores: every test runs on SQLite and on a PostgreSQL that is started here.
#include <gtest/gtest.h>
#include <soci/soci.h>
#include <sodium.h>
#include <sys/wait.h>

#include <csignal>
#include <future>
#include <memory>

#include "base/random.h"
#include "bedside/log_text.h"
#include "records/ability_tests.h"
#include "records/classes.h"
#include "records/database.h"
#include "records/dump.h"
#include "records/encounters.h"
#include "records/marks.h"
#include "records/migrations.h"
#include "records/people.h"
#include "records/stations.h"
#include "temporary_store.h"

namespace phren::records {
namespace {

constexpr std::int64_t kNow_ms = 1'795'600'000'000;
const PasswordCost kCheap{1, 8192};

PostgresServer& server() {
  static PostgresServer one;
  return one;
}

class Store : public testing::TestWithParam<Backend> {
 protected:
  void SetUp() override {
    folder_ = temporary_folder();
    ASSERT_TRUE(GetParam() == Backend::kSqlite || server().running())
        << "PostgreSQL cannot be started here; scripts/install-packages.sh installs it";
    connection_ = fresh();
    auto opened = Database::open(connection_);
    ASSERT_TRUE(opened) << opened.error().message;
    db_ = std::make_unique<Database>(std::move(*opened));
  }
  void TearDown() override {
    db_.reset();
    std::error_code ignored;
    std::filesystem::remove_all(folder_, ignored);
  }
  std::string fresh() {
    static int count = 0;
    const std::string name = "t" + std::to_string(++count);
    if (GetParam() == Backend::kSqlite) return "sqlite:" + (folder_ / (name + ".db")).string();
    EXPECT_TRUE(server().create(name));
    return server().connection(name);
  }
  People people() { return People(*db_, kCheap); }
  // One question, answered once and then again.
  void take_test(const std::string& person_id, const std::string& id, bool has_ended) {
    AbilityTests tests(*db_);
    ASSERT_TRUE(tests.start({id, person_id, "7", "{}", kNow_ms, 0, "", {}}));
    AbilityItemRecord item{id + "a", "name", "wheeze", 3, "{}", kNow_ms, "", false, 0};
    ASSERT_TRUE(tests.ask(id, 0, item));
    ASSERT_TRUE(tests.ask(id, 0, {"other", "name", "squawk", 1, "{}", kNow_ms, "", false, 0}));
    item.answered = "wheeze";
    item.is_right = true;
    item.answered_ms = kNow_ms + 1;
    ASSERT_TRUE(tests.answer(id, item));
    item.answered = "stridor";
    item.is_right = false;
    ASSERT_TRUE(tests.answer(id, item));
    if (has_ended) {
      ASSERT_TRUE(tests.end(id, "precise", kNow_ms + 2));
    }
    const auto kept = tests.find(id, person_id);
    ASSERT_TRUE(kept) << kept.error().message;
    ASSERT_EQ(kept->items.size(), 1u) << "asked once";
    EXPECT_EQ(kept->items[0].answered, "wheeze") << "the first answer stands";
    EXPECT_FALSE(tests.find(id, "somebody else"));
  }
  Person add(const std::string& login, Role role = Role::kLearner) {
    auto made = people().add(login, "Name of " + login, role, "correct horse", kNow_ms);
    EXPECT_TRUE(made) << made.error().message;
    return made.value_or(Person{});
  }
  bedside::EncounterHeader header(const std::string& id) {
    return {1, id, "asthma", 42, "test", ""};
  }
  static bedside::EncounterAction lift(int i, double time_s) {
    return {"a" + std::to_string(i), time_s, bedside::Lift{}};
  }
  std::filesystem::path folder_;
  std::string connection_;
  std::unique_ptr<Database> db_;
};

INSTANTIATE_TEST_SUITE_P(Sqlite, Store, testing::Values(Backend::kSqlite));
INSTANTIATE_TEST_SUITE_P(Postgresql, Store, testing::Values(Backend::kPostgresql));

TEST_P(Store, OpensAgainAtTheNewestVersion) {
  EXPECT_EQ(db_->schema_version().value(), newest_version());
  add("ingrid");
  db_.reset();
  auto again = Database::open(connection_);
  ASSERT_TRUE(again) << again.error().message;
  EXPECT_EQ(People(*again).all()->size(), 1u);
}

TEST_P(Store, ANewerStoreIsRefused) {
  ASSERT_TRUE(db_->transact([](soci::session& sql) -> Status {
    sql << "INSERT INTO schema_version (version) VALUES (99)";
    return {};
  }));
  const auto again = Database::open(connection_);
  ASSERT_FALSE(again);
  EXPECT_EQ(again.error().code, ErrorCode::kUnsupported);
  EXPECT_EQ(again.error().message.substr(0, 25), "the store has version 99;");
}

TEST_P(Store, AFailedTransactionLeavesNothing) {
  const auto failed = db_->transact([&](soci::session& sql) -> Status {
    sql << "INSERT INTO audit (id, at_ms, actor_id, event, subject, detail)"
           " VALUES ('x', 1, 'a', 'e', 's', 'd')";
    return fail(ErrorCode::kInvalidArgument, "no");
  });
  EXPECT_FALSE(failed);
  const auto broken = db_->transact([&](soci::session& sql) -> Status {
    sql << "INSERT INTO audit (id, at_ms, actor_id, event, subject, detail)"
           " VALUES ('x', 1, 'a', 'e', 's', 'd')";
    sql << "INSERT INTO nowhere VALUES (1)";
    return {};
  });
  EXPECT_EQ(broken.error().code, ErrorCode::kIo);
  EXPECT_TRUE(read_audit(*db_)->empty());
}

TEST_P(Store, PasswordsAreArgon2idAndLoginsWork) {
  const Person person = add("ingrid", Role::kInstructor);
  std::string hash;
  ASSERT_TRUE(db_->transact([&](soci::session& sql) -> Status {
    sql << "SELECT password_hash FROM person", soci::into(hash);
    return {};
  }));
  EXPECT_EQ(hash.substr(0, 10), "$argon2id$");
  const auto session = people().login("ingrid", "correct horse", kNow_ms);
  ASSERT_TRUE(session) << session.error().message;
  EXPECT_EQ(session->token.size(), 64u);
  const auto resumed = people().resume(session->token, kNow_ms + 1000);
  ASSERT_TRUE(resumed);
  EXPECT_EQ(resumed->person.id, person.id);
  EXPECT_EQ(resumed->person.role, Role::kInstructor);
  EXPECT_EQ(resumed->csrf, session->csrf);
  // The token itself is nowhere in the store.
  ASSERT_TRUE(db_->transact([&](soci::session& sql) -> Status {
    std::string stored;
    sql << "SELECT token_hash FROM session", soci::into(stored);
    EXPECT_NE(stored, session->token);
    return {};
  }));
  ASSERT_TRUE(people().logout(session->token));
  EXPECT_FALSE(people().resume(session->token, kNow_ms + 2000));
}

TEST_P(Store, WrongNameAndWrongPasswordLookTheSame) {
  add("ingrid");
  const auto name = people().login("ingrud", "correct horse", kNow_ms);
  const auto password = people().login("ingrid", "wrong horse!", kNow_ms);
  EXPECT_EQ(name.error().message, password.error().message);
}

TEST_P(Store, BruteForceIsBlockedAndLogged) {
  add("ingrid");
  for (int i = 0; i < 8; ++i) EXPECT_FALSE(people().login("ingrid", "guess guess", kNow_ms + i));
  const auto blocked = people().login("ingrid", "correct horse", kNow_ms + 10);
  EXPECT_EQ(blocked.error().message, "too many wrong passwords; try again later");
  EXPECT_TRUE(people().login("ingrid", "correct horse", kNow_ms + 16 * 60 * 1000));
  const auto audit = read_audit(*db_).value();
  const auto count = [&](const char* event) {
    return std::count_if(audit.begin(), audit.end(),
                         [&](const AuditEntry& e) { return e.event == event; });
  };
  EXPECT_EQ(count("login_refused"), 8);
  EXPECT_EQ(count("login_blocked"), 1);
}

TEST_P(Store, SessionsExpireWhenIdleAndInTheEnd) {
  add("ingrid");
  const auto idle = people().login("ingrid", "correct horse", kNow_ms);
  EXPECT_FALSE(people().resume(idle->token, kNow_ms + 2LL * 3600 * 1000 + 1));
  const auto busy = people().login("ingrid", "correct horse", kNow_ms);
  std::int64_t now = kNow_ms;
  for (int hour = 1; hour <= 12; ++hour) {
    now = kNow_ms + hour * 3600LL * 1000;
    EXPECT_TRUE(people().resume(busy->token, now)) << hour;
  }
  EXPECT_FALSE(people().resume(busy->token, now + 1));
}

TEST_P(Store, RefusesShortPasswordsAndTakenLogins) {
  add("ingrid");
  EXPECT_EQ(people().add("x", "X", Role::kLearner, "short", kNow_ms).error().message,
            "length of password is 5; it must be 10 to 200 bytes");
  EXPECT_EQ(people().add("ingrid", "X", Role::kLearner, "long enough", kNow_ms).error().message,
            "login is 'ingrid'; it must be one that nobody has yet");
}

TEST_P(Store, TextWithQuotesAndLettersOfAllKindsStaysText) {
  const std::string odd = "Robert'); DROP TABLE person;-- \"ø\" \xF0\x9F\xAB\x81";
  const auto made = people().add("bob", odd, Role::kLearner, "correct horse", kNow_ms);
  ASSERT_TRUE(made);
  EXPECT_EQ(people().find(made->id)->name, odd);
}

TEST_P(Store, ActionsAreStoredOnceHoweverOftenTheyAreSent) {
  const Person person = add("maren");
  Encounters encounters(*db_);
  ASSERT_TRUE(encounters.start(person.id, "", header("e1"), kNow_ms));
  ASSERT_TRUE(encounters.start(person.id, "", header("e1"), kNow_ms + 5));
  const auto first = encounters.append(person.id, "e1", {lift(1, 1), lift(2, 2)}, kNow_ms);
  ASSERT_TRUE(first) << first.error().message;
  EXPECT_EQ(first->stored, 2u);
  const auto again =
      encounters.append(person.id, "e1", {lift(1, 1), lift(2, 2), lift(3, 3)}, kNow_ms);
  ASSERT_TRUE(again) << again.error().message;
  EXPECT_EQ(again->stored, 1u);
  EXPECT_EQ(again->repeated, 2u);
  EXPECT_EQ(again->total, 3u);
  EXPECT_EQ(encounters.load(person, "e1")->actions.size(), 3u);
}

TEST_P(Store, AnAppendIsAllOrNothing) {
  const Person person = add("maren");
  Encounters encounters(*db_);
  ASSERT_TRUE(encounters.start(person.id, "", header("e1"), kNow_ms));
  const auto bad = encounters.append(person.id, "e1", {lift(1, 5), lift(2, 4)}, kNow_ms);
  EXPECT_EQ(bad.error().message,
            "action a2: t is 4; it must be at least the time of the action before it, 5.0 s");
  EXPECT_TRUE(encounters.load(person, "e1")->actions.empty());
  ASSERT_TRUE(encounters.append(person.id, "e1", {{"z", 9, bedside::End{}}}, kNow_ms));
  EXPECT_FALSE(encounters.append(person.id, "e1", {lift(3, 10)}, kNow_ms));
  EXPECT_FALSE(encounters.append(person.id, "e1", {{"z", 9, bedside::Lift{}}}, kNow_ms));
}

TEST_P(Store, OthersEncountersAreNotFound) {
  const Person maren = add("maren"), torvald = add("torvald"),
               ingrid = add("ingrid", Role::kInstructor);
  Encounters encounters(*db_);
  ASSERT_TRUE(encounters.start(maren.id, "", header("e1"), kNow_ms));
  const auto read = encounters.load(torvald, "e1");
  const auto none = encounters.load(torvald, "e2");
  EXPECT_EQ(read.error().message, "encounter 'e1' is not among those you may see");
  EXPECT_EQ(none.error().code, read.error().code);
  EXPECT_FALSE(encounters.append(torvald.id, "e1", {lift(1, 1)}, kNow_ms));
  // Being an instructor somewhere is not enough.
  EXPECT_FALSE(encounters.load(ingrid, "e1"));
}

TEST_P(Store, TheStaffOfTheStationsClassMaySeeItsEncountersAndNobodyElses) {
  const Person maren = add("maren"), ingrid = add("ingrid", Role::kInstructor),
               halvard = add("halvard", Role::kInstructor);
  Classes classes(*db_);
  const auto ours = classes.create("Ours", ingrid, kNow_ms).value();
  classes.create("Theirs", halvard, kNow_ms).value();
  Station station;
  station.class_id = ours.id;
  station.title = "S";
  station.case_ids = {"asthma"};
  station.plan = "{}";
  station = Stations(*db_).create(station, ingrid.id, kNow_ms).value();
  Encounters encounters(*db_);
  ASSERT_TRUE(encounters.start(maren.id, station.id, header("e1"), kNow_ms));
  EXPECT_FALSE(encounters.start(maren.id, station.id, header("e2"), kNow_ms)) << "one each";
  EXPECT_TRUE(encounters.load(ingrid, "e1"));
  EXPECT_FALSE(encounters.load(halvard, "e1"));
}

TEST_P(Store, ManyShareOneCommitAndOneFailureIsNobodyElses) {
  const Person person = add("maren");
  Encounters encounters(*db_);
  ASSERT_TRUE(encounters.start(person.id, "", header("e1"), kNow_ms));
  ASSERT_TRUE(db_->begin_batch());
  EXPECT_TRUE(encounters.append(person.id, "e1", {lift(1, 1)}, kNow_ms));
  EXPECT_FALSE(encounters.append(person.id, "e1", {lift(2, 2), lift(3, 1)}, kNow_ms));
  EXPECT_TRUE(encounters.append(person.id, "e1", {lift(4, 4)}, kNow_ms));
  ASSERT_TRUE(db_->commit_batch());
  EXPECT_EQ(encounters.load(person, "e1")->actions.size(), 2u);
}

// A release that is under way is waited for: no mark slips in behind it.
TEST_P(Store, MarksComeBeforeTheReleaseOrNotAtAll) {
  const Person ingrid = add("ingrid", Role::kInstructor), maren = add("maren");
  const auto made = Classes(*db_).create("Ours", ingrid, kNow_ms).value();
  Station plan;
  plan.class_id = made.id;
  plan.title = "S";
  plan.case_ids = {"asthma"};
  plan.plan = "{}";
  const Station station = Stations(*db_).create(plan, ingrid.id, kNow_ms).value();
  ASSERT_TRUE(Encounters(*db_).start(maren.id, station.id, header("e1"), kNow_ms));
  const std::vector<ExaminerMark> marks{{ingrid.id, "x", 1.0, ""}};
  EXPECT_TRUE(Marks(*db_).put("e1", marks, kNow_ms));
  auto other = Database::open(connection_).value();
  ASSERT_TRUE(db_->begin_batch());
  ASSERT_TRUE(
      Stations(*db_).set_state(station.id, StationState::kReleased, ingrid.id, kNow_ms + 1));
  auto late = std::async(std::launch::async, [&] { return Marks(other).put("e1", marks, 2); });
  late.wait_for(std::chrono::milliseconds(200));  // time to slip in, if it can
  ASSERT_TRUE(db_->commit_batch());
  const Status refused = late.get();
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().code, ErrorCode::kConflict) << refused.error().message;
}

TEST_P(Store, TheRollTakesAllRowsOrNone) {
  const Person ingrid = add("ingrid", Role::kInstructor);
  Classes classes(*db_);
  const auto made = classes.create("Ours", ingrid, kNow_ms).value();
  const auto first = classes.merge_roster(made.id, {{"m", "Maren", 0.0}, {"t", "Torvald", 0.25}},
                                          ingrid.id, kNow_ms);
  ASSERT_TRUE(first) << first.error().message;
  EXPECT_EQ(first->added, 2);
  EXPECT_FALSE(classes.merge_roster(made.id, {{"s", "Solveig", 0.0}, {"ingrid", "I", 0.0}},
                                    ingrid.id, kNow_ms));
  EXPECT_EQ(classes.members(made.id)->size(), 2u);
  const auto second =
      classes.merge_roster(made.id, {{"m", "Maren", 0.5}}, ingrid.id, kNow_ms).value();
  EXPECT_EQ(second.changed, 1);
  const Member maren = classes.members(made.id)->front();
  EXPECT_EQ(maren.extra_time_share, 0.5);
  EXPECT_EQ(classes.member_by_key(made.id, maren.key)->person.id, maren.person.id);
  EXPECT_FALSE(classes.member_by_key(made.id, "WRONGKEY"));
}

TEST_P(Store, APasswordCanBeChangedAndOldHashesAreMadeAnew) {
  add("ingrid");
  const auto session = people().login("ingrid", "correct horse", kNow_ms).value();
  const auto other = people().login("ingrid", "correct horse", kNow_ms).value();
  EXPECT_FALSE(people().change_password(session, "wrong horse!", "better horse", kNow_ms));
  ASSERT_TRUE(people().change_password(session, "correct horse", "better horse", kNow_ms));
  EXPECT_TRUE(people().resume(session.token, kNow_ms));
  EXPECT_FALSE(people().resume(other.token, kNow_ms));
  EXPECT_FALSE(people().login("ingrid", "correct horse", kNow_ms));
  const auto hash = [&] {
    std::string text;
    EXPECT_TRUE(db_->transact([&](soci::session& sql) -> Status {
      sql << "SELECT password_hash FROM person", soci::into(text);
      return {};
    }));
    return text;
  };
  const std::string cheap = hash();
  ASSERT_TRUE(People(*db_, {2, 16384}).login("ingrid", "better horse", kNow_ms));
  EXPECT_NE(hash(), cheap);
  EXPECT_TRUE(needs_new_hash(cheap, {2, 16384}));
  EXPECT_FALSE(needs_new_hash(hash(), {2, 16384}));
  EXPECT_TRUE(people().login("ingrid", "better horse", kNow_ms));
}

TEST_P(Store, ADumpOfTheVersionBeforeIsStillRestored) {
  const std::string old =
      "{\"phren\":\"dump\",\"version\":2}\n"
      "{\"table\":\"person\",\"id\":\"p\",\"login\":\"ingrid\",\"name\":\"I\",\"role\":"
      "\"instructor\",\"password_hash\":\"\",\"created_ms\":1}\n"
      "{\"table\":\"class_group\",\"id\":\"c\",\"title\":\"C\",\"instructor_id\":\"p\","
      "\"created_ms\":1}\n";
  const auto restored = restore_all(*db_, old);
  ASSERT_TRUE(restored) << restored.error().message;
  EXPECT_EQ(Classes(*db_).role_in("c", "p").value(), ClassRole::kInstructor);
}

TEST_P(Store, ADumpOfVersion3KeepsItsOwnStaff) {
  const std::string old =
      "{\"phren\":\"dump\",\"version\":3}\n"
      "{\"table\":\"person\",\"id\":\"p\",\"login\":\"ingrid\",\"name\":\"I\",\"role\":"
      "\"instructor\",\"password_hash\":\"\",\"created_ms\":1}\n"
      "{\"table\":\"class_group\",\"id\":\"c\",\"title\":\"C\",\"instructor_id\":\"p\","
      "\"created_ms\":1,\"join_code\":\"ABCDEF\"}\n"
      "{\"table\":\"class_staff\",\"class_id\":\"c\",\"person_id\":\"p\",\"role\":\"examiner\"}\n";
  const auto restored = restore_all(*db_, old);
  ASSERT_TRUE(restored) << restored.error().message;
  EXPECT_EQ(Classes(*db_).role_in("c", "p").value(), ClassRole::kExaminer);
}

TEST_P(Store, ADumpRestoresToTheSameDumpAndOnlyIntoAnEmptyStore) {
  const Person person = add("maren");
  Encounters encounters(*db_);
  ASSERT_TRUE(encounters.start(person.id, "", header("e1"), kNow_ms));
  ASSERT_TRUE(encounters.append(person.id, "e1", {lift(1, 1.125), lift(2, 2)}, kNow_ms));
  ASSERT_TRUE(db_->transact([&](soci::session& sql) -> Status {
    sql << "INSERT INTO examiner_mark VALUES ('e1', 'x', 'bases', 0.1, 'note, \"quoted\"', 7)";
    return {};
  }));
  take_test(person.id, "t1", true);
  const auto dump = dump_all(*db_);
  ASSERT_TRUE(dump) << dump.error().message;
  EXPECT_NE(dump->find("ability_item"), std::string::npos);
  auto other = Database::open(fresh());
  ASSERT_TRUE(other);
  const auto restored = restore_all(*other, *dump);
  ASSERT_TRUE(restored) << restored.error().message;
  EXPECT_EQ(dump_all(*other).value(), *dump);
  EXPECT_TRUE(People(*other).login("maren", "correct horse", kNow_ms));
  EXPECT_NE(restore_all(*other, *dump).error().message.find("only into an empty one"),
            std::string::npos);
  // A cut file restores nothing.
  auto third = Database::open(fresh());
  ASSERT_TRUE(third);
  EXPECT_FALSE(restore_all(*third, dump->substr(0, dump->size() - 5)));
  EXPECT_TRUE(People(*third).all()->empty());
}

TEST_P(Store, ADeletedPersonLeavesNoTraceButTheFact) {
  const Person maren = add("maren"), ingrid = add("ingrid", Role::kInstructor);
  Encounters encounters(*db_);
  ASSERT_TRUE(encounters.start(maren.id, "", header("e1"), kNow_ms));
  ASSERT_TRUE(encounters.append(maren.id, "e1", {lift(1, 1)}, kNow_ms));
  ASSERT_TRUE(people().login("maren", "correct horse", kNow_ms));
  take_test(maren.id, "t1", false);
  ExportLimits own_limits;
  own_limits.hides_unreleased = true;
  EXPECT_EQ(export_person(*db_, maren.id, own_limits)->find("ability"), std::string::npos)
      << "a test under way would tell its own answers";
  ASSERT_TRUE(AbilityTests(*db_).end("t1", "stopped", kNow_ms));
  EXPECT_NE(export_person(*db_, maren.id, own_limits)->find("ability_item"), std::string::npos);
  const auto own = export_person(*db_, maren.id);
  ASSERT_TRUE(own);
  EXPECT_NE(own->find("Name of maren"), std::string::npos);
  EXPECT_NE(own->find("\"action\""), std::string::npos);
  EXPECT_EQ(own->find("argon2"), std::string::npos);
  const auto removed = people().remove(maren.id, ingrid.id, kNow_ms);
  ASSERT_TRUE(removed) << removed.error().message;
  const std::string rest = dump_all(*db_).value();
  EXPECT_EQ(rest.find("maren"), std::string::npos);
  EXPECT_EQ(rest.find("\"table\":\"action\""), std::string::npos);
  EXPECT_EQ(rest.find("ability"), std::string::npos);
  EXPECT_NE(rest.find("person_removed"), std::string::npos);
  EXPECT_FALSE(people().remove(maren.id, ingrid.id, kNow_ms));
}

// A writer is killed without warning while it stores actions one by one and tells each success
// through a pipe. Afterwards every action told is there, in order, and none twice.
TEST_P(Store, EveryAcknowledgedActionSurvivesAKill) {
  const Person person = add("maren");
  ASSERT_TRUE(Encounters(*db_).start(person.id, "", header("e1"), kNow_ms));
  db_.reset();
  int pipe_ends[2];
  ASSERT_EQ(pipe(pipe_ends), 0);
  const pid_t child = fork();
  if (child == 0) {
    close(pipe_ends[0]);
    auto own = Database::open(connection_);
    if (!own) _exit(1);
    Encounters writer(*own);
    for (int i = 0; i < 100000; ++i) {
      const char told = writer.append(person.id, "e1", {lift(i, i * 0.01)}, kNow_ms) ? 'y' : 'n';
      if (write(pipe_ends[1], &told, 1) != 1) _exit(1);
    }
    _exit(0);
  }
  close(pipe_ends[1]);
  int acknowledged = 0;
  char told = 0;
  while (acknowledged < 150 && read(pipe_ends[0], &told, 1) == 1 && told == 'y') ++acknowledged;
  kill(child, SIGKILL);
  while (read(pipe_ends[0], &told, 1) == 1) acknowledged += told == 'y' ? 1 : 0;
  close(pipe_ends[0]);
  waitpid(child, nullptr, 0);
  auto after = Database::open(connection_);
  ASSERT_TRUE(after) << after.error().message;
  const auto log = Encounters(*after).load(person, "e1");
  ASSERT_TRUE(log) << log.error().message;
  std::printf("killed after %d acknowledged actions; %zu are stored\n", acknowledged,
              log->actions.size());
  EXPECT_GE(acknowledged, 150);
  EXPECT_GE(log->actions.size(), static_cast<std::size_t>(acknowledged));
  EXPECT_LE(log->actions.size(), static_cast<std::size_t>(acknowledged) + 1);
  for (std::size_t i = 0; i < log->actions.size(); ++i) {
    EXPECT_EQ(log->actions[i].id, "a" + std::to_string(i));
  }
  // The client repeats what it does not know to be stored: still none twice.
  const int next = static_cast<int>(log->actions.size());
  const auto repeated = Encounters(*after).append(
      person.id, "e1", {lift(next - 1, (next - 1) * 0.01), lift(next, next * 0.01)}, kNow_ms);
  ASSERT_TRUE(repeated);
  EXPECT_EQ(repeated->stored, 1u);
  EXPECT_EQ(repeated->repeated, 1u);
}

TEST(Connection, BadStringsAreRefusedWithoutRepeatingThem) {
  const auto wrong = Database::open("mysql:password=secret");
  EXPECT_EQ(wrong.error().message,
            "the store must be given as sqlite:PATH or postgresql:CONNECTION");
  EXPECT_FALSE(Database::open("sqlite:/nowhere/at/all/x.db"));
}

}  // namespace
}  // namespace phren::records
