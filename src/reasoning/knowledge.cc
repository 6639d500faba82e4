#include "reasoning/knowledge.h"

#include <algorithm>

#include "base/files.h"
#include "reasoning/toml_rows.h"

namespace phren::reasoning {
namespace {

Result<CsvTable> table_of(const std::filesystem::path& data, const char* name,
                          const std::vector<std::string_view>& columns) {
  auto table = TRY(CsvTable::load(data / name));
  TRY(table.require(columns));
  return table;
}

Status load_published(const std::filesystem::path& data, Knowledge& k) {
  const auto table = TRY(table_of(
      data, "evidence/published.csv",
      {"row", "condition_id", "finding_id", "use", "age_from_years", "age_to_years", "cut",
       "requires", "settings", "sens", "spec", "lr_pos", "lr_neg", "source", "doi", "status"}));
  std::vector<Complaint> complaints;
  k.published = read_evidence(table, complaints);
  for (const Complaint& c : complaints) {
    if (c.is_error) return fail(ErrorCode::kInvalidArgument, c.where + ": " + c.message);
  }
  k.weighed.assign(k.conditions.size(),
                   std::vector<std::vector<std::size_t>>(k.findings.all().size()));
  for (std::size_t r = 0; r < k.published.size(); ++r) {
    const EvidenceRow& row = k.published[r];
    if (row.use == Use::kBeside) continue;
    const auto finding = TRY(at(row.place, k.findings.find(row.finding_id)));
    for (const auto& id : row.condition_ids) {
      const auto c = std::find_if(k.conditions.begin(), k.conditions.end(),
                                  [&](const ConditionInfo& info) { return info.id == id; });
      if (c == k.conditions.end()) {
        return fail(
            at(row.place, out_of_range("condition_id", "'" + id + "'", "in conditions.csv")));
      }
      k.weighed[static_cast<std::size_t>(c - k.conditions.begin())][finding].push_back(r);
    }
  }
  return {};
}

Status load_tables(const std::filesystem::path& data, Knowledge& k) {
  const auto conditions = TRY(table_of(data, "evidence/conditions.csv", {}));
  k.conditions = TRY(read_conditions(conditions));
  const auto shares = TRY(table_of(data, "evidence/engineering.csv", {}));
  k.engineering = TRY(FrequencyTable::read(shares, k.conditions, k.findings));
  const auto prior_rows = TRY(table_of(data, "priors.csv", {}));
  const auto age_rows = TRY(table_of(
      data, "priors_age.csv", {"condition_id", "age_from_years", "age_to_years", "odds_factor"}));
  k.priors = TRY(PriorTable::read(prior_rows, age_rows, k.conditions));
  const auto kappa = TRY(table_of(data, "evidence/kappa.csv", {}));
  k.agreement = TRY(AgreementTable::read(kappa, k.findings));
  const auto look_rows = TRY(table_of(data, "looks.csv", {}));
  k.looks = TRY(read_looks(look_rows, k.findings));
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
  TRY(read_toml(toml_text, file_name,
                [&](TomlFields& top) { top.rows("threat", read_row, true); }));
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
  TRY(read_toml(toml_text, file_name,
                [&](TomlFields& top) { top.rows("saying", read_row, true); }));
  return rules;
}

Result<Knowledge> Knowledge::load(const std::filesystem::path& data) {
  Knowledge k;
  k.findings = TRY(FindingTable::load(data / "findings.toml"));
  TRY(load_tables(data, k));
  TRY(load_published(data, k));
  const auto threat_text = TRY(read_file(data / "threats.toml"));
  k.threats = TRY(read_threats(threat_text, "threats.toml", k.findings));
  const auto saying_text = TRY(read_file(data / "mnemonics.toml"));
  k.sayings = TRY(read_sayings(saying_text, "mnemonics.toml", k.findings));
  const auto rule_text = TRY(read_file(data / "rules.toml"));
  k.rules = TRY(read_rules(rule_text, "rules.toml", k.findings));
  return k;
}

}  // namespace phren::reasoning
