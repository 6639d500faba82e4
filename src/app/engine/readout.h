// What a page reads of the running engine: rows of numbers at fixed places.
//
// Shapes:  state: kStateLength numbers, event: kEventLength numbers, signs: kSignsLength; the lists
//          below name each place. Booleans are 0 or 1; enumerations their number.
#pragma once

#include <array>
#include <cstddef>
#include <span>

#include "acoustics/types.h"
#include "app/engine/engine.h"

namespace phren::app {

// 0 time s, 1 phase, 2 breath count, 3 flow at the mouth L/s, 4 gas in the lungs L, 5 muscle
// pressure cmH2O, 6 narrowing of the throat, 7 CO2 at the mouth mmHg, 8 breaths/min, 9 SpO2 %, 10
// EtCO2 mmHg, 11 heart rate, 12 and 13 blood pressure mmHg, 14 temperature C; then per lobe from
// 15: flow L/s, volume fraction, airway radius ratio, flow limitation, consolidation, lung water,
// secretions, bronchus blocked; then 55 right gas L, 56 right fluid L, 57 left gas L, 58 left fluid
// L; 59 background dBFS, 60 breath sound above noise dB, 61 breath sound audible; then from 62 per
// lobe: gas speed in the choke m/s, half-gap mm, volume L, alveolar pressure cmH2O; 82 and 83
// pleural pressure cmH2O right and left; 84 jet speed m/s, 85 has pulse.
inline constexpr std::size_t kStateLength = 86;
void read_state(const Engine& engine, std::span<double, kStateLength> out) noexcept;

// sound, phase, region, start s, end s, pitch Hz, level above background dB, audible.
inline constexpr std::size_t kEventLength = 8;
void write_event(const acoustics::TruthEvent& event, std::span<double, kEventLength> out) noexcept;

// 0 work of breathing, 1 accessory muscles, 2 retractions, 3 nasal flaring, 4 exhaustion, 5
// anxiety, 6 tripod, 7 cyanosis, 8 pallor, 9 diaphoresis, 10 urticaria, 11 angioedema, 12 jugular
// venous pressure mmHg, 13 tracheal deviation -1..1, 14 and 15 chest rise right and left, 16-20
// percussion per lobe, 21 subcutaneous air, 22 frothy sputum, 23 gurgling, 24 consciousness, 25
// speech, 26 capillary refill s.
inline constexpr std::size_t kSignsLength = 27;
void read_signs(const Engine& engine, std::span<double, kSignsLength> out) noexcept;

}  // namespace phren::app
