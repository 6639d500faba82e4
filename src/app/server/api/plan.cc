#include "app/server/api/plan.h"

#include <cstdlib>

#include "base/json_fields.h"

namespace phren::app::server {
namespace {

// The id as it is compared everywhere. A drawn patient of a station is one of very many, so that
// nobody finds it by trying numbers; "new" for the number lets the server choose it.
constexpr std::uint64_t kLeastStationSeed = 1ULL << 32;
constexpr std::uint64_t kServerSeedBit = 1ULL << 52;

Result<std::string> station_case(std::string id, const teaching::Library& library) {
  const bool is_drawn = teaching::is_draw_id(id);
  if (is_drawn && id.ends_with("-new")) {
    const auto bits = std::strtoull(records::random_id().substr(0, 13).c_str(), nullptr, 16);
    id.replace(id.size() - 3, 3, std::to_string(kServerSeedBit | bits));
  }
  const auto found = library.get(id);
  if (!found) {
    return fail(out_of_range("case_ids", "'" + id + "'",
                             "ids of cases that are there, or of drawn ones "
                             "(docs/formats/draw.md)"));
  }
  // Nobody steers a station's patient; and what is in use is known by plain ids.
  if (!teaching::split_case_id(found->id).possible.empty()) {
    return fail(out_of_range("case_ids", "'" + id + "'",
                             "ids without an illness that may come: that is for rounds"));
  }
  if (!is_drawn) return found->id;
  const auto draw = teaching::parse_draw_id(id, library.drawing, library.conditions);
  if (draw && draw->seed.value < kLeastStationSeed) {
    return fail(out_of_range("case_ids", "'" + id + "'",
                             "drawn by a number that nobody finds by trying: write new for it"));
  }
  return found->id;
}

}  // namespace

Result<StationPlan> parse_plan(const nlohmann::json& body, const teaching::Library& library) {
  auto plan = TRY(read_record<StationPlan>(body, "", Unknown::kPassedOver));
  for (std::string& id : plan.case_ids) id = TRY(station_case(std::move(id), library));
  return plan;
}

Result<StationPlan> plan_of(const records::Station& station) {
  return read_record_text<StationPlan>(station.plan, "plan of station " + station.id);
}

}  // namespace phren::app::server
