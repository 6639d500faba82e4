#include "measurement/compare.h"

#include <algorithm>
#include <cmath>
#include <cstdio>

namespace phren::measurement {
namespace {

LevelDifference difference(double a_db, double a_se, double b_db, double b_se, double placement) {
  constexpr double kNothing_db = -150.0;  // a phase that was not heard has no level
  return {a_db - b_db, std::sqrt(a_se * a_se + b_se * b_se + placement * placement),
          a_db > kNothing_db && b_db > kNothing_db};
}

// Two neighbouring bands as one.
std::pair<double, double> joined(const BandLevel& low, const BandLevel& high) {
  const double a = std::pow(10.0, 0.1 * low.inspiration_db);
  const double b = std::pow(10.0, 0.1 * high.inspiration_db);
  const double share = a + b > 0.0 ? a / (a + b) : 0.5;
  return {10.0 * std::log10(a + b + 1e-20),
          std::hypot(share * low.inspiration_se_db, (1.0 - share) * high.inspiration_se_db)};
}

}  // namespace

bool LevelDifference::is_clear() const {
  return is_known && std::fabs(difference_db) > 2.0 * sd_db;
}

SideBySide compare(const Breathing& first, const Breathing& second, double placement_sd_db) {
  SideBySide out;
  for (std::size_t b = 0; b < kNumBands; ++b) {
    const BandLevel &x = first.bands[b], &y = second.bands[b];
    out.inspiration[b] = difference(x.inspiration_db, x.inspiration_se_db, y.inspiration_db,
                                    y.inspiration_se_db, placement_sd_db);
    out.expiration[b] = difference(x.expiration_db, x.expiration_se_db, y.expiration_db,
                                   y.expiration_se_db, placement_sd_db);
  }
  const auto [a_db, a_se] = joined(first.bands[1], first.bands[2]);
  const auto [b_db, b_se] = joined(second.bands[1], second.bands[2]);
  out.overall = difference(a_db, a_se, b_db, b_se, placement_sd_db);
  return out;
}

std::string in_words(const SideBySide& comparison, std::string_view first,
                     std::string_view second) {
  char text[160];
  const LevelDifference& d = comparison.overall;
  if (!d.is_known) return "no breath in was heard on one side: there is nothing to compare";
  if (!d.is_clear()) {
    std::snprintf(text, sizeof text, " are equally loud within %.0f dB", 2.0 * d.sd_db);
    return std::string(first) + " and " + std::string(second) + text;
  }
  std::size_t most = 0;
  for (std::size_t b = 1; b < kNumBands; ++b)
    if (std::fabs(comparison.inspiration[b].difference_db) >
        std::fabs(comparison.inspiration[most].difference_db))
      most = b;
  std::snprintf(text, sizeof text, " is %.0f dB %s (+-%.0f dB) than ", std::fabs(d.difference_db),
                d.difference_db < 0.0 ? "softer" : "louder", d.sd_db);
  std::string out = std::string(first) + text + std::string(second);
  std::snprintf(text, sizeof text, ", most of all in %.0f-%.0f Hz", kBandEdges_hz[most],
                kBandEdges_hz[most + 1]);
  return out + text;
}

std::string meaning_in_words(const SideBySide& comparison) {
  const auto& in = comparison.inspiration;
  if (!comparison.overall.is_clear()) {
    const bool is_any =
        std::any_of(in.begin(), in.end(), [](const auto& d) { return d.is_clear(); });
    return is_any
               ? "The sides are alike as a whole and differ in single bands: chestpiece, pressure "
                 "and place do that too, so listen again before reading anything into it."
               : "";
  }
  const double low_db = std::fabs(in[1].difference_db), high_db = std::fabs(in[3].difference_db);
  const bool is_known = in[1].is_known && in[3].is_known;
  if (is_known && high_db > low_db + 6.0)
    return "The difference grows with pitch: on the softer side something between airway and skin "
           "keeps back the high part, or on the louder side the lung lets it through.";
  return "The difference is there at all pitches: on the softer side less air moves, or something "
         "between lung and skin keeps all of its sound back.";
}

}  // namespace phren::measurement
