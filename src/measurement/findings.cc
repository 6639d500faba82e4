#include "measurement/findings.h"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <map>

#include "measurement/compare.h"
#include "measurement/heard.h"
#include "measurement/names.h"
#include "signal/envelope.h"

namespace phren::measurement {
namespace {

using exam::Finding;
using exam::Presence;
using exam::Side;

constexpr double kDiminished_db = 6.0;  // softer than the mirror site and the rest of the chest
constexpr double kAbsent_db = 15.0;
// With this many sites listened to, a sound is called a finding only if one site is this sure of
// it; else it stays unknown. ENGINEERING: noise makes short tones and pops by chance.
constexpr std::size_t kManySites = 8;
constexpr double kSure = 0.75, kSureOverNeck = 0.6;  // stridor is listened for at one place
constexpr double kTooSoft_db = 25.0;  // below the louder sites: nothing is heard there
// Quiet adults breathe 1:1.4 to 1:2, with obstruction 1:3 to 1:4 (common practice; Tobin 1983 has
// TI/Ttot 0.42, which is 1:1.4); the middle of what lies between is our choice.
constexpr double kProlonged = 2.5, kShort = 2.0;
constexpr double kNormalShareOfSites = 0.8;  // of the sites over the lungs

std::string formatted(const char* format, double a, double b = 0.0) {
  char text[120];
  std::snprintf(text, sizeof text, format, a, b);
  return text;
}

const char* id_of(exam::Sound sound) {
  switch (sound) {
    case exam::Sound::kWheeze:
      return "wheeze";
    case exam::Sound::kRhonchus:
      return "rhonchi";
    case exam::Sound::kStridor:
      return "stridor";
    case exam::Sound::kFineCrackle:
      return "fine_crackles";
    case exam::Sound::kCoarseCrackle:
      return "coarse_crackles";
    case exam::Sound::kPleuralFrictionRub:
      return "pleural_friction_rub";
    case exam::Sound::kSquawk:
      return "squawk";
    case exam::Sound::kBronchial:
      return "bronchial_breathing";
    default:
      return nullptr;
  }
}

Finding make_finding(std::string id, Presence presence) {
  Finding finding;
  finding.id = std::move(id);
  finding.presence = presence;
  finding.basis = exam::Basis::kMeasured;
  return finding;
}

bool is_over_lung(const exam::Site& site) {
  return site.at.aspect != exam::Aspect::kNeck && site.airway_weight < 0.5;
}

// Breath-sound level of the louder sites over the lungs; -200 where there are fewer than two.
double chest_level_db(const std::vector<SiteMeasurement>& sites) {
  std::vector<double> levels;
  for (const SiteMeasurement& s : sites)
    if (is_over_lung(s.site)) levels.push_back(s.measurement.breathing.level_db);
  return levels.size() < 2 ? -200.0 : signal::percentile_of(levels, 70.0);
}

// The best-heard instance of each sound, with every site where it is.
void add_sounds(const std::vector<SiteMeasurement>& sites, std::vector<Finding>& out) {
  std::map<std::string, Finding> found;
  const double softest_db = chest_level_db(sites) - kTooSoft_db;
  for (const SiteMeasurement& s : sites) {
    if (s.measurement.breathing.level_db < softest_db) continue;
    for (const HeardSound& heard : heard_sounds(s.measurement, s.site)) {
      const char* id = id_of(heard.sound);
      if (id == nullptr) continue;
      auto [entry, is_new] = found.try_emplace(id, make_finding(id, Presence::kPresent));
      Finding& finding = entry->second;
      if (is_new || heard.confidence > finding.confidence) {
        finding.confidence = heard.confidence;
        finding.note = heard.words;
        finding.phase = heard.phase;
      }
      finding.site_ids.push_back(s.site.id);
    }
  }
  for (auto& [id, finding] : found) {  // one side only, or both
    const double sure = id == "stridor" ? kSureOverNeck : kSure;
    if (sites.size() >= kManySites && finding.confidence < sure) {
      finding.presence = Presence::kUnknown;
      finding.note += "; too faint to call";
    }
    bool is_right = false, is_left = false;
    for (const SiteMeasurement& s : sites)
      if (std::find(finding.site_ids.begin(), finding.site_ids.end(), s.site.id) !=
          finding.site_ids.end()) {
        is_right |= s.site.side == Side::kRight;
        is_left |= s.site.side == Side::kLeft;
      }
    finding.side = is_right == is_left ? Side::kMidline : is_right ? Side::kRight : Side::kLeft;
  }
  // Stridor carries into the chest: a whistle at a few places then says nothing of the small
  // airways.
  const auto stridor = found.find("stridor"), wheeze = found.find("wheeze");
  if (stridor != found.end() && stridor->second.presence == Presence::kPresent &&
      wheeze != found.end() && 3 * wheeze->second.site_ids.size() < sites.size()) {
    wheeze->second.presence = Presence::kUnknown;
    wheeze->second.note += "; may be carried down from the throat";
  }
  for (const auto& [id, finding] : found) out.push_back(finding);
}

void add_absent_sounds(const std::vector<SiteMeasurement>& sites, std::vector<Finding>& out) {
  const auto usable = std::count_if(sites.begin(), sites.end(), [](const SiteMeasurement& s) {
    return s.measurement.quality.can_be_labelled();
  });
  if (usable < 4) return;  // too little listened to for "not there"
  for (const char* id : {"wheeze", "rhonchi", "fine_crackles", "coarse_crackles", "stridor",
                         "pleural_friction_rub"}) {
    const bool is_known =
        std::any_of(out.begin(), out.end(), [&](const Finding& f) { return f.id == id; });
    if (is_known) continue;
    Finding finding = make_finding(id, Presence::kAbsent);
    finding.confidence = 0.8;
    finding.note = "not measured at any of " + std::to_string(usable) + " sites";
    out.push_back(finding);
  }
}

// How much softer a site is than its mirror site, and than what the other side leads one to expect.
struct Softness {
  const SiteMeasurement* site = nullptr;
  double below_mirror_db = 0.0, below_chest_db = 0.0, sd_db = 3.0;
  double worst_db() const { return std::min(below_mirror_db, below_chest_db); }
};

std::vector<Softness> soft_sites(const std::vector<SiteMeasurement>& sites) {
  const double chest_db = chest_level_db(sites);
  std::vector<Softness> out;
  for (const SiteMeasurement& s : sites) {
    if (!is_over_lung(s.site) || s.site.mirror_id.empty()) continue;
    const auto mirror = std::find_if(sites.begin(), sites.end(), [&](const SiteMeasurement& other) {
      return other.site.id == s.site.mirror_id;
    });
    if (mirror == sites.end()) continue;
    const LevelDifference d =
        compare(mirror->measurement.breathing, s.measurement.breathing).overall;
    out.push_back({&s, d.difference_db, chest_db - s.measurement.breathing.level_db, d.sd_db});
  }
  return out;
}

void add_levels(const std::vector<SiteMeasurement>& sites, std::vector<Finding>& out) {
  const std::vector<Softness> soft = soft_sites(sites);
  for (const Side side : {Side::kRight, Side::kLeft}) {
    Finding diminished = make_finding("diminished_breath_sounds", Presence::kPresent);
    Finding absent = make_finding("absent_breath_sounds", Presence::kPresent);
    double worst_db = 0.0, worst_absent_db = 0.0;
    for (const Softness& s : soft) {
      if (s.site->site.side != side) continue;
      const double margin_db = s.worst_db() - kDiminished_db;
      if (margin_db < 0.0) continue;
      const bool is_absent = s.worst_db() >= kAbsent_db;
      Finding& finding = is_absent ? absent : diminished;
      double& worst = is_absent ? worst_absent_db : worst_db;
      finding.site_ids.push_back(s.site->site.id);
      if (s.worst_db() <= worst) continue;
      worst = s.worst_db();
      finding.confidence = std::clamp(0.6 + 0.1 * margin_db / s.sd_db, 0.0, 0.98);
      finding.note =
          formatted("%.0f dB below the other side (+-%.0f dB)", s.below_mirror_db, s.sd_db);
    }
    for (Finding* finding : {&diminished, &absent}) {
      finding->side = side;
      if (!finding->site_ids.empty()) out.push_back(*finding);
    }
  }
  const bool is_any = std::any_of(out.begin(), out.end(), [](const Finding& f) {
    return f.id == "diminished_breath_sounds" || f.id == "absent_breath_sounds";
  });
  if (!is_any && soft.size() >= 4)
    for (const char* id : {"diminished_breath_sounds", "absent_breath_sounds"}) {
      Finding finding = make_finding(id, Presence::kAbsent);
      finding.confidence = 0.85;
      finding.note = formatted(
          "mirrored sites within %.0f dB",
          std::max(
              0.0,
              std::max_element(soft.begin(), soft.end(), [](const Softness& a, const Softness& b) {
                return a.below_mirror_db < b.below_mirror_db;
              })->below_mirror_db));
      out.push_back(finding);
    }
}

// Flow too low to sound anywhere over the lungs.
void add_silence(const std::vector<SiteMeasurement>& sites, std::vector<Finding>& out) {
  int lung = 0, silent = 0;
  for (const SiteMeasurement& s : sites) {
    if (!is_over_lung(s.site)) continue;
    ++lung;
    const Breathing& b = s.measurement.breathing;
    const bool has_tone = !s.measurement.tracks.empty();
    silent += (b.confidence < 0.15 && !has_tone) ? 1 : 0;
  }
  if (lung < 4) return;
  const bool is_silent = silent * 10 >= lung * 8;
  Finding finding =
      make_finding("silent_chest", is_silent ? Presence::kPresent : Presence::kAbsent);
  finding.confidence = is_silent ? 0.7 : 0.9;
  finding.note =
      std::to_string(silent) + " of " + std::to_string(lung) + " sites without breath sound";
  out.push_back(finding);
}

void add_timing(const std::vector<SiteMeasurement>& sites, std::vector<Finding>& out) {
  std::vector<double> ratios;
  std::vector<std::string> ids;
  for (const SiteMeasurement& s : sites) {
    const Breathing& b = s.measurement.breathing;
    if (!b.expiration_to_inspiration || b.confidence < 0.3 || b.phase_confidence < 0.3) continue;
    ratios.push_back(*b.expiration_to_inspiration);
    ids.push_back(s.site.id);
  }
  if (ratios.size() < 3) return;
  const double ratio = signal::median_of(ratios);
  const Presence presence = ratio >= kProlonged ? Presence::kPresent
                            : ratio <= kShort   ? Presence::kAbsent
                                                : Presence::kUnknown;
  Finding finding = make_finding("prolonged_expiration", presence);
  finding.confidence = std::clamp(0.55 + 0.3 * std::fabs(ratio - kProlonged), 0.55, 0.9);
  finding.note = formatted("in to out 1:%.1f", ratio);
  if (presence == Presence::kPresent) finding.site_ids = ids;
  out.push_back(finding);
}

// Clear at (nearly) every place, and nothing else found.
void add_normal(const std::vector<SiteMeasurement>& sites, std::vector<Finding>& out) {
  Finding finding = make_finding("normal_breath_sounds", Presence::kPresent);
  const std::vector<Softness> soft = soft_sites(sites);
  std::size_t over_lung = 0;
  for (const SiteMeasurement& s : sites) {
    if (!is_over_lung(s.site) || !s.measurement.quality.can_be_labelled()) continue;
    ++over_lung;
    const bool is_soft = std::any_of(soft.begin(), soft.end(), [&](const Softness& x) {
      return x.site == &s && x.worst_db() >= kDiminished_db;
    });
    if (!is_soft && s.measurement.breathing.confidence >= 0.15 &&
        heard_sounds(s.measurement, s.site).empty())
      finding.site_ids.push_back(s.site.id);
  }
  if (over_lung == 0) return;
  const bool is_other = std::any_of(out.begin(), out.end(), [](const Finding& f) {
    return f.presence == Presence::kPresent && f.id != "prolonged_expiration";
  });
  finding.confidence = 0.85;
  finding.note = "at " + std::to_string(finding.site_ids.size()) + " of " +
                 std::to_string(over_lung) + " sites over the lungs";
  const double share =
      static_cast<double>(finding.site_ids.size()) / static_cast<double>(over_lung);
  if (is_other || share < kNormalShareOfSites) {
    finding.presence = Presence::kAbsent;
    finding.site_ids.clear();
  }
  out.push_back(finding);
}

}  // namespace

exam::SiteRecord site_record_of(const SiteMeasurement& s) {
  exam::SiteRecord record;
  record.site_id = s.site.id;
  record.level_db = s.measurement.breathing.level_db;
  for (const HeardSound& heard : heard_sounds(s.measurement, s.site)) {
    record.sounds.push_back(heard.sound);
    record.notes.push_back(heard.words);
  }
  if (record.sounds.empty() && s.measurement.breathing.confidence >= 0.15)
    record.sounds.push_back(exam::Sound::kNormal);
  for (const QualityReason reason : s.measurement.quality.reasons)
    record.notes.push_back("recording not good enough: " + std::string(to_string(reason)));
  return record;
}

std::vector<Finding> findings_of(const std::vector<SiteMeasurement>& sites) {
  std::vector<Finding> out;
  add_sounds(sites, out);
  add_absent_sounds(sites, out);
  add_levels(sites, out);
  add_silence(sites, out);
  add_timing(sites, out);
  add_normal(sites, out);
  return out;
}

}  // namespace phren::measurement
