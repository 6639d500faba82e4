#include "reasoning/json.h"

#include <cmath>
#include <nlohmann/json.hpp>

#include "exam/names.h"
#include "reasoning/threats.h"

namespace phren::reasoning {
namespace {

using Json = nlohmann::ordered_json;

// Figures for people to read and compare: nine significant digits are plenty and keep files small.
double tidy(double value) {
  if (value == 0.0 || !std::isfinite(value)) return 0.0;
  const double scale = std::pow(10.0, 8.0 - std::floor(std::log10(std::abs(value))));
  return std::round(value * scale) / scale;
}

Json optional_number(const std::optional<double>& value) {
  return value ? Json(tidy(*value)) : Json(nullptr);
}

Json to_json(const Contribution& c) {
  return {{"finding_id", c.finding_id},
          {"label", c.label},
          {"presence", exam::to_string(c.presence)},
          {"log_odds", tidy(c.log_odds)},
          {"log_odds_sd", tidy(c.sd)},
          {"ratio", tidy(c.ratio)},
          {"reliability", tidy(c.reliability)},
          {"shrink", tidy(c.shrink)},
          {"is_capped", c.is_capped},
          {"is_interval_assumed", c.is_interval_assumed},
          {"row_id", c.row_id},
          {"source", c.source},
          {"doi", c.doi},
          {"status", c.status},
          {"standing", to_string(c.standing)}};
}

Json to_json(const RankedCondition& r) {
  Json contributions = Json::array();
  for (const Contribution& c : r.contributions) contributions.push_back(to_json(c));
  return {{"id", r.id},
          {"label", r.label},
          {"can_kill_soon", r.can_kill_soon},
          {"posterior", tidy(r.posterior)},
          {"posterior_lo", tidy(r.posterior_lo)},
          {"posterior_hi", tidy(r.posterior_hi)},
          {"is_capped", r.is_capped},
          {"published_posterior", tidy(r.published_posterior)},
          {"prior", tidy(r.prior)},
          {"prior_printed", tidy(r.prior_printed)},
          {"prior_age_odds_factor", tidy(r.prior_age_odds_factor)},
          {"prior_source", r.prior_source},
          {"prior_status", r.prior_status},
          {"log_odds", tidy(r.log_odds)},
          {"log_odds_sd", tidy(r.sd)},
          {"engineering_log_odds", tidy(r.engineering_log_odds)},
          {"contributions", std::move(contributions)},
          {"not_known", r.not_known}};
}

Json to_json(const Threat& t) {
  return {{"id", t.id},
          {"label", t.label},
          {"is_named", t.is_named},
          {"minutes", t.minutes},
          {"grounds", t.grounds},
          {"settle", t.settle},
          {"settle_in_words", t.settle_in_words},
          {"why", t.why},
          {"conditions", t.condition_ids},
          {"source", t.source},
          {"standing", standing_in_words(t)},
          {"status", t.status}};
}

Json to_json(const Look& l) {
  return {{"id", l.id},
          {"finding_id", l.finding_id},
          {"label", l.label},
          {"how", l.how},
          {"shows", l.shows},
          {"seconds", l.seconds},
          {"seconds_source", l.source},
          {"seconds_status", l.status},
          {"bits", tidy(l.bits)},
          {"chance_present", tidy(l.chance_present)},
          {"expected_threats", tidy(l.expected_threats)},
          {"score", tidy(l.score)},
          {"for_condition", l.for_condition},
          {"would_name", l.would_name}};
}

Json to_json(const RuleResult& r) {
  Json items = Json::array();
  for (const RuleItem& item : r.items) {
    items.push_back({{"label", item.label},
                     {"presence", exam::to_string(item.presence)},
                     {"points", tidy(item.points)}});
  }
  return {{"id", r.id},
          {"label", r.label},
          {"about", r.about},
          {"lowest", tidy(r.lowest)},
          {"highest", tidy(r.highest)},
          {"band", r.band},
          {"probability", optional_number(r.probability)},
          {"ratio", optional_number(r.ratio)},
          {"items", std::move(items)},
          {"note", r.note},
          {"source", r.source},
          {"status", r.status}};
}

template <class T>
Json list(const std::vector<T>& values) {
  Json out = Json::array();
  for (const T& value : values) out.push_back(to_json(value));
  return out;
}

Json to_json(const Saying& s) {
  return {{"id", s.id},         {"says", s.says},    {"agrees", s.agrees}, {"evidence", s.evidence},
          {"source", s.source}, {"status", s.status}};
}

}  // namespace

Json to_json(const Impression& impression) {
  Json sayings = Json::array();
  for (const Saying& s : impression.sayings) sayings.push_back(to_json(s));
  return {
      {"schema_version", kImpressionSchemaVersion},
      {"caution",
       "Training aid: explains findings, diagnoses nobody. Local protocols and medical direction "
       "decide."},
      {"setting", impression.setting},
      {"surroundings",
       impression.surroundings == Surroundings::kQuiet ? "quiet" : "moving_vehicle"},
      {"age_years", impression.age_years},
      {"threats", list(impression.threats)},
      {"ranking", list(impression.ranking)},
      {"looks", list(impression.looks)},
      {"rules", list(impression.rules)},
      {"sayings", std::move(sayings)},
      {"remarks", impression.remarks}};
}

std::string to_json_text(const Impression& impression) {
  return to_json(impression).dump(2) + "\n";
}

}  // namespace phren::reasoning
