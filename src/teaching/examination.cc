#include "teaching/examination.h"

#include <algorithm>

namespace phren::teaching {
namespace {

const patient::Monitor* shown_at(const bedside::Performance& performance, double time_s) {
  const patient::Monitor* last = nullptr;
  for (const bedside::MonitorPoint& point : performance.monitor) {
    if (point.time_s > time_s && last != nullptr) break;
    last = &point.shown;
  }
  return last;
}

void take(exam::VitalSigns& signs, const std::string& vital, const patient::Monitor& shown) {
  if (vital == "respiratory_rate_per_min") {
    signs.respiratory_rate_per_min = shown.respiratory_rate_per_min;
  } else if (vital == "spo2_percent") {
    signs.spo2_percent = shown.spo2_percent;
  } else if (vital == "etco2_mmHg") {
    signs.etco2_mmHg = shown.etco2_mmHg;
  } else if (vital == "heart_rate_per_min") {
    signs.heart_rate_per_min = shown.heart_rate_per_min;
  } else if (vital == "systolic_mmHg") {
    signs.systolic_mmHg = shown.systolic_mmHg;
  } else if (vital == "diastolic_mmHg") {
    signs.diastolic_mmHg = shown.diastolic_mmHg;
  } else if (vital == "temperature_C") {
    signs.temperature_C = shown.temperature_C;
  }
}

}  // namespace

exam::Examination examination_of(const bedside::Performance& performance, const Case& prepared,
                                 std::uint64_t seed) {
  exam::Examination out;
  out.case_id = prepared.id;
  out.seed = seed;
  out.age_years = prepared.patient.person.age_years;
  out.sex = prepared.patient.person.sex == patient::Sex::kFemale ? "female" : "male";
  out.setting = prepared.setting;
  for (const bedside::TimedDeed& deed : performance.deeds) {
    const auto* measure = std::get_if<bedside::Measure>(&deed.deed);
    const patient::Monitor* shown = measure ? shown_at(performance, deed.time_s) : nullptr;
    if (shown != nullptr) take(out.vital_signs, measure->vital, *shown);
  }
  for (const bedside::TimedDeed& report : performance.last_reports) {
    out.findings.push_back(std::get<bedside::Report>(report.deed).finding);
  }
  for (const bedside::Stay& stay : performance.stays) {
    const bool is_known =
        std::any_of(out.sites.begin(), out.sites.end(),
                    [&](const exam::SiteRecord& site) { return site.site_id == stay.site_id; });
    if (stay.site_id.empty() || is_known) continue;
    exam::SiteRecord record;
    record.site_id = stay.site_id;
    out.sites.push_back(std::move(record));
  }
  return out;
}

}  // namespace phren::teaching
