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
    if (c.is_error) return fail(ErrorCode::kInvalidArgument, c.where + ": " + c.message);
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
  const auto look_rows = table_of(data, "looks.csv", {});
  if (!look_rows) return fail(look_rows.error());
  auto looks = read_looks(*look_rows, k.findings);
  if (!looks) return fail(looks.error());
  k.looks = std::move(*looks);
  return {};
}

}  // namespace

Result<std::vector<ThreatRule>> read_threats(std::string_view toml_text, std::string_view file_name,
                                             const FindingTable& table) {
  std::vector<ThreatRule> rules;
  const auto read_row = [&](TomlFields& row) {
    ThreatRule rule;
    Threat& t = rule.threat;
    read_texts(row, {{"id", &t.id}});
    row.is_called("threat " + t.id);
    read_texts(
        row, {{"label", &t.label}, {"why", &t.why}, {"source", &t.source}, {"status", &t.status}});
    row.number("minutes", t.minutes, 0.1, 600.0, true);
    row.texts("conditions", t.condition_ids);
    read_lines(row, "when", table, rule.when);
    rules.push_back(std::move(rule));
  };
  const Status read =
      read_toml(toml_text, file_name, [&](TomlFields& top) { top.rows("threat", read_row, true); });
  if (!read) return fail(read.error());
  return rules;
}

Result<std::vector<SayingRule>> read_sayings(std::string_view toml_text, std::string_view file_name,
                                             const FindingTable& table) {
  std::vector<SayingRule> rules;
  const auto read_row = [&](TomlFields& row) {
    SayingRule rule;
    Saying& s = rule.saying;
    read_texts(row, {{"id", &s.id}});
    row.is_called("saying " + s.id);
    read_texts(row, {{"says", &s.says},
                     {"agrees", &s.agrees},
                     {"evidence", &s.evidence},
                     {"source", &s.source},
                     {"status", &s.status}});
    read_lines(row, "when", table, rule.when);
    rules.push_back(std::move(rule));
  };
  const Status read =
      read_toml(toml_text, file_name, [&](TomlFields& top) { top.rows("saying", read_row, true); });
  if (!read) return fail(read.error());
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
