#include "exam/record.h"

#include <cmath>
#include <limits>

#include "base/json_fields.h"
#include "exam/names.h"

namespace phren::exam {
namespace {

constexpr double kMaxAge_years = 125.0;

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

}  // namespace phren::exam
