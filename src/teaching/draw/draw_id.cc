// The id of a drawn patient, to text and back.
#include <array>
#include <charconv>
#include <cmath>
#include <set>
#include <utility>

#include "teaching/draw/draw.h"

namespace phren::teaching {
namespace {

constexpr std::array<std::pair<Build, std::string_view>, 4> kBuilds{{{Build::kAny, "any"},
                                                                     {Build::kSlim, "slim"},
                                                                     {Build::kAverage, "average"},
                                                                     {Build::kHeavy, "heavy"}}};
constexpr std::string_view kSurprise = "surprise-", kRandom = "random-";

std::vector<std::string_view> parts_of(std::string_view text) {
  std::vector<std::string_view> parts;
  for (std::size_t from = 0;;) {
    const std::size_t to = text.find('-', from);
    parts.push_back(text.substr(from, to == text.npos ? to : to - from));
    if (to == text.npos) return parts;
    from = to + 1;
  }
}

template <class Number>
bool read_whole(std::string_view text, Number& target) {
  const auto [stop, error] = std::from_chars(text.data(), text.data() + text.size(), target);
  return error == std::errc() && stop == text.data() + text.size() && !text.empty();
}

// "16_90"
bool read_span(std::string_view text, int most, double& from, double& to) {
  const std::size_t middle = text.find('_');
  int low = -1, high = -1;
  if (middle == text.npos || !read_whole(text.substr(0, middle), low) ||
      !read_whole(text.substr(middle + 1), high) || low < 0 || high < low || high > most) {
    return false;
  }
  from = low;
  to = high;
  return true;
}

Status read_part(std::string_view part, DrawLimits& limits, const patient::Conditions& conditions) {
  const std::string_view value = part.empty() ? part : part.substr(1);
  const auto wrong = [&](const char* what, const char* allowed) {
    return fail(out_of_range(what, "'" + std::string(part) + "'", allowed));
  };
  switch (part.empty() ? ' ' : part[0]) {
    case 'a':
      if (read_span(value, 110, limits.age_from_years, limits.age_to_years)) return {};
      return wrong("ages", "a, then two whole years from 0 to 110, as in a16_90");
    case 's':
      if (!read_span(value, 100, limits.severity_from, limits.severity_to)) {
        return wrong("severity", "s, then two whole percentages, as in s30_90");
      }
      limits.severity_from /= 100.0;
      limits.severity_to /= 100.0;
      return {};
    case 'b':
      for (const auto& [build, word] : kBuilds) {
        if (word == value) return limits.build = build, Status{};
      }
      return wrong("build", "one of bany, bslim, baverage, bheavy");
    case 'n':
      if (value != "1" && value != "2") return wrong("number of conditions", "n1 or n2");
      limits.most_conditions = value == "2" ? 2 : 1;
      return {};
    case 'c': {
      TRY(conditions.find(value));
      limits.conditions.emplace_back(value);
      return {};
    }
    default:
      return wrong("part", "one of a, b, s, n or c with its value (docs/formats/draw.md)");
  }
}

std::string whole(double value) {
  return std::to_string(std::lround(value));
}

}  // namespace

std::string_view to_string(Build value) {
  for (const auto& [build, word] : kBuilds) {
    if (build == value) return word;
  }
  return "any";
}

bool is_draw_id(std::string_view id) {
  return id.substr(0, kSurprise.size()) == kSurprise || id.substr(0, kRandom.size()) == kRandom;
}

Result<Draw> parse_draw_id(std::string_view id, const DrawData& data,
                           const patient::Conditions& conditions) {
  Draw draw;
  const std::vector<std::string_view> parts = parts_of(id);
  if (parts.size() < 2 || id.size() > 200 || !is_draw_id(id)) {
    return fail(out_of_range("id", "'" + std::string(id) + "'",
                             "surprise-LEVEL-SEED or random-LIMITS-SEED, at most 200 characters"));
  }
  // The pages' numbers are whole up to 2^53.
  if (!read_whole(parts.back(), draw.seed.value) || draw.seed.value > (1ull << 53)) {
    return fail(out_of_range("seed", "'" + std::string(parts.back()) + "'",
                             "a whole number from 0 to 2^53"));
  }
  if (parts[0] == "surprise") {
    std::vector<std::string> known;
    for (const DrawLevel& level : data.levels()) {
      known.push_back(level.id);
      if (parts.size() == 3 && level.id == parts[1]) draw.level_id = level.id;
    }
    if (draw.level_id.empty()) {
      return fail(ErrorCode::kNotFound, "there is no level '" + std::string(parts[1]) + "'." +
                                            did_you_mean(parts[1], known));
    }
    return draw;
  }
  for (std::size_t i = 1; i + 1 < parts.size(); ++i) {
    if (const Status ok = read_part(parts[i], draw.limits, conditions); !ok) {
      return fail(ok.error());
    }
  }
  return draw;
}

std::string draw_id(const Draw& draw) {
  const std::string seed = std::to_string(draw.seed.value);
  if (!draw.level_id.empty()) return std::string(kSurprise) + draw.level_id + "-" + seed;
  const DrawLimits& l = draw.limits;
  std::string id = std::string(kRandom) + "a" + whole(l.age_from_years) + "_" +
                   whole(l.age_to_years) + "-b" + std::string(to_string(l.build)) + "-s" +
                   whole(100.0 * l.severity_from) + "_" + whole(100.0 * l.severity_to) + "-n" +
                   std::to_string(l.most_conditions);
  // One spelling for one draw: their order and a repetition change nothing.
  const std::set<std::string> conditions(l.conditions.begin(), l.conditions.end());
  for (const std::string& condition : conditions) id += "-c" + condition;
  return id + "-" + seed;
}

}  // namespace phren::teaching
