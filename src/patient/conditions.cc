#include "patient/conditions.h"

#include <toml++/toml.h>

#include <algorithm>
#include <limits>

#include "base/files.h"
#include "exam/names.h"

namespace phren::patient {
namespace {

std::string place_of(std::string_view file, const toml::node& node) {
  return std::string(file) + ":" + std::to_string(node.source().begin.line);
}

Result<toml::table> parse_toml(std::string_view text, std::string_view file) {
  try {
    return toml::parse(text, file);
  } catch (const toml::parse_error& e) {
    return fail(ErrorCode::kMalformed, std::string(file) + ":" +
                                           std::to_string(e.source().begin.line) + ": " +
                                           std::string(e.description()));
  }
}

// Reads fields of one table, keeps the first error, and refuses fields nobody asked for.
class Reader {
 public:
  Reader(const toml::table& table, std::string where) : table_(table), where_(std::move(where)) {}

  std::string text(const char* key, bool is_required = true) {
    known_.emplace_back(key);
    const auto* node = table_.get(key);
    if (!node) {
      if (is_required) complain(ErrorCode::kMalformed, std::string("needs the text field ") + key);
      return {};
    }
    const auto value = node->value<std::string>();
    if (!value) complain(ErrorCode::kMalformed, std::string(key) + " must be text");
    return value.value_or(std::string());
  }
  double number(const char* key, double fallback, double low, double high) {
    known_.emplace_back(key);
    const auto* node = table_.get(key);
    if (!node) return fallback;
    const auto value = node->value<double>();
    const double v = value.value_or(std::numeric_limits<double>::quiet_NaN());
    if (!(v >= low && v <= high)) {
      fail_with(out_of_range(
          key, v, "a number between " + short_number(low) + " and " + short_number(high)));
      return fallback;
    }
    return v;
  }
  bool flag(const char* key) {
    known_.emplace_back(key);
    return table_[key].value_or(false);
  }
  void also(const char* key) { known_.emplace_back(key); }
  void complain(ErrorCode code, const std::string& message) { fail_with(Error{code, message}); }
  void fail_with(Error error) {
    if (!error_.message.empty()) return;
    error_ = at(where_, std::move(error));
  }
  Source source() { return {text("source"), status()}; }
  std::string status() {
    std::string s = text("status");
    static const std::vector<std::string> kAllowed = {"verified", "from memory", "engineering",
                                                      "common practice"};
    if (error_.message.empty() &&
        std::find(kAllowed.begin(), kAllowed.end(), s) == kAllowed.end()) {
      fail_with(out_of_range(
          "status", s, "\"verified\", \"from memory\", \"engineering\" or \"common practice\""));
    }
    return s;
  }
  Status done() {
    if (error_.message.empty()) {
      for (const auto& [key, node] : table_) {
        const std::string name(key.str());
        if (std::find(known_.begin(), known_.end(), name) == known_.end()) {
          complain(ErrorCode::kInvalidArgument,
                   "'" + name + "' is not a field here." + did_you_mean(name, known_));
        }
      }
    }
    if (error_.message.empty()) return {};
    return fail(error_);
  }
  static std::string short_number(double v) {
    std::string s = std::to_string(v);
    while (s.ends_with('0')) s.pop_back();
    if (s.ends_with('.')) s.pop_back();
    return s;
  }

