#include "app/engine/readout.h"

namespace phren::app {

void read_state(const Engine& engine, std::span<double, kStateLength> out) noexcept {
  const patient::Snapshot& s = engine.now();
  const patient::Monitor m = engine.patient().monitor();
  const acoustics::Chestpiece::Audibility heard = engine.audibility();
  std::size_t i = 0;
  const auto put = [&](double value) { out[i++] = value; };
  for (const double value :
       {s.time_s, static_cast<double>(s.phase), static_cast<double>(s.breath_count),
        s.trachea_flow_L_per_s, s.total_volume_L, s.muscle_pressure_cmH2O, s.upper_airway.narrowing,
        m.co2_mmHg, m.respiratory_rate_per_min, m.spo2_percent, m.etco2_mmHg, m.heart_rate_per_min,
        m.systolic_mmHg, m.diastolic_mmHg, m.temperature_C}) {
    put(value);
  }
  for (const patient::LobeState& l : s.lobe) {
    for (const double value :
         {l.flow_L_per_s, l.volume_fraction, l.airway_radius_ratio, l.flow_limitation,
          l.consolidation, l.lung_water, l.secretions, l.bronchus_blocked ? 1.0 : 0.0}) {
      put(value);
    }
  }
  for (const patient::PleuraState& side : s.pleura) {
    put(side.gas_L);
    put(side.fluid_L);
  }
  put(heard.background_dbfs);
  put(heard.normal_breath_db);
  put(heard.breath_is_audible ? 1.0 : 0.0);
  for (const patient::LobeState& l : s.lobe) {
    for (const double value :
         {l.choke_speed_m_per_s, l.choke_half_gap_mm, l.volume_L, l.alveolar_pressure_cmH2O}) {
      put(value);
    }
  }
  put(s.pleura[0].pressure_cmH2O);
  put(s.pleura[1].pressure_cmH2O);
  put(s.upper_airway.jet_speed_m_per_s);
  put(m.has_pulse ? 1.0 : 0.0);
}

void write_event(const acoustics::TruthEvent& event, std::span<double, kEventLength> out) noexcept {
  out[0] = static_cast<double>(event.sound);
  out[1] = static_cast<double>(event.phase);
  out[2] = static_cast<double>(event.region);
  out[3] = event.start_s;
  out[4] = event.end_s;
  out[5] = event.pitch_hz;
  out[6] = event.level_above_background_db;
  out[7] = event.audible ? 1.0 : 0.0;
}

void read_signs(const Engine& engine, std::span<double, kSignsLength> out) noexcept {
  const patient::Signs s = engine.patient().signs();
  std::size_t i = 0;
  const auto put = [&](double value) { out[i++] = value; };
  for (const double value :
       {s.work_of_breathing, s.accessory_muscles, s.retractions, s.nasal_flaring, s.exhaustion,
        s.anxiety, s.tripod ? 1.0 : 0.0, s.cyanosis, s.pallor, s.diaphoresis, s.urticaria,
        s.angioedema, s.jugular_venous_mmHg, s.tracheal_deviation, s.chest_rise[0],
        s.chest_rise[1]}) {
    put(value);
  }
  for (const patient::Percussion note : s.percussion) put(static_cast<double>(note));
  for (const double value :
       {s.subcutaneous_air, s.frothy_sputum, s.gurgling, static_cast<double>(s.consciousness),
        static_cast<double>(s.speech), s.capillary_refill_s}) {
    put(value);
  }
}

}  // namespace phren::app
