// The readers of text that come from outside, each with a whole text to damage.
#pragma once

#include <chrono>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "app/server/net/client.h"
#include "app/server/net/http.h"
#include "base/files.h"
#include "base/toml_fields.h"
#include "bedside/log_text.h"
#include "exam/record.h"
#include "records/classes.h"
#include "records/dump.h"
#include "records/dump_end.h"
#include "records/handover/csv.h"
#include "records/people.h"
#include "teaching/case.h"
#include "teaching/marking/checklist.h"

namespace phren::fuzz {

struct TextReader {
  const char* name;
  std::string whole;
  std::function<void(const std::string& text)> read;  // must not crash, hang or grow without bound
};

inline std::string small_dump() {
  auto store = records::Database::open("sqlite::memory:");
  if (!store) return {};
  for (int i = 0; i < 4; ++i) (void)records::note_audit(*store, {i, "a", "test", "s", "d"});
  const auto person =
      records::People(*store, {1, 8192}).add("a", "A", records::Role::kInstructor, "x7-kqm2-p", 1);
  if (person) (void)records::Classes(*store).create("C", *person, 2);
  return records::dump_all(*store).value_or("");
}

// The store is made once and again only when something was put into it: making one takes longer than reading.
// Half of the texts get the last line that fits them, so that the damage reaches the rows.
inline void restore(const std::string& text) {
  static std::optional<records::Database> store;
  static bool is_odd = false;
  std::string whole = text;
  if (is_odd = !is_odd; is_odd) {
    const std::size_t cut = whole.rfind("{\"phren\":\"end\"");
    if (cut != std::string::npos) whole.resize(cut);
    whole += records::end_of_dump(whole);
  }
  (void)records::check_dump(whole);
  if (!store) {
    if (auto made = records::Database::open("sqlite::memory:")) store.emplace(std::move(*made));
  }
  if (store && records::restore_all(*store, whole)) store.reset();
}

inline const std::vector<TextReader>& text_readers() {
  static const std::vector<TextReader> all{
      {"toml", "[a.b.c]\nd.e = {f = [1, 2.5, \"x\"], g.h = 'y'}\n[[k]]\nz = 1979-05-27T07:32:00Z\n",
       [](const std::string& text) { (void)parse_toml(text, "fuzz.toml"); }},
      {"case", read_file(data_directory() / "cases" / "asthma.toml").value_or(""),
       [](const std::string& text) {
         static const auto words = teaching::CaseVocabulary::load(data_directory());
         if (words) (void)teaching::parse_case(text, "fuzz.toml", *words);
       }},
      {"checklist", read_file(data_directory() / "checklists" / "asthma_station.toml").value_or(""),
       [](const std::string& text) { (void)teaching::parse_checklist(text, "fuzz.toml"); }},
      {"log",
       "{\"phren\":\"encounter\",\"version\":1,\"encounter\":\"e1\",\"case\":\"asthma\",\"seed\":"
       "\"7\"}\n"
       "{\"id\":\"a\",\"t\":1.5,\"do\":\"place\",\"aspect\":\"front\",\"u\":-0.6,\"v\":0.4}\n"
       "{\"id\":\"b\",\"t\":2,\"do\":\"report\",\"finding\":\"wheeze\",\"presence\":\"present\"}\n"
       "{\"id\":\"c\",\"t\":3,\"do\":\"rank\",\"conditions\":[\"asthma\"]}\n"
       "{\"id\":\"d\",\"t\":4,\"do\":\"end\"}\n",
       [](const std::string& text) { (void)bedside::parse_log(text, "fuzz.jsonl"); }},
      {"examination",
       "{\"schema_version\":1,\"age_years\":34,\"setting\":\"ems_adult\",\"findings\":[{\"id\":"
       "\"wheeze\","
       "\"presence\":\"present\",\"side\":\"left\"}],\"vitals\":{\"spo2_percent\":91}}",
       [](const std::string& text) { (void)exam::examination_from_json(text, "fuzz.json"); }},
      {"roster", "login,name,extra_time_percent\nmaren,\"Maren, \"\"M\"\"\",25\ntorvald,Torvald,\n",
       [](const std::string& text) { (void)records::parse_roster(text); }},
      {"restore", small_dump(), [](const std::string& text) { restore(text); }},
      {"address", "/api/v1/cases/%2e%2e/a?b=c%20d&e=f",
       [](const std::string& text) {
         using namespace app::server;
         (void)decode_path(text);
         Request request;
         request.query = request.cookie = request.origin = text;
         (void)query_value(request, "b");
         (void)cookie_value(request, "b");
         (void)is_cross_site(request);
         (void)parse_network(text);
         (void)parse_public_url(text);
         (void)client_behind({Network{}}, "::1", false, text, text);
       }},
  };
  return all;
}

}  // namespace phren::fuzz
