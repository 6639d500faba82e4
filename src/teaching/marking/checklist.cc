#include "teaching/marking/checklist.h"

#include <array>
#include <utility>

#include "base/files.h"
#include "base/toml_fields.h"
#include "exam/names.h"

namespace phren::teaching {
namespace {

// Which lists a rule needs, so that a checklist that cannot be marked is refused when it is read.
struct RuleShape {
  RuleKind kind;
  std::string_view name;
  std::string_view needs;  // field that must not be empty, or ""
};
constexpr std::array<RuleShape, 17> kRules{
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
     {RuleKind::kFinished, "finished", ""},
     {RuleKind::kExaminer, "examiner", ""}}};

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
    if (!side) return fields.note(*fields.find("sides"), side.error());
    item.sides.push_back(*side);
  }
}

// The rule and, once every list is read, whether the list that it needs is there.
void read_rule(TomlFields& fields, ChecklistItem& item) {
  std::string rule;
  fields.one_of("rule", rule, rule_names(), true);
  for (const RuleShape& shape : kRules) {
    if (shape.name != rule) continue;
    item.rule = shape.kind;
    if (is_empty(item, shape.needs)) {
      fields.note({ErrorCode::kInvalidArgument,
                   "rule " + rule + " needs the list " + std::string(shape.needs)});
    }
  }
}

ChecklistItem read_item(TomlFields& fields) {
  ChecklistItem item;
  fields.text("id", item.id, true);
  fields.is_called("item " + item.id);
  fields.text("text", item.text, true);
  fields.text("why", item.why);
  fields.number("points", item.points, 0.0, 100.0);
  fields.flag("critical", item.critical);
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
  read_rule(fields, item);
  return item;
}

}  // namespace

std::string_view to_string(RuleKind rule) {
  for (const RuleShape& shape : kRules) {
    if (shape.kind == rule) return shape.name;
  }
  return "unknown";
}

Result<Checklist> parse_checklist(std::string_view toml_text, std::string_view file_name) {
  Checklist list;
  list.id = std::filesystem::path(file_name).stem().string();
  TRY(read_toml(toml_text, file_name, [&](TomlFields& fields) {
    fields.text("title", list.title, true);
    fields.text("status", list.status, true);
    fields.number("time_limit_s", list.time_limit_s, 0.0, 14400.0);
    fields.number("pass_share", list.pass_share, 0.0, 1.0);
    fields.rows("item", [&](TomlFields& row) { row.add(list.items, read_item(row)); }, true);
  }));
  return list;
}

Result<Checklist> load_checklist(const std::filesystem::path& file) {
  auto text = TRY(read_file(file));
  return parse_checklist(text, file.filename().string());
}

}  // namespace phren::teaching
