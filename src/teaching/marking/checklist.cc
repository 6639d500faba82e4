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

Result<RuleKind> parse_rule(std::string_view text) {
  std::vector<std::string_view> names;
  for (const RuleShape& shape : kRules) {
    if (shape.name == text) return shape.kind;
    names.push_back(shape.name);
  }
  return fail(out_of_range("rule", "'" + std::string(text) + "'", Fields::listed(names)));
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

void need_list(Fields& f, const ChecklistItem& item) {
  for (const RuleShape& shape : kRules) {
    if (shape.kind != item.rule || !is_empty(item, shape.needs)) continue;
    f.note({ErrorCode::kInvalidArgument,
            "rule " + std::string(shape.name) + " needs the list " + std::string(shape.needs)});
  }
}

bool is_id(std::string_view text) {
  return !text.empty() && text.size() <= 64 &&
         text.find_first_not_of(
             "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_-") == text.npos;
}

}  // namespace

void describe(Fields& f, ChecklistItem& item) {
  f.text("id", item.id, true);
  f.is_called("item " + item.id);
  f.text("text", item.text, true);
  f.word("rule", item.rule, parse_rule, true);
  f.number("points", item.points, 0.0, 100.0);
  f.flag("critical", item.critical);
  f.text("why", item.why);
  f.texts_if_any("sites", item.sites);
  f.texts_if_any("findings", item.findings);
  f.word("presence", item.presence, exam::parse_presence);
  if (f.reads() || !item.sides.empty()) f.words("sides", item.sides, exam::parse_side);
  f.texts_if_any("vitals", item.vitals);
  f.texts_if_any("treatments", item.treatments);
  f.texts_if_any("postures", item.postures);
  f.texts_if_any("conditions", item.conditions);
  f.number("least_s", item.least_s, 0.0, 600.0);
  f.number("within_s", item.within_s, 0.0, 14400.0);
  f.number("share", item.share, 0.0, 1.0);
  f.whole("count", item.count, 1.0, 100.0);
  if (f.reads()) need_list(f, item);
}

void describe(Fields& f, Checklist& list) {
  f.text("id", list.id);
  f.text("title", list.title, true);
  f.text("status", list.status, true);
  f.number("time_limit_s", list.time_limit_s, 0.0, kLongestLimit_s);
  f.number("pass_share", list.pass_share, 0.0, 1.0);
  f.rows("items", list.items, true);
  f.need_own_ids(list.items);
  if (f.reads() && !is_id(list.id)) {
    f.note(out_of_range("id", "'" + list.id + "'", "1 to 64 letters, digits, - or _"));
  }
}

std::string_view to_string(RuleKind rule) {
  for (const RuleShape& shape : kRules) {
    if (shape.kind == rule) return shape.name;
  }
  return "unknown";
}

Result<Checklist> parse_checklist(std::string_view toml_text, std::string_view file_name) {
  Checklist list;
  list.id = std::filesystem::path(file_name).stem().string();
  const std::string id = list.id;
  TRY(read_toml(toml_text, file_name, [&](TomlFields& fields) { describe(fields, list); }));
  if (list.id != id) {
    return fail(at(file_name, out_of_range("id", "'" + list.id + "'", "the file's name")));
  }
  return list;
}

Result<Checklist> load_checklist(const std::filesystem::path& file) {
  auto text = TRY(read_file(file));
  return parse_checklist(text, file.filename().string());
}

}  // namespace phren::teaching
