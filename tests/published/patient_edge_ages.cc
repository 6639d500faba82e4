// Ten rows for each of five ages: newborn 3.5 kg, one year 9.8 kg, six years 20.5 kg, 34 years
// 75 kg, 80 years 72 kg, all male, well, at rest, sitting unless said otherwise.
#include "patient_edge_people.h"
#include "patient_edge_rows.h"

namespace phren::patient {
namespace {

using namespace edge;

double oxygen_use(const Person& person) {
  Patient p = *patient(person);
  const double start = p.gas().ledger().oxygen_used_mL;
  wait(p, 300.0);
  return (p.gas().ledger().oxygen_used_mL - start) / 5.0;
}
double blood_mL_per_kg(const Person& person) {
  return 1000.0 * patient(person)->circulation().blood_L() / person.weight_kg;
}
Seen at_rest(const Person& person, Posture posture = Posture::kSitting) {
  Patient p = *patient(person, {}, 15.0, posture);
  return watch(p);
}
double most_heart_rate(const Person& person) {  // everything that hurries a heart at once
  Patient p = *patient(person, {}, 2.0);
  CirculationParameters c = circulation_parameters_of(p.person(), p.reference());
  Circulation heart(c);
  CirculationDemand d;
  d.surge = 1.0;
  d.added_rate_per_min = 150.0;
  for (int n = 0; n < 16 * 60; ++n) heart.step(d, 1.0 / 16.0);
  return heart.rate_per_min();
}
double index_lying(const Person& person) {
  return at_rest(person, Posture::kLying).output / body_surface_m2(person);
}
// Of this person's own haemoglobin; everybody's is an adult's if the model knows no other.
template <typename Blood>
double saturation_of(const Blood& blood, double po2_mmHg) {
  if constexpr (requires { blood.saturation_at(po2_mmHg, 7.4); }) {
    return blood.saturation_at(po2_mmHg, 7.4);
  } else {
    return saturation(po2_mmHg, 7.4);
  }
}
double fev1(const Person& person) {
  return patient(person)->forced_breath().fev1_L;
}

}  // namespace

std::vector<EdgeRow> edge_rows_by_age() {
  using enum Standing;
  const char* kSchofield = "Schofield 1985 (M), value D";
  const char* kBlood = "fpnotebook (V) newborn; others textbooks (M)";
  const char* kFleming = "Fleming 2011 centiles 10-90 (M), medians V";
  const char* kTanaka = "208 - 0.7 age, Tanaka 2001 (D)";
  const char* kCattermole =
      "cardiac index lying by body size or age (scilit 342ddc20, 797a35b0, V)";
  return {
      {"A1", "newborn, oxygen use (mL/min)", 22, 30, kSchofield, kTuned,
       [] { return oxygen_use(kNewborn); }},
      {"A2", "newborn, blood volume (mL/kg)", 80, 90, kBlood, kTuned,
       [] { return blood_mL_per_kg(kNewborn); }},
      {"A3", "newborn, PaCO2 (mmHg)", 31, 38, "textbooks, 33-36 (M)", kTuned,
       [] { return at_rest(kNewborn).paco2; }},
      {"A4", "newborn, day 1, systolic (mmHg)", 52, 76, "Pediatr Int 2012, 64 SD 12 (V)", kTuned,
       [] { return at_rest(kNewborn).sbp; }},
      {"A5", "newborn, day 1, diastolic (mmHg)", 27, 49, "Pediatr Int 2012, 38 SD 11 (V)", kTuned,
       [] { return at_rest(kNewborn).dbp; }},
      {"A6", "newborn, breaths (/min)", 34, 57, kFleming, kHolds,
       [] { return at_rest(kNewborn).rr; }},
      {"A7", "newborn, heart rate (/min)", 110, 160, "APLS range in Fleming's appendix (V)", kHolds,
       [] { return at_rest(kNewborn).hr; }},
      {"A8", "newborn, haemoglobin (g/dL)", 16, 18, "theguidewire.net (secondary, V)", kTuned,
       [] { return patient(kNewborn)->reference().haemoglobin_g_per_dL; }},
      {"A9", "newborn, output per kg against the adult's (x)", 2.3, 3.7,
       "three times, Beitr Infusionsther 1992;30:235 (V)", kTuned,
       [] { return at_rest(kNewborn).output / 3.5 / (at_rest(kAdult).output / 75.0); }},
      {"A10", "newborn, PO2 at half saturation (mmHg)", 17, 21, "18-19, self-study page (V)",
       kTuned,
       [] {
         const Patient p = *patient(kNewborn);
         double low = 5.0, high = 60.0;
         for (int n = 0; n < 40; ++n) {
           const double mid = 0.5 * (low + high);
           (saturation_of(p.gas(), mid) < 0.5 ? low : high) = mid;
         }
         return low;
       }},
      {"A11", "1 y, oxygen use (mL/min)", 68, 90, kSchofield, kTuned,
       [] { return oxygen_use(kInfant); }},
      {"A12", "1 y, blood volume (mL/kg)", 73, 82, kBlood, kTuned,
       [] { return blood_mL_per_kg(kInfant); }},
      {"A13", "1 y, PaCO2 (mmHg)", 31, 38, "textbooks, 33-36 (M)", kTuned,
       [] { return at_rest(kInfant).paco2; }},
      {"A14", "1 y, systolic (mmHg)", 82, 102, "median 90 + 2 age (V)", kTuned,
       [] { return at_rest(kInfant).sbp; }},
      {"A15", "1 y, diastolic (mmHg)", 33, 53, "41 SD 8, as quoted in the review of version 0.1",
       kTuned, [] { return at_rest(kInfant).dbp; }},
      {"A16", "1 y, breaths (/min)", 28, 46, kFleming, kHolds, [] { return at_rest(kInfant).rr; }},
      {"A17", "1 y, heart rate (/min)", 103, 140, kFleming, kHolds,
       [] { return at_rest(kInfant).hr; }},
      {"A18", "1 y, bicarbonate (mmol/L)", 19.5, 22.5, "textbooks, 20-22 (M)", kTuned,
       [] {
         const Seen s = at_rest(kInfant);
         return bicarbonate(s.paco2, patient(kInfant)->gas().base_bicarbonate());
       }},
      {"A19", "1 y, cardiac index lying (L/min/m2)", 2.7, 4.4, kCattermole, kTuned,
       [] { return index_lying(kInfant); }},
      {"A20", "1 y, greatest heart rate (/min)", 205, 225, "infants 210-220 (M)", kTuned,
       [] { return most_heart_rate(kInfant); }},
      {"A21", "6 y, oxygen use (mL/min)", 118, 158, kSchofield, kTuned,
       [] { return oxygen_use(kChild); }},
      {"A22", "6 y, blood volume (mL/kg)", 70, 80, kBlood, kTuned,
       [] { return blood_mL_per_kg(kChild); }},
      {"A23", "6 y, PaCO2 (mmHg)", 34, 41, "between infant and adult (M)", kHolds,
       [] { return at_rest(kChild).paco2; }},
      {"A24", "6 y, systolic (mmHg)", 92, 114, "104 at 5 y, pm 2741863; 90 + 2 age (V)", kTuned,
       [] { return at_rest(kChild).sbp; }},
      {"A25", "6 y, diastolic (mmHg)", 50, 68, "58 at 5 y, pm 2741863 (V)", kTuned,
       [] { return at_rest(kChild).dbp; }},
      {"A26", "6 y, breaths (/min)", 18, 25, kFleming, kHolds, [] { return at_rest(kChild).rr; }},
      {"A27", "6 y, heart rate (/min)", 74, 111, kFleming, kHolds,
       [] { return at_rest(kChild).hr; }},
      {"A28", "6 y, FEV1 (L)", 0.88, 1.36, "NHANES III, Hankinson 1999 (M), value D", kHolds,
       [] { return fev1(kChild); }},
      {"A29", "6 y, cardiac index lying (L/min/m2)", 2.7, 4.4, kCattermole, kTuned,
       [] { return index_lying(kChild); }},
      {"A30", "6 y, greatest heart rate (/min)", 195, 213, kTanaka, kTuned,
       [] { return most_heart_rate(kChild); }},
      {"A31", "34 y, oxygen use (mL/min)", 220, 278, kSchofield, kTuned,
       [] { return oxygen_use(kAdult); }},
      {"A32", "34 y, blood volume (mL/kg)", 64, 76, kBlood, kTuned,
       [] { return blood_mL_per_kg(kAdult); }},
      {"A33", "34 y, PaO2 sitting (mmHg)", 90, 110, "BTS table, 35-44 y 99 (secondary, V)", kTuned,
       [] { return at_rest(kAdult).pao2; }},
      {"A34", "34 y, systolic (mmHg)", 108, 130, "122 all, 116 normotensive, NHSR 35 (V)", kTuned,
       [] { return at_rest(kAdult).sbp; }},
      {"A35", "34 y, diastolic (mmHg)", 62, 80, "71 all, 69 normotensive, NHSR 35 (V)", kTuned,
       [] { return at_rest(kAdult).dbp; }},
      {"A36", "34 y, FEV1 (L)", 3.6, 4.9, "NHANES III, Hankinson 1999 (M), value D", kHolds,
       [] { return fev1(kAdult); }},
      {"A37", "34 y, peak flow (L/s)", 8.0, 12.0, "NHANES III, Hankinson 1999 (M), value D", kHolds,
       [] { return patient(kAdult)->forced_breath().peak_flow_L_per_s; }},
      {"A38", "34 y, cardiac index lying (L/min/m2)", 3.1, 5.1, kCattermole, kTuned,
       [] { return index_lying(kAdult); }},
      {"A39", "34 y, greatest heart rate (/min)", 174, 194, kTanaka, kTuned,
       [] { return most_heart_rate(kAdult); }},
      {"A40", "34 y, heart rate swing with quiet breath (/min)", 3.0, 14.0,
       "about 8.6 in the young, as quoted in the review of version 0.1", kTuned,
       [] { return at_rest(kAdult).hr_swing; }},
      {"A41", "80 y, oxygen use (mL/min)", 175, 237, kSchofield, kTuned,
       [] { return oxygen_use(kElder); }},
      {"A42", "80 y, blood volume (mL/kg)", 58, 68, kBlood, kTuned,
       [] { return blood_mL_per_kg(kElder); }},
      {"A43", "80 y, PaO2 sitting (mmHg)", 72, 96, "BTS table, over 64 y 89 (secondary, V)", kHolds,
       [] { return at_rest(kElder).pao2; }},
      {"A44", "80 y, systolic (mmHg)", 133, 160, "men over 65 about 145, scilit 0c7b0954 (V)",
       kTuned, [] { return at_rest(kElder).sbp; }},
      {"A45", "80 y, pulse pressure (mmHg)", 58, 85, "DBP falls after 60, NHSR 35 (V); size M",
       kTuned,
       [] {
         const Seen s = at_rest(kElder);
         return s.sbp - s.dbp;
       }},
      {"A46", "80 y, FEV1 (L)", 2.1, 3.15, "NHANES III, Hankinson 1999 (M), value D", kTuned,
       [] { return fev1(kElder); }},
      {"A47", "80 y, peak flow (L/s)", 4.8, 9.0, "NHANES III, Hankinson 1999 (M), value D", kHolds,
       [] { return patient(kElder)->forced_breath().peak_flow_L_per_s; }},
      {"A48", "80 y, cardiac index lying (L/min/m2)", 2.3, 3.9, kCattermole, kTuned,
       [] { return index_lying(kElder); }},
      {"A49", "80 y, greatest heart rate (/min)", 144, 160, kTanaka, kTuned,
       [] { return most_heart_rate(kElder); }},
      {"A50", "80 y, heart rate swing with quiet breath (/min)", 0.5, 5.0,
       "RMSSD falls by age, heart.bmj.com 94657 (V); size M", kTuned,
       [] { return at_rest(kElder).hr_swing; }},
  };
}

}  // namespace phren::patient
