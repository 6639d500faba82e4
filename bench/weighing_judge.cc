// Judges the weighing on the patients of the study.
#include "bench/weighing_judge.h"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <fstream>

#include "base/files.h"
#include "reasoning/arithmetic.h"
#include "reasoning/weigh.h"

namespace phren::bench {
namespace {

using exam::Presence;
using reasoning::Impression;
using reasoning::Knowledge;
using reasoning::WeighOptions;

constexpr double kLifeThreateningSeverity = 0.5;
constexpr std::size_t kCurveLooks = 20, kCurvePatientsPerCondition = 20;

// The threat that must be named for each condition that can kill soon.
const std::map<std::string, std::string> kTrueThreat{{"asthma", "silent"},
                                                     {"copd_exacerbation", "silent"},
                                                     {"anaphylaxis", "anaphylaxis"},
                                                     {"cardiogenic_oedema", "oedema"},
                                                     {"tension_pneumothorax", "tension"},
                                                     {"haemothorax", "bleeding"},
                                                     {"pulmonary_embolism", "embolism"},
                                                     {"croup", "airway"},
                                                     {"epiglottitis", "airway"},
                                                     {"upper_airway_foreign_body", "airway"},
                                                     {"inhalation_burn", "airway"},
                                                     {"opioid_hypoventilation", "hypoventilation"},
                                                     {"metabolic_acidosis", "acidosis"}};

struct Case {
  StudyPatient patient;
  exam::Examination seen;
  double weight = 0.0;
  const std::string& id() const { return patient.condition_ids.front(); }
};

std::size_t place_of(const Impression& impression, const std::string& id) {
  for (std::size_t i = 0; i < impression.ranking.size(); ++i) {
    if (impression.ranking[i].id == id) return i;
  }
  return impression.ranking.size();
}

bool is_threat_named(const Impression& impression, const std::string& condition) {
  const auto wanted = kTrueThreat.find(condition);
  return wanted != kTrueThreat.end() &&
         std::any_of(impression.threats.begin(), impression.threats.end(),
                     [&](const auto& t) { return t.id == wanted->second && t.is_named; });
}

// Named, or not excluded yet.
bool is_threat_held(const Impression& impression, const std::string& condition) {
  const auto wanted = kTrueThreat.find(condition);
  return wanted != kTrueThreat.end() &&
         std::any_of(impression.threats.begin(), impression.threats.end(),
                     [&](const auto& t) { return t.id == wanted->second; });
}

// Each patient counts by the prior of its condition; the settings count alike.
void set_weights(std::vector<Case>& cases, const Knowledge& knowledge) {
  std::map<std::pair<std::string, std::string>, double> counts;
  std::map<std::string, double> total;
  for (const Case& c : cases) counts[{c.seen.setting, c.id()}] += 1.0;
  for (Case& c : cases) {
    c.weight = knowledge.priors.of(c.seen.setting, c.id(), c.seen.age_years).printed /
               counts[{c.seen.setting, c.id()}];
    total[c.seen.setting] += c.weight;
  }
  for (Case& c : cases) c.weight /= total[c.seen.setting] * static_cast<double>(total.size());
}

Result<std::vector<Case>> load(const std::vector<std::string>& files, const Knowledge& knowledge) {
  std::vector<Case> cases;
  for (const auto& file : files) {
    std::ifstream in(file);
    std::string line;
    for (int n = 1; std::getline(in, line); ++n) {
      auto patient = from_line(line, file + ":" + std::to_string(n));
      if (!patient) return fail(patient.error());
      Case c{std::move(*patient), {}, 0.0};
      c.seen = with_misses(c.patient, 0, knowledge);
      cases.push_back(std::move(c));
    }
  }
  if (cases.empty()) return fail(ErrorCode::kNotFound, "no patients in the files named");
  set_weights(cases, knowledge);
  return cases;
}

void score_one(const Case& c, const Impression& impression, Scores& scores) {
  const double share = c.weight / static_cast<double>(impression.ranking.size());
  const auto& ids = c.patient.condition_ids;
  for (const auto& r : impression.ranking) {
    const double p = r.posterior;
    const double y = std::find(ids.begin(), ids.end(), r.id) != ids.end() ? 1.0 : 0.0;
    scores.brier += share * (p - y) * (p - y);
    scores.log_loss -= share * std::log(y > 0.5 ? p : 1.0 - p);
    Bin& bin = scores.bins[std::min(kBins - 1, static_cast<std::size_t>(p * kBins))];
    bin.weight += share;
    bin.predicted += share * p;
    bin.observed += share * y;
    ++bin.count;
  }
  const std::size_t place = place_of(impression, c.id());
  scores.top1 += place < 1 ? 1.0 : 0.0;
  scores.top3 += place < 3 ? 1.0 : 0.0;
}

Scores score_all(const std::string& name, const std::vector<Case>& cases,
                 const Knowledge& knowledge, const WeighOptions& options) {
  Scores scores;
  scores.name = name;
  for (const Case& c : cases) {
    score_one(c, reasoning::weigh(c.seen, knowledge, options).value(), scores);
  }
  scores.top1 /= static_cast<double>(cases.size());
  scores.top3 /= static_cast<double>(cases.size());
  return scores;
}

void count_one(const Case& c, const Impression& impression, PerCondition& out) {
  const std::size_t place = place_of(impression, c.id());
  ++out.count;
  out.top1 += place < 1 ? 1 : 0;
  out.top3 += place < 3 ? 1 : 0;
  ++out.first[impression.ranking.front().id];
  for (const auto& threat : impression.threats) ++(threat.is_named ? out.named : out.open);
  if (kTrueThreat.contains(c.id()) && c.patient.severities.front() >= kLifeThreateningSeverity) {
    ++out.threatened;
    const bool is_named = is_threat_named(impression, c.id());
    out.threat_named += is_named ? 1 : 0;
    out.threat_open += !is_named && is_threat_held(impression, c.id()) ? 1 : 0;
    if (!is_named) {
      std::fprintf(stderr, "threat %s: %s\n",
                   is_threat_held(impression, c.id()) ? "held open" : "missed",
                   c.seen.case_id.c_str());
    }
  }
}

// ---- how fast information grows: the best look next, or always in the same order ----

// From the head down, then what is asked: the order of a secondary survey (common practice).
constexpr const char* kHeadToToe[] = {"altered_mental_state",
                                      "unable_to_speak_sentences",
                                      "cyanosis",
                                      "pallor",
                                      "diaphoresis",
                                      "angioedema",
                                      "facial_burns",
                                      "soot_in_airway",
                                      "nasal_flaring",
                                      "drooling",
                                      "hoarse_voice",
                                      "muffled_voice",
                                      "barking_cough",
                                      "pink_frothy_sputum",
                                      "purulent_sputum",
                                      "raised_jugular_veins",
                                      "tracheal_deviation",
                                      "stridor",
                                      "subcutaneous_emphysema",
                                      "accessory_muscle_use",
                                      "retractions",
                                      "tripod_position",
                                      "urticaria",
                                      "asymmetric_chest_rise",
                                      "chest_wall_tenderness",
                                      "dull_percussion",
                                      "hyperresonant_percussion",
                                      "wheeze",
                                      "rhonchi",
                                      "fine_crackles",
                                      "coarse_crackles",
                                      "diminished_breath_sounds",
                                      "pleural_friction_rub",
                                      "tachypnoea",
                                      "hypoxia",
                                      "tachycardia",
                                      "hypotension",
                                      "fever",
                                      "low_etco2",
                                      "obstructive_capnogram"};

using VitalField = std::optional<double> exam::VitalSigns::*;

VitalField vital_of(const std::string& id) {
  using V = exam::VitalSigns;
  static const std::map<std::string, VitalField> kVitals{
      {"hypoxia", &V::spo2_percent},
      {"hypotension", &V::systolic_mmHg},
      {"hypertension", &V::systolic_mmHg},
      {"tachycardia", &V::heart_rate_per_min},
      {"bradycardia", &V::heart_rate_per_min},
      {"tachypnoea", &V::respiratory_rate_per_min},
      {"bradypnoea", &V::respiratory_rate_per_min},
      {"fever", &V::temperature_C},
      {"hypercapnia", &V::etco2_mmHg},
      {"low_etco2", &V::etco2_mmHg}};
  const auto found = kVitals.find(id);
  return found == kVitals.end() ? nullptr : found->second;
}

// Copies what a look at `id` shows from the whole examination; false when it shows nothing new.
bool look_at(const std::string& id, const exam::Examination& whole, exam::Examination& so_far) {
  if (const VitalField field = vital_of(id)) {
    const bool is_new = whole.vital_signs.*field && !(so_far.vital_signs.*field);
    so_far.vital_signs.*field = whole.vital_signs.*field;
    return is_new;
  }
  const auto is_this = [&](const exam::Finding& f) {
    return f.id == id && f.presence != Presence::kUnknown;
  };
  if (std::any_of(so_far.findings.begin(), so_far.findings.end(), is_this)) return false;
  bool any = false;
  for (const auto& f : whole.findings) {
    if (!is_this(f)) continue;
    so_far.findings.push_back(f);
    any = true;
  }
  return any;
}

double log2_score(double p, bool is_true) {
  return std::log2(is_true ? p : 1.0 - p);
}

void note_point(const Case& c, const Impression& impression, double seconds, CurvePoint& point) {
  const auto& ids = c.patient.condition_ids;
  for (const auto& r : impression.ranking) {
    const bool is_true = std::find(ids.begin(), ids.end(), r.id) != ids.end();
    const double before = std::clamp(r.prior, reasoning::kLowestShown, reasoning::kHighestShown);
    point.bits += c.weight * (log2_score(r.posterior, is_true) - log2_score(before, is_true));
  }
  point.top1 += impression.ranking.front().id == c.id() ? 1.0 : 0.0;
  point.threat += is_threat_named(impression, c.id()) ? 1.0 : 0.0;
  point.seconds += seconds;
}

// `whole` without what is asked: both orders choose among the same bedside looks.
void follow(const Case& c, const exam::Examination& whole, const Knowledge& knowledge,
            bool best_first, std::vector<CurvePoint>& curve) {
  exam::Examination so_far = whole;
  so_far.findings.clear();
  so_far.vital_signs = {};
  WeighOptions options;
  options.most_looks = 100;
  double seconds = 0.0;
  std::size_t next = 0;
  for (CurvePoint& point : curve) {
    const Impression now = reasoning::weigh(so_far, knowledge, options).value();
    note_point(c, now, seconds, point);
    std::vector<std::string> order;
    if (best_first) {
      for (const auto& look : now.looks) order.push_back(look.finding_id);
    } else {
      order.assign(std::begin(kHeadToToe) + static_cast<std::ptrdiff_t>(next),
                   std::end(kHeadToToe));
    }
    for (const auto& id : order) {
      ++next;
      if (!look_at(id, whole, so_far)) continue;
      seconds += knowledge.findings[*knowledge.findings.index_of(id)].seconds;
      break;
    }
  }
}

bool is_bedside(const std::string& id) {
  return std::any_of(std::begin(kHeadToToe), std::end(kHeadToToe),
                     [&](const char* known) { return id == known; });
}

void draw_curves(const std::vector<Case>& cases, const Knowledge& knowledge, Judgement& out) {
  std::map<std::string, std::size_t> taken;
  std::vector<Case> chosen;
  for (const Case& c : cases) {
    if (taken[c.id()]++ < kCurvePatientsPerCondition) chosen.push_back(c);
  }
  set_weights(chosen, knowledge);
  out.num_curve_patients = chosen.size();
  out.best_first.resize(kCurveLooks + 1);
  out.head_to_toe.resize(kCurveLooks + 1);
  for (const Case& c : chosen) {
    exam::Examination whole = c.seen;
    std::erase_if(whole.findings, [](const exam::Finding& f) { return !is_bedside(f.id); });
    follow(c, whole, knowledge, true, out.best_first);
    follow(c, whole, knowledge, false, out.head_to_toe);
  }
  double threatened = 0.0;
  for (const Case& c : chosen) threatened += kTrueThreat.contains(c.id()) ? 1.0 : 0.0;
  const auto n = static_cast<double>(chosen.size());
  for (auto* curve : {&out.best_first, &out.head_to_toe}) {
    for (CurvePoint& p : *curve) p = {p.bits, p.top1 / n, p.threat / threatened, p.seconds / n};
  }
}

}  // namespace

int judge(const std::filesystem::path& folder, const std::vector<std::string>& files) {
  const auto knowledge = Knowledge::load(data_directory());
  const auto cases =
      knowledge ? load(files, *knowledge) : Result<std::vector<Case>>(fail(knowledge.error()));
  if (!cases) {
    std::fprintf(stderr, "weighing_study: %s\n", cases.error().message.c_str());
    return 1;
  }
  Judgement out;
  out.num_patients = cases->size();
  for (const Case& c : *cases) {
    out.num_coexisting += c.patient.condition_ids.size() > 1 ? 1 : 0;
    count_one(c, reasoning::weigh(c.seen, *knowledge).value(), out.conditions[c.id()]);
  }
  WeighOptions naive, published;
  naive.shrink = 1.0;
  published.published_only = true;
  out.ways.push_back(
      score_all("each further finding of a group counts half", *cases, *knowledge, {}));
  out.ways.push_back(score_all("all findings multiplied (naive)", *cases, *knowledge, naive));
  out.ways.push_back(score_all("published figures only", *cases, *knowledge, published));
  draw_curves(*cases, *knowledge, out);
  return write_tables(out, folder);
}

}  // namespace phren::bench
