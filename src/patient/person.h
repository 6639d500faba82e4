// What a healthy person of this age, sex and size is: volumes, stiffness, resistance, rates.
//
// Units:   in the names. Errors: complete() names the field, value and allowed range.
// Source:  per function in person.cc: GLI 2021 static volumes, Tepper 1993 infant FRC, Merkus 2002
//          interrupter resistance, Papastamelos 1995 chest wall, Numa & Newth 1996 dead space,
//          Schofield 1985 oxygen use, NHANES III and GLI directions for the flow of the old, pressures
//          of newborns to elders (pm 2741863, Pediatr Int 2012, NHSR 35), blood volumes and carbon
//          dioxide by age (textbooks, from memory), Fleming 2011 rates (centile rows from memory), ANSUR II torso size.
#pragma once

#include "base/result.h"
#include "patient/types.h"

namespace phren::patient {

struct Reference {
  double ideal_weight_kg = 60.0;
  double frc_L = 3.0, tlc_L = 6.0, rv_L = 1.4;
  double lung_recoil_cmH2O = 6.0;  // at FRC
  double chest_wall_compliance_L_per_cmH2O = 0.19;
  double resistance_cmH2O_s_per_L = 2.5;  // airways and tissue, quiet inspiration
  double dead_space_L = 0.15;
  double oxygen_use_mL_per_min = 240.0;
  double exchange_ratio = 0.8;
  double respiratory_rate_per_min = 15.0;
  double inspired_share = 0.4;  // TI / Ttot
  double heart_rate_per_min = 72.0;
  double systolic_mmHg = 120.0, diastolic_mmHg = 75.0;
  double cardiac_output_L_per_min = 5.0;
  double haemoglobin_g_per_dL = 14.0;
  double muscle_strength_cmH2O = 100.0;  // greatest inspiratory pressure at FRC
  double low_vq = 0.1;                   // share of blood past poorly ventilated lung
  double shunt = 0.02;
  double glottis_area_mm2 = 150.0;
  double upper_collapse_cmH2O = 40.0;  // inspiratory suction that narrows the throat notably
  double wall_load_cmH2O = 0.0;        // weight on the chest wall: obesity
  double blood_L_per_kg = 0.070;
  double paco2_mmHg = 40.0, bicarbonate_mmol_per_L = 24.0;
  double half_saturation_ratio = 1.0;  // fetal haemoglobin holds oxygen tighter
  double sinus_arrhythmia_per_min = 8.0;
  double emptying_s = 0.5;  // time constant of the healthy flow cap
};

// Fills the tissue and torso fields of a person from age, height, weight and muscle.
// kInvalidArgument naming the field when age, height, weight or muscle is outside 0-110 years,
// 40-220 cm, 1.5-250 kg, 0-1, or weight does not fit height.
Result<Person> complete(Person person);

Reference reference_of(const Person& person) noexcept;

double frc_infant_L(double length_cm) noexcept;
double interrupter_resistance_kPa_s_per_L(double height_cm) noexcept;
double dead_space_mL_per_kg(double age_years) noexcept;
double chest_wall_compliance_mL_per_cmH2O_per_kg(double age_years) noexcept;
double hypotension_limit_mmHg(double age_years) noexcept;
double typical_respiratory_rate_per_min(double age_years) noexcept;
double typical_heart_rate_per_min(double age_years) noexcept;
double rr_awake_median_per_min(double age_months) noexcept;  // Rusconi 1994, 0-36 months

}  // namespace phren::patient
