// Short damped notes: heart sounds, bubbles, grains of a pleural rub.
//
// Shapes:  process() adds each note to its own destination, `frames` samples long.
// Units:   levels as peak amplitude before the wall.
// Errors:  none; nothing allocates; at most kVoices sound at once, the oldest gives way.
// Source:  heart sounds mostly below 150 Hz, falling 6-7 dB per octave (Sakai 1971); rub below 350
//          Hz, events over 15 ms, both phases (NEJM 2014 table). Levels, bubble pitch: ENGINEERING.
#pragma once

#include "acoustics/lanes.h"
#include "acoustics/scene.h"
#include "base/random.h"

namespace phren::acoustics {

class Pings {
 public:
  enum class To { kWindpipe, kChest, kHeart, kEar };
  struct Note {
    double pitch_hz = 100.0, decay_s = 0.03, attack_s = 0.004, level = 0.1, delay_s = 0.0;
    To to = To::kChest;
  };
  void strike(const Note& note, double sample_rate_hz) noexcept;
  // Where each note goes: through the large airways, straight to the skin, the heart's way, or
  // through the air to the ear.
  struct Ways {
    float *windpipe, *chest, *heart, *ear;
  };
  void process(const Ways& ways, std::size_t frames) noexcept;
  bool is_audible() const noexcept { return sounding_ > 0; }

 private:
  static constexpr std::size_t kVoices = 48;
  struct Voice {
    float cosine = 0.0f, sine = 1.0f;       // rotation per sample
    float x = 0.0f, y = 0.0f;               // the turning point
    float rise = 0.0f, rise_factor = 0.0f;  // 1 - rise is the attack
    float level = 0.0f, decay_factor = 0.0f;
    std::uint32_t delay = 0;
    To to = To::kChest;
    bool on = false;
  };
  std::array<Voice, kVoices> voices_;
  std::size_t next_ = 0, sounding_ = 0;
};

// What strikes them: the beating heart, the rubbing pleura, bubbling secretions in the throat.
class BodyNotes {
 public:
  BodyNotes(Seed seed, const BodyScale& scale) noexcept;
  void update(const Scene& scene, Pings& pings) noexcept;
  void finish(TruthRing& truth) noexcept;
  // 1 over the base of the heart, where the second sound leads, .. 0 over its apex.
  void set_heart_base(double share) noexcept { heart_base_ = share; }

 private:
  void beat(const Scene& scene, Pings& pings) noexcept;
  void rub(const Scene& scene, Pings& pings) noexcept;
  void bubble(const Scene& scene, Pings& pings) noexcept;

  struct Span {  // one event that lasts as long as its grains follow each other
    bool open = false;
    TruthEvent event;
  };
  void extend(const Scene& scene, Span& span, exam::Sound sound, Region region, double pitch_hz,
              double peak) noexcept;
  static void settle(TruthRing& truth, Span& span) noexcept;

  void first_sound(const Scene& scene, double late, Pings& pings) noexcept;
  static void tell_heart(const Scene& scene, exam::Sound sound, double start_s, double length_s,
                         double pitch_hz, double level) noexcept;
  void second_sound(const Scene& scene, Pings& pings) noexcept;

  RandomStream draw_, beats_;
  double heart_base_ = 0.5;
  double beat_level_ = 1.0;  // of this beat, as on a patient
  BodyScale scale_;
  std::array<double, 2> moved_L_{}, next_grain_L_{};
  double next_bubble_s_ = 0.0;
  std::array<Span, 3> spans_;  // rub right, rub left, gurgle
};

}  // namespace phren::acoustics
