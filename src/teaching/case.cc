#include "teaching/case.h"

#include <algorithm>

#include "base/files.h"
#include "base/toml_fields.h"
#include "bedside/words.h"
#include "exam/names.h"
#include "teaching/draw/draw.h"

namespace phren::teaching {
namespace fs = std::filesystem;
namespace {

template <class E>
auto parser(std::string_view field) {
  return [field](std::string_view text) { return read_word<E>(field, text); };
}

// The names of the TOML files of a folder, without ending, sorted; none if there is no folder.
std::vector<std::string> stems(const fs::path& folder) {
  std::error_code error;
  std::vector<std::string> out;
  for (const auto& entry : fs::directory_iterator(folder, error)) {
    if (entry.path().extension() == ".toml") out.push_back(entry.path().stem().string());
  }
  std::sort(out.begin(), out.end());
  return out;
}

// Ranges of a person: what the body model was made for (docs/validation/patient.md).
void read_person(TomlFields& fields, patient::Person& person) {
  fields.number("age_years", person.age_years, 0.0, 110.0, true);
  fields.word("sex", person.sex, parser<patient::Sex>("sex"));
  fields.number("height_cm", person.height_cm, 40.0, 220.0, true);
  fields.number("weight_kg", person.weight_kg, 1.5, 250.0, true);
  fields.number("muscle", person.muscle, 0.0, 1.0);
}

void check_id(TomlFields& fields, const std::string& id, const std::vector<std::string>& known,
              const std::string& kind, const std::string& where_all_are) {
  if (!fields.is_good() || std::find(known.begin(), known.end(), id) != known.end()) return;
  fields.note(*fields.find("id"),
              {ErrorCode::kNotFound, "id '" + id + "' is not a " + kind + "." +
                                         did_you_mean(id, known) + " " + where_all_are + " all."});
}

void read_side(TomlFields& fields, exam::Side& to) {
  fields.word("side", to, [](std::string_view text) -> Result<exam::Side> {
    if (text == "right") return exam::Side::kRight;
    if (text == "left") return exam::Side::kLeft;
    return fail(out_of_range("side", "'" + std::string(text) + "'", "right or left"));
  });
}

void read_place(TomlFields& fields, patient::ConditionUse& use) {
  read_side(fields, use.side);
  const toml::node* node = fields.find("lobe");
  if (node == nullptr) return;
  exam::Lobe lobe{};
  fields.word("lobe", lobe, exam::parse_lobe);
  use.lobe = static_cast<int>(lobe);
  if (use.side == exam::Side::kMidline || use.side == exam::side_of(lobe)) return;
  fields.note(*node, out_of_range("lobe", "'" + std::string(exam::to_string(lobe)) + "'",
                                  "a lobe of the " + std::string(exam::to_string(use.side)) +
                                      " side, as `side` says"));
}

patient::ConditionUse read_condition(TomlFields& fields, const CaseVocabulary& vocabulary) {
  patient::ConditionUse use;
  fields.text("id", use.id, true);
  check_id(fields, use.id, vocabulary.condition_ids, "condition", "`phren conditions` lists");
  fields.number("severity", use.severity, 0.0, 1.0, true);
  read_place(fields, use);
  const bool changes =
      fields.find("severity_later") != nullptr || fields.find("change_over_min") != nullptr;
  if (changes) {
    fields.number("severity_later", use.severity_later, 0.0, 1.0, true);
    fields.number("change_over_min", use.change_over_min, 0.0, 600.0, true);
  }
  return use;
}

patient::TreatmentUse read_treatment(TomlFields& fields, const CaseVocabulary& vocabulary) {
  patient::TreatmentUse use;
  fields.text("id", use.id, true);
  check_id(fields, use.id, vocabulary.treatment_ids, "treatment", "data/treatments holds");
  read_side(fields, use.side);
  fields.number("minutes_before", use.minutes_before, 0.0, 60.0, true);
  return use;
}

exam::Basis basis_of(std::string_view key) {
  return key.starts_with("seen") ? exam::Basis::kSeen : exam::Basis::kAsked;
}

// [told] present = [...], absent = [...], seen_present = [...], seen_absent = [...]
std::vector<exam::Finding> read_told(TomlFields& fields, const CaseVocabulary& vocabulary) {
  std::vector<exam::Finding> told;
  for (const std::string_view key : {"present", "absent", "seen_present", "seen_absent"}) {
    std::vector<std::string> ids;
    fields.texts(key, ids);
    for (const std::string& id : ids) {
      const auto& known = vocabulary.finding_ids;
      if (std::find(known.begin(), known.end(), id) == known.end()) {
        fields.note(*fields.find(key),
                    {ErrorCode::kNotFound, std::string(key) + ": '" + id + "' is not a finding." +
                                               did_you_mean(id, known)});
      }
      exam::Finding finding;
      finding.id = id;
      finding.presence =
          key.ends_with("present") ? exam::Presence::kPresent : exam::Presence::kAbsent;
      finding.basis = basis_of(key);
      told.push_back(finding);
    }
  }
  return told;
}

void read_top(TomlFields& fields, Case& out) {
  fields.text("title", out.title, true);
  fields.text("story", out.story, true);
  fields.texts("teaching_points", out.teaching_points);
  fields.one_of("setting", out.setting, {"ems_adult", "ems_child", "clinic"});
  fields.number("minutes_before", out.patient.minutes_before, 0.0, 60.0);
  fields.word("posture", out.patient.posture, parser<patient::Posture>("posture"));
  fields.word("clothing", out.clothing, parser<bedside::Clothing>("clothing"));
  fields.word("room", out.room, parser<acoustics::Surroundings>("room"));
}

}  // namespace

Result<bedside::Setup> setup_of(const Case& one, const patient::Conditions& conditions,
                                const patient::Treatments& treatments,
                                const acoustics::Instruments& instruments) {
  return bedside::prepare(one.patient, {one.clothing, one.room}, one.told, conditions, treatments,
                          &instruments);
}

Result<Case> parse_case(std::string_view toml_text, std::string_view file_name,
                        const CaseVocabulary& vocabulary) {
  Case out;
  out.id = fs::path(file_name).stem().string();
  TRY(read_toml(toml_text, file_name, [&](TomlFields& top) {
    read_top(top, out);
    top.table("person", [&](TomlFields& f) { read_person(f, out.patient.person); }, true);
    top.rows("condition", [&](TomlFields& f) {
      out.patient.conditions.push_back(read_condition(f, vocabulary));
    });
    top.rows("treatment", [&](TomlFields& f) {
      out.patient.treatments.push_back(read_treatment(f, vocabulary));
    });
    top.table("told", [&](TomlFields& f) { out.told = read_told(f, vocabulary); });
  }));
  return out;
}

Result<Case> load_case(const fs::path& file, const CaseVocabulary& vocabulary) {
  const auto text = TRY(read_file(file, 1u << 20));
  return parse_case(text, file.string(), vocabulary);
}

namespace {
Result<Case> drawn(std::string_view id, const fs::path& data_directory) {
  const auto conditions = TRY(patient::Conditions::load(data_directory / "conditions"));
  const auto data = TRY(DrawData::load(data_directory, conditions));
  const auto draw = parse_draw_id(id, data, conditions);
  return draw ? draw_case(*draw, data, conditions) : fail(draw.error());
}
}  // namespace

CaseWithPossible split_case_id(std::string_view id) {
  constexpr std::string_view kBetween = "__";
  CaseWithPossible out;
  std::size_t end = id.find(kBetween);
  out.base_id = std::string(id.substr(0, end));
  while (end != std::string_view::npos) {
    id.remove_prefix(end + kBetween.size());
    end = id.find(kBetween);
    std::string_view one = id.substr(0, end);
    patient::ConditionUse use;
    use.severity = 0.0;
    use.is_steady = true;
    for (const auto& [ending, side] : {std::pair{std::string_view("-right"), exam::Side::kRight},
                                       std::pair{std::string_view("-left"), exam::Side::kLeft}}) {
      if (!one.ends_with(ending)) continue;
      use.side = side;
      one.remove_suffix(ending.size());
    }
    use.id = std::string(one);
    out.possible.push_back(std::move(use));
  }
  return out;
}

Case with_possible(Case base, const CaseWithPossible& parts) {
  for (const patient::ConditionUse& one : parts.possible) {
    base.patient.conditions.push_back(one);
    base.id += "__" + one.id;
    if (one.side != exam::Side::kMidline) {
      base.id += one.side == exam::Side::kRight ? "-right" : "-left";
    }
  }
  return base;
}

Result<Case> find_case(std::string_view path_or_id, const fs::path& data_directory) {
  if (const auto parts = split_case_id(path_or_id); !parts.possible.empty()) {
    return with_possible(TRY(find_case(parts.base_id, data_directory)), parts);
  }
  const auto vocabulary = TRY(CaseVocabulary::load(data_directory));
  const fs::path as_path{path_or_id};
  std::error_code ignored;
  const fs::path by_id = data_directory / "cases" / (std::string(path_or_id) + ".toml");
  if (fs::exists(as_path, ignored)) return load_case(as_path, vocabulary);
  if (fs::exists(by_id, ignored)) return load_case(by_id, vocabulary);
  if (is_draw_id(path_or_id)) return drawn(path_or_id, data_directory);
  return fail(ErrorCode::kNotFound, "case '" + std::string(path_or_id) +
                                        "' is neither a file nor a prepared case." +
                                        did_you_mean(path_or_id, stems(data_directory / "cases")) +
                                        " `phren cases` lists the prepared ones.");
}

Result<std::vector<ListedCase>> list_cases(const fs::path& folder,
                                           const CaseVocabulary& vocabulary) {
  std::error_code error;
  if (!fs::is_directory(folder, error)) {
    return fail(ErrorCode::kNotFound, folder.string() + ": no such folder");
  }
  std::vector<ListedCase> out;
  for (const std::string& stem : stems(folder)) {
    const fs::path file = folder / (stem + ".toml");
    out.push_back({file, load_case(file, vocabulary)});
  }
  return out;
}

Result<CaseVocabulary> CaseVocabulary::load(const fs::path& data_directory) {
  CaseVocabulary vocabulary;
  vocabulary.condition_ids = stems(data_directory / "conditions");
  vocabulary.treatment_ids = stems(data_directory / "treatments");
  const fs::path file = data_directory / "findings.toml";
  const auto text = TRY(read_file(file));
  const auto root = TRY(parse_toml(text, file.string()));
  if (const auto* rows = root["finding"].as_array()) {
    for (const auto& row : *rows) {
      const auto* table = row.as_table();
      const auto id = table == nullptr ? std::nullopt : (*table)["id"].value<std::string>();
      if (id) vocabulary.finding_ids.push_back(*id);
    }
  }
  return vocabulary;
}

}  // namespace phren::teaching
