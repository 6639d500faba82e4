// How sound gets from each place in the chest to one point of the skin, as gains and corners.
//
// Units:   distances cm, corners Hz, gains as amplitude ratios (1 = a source 4.5 cm under the skin
//          of an adult of middle build).
// Errors:  none. Threads: pure functions.
// Source:  the way from trachea to chest wall: one peak at 143 Hz (upper) or 129 Hz (lower), Q 2.0
//          and 2.2, falls of 10 and 17 dB per octave between 300 and 600 Hz (Wodicka & Shannon
//          1990); transit times (Mahagnah & Gavriely 1995); speed in lung as in a froth (Rice
//          1983); effusion (Yonemaru 1991, dogs). Loss with distance, wall, gas: ENGINEERING.
#pragma once

#include <array>

#include "acoustics/torso.h"
#include "patient/types.h"

namespace phren::acoustics {

struct AirwayPath {
  double gain = 0.0;
  double peak_hz = 143.0;
  double q = 2.0;
  double band_mix = 0.0;  // share of the band-pass output: softens the fall above the peak
  double pole_hz = 4000.0;
  double delay_s = 0.0;
};

// The way through solid lung as a band: little is lost above 300 Hz (Kompis 1997, one patient).
inline constexpr double kOpenQ = 0.55, kOpenPole_hz = 1600.0;
double open_power(double f_hz, double centre_hz) noexcept;

struct Hearing {
  std::array<double, kNumPoints> point_gain{};
  std::array<double, kNumPoints> point_pole_hz{};
  std::array<double, exam::kNumLobes> lobe_gain{};     // root of the mean square over its points
  std::array<double, exam::kNumLobes> lobe_pole_hz{};  // weighted by what is heard
  // Sharp sounds from within tissue lose their edge on the way, whatever state the lung is in.
  std::array<double, exam::kNumLobes> crackle_pole_hz{};
  AirwayPath airway;              // trachea and large airways through healthy lung
  double open_gain = 0.0;         // the same through consolidated lung: highs kept
  double open_centre_hz = 600.0;  // of its band
  double neck_gain = 0.0;         // straight through the skin of the neck
  double heart_gain = 0.0;
  std::array<double, 2> pleura_gain{};  // rub of each side
  double wall_gain = 1.0;
  double wall_pole_hz = 1000.0;
  double fluid_low_db = 0.0;   // shelf below 300 Hz
  double fluid_high_db = 0.0;  // shelf above 500 Hz
  double gas_gain = 1.0;
};

// Gas in each lobe at the end of a breath out, as a share of what it holds at most. Sound has
// a harder way through blown-up lung, above all its highs: 24 -> 80 % of total capacity costs 1.7
// dB at 200 Hz and 12.6 dB at 400 Hz (seven adults, Physiol Meas). What breathing itself changes is
// part of the other figures.
using RestingVolume = std::array<double, exam::kNumLobes>;

Hearing hear(const Torso& torso, const patient::Person& person, const SkinPoint& skin,
             const patient::Snapshot& now, const RestingVolume& resting = {}) noexcept;

// Share of a point's lung that lies under pleural fluid, 0..1 (it is squeezed and silent).
double submerged(const Torso& torso, const Vec3& at, const patient::PleuraState& side) noexcept;

// Loss in dB below 300 Hz for pleural fluid of so many mL per kg body weight and side.
double effusion_loss_db(double fluid_mL_per_kg) noexcept;

// Speed of sound in lung taken as a froth (Wood): gas_fraction of the volume is gas at
// pressure_atm, isothermal; tissue density 1 g/mL.
double lung_sound_speed_m_per_s(double gas_fraction, double pressure_atm) noexcept;

}  // namespace phren::acoustics
