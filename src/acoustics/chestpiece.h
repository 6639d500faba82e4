// A chestpiece on a breathing body: put it anywhere, and hear what arrives there.
//
// Shapes:  mono samples, full scale +-1.0. Call render() once per small block (128 frames is
//          natural) with the patient's state at the END of the block; what lies between is
//          interpolated. Every split of the same steps into calls gives the same samples.
// Units:   kFullScale_dbspl (98 dB SPL in the cup) is 0 dBFS: an adult breathing in at 1 L/s sounds
//          at -30 dBFS under a diaphragm's flat twin (Head::kSensor) at the back base.
// Errors:  make() rejects bad settings; render() cannot fail, and never allocates, locks or throws.
// Threads: an instance belongs to one thread; instances share nothing.
// Source:  each source and path names its own; docs/validation/acoustics.md compares the result.
#pragma once

#include <cstddef>
#include <memory>
#include <span>

#include "acoustics/instrument.h"
#include "acoustics/layers.h"
#include "acoustics/listening.h"
#include "acoustics/types.h"
#include "base/random.h"
#include "base/result.h"
#include "exam/types.h"
#include "patient/signs.h"
#include "patient/types.h"

namespace phren::acoustics {

struct ChestpieceConfig {
  double sample_rate_hz = 48000.0;  // 4000..192000
  patient::Person person;
  Seed seed;
};

class Chestpiece {
 public:
  static Result<Chestpiece> make(const ChestpieceConfig& config);
  Chestpiece(Chestpiece&&) noexcept;
  Chestpiece& operator=(Chestpiece&&) noexcept;
  ~Chestpiece();

  // Slides there within about 0.1 s; the first call after make() or lift() puts it down there.
  void move_to(const exam::TorsoPoint& point) noexcept;
  void lift() noexcept;
  // A tap of the finger there, heard through the air; with the state of the last rendered block.
  patient::Percussion percuss(const exam::TorsoPoint& point) noexcept;
  void set_head(Head head) noexcept;
  void set_pressure(double pressure) noexcept;   // 0 barely touching .. 1 pressed hard
  void set_clothing(double thickness) noexcept;  // 0 bare skin .. 1 a thick coat
  void set_hair(double thickness) noexcept;      // 0 none .. 1 thick: rustles as the skin moves
  void set_surroundings(Surroundings place) noexcept;
  void set_skin_air(double share) noexcept;  // 0 none .. 1: air under the skin crackles like snow
  // What one listens with, and which of the things besides breath and findings sound: with an
  // instrument from data/instruments and a mix that is not clean. Neither moves the patient.
  void set_instrument(const Instrument& instrument) noexcept;
  void put_instrument_away() noexcept;  // plain again, as after make()
  void set_realness(Realness realness) noexcept { set_layers(mix_of(realness)); }
  void set_layers(const LayerMix& mix) noexcept;
  // The recorder is switched on now: its click, where the instrument has one.
  void start_recorder() noexcept;

  void render(const patient::Snapshot& at_block_end, std::span<float> out) noexcept;

  // Truth events since the last call, oldest first; returns how many were written.
  std::size_t drain_truth(std::span<TruthEvent> out) noexcept;
  // Ends events that are still going on (call once, at the end of a recording).
  void finish_truth() noexcept;
  std::uint64_t truth_events_lost() const noexcept;

  // How well a finding could be heard here now, against breath sound and the noise around.
  struct Audibility {
    double background_dbfs = -120.0;  // 100..1000 Hz
    double normal_breath_db = 0.0;    // breath sound above the noise around in its clearest band
    bool breath_is_audible = false;
    double breath_mean_square = 0.0;  // of breath sound at the skin, behind the wall: 100..1000 Hz
    double least_wheeze_dbfs = -120.0;   // level of a 400 Hz tone that could just be heard
    double least_crackle_dbfs = -120.0;  // peak of a 250 Hz crackle that could just be heard
  };
  Audibility audibility() const noexcept;
  // Groups of eight sources that cost time in the last block.
  std::size_t active_groups() const noexcept;

 private:
  struct Renderer;
  explicit Chestpiece(std::unique_ptr<Renderer> renderer) noexcept;
  std::unique_ptr<Renderer> renderer_;
};

}  // namespace phren::acoustics
