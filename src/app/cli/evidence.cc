// `phren evidence`: the published figures behind the weighing, and whether the table is sound.
#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>
#include <ostream>

#include "app/cli/command.h"
#include "app/cli/commands.h"
#include "app/cli/table.h"
#include "base/csv.h"
#include "base/files.h"
#include "reasoning/evidence_check.h"

namespace phren::app {
namespace {

namespace r = phren::reasoning;
using Json = nlohmann::ordered_json;

struct EvidenceArguments {
  std::optional<std::string> what;
  bool json = false;
};

std::string ratio_text(const r::Ratio& ratio) {
  if (ratio.value && ratio.lo && ratio.hi) {
    return fmt::format("{:g} ({:g}-{:g})", *ratio.value, *ratio.lo, *ratio.hi);
  }
  if (ratio.value) return fmt::format("{:.3g}{}", *ratio.value, ratio.derived ? " derived" : "");
  if (ratio.lo && ratio.hi) return fmt::format("range {:g}-{:g}", *ratio.lo, *ratio.hi);
  return "-";
}

Json json_number(const std::optional<double>& value) {
  return value ? Json(*value) : Json(nullptr);
}

Json json_ratio(const r::Ratio& ratio) {
  return {{"value", json_number(ratio.value)},
          {"lo", json_number(ratio.lo)},
          {"hi", json_number(ratio.hi)},
          {"is_derived", ratio.derived}};
}

// The complaints come before anything else is loaded, so that all of them are seen at once.
Result<std::vector<r::Complaint>> complaints_on_table() {
  const auto findings = TRY(r::FindingTable::load(data_directory() / "findings.toml"));
  const auto table = TRY(CsvTable::load(data_directory() / "evidence/conditions.csv"));
  const auto conditions = TRY(r::read_conditions(table));
  return r::check_evidence(data_directory() / "evidence/published.csv", findings, conditions);
}

Json print_coverage(const r::Knowledge& knowledge, const EvidenceArguments& options,
                    std::ostream& out) {
  Table table({"condition", ">published rows", ">weighed", ">findings", ">from memory"});
  Json rows = Json::array();
  for (const r::Coverage& line : r::coverage(knowledge)) {
    table.row({line.label, std::to_string(line.num_rows), std::to_string(line.num_weighed),
               std::to_string(line.num_findings), std::to_string(line.num_from_memory)});
    rows.push_back({{"condition_id", line.condition_id},
                    {"rows", line.num_rows},
                    {"weighed", line.num_weighed},
                    {"findings", line.num_findings},
                    {"from_memory", line.num_from_memory}});
  }
  if (!options.json) table.print(out);
  return rows;
}

int check(const EvidenceArguments& options, Context& context) {
  const auto complaints = complaints_on_table();
  if (!complaints) return context.report(complaints.error());
  std::size_t num_errors = 0;
  Json rows = Json::array();
  for (const r::Complaint& c : *complaints) {
    num_errors += c.is_error ? 1 : 0;
    rows.push_back({{"is_error", c.is_error}, {"where", c.where}, {"message", c.message}});
    if (options.json) continue;
    context.out << (c.is_error ? "error  " : "note   ") << c.where << ": " << c.message << '\n';
  }
  Json covered = Json::array();
  std::size_t num_rows = 0;
  if (num_errors == 0) {
    const auto knowledge = r::Knowledge::load(data_directory());
    if (!knowledge) return context.report(knowledge.error());
    covered = print_coverage(*knowledge, options, context.out);
    num_rows = knowledge->published.size();
  }
  if (options.json) {
    context.out << Json{{"complaints", rows}, {"coverage", covered}}.dump(2) << '\n';
  } else {
    context.out << fmt::format("{} rows, {} errors, {} notes\n", num_rows, num_errors,
                               complaints->size() - num_errors);
  }
  return num_errors == 0 ? kOk : kInputFailed;
}

bool is_about(const r::EvidenceRow& row, const std::string& condition) {
  return std::find(row.condition_ids.begin(), row.condition_ids.end(), condition) !=
         row.condition_ids.end();
}

int show(const std::string& condition, const r::Knowledge& knowledge, bool json, Context& context) {
  Table table({"row", "finding", "LR+", "LR-", "use", "standing", "source"});
  Json rows = Json::array();
  for (const r::EvidenceRow& row : knowledge.published) {
    if (!is_about(row, condition)) continue;
    const char* use = row.use == r::Use::kBeside    ? "beside"
                      : row.use == r::Use::kBoth    ? "weighed"
                      : row.use == r::Use::kPresent ? "weighed if present"
                                                    : "weighed if absent";
    table.row({row.id, row.finding_words, ratio_text(row.positive), ratio_text(row.negative), use,
               std::string(to_string(row.standing)), row.source});
    rows.push_back({{"row", row.id},
                    {"finding_id", row.finding_id},
                    {"finding", row.finding_words},
                    {"population", row.population},
                    {"sensitivity", json_number(row.sensitivity)},
                    {"specificity", json_number(row.specificity)},
                    {"lr_pos", json_ratio(row.positive)},
                    {"lr_neg", json_ratio(row.negative)},
                    {"use", use},
                    {"standing", to_string(row.standing)},
                    {"source", row.source},
                    {"doi", row.doi},
                    {"status", row.status}});
  }
  if (json) {
    context.out << rows.dump(2) << '\n';
  } else if (rows.empty()) {
    context.out << "No published figures for " << condition
                << " were found; what is said about it is teaching judgement.\n";
  } else {
    table.print(context.out);
  }
  return kOk;
}

int evidence(const EvidenceArguments& options, Context& context) {
  if (!options.what || *options.what == "check") return check(options, context);
  const auto knowledge = r::Knowledge::load(data_directory());
  if (!knowledge) return context.report(knowledge.error());
  std::vector<std::string> ids;
  std::string all = "check";
  for (const auto& condition : knowledge->conditions) {
    ids.push_back(condition.id);
    all += ", " + condition.id;
  }
  if (std::find(ids.begin(), ids.end(), *options.what) == ids.end()) {
    ids.push_back("check");
    return context.report(
        {ErrorCode::kNotFound, "'" + *options.what + "' is not a condition that is weighed." +
                                   did_you_mean(*options.what, ids) + " It must be one of " + all});
  }
  return show(*options.what, *knowledge, options.json, context);
}

}  // namespace

void add_evidence(Program& program) {
  auto options = std::make_shared<EvidenceArguments>();
  program.command("evidence", "Show the published figures behind the weighing, or check the table")
      .option("CONDITION", options->what, "",
              "a condition, for its figures; `check`, or nothing, checks the table and counts")
      .json(options->json)
      .example("phren evidence check", "faults of the table, and what it covers")
      .example("phren evidence cardiogenic_oedema", "every figure with its source and standing")
      .run([options](Context& context) { return evidence(*options, context); });
}

}  // namespace phren::app
