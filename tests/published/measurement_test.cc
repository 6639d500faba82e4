// Measurement against the literature. VERIFIED: seen in the source named; from memory: not.
#include <gtest/gtest.h>

#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <map>
#include <sstream>
#include <string>
#include <vector>

#include "base/files.h"
#include "measurement/decide.h"
#include "measurement/names.h"
#include "measurement/sounds.h"
#include "measurement/tonal.h"
#include "measurement/transients.h"

namespace phren::measurement {
namespace {

std::vector<TonalTrack> tracks_of(double hz, double length_s) {
  static Analyser analyser;
  auto x = test::noise(2.0, 0.0005, 5);
  test::add_tone(x, hz, 0.7, length_s, 0.02);
  return find_tracks(analyser.analyse(x));
}

// Sovijarvi et al., Eur Respir Rev 2000;10:597 (CORSA): a wheeze has a dominant frequency above 100
// Hz and lasts more than 100 ms. VERIFIED as quoted in Bio-protocol 10925897. Tolerance 5 % is
// ours.
TEST(CorsaGates, AToneAbove100HzFor100MsIsAWheezeAndBelowEitherIsNot) {
  EXPECT_EQ(tracks_of(400.0, 0.105).size(), 1u) << "105 ms";
  EXPECT_EQ(tracks_of(400.0, 0.095).size(), 0u) << "95 ms";
  EXPECT_EQ(tracks_of(400.0, 0.090).size(), 0u) << "90 ms";
  EXPECT_EQ(tracks_of(105.0, 0.500).size(), 1u) << "105 Hz";
  EXPECT_EQ(tracks_of(95.0, 0.500).size(), 0u) << "95 Hz";
  EXPECT_EQ(tracks_of(90.0, 0.500).size(), 0u) << "90 Hz";
}

TEST(CorsaGates, DurationHoldsAtEveryPitch) {
  for (const double hz : {150.0, 230.0, 317.0, 520.0, 800.0, 1200.0}) {
    SCOPED_TRACE(hz);
    EXPECT_EQ(tracks_of(hz, 0.105).size(), 1u);
    EXPECT_EQ(tracks_of(hz, 0.095).size(), 0u);
  }
}

std::vector<Crackle> crackles_of(double idw_ms, double two_cycle_ms) {
  static Analyser analyser;
  auto x = test::noise(1.0, 1e-5, 5);
  test::add_crackle(x, 0.4, idw_ms, two_cycle_ms, 0.05);
  return find_crackles(analyser.analyse(x));
}

// CORSA 2000: fine crackles have a two-cycle duration below 10 ms, coarse ones above. From memory,
// consistent with Piirila 1991 as quoted. The waveform is that of Kiyokawa et al., Chest
// 2001;119:1886 (from memory; its zero crossings follow from the formula). Measured behind the
// fixed 95 Hz high-pass, which shortens the widths as Karp 1991 found (VERIFIED as quoted), so the
// gate is tested on widths that stay clear of it.
TEST(CorsaGates, TwoCycleDurationPartsFineFromCoarseAt10Ms) {
  const struct {
    double idw_ms, two_cycle_ms;
    bool is_fine;
  } kCases[] = {{0.5, 3.3, true}, {0.7, 5.0, true}, {1.0, 6.7, true}, {2.1, 14.0, false}};
  for (const auto& c : kCases) {
    SCOPED_TRACE(c.two_cycle_ms);
    const auto crackles = crackles_of(c.idw_ms, c.two_cycle_ms);
    ASSERT_EQ(crackles.size(), 1u);
    EXPECT_EQ(crackles[0].is_fine(), c.is_fine) << crackles[0].two_cycle_ms << " ms";
  }
  Crackle edge;
  edge.two_cycle_ms = 9.99;
  EXPECT_TRUE(edge.is_fine());
  edge.two_cycle_ms = 10.0;
  EXPECT_FALSE(edge.is_fine());
}

std::filesystem::path recordings_folder() {
  if (const char* chosen = std::getenv("PHREN_RECORDINGS"); chosen != nullptr) return chosen;
  return data_directory().parent_path().parent_path() / "shared/data/clinical-recordings";
}

// Rows of a plain CSV without quotes, the header left out.
std::vector<std::vector<std::string>> rows_of(const std::filesystem::path& file) {
  std::istringstream text(read_file(file).value());
  std::vector<std::vector<std::string>> rows;
  std::string line, cell;
  std::getline(text, line);
  while (std::getline(text, line)) {
    if (!line.empty() && line.back() == '\r') line.pop_back();
    std::istringstream cells(line);
    rows.emplace_back();
    while (std::getline(cells, cell, ',')) rows.back().push_back(cell);
  }
  return rows;
}

// Zhang et al., SPRSound, IEEE Trans Biomed Circuits Syst 2022: experts labelled events and whole
// recordings apart from each other. Our rule from the first must give every one of the second.
TEST(RecordRule, GivesTheExpertLabelOfEveryRecordingFromItsEvents) {
  const auto folder = recordings_folder();
  if (!std::filesystem::exists(folder / "recordings.csv")) {
    GTEST_SKIP() << "the clinical recordings are not here; name their folder in PHREN_RECORDINGS";
  }
  std::map<std::string, std::vector<EventLabel>> events;
  for (const auto& row : rows_of(folder / "events.csv")) {
    events[row.at(0)].push_back(parse_event_label(row.at(3)).value());
  }
  const auto recordings = rows_of(folder / "recordings.csv");
  EXPECT_EQ(recordings.size(), 1949u);
  for (const auto& row : recordings) {
    EXPECT_EQ(record_label_of(events[row.at(0)]), parse_record_label(row.at(6)).value())
        << row.at(0);
  }
}

}  // namespace
}  // namespace phren::measurement
