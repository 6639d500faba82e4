#include "bedside/round.h"

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "bedside/deed_json.h"

namespace phren::bedside {
namespace {

using Json = nlohmann::ordered_json;

Result<std::int64_t> whole(const Json& json, const char* key, std::int64_t low, std::int64_t high) {
  const auto found = json.find(key);
  if (found != json.end() && found->is_number_integer()) {
    const auto value = found->get<std::int64_t>();
    if (value >= low && value <= high) return value;
  }
  return fail(
      out_of_range(key, found == json.end() ? "missing" : found->dump(),
                   "a whole number from " + std::to_string(low) + " to " + std::to_string(high)));
}

Result<RoundLine> line_of(const Json& json) {
  if (!json.is_object()) return fail(ErrorCode::kMalformed, "a line must be one JSON object");
  RoundLine line;
  line.seq = TRY(whole(json, "n", 1, std::int64_t{1} << 40));
  line.take = static_cast<int>(TRY(whole(json, "take", 0, kMostTakes)));
  line.step = TRY(whole(json, "step", 0, kLastRoundStep));
  const auto by = json.find("by");
  if (by != json.end() && by->is_string()) line.person = by->get<std::string>();
  const auto what = json.find("do");
  if (what == json.end()) return line;
  if (*what == "go_back") {
    line.begins_take = true;
    return line;
  }
  Json deed = json;
  for (const char* key : {"n", "take", "step", "by"}) deed.erase(key);
  line.deed = TRY(read_deed(deed));
  return line;
}

bool comes_before(const RoundLine& a, const RoundLine& b) {
  return a.step < b.step;
}

// Of each take from 0 to `take`, where the next one parts from it; the last goes on.
std::vector<std::int64_t> partings(std::span<const RoundLine> shared, int take) {
  std::vector<std::int64_t> until(static_cast<std::size_t>(take) + 1, kLastRoundStep + 1);
  for (const RoundLine& line : shared) {
    if (!line.begins_take || line.take > take || line.take < 1) continue;
    for (int i = 0; i < line.take; ++i) {
      auto& one = until[static_cast<std::size_t>(i)];
      one = std::min(one, line.step);
    }
  }
  return until;
}

bool is_kept(const RoundLine& line, const std::vector<std::int64_t>& until) {
  return line.take >= 0 && static_cast<std::size_t>(line.take) < until.size() &&
         line.step < until[static_cast<std::size_t>(line.take)];
}

}  // namespace

double time_of_step(std::int64_t step) {
  return std::floor(static_cast<double>(step) * kRoundStep_s * 1000.0 + 1e-7) / 1000.0;
}

Result<RoundLine> parse_round_line(std::string_view line) {
  return line_of(Json::parse(line, nullptr, false));
}

Result<std::vector<RoundLine>> parse_round_lines(std::string_view json_array) {
  const Json list = Json::parse(json_array, nullptr, false);
  if (!list.is_array()) return fail(ErrorCode::kMalformed, "lines must be a JSON list");
  std::vector<RoundLine> lines;
  for (const Json& one : list) lines.push_back(TRY(line_of(one)));
  return lines;
}

std::vector<RoundLine> lived_by(std::span<const RoundLine> shared, int take) {
  const auto until = partings(shared, take);
  std::vector<RoundLine> lived;
  for (const RoundLine& line : shared) {
    if (line.deed && concerns_all(*line.deed) && is_kept(line, until)) lived.push_back(line);
  }
  std::stable_sort(lived.begin(), lived.end(), comes_before);
  return lived;
}

std::vector<EncounterAction> encounter_of(std::span<const RoundLine> shared,
                                          std::span<const RoundLine> own, int take,
                                          std::int64_t end_step) {
  const auto until = partings(shared, take);
  struct Placed {
    std::int64_t step;
    EncounterAction action;
  };
  std::vector<Placed> all;
  const auto put = [&](const RoundLine& line, const std::string& id, const Deed& deed) {
    all.push_back({line.step, {id, time_of_step(line.step), deed}});
  };
  for (const RoundLine& line : lived_by(shared, take)) {
    put(line, "s" + std::to_string(line.seq), *line.deed);
  }
  // Everybody takes the chestpiece up anew where a take begins; own deeds follow the body's of that step.
  for (const RoundLine& line : shared) {
    if (line.begins_take && line.take <= take) {
      put(line, "take" + std::to_string(line.take), TakeUp{});
    }
  }
  for (const RoundLine& line : own) {
    if (line.deed && !concerns_all(*line.deed) && is_kept(line, until)) {
      put(line, "o" + std::to_string(line.seq), *line.deed);
    }
  }
  std::stable_sort(all.begin(), all.end(),
                   [](const Placed& a, const Placed& b) { return a.step < b.step; });
  std::vector<EncounterAction> actions;
  for (Placed& one : all) {
    if (one.step > end_step || std::holds_alternative<End>(one.action.deed)) continue;
    actions.push_back(std::move(one.action));
  }
  actions.push_back({"end", time_of_step(end_step), End{}});
  return actions;
}

}  // namespace phren::bedside
