#include "reasoning/knowledge.h"

#include <algorithm>

#include "base/files.h"
#include "reasoning/toml_rows.h"

namespace phren::reasoning {
namespace {

Result<CsvTable> table_of(const std::filesystem::path& data, const char* name,
                          const std::vector<std::string_view>& columns) {
  auto table = CsvTable::load(data / name);
  if (!table) return table;
  if (auto ok = table->require(columns); !ok) return fail(ok.error());
  return table;
}

Status load_published(const std::filesystem::path& data, Knowledge& k) {
  const auto table = table_of(
      data, "evidence/published.csv",
      {"row", "condition_id", "finding_id", "use", "age_from_years", "age_to_years", "cut",
       "requires", "settings", "sens", "spec", "lr_pos", "lr_neg", "source", "doi", "status"});
  if (!table) return fail(table.error());
  std::vector<Complaint> complaints;
  k.published = read_evidence(*table, complaints);
  for (const Complaint& c : complaints) {
    if (c.is_error) return fail(ErrorCode::kInvalidArgument, c.message);
  }
  k.weighed.assign(k.conditions.size(),
                   std::vector<std::vector<std::size_t>>(k.findings.all().size()));
  for (std::size_t r = 0; r < k.published.size(); ++r) {
    const EvidenceRow& row = k.published[r];
    if (row.use == Use::kBeside) continue;
    const auto finding = k.findings.find(row.finding_id);
    if (!finding) return fail(at(row.place, finding.error()));
    for (const auto& id : row.condition_ids) {
      const auto c = std::find_if(k.conditions.begin(), k.conditions.end(),
                                  [&](const ConditionInfo& info) { return info.id == id; });
      if (c == k.conditions.end()) {
        return fail(
            at(row.place, out_of_range("condition_id", "'" + id + "'", "in conditions.csv")));
      }
      k.weighed[static_cast<std::size_t>(c - k.conditions.begin())][*finding].push_back(r);
    }
  }
  return {};
}

Status load_tables(const std::filesystem::path& data, Knowledge& k) {
  const auto conditions = table_of(data, "evidence/conditions.csv", {});
  if (!conditions) return fail(conditions.error());
  auto infos = read_conditions(*conditions);
  if (!infos) return fail(infos.error());
  k.conditions = std::move(*infos);
  const auto shares = table_of(data, "evidence/engineering.csv", {});
  if (!shares) return fail(shares.error());
  auto engineering = FrequencyTable::read(*shares, k.conditions, k.findings);
  if (!engineering) return fail(engineering.error());
  k.engineering = std::move(*engineering);
  const auto prior_rows = table_of(data, "priors.csv", {});
  if (!prior_rows) return fail(prior_rows.error());
  const auto age_rows = table_of(data, "priors_age.csv",
                                 {"condition_id", "age_from_years", "age_to_years", "odds_factor"});
  if (!age_rows) return fail(age_rows.error());
  auto priors = PriorTable::read(*prior_rows, *age_rows, k.conditions);
  if (!priors) return fail(priors.error());
  k.priors = std::move(*priors);
  const auto kappa = table_of(data, "evidence/kappa.csv", {});
  if (!kappa) return fail(kappa.error());
  auto agreement = AgreementTable::read(*kappa, k.findings);
  if (!agreement) return fail(agreement.error());
  k.agreement = std::move(*agreement);
  return {};
}

}  // namespace

Result<std::vector<ThreatRule>> read_threats(std::string_view toml_text, std::string_view file_name,
                                             const FindingTable& table) {
  std::vector<ThreatRule> rules;
  auto status = for_each_row(
      toml_text, file_name, "threat",
      [&](const toml::table& row, const std::string& here) -> Status {
        ThreatRule rule;
        Threat& t = rule.threat;
        if (auto ok = fill_texts(row, here,
                                 {{"id", &t.id},
                                  {"label", &t.label},
                                  {"why", &t.why},
                                  {"source", &t.source},
                                  {"status", &t.status}});
            !ok) {
          return ok;
        }
        t.minutes = row["minutes"].value_or(-1.0);
        if (!(t.minutes > 0.0 && t.minutes <= 600.0)) {
          return fail(at(here, out_of_range("minutes", t.minutes, "between 0 and 600")));
        }
        t.condition_ids = words_of(row["conditions"].as_array());
        auto when = lines_of(row["when"].as_array(), here + ": threat " + t.id, table);
        if (!when) return fail(when.error());
        rule.when = std::move(*when);
        rules.push_back(std::move(rule));
        return {};
      });
  if (!status) return fail(status.error());
  return rules;
}

Result<std::vector<SayingRule>> read_sayings(std::string_view toml_text, std::string_view file_name,
                                             const FindingTable& table) {
  std::vector<SayingRule> rules;
  auto status =
      for_each_row(toml_text, file_name, "saying",
                   [&](const toml::table& row, const std::string& here) -> Status {
                     SayingRule rule;
                     Saying& s = rule.saying;
                     if (auto ok = fill_texts(row, here,
                                              {{"id", &s.id},
                                               {"says", &s.says},
                                               {"agrees", &s.agrees},
                                               {"evidence", &s.evidence},
                                               {"source", &s.source},
                                               {"status", &s.status}});
                         !ok) {
                       return ok;
                     }
                     auto when = lines_of(row["when"].as_array(), here + ": saying " + s.id, table);
                     if (!when) return fail(when.error());
                     rule.when = std::move(*when);
                     rules.push_back(std::move(rule));
                     return {};
                   });
  if (!status) return fail(status.error());
  return rules;
}

Result<Knowledge> Knowledge::load(const std::filesystem::path& data) {
  Knowledge k;
  auto findings = FindingTable::load(data / "findings.toml");
  if (!findings) return fail(findings.error());
  k.findings = std::move(*findings);
  if (auto ok = load_tables(data, k); !ok) return fail(ok.error());
  if (auto ok = load_published(data, k); !ok) return fail(ok.error());
  const auto threat_text = read_file(data / "threats.toml");
  if (!threat_text) return fail(threat_text.error());
  auto threats = read_threats(*threat_text, "threats.toml", k.findings);
  if (!threats) return fail(threats.error());
  k.threats = std::move(*threats);
  const auto saying_text = read_file(data / "mnemonics.toml");
  if (!saying_text) return fail(saying_text.error());
  auto sayings = read_sayings(*saying_text, "mnemonics.toml", k.findings);
  if (!sayings) return fail(sayings.error());
  k.sayings = std::move(*sayings);
  const auto rule_text = read_file(data / "rules.toml");
  if (!rule_text) return fail(rule_text.error());
  auto rules = read_rules(*rule_text, "rules.toml", k.findings);
  if (!rules) return fail(rules.error());
  k.rules = std::move(*rules);
  return k;
}

}  // namespace phren::reasoning
