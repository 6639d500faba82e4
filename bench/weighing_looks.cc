// How fast information grows: the best look next, against fixed and random orders of the same
// looks.
#include <algorithm>
#include <cmath>

#include "base/random.h"
#include "base/stable_sort.h"
#include "bench/weighing_judge.h"
#include "reasoning/weigh.h"

namespace phren::bench {
namespace {

using exam::Presence;
using reasoning::Impression;
using reasoning::Knowledge;
using reasoning::LookInfo;

// From the head down, then the kit: the order of a secondary survey (common practice).
constexpr const char* kHeadToToe[] = {
    "speech",         "face",        "forehead",  "burns",         "mouth",      "cough_sputum",
    "neck",           "neck_sound",  "effort",    "chest_by_hand", "percussion", "lungs",
    "voice_sound",    "heart",       "skin",      "legs",          "oximeter",   "breath_count",
    "blood_pressure", "thermometer", "capnograph"};
constexpr std::size_t kNumKit = 5;  // the last ones

// Where a patient stands after each look.
struct Step {
  double seconds = 0.0, bits = 0.0, top1 = 0.0, threat = 0.0;
};
using Path = std::vector<Step>;

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

// Copies what a look shows from the whole examination; false when there is nothing of it there.
bool look_at(const LookInfo& look, const reasoning::FindingTable& table,
             const exam::Examination& whole, exam::Examination& so_far) {
  bool any = false;
  for (const std::size_t f : look.findings) {
    if (const VitalField field = vital_of(table[f].id)) {
      any = any || (whole.vital_signs.*field).has_value();
      so_far.vital_signs.*field = whole.vital_signs.*field;
      continue;
    }
    for (const auto& finding : whole.findings) {
      if (finding.id != table[f].id || finding.presence == Presence::kUnknown) continue;
      so_far.findings.push_back(finding);
      any = true;
    }
  }
  return any;
}

double log2_score(double p, bool is_true) {
  return std::log2(is_true ? p : 1.0 - p);
}

Step step_of(const Case& c, const Impression& impression, double seconds) {
  Step step;
  step.seconds = seconds;
  const auto& ids = c.patient.condition_ids;
  for (const auto& r : impression.ranking) {
    const bool is_true = std::find(ids.begin(), ids.end(), r.id) != ids.end();
    const double before = std::clamp(r.prior, reasoning::kLowestShown, reasoning::kHighestShown);
    step.bits += log2_score(r.posterior, is_true) - log2_score(before, is_true);
  }
  step.top1 = impression.ranking.front().id == c.id() ? 1.0 : 0.0;
  step.threat = is_threat_named(impression, c.id()) ? 1.0 : 0.0;
  return step;
}

const LookInfo& find_look(const Knowledge& knowledge, const std::string& id) {
  return *std::find_if(knowledge.looks.begin(), knowledge.looks.end(),
                       [&](const LookInfo& look) { return look.id == id; });
}

// `fixed` empty: the best look next. Only looks of kHeadToToe are taken, so nothing is asked and
// every order chooses among the same; a look that shows nothing of this patient costs nothing.
Path follow(const Case& c, const Knowledge& knowledge, const std::vector<std::string>& fixed) {
  exam::Examination so_far = c.seen;
  so_far.findings.clear();
  so_far.vital_signs = {};
  reasoning::WeighOptions options;
  options.most_looks = 100;
  std::vector<std::string> left(std::begin(kHeadToToe), std::end(kHeadToToe));
  if (!fixed.empty()) left = fixed;
  Path path;
  double seconds = 0.0;
  for (;;) {
    const Impression now = reasoning::weigh(so_far, knowledge, options).value();
    path.push_back(step_of(c, now, seconds));
    if (path.size() > kMostLooks + 8) return path;
    if (fixed.empty()) {
      const auto place = [&](const std::string& id) {
        return std::find_if(now.looks.begin(), now.looks.end(),
                            [&](const auto& look) { return look.id == id; }) -
               now.looks.begin();
      };
      phren::stable_sort(left, [&](const auto& a, const auto& b) { return place(a) < place(b); });
    }
    bool any = false;
    while (!left.empty() && !any) {
      const LookInfo& look = find_look(knowledge, left.front());
      left.erase(left.begin());
      any = look_at(look, knowledge.findings, c.seen, so_far);
      if (any) seconds += look.seconds;
    }
    if (!any) return path;
  }
}

std::vector<std::string> shuffled(const Case& c) {
  std::vector<std::string> order(std::begin(kHeadToToe), std::end(kHeadToToe));
  RandomStream random(Seed{c.patient.record.seed}, "order of looks");
  for (std::size_t i = order.size() - 1; i > 0; --i) {
    std::swap(order[i], order[random.below(static_cast<std::uint32_t>(i + 1))]);
  }
  return order;
}

const Step& after_looks(const Path& path, std::size_t k) {
  return path[std::min(k, path.size() - 1)];
}

const Step& after_seconds(const Path& path, double seconds) {
  std::size_t i = 0;
  while (i + 1 < path.size() && path[i + 1].seconds <= seconds) ++i;
  return path[i];
}

// `at` picks the step of a path; weights of `cases` sum to 1.
template <class At>
CurvePoint mean_of(const std::vector<Case>& cases, const std::vector<Path>& paths, At at) {
  CurvePoint point;
  double threatened = 0.0;
  const auto n = static_cast<double>(cases.size());
  for (std::size_t i = 0; i < cases.size(); ++i) {
    const Step& step = at(paths[i]);
    point.bits += cases[i].weight * step.bits;
    point.top1 += step.top1 / n;
    point.seconds += step.seconds / n;
    if (!is_threatened(cases[i])) continue;
    point.threat += step.threat;
    threatened += 1.0;
  }
  point.threat /= threatened;
  return point;
}

template <class At>
Lead lead_of(const std::vector<Case>& cases, const std::vector<Path>& best,
             const std::vector<Path>& other, At at) {
  const CurvePoint a = mean_of(cases, best, at), b = mean_of(cases, other, at);
  Lead lead{a.bits - b.bits, 0.0, a.threat - b.threat, 0.0};
  double threatened = 0.0;
  for (std::size_t i = 0; i < cases.size(); ++i) {
    const Step &x = at(best[i]), &y = at(other[i]);
    const double off = cases[i].weight * (x.bits - y.bits - lead.bits);
    lead.bits_sd += off * off;
    if (!is_threatened(cases[i])) continue;
    lead.threat_sd += (x.threat - y.threat - lead.threat) * (x.threat - y.threat - lead.threat);
    threatened += 1.0;
  }
  lead.bits_sd = std::sqrt(lead.bits_sd);
  lead.threat_sd = std::sqrt(lead.threat_sd) / threatened;
  return lead;
}

}  // namespace

void compare_orders(const std::vector<Case>& cases, std::size_t per_condition,
                    const Knowledge& knowledge, Judgement& out) {
  std::map<std::string, std::size_t> taken;
  std::vector<Case> chosen;
  for (const Case& c : cases) {
    if (taken[c.id()]++ < per_condition) chosen.push_back(c);
  }
  set_weights(chosen, knowledge);
  out.num_curve_patients = chosen.size();
  const std::vector<std::string> head_to_toe(std::begin(kHeadToToe), std::end(kHeadToToe));
  std::vector<std::string> kit_first = head_to_toe;
  std::rotate(kit_first.begin(), kit_first.end() - kNumKit, kit_first.end());
  std::vector<std::vector<Path>> paths(4);
  for (const Case& c : chosen) {
    paths[0].push_back(follow(c, knowledge, {}));
    paths[1].push_back(follow(c, knowledge, head_to_toe));
    paths[2].push_back(follow(c, knowledge, kit_first));
    paths[3].push_back(follow(c, knowledge, shuffled(c)));
  }
  const char* names[] = {"best look next", "head to toe", "vital signs, then head to toe",
                         "random order"};
  for (std::size_t o = 0; o < paths.size(); ++o) {
    Order order;
    order.name = names[o];
    for (std::size_t k = 0; k <= kMostLooks; ++k) {
      const auto at = [&](const Path& path) -> const Step& { return after_looks(path, k); };
      order.by_look.push_back(mean_of(chosen, paths[o], at));
      order.behind_by_look.push_back(lead_of(chosen, paths[0], paths[o], at));
    }
    for (std::size_t k = 0; k <= kTimeSteps; ++k) {
      const double t = kTimeStep_s * static_cast<double>(k);
      const auto at = [&](const Path& path) -> const Step& { return after_seconds(path, t); };
      order.by_time.push_back(mean_of(chosen, paths[o], at));
      order.behind_by_time.push_back(lead_of(chosen, paths[0], paths[o], at));
    }
    out.orders.push_back(std::move(order));
  }
}

}  // namespace phren::bench
