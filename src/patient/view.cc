// What others see of a patient: the snapshot for acoustics, the monitor, the bedside, the truth.
#include "base/det_math.h"
#include "patient/patient.h"

namespace phren::patient {
namespace {

using enum Mechanism;

using det::clamp;

}  // namespace

Snapshot Patient::snapshot() const noexcept {
  const Load& load = course_.load();
  const Flows& f = mechanics_.flows();
  const double t = time_s();
  Snapshot s;
  s.time_s = t;
  s.phase = phase_;
  s.breath_count = breath_count_;
  s.since_phase_s = t - phase_start_s_;
  s.trachea_flow_L_per_s = f.trachea_L_per_s;
  s.muscle_pressure_cmH2O = f.muscle_cmH2O;
  s.total_volume_L = mechanics_.gas_L();
  s.voice = breathing_.voice(t);
  const std::array<double, kLobes> felt = felt_water();
  for (std::size_t i = 0; i < kLobes; ++i) {
    LobeState& l = s.lobe[i];
    const LobeParameters& p = mechanics_.parameters().lobe[i];
    const LobeShape& shape = body_.shape[i];
    const double v = mechanics_.state().volume_L[i];
    const std::size_t side = side_index(i);
    l.flow_L_per_s = f.lobe_L_per_s[i];
    l.volume_L = v;
    l.volume_fraction = clamp((v - p.rv_L) / (p.tlc_L - p.rv_L), 0.0, 1.0);
    l.inflation = clamp(v / p.tlc_L, 0.0, 1.3);
    const double tidal = last_tidal_L_[i] > 1e-6 ? last_tidal_L_[i] : 1e-6;
    l.breath_fraction = clamp((v - breath_low_L_[i]) / tidal, 0.0, 1.0);
    l.alveolar_pressure_cmH2O = f.alveolar_cmH2O[i];
    l.pleural_pressure_cmH2O = f.pleural_cmH2O[side] + p.pleural_offset_cmH2O;
    l.airway_radius_ratio = shape.radius_ratio;
    l.resistance_cmH2O_s_per_L =
        f.lobe_L_per_s[i] >= 0.0 ? p.inspiratory_r_cmH2O_s_per_L : p.expiratory_r_cmH2O_s_per_L;
    l.flow_limitation = f.limitation[i];
    // The slit opens with lobe volume and closes as radius shrinks.
    const double gap = shape.choke_half_gap_mm * (0.5 + 0.5 * l.volume_fraction);
    l.choke_half_gap_mm = gap;
    const double area_mm2 = 2.0 * gap * shape.choke_width_mm;
    const double flow = l.flow_L_per_s < 0.0 ? -l.flow_L_per_s : l.flow_L_per_s;
    l.choke_speed_m_per_s = 1000.0 * flow / area_mm2;
    l.limited_volume_mL = 1000.0 * limited_L_[i];
    l.secretions = load.at_lobe(kMucus, i);
    l.consolidation = load.at_lobe(kConsolidation, i);
    l.lung_water = 1.0 - (1.0 - felt[i]) * (1.0 - load.at_lobe(kLungWater, i));
    l.fibrosis = load.at_lobe(kFibrosis, i);
    l.emphysema = load.at_lobe(kEmphysema, i);
    l.squeeze_cmH2O = l.pleural_pressure_cmH2O - f.carina_cmH2O;
    l.bronchus_narrowing = load.at_lobe(kBronchusNarrowing, i);
    l.bronchus_blocked = l.bronchus_narrowing > 0.97 || load.at_side(kTubeTooDeep, side) > 0.9;
    // Mucus crackles where its film is thick enough to bridge the airway and the airway wide enough
    // for the bridge to break: not where there is little of it, nor where it fills the airway. That
    // a film bridges beyond some thickness over radius: Gauglitz & Radke 1988 (from memory); where
    // that begins and ends is our choice. A shallow breath opens fewer airways.
    const double film = l.secretions / l.airway_radius_ratio;
    const double bridges = clamp((film - 0.25) / 0.3, 0.0, 1.0) * clamp(4.0 - 2.0 * film, 0.0, 1.0);
    const double wide = l.airway_radius_ratio * l.airway_radius_ratio * bridges;
    const double usual = 0.5 * kLobeShare[i] * breathing_.parameters().resting_tidal_L;
    const double deep = clamp(last_tidal_L_[i] / usual, 0.0, 1.0);
    l.reopening.fine_count = deep * (load.at_lobe(kFineOpenings, i) + 70.0 * l.lung_water);
    l.reopening.coarse_count =
        deep * (load.at_lobe(kCoarseOpenings, i) + 10.0 * l.secretions * wide +
                25.0 * l.lung_water * l.lung_water);
    // Small airways reopen late in the breath; stiff ones later still, wet and mucous ones earlier.
    const bool late = l.reopening.fine_count > 2.0 * l.reopening.coarse_count;
    l.reopening.opening_mean = late ? 0.62 + 0.15 * l.fibrosis : 0.38;
    l.reopening.opening_sd = late ? 0.16 : 0.20;
  }
  for (std::size_t k = 0; k < 2; ++k) {
    const double fluid = mechanics_.parameters().side[k].fluid_L;
    s.pleura[k].gas_L = mechanics_.state().pleural_gas_L[k];
    s.pleura[k].fluid_L = fluid;
    const double apart = clamp((fluid + s.pleura[k].gas_L) / (0.1 * reference_.frc_L), 0.0, 1.0);
    s.pleura[k].friction = load.at_side(kPleuralFriction, k) * (1.0 - apart);
    s.pleura[k].pressure_cmH2O = f.pleural_cmH2O[k];
    s.pleura[k].air_under_skin =
        1.0 - (1.0 - skin_air_) * (1.0 - load.at_side(kSubcutaneousAir, k));
  }
  UpperAirwayState& u = s.upper_airway;
  const UpperAirwayParameters& up = mechanics_.parameters().upper;
  const double trachea = load.of_body(kTracheaNarrowing);
  u.flow_L_per_s = f.trachea_L_per_s;
  // Suction in the throat while breathing in draws its walls together.
  const double suction = f.trachea_L_per_s > 0.0 ? f.mouth_cmH2O - f.carina_cmH2O : 0.0;
  const double drawn_in = 1.0 / det::sqrt(1.0 + suction / up.collapse_cmH2O);
  u.area_mm2 = body_.upper_area_mm2 * drawn_in;
  u.narrowing = body_.upper_narrowing;
  u.pressure_drop_cmH2O = f.mouth_cmH2O - f.carina_cmH2O;
  const double trachea_mm2 = 1.4 * reference_.glottis_area_mm2 * (1.0 - trachea);
  if (trachea > 0.0 && trachea_mm2 < u.area_mm2) {
    u.intrathoracic = true;
    u.area_mm2 = trachea_mm2;
    u.narrowing = trachea;
  }
  if (breathing_.is_whooping(t)) {
    u.area_mm2 *= 0.26;
    u.narrowing = u.narrowing > 0.74 ? u.narrowing : 0.74;
  }
  u.jet_speed_m_per_s = jet_speed_m_per_s(u.flow_L_per_s, u.area_mm2);
  u.secretions = load.of_body(kUpperSecretions);
  u.grunting = grunt_;
  s.heart.rate_per_min = circulation_.rate_per_min();
  s.heart.beat_count = circulation_.beat_count();
  s.heart.since_beat_s = circulation_.since_beat_s();
  s.heart.systole_s = clamp(0.38 - 0.0014 * (s.heart.rate_per_min - 60.0), 0.14, 0.45);
  const double stroke = circulation_.stroke_volume_L() / circulation_.resting_stroke_L();
  s.heart.loudness = clamp(0.3 + 0.7 * stroke, 0.0, 1.6) *
                     (circulation_.is_arrested() ? 0.0 : 1.0) *
                     clamp(1.0 - 2.5 * load.of_body(kPericardialFluid_L), 0.2, 1.0);
  s.heart.third_sound = clamp((circulation_.wedge_mmHg() - 22.0) / 12.0, 0.0, 1.0) *
                        clamp(2.5 * load.of_body(kHeartWeakness), 0.0, 1.0);
  return s;
}

Monitor Patient::monitor() const noexcept {
  Monitor m;
  const double since = time_s() - last_breath_s_;
  double sum = 0.0;
  int n = 0;
  for (double interval : intervals_s_) {
    if (interval > 0.0 && n < 4) {
      sum += interval;
      ++n;
    }
  }
  const double usual = n > 0 ? sum / n : 4.0;
  m.respiratory_rate_per_min = since > 20.0 ? 0.0 : 60.0 / (since > 1.5 * usual ? since : usual);
  m.spo2_percent = spo2_;
  m.etco2_mmHg = since > 20.0 ? 0.0 : etco2_mmHg_;
  m.co2_mmHg = co2_now_;
  m.systolic_mmHg = circulation_.systolic_mmHg();
  m.diastolic_mmHg = circulation_.diastolic_mmHg();
  // A pulse in a big artery is lost below about 40 systolic at this person's 120 (from memory).
  m.has_pulse = m.systolic_mmHg > 0.34 * reference_.systolic_mmHg && !circulation_.is_arrested();
  m.heart_rate_per_min = circulation_.rate_per_min();
  m.temperature_C = temperature_C_;
  m.plateau_slope_mmHg_per_s = plateau_slope_mmHg_per_s_;
  m.is_capnogram_obstructive = is_capnogram_obstructive_ && since < 20.0;
  return m;
}

Inside Patient::inside() const noexcept {
  Inside x;
  x.pao2_mmHg = gas_.pao2_mmHg();
  x.paco2_mmHg = gas_.paco2_mmHg();
  x.sao2 = gas_.carried();
  x.ph = gas_.ph();
  x.lactate_mmol_per_L = gas_.state().lactate_mmol_per_L;
  x.venous_saturation = gas_.venous_saturation();
  x.cardiac_output_L_per_min = 60.0 * circulation_.output_L_per_s();
  x.mean_arterial_mmHg = circulation_.mean_arterial_mmHg();
  x.wedge_mmHg =
      circulation_.wedge_mmHg() - 4.0 + (mean_pleural_cmH2O_ - rest_pleural_cmH2O_) / 1.3595;
  x.right_atrial_mmHg = circulation_.right_atrial_mmHg();
  x.end_expiratory_L = end_expiratory_L_;
  x.intrinsic_peep_cmH2O = peep_cmH2O_;
  x.tidal_L = tidal_L_;
  x.minute_ventilation_L = tidal_L_ * monitor().respiratory_rate_per_min;
  x.drive = breathing_.drive();
  x.effort_cmH2O = breathing_.effort_cmH2O();
  x.fatigue = breathing_.fatigue();
  x.shunt = 0.0;
  for (std::size_t i = 0; i < kLobes; ++i) x.shunt += blood_.share[i] * blood_.shunt[i];
  x.lung_water = body_.lung_water_mean;
  x.least_pleural_cmH2O = last_pleural_low_;
  x.most_pleural_cmH2O = last_pleural_high_;
  x.carboxyhaemoglobin = gas_.carboxyhaemoglobin();
  x.brain_injury_min = brain_injury_min_;
  x.heart_store = circulation_.heart_store();
  x.stomach_L = stomach_L_;
  x.arousal = arousal_;
  x.bicarbonate_mmol_per_L = bicarbonate(gas_.paco2_mmHg(), gas_.base_bicarbonate());
  return x;
}

Signs Patient::signs() const noexcept {
  const Load& load = course_.load();
  Signs s;
  const double effort = breathing_.effort_cmH2O() / breathing_.parameters().resting_effort_cmH2O;
  const double quick =
      monitor().respiratory_rate_per_min / breathing_.parameters().resting_rate_per_min;
  // What an onlooker takes for labour is force and haste together (our choice).
  const double labour = effort * det::sqrt(quick > 1.0 ? quick : 1.0);
  const double work = clamp((labour - 1.6) / 6.0, 0.0, 1.0);
  s.work_of_breathing = clamp(work + 0.1 * clamp(breathing_.drive() - 1.5, 0.0, 4.0), 0.0, 1.0);
  s.accessory_muscles = clamp((labour - 2.0) / 3.0, 0.0, 1.0);
  const bool child = person_.age_years < 8.0;
  const double swing = last_pleural_high_ - last_pleural_low_;
  s.retractions = clamp((swing - (child ? 9.0 : 16.0)) / (child ? 12.0 : 20.0), 0.0, 1.0);
  s.nasal_flaring = child ? clamp((effort - 1.8) / 3.0, 0.0, 1.0) : 0.3 * s.accessory_muscles;
  s.exhaustion = clamp(breathing_.fatigue() * 1.6, 0.0, 1.0);
  s.anxiety =
      clamp(load.of_body(kAnxiety) + 0.12 * clamp(breathing_.drive() - 2.0, 0.0, 6.0), 0.0, 1.0) *
      arousal_;
  s.tripod = person_.age_years > 3.0 && s.work_of_breathing > 0.45 && arousal_ > 0.6 &&
             posture_ == Posture::kSitting;
  // Blue skin needs about 4-5 g/dL of reduced haemoglobin in the capillaries (from memory).
  const double reduced = reference_.haemoglobin_g_per_dL * (1.0 - gas_.carboxyhaemoglobin()) *
                         (1.0 - 0.5 * (gas_.sao2() + gas_.venous_saturation()));
  s.cyanosis = clamp((reduced - 4.3) / 3.0, 0.0, 1.0);
  const double output =
      circulation_.output_L_per_s() / (reference_.cardiac_output_L_per_min / 60.0);
  const double tone = clamp(circulation_.sympathetic(), 0.0, 1.4);
  s.pallor =
      clamp(0.7 * tone + (output < 0.8 ? 0.8 - output : 0.0) - 0.5 * load.of_body(kVasodilation),
            0.0, 1.0);
  s.diaphoresis =
      clamp(0.9 * tone + 0.5 * load.of_body(kSympatheticSurge) + 0.4 * s.work_of_breathing +
                0.3 * clamp((breathing_.drive() - 2.0) / 6.0, 0.0, 1.0) - 0.35,
            0.0, 1.0);
  s.urticaria = load.of_body(kHistamine);
  s.angioedema = clamp(1.4 * load.of_body(kHistamine) - 0.4, 0.0, 1.0);
  s.jugular_venous_mmHg = circulation_.jugular_mmHg();
  const double shift = mean_shift_L_ / (0.22 * reference_.frc_L);
  s.tracheal_deviation = clamp(shift, -1.0, 1.0);
  const double rest = breathing_.parameters().resting_tidal_L;
  s.chest_rise = {(last_tidal_L_[0] + last_tidal_L_[1] + last_tidal_L_[2]) / (0.533 * rest),
                  (last_tidal_L_[3] + last_tidal_L_[4]) / (0.467 * rest)};
  for (std::size_t i = 0; i < kLobes; ++i) {
    const std::size_t k = side_index(i);
    const double size = reference_.frc_L / 3.0;
    const double gas = mechanics_.state().pleural_gas_L[k] / size;
    const double fluid = mechanics_.parameters().side[k].fluid_L / size;
    const bool low = i == 2 || i == 4;
    const double filled = load.at_lobe(kConsolidation, i) + 0.6 * load.at_lobe(kCollapse, i);
    const double over = mechanics_.state().volume_L[i] / (reference_.frc_L * kLobeShare[i]);
    s.percussion[i] = (low && fluid > 0.35) || fluid > 1.4 ? Percussion::kStonyDull
                      : gas > 0.35                         ? Percussion::kHyperresonant
                      : filled > 0.35                      ? Percussion::kDull
                      : over > 1.55 || load.at_lobe(kEmphysema, i) > 0.35
                          ? Percussion::kHyperresonant
                          : Percussion::kResonant;
  }
  double under_skin = skin_air_;
  for (std::size_t k = 0; k < 2; ++k) {
    under_skin = 1.0 - (1.0 - under_skin) * (1.0 - load.at_side(kSubcutaneousAir, k));
    s.flail[k] = load.at_side(kFlail, k) * (1.0 - 0.8 * (load.of_body(kAssistedVolume) > 0.3));
  }
  s.subcutaneous_air = under_skin;
  s.frothy_sputum = clamp((body_.lung_water_mean - 0.35) / 0.3, 0.0, 1.0);
  s.gurgling = clamp(load.of_body(kUpperSecretions) * (1.4 - arousal_), 0.0, 1.0);
  s.consciousness = arousal_ > 0.75   ? Consciousness::kAlert
                    : arousal_ > 0.45 ? Consciousness::kVoice
                    : arousal_ > 0.2  ? Consciousness::kPain
                                      : Consciousness::kUnresponsive;
  s.has_agonal_breaths = breathing_.manoeuvre() == Manoeuvre::kGasp;
  // The belly sinks as the chest rises: a tired or weak diaphragm, and the soft chest of infants
  // behind a narrow airway (from memory).
  const double left = breathing_.most_effort_cmH2O() / breathing_.parameters().strength_cmH2O;
  s.abdominal_paradox = clamp((0.5 - left) / 0.3, 0.0, 1.0) * clamp(effort - 0.2, 0.0, 1.0) +
                        (person_.age_years < 2.0 ? s.retractions : 0.0);
  if (s.abdominal_paradox > 1.0) s.abdominal_paradox = 1.0;
  s.pulsus_paradoxus_mmHg = circulation_.paradoxus_mmHg(
      (last_pleural_high_ - last_pleural_low_) / 1.3595, demand_.pericardial_mmHg);
  // Hunger for air, effort and a fast rate each cut sentences short (weights are our choice).
  const double d = 0.8 * (breathing_.drive() - 1.0) + 0.55 * (effort - 1.0) +
                   0.9 * (quick > 1.0 ? quick - 1.0 : 0.0);
  s.speech = person_.age_years < 1.5 ? Speech::kTooYoung
             : arousal_ < 0.45 || body_.upper_narrowing > 0.97 || brainstem_ < 0.3 ? Speech::kNone
             : d > 3.6                                                             ? Speech::kWords
             : d > 1.5 ? Speech::kPhrases
                       : Speech::kSentences;
  s.capillary_refill_s = clamp(
      1.4 + 1.6 * tone + (output < 0.8 ? 3.0 * (0.8 - output) : 0.0) - load.of_body(kVasodilation),
      0.8, 6.0);
  for (std::size_t c = 0; c < conditions_.size(); ++c) {
    const double severity = course_.severity(c, time_s());
    for (const ConditionFact& fact : conditions_[c].facts) {
      if (severity < fact.from_severity || severity <= 0.0) continue;
      const auto place = static_cast<std::size_t>(fact.fact.get());
      s.facts |= std::uint64_t{1} << place;
      s.fact_side[place] = fact.side;
    }
  }
  return s;
}

}  // namespace phren::patient
