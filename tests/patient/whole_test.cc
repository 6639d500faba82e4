// Many patients at once: every path to death, an illness more, the course of twenty minutes. The
// short runs are for every day; those in Soak suites are the same checks over many more.
#include <gtest/gtest.h>

#include <cmath>
#include <cstdio>

#include "patient/findings.h"
#include "people.h"
#include "some_patient.h"

namespace phren::patient {
namespace {

// ---- dying ----

struct Death {
  double out_s = -1, pulse_lost_s = -1, still_s = -1;  // unresponsive; no pulse; no beat
  double injury_min = 0, co2_start = 0, co2_most_fall = 0;
  std::string wrong;
};

// Follows an untreated patient for at most `minutes`, or until half an hour after the pulse went.
Death follow(Patient& p, double minutes) {
  Death d;
  double awake_flat_s = 0, starved_s = 0, co2_top = 0;
  const double begin = p.time_s();
  d.co2_start = p.inside().paco2_mmHg;
  const auto is_over = [&] {
    const double t = p.time_s() - begin;
    return d.pulse_lost_s < 0 ? t >= 60.0 * minutes : t > d.pulse_lost_s + 1800.0;
  };
  while (!is_over() && d.wrong.empty()) {
    p.advance_to(p.time_s() + 2.0);
    const double t = p.time_s() - begin;
    const Inside x = p.inside();
    const Monitor m = p.monitor();
    const Consciousness mind = p.signs().consciousness;
    const bool is_awake = mind == Consciousness::kAlert || mind == Consciousness::kVoice;
    if (d.out_s < 0 && mind == Consciousness::kUnresponsive) d.out_s = t;
    if (d.pulse_lost_s < 0) {
      if (!m.has_pulse && p.circulation().is_arrested()) d.pulse_lost_s = t;
      co2_top = std::max(co2_top, x.paco2_mmHg);
      d.co2_most_fall = std::max(d.co2_most_fall, co2_top - x.paco2_mmHg);
    }
    if (d.still_s < 0 && m.heart_rate_per_min <= 0.0) d.still_s = t;
    awake_flat_s = is_awake && x.mean_arterial_mmHg < 0.3 * p.circulation().resting_pressure_mmHg()
                       ? awake_flat_s + 2.0
                       : 0.0;
    if (awake_flat_s > 20.0) d.wrong = "awake without pressure";
    if (is_awake && x.brain_injury_min > 10.0) d.wrong = "awake after its brain's time is over";
    starved_s = x.sao2 < 0.25 && m.has_pulse ? starved_s + 2.0 : 0.0;
    if (starved_s > 900.0) d.wrong = "alive for a quarter of an hour without oxygen";
  }
  d.injury_min = p.inside().brain_injury_min;
  if (d.pulse_lost_s < 0 || !d.wrong.empty()) return d;
  if (d.out_s < 0 || d.out_s > d.pulse_lost_s + 20.0) d.wrong = "the mind outlives the pulse";
  if (d.still_s < 0) d.wrong = "no standstill half an hour after the pulse went";
  if (d.still_s >= 0 && d.still_s < d.pulse_lost_s - 20.0) d.wrong = "standstill with a pulse";
  if (p.monitor().has_pulse) d.wrong = "a pulse that comes back by itself";
  return d;
}

bool is_asphyxia(const std::string& id) {
  for (const char* shut : {"upper_airway_foreign_body", "opioid_hypoventilation",
                           "neuromuscular_weakness", "epiglottitis", "infant_apnoea"}) {
    if (id == shut) return true;
  }
  return false;
}

void everybody_dies_in_order(int count, std::uint64_t seed) {
  RandomStream r(Seed{seed}, "paths to death");
  int died = 0, asphyxia = 0;
  for (int n = 0; n < count; ++n) {
    // Every other one has its airway shut or its drive gone: paths that surely end.
    PatientSetup setup = some_setup(r, 1 + static_cast<int>(r.below(2)), 0.8);
    if (n % 2 == 0) {
      const char* lethal[] = {"upper_airway_foreign_body",
                              "opioid_hypoventilation",
                              "tension_pneumothorax",
                              "haemothorax",
                              "anaphylaxis",
                              "cardiac_tamponade"};
      const Condition c = *conditions().find(lethal[r.below(6)]);
      setup.conditions = {{.id = c.id, .severity = 1.0}};
      setup.person = some_person(r, c.least_age_years, std::min(c.most_age_years, 95.0));
    }
    Patient p = *Patient::make(*configure(setup, conditions(), treatments()), Seed{r.bits()});
    const Death d = follow(p, 100.0);
    SCOPED_TRACE(told(setup));
    EXPECT_EQ(d.wrong, "") << "pulse lost after " << d.pulse_lost_s << " s; at the end beats "
                           << p.monitor().heart_rate_per_min << " /min, mean pressure "
                           << p.inside().mean_arterial_mmHg << " mmHg, sao2 " << p.inside().sao2;
    if (d.pulse_lost_s < 0) continue;
    ++died;
    const double age = setup.person.age_years;
    const double least = age < 2.0 ? 25.0 : 60.0;  // from the start of the encounter
    EXPECT_GE(d.pulse_lost_s, setup.minutes_before > 0.5 ? 1.0 : least);
    if (setup.conditions.size() == 1 && is_asphyxia(setup.conditions[0].id)) {
      ++asphyxia;
      EXPECT_GT(p.inside().paco2_mmHg, d.co2_start) << "in an asphyxia CO2 rises";
      EXPECT_LT(d.co2_most_fall, 6.0) << "in an asphyxia CO2 does not fall";
    }
  }
  std::printf("    seed %llu: %d of %d died, %d by asphyxia\n",
              static_cast<unsigned long long>(seed), died, count, asphyxia);
  EXPECT_GT(died, count / 8);
  EXPECT_GT(asphyxia, 0);
}

TEST(Dying, TwentyFourRandomPatientsDieInOrder) {
  everybody_dies_in_order(24, 14);
}
TEST(DyingSoak, ThreeHundredRandomPatientsDieInOrder) {
  everybody_dies_in_order(300, 20261130);
}

// ---- an illness more ----

struct State {
  double oxygen = 0, pressure = 0;
};
bool is_tube(const Condition& c) {
  return c.id == "main_bronchus_tube" || c.id == "oesophageal_tube";
}
// Somebody without a pulse has no oxygen, whatever lies still in the arteries.
std::optional<State> state_of(const Person& person, const std::vector<ConditionUse>& ills,
                              bool is_bagged) {
  const auto config =
      configure({person, ills, 15.0, Posture::kSitting}, conditions(), treatments());
  if (!config) return std::nullopt;
  Patient p = *Patient::make(*config, Seed{3});
  if (is_bagged) {
    p.act(
        {ActionKind::kTreat, *treatments().index_of("assisted_ventilation"), exam::Side::kMidline});
  }
  p.advance_to(300.0);
  State s;
  for (int n = 0; n < 30; ++n) {
    p.advance_to(p.time_s() + 1.0);
    s.oxygen += p.monitor().has_pulse ? p.inside().sao2 / 30.0 : 0.0;
    s.pressure += p.inside().mean_arterial_mmHg / 30.0;
  }
  return s;
}

// What may raise oxygen or pressure when it comes on top, and why.
struct Helper {
  const char* added;
  const char* to;  // empty: to any
  const char* why;
};
constexpr Helper kHelpers[] = {
    {"anxiety_hyperventilation", "", "fear drives breathing"},
    {"metabolic_acidosis", "", "acid drives breathing"},
    {"cheyne_stokes", "bronchial_foreign_body", "it breathes too much in its turn"},
    {"upper_airway_foreign_body", "open_pneumothorax",
     "breathing out against a narrow throat presses air out of the open chest"},
    {"bronchitis", "open_pneumothorax", "as a narrow throat does"},
    {"pleural_effusion", "open_pneumothorax", "fluid takes the place of air"},
    {"upper_airway_foreign_body", "pleural_effusion", "a narrow throat holds the lung open"},
};
const char* excuse(const std::string& added, const std::string& to) {
  for (const Helper& h : kHelpers) {
    if (added == h.added && (h.to[0] == 0 || to == h.to)) return h.why;
  }
  return nullptr;
}

// Adds `b` to `a` in somebody of an age at which both occur; the oxygen must not rise.
int add_illness(const Condition& a, const Condition& b, double severity) {
  const double least = std::max(a.least_age_years, b.least_age_years),
               most = std::min(std::min(a.most_age_years, b.most_age_years), 90.0);
  if (least >= most || a.id == b.id || b.id == "healthy") return 0;
  const Person person = person_of_age(least <= 40.0 && most >= 40.0 ? 40.0 : 0.5 * (least + most));
  const ConditionUse ill{.id = a.id, .severity = severity, .is_steady = true},
      more{.id = b.id, .severity = severity, .is_steady = true};
  // Nobody has a breathing tube without a hand on the bag.
  const bool is_bagged = is_tube(a) || is_tube(b);
  const auto alone = state_of(person, {ill}, is_bagged),
             both = state_of(person, {ill, more}, is_bagged);
  if (!alone || !both) return 0;
  // Below a quarter both are dying, one a little sooner.
  const double gain = 100.0 * (std::max(both->oxygen, 0.25) - std::max(alone->oxygen, 0.25));
  if (gain > 2.0) {
    const char* why = excuse(b.id, a.id);
    std::printf("    %s to %s: oxygen %+.1f points (%.1f to %.1f)%s%s\n", b.id.c_str(),
                a.id.c_str(), gain, 100.0 * alone->oxygen, 100.0 * both->oxygen, why ? "; " : "",
                why ? why : "");
    EXPECT_TRUE(why != nullptr) << b.id << " added to " << a.id << " helps by " << gain;
  }
  return 1;
}

TEST(AnIllnessMore, NeverHelpsInFortyPairs) {
  RandomStream r(Seed{15}, "pairs of illnesses");
  const auto& all = conditions().all();
  const auto size = static_cast<std::uint32_t>(all.size());
  for (int n = 0; n < 40;) n += add_illness(all[r.below(size)], all[r.below(size)], 0.6);
}
TEST(AnIllnessMoreSoak, NeverHelpsInAnyPair) {
  int pairs = 0;
  for (const Condition& a : conditions().all()) {
    for (const Condition& b : conditions().all()) pairs += add_illness(a, b, 0.6);
  }
  std::printf("    %d pairs\n", pairs);
}

// ---- twenty minutes ----

bool changes(const PatientSetup& setup, Seed seed) {
  Patient p = *Patient::make(*configure(setup, conditions(), treatments()), seed);
  const auto means = [&p] {
    std::array<double, 5> v{};
    for (int n = 0; n < 60; ++n) {
      p.advance_to(p.time_s() + 1.0);
      const Monitor m = p.monitor();
      const std::array<double, 5> now{m.respiratory_rate_per_min, m.spo2_percent,
                                      m.heart_rate_per_min, m.systolic_mmHg, m.etco2_mmHg};
      for (std::size_t i = 0; i < now.size(); ++i) v[i] += now[i] / 60.0;
    }
    return v;
  };
  const auto before = means();
  p.advance_to(1140.0);
  const auto after = means();
  const auto moved = [&](std::size_t i, double share, double least) {
    return std::abs(after[i] - before[i]) > std::max(least, share * before[i]);
  };
  // What a crew would chart as another value.
  return moved(0, 0.08, 2.0) || moved(1, 0.0, 2.0) || moved(2, 0.06, 5.0) || moved(3, 0.06, 7.0) ||
         moved(4, 0.08, 3.0);
}
int how_many_change(int count, std::uint64_t seed) {
  RandomStream r(Seed{seed}, "twenty minutes");
  int changed = 0;
  for (int n = 0; n < count; ++n) {
    PatientSetup setup = some_setup(r, 1, 0.0);
    const bool moved = changes(setup, Seed{r.bits()});
    changed += moved ? 1 : 0;
    if (!moved) std::printf("    as it was: %s\n", told(setup).c_str());
  }
  std::printf("    seed %llu: %d of %d change within twenty minutes\n",
              static_cast<unsigned long long>(seed), changed, count);
  // Effusion, scarred lung, gas that was breathed and the mildest of all hardly move in twenty minutes.
  return changed;
}

TEST(TwentyMinutes, HalfOfFortyFiveChange) {
  EXPECT_GE(how_many_change(45, 16), 23);
}
TEST(TwentyMinutesSoak, TwoHundredOfThreeHundredChange) {
  EXPECT_GE(how_many_change(300, 17), 200);
}

// ---- one number, one grade ----

struct Grade {
  double rr = 0, spo2 = 0, hr = 0, sbp = 0, dbp = 0, paco2 = 0;
  Consciousness mind = Consciousness::kAlert;
  bool has_pulse = true;
};
Grade grade_of(const Condition& c, const Person& person, double severity) {
  const ConditionUse use{.id = c.id, .severity = severity, .is_steady = true};
  const auto config =
      configure({person, {use}, 15.0, Posture::kSitting}, conditions(), treatments());
  Patient p = *Patient::make(*config, Seed{3});
  p.advance_to(120.0);
  Grade g;
  for (int n = 0; n < 30; ++n) {
    p.advance_to(p.time_s() + 1.0);
    const Monitor m = p.monitor();
    g.rr += m.respiratory_rate_per_min / 30.0;
    g.spo2 += m.spo2_percent / 30.0;
    g.hr += m.heart_rate_per_min / 30.0;
    g.sbp += m.systolic_mmHg / 30.0;
    g.dbp += m.diastolic_mmHg / 30.0;
    g.paco2 += p.inside().paco2_mmHg / 30.0;
  }
  g.mind = p.signs().consciousness;
  g.has_pulse = p.monitor().has_pulse;
  return g;
}

// One illness at one age: mild leaves one awake with a pressure, severe keeps the pulse, and the
// worst is not better off than the mild. Prints a row of the table in docs/validation.
void judge_grades(const Condition& c, double age) {
  const Person person = person_of_age(age);
  std::array<Grade, 3> g;
  std::string cells;
  for (std::size_t i = 0; i < 3; ++i) {
    g[i] = grade_of(c, person, 0.3 * static_cast<double>(i + 1));
    char text[128];
    std::snprintf(
        text, sizeof text, " %.0f, %.0f, %.0f, %.0f/%.0f, %.0f%s%s |", g[i].rr, g[i].spo2, g[i].hr,
        g[i].sbp, g[i].dbp, g[i].paco2, g[i].mind == Consciousness::kAlert ? "" : ", ",
        g[i].mind == Consciousness::kAlert ? "" : std::string(to_string(g[i].mind)).c_str());
    cells += g[i].has_pulse ? text : " no pulse |";
  }
  std::printf("| %s | %.3g |%s\n", c.name.c_str(), age, cells.c_str());
  SCOPED_TRACE(c.id + " at " + std::to_string(age) + " years");
  EXPECT_TRUE(g[0].has_pulse);
  EXPECT_GE(g[0].sbp, 0.9 * hypotension_limit_mmHg(age));
  EXPECT_GE(g[0].spo2, 86.0);
  EXPECT_LE(g[2].has_pulse ? g[2].spo2 : 0.0, g[0].spo2 + 1.5);
}

bool occurs(const Condition& c, double age) {
  return age >= c.least_age_years && age <= c.most_age_years;
}

TEST(GradesSoak, EightIllnessesInAnAdultAndAChild) {
  for (const char* id : {"asthma", "lobar_pneumonia", "cardiogenic_oedema", "tension_pneumothorax",
                         "haemothorax", "anaphylaxis", "copd_exacerbation", "pulmonary_embolism"}) {
    const Condition c = *conditions().find(id);
    for (const double age : {6.0, 60.0}) {
      if (occurs(c, age)) judge_grades(c, age);
    }
  }
}
TEST(GradesSoak, EveryIllnessAtFiveAges) {
  for (const Condition& c : conditions().all()) {
    for (const double age : {0.05, 1.0, 6.0, 34.0, 80.0}) {
      if (occurs(c, age)) judge_grades(c, age);
    }
  }
}

}  // namespace
}  // namespace phren::patient
