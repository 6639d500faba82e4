#include "patient/conditions.h"

#include <algorithm>
#include <array>
#include <limits>
#include <utility>

#include "base/files.h"
#include "base/toml_fields.h"
#include "exam/names.h"

namespace phren::patient {
namespace {

std::string read_status(TomlFields& row) {
  std::string status;
  row.one_of("status", status, {"verified", "from memory", "engineering", "common practice"}, true);
  return status;
}

Source read_source_and_status(TomlFields& row) {
  Source out;
  row.text("source", out.text, true);
  out.status = read_status(row);
  return out;
}

Result<Place> parse_place(std::string_view word) {
  if (word.empty() || word == "everywhere") return Place::kEverywhere;
  if (word == "chosen") return Place::kChosen;
  if (word == "bases") return Place::kBases;
  if (word == "upper") return Place::kUpper;
  if (word == "other") return Place::kOther;
  return fail(out_of_range("where", word, "everywhere, chosen, bases, upper or other"));
}

// The value at severity 0, 0.25, 0.5, 0.75 and 1, each in the mechanism's own range.
void read_curve(TomlFields& row, const MechanismInfo& info, std::array<double, 5>& curve) {
  const auto* node = row.find("by_severity", true);
  if (node == nullptr) return;
  const auto* values = node->as_array();
  if (values == nullptr || values->size() != curve.size()) {
    return row.note(*node,
                    {ErrorCode::kMalformed,
                     "by_severity must be five numbers, at severity 0, 0.25, 0.5, 0.75 and 1"});
  }
  for (std::size_t i = 0; i < curve.size(); ++i) {
    const double v =
        (*values)[i].value<double>().value_or(std::numeric_limits<double>::quiet_NaN());
    if (!(v >= info.low && v <= info.high)) {
      return row.wrong_type("by_severity of " + std::string(info.name), (*values)[i],
                            TomlFields::between(info.low, info.high));
    }
    curve[i] = v;
  }
}

// Pairs [age in years, factor], ages rising.
void read_grades(TomlFields& top, std::vector<std::array<double, 2>>& grades) {
  const auto* node = top.find("grade_by_age");
  if (node == nullptr) return;
  const auto* list = node->as_array();
  const auto wrong = [&] {
    top.note(*node,
             {ErrorCode::kMalformed,
              "grade_by_age must be pairs [age in years, factor], ages rising from 0 to 110, "
              "factors between 0.05 and 2"});
  };
  if (list == nullptr) return wrong();
  for (const auto& item : *list) {
    const auto* pair = item.as_array();
    if (pair == nullptr || pair->size() != 2) return wrong();
    const double age = (*pair)[0].value<double>().value_or(-1.0);
    const double factor = (*pair)[1].value<double>().value_or(-1.0);
    const bool rises = grades.empty() || age > grades.back()[0];
    if (!(age >= 0.0 && age <= 110.0 && rises && factor >= 0.05 && factor <= 2.0)) return wrong();
    grades.push_back({age, factor});
  }
}

DataEffect read_effect(TomlFields& row) {
  DataEffect out;
  Mechanism mechanism = out.effect.mechanism;
  row.word("mechanism", mechanism, parse_mechanism, true);
  out.effect.mechanism = mechanism;
  std::array<double, 5> curve{};
  read_curve(row, info_of(mechanism), curve);
  std::copy(curve.begin(), curve.end(), out.effect.curve.at.begin());
  row.word("where", out.place, parse_place);
  double spread = 0.0;
  row.number("spread", spread, 0.0, 1.0);
  out.effect.spread = spread;
  out.source = read_source_and_status(row);
  return out;
}

ConditionFact read_fact(TomlFields& row) {
  Fact fact{};
  double from_severity = 0.0;
  row.word("finding", fact, parse_fact, true);
  row.number("from_severity", from_severity, 0.0, 1.0);
  return {fact, from_severity};
}

Source read_source(TomlFields& row) {
  Source out;
  row.text("text", out.text, true);
  out.status = read_status(row);
  return out;
}

void read_minutes(TomlFields& row, const char* key, double& seconds, double low_min,
                  double high_min) {
  double minutes = seconds / 60.0;
  row.number(key, minutes, low_min, high_min);
  seconds = 60.0 * minutes;
}

DataTreatmentEffect read_treatment_effect(TomlFields& row) {
  DataTreatmentEffect out;
  TreatmentEffect& e = out.effect;
  row.word("mechanism", e.mechanism, parse_mechanism, true);
  std::string operation;
  row.one_of("operation", operation, {"relieve", "add"}, true);
  const bool relieves = operation == "relieve";
  e.operation = relieves ? Operation::kRelieve : Operation::kAdd;
  const MechanismInfo& info = info_of(e.mechanism);
  e.size = 1.0;
  row.number("size", e.size, relieves ? 0.0 : info.low, relieves ? 1.0 : info.high);
  e.lag_s = 0.0;
  e.rise_s = 1.2;
  e.fade_s = 0.0;
  read_minutes(row, "lag_min", e.lag_s, 0.0, 600.0);
  read_minutes(row, "rise_min", e.rise_s, 0.001, 6000.0);
  read_minutes(row, "fade_min", e.fade_s, 0.0, 60000.0);
  row.number("chance", e.chance, 0.0, 1.0);
  row.number("reach_cm", e.reach_cm, 0.0, 12.0);
  out.source = read_source_and_status(row);
  return out;
}

template <class Item, class Parse>
Result<std::vector<Item>> load_folder(const std::filesystem::path& folder, Parse parse) {
  std::error_code code;
  std::vector<std::filesystem::path> files;
  for (const auto& entry : std::filesystem::directory_iterator(folder, code)) {
    if (entry.path().extension() == ".toml") files.push_back(entry.path());
  }
  if (code || files.empty()) {
    return fail(ErrorCode::kNotFound, folder.string() + ": no .toml files there");
  }
  std::sort(files.begin(), files.end());
  std::vector<Item> items;
  for (const auto& file : files) {
    auto text = TRY(read_file(file, 1u << 20));
    auto item = TRY(parse(text, file.string()));
    if (item.id != file.stem().string()) {
      return fail(
          at(file.string(),
             out_of_range("id", item.id, "the file's name, '" + file.stem().string() + "'")));
    }
    items.push_back(std::move(item));
  }
  return items;
}

template <class Item>
Result<std::size_t> find_item(const std::vector<Item>& items, std::string_view id,
                              const char* what) {
  std::vector<std::string> known;
  for (std::size_t i = 0; i < items.size(); ++i) {
    if (items[i].id == id) return i;
    known.push_back(items[i].id);
  }
  return fail(ErrorCode::kNotFound, std::string("there is no ") + what + " '" + std::string(id) +
                                        "'." + did_you_mean(id, known));
}

}  // namespace

double Condition::grade_at(double age) const noexcept {
  if (grade_by_age.empty()) return 1.0;
  if (age <= grade_by_age.front()[0]) return grade_by_age.front()[1];
  for (std::size_t i = 1; i < grade_by_age.size(); ++i) {
    const auto& [from, low] = grade_by_age[i - 1];
    const auto& [to, high] = grade_by_age[i];
    if (age <= to) return low + (high - low) * (age - from) / (to - from);
  }
  return grade_by_age.back()[1];
}

Result<Condition> Conditions::parse(std::string_view text, std::string_view file) {
  Condition c;
  const Status read = read_toml(text, file, [&](TomlFields& top) {
    for (const auto& [key, target] :
         {std::pair{"id", &c.id}, std::pair{"name", &c.name}, std::pair{"summary", &c.summary},
          std::pair{"mechanism", &c.mechanism}, std::pair{"heard", &c.heard},
          std::pair{"seen", &c.seen}, std::pair{"monitor", &c.monitor}}) {
      top.text(key, *target, true);
    }
    top.text("caution", c.caution);
    top.flag("needs_side", c.needs_side);
    top.word("default_side", c.default_side, exam::parse_side);
    if (top.find("default_lobe") != nullptr) {
      exam::Lobe lobe{};
      top.word("default_lobe", lobe, exam::parse_lobe);
      c.default_lobe = static_cast<int>(lobe);
    }
    top.number("begins_minutes_before", c.begins_minutes_before, 0.0, 60.0);
    top.number("least_age_years", c.least_age_years, 0.0, 110.0);
    top.number("most_age_years", c.most_age_years, 0.0, 110.0);
    top.number("course_change", c.course_change, -1.0, 1.0);
    top.number("course_minutes", c.course_minutes, 1.0, 600.0);
    read_grades(top, c.grade_by_age);
    top.rows("effects", [&](TomlFields& row) { c.effects.push_back(read_effect(row)); });
    top.rows("facts", [&](TomlFields& row) { c.facts.push_back(read_fact(row)); });
    top.rows("sources", [&](TomlFields& row) { c.sources.push_back(read_source(row)); });
  });
  if (!read) return fail(read.error());
  return c;
}

Result<Treatment> Treatments::parse(std::string_view text, std::string_view file) {
  Treatment t;
  TRY(read_toml(text, file, [&](TomlFields& top) {
    for (const auto& [key, target] :
         {std::pair{"id", &t.id}, std::pair{"name", &t.name}, std::pair{"summary", &t.summary},
          std::pair{"expect", &t.expect}, std::pair{"caution", &t.caution},
          std::pair{"protocol", &t.protocol}}) {
      top.text(key, *target, true);
    }
    top.flag("is_held", t.is_held);
    top.flag("needs_side", t.needs_side);
    top.rows("effects", [&](TomlFields& row) { t.effects.push_back(read_treatment_effect(row)); });
  }));
  for (DataTreatmentEffect& e : t.effects) e.effect.is_held = t.is_held;
  return t;
}

Result<Conditions> Conditions::load(const std::filesystem::path& folder) {
  auto items = TRY(load_folder<Condition>(folder, &Conditions::parse));
  Conditions all;
  all.conditions_ = std::move(items);
  return all;
}

Result<Treatments> Treatments::load(const std::filesystem::path& folder) {
  auto items = TRY(load_folder<Treatment>(folder, &Treatments::parse));
  Treatments all;
  all.treatments_ = std::move(items);
  return all;
}

Result<Condition> Conditions::find(std::string_view id) const {
  const auto i = TRY(find_item(conditions_, id, "condition"));
  return conditions_[i];
}

Result<Treatment> Treatments::find(std::string_view id) const {
  const auto i = TRY(find_item(treatments_, id, "treatment"));
  return treatments_[i];
}

Result<int> Treatments::index_of(std::string_view id) const {
  const auto i = TRY(find_item(treatments_, id, "treatment"));
  return static_cast<int>(i);
}

}  // namespace phren::patient