 private:
  const toml::table& table_;
  std::string where_;
  std::vector<std::string> known_;
  Error error_{ErrorCode::kMalformed, ""};
};

Result<Place> parse_place(std::string_view word) {
  if (word.empty() || word == "everywhere") return Place::kEverywhere;
  if (word == "chosen") return Place::kChosen;
  if (word == "bases") return Place::kBases;
  if (word == "upper") return Place::kUpper;
  if (word == "other") return Place::kOther;
  return fail(out_of_range("where", word, "everywhere, chosen, bases, upper or other"));
}

Result<DataEffect> read_effect(const toml::table& row, std::string_view file) {
  Reader r(row, place_of(file, row));
  DataEffect out;
  const auto mechanism = parse_mechanism(r.text("mechanism"));
  if (!mechanism) {
    r.fail_with(mechanism.error());
  } else {
    out.effect.mechanism = *mechanism;
    const MechanismInfo& info = info_of(*mechanism);
    const auto* values = row["by_severity"].as_array();
    if (!values || values->size() != 5) {
      r.complain(ErrorCode::kMalformed,
                 "by_severity must be five numbers, at severity 0, 0.25, 0.5, 0.75 and 1");
    } else {
      for (std::size_t i = 0; i < 5; ++i) {
        const double v =
            (*values)[i].value<double>().value_or(std::numeric_limits<double>::quiet_NaN());
        if (!(v >= info.low && v <= info.high)) {
          r.fail_with(out_of_range(std::string("by_severity of ") + std::string(info.name), v,
                                   "between " + Reader::short_number(info.low) + " and " +
                                       Reader::short_number(info.high)));
        }
        out.effect.curve.at[i] = v;
      }
    }
  }
  r.also("by_severity");
  const auto where = parse_place(r.text("where", false));
  if (!where) r.fail_with(where.error());
  out.place = where.value_or(Place::kEverywhere);
  out.effect.spread = r.number("spread", 0.0, 0.0, 1.0);
  out.source = r.source();
  const Status status = r.done();
  if (!status) return fail(status.error());
  return out;
}

Result<ConditionFact> read_fact(const toml::table& row, std::string_view file) {
  Reader r(row, place_of(file, row));
  ConditionFact out;
  const auto fact = parse_fact(r.text("finding"));
  if (!fact) r.fail_with(fact.error());
  out.fact = fact.value_or(Fact::kDyspnoea);
  out.from_severity = r.number("from_severity", 0.0, 0.0, 1.0);
  const Status status = r.done();
  if (!status) return fail(status.error());
  return out;
}

template <class Row, class Read>
Status read_rows(const toml::table& table, const char* key, std::string_view file, Read read,
                 std::vector<Row>& out) {
  const auto* rows = table[key].as_array();
  if (!rows) return {};
  for (const auto& node : *rows) {
    const auto* row = node.as_table();
    if (!row) {
      return fail(ErrorCode::kMalformed, place_of(file, node) + ": " + key + " must be tables");
    }
    auto value = read(*row, file);
    if (!value) return fail(value.error());
    out.push_back(std::move(*value));
  }
  return {};
}

Result<Source> read_source(const toml::table& row, std::string_view file) {
  Reader r(row, place_of(file, row));
  Source out{r.text("text"), r.status()};
  const Status status = r.done();
  if (!status) return fail(status.error());
  return out;
}

Result<DataTreatmentEffect> read_treatment_effect(const toml::table& row, std::string_view file) {
  Reader r(row, place_of(file, row));
  DataTreatmentEffect out;
  const auto mechanism = parse_mechanism(r.text("mechanism"));
  if (!mechanism) r.fail_with(mechanism.error());
  out.effect.mechanism = mechanism.value_or(Mechanism::kBronchospasm);
  const std::string operation = r.text("operation");
  if (operation != "relieve" && operation != "add") {
    r.fail_with(out_of_range("operation", operation, "relieve or add"));
  }
  const bool relieves = operation == "relieve";
  out.effect.operation = relieves ? Operation::kRelieve : Operation::kAdd;
  const MechanismInfo& info = info_of(out.effect.mechanism);
  out.effect.size = r.number("size", 1.0, relieves ? 0.0 : info.low, relieves ? 1.0 : info.high);
  out.effect.lag_s = 60.0 * r.number("lag_min", 0.0, 0.0, 600.0);
  out.effect.rise_s = 60.0 * r.number("rise_min", 0.02, 0.001, 6000.0);
  out.effect.fade_s = 60.0 * r.number("fade_min", 0.0, 0.0, 60000.0);
  out.effect.chance = r.number("chance", 1.0, 0.0, 1.0);
  out.effect.reach_cm = r.number("reach_cm", 0.0, 0.0, 12.0);
  out.source = r.source();
  const Status status = r.done();
  if (!status) return fail(status.error());
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
    auto text = read_file(file, 1u << 20);
    if (!text) return fail(text.error());
    auto item = parse(*text, file.string());
    if (!item) return fail(item.error());
    if (item->id != file.stem().string()) {
      return fail(
          at(file.string(),
             out_of_range("id", item->id, "the file's name, '" + file.stem().string() + "'")));
    }
    items.push_back(std::move(*item));
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

Result<Condition> Conditions::parse(std::string_view text, std::string_view file) {
  const auto table = parse_toml(text, file);
  if (!table) return fail(table.error());
  Reader r(*table, std::string(file));
  Condition c;
  c.id = r.text("id");
  c.name = r.text("name");
  c.summary = r.text("summary");
  c.mechanism = r.text("mechanism");
  c.heard = r.text("heard");
  c.seen = r.text("seen");
  c.monitor = r.text("monitor");
  c.caution = r.text("caution", false);
  c.needs_side = r.flag("needs_side");
  if (const std::string side = r.text("default_side", false); !side.empty()) {
    const auto parsed = exam::parse_side(side);
    if (!parsed) r.fail_with(parsed.error());
    c.default_side = parsed.value_or(exam::Side::kMidline);
  }
  if (const std::string lobe = r.text("default_lobe", false); !lobe.empty()) {
    const auto parsed = exam::parse_lobe(lobe);
    if (!parsed)
      r.fail_with(parsed.error());
    else
      c.default_lobe = static_cast<int>(*parsed);
  }
  c.begins_minutes_before = r.number("begins_minutes_before", -1.0, 0.0, 60.0);
  c.least_age_years = r.number("least_age_years", 0.0, 0.0, 110.0);
  c.most_age_years = r.number("most_age_years", 110.0, 0.0, 110.0);
  for (const char* key : {"effects", "facts", "sources"}) r.also(key);
  for (const Status& status : {r.done(), read_rows(*table, "effects", file, read_effect, c.effects),
                               read_rows(*table, "facts", file, read_fact, c.facts),
                               read_rows(*table, "sources", file, read_source, c.sources)}) {
    if (!status) return fail(status.error());
  }
  return c;
}

Result<Treatment> Treatments::parse(std::string_view text, std::string_view file) {
  const auto table = parse_toml(text, file);
  if (!table) return fail(table.error());
  Reader r(*table, std::string(file));
  Treatment t;
  t.id = r.text("id");
  t.name = r.text("name");
  t.summary = r.text("summary");
  t.expect = r.text("expect");
  t.caution = r.text("caution");
  t.protocol = r.text("protocol");
  t.is_held = r.flag("is_held");
  t.needs_side = r.flag("needs_side");
  r.also("effects");
  for (const Status& status :
       {r.done(), read_rows(*table, "effects", file, read_treatment_effect, t.effects)}) {
    if (!status) return fail(status.error());
  }
  for (DataTreatmentEffect& e : t.effects) e.effect.is_held = t.is_held;
  return t;
}

Result<Conditions> Conditions::load(const std::filesystem::path& folder) {
  auto items = load_folder<Condition>(folder, &Conditions::parse);
  if (!items) return fail(items.error());
  Conditions all;
  all.conditions_ = std::move(*items);
  return all;
}

Result<Treatments> Treatments::load(const std::filesystem::path& folder) {
  auto items = load_folder<Treatment>(folder, &Treatments::parse);
  if (!items) return fail(items.error());
  Treatments all;
  all.treatments_ = std::move(*items);
  return all;
}

Result<Condition> Conditions::find(std::string_view id) const {
  const auto i = find_item(conditions_, id, "condition");
  if (!i) return fail(i.error());
  return conditions_[*i];
}

Result<Treatment> Treatments::find(std::string_view id) const {
  const auto i = find_item(treatments_, id, "treatment");
  if (!i) return fail(i.error());
  return treatments_[*i];
}

Result<int> Treatments::index_of(std::string_view id) const {
  const auto i = find_item(treatments_, id, "treatment");
  if (!i) return fail(i.error());
  return static_cast<int>(*i);
}

}  // namespace phren::patient
