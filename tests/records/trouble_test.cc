// A store in trouble: busy, full, damaged, gone; who else it belongs to; what is told to whom.
#include "records/trouble.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <soci/soci.h>
#include <soci/sqlite3/soci-sqlite3.h>

#include <fstream>

#include "base/files.h"
#include "records/audit.h"
#include "records/database.h"
#include "records/dump.h"
#include "records/migrations.h"
#include "records/people.h"
#include "records/store_care.h"
#include "records/store_lock.h"
#include "records/temporary_store.h"

namespace phren::records {
namespace {

using testing::HasSubstr;
using testing::Not;

constexpr PasswordCost kCheap{1, 8192};

class TroubleTest : public testing::Test {
 protected:
  void SetUp() override { folder_ = temporary_folder(); }
  void TearDown() override { std::filesystem::remove_all(folder_); }
  std::string file() const { return (folder_ / "t.db").string(); }
  std::string store() const { return "sqlite:" + file(); }
  OpenRules noting() {
    OpenRules rules;
    rules.on_trouble = [this](const Trouble& trouble) { seen_.push_back(trouble); };
    return rules;
  }
  std::filesystem::path folder_;
  std::vector<Trouble> seen_;
};

void fill(Database& db, int entries) {
  const auto ok = db.transact([&](soci::session& sql) -> Status {
    for (int i = 0; i < entries; ++i) {
      insert_audit(sql, {1000 + i, "somebody", "test", "subject " + std::to_string(i), ""});
    }
    return {};
  });
  ASSERT_TRUE(ok) << ok.error().message;
}

TEST_F(TroubleTest, AHeldLockIsToldAsBusyWithoutTheStatement) {
  auto db = Database::open(store(), noting()).value();
  db.session() << "PRAGMA busy_timeout=20";
  soci::session other(soci::sqlite3, "dbname=" + file());
  other << "BEGIN IMMEDIATE";
  const auto refused = note_audit(db, {1, "ingrid-id", "test", "secret subject", ""});
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().code, ErrorCode::kIo);
  EXPECT_THAT(refused.error().message, HasSubstr("held by another program"));
  EXPECT_THAT(refused.error().message, Not(HasSubstr("BEGIN")));
  ASSERT_EQ(seen_.size(), 1u);
  EXPECT_EQ(seen_[0].kind, TroubleKind::kBusy) << seen_[0].said;
  other << "ROLLBACK";
  EXPECT_TRUE(note_audit(db, {1, "ingrid-id", "test", "secret subject", ""}));
}

TEST_F(TroubleTest, AFullStoreIsToldAsFullAndKeepsWhatItHad) {
  auto db = Database::open(store(), noting()).value();
  fill(db, 10);
  int pages = 0;
  db.session() << "PRAGMA page_count", soci::into(pages);
  int kept = 0;
  db.session() << "PRAGMA max_page_count=" + std::to_string(pages + 2), soci::into(kept);
  Status last;
  for (int i = 0; i < 2000 && last; ++i) {
    last = note_audit(db, {2000 + i, "", "test", std::string(200, 's'), std::string(400, 'd')});
  }
  ASSERT_FALSE(last);
  EXPECT_THAT(last.error().message, HasSubstr("disk of the store is full"));
  EXPECT_THAT(last.error().message, Not(HasSubstr("INSERT")));
  EXPECT_EQ(seen_.at(0).kind, TroubleKind::kFull) << seen_[0].said;
  EXPECT_THAT(seen_[0].said, Not(HasSubstr("dddd")));
  EXPECT_GE(read_audit(db)->size(), 10u);
  EXPECT_TRUE(verify_audit(db));
}

TEST_F(TroubleTest, ADamagedPageIsFoundAtTheStartAndToldAsDamage) {
  {
    auto db = Database::open(store()).value();
    fill(db, 2000);
    std::string mode;
    db.session() << "PRAGMA journal_mode=DELETE", soci::into(mode);
  }
  {
    std::fstream raw(file(), std::ios::in | std::ios::out | std::ios::binary);
    const auto size = std::filesystem::file_size(file());
    for (std::uintmax_t page = size / 4096 * 2 / 3; (page + 1) * 4096 < size; ++page) {
      raw.seekp(static_cast<std::streamoff>(page * 4096));
      raw.write(std::string(64, '\xee').data(), 64);
    }
  }
  auto db = Database::open(store(), noting());
  ASSERT_TRUE(db) << db.error().message;
  const auto sound = db->verify();
  ASSERT_FALSE(sound);
  EXPECT_THAT(sound.error().message, HasSubstr("damaged"));
  const auto read = read_audit(*db);
  ASSERT_FALSE(read);
  EXPECT_THAT(read.error().message, HasSubstr("cannot be read"));
  EXPECT_EQ(seen_.at(0).kind, TroubleKind::kDamaged) << seen_[0].said;
}

TEST_F(TroubleTest, AMissingTableIsDamageToo) {
  auto db = Database::open(store(), noting()).value();
  EXPECT_TRUE(db.verify());
  db.session() << "DROP TABLE angoff";
  const auto sound = db.verify();
  ASSERT_FALSE(sound);
  EXPECT_THAT(sound.error().message, HasSubstr("table angoff"));
}

TEST_F(TroubleTest, AMisspeltStoreIsNotMade) {
  OpenRules rules;
  rules.may_create = false;
  const auto none = Database::open(store(), rules);
  ASSERT_FALSE(none);
  EXPECT_EQ(none.error().code, ErrorCode::kNotFound);
  EXPECT_THAT(none.error().message, HasSubstr("--create"));
  EXPECT_FALSE(std::filesystem::exists(file()));
  ASSERT_TRUE(Database::open(store()));
  EXPECT_TRUE(Database::open(store(), rules));
}

TEST_F(TroubleTest, AnotherProgramsDatabaseIsLeftAlone) {
  {
    soci::session other(soci::sqlite3, "dbname=" + file());
    other << "CREATE TABLE holiday (day TEXT)";
  }
  const auto foreign = Database::open(store());
  ASSERT_FALSE(foreign);
  EXPECT_THAT(foreign.error().message, HasSubstr("another program"));
  soci::session other(soci::sqlite3, "dbname=" + file());
  int tables = 0;
  other << "SELECT COUNT(*) FROM sqlite_master", soci::into(tables);
  EXPECT_EQ(tables, 1);
}

TEST_F(TroubleTest, AStoreKnowsWhoseItIs) {
  {
    ASSERT_TRUE(Database::open(store()));
  }
  soci::session raw(soci::sqlite3, "dbname=" + file());
  int id = 0;
  raw << "PRAGMA application_id", soci::into(id);
  EXPECT_EQ(id, 0x5068726e);
  raw << "PRAGMA application_id=42";
  EXPECT_FALSE(Database::open(store()));
}

TEST_F(TroubleTest, AStoreBelongsToOneServerAtATime) {
  {
    ASSERT_TRUE(Database::open(store()));
  }
  EXPECT_EQ(StoreLock::holder(store()).value(), "");
  {
    const auto first = StoreLock::take(store());
    ASSERT_TRUE(first) << first.error().message;
    const auto second = StoreLock::take(store());
    ASSERT_FALSE(second);
    EXPECT_THAT(second.error().message, HasSubstr("process " + std::to_string(getpid())));
    EXPECT_THAT(StoreLock::holder(store()).value(), HasSubstr("process"));
  }
  EXPECT_TRUE(StoreLock::take(store()));
}

// Tables as version 5 left them: today's without the last step.
void make_version_5(const std::string& store, const std::string& file) {
  auto db = Database::open(store).value();
  soci::session raw(soci::sqlite3, "dbname=" + file);
  raw << "DROP INDEX audit_open";
  raw << "DROP INDEX audit_by_position";
  for (const char* column :
       {"was", "became", "address", "address_salt", "address_seal", "position", "chain"}) {
    raw << std::string("ALTER TABLE audit DROP COLUMN ") + column;
  }
  raw << "DROP TABLE heartbeat";
  for (const char* table : {"round_line", "round_person", "round"}) {
    raw << std::string("DROP TABLE ") + table;
  }
  raw << "PRAGMA application_id=0";
  raw << "DELETE FROM schema_version WHERE version > 5";
  raw << "INSERT INTO audit (id, at_ms, actor_id, event, subject, detail, class_id) VALUES ('a', 5,"
         " 'x', 'old', 's', 'd', '')";
}

TEST_F(TroubleTest, AnOlderStoreIsBackedUpBeforeItsTablesChange) {
  make_version_5(store(), file());
  OpenRules rules;
  rules.older = Older::kRefuse;
  const auto refused = Database::open(store(), rules);
  ASSERT_FALSE(refused);
  EXPECT_THAT(refused.error().message, HasSubstr("phren records migrate"));
  const auto backup = bring_up_to_date(store(), folder_);
  ASSERT_TRUE(backup) << backup.error().message;
  ASSERT_TRUE(*backup);
  const auto facts = check_dump(read_file(**backup).value());
  ASSERT_TRUE(facts) << facts.error().message;
  EXPECT_EQ(facts->version, 5);
  EXPECT_EQ(facts->rows, 1u);
  EXPECT_TRUE(facts->has_end);
  auto db = Database::open(store(), rules).value();
  EXPECT_EQ(db.schema_version().value(), newest_version());
  ASSERT_TRUE(note_audit(db, {6, "", "new", "", ""}));
  EXPECT_EQ(verify_audit(db)->position, 2) << "the entry from before is in the chain";
  EXPECT_FALSE(bring_up_to_date(store(), folder_).value());
  // And the backup of the older version comes back whole.
  auto other = Database::open("sqlite:" + (folder_ / "o.db").string()).value();
  const auto restored = restore_all(other, read_file(**backup).value());
  ASSERT_TRUE(restored) << restored.error().message;
  EXPECT_EQ(read_audit(other)->at(0).event, "old");
}

TEST_F(TroubleTest, ABackupThatIsCutOrChangedIsRefusedAtEveryLine) {
  auto db = Database::open(store()).value();
  ASSERT_TRUE(People(db, kCheap).add("ingrid", "Ingrid", Role::kInstructor, "mussel raft", 1));
  fill(db, 20);
  const std::string dump = dump_all(db).value();
  const auto facts = check_dump(dump);
  ASSERT_TRUE(facts) << facts.error().message;
  EXPECT_EQ(facts->audit_head.position, audit_head(db)->position);
  for (std::size_t end = dump.find('\n'); end + 1 < dump.size(); end = dump.find('\n', end + 1)) {
    EXPECT_FALSE(check_dump(std::string_view(dump).substr(0, end + 1))) << end;
  }
  std::string changed = dump;
  changed.replace(changed.find("subject 7"), 9, "subject 8");
  EXPECT_THAT(check_dump(changed).error().message, HasSubstr("checksum"));
  std::string without = dump;
  const auto from = without.find("{\"table\":\"audit\"");
  without.erase(from, without.find('\n', from) + 1 - from);
  EXPECT_FALSE(check_dump(without));
  auto other = Database::open("sqlite:" + (folder_ / "o.db").string()).value();
  EXPECT_FALSE(restore_all(other, without));
  EXPECT_FALSE(People(other).anyone_has_password().value()) << "nothing of it is kept";
  EXPECT_TRUE(restore_all(other, dump));
  EXPECT_EQ(verify_audit(other)->hash, facts->audit_head.hash);
}

TEST_F(TroubleTest, TheChainShowsWhatWasChangedAddedOrTakenOut) {
  const std::vector<std::pair<const char*, int>> attacks{
      {"UPDATE audit SET detail = 'x' WHERE position = 12", 12},
      {"UPDATE audit SET actor_id = 'another' WHERE position = 3", 3},
      {"UPDATE audit SET at_ms = 1 WHERE position = 30", 30},
      {"DELETE FROM audit WHERE position = 17", 17},
      {"INSERT INTO audit (id, at_ms, actor_id, event, subject, detail, class_id, position, chain)"
       " VALUES ('f', 1, '', 'forged', '', '', '', 31, 'aa')",
       31},
      {"UPDATE audit SET position = position + 1 WHERE position = 30", 30}};
  for (std::size_t i = 0; i < attacks.size(); ++i) {
    auto one = Database::open("sqlite:" + (folder_ / (std::to_string(i) + ".db")).string()).value();
    fill(one, 30);
    EXPECT_EQ(verify_audit(one)->position, 30);
    one.session() << attacks[i].first;
    const auto verified = verify_audit(one);
    ASSERT_FALSE(verified) << attacks[i].first;
    EXPECT_THAT(verified.error().message, HasSubstr("entry " + std::to_string(attacks[i].second)));
  }
  auto db = Database::open(store()).value();
  fill(db, 30);
  // Entries cut off at the end are found against a head that was noted elsewhere.
  const AuditHead noted = verify_audit(db).value();
  db.session() << "DELETE FROM audit WHERE position > 28";
  EXPECT_TRUE(verify_audit(db));
  EXPECT_THAT(verify_audit(db, noted).error().message, HasSubstr("entry 29"));
}

TEST_F(TroubleTest, AddressesAreForgottenWithoutBreakingTheChain) {
  auto db = Database::open(store()).value();
  for (int i = 0; i < 4; ++i) {
    AuditEntry entry{i * 1000, "", "login", "", ""};
    entry.address = "10.0.0." + std::to_string(i);
    ASSERT_TRUE(note_audit(db, entry));
  }
  const AuditHead head = verify_audit(db).value();
  EXPECT_EQ(forget_addresses(db, 2000).value(), 2);
  EXPECT_EQ(verify_audit(db)->hash, head.hash);
  EXPECT_EQ(read_audit(db)->at(1).address, "");
  EXPECT_EQ(read_audit(db)->at(2).address, "10.0.0.2");
  db.session() << "UPDATE audit SET address = '10.0.0.9' WHERE position = 3";
  EXPECT_THAT(verify_audit(db).error().message, HasSubstr("address"));
}

}  // namespace
}  // namespace phren::records
