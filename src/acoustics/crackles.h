// Crackles: airways that have shut and pop open, each at its own place in the breath's volume.
//
// Shapes:  process() adds each lobe's crackles to its lane of `lobes` (one Lanes per frame).
// Units:   IDW and 2CD in ms at the source.
// Errors:  none; nothing allocates; at most kVoices sound at once, the oldest gives way.
// Source:  waveform y(t) = sin(4 pi t^a) (1 + cos 2 pi (sqrt t - 1/2)) / 2, a = log 0.25 / log(IDW
// /
//          2CD) (Kiyokawa 2001, from memory; its zeros are proved in the tests); same volume breath
//          after breath (Nath & Capel 1974); counts 1.80:1, polarity 76 and 31 % negative, pitch up
//          80 Hz from early to late inspiration (Vyshedskiy 2009, 2012).
#pragma once

#include "acoustics/lanes.h"
#include "acoustics/musical.h"
#include "acoustics/scene.h"
#include "base/random.h"

namespace phren::acoustics {

// One sample of the crackle waveform, t = time / 2CD in 0..1, width_ratio = IDW / 2CD.
double crackle_wave(double t, double width_ratio) noexcept;

class Crackles {
 public:
  Crackles(Seed seed, const Torso& torso) noexcept;
  void update(const Scene& scene, MusicalSounds& musical) noexcept;
  void process(Lanes* lobes, std::size_t frames) noexcept;
  bool is_audible() const noexcept { return sounding_ > 0; }

 private:
  static constexpr std::size_t kFine = 48, kCoarse = 32, kPerLobe = kFine + kCoarse;
  static constexpr std::size_t kVoices = 40;
  static constexpr std::size_t kShapes = 6, kShapeLength = 384;
  struct Airway {
    float z = 0.0f;            // its opening place in standard deviations from the lobe's mean
    float gap = 0.05f;         // it shuts at a volume smaller by this
    float shift = 0.0f;        // small change of the opening volume from breath to breath
    float needs_count = 0.0f;  // it takes part when the lobe's count is above this
    float width_ratio = 0.14f;
    float width_factor = 1.0f;  // of 2CD
    float loudness = 1.0f;
    float negative = 0.0f, shuts_aloud = 0.0f;  // uniform draws
    std::uint8_t point = 0;
    bool open = true;
  };
  struct Voice {
    float position = 1.0f, step = 0.0f, gain = 0.0f;
    std::uint16_t shape = 0, lane = 0, delay = 0;
    bool on = false;
  };
  struct Pop {
    std::size_t lobe;
    bool fine, opening;
    double at;  // share of the chunk
  };
  void pop(const Scene& scene, const Airway& airway, const Pop& what,
           MusicalSounds& musical) noexcept;

  std::array<std::array<Airway, kPerLobe>, exam::kNumLobes> airways_;
  std::array<std::array<float, kShapeLength + 2>, kShapes> shapes_;
  std::array<Voice, kVoices> voices_;
  RandomStream jitter_;
  std::size_t next_voice_ = 0, sounding_ = 0;
  bool started_ = false;
};

}  // namespace phren::acoustics
