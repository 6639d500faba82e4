// What a chestpiece or recorder does to sound and what comes with holding it on skin, as plain
// numbers: everything the renderer needs, so that the browser reads no files.
//
// Units:   dB, s, Hz in the names; levels "re breath" are against the level of quiet healthy
//          breathing of this person, 100-700 Hz (a figure of the body, not of what is heard now).
// Errors:  unpack() rejects what pack() cannot have made.
// Format:  data/instruments/*.toml name each figure as table and key (see kFigures).
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <span>
#include <string_view>
#include <vector>

#include "acoustics/listening.h"
#include "base/result.h"

namespace phren::acoustics {

// One second-order section of the response.
enum class SectionKind : std::uint8_t { kOff, kHighPass, kLowPass, kPeak, kLowShelf, kHighShelf };
struct FilterSection {
  SectionKind kind = SectionKind::kOff;
  double hz = 1000.0, q = 0.71, gain_db = 0.0;
};
inline constexpr std::size_t kNumSections = 6;

// A train of short contact noises: clusters come at random, each a few noises close together.
enum class TrainFigure : std::uint8_t {
  kPerMinute,  // clusters
  kRateSpread,
  kClusterSize,
  kSingleShare,
  kGap_s,
  kGapSpread,
  kLevel_db,  // peak re breath
  kPlacing_db,
  kCluster_db,
  kEach_db,
  kPitch_hz,
  kPlacingPitch,
  kClusterPitch,
  kEachPitch,
  kQ,
  kQSpread,
  kSoftShare,
  kCount
};
inline constexpr std::size_t kTrainLength = static_cast<std::size_t>(TrainFigure::kCount);
inline constexpr std::size_t kNumBands = 7;  // edges 20, 45, 80, 150, 250, 400, 650 Hz and up

enum class InstrumentFigure : std::uint8_t {
  kGain_db,
  kBreathTilt,  // SD over placings, dB per octave
  kWholeTilt,
  kBreathBands_db,  // SD over placings, of each band by itself
  kWander_db,
  kWander_s,
  kFastFlutter_db,
  kFastHighFlutter_db,  // above 250 Hz
  kFastFlutter_s,
  kSlowFlutter_db,
  kSlowFlutter_s,
  kSharedFlutter,  // with the neighbouring bands
  kFlutterSpread,
  kFloor_db,
  kFloorSpread_db,
  kFloorTilt,
  kFloorBands_db,
  kFloorWander_db,
  kFloorWander_s,
  kFloorBand,  // kNumBands figures
  kMuscle_db = kFloorBand + kNumBands,
  kMuscleEffort_db,
  kHeart_db,
  kClicks,                           // kTrainLength figures
  kKnocks = kClicks + kTrainLength,  // the same
  kRubs_per_minute = kKnocks + kTrainLength,
  kRubRateSpread,
  kRubLength_s,
  kRubLengthSpread,
  kRub_db,  // root mean square re breath
  kRubPlacing_db,
  kRubEach_db,
  kRubLow_hz,
  kRubHigh_hz,
  kRubGrain_db,
  kStartChance,
  kStart_db,
  kStartSpread_db,
  kButtons,
  kButton_db,
  kStill_s,
  kMoving_s,
  kMovingFactor,
  kBoutSpread,
  kTremor_db,
  kPressure_db,
  kCount
};
inline constexpr std::size_t kNumFigures = static_cast<std::size_t>(InstrumentFigure::kCount);

struct FigureInfo {
  const char *table, *key;
  double low, high;
};
extern const std::array<FigureInfo, kNumFigures> kFigures;

struct Instrument {
  Head head = Head::kDiaphragm;
  std::array<FilterSection, kNumSections> response{};
  std::array<double, kNumFigures> figures{};

  double operator[](InstrumentFigure f) const noexcept {
    return figures[static_cast<std::size_t>(f)];
  }
  double train(InstrumentFigure first, TrainFigure f) const noexcept {
    return figures[static_cast<std::size_t>(first) + static_cast<std::size_t>(f)];
  }
  bool has_response() const noexcept { return response[0].kind != SectionKind::kOff; }
};

// Its id in data/instruments, where nothing else was chosen: the acoustic stethoscope on that side.
constexpr std::string_view usual_instrument(Head head) noexcept {
  return head == Head::kBell     ? "acoustic_bell"
         : head == Head::kSensor ? "contact_sensor"
                                 : "acoustic_diaphragm";
}

// Gain of the response at f_hz, as power.
double response_power(const Instrument& instrument, double f_hz) noexcept;
// Amplitude that makes the response level where breath is: mean power 1 between 125 and 400 Hz.
double response_level(const Instrument& instrument) noexcept;

// As numbers and back, for the browser engine.
std::vector<double> pack(const Instrument& instrument);
Result<Instrument> unpack_instrument(std::span<const double> numbers);

}  // namespace phren::acoustics
