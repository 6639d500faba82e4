#include "app/examine/present.h"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "app/examine/markup.h"
#include "app/examine/spectrogram.h"
#include "base/stable_sort.h"
#include "exam/names.h"
#include "reasoning/threats.h"

namespace phren::app {
namespace {

constexpr double kInkShare = 0.002;  // of the loudest pixels may be full ink
constexpr std::size_t kReasons = 3, kExplanations = 8;

std::string letters_of(const std::vector<exam::Sound>& sounds) {
  static const std::map<exam::Sound, const char*> kLetters = {
      {exam::Sound::kWheeze, "W"},        {exam::Sound::kRhonchus, "R"},
      {exam::Sound::kStridor, "S"},       {exam::Sound::kFineCrackle, "f"},
      {exam::Sound::kCoarseCrackle, "c"}, {exam::Sound::kBronchial, "B"}};
  std::string out;
  for (const exam::Sound sound : sounds) {
    const auto found = kLetters.find(sound);
    if (found != kLetters.end()) out += (out.empty() ? "" : " ") + std::string(found->second);
  }
  return out;
}

std::string sounds_in_words(const exam::SiteRecord& record) {
  std::string out;
  for (const exam::Sound sound : record.sounds) {
    const bool is_plain = sound == exam::Sound::kNormal;
    out +=
        (out.empty() ? "" : ", ") + std::string(is_plain ? "nothing added" : exam::label_of(sound));
  }
  return out.empty() ? "no breath sound made out" : out;
}

SpectrogramMarks marks_of(const ExaminedSite& site) {
  SpectrogramMarks marks;
  for (const auto& phase : site.measured.breathing.phases) {
    marks.phases.push_back({phase.phase, phase.start_s, phase.end_s});
  }
  for (const auto& track : site.measured.tracks) {
    const double half_s = (track.start_s + track.end_s) / 2.0;
    marks.tracks.push_back(
        {{{track.start_s, track.start_hz}, {half_s, track.mean_hz}, {track.end_s, track.end_hz}}});
  }
  for (const auto& crackle : site.measured.crackles) {
    marks.ticks.push_back({crackle.at_s, !crackle.is_fine()});
  }
  return marks;
}

std::vector<Fact> facts_of(const exam::VitalSigns& signs) {
  std::vector<Fact> facts;
  const auto add = [&](const char* label, const std::optional<double>& value, const char* unit,
                       int decimals = 0) {
    if (value) facts.push_back({label, number(*value, decimals) + " " + unit});
  };
  add("Respiratory rate", signs.respiratory_rate_per_min, "/min");
  add("SpO2", signs.spo2_percent, "%");
  add("EtCO2", signs.etco2_mmHg, "mmHg");
  add("Heart rate", signs.heart_rate_per_min, "/min");
  if (signs.systolic_mmHg && signs.diastolic_mmHg) {
    facts.push_back({"Blood pressure",
                     number(*signs.systolic_mmHg) + "/" + number(*signs.diastolic_mmHg) + " mmHg"});
  }
  add("Temperature", signs.temperature_C, "\u00B0C", 1);
  return facts;
}

void add_sites(const Examined& examined, ReportModel& model) {
  std::vector<SpectrogramGrid> grids;
  SpectrogramScale scale;
  scale.top_db = -200.0;
  for (const ExaminedSite& site : examined.sites) {
    grids.push_back(spectrogram_grid(site.recording.audio, scale.max_hz));
    scale.top_db = std::max(scale.top_db, upper_level_db(grids.back(), kInkShare));
  }
  double loudest_db = -200.0;
  for (const auto& record : examined.record.sites)
    loudest_db = std::max(loudest_db, record.level_db);
  for (std::size_t i = 0; i < examined.sites.size(); ++i) {
    const ExaminedSite& site = examined.sites[i];
    const exam::SiteRecord& record = examined.record.sites[i];
    const std::string heard = site.site.name + ": " + sounds_in_words(record);
    ChestMark mark{site.site,
                   record.level_db - loudest_db,
                   record.level_db < loudest_db - 40.0,
                   letters_of(record.sounds),
                   heard,
                   "#site-" + site.site.id};
    model.marks.push_back(mark);
    SiteCard card;
    card.site = site.site;
    card.picture_svg = spectrogram_svg(grids[i], scale, site.recording.audio.duration_s(),
                                       marks_of(site), "Spectrogram, " + heard);
    card.audio_file = record.audio_file;
    card.measured = record.notes;
    if (card.measured.empty()) card.measured.push_back(sounds_in_words(record));
    card.measured.push_back("breath in at " + number(record.level_db) + " dB re full scale");
    card.truth = truth_in_words(site.recording.truth);
    card.truth.insert(card.truth.begin(), bedside::in_words(site.expected));
    model.sites.push_back(std::move(card));
  }
  model.legend =
      "Letters: W wheeze, R rhonchus, S stridor, f fine crackles, c coarse crackles. The larger "
      "the mark, the louder the breath in; a dashed ring is near silence. Right and left are the "
      "patient's.";
}

void add_findings(const Examined& examined, const reasoning::FindingTable& table,
                  ReportModel& model) {
  for (const exam::Finding& finding : examined.record.findings) {
    FindingRow row;
    const auto index = table.index_of(finding.id);
    row.label = index ? table[*index].label : finding.id;
    row.meaning = index ? table[*index].meaning : "";
    row.presence = finding.presence;
    row.basis = exam::to_string(finding.basis);
    row.where = place_in_words(finding);
    row.note = finding.note;
    row.confidence = finding.confidence;
    model.findings.push_back(std::move(row));
  }
  phren::stable_sort(model.findings, [](const FindingRow& a, const FindingRow& b) {
    return a.presence < b.presence;
  });
}

void add_impression(const reasoning::Impression& impression, ReportModel& model) {
  for (const auto& threat : impression.threats) {
    if (!threat.is_named) continue;
    std::string grounds;
    for (const std::string& ground : threat.grounds)
      grounds += (grounds.empty() ? "" : "; ") + ground;
    model.threats.push_back(
        {threat.label, threat.why, threat.source, reasoning::standing_in_words(threat), grounds});
  }
  for (std::size_t i = 0; i < std::min(kExplanations, impression.ranking.size()); ++i) {
    const auto& ranked = impression.ranking[i];
    model.ranking.push_back({ranked.label, ranked.posterior, ranked.posterior_lo,
                             ranked.posterior_hi, ranked.can_kill_soon,
                             probability_in_words(ranked), reasons_in_words(ranked, kReasons)});
  }
  if (!impression.looks.empty()) {
    const auto& look = impression.looks.front();
    model.next_look = look.how + " (" + look.label + ").";
  }
  model.remarks = impression.remarks;
}

}  // namespace

std::string person_in_words(const patient::Person& person) {
  const bool is_female = person.sex == patient::Sex::kFemale;
  const char* noun =
      person.age_years < 13 ? (is_female ? "girl" : "boy") : (is_female ? "woman" : "man");
  if (person.age_years < 2.0) {
    return fmt::format("{}-month-old {}", static_cast<int>(person.age_years * 12.0), noun);
  }
  return fmt::format("{}-year-old {}", static_cast<int>(person.age_years), noun);
}

std::string reasons_in_words(const reasoning::RankedCondition& ranked, std::size_t most) {
  std::string out;
  for (std::size_t i = 0; i < std::min(most, ranked.contributions.size()); ++i) {
    const auto& part = ranked.contributions[i];
    const double factor = std::exp(std::abs(part.log_odds));
    if (factor < 1.05) break;
    out += fmt::format("{}{} {} ({} {})", out.empty() ? "" : ", ", part.label,
                       exam::to_string(part.presence), part.log_odds >= 0 ? "\u00D7" : "\u00F7",
                       number(factor, 1));
  }
  return out.empty() ? "nothing much" : out;
}

std::string probability_in_words(const reasoning::RankedCondition& ranked) {
  if (ranked.posterior <= reasoning::kLowestShown) return "below 0.5 %";
  if (ranked.posterior >= reasoning::kHighestShown) return "above 98 %";
  return number(100 * ranked.posterior, ranked.posterior < 0.1 ? 1 : 0) + " %";
}

std::string place_in_words(const exam::Finding& finding) {
  std::string out = finding.side == exam::Side::kMidline
                        ? (finding.site_ids.empty() ? "" : "both sides")
                        : std::string(exam::to_string(finding.side));
  if (finding.site_ids.size() > 4) {
    return out + ", " + std::to_string(finding.site_ids.size()) + " places";
  }
  for (const std::string& id : finding.site_ids) out += (out.empty() ? "" : ", ") + id;
  return out;
}

std::string measured_in_words(const exam::SiteRecord& record) {
  std::string out;
  for (const std::string& note : record.notes) out += (out.empty() ? "" : "; ") + note;
  return out.empty() ? sounds_in_words(record) : out;
}

ReportModel report_model(const Examined& examined, const reasoning::FindingTable& table) {
  ReportModel model;
  const teaching::Case& prepared = examined.prepared;
  const patient::Person& person = prepared.patient.person;
  model.title = prepared.title;
  model.subtitle =
      fmt::format("{}, {} cm, {} kg. Listened at {} places for {} s each.", person_in_words(person),
                  number(person.height_cm), number(person.weight_kg, person.weight_kg < 20 ? 1 : 0),
                  examined.sites.size(), number(examined.options.recording.seconds));
  model.story = prepared.story;
  model.teaching_points = prepared.teaching_points;
  model.vital_signs = facts_of(examined.record.vital_signs);
  add_sites(examined, model);
  add_findings(examined, table, model);
  add_impression(examined.impression, model);
  model.how_made = fmt::format(
      "Case {}, seed {}, Phren {}. The same case, seed and version give this report again.",
      prepared.id, examined.options.seed.value, PHREN_VERSION);
  return model;
}

}  // namespace phren::app
