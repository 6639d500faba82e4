// What is in a recording, as plain data. Everything that measurement tells the other rooms is here.
//
// Units:   seconds from the start of the recording, Hz, ms and dB as the names say; levels in dB re
//          full scale. Probabilities 0..1, each set sums to 1.
// Source:  label names are those of the open database the models were trained on (model/README.md);
//          gates of wheeze and crackle: CORSA, Eur Respir Rev 2000;10:597 (see tonal.h,
//          transients.h).
#pragma once

#include <array>
#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "exam/types.h"

namespace phren::measurement {

inline constexpr double kWorkRate_hz = 4000.0;  // everything is measured at this rate
inline constexpr double kLowest_hz = 40.0;      // and in this band
inline constexpr double kHighest_hz = 1300.0;

enum class EventLabel {
  kNormal,
  kRhonchi,
  kWheeze,
  kStridor,
  kCoarseCrackle,
  kFineCrackle,
  kMixed
};
inline constexpr std::size_t kNumEventLabels = 7;
enum class RecordLabel { kNormal, kContinuous, kDiscontinuous, kBoth, kPoorQuality };
inline constexpr std::size_t kNumRecordLabels = 5;
// Whose recordings a recording is like, by its sound: each set had its own sensor and its own
// raters, so each has its own operating point.
enum class RecordingKind { kChildrensSensor, kElectronicStethoscope, kOther };
inline constexpr std::size_t kNumRecordingKinds = 3;
using KindProbabilities = std::array<double, kNumRecordingKinds>;
using EventProbabilities = std::array<double, kNumEventLabels>;
using RecordProbabilities = std::array<double, kNumRecordLabels>;

inline constexpr std::size_t kNumFeatures = 104;
using FeatureVector = std::array<float, kNumFeatures>;  // names in features.h
inline constexpr std::size_t kNumRecordEvidence = 17, kNumEventEvidence = 8;
using RecordEvidence = std::array<double, kNumRecordEvidence>;  // names in evidence.h
using EventEvidence = std::array<double, kNumEventEvidence>;

struct TonalTrack {  // one musical tone
  double start_s = 0.0, end_s = 0.0;
  double start_hz = 0.0, mean_hz = 0.0, end_hz = 0.0;
  double prominence_db = 0.0;  // mean height over its spectral neighbourhood
};

struct Crackle {  // one short explosive transient
  double at_s = 0.0;
  double initial_deflection_ms = 0.0;  // IDW
  double two_cycle_ms = 0.0;           // 2CD
  double largest_deflection_ms = 0.0;  // LDW
  double height_db = 0.0;              // energy of 4 ms over the local background
  bool is_negative = false;            // sign of the largest deflection
  bool is_fine() const { return two_cycle_ms < 10.0; }
};

struct BreathPhase {
  exam::Phase phase = exam::Phase::kInspiration;
  double start_s = 0.0, end_s = 0.0;
  double level_db = 0.0;  // broadband, tones left out
};

inline constexpr std::size_t kNumBands = 5;
inline constexpr std::array<double, kNumBands + 1> kBandEdges_hz{75, 150, 300, 600, 1000, 1300};

struct BandLevel {  // mean level and its standard error over the breaths heard
  double inspiration_db = 0.0, inspiration_se_db = 0.0;
  double expiration_db = 0.0, expiration_se_db = 0.0;
};

struct Breathing {
  std::vector<BreathPhase> phases;
  std::optional<double> rate_per_min;
  // The 2 in "1:2": breath less inspiration, over inspiration; a pause counts as expiration.
  std::optional<double> expiration_to_inspiration;
  double confidence = 0.0;        // 0..1 that the rate is right
  double phase_confidence = 0.0;  // 0..1 that inspiration is inspiration
  double level_db = -200.0;       // of inspiration, 100-1000 Hz
  std::array<BandLevel, kNumBands> bands{};
};

enum class QualityReason {
  kClipping,
  kContactNoise,
  kNoise,
  kSpeech,
  kHeartOnly,
  kTooShort,
  kSilence,
  kLooksPoor,
  kGaps
};

struct Quality {
  bool is_usable = true;  // no reason against it
  double poor_probability = 0.0;
  std::vector<QualityReason> reasons;
  // Contact and gaps pass: what is beside them keeps its label (training/artefacts.py).
  bool can_be_labelled() const;
};

// What can be said of a recording's label, and why not if nothing can.
enum class Doubt { kNone, kUnfamiliar, kPoor, kTooManyLabels, kFast };
struct Verdict {
  Doubt doubt = Doubt::kNone;
  std::vector<RecordLabel> set;  // held the truth for 90 % of people not seen; empty with kFast
};

struct Reason {  // one feature's push towards a label, in log-odds
  std::size_t feature_index = 0;
  double push = 0.0;
};

struct Event {
  double start_s = 0.0, end_s = 0.0;
  EventLabel label = EventLabel::kNormal;
  EventProbabilities probabilities{1.0};
  FeatureVector features{};
  EventEvidence evidence{};
  std::vector<Reason> because;  // strongest first; empty for Normal
  // What was measured inside the event.
  std::optional<double> wheeze_hz;
  double tonal_share = 0.0;  // of the event's duration
  int num_crackles = 0;
  double crackle_two_cycle_ms = 0.0;  // median; 0 without crackles
};

struct RecordingMeasurement {
  double duration_s = 0.0;
  double sample_rate_hz = 0.0;  // of the file
  RecordLabel label = RecordLabel::kNormal;
  RecordProbabilities probabilities{1.0};
  Verdict verdict;
  KindProbabilities kind{};  // whose recordings this one is like
  RecordEvidence evidence{};
  double clip_on = 0.0;       // probability of a microphone that clips on
  std::vector<double> floor;  // what that was told by (FloorStatistics in sound_kind.h)
  bool is_familiar = true;    // false: unlike every kind that the labels were learned from
  Quality quality;
  Breathing breathing;
  std::vector<Event> events;
  std::vector<Event> given_events;
  std::vector<TonalTrack> tracks;
  std::vector<Crackle> crackles;
  // Those that stand out of each frequency's own background (whitened.h); none from a fast
  // measurement or one with a sink.
  std::vector<Crackle> whitened_crackles;
  double rms_dbfs = -200.0;
  bool has_metadata_text = false;  // the file carries text that may name a person
};

}  // namespace phren::measurement
