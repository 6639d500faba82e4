// Short noises of contact: two damped modes struck at once, a soft knock, a grainy rub, a
// recorder's click.
//
// Shapes:  process() adds `frames` samples. Units: full scale at the chestpiece; Hz; s.
// Errors:  none; nothing allocates; when all voices sound the oldest gives way.
// Source:  shapes measured on recordings: two to eight half-cycles, 5-24 ms, no preferred polarity.
#pragma once

#include "acoustics/lanes.h"
#include "base/random.h"

namespace phren::acoustics {

class Transients {
 public:
  Transients(Seed seed, double sample_rate_hz) noexcept;
  struct Blow {
    double pitch_hz = 200.0, q = 2.0;
    double peak = 0.0;                     // signed
    double second_ratio = 2.0, mix = 0.3;  // second mode: pitch against the first, amplitude
    bool soft = false;                     // rises slowly: nothing above its pitch
    double delay_s = 0.0;
  };
  void strike(const Blow& blow) noexcept;
  struct Rub {
    double low_hz = 110.0, high_hz = 400.0, length_s = 0.1;
    double level = 0.0;  // root mean square in its middle
    double grain_db = 6.0;
  };
  void rub(const Rub& rub) noexcept;
  // A step of this height through the recorder's own band, as when it is switched on; or a
  // rectangle so long.
  void click(double height, double length_s, double delay_s) noexcept;
  void process(float* out, std::size_t frames) noexcept;
  bool is_audible() const noexcept { return sounding_; }

 private:
  static constexpr std::size_t kBlows = 24, kRubs = 4, kClicks = 12;
  struct Mode {
    float cosine = 1.0f, sine = 0.0f, x = 0.0f, y = 0.0f;
  };
  struct BlowVoice {
    Mode first, second;
    float mix = 0.0f, level = 0.0f, size = 0.0f, decay = 0.0f, second_size = 0.0f,
          second_decay = 0.0f;
    float rise = 0.0f, rise_step = 0.0f;
    std::uint32_t delay = 0;
    bool soft = false, on = false;
  };
  struct RubVoice {
    Filter low, high;
    LaneBits noise{};
    double grain_db = 0.0;
    float level = 0.0f, gain = 1.0f;
    double grain = 0.0;
    std::uint32_t at = 0, length = 0;
    bool on = false;
  };
  struct ClickVoice {
    float height = 0.0f;
    std::uint32_t from = 0, to = 0;
    bool on = false;
  };
  void process_blow(BlowVoice& v, float* out, std::size_t frames) const noexcept;
  void process_rub(RubVoice& v, float* out, std::size_t frames) noexcept;
  void process_clicks(float* out, std::size_t frames) noexcept;

  double sample_rate_hz_;
  RandomStream draw_;
  std::array<BlowVoice, kBlows> blows_;
  std::array<RubVoice, kRubs> rubs_;
  std::array<ClickVoice, kClicks> clicks_;
  Filter click_high_, click_low_;
  std::uint32_t click_tail_ = 0;
  std::size_t next_blow_ = 0, next_rub_ = 0, next_click_ = 0;
  bool sounding_ = false;
};

}  // namespace phren::acoustics
