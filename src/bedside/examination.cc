#include "bedside/examination.h"

#include <algorithm>
#include <cmath>

#include "bedside/shown.h"
#include "bedside/words.h"

namespace phren::bedside {
namespace {

const patient::Monitor* shown_at(const Performance& performance, double time_s) {
  const patient::Monitor* last = nullptr;
  for (const MonitorPoint& point : performance.monitor) {
    if (point.time_s > time_s && last != nullptr) break;
    last = &point.shown;
  }
  return last;
}

// None where the instrument finds nothing.
std::optional<double> reading(const VitalKind& kind, const patient::Monitor& monitor) {
  const double value = as_instruments_read(monitor).*kind.shown;
  return std::isfinite(value) ? std::optional(value) : std::nullopt;
}

}  // namespace

exam::Examination examination_of(const Performance& performance, const Examined& who,
                                 const patient::Monitor* now) {
  exam::Examination out;
  out.case_id = who.case_id;
  out.seed = who.seed;
  out.age_years = who.age_years;
  out.sex = word_of(who.sex);
  out.setting = who.setting;
  for (const TimedDeed& deed : performance.deeds) {
    const auto* measure = std::get_if<Measure>(&deed.deed);
    const VitalKind* kind = measure ? vital_kind(measure->vital) : nullptr;
    if (kind == nullptr) continue;
    // What the learner read or counted counts; else what the monitor showed then.
    const patient::Monitor* shown = shown_at(performance, deed.time_s);
    if (measure->value) {
      out.vital_signs.*kind->taken = measure->value;
    } else if (shown != nullptr) {
      out.vital_signs.*kind->taken = reading(*kind, *shown);
    }
    if (now != nullptr && kind->stays_on) {
      const auto value = reading(*kind, *now);
      out.vital_signs.*kind->taken =
          value ? std::optional(std::floor(*value * 10.0 + 0.5) / 10.0) : std::nullopt;
    }
  }
  for (const TimedDeed& report : performance.last_reports) {
    const exam::Finding& finding = std::get<Report>(report.deed).finding;
    if (finding.presence != exam::Presence::kUnknown) out.findings.push_back(finding);
  }
  for (const Stay& stay : performance.stays) {
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

}  // namespace phren::bedside
