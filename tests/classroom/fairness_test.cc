// What one rude or unlucky client can do to the others: as little as possible.
#include <gmock/gmock.h>

#include "records/dump.h"
#include "room.h"

namespace phren::app::server {
namespace {

using testing::HasSubstr;

class Fairness : public RoomTest {
 protected:
  void SetUp() override {
    RoomTest::SetUp();
    if (IsSkipped()) return;
    room->add_person("ingrid", records::Role::kInstructor);
    ingrid.emplace(*room, "10.0.0.1");
    ingrid->log_in("ingrid");
  }
  std::optional<Browser> ingrid;
};
INSTANTIATE_TEST_SUITE_P(Sqlite, Fairness, testing::Values(records::Backend::kSqlite));
INSTANTIATE_TEST_SUITE_P(Postgresql, Fairness, testing::Values(records::Backend::kPostgresql));

// Every line of a backup is JSON, whatever was asked for meanwhile.
TEST_P(Fairness, ABackupWorksWhateverWasAsked) {
  Browser nobody(*room, "10.0.0.9");
  EXPECT_EQ(nobody.get("encounters/\xFF").status, 401);
  EXPECT_EQ(nobody.get("encounters/" + std::string(8000, 'x')).status, 401);
  std::string accents;
  for (int i = 0; i < 300; ++i) accents += "\xC3\xA9";
  // One of the two is cut in the middle of a character, if characters are not heeded.
  EXPECT_EQ(ingrid->get("encounters/" + accents).status, 404);
  EXPECT_EQ(ingrid->get("encounters/x" + accents).status, 404);
  const std::string id = ingrid->post_json("classes", {{"title", "A"}}, 201)["id"];
  EXPECT_EQ(ingrid->get("classes/" + id + "/export?form=" + accents).status, 422);
  EXPECT_EQ(ingrid->get("classes/" + id + "/export?form=x" + accents).status, 422);
  const auto bad =
      ingrid->ask("PUT", "classes/" + id + "/roster", "login,name\nr,Ren\xE9\n", "text/csv");
  EXPECT_EQ(bad.status, 422);
  EXPECT_THAT(bad.body,
              HasSubstr("row 2: has letters that are not UTF-8; save the table as UTF-8"));

  const auto dump = records::dump_all(room->db());
  ASSERT_TRUE(dump) << dump.error().message;
  EXPECT_EQ(json::parse(dump->substr(0, dump->find('\n')))["phren"], "dump");
  const auto entries = records::read_audit(room->db()).value();
  for (const auto& entry : entries) {
    EXPECT_LE(entry.subject.size(), 200u);
    EXPECT_LE(entry.detail.size(), 500u);
  }
  records::Database other = records::Database::open(fresh()).value();
  EXPECT_TRUE(records::restore_all(other, *dump));
}

}  // namespace
}  // namespace phren::app::server
