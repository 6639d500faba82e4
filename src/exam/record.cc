#include "exam/record.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "base/json_fields.h"
#include "exam/names.h"

namespace phren::exam {
namespace {

constexpr double kMaxAge_years = 125.0;

// Line and column of a byte offset, both from 1.
std::string line_and_column(std::string_view text, std::size_t byte) {
  const std::string_view before = text.substr(0, std::min(byte > 0 ? byte - 1 : 0, text.size()));
  const auto line = 1 + std::count(before.begin(), before.end(), '\n');
  const std::size_t start = before.rfind('\n');
  const std::size_t column = before.size() - (start == before.npos ? 0 : start + 1) + 1;
  return std::to_string(line) + ":" + std::to_string(column);
}

}  // namespace

// What a monitor or a hand could ever show: ENGINEERING, only to catch slips.
void describe(Fields& f, VitalSigns& signs) {
  f.number_if_any("respiratory_rate_per_min", signs.respiratory_rate_per_min, 0, 200);
  f.number_if_any("spo2_percent", signs.spo2_percent, 0, 100);
  f.number_if_any("etco2_mmHg", signs.etco2_mmHg, 0, 200);
  f.number_if_any("heart_rate_per_min", signs.heart_rate_per_min, 0, 400);
  f.number_if_any("systolic_mmHg", signs.systolic_mmHg, 0, 400);
  f.number_if_any("diastolic_mmHg", signs.diastolic_mmHg, 0, 300);
  f.number_if_any("temperature_C", signs.temperature_C, 10, 46);
}

// Silence has no level: null.
void describe(Fields& f, SiteRecord& site) {
  f.text("site_id", site.site_id, true);
  f.text("audio_file", site.audio_file);
  std::optional<double> level_db = site.level_db;
  if (std::isinf(site.level_db)) level_db.reset();
  f.number("level_db", level_db, -400.0, 100.0);
  site.level_db = level_db.value_or(-std::numeric_limits<double>::infinity());
  f.words("sounds", site.sounds, parse_sound);
  f.texts("notes", site.notes);
}

void describe(Fields& f, Finding& finding) {
  f.text("id", finding.id, true);
  f.word("presence", finding.presence, parse_presence, true);
  f.word("basis", finding.basis, parse_basis);
  f.word("side", finding.side, parse_side);
  f.texts("site_ids", finding.site_ids);
  f.word("phase", finding.phase, parse_phase);
  f.number("confidence", finding.confidence, 0.0, 1.0);
  f.text("note", finding.note);
}

void describe(Fields& f, Examination& exam) {
  double version = exam.schema_version;
  f.number("schema_version", version, 0.0, 1e6, true);
  if (f.reads() && version != kExaminationSchemaVersion) {
    f.note({ErrorCode::kUnsupported,
            out_of_range("/schema_version", version, std::to_string(kExaminationSchemaVersion))
                .message});
  }
  f.text("case_id", exam.case_id);
  f.seed("seed", exam.seed);
  f.number("age_years", exam.age_years, 0.0, kMaxAge_years);
  f.one_of("sex", exam.sex, {"", "female", "male"});
  f.one_of("setting", exam.setting, {"", "ems_adult", "ems_child", "clinic"});
  f.table("vital_signs", exam.vital_signs);
  f.rows("sites", exam.sites);
  f.rows("findings", exam.findings);
}

std::string to_json(const Examination& exam) {
  return json_of(exam).dump(2, ' ', false, nlohmann::json::error_handler_t::replace) + "\n";
}

Result<Examination> examination_from_json(std::string_view text, std::string_view file_name) {
  const std::string name(file_name);
  if (is_deeper_json(text)) {
    return fail(ErrorCode::kMalformed, name + ": is nested more than " +
                                           std::to_string(kDeepestJson) +
                                           " deep; no examination record is");
  }
  nlohmann::json root;
  try {
    root = nlohmann::json::parse(text);
  } catch (const nlohmann::json::exception& error) {
    const auto* parse = dynamic_cast<const nlohmann::json::parse_error*>(&error);
    const std::string where = parse == nullptr ? "" : ":" + line_and_column(text, parse->byte);
    return fail(ErrorCode::kMalformed, name + where +
                                           ": is not JSON text; an examination record in "
                                           "JSON is needed (docs/examination.schema.json)");
  }
  return read_record<Examination>(root, name);
}

}  // namespace phren::exam
