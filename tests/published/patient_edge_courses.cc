// Dying, posture, tension, chronic lungs, acid, shock, cough: courses that textbooks and papers
// print.
#include "patient_edge_people.h"
#include "patient_edge_rows.h"

namespace phren::patient {
namespace {

using namespace edge;

const Person kHeart{70.0, Sex::kMale, 172.0, 80.0};
const Person kLung{68.0, Sex::kMale, 174.0, 70.0};

bool is_pulseless(const Patient& p) {
  return !p.monitor().has_pulse;
}
bool is_out(const Patient& p) {
  return p.signs().consciousness == Consciousness::kUnresponsive;
}
std::optional<Patient> choked(const Person& person) {
  auto p = patient(person, {{"upper_airway_foreign_body", 1.0}}, 0.1);
  return p;
}
double minutes_to(std::optional<Patient> p, bool (*happened)(const Patient&),
                  double most_min = 90.0) {
  if (!p) return kNone;
  return seconds_until(*p, happened, 60.0 * most_min) / 60.0;
}
Seen settled(const Person& person, std::vector<Ill> ills, double minutes = 15.0, int posture = 0) {
  Patient p = *patient(person, ills, 15.0);
  lay(p, posture);
  wait(p, 60.0 * minutes);
  return watch(p);
}
double lying_minus_sitting(const Person& person, std::vector<Ill> ills, double Seen::* what,
                           double minutes = 8.0) {
  return settled(person, ills, minutes, 2).*what - settled(person, ills, minutes, 0).*what;
}

}  // namespace

std::vector<EdgeRow> edge_rows_of_courses() {
  using enum Standing;
  const char* kPaed = "smaller stores, 1.1 (D); texts (M)";
  return {
      {"C1", "airway shut, adult: unresponsive after (min)", 0.9, 3.5,
       "one to two minutes conscious; tone gone within 2-3 (M)", kTuned,
       [] { return minutes_to(choked(kAdult), is_out); }},
      {"C2", "airway shut, adult: no pulse after (min)", 4, 14,
       "PEA in swine and dogs, PMC2827481 (V, order); size M", kTuned,
       [] { return minutes_to(choked(kAdult), is_pulseless); }},
      {"C3", "airway shut, adult: PaCO2 at 3 minutes (mmHg)", 52, 75,
       "+7 in 10 s, then 6 per minute, Stock 1988 (V)", kHolds,
       [] {
         Patient p = *choked(kAdult);
         wait(p, 174);
         return p.inside().paco2_mmHg;
       }},
      {"C4", "airway shut, adult: PaCO2 at arrest against that at 3 minutes (mmHg)", 4, 60,
       "may not fall while flow lasts (D)", kTuned,
       [] {
         Patient p = *choked(kAdult);
         wait(p, 174);
         const double at3 = p.inside().paco2_mmHg;
         if (std::isnan(seconds_until(p, is_pulseless))) return kNone;
         return p.inside().paco2_mmHg - at3;
       }},
      {"C5", "airway shut, one-year-old: no pulse after (min)", 2, 9, kPaed, kTuned,
       [] { return minutes_to(choked(kInfant), is_pulseless); }},
      {"C6", "airway shut, adult: fast before slow (1 = so)", 1, 1,
       "tachycardia, coma, bradycardia, gasps, PEA (M)", kHolds,
       [] {
         Patient p = *choked(kAdult);
         double most = 0.0, coma = -1, slow = -1, pulse = -1;
         while (p.time_s() < 2400 && pulse < 0) {
           wait(p, 1);
           most = std::max(most, p.monitor().heart_rate_per_min);
           if (coma < 0 && is_out(p)) coma = p.time_s();
           if (slow < 0 && p.monitor().heart_rate_per_min < 60) slow = p.time_s();
           if (is_pulseless(p)) pulse = p.time_s();
         }
         return most > 105 && coma > 0 && slow > coma && pulse >= slow ? 1.0 : 0.0;
       }},
      {"C7", "no circulation: unresponsive after (s)", 5, 16,
       "6-10 s, Rossen 1943 (M), Mitchell 2012 (V)", kTuned,
       [] {
         PatientConfig c =
             *configure({kAdult, {}, 1.0, Posture::kLying}, conditions(), treatments());
         // A pericardium so full that nothing fills the heart.
         ActiveCondition stop_heart;
         ConditionEffect e;
         e.mechanism = Mechanism::kPericardialFluid_L;
         e.curve.at = {0.0, 0.4, 0.4, 0.4, 0.4};
         stop_heart.effects = {e};
         stop_heart.begins_s = 0.0;
         c.conditions = {stop_heart};
         Patient p = *Patient::make(c, Seed{1});
         const double flat = seconds_until(
             p, [](const Patient& q) { return q.inside().mean_arterial_mmHg < 30.0; }, 900.0);
         if (std::isnan(flat)) return kNone;
         return seconds_until(p, is_out, 300.0);
       }},
      {"C8", "fifteen minutes without a pulse, then all treatments: awake half an hour later", 0, 0,
       "survival of brain rare after 15 min (M)", kHolds,
       [] {
         Patient p = *choked(kAdult);
         if (std::isnan(seconds_until(p, is_pulseless))) return 1.0;
         wait(p, 900);
         for (int n = 0; n < 30; ++n) treat(p, "foreign_body_manoeuvre"), wait(p, 1);
         treat(p, "assisted_ventilation");
         treat(p, "chest_compressions");
         treat(p, "intramuscular_epinephrine");
         wait(p, 1800);
         return alert_level(p) == 0.0 ? 1.0 : 0.0;
       }},
      {"C9", "object out two minutes after closure, bag: alert after (min)", 0.5, 6,
       "awake in 1-5 min (M)", kHolds,
       [] {
         Patient p = *choked(kAdult);
         wait(p, 120);
         for (int n = 0; n < 30 && p.load().of_body(Mechanism::kUpperForeignBody) > 0.5; ++n)
           treat(p, "foreign_body_manoeuvre"), wait(p, 1);
         treat(p, "assisted_ventilation");
         wait(p, 30);
         return 0.5 + seconds_until(p, [](const Patient& q) { return alert_level(q) == 0.0; }) / 60;
       }},
      {"C10", "lying against sitting, well: output (L/min)", 0.8, 3.0,
       "2.2 L/min, 10 men, scilit adb452e4 (V)", kTuned,
       [] { return lying_minus_sitting(kAdult, {}, &Seen::output); }},
      {"C11", "sitting against lying, well: stroke volume (%)", -50, -20, "-40 %, same (V)", kOpen,
       [] {
         const double sit = settled(kAdult, {}, 8, 0).stroke,
                      lie = settled(kAdult, {}, 8, 2).stroke;
         return 100.0 * (sit / lie - 1.0);
       }},
      {"C12", "legs raised after lying, well: output at 20 s (%)", 1, 14,
       "+8-10 %, Gaffney 1982 (V); none in a full heart, pm 35854636", kHolds,
       [] {
         Patient p = *patient(kAdult, {}, 15, Posture::kLying);
         const double before = watch(p, 10).output;
         if (!lay(p, 3)) return kNone;
         wait(p, 15);
         return 100.0 * (watch(p, 10).output / before - 1.0);
       }},
      {"C13", "legs raised after bleeding 0.6: systolic (mmHg)", 3, 30,
       "useful in the empty (texts, M)", kHolds,
       [] {
         Patient p = *patient(kAdult, {{"haemothorax", 0.6}}, 15, Posture::kLying);
         const double before = watch(p, 10).sbp;
         if (!lay(p, 3)) return kNone;
         wait(p, 30);
         return watch(p, 10).sbp - before;
       }},
      {"C14", "bled 0.7: systolic lying minus sitting (mmHg)", 5, 70, "McGee 1999 (M)", kHolds,
       [] { return lying_minus_sitting(kAdult, {{"haemothorax", 0.7}}, &Seen::sbp, 4); }},
      {"C15", "oedema 0.6: SpO2 lying minus sitting (points)", -14, -2,
       "orthopnoea, size our own (direction Torchio 2006, V)", kTuned,
       [] { return lying_minus_sitting(kHeart, {{"cardiogenic_oedema", 0.6}}, &Seen::spo2); }},
      {"C16", "oedema 0.6: breaths lying minus sitting (/min)", 2, 14, "same", kTuned,
       [] { return lying_minus_sitting(kHeart, {{"cardiogenic_oedema", 0.6}}, &Seen::rr); }},
      {"C17", "oedema 0.6: wedge lying minus sitting (mmHg)", 2, 14, "same", kHolds,
       [] { return lying_minus_sitting(kHeart, {{"cardiogenic_oedema", 0.6}}, &Seen::wedge); }},
      {"C18", "one lung sick (pneumonia, right, 0.9): PaO2 good lung down against lying (%)", 5, 60,
       "P/F 132 to 162, Crit Care 2002 cc1696 (V)", kTuned,
       [] {
         Patient p = *patient(kAdult, {{"lobar_pneumonia", 0.9}}, 15, Posture::kLying), q = p;
         if (!lay(q, 5)) return kNone;  // on the left side
         wait(p, 480);
         wait(q, 480);
         return 100.0 * (watch(q).pao2 / watch(p).pao2 - 1.0);
       }},
      {"C19", "epiglottitis 0.8 of 4 y: pleural swing lying against sitting (x)", 1.08, 4.0,
       "worse when laid flat (texts, M)", kHolds,
       [] {
         const Person child{4.0, Sex::kMale, 103.0, 16.5};
         const auto swing = [&](int posture) {
           Patient p = *patient(child, {{"epiglottitis", 0.8}}, 10);
           lay(p, posture);
           wait(p, 120);
           return p.inside().most_pleural_cmH2O - p.inside().least_pleural_cmH2O;
         };
         return swing(2) / swing(0);
       }},
      {"C20", "tension 1.0 unaided: SpO2 at 40 minutes against 5 (points)", -70, -4,
       "gets worse over minutes to an hour, Roberts 2014 (V)", kTuned,
       [] {
         Patient p = *patient(kAdult, {{"tension_pneumothorax", 0.8}}, 0);
         wait(p, 300);
         const double early = watch(p).spo2;
         wait(p, 2070);
         return p.monitor().has_pulse ? watch(p).spo2 - early : -50.0;
       }},
      {"C21", "tension 0.8 bagged: no pulse after (min)", 2, 20,
       "minutes, Roberts 2015: 39.6 % pulseless (V)", kTuned,
       [] {
         Patient p = *patient(kAdult, {{"tension_pneumothorax", 0.8}});
         treat(p, "assisted_ventilation");
         return seconds_until(p, is_pulseless, 3600) / 60.0;
       }},
      {"C22", "tension 0.8 unaided: SpO2 or breath before SBP (1 = so)", 1, 1, "Roberts 2015 (V)",
       kHolds,
       [] {
         Patient p = *patient(kAdult, {{"tension_pneumothorax", 0.8}}, 0);
         double sign = -1, low = -1;
         while (p.time_s() < 5400 && low < 0) {
           wait(p, 2);
           const Monitor m = p.monitor();
           if (sign < 0 && (m.spo2_percent < 92 || m.respiratory_rate_per_min > 24))
             sign = p.time_s();
           if (m.systolic_mmHg < 90) low = p.time_s();
         }
         return sign > 0 && (low < 0 || low > sign + 60) ? 1.0 : 0.0;
       }},
      {"C23", "COPD 0.6: PaCO2 (mmHg)", 46, 66, "47 % hypercapnic, Plant 2000 (V)", kTuned,
       [] { return settled(kLung, {{"copd_exacerbation", 0.6}}).paco2; }},
      {"C24", "COPD 0.9: pH", 7.18, 7.33, "20 % acidotic, Plant 2000 (V); 7.26, PMC4818354 (V)",
       kTuned, [] { return settled(kLung, {{"copd_exacerbation", 0.9}}).ph; }},
      {"C25", "COPD 0.9: PaCO2 (mmHg)", 60, 95, "85, PMC4818354; 74, Thorax table (V)", kTuned,
       [] { return settled(kLung, {{"copd_exacerbation", 0.9}}).paco2; }},
      {"C26", "COPD 0.9: bicarbonate (mmol/L)", 28, 40, "chronic slope 3.5-5.1 per 10 (V2, M)",
       kTuned,
       [] {
         const Seen s = settled(kLung, {{"copd_exacerbation", 0.9}});
         return 0.0307 * s.paco2 * std::pow(10.0, s.ph - 6.1);
       }},
      {"C27", "COPD 0.6 with pneumonia 0.6: PaCO2 against COPD alone (mmHg)", -3, 30,
       "a load more on tired muscles (M)", kHolds,
       [] {
         return settled(kLung, {{"copd_exacerbation", 0.6}, {"lobar_pneumonia", 0.6}}).paco2 -
                settled(kLung, {{"copd_exacerbation", 0.6}}).paco2;
       }},
      {"C28", "oedema 0.9 at half an hour: pH", 7.1, 7.35, "3CPO mean 7.25 (V)", kOpen,
       [] { return settled(kHeart, {{"cardiogenic_oedema", 0.9}}).ph; }},
      {"C29", "oedema 0.7 and pneumonia 0.6: SpO2 against oedema alone (points)", -60, 0.5,
       "an illness more never helps (D)", kTuned,
       [] {
         return settled(kHeart, {{"cardiogenic_oedema", 0.7}, {"lobar_pneumonia", 0.6}}).spo2 -
                settled(kHeart, {{"cardiogenic_oedema", 0.7}}).spo2;
       }},
      {"C30", "asthma 0.5: SpO2 of one year minus an adult's (points)", -6, 4,
       "one grade at every age, GINA, rcpjournals 13421 (V)", kTuned,
       [] {
         return settled(kInfant, {{"asthma", 0.5}}).spo2 - settled(kAdult, {{"asthma", 0.5}}).spo2;
       }},
      {"C31", "bronchitis 1.0, one-year-old: SpO2", 92, 99, "near normal by definition (D)", kTuned,
       [] { return settled(kInfant, {{"bronchitis", 1.0}}).spo2; }},
      {"C32", "anaphylaxis 0.8: vascular resistance (x rest)", 0.3, 0.85, "falls, Smith 1980 (V)",
       kHolds,
       [] {
         const Seen s = settled(kAdult, {{"anaphylaxis", 0.8}}, 1);
         const Seen well = settled(kAdult, {}, 1);
         return (s.map - s.pra) / s.output / ((well.map - well.pra) / well.output);
       }},
      {"C33", "anaphylaxis 0.6: diastolic (mmHg)", 25, 55, "DBP < 50 says dilated (texts, M)",
       kTuned, [] { return settled(kAdult, {{"anaphylaxis", 0.6}}, 1).dbp; }},
      {"C34", "bled 0.7 (1.3 L), lying: pulse pressure over systolic", 0.12, 0.32,
       "narrow, under 0.25 (M)", kHolds,
       [] {
         const Seen s = settled(kAdult, {{"haemothorax", 0.7}}, 1, 2);
         return (s.sbp - s.dbp) / s.sbp;
       }},
      {"C35", "asthma 0.8: systolic swing with the breath (mmHg)", 12, 40,
       "NHLBI severe above 25; 12 asked at least (V)", kTuned,
       [] {
         Patient p = *patient(kAdult, {{"asthma", 0.8}});
         return watch(p, 12).sbp_swing;
       }},
      {"C36", "well: systolic swing with the breath (mmHg)", 1, 9, "under 10 (V)", kTuned,
       [] {
         Patient p = *patient(kAdult);
         return watch(p, 12).sbp_swing;
       }},
      {"C37", "one cough, adult: from its inspiration to its end (s)", 0.6, 1.8,
       "inspiration 0.3-0.8, shut 0.2, sound 0.3-0.5 s (M)", kHolds,
       [] {
         Patient p = *patient(kAdult);
         p.act(Action::ask(Manoeuvre::kCough));
         double began = -1, last = -1;
         for (int n = 0; n < 128 * 20; ++n) {
           p.step();
           const bool coughs = p.breathing().manoeuvre() == Manoeuvre::kCough;
           if (coughs && began < 0) began = p.time_s();
           if (coughs && p.mechanics().flows().trachea_L_per_s < -0.5) last = p.time_s();
         }
         return last - began;
       }},
      {"C38", "one cough, adult: fall of systolic after it (mmHg)", -22, 0,
       "-10 to -20 for 2-4 beats (M)", kHolds,
       [] {
         Patient p = *patient(kAdult);
         const double before = watch(p, 10).sbp;
         p.act(Action::ask(Manoeuvre::kCough));
         seconds_until(
             p, [](const Patient& q) { return q.breathing().manoeuvre() == Manoeuvre::kCough; }, 20,
             0.1);
         wait(p, 1.5);
         double low = 1e9;
         for (int n = 0; n < 16; ++n) {
           low = std::min(low, watch(p, 1.0).sbp);
         }
         return low - before;
       }},
      {"C39", "main bronchus shut: wedge (mmHg)", -2, 16, "a plug does not empty the heart (D)",
       kHolds, [] { return settled(kInfant, {{"bronchial_foreign_body", 1.0}}).wedge; }},
      {"C40", "metabolic acidosis 0.8: PaCO2 against Winters' rule (mmHg)", -4, 5,
       "1.5 HCO3 + 8 +/- 2 (V)", kHolds,
       [] {
         const Seen s = settled(kAdult, {{"metabolic_acidosis", 0.8}}, 30);
         const double hco3 = 0.0307 * s.paco2 * std::pow(10.0, s.ph - 6.1);
         return s.paco2 - (1.5 * hco3 + 8.0);
       }},
      {"C41", "bled 375 mL, lying: stroke volume (%)", -24, -6,
       "94.0 to 80.7 mL, Clin Auton Res 2004;14:176 (V)", kHolds,
       [] {
         PatientConfig c =
             *configure({kAdult, {}, 5.0, Posture::kLying}, conditions(), treatments());
         ActiveCondition bled;
         ConditionEffect e;
         e.mechanism = Mechanism::kBloodLoss_L;
         e.curve.at.fill(0.375 * 65.0 / reference_of(*complete(kAdult)).ideal_weight_kg);
         e.curve.at[0] = 0.0;
         bled.effects = {e};
         bled.begins_s = 30.0;
         c.conditions = {bled};
         Patient p = *Patient::make(c, Seed{1});
         const double before = watch(p, 20).stroke;
         wait(p, 400);
         return 100.0 * (watch(p, 20).stroke / before - 1.0);
       }},
      {"C42", "tamponade 0.7: systolic swing with the breath (mmHg)", 10, 35,
       "over 10 in 80 %, pmj 157935 (V)", kTuned,
       [] {
         auto p = patient(kAdult, {{"cardiac_tamponade", 0.7}});
         return p ? watch(*p, 12).sbp_swing : kNone;
       }},
      {"C43", "tamponade 0.7: heart rate (/min)", 100, 150, "over 100 in 88 %, same (V)", kHolds,
       [] {
         auto p = patient(kAdult, {{"cardiac_tamponade", 0.7}});
         return p ? watch(*p).hr : kNone;
       }},
      {"C44", "carbon monoxide 0.5: what the oximeter hides (points)", 8, 40,
       "gap = COHb, Bozeman 1997 (V)", kHolds,
       [] {
         auto p = patient(kAdult, {{"carbon_monoxide", 0.5}});
         return p ? p->monitor().spo2_percent - 100.0 * p->inside().sao2 : kNone;
       }},
      {"C45", "carbon monoxide, oxygen by mask: half-life (min)", 48, 100,
       "74 SD 25, Weaver 2000 (V)", kHolds,
       [] {
         auto p = patient(kAdult, {{"carbon_monoxide", 0.5}});
         if (!p) return kNone;
         const auto gap = [](const Patient& q) {
           return q.monitor().spo2_percent - 100.0 * q.inside().sao2;
         };
         const double start = gap(*p);
         treat(*p, "oxygen");
         return seconds_until(
                    *p, [&](const Patient& q) { return gap(q) < 0.5 * start; }, 9000, 30) /
                60.0;
       }},
      {"C46", "tube in the gullet, bagged: EtCO2 after 6 breaths and more (mmHg)", 0, 5,
       "flat by about 6 breaths, pm 8372677 (V)", kHolds,
       [] {
         auto p = patient(kAdult, {{"oesophageal_tube", 1.0}}, 0.0);
         if (!p || !treat(*p, "assisted_ventilation")) return kNone;
         wait(*p, 60);
         return p->monitor().etco2_mmHg;
       }},
      {"C47", "weakness 0.7: vital capacity (mL/kg)", 8, 22, "under 20, Lawn 2001 (V)", kTuned,
       [] {
         auto p = patient(kAdult, {{"neuromuscular_weakness", 0.7}});
         return p ? 1000.0 * p->forced_breath().fvc_L / 75.0 : kNone;
       }},
      {"C48", "anxiety 0.8: EtCO2 (mmHg)", 15, 30, "symptoms at 18.6-20.3, 433fb07cc5b5 (V)",
       kTuned,
       [] {
         auto p = patient(kAdult, {{"anxiety_hyperventilation", 0.8}});
         return p ? watch(*p).etco2 : kNone;
       }},
      {"C49", "flail chest 0.7: tidal volume against well (%)", 40, 80,
       "-30 to -50 %, trauma texts (M)", kTuned,
       [] {
         auto p = patient(kAdult, {{"rib_fractures", 0.7}});
         return p ? 100.0 * watch(*p).tidal /
                        watch(*std::make_unique<Patient>(*patient(kAdult))).tidal
                  : kNone;
       }},
      {"C50", "sepsis with pneumonia of both lungs 0.7: PaO2 on air over 0.21 (mmHg)", 100, 260,
       "P/F 100-200, texts (M)", kHolds,
       [] {
         auto p = patient(kAdult, {{"septic_pneumonia", 0.7}});
         return p ? watch(*p).pao2 / 0.21 : kNone;
       }},
      {"C51", "tension 1.0 unaided from its first minute: no pulse after (min)", 12, 60,
       "worse over minutes to an hour, Roberts 2015 (V)", kTuned,
       [] {
         return minutes_to(patient(kAdult, {{"tension_pneumothorax", 1.0}}, 0.0), is_pulseless);
       }},
      {"C52", "tension 1.0 bagged from its first minute: no pulse after (min)", 2, 10,
       "minutes, Roberts 2015 (V)", kOpen,
       [] {
         Patient p = *patient(kAdult, {{"tension_pneumothorax", 1.0}}, 0.0);
         treat(p, "assisted_ventilation");
         return minutes_to(p, is_pulseless);
       }},
      {"C53", "tension 1.0 unaided: breaths below 8 before the pulse is gone (1 = so)", 1, 1,
       "respiratory arrest before cardiac, Roberts 2015 (V)", kHolds,
       [] {
         Patient p = *patient(kAdult, {{"tension_pneumothorax", 1.0}}, 0.0);
         while (!is_pulseless(p) && p.time_s() < 5400) {
           if (p.monitor().respiratory_rate_per_min < 8.0) return 1.0;
           wait(p, 2);
         }
         return 0.0;
       }},
      {"C54", "tension 1.0 unaided, a needle when SpO2 is below 75: systolic an hour later (mmHg)",
       90, 140, "decompression in time saves (texts, M)", kHolds,
       [] {
         Patient p = *patient(kAdult, {{"tension_pneumothorax", 1.0}}, 0.0);
         if (std::isnan(seconds_until(
                 p, [](const Patient& q) { return q.monitor().spo2_percent < 75.0; }, 5400.0))) {
           return kNone;
         }
         for (int n = 0; n < 8; ++n) {
           treat(p, "needle_decompression");
           wait(p, 1.0);
           if (p.load().at_side(Mechanism::kChestWound_L_per_s_per_cmH2O, 0) > 0.0) break;
         }
         wait(p, 3600.0);
         return watch(p).sbp;
       }},
      {"C55", "sepsis with pneumonia of both lungs 0.6: resistance (x rest)", 0.4, 0.75,
       "half when filled, droracle 694191 (V2)", kTuned,
       [] {
         Patient p = *patient(kAdult, {{"septic_pneumonia", 0.6}});
         const Seen s = watch(p);
         Patient q = *patient(kAdult);
         const Seen well = watch(q);
         return (s.map - s.pra) / s.output / ((well.map - well.pra) / well.output);
       }},
      {"C56", "sepsis with pneumonia of both lungs 0.6: diastolic (mmHg)", 38, 62,
       "low, wide pulse pressure at first (texts, M)", kTuned,
       [] { return settled(kAdult, {{"septic_pneumonia", 0.6}}, 1).dbp; }},
      {"C57", "apnoea of an infant 0.9 of two months: least pulse over the usual (x)", 0.3, 0.7,
       "down by 30 % or more in 75 % of those over 20 s, scilit 429f735b (V)", kTuned,
       [] {
         Patient p = *patient({0.15, Sex::kMale, 56.0, 4.8}, {{"infant_apnoea", 0.9}});
         double usual = 0.0, least = 1e9;
         for (int n = 0; n < 240; ++n) {
           wait(p, 1.0);
           usual = std::max(usual, p.gas().carried() > 0.95 ? p.monitor().heart_rate_per_min : 0.0);
           least = std::min(least, p.monitor().heart_rate_per_min);
         }
         return least / usual;
       }},
      {"C58", "open wound of the chest: SpO2 at 0.3 minus that at 0.9 (points)", 4, 25,
       "a hole of two thirds of the windpipe (merckmanuals.com, V); size our own", kTuned,
       [] {
         return settled(kAdult, {{"open_pneumothorax", 0.3}}, 5).spo2 -
                settled(kAdult, {{"open_pneumothorax", 0.9}}, 5).spo2;
       }},
      {"C59", "tube in the gullet after oxygen: SpO2 below 90 after (min)", 3, 10,
       "apnoea after oxygen, row 24; late, texts (M)", kHolds,
       [] {
         PatientSetup setup{{54.0, Sex::kMale, 179.0, 96.0}, {}, 4.0, Posture::kLying};
         setup.conditions = {{.id = "oesophageal_tube", .severity = 0.75}};
         setup.treatments = {{.id = "assisted_ventilation", .minutes_before = 4.0}};
         Patient p = *Patient::make(*configure(setup, conditions(), treatments()), Seed{7});
         return seconds_until(p, [](const Patient& q) { return q.monitor().spo2_percent < 90.0; }) /
                60.0;
       }},
  };
}

}  // namespace phren::patient
