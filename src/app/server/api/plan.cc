#include "app/server/api/plan.h"

#include <cstdlib>
#include <nlohmann/json.hpp>

#include "base/json_text.h"
#include "teaching/marking/checklist_json.h"

namespace phren::app::server {
namespace {

using nlohmann::json;

Result<std::string> text_of(const json& body, const char* name, std::size_t most_bytes,
                            const std::string& fallback) {
  const auto found = body.find(name);
  if (found == body.end()) return fallback;
  if (!found->is_string() || found->get_ref<const std::string&>().size() > most_bytes) {
    return fail(out_of_range(name, "something else",
                             "a text of at most " + std::to_string(most_bytes) + " bytes"));
  }
  return found->get<std::string>();
}

Status one_of(const char* name, const std::string& value, const char* first, const char* second) {
  if (value == first || value == second) return {};
  return fail(out_of_range(name, "'" + value + "'", std::string(first) + " or " + second));
}

Status read_words(const json& body, StationPlan& plan) {
  auto title = TRY(text_of(body, "title", 200, ""));
  if (title.empty()) return fail(out_of_range("title", "empty", "1 to 200 bytes"));
  plan.title = std::move(title);
  plan.instructions = TRY(text_of(body, "instructions", 4000, ""));
  if (const auto shows = body.find("shows_words"); shows != body.end()) {
    if (!shows->is_boolean()) {
      return fail(out_of_range("shows_words", shows->dump(), "true or false"));
    }
    plan.shows_words = shows->get<bool>();
  }
  plan.patients = TRY(text_of(body, "patients", 20, plan.patients));
  TRY(one_of("patients", plan.patients, "identical", "parallel"));
  plan.admission = TRY(text_of(body, "admission", 20, plan.admission));
  return one_of("admission", plan.admission, "roster", "open");
}

// The id as it is compared everywhere. A drawn patient of a station is one of very many, so that
// nobody finds it by trying numbers; "new" for the number lets the server choose it.
constexpr std::uint64_t kLeastStationSeed = 1ULL << 32;
constexpr std::uint64_t kServerSeedBit = 1ULL << 52;

Result<std::string> station_case(std::string id, const CaseShelf& shelf) {
  const bool is_drawn = teaching::is_draw_id(id);
  if (is_drawn && id.ends_with("-new")) {
    const auto bits = std::strtoull(records::random_id().substr(0, 13).c_str(), nullptr, 16);
    id.replace(id.size() - 3, 3, std::to_string(kServerSeedBit | bits));
  }
  const auto found = shelf.get(id);
  if (!found) {
    return fail(out_of_range("case_ids", "'" + id + "'",
                             "ids of cases that are there, or of drawn ones "
                             "(docs/formats/draw.md)"));
  }
  if (!is_drawn) return found->id;
  const auto draw = teaching::parse_draw_id(id, shelf.drawing, shelf.conditions);
  if (draw && draw->seed.value < kLeastStationSeed) {
    return fail(out_of_range("case_ids", "'" + id + "'",
                             "drawn by a number that nobody finds by trying: write new for it"));
  }
  return found->id;
}

Result<StationPlan> read(const json& body, const CaseShelf* shelf) {
  StationPlan plan;
  if (!body.is_object()) return fail(ErrorCode::kMalformed, "the plan must be a JSON object");
  TRY(read_words(body, plan));
  const auto cases = body.find("case_ids");
  if (cases == body.end() || !cases->is_array() || cases->empty() || cases->size() > 20) {
    return fail(out_of_range("case_ids", "something else", "a list of 1 to 20 ids of cases"));
  }
  for (const json& id : *cases) {
    if (!id.is_string()) return fail(out_of_range("case_ids", id.dump(), "ids of cases"));
    Result<std::string> text = id.get<std::string>();
    if (shelf != nullptr) text = station_case(*text, *shelf);
    if (!text) return fail(text.error());
    plan.case_ids.push_back(std::move(*text));
  }
  plan.checklist = TRY(teaching::checklist_from_json(body.value("checklist", json()).dump()));
  plan.time_limit_s = plan.checklist.time_limit_s;
  if (const auto limit = body.find("time_limit_s"); limit != body.end()) {
    if (!limit->is_number() || !(limit->get<double>() >= 0.0 && limit->get<double>() <= 14400.0)) {
      return fail(out_of_range("time_limit_s", limit->dump(), "between 0 and 14400"));
    }
    plan.time_limit_s = limit->get<double>();
  }
  plan.checklist.time_limit_s = plan.time_limit_s;
  return plan;
}

}  // namespace

Result<StationPlan> parse_plan(const json& body, const CaseShelf& shelf) {
  return read(body, &shelf);
}

Result<StationPlan> plan_of(const records::Station& station) {
  auto plan =
      TRY(at("plan of station " + station.id, read(parse_json<json>(station.plan), nullptr)));
  return plan;
}

std::string plan_text(const StationPlan& plan) {
  return json{{"title", plan.title},
              {"case_ids", plan.case_ids},
              {"checklist", json::parse(teaching::to_json_text(plan.checklist))},
              {"time_limit_s", plan.time_limit_s},
              {"patients", plan.patients},
              {"admission", plan.admission},
              {"instructions", plan.instructions},
              {"shows_words", plan.shows_words}}
      .dump();
}

}  // namespace phren::app::server
