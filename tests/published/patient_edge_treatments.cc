// What treatments do, in size and in time.
#include "patient_edge_people.h"
#include "patient_edge_rows.h"

namespace phren::patient {
namespace {

using namespace edge;

const Person kHeart{70.0, Sex::kMale, 172.0, 80.0};
const Person kLung{68.0, Sex::kMale, 174.0, 70.0};

// Difference of one measure after `minutes` with the treatment against the same time before it.
double change(std::optional<Patient> p, const char* treatment, double minutes, double Seen::* what,
              exam::Side side = exam::Side::kRight) {
  if (!p) return kNone;
  Patient q = *p;
  const double before = watch(q, 30.0).*what;
  if (!treat(q, treatment, side)) return kNone;
  wait(q, 60.0 * minutes - 30.0);
  return watch(q, 30.0).*what - before;
}
double after(std::optional<Patient> p, const char* treatment, double minutes, double Seen::* what) {
  if (!p || (treatment != nullptr && !treat(*p, treatment))) return kNone;
  wait(*p, 60.0 * minutes - 30.0);
  return watch(*p, 30.0).*what;
}
// With against without, at the same time.
double against(const std::optional<Patient>& p, const char* treatment, double minutes,
               double Seen::* what) {
  return after(p, treatment, minutes, what) - after(p, nullptr, minutes, what);
}

double fev1_of(const Patient& p) {
  return p.forced_breath().fev1_L;
}
std::optional<Patient> asthma_with_fev1(double share) {  // severity found for an FEV1 of this share
  const double well = fev1_of(*patient(kAdult, {}, 2.0));
  double low = 0.0, high = 1.0;
  for (int n = 0; n < 9; ++n) {
    const double mid = 0.5 * (low + high);
    (fev1_of(*patient(kAdult, {{"asthma", mid}}, 2.0)) > share * well ? low : high) = mid;
  }
  return patient(kAdult, {{"asthma", low}}, 15.0);
}
double fev1_gain(double share, const char* drug, double minutes) {
  Patient p = *asthma_with_fev1(share);
  const double before = fev1_of(p);
  if (!treat(p, drug)) return kNone;
  wait(p, 60.0 * minutes);
  return fev1_of(p) - before;
}

// An adult in arrest by a closed airway, cleared after `minutes` without a pulse.
std::optional<Patient> arrested(double minutes) {
  Patient p = *patient(kAdult, {{"upper_airway_foreign_body", 1.0}}, 0.5);
  if (std::isnan(seconds_until(p, [](const Patient& q) { return !q.monitor().has_pulse; }, 3600.0)))
    return std::nullopt;
  wait(p, 60.0 * minutes);
  for (int n = 0; n < 20 && p.load().of_body(Mechanism::kUpperForeignBody) > 0.5; ++n) {
    treat(p, "foreign_body_manoeuvre");
    wait(p, 2.0);
  }
  return p;
}
double resuscitated_s(double minutes_down, bool has_compressions) {
  auto p = arrested(minutes_down);
  if (!p) return kNone;
  treat(*p, "assisted_ventilation");
  if (has_compressions && !treat(*p, "chest_compressions")) return kNone;
  const auto is_back = [](const Patient& q) { return q.circulation().output_L_per_s() > 0.03; };
  double t = kNone;
  const double start = p->time_s();
  while (p->time_s() < start + 1200.0) {
    wait(*p, 30.0);
    Patient pause = *p;  // the pulse is felt in a pause
    stop(pause, "chest_compressions");
    wait(pause, 5.0);
    if (is_back(pause) && pause.monitor().has_pulse) {
      t = p->time_s() - start;
      break;
    }
  }
  return t;
}

}  // namespace

std::vector<EdgeRow> edge_rows_of_treatments() {
  using enum Standing;
  const char* kTarala = "Tarala 1980, +0.435 L, SD 0.33 (V)";
  const char* kBersten = "Bersten 1991, n = 39, via ebmconsult (V)";
  const char* kBilevel = "Plant, Brochard, Kramer: typical first hour (M)";
  return {
      {"T1", "beta-agonist at FEV1 36 %, gain after an hour (L)", 0.20, 0.77, kTarala, kHolds,
       [] { return fev1_gain(0.36, "inhaled_bronchodilator", 60); }},
      {"T2", "beta-agonist at FEV1 42 %, gain after an hour (L)", 0.2, 0.8,
       "1.26 to 1.70 L, pubmed 10498049 (V)", kHolds,
       [] { return fev1_gain(0.42, "inhaled_bronchodilator", 60); }},
      {"T3", "beta-agonist at FEV1 75 %, gain after an hour (L)", 0.1, 0.6, "about +0.2 (M)",
       kHolds, [] { return fev1_gain(0.75, "inhaled_bronchodilator", 60); }},
      {"T4", "beta-agonist, heart rate after 10 minutes in the well (/min)", 4, 20, "texts (M)",
       kHolds, [] { return change(patient(kAdult), "inhaled_bronchodilator", 10, &Seen::hr); }},
      {"T5", "beta-agonist in asthma on air, PaO2 after 15 minutes (mmHg)", -10, 0,
       "-3 to -8, texts (M)", kTuned,
       [] {
         return against(patient(kAdult, {{"asthma", 0.5}}), "inhaled_bronchodilator", 15,
                        &Seen::pao2);
       }},
      {"T6", "anticholinergic at FEV1 42 %, gain after 90 minutes (%)", 4, 16,
       "adds 7-10 %, meta-analyses (M)", kHolds,
       [] {
         const double well = fev1_of(*patient(kAdult, {}, 2.0));
         return 100.0 * fev1_gain(0.42, "inhaled_anticholinergic", 90) / (0.42 * well);
       }},
      {"T7", "steroid in asthma, FEV1 after an hour (L)", -0.05, 0.12,
       "lung function moves at 6-12 h, PMC7025797 (V)", kHolds,
       [] { return fev1_gain(0.42, "systemic_steroid", 60); }},
      {"T8", "oxygen in COPD 0.3 for 30 minutes, PaCO2 (mmHg)", 0.3, 5,
       "stable, +1.3 (0.7-1.8), BMC Pulm Med s12890-020-1132 (V)", kHolds,
       [] {
         return against(patient(kLung, {{"copd_exacerbation", 0.3}}), "oxygen", 30, &Seen::paco2);
       }},
      {"T9", "oxygen in COPD 0.9 for 15 minutes, PaCO2 (mmHg)", 8, 30,
       "acute failure, +23, Aubier 1980 (M)", kTuned,
       [] {
         return against(patient(kLung, {{"copd_exacerbation", 0.9}}), "oxygen", 15, &Seen::paco2);
       }},
      {"T10", "oxygen in pneumonia 0.6 for 30 minutes, PaCO2 (mmHg)", -2, 6,
       "PMC3360531, +4 in half (V)", kHolds,
       [] {
         return against(patient(kAdult, {{"lobar_pneumonia", 0.6}}), "oxygen", 30, &Seen::paco2);
       }},
      {"T11", "oxygen, 30 % shunt, SpO2 gain of pneumonia 0.9 (points)", 1, 12,
       "iso-shunt values (D)", kHolds,
       [] {
         return against(patient(kAdult, {{"lobar_pneumonia", 0.9}}), "oxygen", 10, &Seen::spo2);
       }},
      {"T12", "CPAP in oedema 0.7, breaths after 30 minutes (/min)", -14, -4, kBersten, kTuned,
       [] {
         return against(patient(kHeart, {{"cardiogenic_oedema", 0.7}}), "cpap", 30, &Seen::rr);
       }},
      {"T13", "CPAP in oedema 0.9, pH after 30 minutes against start", 0.03, 0.2, kBersten, kOpen,
       [] {
         return change(patient(kHeart, {{"cardiogenic_oedema", 0.9}}), "cpap", 30, &Seen::ph);
       }},
      {"T14", "CPAP in oedema 0.7, systolic after 30 minutes against start (mmHg)", -45, -4,
       "-5 to -15 per 10 cmH2O (M)", kTuned,
       [] {
         return change(patient(kHeart, {{"cardiogenic_oedema", 0.7}}), "cpap", 30, &Seen::sbp);
       }},
      {"T15", "CPAP in oedema 0.7, SpO2 after 30 minutes (points)", 4, 40,
       "87 to 96, PMC5057371 (M)", kTuned,
       [] {
         return change(patient(kHeart, {{"cardiogenic_oedema", 0.7}}), "cpap", 30, &Seen::spo2);
       }},
      {"T16", "CPAP in COPD 0.7, breaths after 20 minutes (/min)", -9, -1, "-2 to -6, texts (M)",
       kOpen,
       [] { return against(patient(kLung, {{"copd_exacerbation", 0.7}}), "cpap", 20, &Seen::rr); }},
      {"T17", "bilevel in COPD 0.9, pH after an hour against start", 0.02, 0.12, kBilevel, kTuned,
       [] {
         return change(patient(kLung, {{"copd_exacerbation", 0.9}}), "bilevel_support", 60,
                       &Seen::ph);
       }},
      {"T18", "bilevel in COPD 0.9, PaCO2 after an hour against start (mmHg)", -18, -3, kBilevel,
       kTuned,
       [] {
         return change(patient(kLung, {{"copd_exacerbation", 0.9}}), "bilevel_support", 60,
                       &Seen::paco2);
       }},
      {"T19", "bilevel in COPD 0.9, breaths after an hour against start (/min)", -14, -2, kBilevel,
       kTuned,
       [] {
         return change(patient(kLung, {{"copd_exacerbation", 0.9}}), "bilevel_support", 60,
                       &Seen::rr);
       }},
      {"T20", "epinephrine in anaphylaxis 0.7, systolic after 10 minutes (mmHg)", 15, 70,
       "better from 3-5 min, plateau 10-15 (M)", kHolds,
       [] {
         return against(patient(kAdult, {{"anaphylaxis", 0.7}}), "intramuscular_epinephrine", 10,
                        &Seen::sbp);
       }},
      {"T21", "epinephrine in the well, heart rate after 8 minutes (/min)", 8, 32,
       "+20 to +30, texts (M)", kTuned,
       [] { return change(patient(kAdult), "intramuscular_epinephrine", 8, &Seen::hr); }},
      {"T22", "epinephrine in anaphylaxis 0.7, systolic after 3 minutes (mmHg)", 3, 45,
       "clinical change at 3-5 min (M)", kTuned,
       [] {
         return against(patient(kAdult, {{"anaphylaxis", 0.7}}), "intramuscular_epinephrine", 3,
                        &Seen::sbp);
       }},
      {"T23", "epinephrine in anaphylaxis 0.6, FEV1 after 10 minutes (x)", 1.1, 2.5,
       "wheeze better from 3-5 min (M)", kHolds,
       [] {
         Patient p = *patient(kAdult, {{"anaphylaxis", 0.6}});
         const double before = fev1_of(p);
         treat(p, "intramuscular_epinephrine");
         wait(p, 600);
         return fev1_of(p) / before;
       }},
      {"T24", "nitrate in oedema 0.7, systolic after 5 minutes (mmHg)", -60, -8,
       "-14.7 SD 30.7, pm 23962769; 211 to 177, PEC 2020 (V)", kHolds,
       [] {
         return change(patient(kHeart, {{"cardiogenic_oedema", 0.7}}), "nitrate", 5, &Seen::sbp);
       }},
      {"T25", "nitrate in oedema 0.7, wedge after 5 minutes (mmHg)", -15, -2,
       "falls within 5 min, Bussmann 1978 (V)", kHolds,
       [] {
         return change(patient(kHeart, {{"cardiogenic_oedema", 0.7}}), "nitrate", 5, &Seen::wedge);
       }},
      {"T26", "nitrate in oedema 0.7, heart rate after 5 minutes (/min)", -20, 6,
       "113 to 103, PEC 2020 (V)", kHolds,
       [] {
         return change(patient(kHeart, {{"cardiogenic_oedema", 0.7}}), "nitrate", 5, &Seen::hr);
       }},
      {"T27", "nitrate in the bled (0.5), systolic after 5 minutes (mmHg)", -50, -5,
       "preload is what keeps them (M)", kHolds,
       [] { return change(patient(kAdult, {{"haemothorax", 0.5}}), "nitrate", 5, &Seen::sbp); }},
      {"T28", "opioid reversal, opioid 0.8: minutes to 10 breaths", 1, 9,
       "82 % within 8 min, MJA 2005;182:24 (V)", kHolds,
       [] {
         Patient p = *patient(kAdult, {{"opioid_hypoventilation", 0.8}}, 3.0);
         treat(p, "assisted_ventilation");
         wait(p, 120);
         stop(p, "assisted_ventilation");
         treat(p, "opioid_reversal");
         return seconds_until(p,
                              [](const Patient& q) {
                                return q.breathing().rate_per_min() > 10.0 &&
                                       q.inside().tidal_L > 0.25;
                              }) /
                60.0;
       }},
      {"T29", "opioid reversal, opioid 0.6, PaCO2 after 10 minutes (mmHg)", -45, -8,
       "drive returns within minutes (M)", kHolds,
       [] {
         return change(patient(kAdult, {{"opioid_hypoventilation", 0.6}}), "opioid_reversal", 10,
                       &Seen::paco2);
       }},
      {"T30", "needle in time, bagged tension 0.7 at 90 systolic: systolic after 2 minutes (mmHg)",
       15, 80, "back in 1-2 min (M)", kTuned,
       [] {
         Patient p = *patient(kAdult, {{"tension_pneumothorax", 0.7}});
         treat(p, "assisted_ventilation");
         if (std::isnan(seconds_until(
                 p, [](const Patient& q) { return q.monitor().systolic_mmHg < 90.0; }, 1800.0))) {
           return kNone;
         }
         const double before = p.monitor().systolic_mmHg;
         for (int n = 0; n < 8; ++n) {
           treat(p, "needle_decompression");
           wait(p, 1.0);
           if (p.load().at_side(Mechanism::kChestWound_L_per_s_per_cmH2O, 0) > 0.0) break;
         }
         wait(p, 115.0);
         return watch(p, 10.0).sbp - before;
       }},
      {"T31", "needle through a wall of an adult of 100 kg, share that fails (%)", 4, 75,
       "4 % at 4.5 cm, 65 % at 3.2 cm, Ball 2010 (V)", kTuned,
       [] {
         int failed = 0;
         for (std::uint64_t seed = 1; seed <= 60; ++seed) {
           Patient p = *patient({40.0, Sex::kMale, 175.0, 100.0}, {{"tension_pneumothorax", 0.5}},
                                0.1, Posture::kSitting, seed);
           treat(p, "needle_decompression");
           wait(p, 3.0);
           failed += p.load().at_side(Mechanism::kChestWound_L_per_s_per_cmH2O, 0) > 0.0 ? 0 : 1;
         }
         return 100.0 * failed / 60.0;
       }},
      {"T32", "fluid in the well, systolic after 15 minutes (mmHg)", -4, 8,
       "no gain, n = 6, insights.ovid jcrca 201710 (V)", kHolds,
       [] { return change(patient(kAdult), "fluid", 15, &Seen::sbp); }},
      {"T33", "fluid in the bled (0.8), systolic after 15 minutes (mmHg)", 8, 45,
       "the empty keep it, Anesthesiology 1999;90:81 (V, direction)", kHolds,
       [] { return against(patient(kAdult, {{"haemothorax", 0.8}}), "fluid", 15, &Seen::sbp); }},
      {"T34", "three portions of fluid against one, blood gained at once (x)", 2.4, 3.2,
       "fluid adds up (D)", kTuned,
       [] {
         Patient one = *patient(kAdult, {{"haemothorax", 0.8}}), three = one, none = one;
         treat(one, "fluid");
         for (int n = 0; n < 3; ++n) treat(three, "fluid");
         for (Patient* p : {&one, &three, &none}) wait(*p, 1200.0);
         const auto lost = [](const Patient& p) { return p.circulation().lost_L(); };
         return (lost(none) - lost(three)) / (lost(none) - lost(one));
       }},
      {"T35", "fluid kept after 60 minutes, bled against well (x)", 1.1, 4.0,
       "elimination 133 and 34 mL/min, Anesthesiology 1999;90:81 (V)", kTuned,
       [] {
         const auto kept = [](const char* id, double severity) {
           Patient p = *patient(kAdult, {{id, severity}}), none = p;
           treat(p, "fluid");
           wait(p, 3600.0);
           wait(none, 3600.0);
           return none.circulation().lost_L() - p.circulation().lost_L();
         };
         return kept("haemothorax", 0.5) / kept("healthy", 0.0);
       }},
      {"T36", "bag in asthma 0.9, systolic after 2 minutes (mmHg)", -70, -12,
       "-20 to -60 over 20 mL/kg trapped (M)", kHolds,
       [] {
         return change(patient(kAdult, {{"asthma", 0.9}}), "assisted_ventilation", 2, &Seen::sbp);
       }},
      {"T37", "the bag off for a minute after that, systolic (mmHg)", 8, 80, "30-60 s restores (M)",
       kHolds,
       [] {
         Patient p = *patient(kAdult, {{"asthma", 0.9}});
         treat(p, "assisted_ventilation");
         wait(p, 120);
         const double low = watch(p, 10).sbp;
         stop(p, "assisted_ventilation");
         wait(p, 45);
         return watch(p, 10).sbp - low;
       }},
      {"T38", "bag in a simple pneumothorax 0.6, minutes to 90 systolic", 2, 30,
       "assisted breaths make it tense (texts, M)", kTuned,
       [] {
         Patient p = *patient(kAdult, {{"pneumothorax", 0.6}});
         treat(p, "assisted_ventilation");
         return seconds_until(p,
                              [](const Patient& q) { return q.monitor().systolic_mmHg < 90.0; }) /
                60.0;
       }},
      {"T39", "bag with a pulse of 45 by hypoxia: seconds until it is over 60", 5, 60,
       "HR up in 15-30 s (M)", kTuned,
       [] {
         Patient p = *patient(kInfant, {{"upper_airway_foreign_body", 1.0}}, 0.1);
         if (std::isnan(seconds_until(
                 p, [](const Patient& q) { return q.monitor().heart_rate_per_min < 60.0; },
                 1800.0))) {
           return kNone;
         }
         for (int n = 0; n < 20 && p.load().of_body(Mechanism::kUpperForeignBody) > 0.5; ++n) {
           treat(p, "foreign_body_manoeuvre");
           wait(p, 1.0);
         }
         treat(p, "assisted_ventilation");
         return seconds_until(
             p,
             [](const Patient& q) {
               return q.monitor().heart_rate_per_min > 80.0 && q.monitor().has_pulse;
             },
             300.0);
       }},
      {"T40", "bag, opioid 0.8, EtCO2 after 10 minutes (mmHg)", 20, 45, "normal ventilation (D)",
       kHolds,
       [] {
         return after(patient(kAdult, {{"opioid_hypoventilation", 0.8}}), "assisted_ventilation",
                      10, &Seen::etco2);
       }},
      {"T41", "compressions, output (% of rest)", 20, 35, "25-33 %, AHA texts (M)", kTuned,
       [] {
         const double rest = watch(*std::make_unique<Patient>(*patient(kAdult)), 20).output;
         auto p = arrested(3.0);
         if (!p || !treat(*p, "chest_compressions")) return kNone;
         treat(*p, "assisted_ventilation");
         wait(*p, 20);
         return 100.0 * watch(*p, 10).output / rest;
       }},
      {"T42", "compressions, systolic (mmHg)", 22, 70, "34 SD 12 in dogs, Niemann 1984 (V)", kTuned,
       [] {
         auto p = arrested(3.0);
         if (!p || !treat(*p, "chest_compressions")) return kNone;
         treat(*p, "assisted_ventilation");
         wait(*p, 20);
         return watch(*p, 10).sbp;
       }},
      {"T43", "compressions and bag, EtCO2 after 2 minutes (mmHg)", 8, 35,
       "10-20, higher first after asphyxia (M)", kHolds,
       [] {
         auto p = arrested(6.0);
         if (!p || !treat(*p, "chest_compressions")) return kNone;
         treat(*p, "assisted_ventilation");
         wait(*p, 120);
         return watch(*p, 10).etco2;
       }},
      {"T44", "a minute down, bag and compressions: pulse after (s)", 20, 240,
       "often back under 2 min (M); 120 s (105-180) in lambs (V)", kTuned,
       [] { return resuscitated_s(1.0, true); }},
      {"T45", "ten minutes without a pulse and a bag alone: does not come back (1 = so)", 1, 1,
       "only flow brings flow (M)", kHolds,
       [] { return std::isnan(resuscitated_s(10.0, false)) ? 1.0 : 0.0; }},
      {"T46", "nebulised epinephrine, croup 0.7 of 2 y, breaths' swing after 30 minutes (x)", 0.4,
       0.92, "croup score -0.94 SD at 30 min, CD006619 (V, direction)", kHolds,
       [] {
         Patient p = *patient({2.0, Sex::kMale, 87.0, 12.5}, {{"croup", 0.7}}), none = p;
         treat(p, "nebulised_epinephrine");
         wait(p, 1800);
         wait(none, 1800);
         const auto swing = [](const Patient& q) {
           return q.inside().most_pleural_cmH2O - q.inside().least_pleural_cmH2O;
         };
         return swing(p) / swing(none);
       }},
      {"T47", "the same two hours later against none (x)", 0.85, 1.1,
       "no lasting difference at 2 h, CD006619 (M)", kHolds,
       [] {
         Patient p = *patient({2.0, Sex::kMale, 87.0, 12.5}, {{"croup", 0.5}}), none = p;
         treat(p, "nebulised_epinephrine");
         wait(p, 9000);
         wait(none, 9000);
         const auto swing = [](const Patient& q) {
           return q.inside().most_pleural_cmH2O - q.inside().least_pleural_cmH2O;
         };
         return swing(p) / swing(none);
       }},
      {"T48", "seal on an open chest, tidal volume after 5 minutes against before (x)", 1.1, 3.0,
       "near baseline in 5 min, Kheirabadi 2013 swine (V)", kOpen,
       [] {
         auto p = patient(kAdult, {{"open_pneumothorax", 0.7}}, 5.0);
         if (!p) return kNone;
         const double before = watch(*p).tidal;
         treat(*p, "chest_seal");
         wait(*p, 270);
         return watch(*p).tidal / before;
       }},
  };
}

}  // namespace phren::patient
