#include "base/toml_fields.h"

#include <gtest/gtest.h>

namespace phren {
namespace {

struct Row {
  std::string id, kind;
  double share = 0.5;
  bool is_on = false;
  std::vector<std::string> words;
};

Result<std::vector<Row>> rows_of(std::string_view text) {
  std::vector<Row> rows;
  const Status read = read_toml(text, "r.toml", [&](TomlFields& top) {
    top.rows(
        "row",
        [&](TomlFields& fields) {
          Row row;
          fields.text("id", row.id, true);
          fields.is_called("row " + row.id);
          fields.one_of("kind", row.kind, {"plain", "fancy"});
          fields.number("share", row.share, 0.0, 1.0);
          fields.flag("on", row.is_on);
          fields.texts("words", row.words);
          fields.add(rows, row);
        },
        true);
  });
  if (!read) return fail(read.error());
  return rows;
}

std::string error_of(std::string_view text) {
  const auto rows = rows_of(text);
  return rows ? "none" : rows.error().message;
}

TEST(TomlFields, ReadsWhatIsThereAndKeepsDefaults) {
  const auto rows =
      rows_of("[[row]]\nid='a'\n[[row]]\nid='b'\nkind='fancy'\nshare=1\non=true\nwords=['x','y']");
  ASSERT_TRUE(rows) << rows.error().message;
  ASSERT_EQ(rows->size(), 2u);
  EXPECT_EQ((*rows)[0].share, 0.5);
  EXPECT_EQ((*rows)[1].share, 1.0);
  EXPECT_TRUE((*rows)[1].is_on);
  EXPECT_EQ((*rows)[1].words, (std::vector<std::string>{"x", "y"}));
}

TEST(TomlFields, ErrorsNameFileLineRowFieldValueAndWhatIsRight) {
  EXPECT_EQ(error_of("[[row]]\nid='a'\nshare=2"),
            "r.toml:3: row a: share is 2; it must be a number between 0 and 1");
  EXPECT_EQ(error_of("[[row]]\nid='a'\nshare='half'"),
            "r.toml:3: row a: share is 'half'; it must be a number between 0 and 1");
  EXPECT_EQ(error_of("[[row]]\nid='a'\non=1"),
            "r.toml:3: row a: on is 1; it must be true or false");
  EXPECT_EQ(error_of("[[row]]\nid='a'\nkind='odd'"),
            "r.toml:3: row a: kind is 'odd'; it must be one of plain, fancy");
  EXPECT_EQ(error_of("[[row]]\nid='a'\nwords='x'"),
            "r.toml:3: row a: words is 'x'; it must be a list of texts in quotes");
  EXPECT_EQ(error_of("[[row]]\nid='a'\n\n[[row]]\nid='a'"),
            "r.toml:4: row a: id 'a' is used twice");
  EXPECT_EQ(error_of("row = 3"), "r.toml:1: row is 3; it must be a list of tables, [[row]]");
  EXPECT_EQ(error_of("row = [3]"), "r.toml:1: row is 3; it must be a table, [[row]]");
  EXPECT_EQ(error_of(""), "r.toml:1: row is missing; it is required");
  EXPECT_EQ(error_of("a = ").substr(0, 9), "r.toml:1:");
}

TEST(TomlFields, AnUnknownFieldExplainsAMissingOneButNotAWrongOne) {
  EXPECT_EQ(error_of("[[row]]\n\nidd='a'"),
            "r.toml:3: row : 'idd' is not a field here. Did you mean 'id'?");
  EXPECT_EQ(error_of("[[row]]\nid='a'\nshare=3\nshar=1"),
            "r.toml:3: row a: share is 3; it must be a number between 0 and 1");
}

}  // namespace
}  // namespace phren
