#include "teaching/marking/checklist.h"

#include <algorithm>
#include <array>
#include <utility>

#include "base/files.h"
#include "base/toml_fields.h"
#include "exam/names.h"

namespace phren::teaching {
namespace {

// Which lists a rule needs, so that a checklist that cannot be marked is refused when it is read; and what it says to
// those who compose an item.
constexpr std::array<RuleShape, 23> kRules{{
    {RuleKind::kListenedAt, "listened_at", "sites", "sites least_s",
     "listened at {sites}, {least_s} s each"},
    {RuleKind::kListenedAspects, "listened_aspects", "aspects", "aspects count least_s",
     "listened at {count} places on each of: {aspects}"},
    {RuleKind::kListenedPairs, "listened_pairs", "", "count least_s",
     "listened at {count} places, right and left"},
    {RuleKind::kComparedSides, "compared_sides", "", "count",
     "went straight from one side to the other, at {count} places"},
    {RuleKind::kExposedFirst, "exposed_first", "", "", "never listened through clothing"},
    {RuleKind::kDeepBreaths, "deep_breaths", "", "", "asked for deep breaths"},
    {RuleKind::kReported, "reported", "findings", "findings sides within_s",
     "reported {findings}{sides}{within_s}"},
    {RuleKind::kNotReported, "not_reported", "findings", "findings", "did not report {findings}"},
    {RuleKind::kNamedWhatIsThere, "named_what_is_there", "", "share",
     "named the added sounds that could be heard where the chestpiece lay"},
    {RuleKind::kNamedSoftSide, "named_soft_side", "", "",
     "named the side where breath sounds were diminished or absent"},
    {RuleKind::kNoWrongMarks, "no_wrong_marks", "", "", "named no sound that could not be heard"},
    {RuleKind::kMeasured, "measured", "vitals", "vitals within_s", "took {vitals}{within_s}"},
    {RuleKind::kMeasuredAgain, "measured_again", "vitals", "vitals treatments within_s",
     "took {vitals} before the treatment and again after it{within_s}"},
    {RuleKind::kExamined, "examined", "findings", "findings count",
     "looked, felt, tapped or asked for {count} of: {findings}"},
    {RuleKind::kPercussedPairs, "percussed_pairs", "", "count",
     "percussed {count} places, right and left"},
    {RuleKind::kTreated, "treated", "treatments", "treatments sides within_s",
     "gave {treatments}{sides}{within_s}"},
    {RuleKind::kReassessed, "reassessed", "treatments", "treatments sides least_s within_s",
     "listened again{sides} after {treatments}, {least_s} s{within_s}"},
    {RuleKind::kNoHarm, "no_harm", "", "treatments sides postures",
     "did not do harm: {treatments}{sides}{postures}"},
    {RuleKind::kPositioned, "positioned", "postures", "postures within_s",
     "brought the patient to {postures}{within_s}"},
    {RuleKind::kRanked, "ranked", "conditions", "conditions count",
     "{conditions} among the first {count} named"},
    {RuleKind::kHandedOver, "handed_over", "", "count mentions",
     "handed over in at least {count} words{mentions}"},
    {RuleKind::kFinished, "finished", "", "within_s", "said when finished{within_s}"},
    {RuleKind::kExaminer, "examiner", "", "", "marked by the examiner on the tablet"},
}};

constexpr std::array<std::string_view, 5> kSideNames = {"right", "left", "midline", "affected",
                                                        "other"};

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
  if (field == "aspects") return item.aspects.empty();
  if (field == "vitals") return item.vitals.empty();
  if (field == "treatments") return item.treatments.empty();
  if (field == "postures") return item.postures.empty();
  if (field == "conditions") return item.conditions.empty();
  return false;
}

void need_list(Fields& f, const ChecklistItem& item) {
  if (item.rule == RuleKind::kNoHarm && item.treatments.empty() && item.postures.empty()) {
    f.note({ErrorCode::kInvalidArgument, "rule no_harm needs the list treatments or postures"});
  }
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
  f.texts_if_any("aspects", item.aspects);
  f.texts_if_any("findings", item.findings);
  f.word("presence", item.presence, exam::parse_presence);
  if (f.reads() || !item.sides.empty()) f.words("sides", item.sides, parse_item_side);
  f.texts_if_any("vitals", item.vitals);
  f.texts_if_any("treatments", item.treatments);
  f.texts_if_any("postures", item.postures);
  f.texts_if_any("conditions", item.conditions);
  f.texts_if_any("mentions", item.mentions);
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
  f.texts("fits", list.fits);
  f.rows("items", list.items, true);
  f.need_own_ids(list.items);
  if (f.reads() && !is_id(list.id)) {
    f.note(out_of_range("id", "'" + list.id + "'", "1 to 64 letters, digits, - or _"));
  }
}

std::span<const RuleShape> rule_shapes() {
  return kRules;
}

std::string_view to_string(ItemSide side) {
  return kSideNames[static_cast<std::size_t>(side)];
}

Result<ItemSide> parse_item_side(std::string_view text) {
  for (std::size_t i = 0; i < kSideNames.size(); ++i) {
    if (kSideNames[i] == text) return static_cast<ItemSide>(i);
  }
  return fail(out_of_range("sides", "'" + std::string(text) + "'",
                           "right, left, midline, affected or other"));
}

bool fits_side(const std::vector<ItemSide>& sides, exam::Side side, exam::Side affected) {
  const bool has_side = affected != exam::Side::kMidline;
  return sides.empty() || std::any_of(sides.begin(), sides.end(), [&](ItemSide wanted) {
           if (wanted == ItemSide::kAffected) return !has_side || side == affected;
           if (wanted == ItemSide::kOther)
             return has_side && side != affected && side != exam::Side::kMidline;
           return static_cast<int>(wanted) == static_cast<int>(side);
         });
}

const Checklist* fitting(std::span<const Checklist> lists,
                         const std::vector<std::string>& conditions) {
  const Checklist* for_any = nullptr;
  for (const std::string& condition : conditions) {
    for (const Checklist& one : lists) {
      if (std::find(one.fits.begin(), one.fits.end(), condition) != one.fits.end()) return &one;
    }
  }
  for (const Checklist& one : lists) {
    if (one.fits.empty() && for_any == nullptr) for_any = &one;
  }
  return for_any;
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
