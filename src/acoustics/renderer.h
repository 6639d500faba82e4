// Inside of the chestpiece: one control step per chunk, then the per-sample work.
#pragma once

#include "acoustics/airway_noise.h"
#include "acoustics/breath_noise.h"
#include "acoustics/chestpiece.h"
#include "acoustics/contact.h"
#include "acoustics/crackles.h"
#include "acoustics/musical.h"
#include "acoustics/pings.h"
#include "acoustics/realism.h"
#include "acoustics/region_paths.h"
#include "acoustics/torso.h"
#include "acoustics/voice.h"

namespace phren::acoustics {

// Mean squares of breath sound at the skin, 100-1000 Hz, before the wall: of the lung, through
// solid lung, and straight from the windpipe.
struct BreathPower {
  double lung = 0.0, solid = 0.0, windpipe = 0.0;
};

// Normal, bronchial or tracheal sound of each phase as one truth event.
class BreathTrack {
 public:
  void follow(const Scene& scene, const BreathPower& power,
              const Chestpiece::Audibility& audibility) noexcept;
  void finish(TruthRing& truth) noexcept;

 private:
  bool open_ = false;
  TruthEvent event_;
  BreathPower sum_;
  double best_db_ = -100.0;
  std::array<double, exam::kNumLobes> lobe_{};
};

struct Chestpiece::Renderer {
  explicit Renderer(const ChestpieceConfig& config) noexcept;
  void render(const patient::Snapshot& end, std::span<float> out) noexcept;

  ChestpieceConfig config;
  Torso torso;
  BodyScale scale;
  BreathNoise breath;
  AirwayNoise airway;
  MusicalSounds musical;
  Crackles crackles;
  Pings pings;
  BodyNotes notes;
  VoiceSource voice;
  RegionPaths paths;
  Contact contact;
  ContactState contact_state;
  Realism realism;
  BreathTrack breath_track;

  SkinPlace place, target_place;
  bool is_placed = false, is_lifted = false;
  double lifted = 1.0;

  patient::Snapshot last;
  bool has_last = false;
  Hearing hearing;
  Background background;
  TruthRing truth;
  Chestpiece::Audibility audibility;

 private:
  void chunk(const patient::Snapshot& from, const patient::Snapshot& to, double start_s,
             std::span<float> out) noexcept;
  void move(Scene& scene) noexcept;
  void perform(std::span<float> out) noexcept;
  bool must_listen_anew() noexcept;
  void follow_resting_volume(const Scene& scene) noexcept;
  void add_windpipe(bool is_judging) noexcept;
  void assess(const BreathPower& power) noexcept;
  float delayed_windpipe(std::size_t i) noexcept;

  static constexpr std::size_t kDelayLength = 4096;  // 15 ms at 192 kHz and some
  std::array<float, kDelayLength> delay_line_{};
  std::size_t delay_at_ = 0;
  float delay_ = 0.0f, delay_step_ = 0.0f, delay_target_ = -1.0f;
  float neck_ = 0.0f, neck_step_ = 0.0f, neck_target_ = 0.0f;

  alignas(32) std::array<Lanes, kChunk> sum_{};
  alignas(32) std::array<Lanes, kChunk> regions_{};
  std::array<float, kChunk> windpipe_{}, chest_{}, heart_{}, ear_{};
  patient::Snapshot between_;
  BreathPower power_;
  std::size_t breath_parts_ = 0;  // of the background: they come first
  SkinPlace heard_place_;
  RestingVolume resting_{};
  bool has_resting_ = false;
  int judge_count_ = 0, listen_count_ = 0;
};

}  // namespace phren::acoustics
