#include "base/json_fields.h"

#include <gtest/gtest.h>

#include "base/toml_fields.h"

namespace phren {
namespace {

enum class Colour { kRed, kBlue };
std::string_view to_string(Colour colour) {
  return colour == Colour::kRed ? "red" : "blue";
}
Result<Colour> parse_colour(std::string_view text) {
  if (text == "red") return Colour::kRed;
  if (text == "blue") return Colour::kBlue;
  return fail(out_of_range("colour", "'" + std::string(text) + "'", "red or blue"));
}

struct Part {
  std::string id;
  double weight_kg = 1.5;
  Colour colour = Colour::kRed;
};
void describe(Fields& f, Part& part) {
  f.text("id", part.id, true);
  f.number("weight_kg", part.weight_kg, 0.0, 100.0);
  f.word("colour", part.colour, parse_colour);
}

struct Machine {
  std::string title, mood = "calm";
  std::size_t count = 2;
  bool is_on = false;
  std::optional<double> limit_s;
  std::vector<std::string> notes;
  std::vector<Colour> colours;
  std::vector<Part> parts;
  Part spare;
};
void describe(Fields& f, Machine& m) {
  f.text("title", m.title, true, 20);
  f.one_of("mood", m.mood, {"calm", "wild"});
  f.whole("count", m.count, 1, 9);
  f.flag("is_on", m.is_on);
  f.number("limit_s", m.limit_s, 0.0, 60.0);
  f.texts("notes", m.notes);
  f.words("colours", m.colours, parse_colour);
  f.rows("parts", m.parts);
  f.need_own_ids(m.parts);
  f.table("spare", m.spare);
}

constexpr const char* kToml = R"(title = "mill"
mood = "wild"
count = 3
is_on = true
limit_s = 12.5
notes = ["a", "b"]
colours = ["blue", "red"]
[[part]]
id = "wheel"
weight_kg = 4
colour = "blue"
[[part]]
id = "belt"
[spare]
id = "s"
)";

Result<Machine> from_toml(std::string_view text) {
  Machine m;
  TRY(read_toml(text, "m.toml", [&](TomlFields& fields) { describe(fields, m); }));
  return m;
}

std::string fault(std::string_view json) {
  const auto read = read_record_text<Machine>(json, "m.json");
  return read ? "" : read.error().message;
}

TEST(Fields, OneDescriptionReadsBothFormatsAndWrites) {
  const auto from_file = from_toml(kToml);
  ASSERT_TRUE(from_file) << from_file.error().message;
  const std::string text = json_of(*from_file).dump();
  EXPECT_EQ(text,
            R"({"title":"mill","mood":"wild","count":3,"is_on":true,"limit_s":12.5,)"
            R"("notes":["a","b"],"colours":["blue","red"],"parts":[{"id":"wheel","weight_kg":4,)"
            R"("colour":"blue"},{"id":"belt","weight_kg":1.5,"colour":"red"}],)"
            R"("spare":{"id":"s","weight_kg":1.5,"colour":"red"}})");
  const auto again = read_record_text<Machine>(text, "m.json");
  ASSERT_TRUE(again) << again.error().message;
  EXPECT_EQ(json_of(*again).dump(), text);
}

TEST(Fields, WhatIsNotThereKeepsItsDefault) {
  const auto read = read_record_text<Machine>(R"({"title":"x","limit_s":null})", "m.json");
  ASSERT_TRUE(read) << read.error().message;
  EXPECT_EQ(read->count, 2u);
  EXPECT_FALSE(read->limit_s);
}

TEST(Fields, JsonFaultsNamePlaceValueAndWhatWouldBeRight) {
  EXPECT_EQ(fault(R"({"title":"x","parts":[{"id":"a"},{"id":"b","weight_kg":500}]})"),
            "m.json: /parts/1/weight_kg is 500; it must be a number between 0 and 100");
  EXPECT_EQ(fault(R"({"title":"x","parts":[{"id":"a","colour":"green"}]})"),
            "m.json: /parts/0/colour is 'green'; it must be red or blue");
  EXPECT_EQ(fault(R"({"titel":"x"})"), "m.json: /titel is not a field here. Did you mean 'title'?");
  EXPECT_EQ(fault("{}"), "m.json: /title is missing; it is required");
  EXPECT_EQ(fault(R"({"title":""})"),
            "m.json: /title is \"\"; it must be a text that is not empty of at most 20 bytes");
  EXPECT_EQ(fault(R"({"title":"x","mood":"odd"})"),
            "m.json: /mood is \"odd\"; it must be one of calm, wild");
  EXPECT_EQ(fault(R"({"title":"x","count":1.5})"),
            "m.json: count is 1.5; it must be a whole number");
  EXPECT_EQ(fault(R"({"title":"x","notes":["a",1]})"), "m.json: /notes/1 is 1; it must be a text");
  EXPECT_EQ(fault(R"({"title":"x","parts":7})"), "m.json: /parts is 7; it must be a list");
  EXPECT_EQ(fault(R"({"title":"x","parts":[7]})"), "m.json: /parts/0 is 7; it must be an object");
  EXPECT_EQ(fault(R"({"title":"x","parts":[{"id":"a"},{"id":"a"}]})"),
            "m.json: id 'a' is used twice");
  EXPECT_EQ(fault("[1]"), "m.json: / is [1]; it must be an object");
  EXPECT_EQ(fault("{"), "m.json: is not JSON text, or nested too deeply");
}

TEST(Fields, WithoutANameThePlaceBeginsAtTheField) {
  const auto json =
      nlohmann::json::parse(R"({"title":"x","more":1,"parts":[{"id":"a","weight_kg":-1}]})");
  EXPECT_EQ(read_record<Machine>(json, "", Unknown::kPassedOver).error().message,
            "parts/0/weight_kg is -1; it must be a number between 0 and 100");
  EXPECT_EQ(read_record<Machine>(nlohmann::json(3)).error().message,
            "the body is 3; it must be an object");
}

TEST(Fields, TomlFaultsOfTheSameDescriptionNameLineAndSection) {
  const auto bad = from_toml("title = \"x\"\n[[part]]\nid = \"a\"\nweight_kg = 500\n");
  ASSERT_FALSE(bad);
  EXPECT_EQ(bad.error().message,
            "m.toml:4: [[part]] weight_kg is 500; it must be a number between 0 and 100");
}

}  // namespace
}  // namespace phren
