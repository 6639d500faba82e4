#include "teaching/marking/checklist.h"

#include <array>
#include <utility>

#include "base/files.h"
#include "exam/names.h"
#include "teaching/toml_fields.h"

namespace phren::teaching {
namespace {

// Which lists a rule needs, so that a checklist that cannot be marked is refused when it is read.
struct RuleShape {
  RuleKind kind;
  std::string_view name;
  std::string_view needs;  // field that must not be empty, or ""
};
constexpr std::array<RuleShape, 16> kRules{
    {{RuleKind::kListenedAt, "listened_at", "sites"},
     {RuleKind::kListenedPairs, "listened_pairs", ""},
     {RuleKind::kComparedSides, "compared_sides", ""},
     {RuleKind::kExposedFirst, "exposed_first", ""},
     {RuleKind::kDeepBreaths, "deep_breaths", ""},
     {RuleKind::kReported, "reported", "findings"},
     {RuleKind::kNotReported, "not_reported", "findings"},
     {RuleKind::kNamedWhatIsThere, "named_what_is_there", ""},
     {RuleKind::kMeasured, "measured", "vitals"},
     {RuleKind::kExamined, "examined", "findings"},
     {RuleKind::kTreated, "treated", "treatments"},
     {RuleKind::kReassessed, "reassessed", "treatments"},
     {RuleKind::kNoHarm, "no_harm", "treatments"},
     {RuleKind::kPositioned, "positioned", "postures"},
     {RuleKind::kRanked, "ranked", "conditions"},
     {RuleKind::kFinished, "finished", ""}}};

const std::vector<std::string_view>& rule_names() {
  static const std::vector<std::string_view> names = [] {
    std::vector<std::string_view> list;
    for (const RuleShape& shape : kRules) list.push_back(shape.name);
    return list;
  }();
  return names;
}

bool is_empty(const ChecklistItem& item, std::string_view field) {
  if (field == "sites") return item.sites.empty();
  if (field == "findings") return item.findings.empty();
  if (field == "vitals") return item.vitals.empty();
  if (field == "treatments") return item.treatments.empty();
  if (field == "postures") return item.postures.empty();
  if (field == "conditions") return item.conditions.empty();
  return false;
}

void read_sides(TomlFields& fields, ChecklistItem& item) {
  std::vector<std::string> names;
  fields.texts("sides", names);
  for (const std::string& name : names) {
    const auto side = exam::parse_side(name);
    if (!side) return fields.note(*fields.find("sides", false), side.error());
    item.sides.push_back(*side);
  }
}

Result<ChecklistItem> read_item(const toml::table& row, std::string_view file) {
  ChecklistItem item;
  TomlFields fields(std::string(file), row, "[item] ");
  fields.only({"id", "text", "rule", "points", "critical", "why", "sites", "findings", "presence",
               "sides", "vitals", "treatments", "postures", "conditions", "least_s", "within_s",
               "share", "count"});
  fields.text("id", item.id, true);
  fields.text("text", item.text, true);
  fields.text("why", item.why);
  std::string rule;
  fields.one_of("rule", rule, rule_names());
  fields.number("points", item.points, 0.0, 100.0);
  if (const auto* critical = fields.find("critical", false)) {
    if (!critical->is_boolean()) fields.wrong_type("critical", *critical, "true or false");
    item.critical = critical->value_or(false);
  }
  fields.texts("sites", item.sites);
  fields.texts("findings", item.findings);
  fields.word("presence", item.presence, exam::parse_presence);
  read_sides(fields, item);
  fields.texts("vitals", item.vitals);
  fields.texts("treatments", item.treatments);
  fields.texts("postures", item.postures);
  fields.texts("conditions", item.conditions);
  fields.number("least_s", item.least_s, 0.0, 600.0);
  fields.number("within_s", item.within_s, 0.0, 14400.0);
  fields.number("share", item.share, 0.0, 1.0);
  double count = 1.0;
  fields.number("count", count, 1.0, 100.0);
  item.count = static_cast<std::size_t>(count);
  if (fields.error()) return fail(*fields.error());
  const std::string where = std::string(file) + ":" + std::to_string(row.source().begin.line) +
                            ": item " + item.id + ": ";
  for (const RuleShape& shape : kRules) {
    if (shape.name != rule) continue;
    item.rule = shape.kind;
    if (is_empty(item, shape.needs)) {
      return fail(ErrorCode::kInvalidArgument,
                  where + "rule " + rule + " needs the list " + std::string(shape.needs));
    }
    return item;
  }
  return fail(ErrorCode::kMalformed, where + "needs a rule");
}

}  // namespace

std::string_view to_string(RuleKind rule) {
  for (const RuleShape& shape : kRules) {
    if (shape.kind == rule) return shape.name;
  }
  return "unknown";
}

Result<Checklist> parse_checklist(std::string_view toml_text, std::string_view file_name) {
  const auto root = parse_toml(toml_text, file_name);
  if (!root) return fail(root.error());
  Checklist list;
  list.id = std::filesystem::path(file_name).stem().string();
  TomlFields fields(std::string(file_name), *root, "");
  fields.only({"title", "status", "time_limit_s", "pass_share", "item"});
  fields.text("title", list.title, true);
  fields.text("status", list.status, true);
  fields.number("time_limit_s", list.time_limit_s, 0.0, 14400.0);
  fields.number("pass_share", list.pass_share, 0.0, 1.0);
  if (fields.error()) return fail(*fields.error());
  const auto* rows = (*root)["item"].as_array();
  if (rows == nullptr || rows->empty()) {
    return fail(ErrorCode::kMalformed, std::string(file_name) + ": needs at least one [[item]]");
  }
  for (const auto& node : *rows) {
    const auto* row = node.as_table();
    if (row == nullptr) return fail(ErrorCode::kMalformed, std::string(file_name) + ": bad item");
    auto item = read_item(*row, file_name);
    if (!item) return fail(item.error());
    for (const ChecklistItem& earlier : list.items) {
      if (earlier.id == item->id) {
        return fail(ErrorCode::kInvalidArgument,
                    std::string(file_name) + ": item id " + item->id + " is used twice");
      }
    }
    list.items.push_back(std::move(*item));
  }
  return list;
}

Result<Checklist> load_checklist(const std::filesystem::path& file) {
  auto text = read_file(file);
  if (!text) return fail(text.error());
  return parse_checklist(*text, file.filename().string());
}

}  // namespace phren::teaching
