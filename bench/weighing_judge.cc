// Judges the weighing on the patients of the study.
#include "bench/weighing_judge.h"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <fstream>

#include "base/files.h"
#include "reasoning/arithmetic.h"
#include "reasoning/scale.h"
#include "reasoning/weigh.h"

namespace phren::bench {
namespace {

using reasoning::Impression;
using reasoning::Knowledge;
using reasoning::WeighOptions;

constexpr std::size_t kCurvePatientsPerCondition = 60;

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
                                                     {"metabolic_acidosis", "acidosis"},
                                                     {"open_pneumothorax", "tension"},
                                                     {"cardiac_tamponade", "shock"},
                                                     {"septic_pneumonia", "shock"},
                                                     {"neuromuscular_weakness", "hypoventilation"},
                                                     {"infant_apnoea", "hypoventilation"},
                                                     {"whooping_cough", "hypoventilation"},
                                                     {"oesophageal_tube", "hypoventilation"}};

}  // namespace

bool is_threatened(const Case& c) {
  return kTrueThreat.contains(c.id()) && c.patient.severities.front() >= kLifeThreateningSeverity;
}

bool is_threat_named(const Impression& impression, const std::string& condition) {
  const auto wanted = kTrueThreat.find(condition);
  return wanted != kTrueThreat.end() &&
         std::any_of(impression.threats.begin(), impression.threats.end(),
                     [&](const auto& t) { return t.id == wanted->second && t.is_named; });
}

bool is_threat_held(const Impression& impression, const std::string& condition) {
  const auto wanted = kTrueThreat.find(condition);
  return wanted != kTrueThreat.end() &&
         std::any_of(impression.threats.begin(), impression.threats.end(),
                     [&](const auto& t) { return t.id == wanted->second; });
}

namespace {

// How often the patient's second condition, or its absence, comes along over how often it was made.
double companion_weight(const Case& c, const Knowledge& knowledge) {
  const double age = c.seen.age_years;
  const auto choices = companions_of(c.id(), age);
  if (choices.empty()) return 1.0;
  const double chance = reasoning::chance_of_second_cause(age);
  if (c.patient.condition_ids.size() < 2) return (1.0 - chance) / (1.0 - kCompanionsMade);
  const auto prior = [&](const std::string& id) {
    return knowledge.priors.of(c.seen.setting, id, age).probability;
  };
  double all = 0.0;
  for (const auto& id : choices) all += prior(id);
  const double made = kCompanionsMade / static_cast<double>(choices.size());
  return chance * prior(c.patient.condition_ids[1]) / all / made;
}

}  // namespace

void set_weights(std::vector<Case>& cases, const Knowledge& knowledge) {
  std::map<std::pair<std::string, std::string>, double> counts;
  std::map<std::string, double> total;
  for (const Case& c : cases) counts[{c.seen.setting, c.id()}] += 1.0;
  for (Case& c : cases) {
    c.weight = knowledge.priors.of(c.seen.setting, c.id(), c.seen.age_years).printed /
               counts[{c.seen.setting, c.id()}] * companion_weight(c, knowledge);
    total[c.seen.setting] += c.weight;
  }
  for (Case& c : cases) c.weight /= total[c.seen.setting] * static_cast<double>(total.size());
}

namespace {

std::size_t place_of(const Impression& impression, const std::string& id) {
  for (std::size_t i = 0; i < impression.ranking.size(); ++i) {
    if (impression.ranking[i].id == id) return i;
  }
  return impression.ranking.size();
}

Result<std::vector<Case>> load(const std::vector<std::string>& files, std::uint64_t examiner,
                               const Knowledge& knowledge) {
  std::vector<Case> cases;
  for (const auto& file : files) {
    std::ifstream in(file);
    std::string line;
    for (int n = 1; std::getline(in, line); ++n) {
      auto patient = from_line(line, file + ":" + std::to_string(n));
      if (!patient) return fail(patient.error());
      Case c{std::move(*patient), {}, 0.0};
      c.seen = with_misses(c.patient, examiner, knowledge);
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

// A threat that was not named: on the error stream, with what the examiner had.
void tell_of_threat(const Case& c, bool is_held) {
  std::fprintf(stderr, "threat %s: %s;", is_held ? "held open" : "missed", c.seen.case_id.c_str());
  if (!is_held) {
    for (const auto& f : c.seen.findings) {
      if (f.presence != exam::Presence::kAbsent) {
        const bool is_there = f.presence == exam::Presence::kPresent;
        std::fprintf(stderr, " %s%s", f.id.c_str(), is_there ? "" : "(unknown)");
      }
    }
  }
  std::fprintf(stderr, "\n");
}

void count_one(const Case& c, const Impression& impression, PerCondition& out) {
  const std::size_t place = place_of(impression, c.id());
  ++out.count;
  out.top1 += place < 1 ? 1 : 0;
  out.top3 += place < 3 ? 1 : 0;
  ++out.first[impression.ranking.front().id];
  std::size_t named = 0;
  for (const auto& threat : impression.threats) named += threat.is_named ? 1 : 0;
  out.named += named;
  out.open += impression.threats.size() - named;
  ++out.list_lengths[impression.threats.size()];
  ++out.named_lengths[named];
  if (is_threatened(c)) {
    ++out.threatened;
    const bool is_named = is_threat_named(impression, c.id());
    out.threat_named += is_named ? 1 : 0;
    out.threat_open += !is_named && is_threat_held(impression, c.id()) ? 1 : 0;
    if (!is_named) tell_of_threat(c, is_threat_held(impression, c.id()));
  }
}

}  // namespace

int judge(const std::filesystem::path& folder, std::uint64_t examiner,
          const std::vector<std::string>& files) {
  const auto knowledge = Knowledge::load(data_directory());
  const auto cases = knowledge ? load(files, examiner, *knowledge)
                               : Result<std::vector<Case>>(fail(knowledge.error()));
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
  compare_orders(*cases, kCurvePatientsPerCondition, *knowledge, out);
  return write_tables(out, folder);
}

}  // namespace phren::bench
