#include "measurement/heard.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <iterator>

#include "exam/names.h"
#include "measurement/crackle_weighing.h"
#include "measurement/names.h"
#include "signal/envelope.h"

namespace phren::measurement {
namespace {

constexpr double kRhonchusBelow_hz = 300.0;
// Low tones: breath noise through the chest's own resonance (near 130 Hz) makes short tracks 11 to
// 14 dB high. So what counts is length times height over kLow_db, for each second of breath. Above
// that resonance (143 Hz, Q 2.0: Wodicka & Shannon 1990) less height will do.
constexpr double kLow_db = 11.5, kLowEvidence_db = 0.35;
constexpr double kAboveResonance_hz = 170.0, kAboveResonance_db = 10.0;

// A tone over the neck with less than this of its length in inspiration comes from below. What lies
// in neither phase counts against: a long soft expiration is often not made out.
constexpr double kInspiredShare = 0.2;

struct PhaseShare {
  double inspiration = 0.0, expiration = 0.0;
  std::optional<exam::Phase> mostly() const {
    const double all = inspiration + expiration;
    if (all <= 0.0) return std::nullopt;
    if (inspiration > 0.8 * all) return exam::Phase::kInspiration;
    if (expiration > 0.8 * all) return exam::Phase::kExpiration;
    return std::nullopt;
  }
};

double overlap(double a0, double a1, double b0, double b1) {
  return std::max(0.0, std::min(a1, b1) - std::max(a0, b0));
}

struct ToneClass {             // what is heard of one kind of tone
  double evidence_db_s = 0.0;  // length times height over what noise reaches
  double seconds = 0.0, hz = 0.0, prominence_db = 0.0;
  PhaseShare share;
};

bool is_low(const TonalTrack& t) {
  return t.mean_hz < kRhonchusBelow_hz;
}

ToneClass gather(const RecordingMeasurement& m, bool want_low) {
  ToneClass out;
  std::vector<TonalTrack> tones;
  std::copy_if(m.tracks.begin(), m.tracks.end(), std::back_inserter(tones),
               [&](const TonalTrack& t) { return is_low(t) == want_low; });
  double weighted = 0.0;
  for (const TonalTrack& t : tones) {
    out.seconds += t.end_s - t.start_s;
    weighted += (t.end_s - t.start_s) * t.prominence_db;
    const double from_db = t.mean_hz < kAboveResonance_hz ? kLow_db : kAboveResonance_db;
    out.evidence_db_s += (t.end_s - t.start_s) * std::max(0.0, t.prominence_db - from_db);
    for (const BreathPhase& p : m.breathing.phases)
      (p.phase == exam::Phase::kInspiration ? out.share.inspiration : out.share.expiration) +=
          overlap(t.start_s, t.end_s, p.start_s, p.end_s);
  }
  if (tones.empty()) return out;
  out.prominence_db = weighted / out.seconds;
  std::sort(tones.begin(), tones.end(),
            [](const TonalTrack& a, const TonalTrack& b) { return a.mean_hz < b.mean_hz; });
  double left_s = 0.5 * out.seconds;
  for (const TonalTrack& t : tones) {
    out.hz = t.mean_hz;
    if ((left_s -= t.end_s - t.start_s) <= 0.0) break;
  }
  return out;
}

double phase_seconds(const RecordingMeasurement& m) {
  double sum = 0.0;
  for (const BreathPhase& p : m.breathing.phases) sum += p.end_s - p.start_s;
  return std::max(0.5, sum);
}

double num_breaths(const RecordingMeasurement& m) {
  if (m.breathing.rate_per_min)
    return std::max(1.0, *m.breathing.rate_per_min * m.duration_s / 60.0);
  return std::max(1.0, m.duration_s / 4.0);
}

std::string tonal_words(exam::Sound sound, const ToneClass& t, double share) {
  char text[120];
  const auto phase = t.share.mostly();
  std::snprintf(text, sizeof text, "%s %.0f Hz, %.0f %% of the breath%s%s",
                std::string(exam::label_of(sound)).c_str(), t.hz, 100.0 * std::min(1.0, share),
                phase ? ", in " : "", phase ? std::string(exam::to_string(*phase)).c_str() : "");
  return text;
}

void add_tones(const RecordingMeasurement& m, const exam::Site& site,
               std::vector<HeardSound>& out) {
  const double breath_s = phase_seconds(m);
  const bool is_neck = site.at.aspect == exam::Aspect::kNeck || site.airway_weight > 0.5;
  for (const bool want_low : {true, false}) {
    const ToneClass t = gather(m, want_low);
    const double share = t.seconds / breath_s;
    if (share < 0.06 || t.seconds < 0.25) continue;
    if (want_low && t.evidence_db_s < kLowEvidence_db * breath_s) continue;
    exam::Sound sound = want_low ? exam::Sound::kRhonchus : exam::Sound::kWheeze;
    const bool is_inspired =
        m.breathing.phases.empty() || t.share.inspiration >= kInspiredShare * t.seconds;
    if (!want_low && is_neck && is_inspired) sound = exam::Sound::kStridor;
    const double confidence =
        std::clamp(0.5 + 0.03 * (t.prominence_db - 13.0) + 0.5 * share, 0.3, 0.97);
    out.push_back({sound, confidence, t.share.mostly(), tonal_words(sound, t, share)});
  }
}

void add_crackles(const RecordingMeasurement& m, std::vector<HeardSound>& out) {
  const CrackleWeighing weighed = weigh_crackles(m);
  if (!weighed.are_crackles) return;
  std::vector<double> widths;
  PhaseShare share;
  for (const Crackle& c : weighed.counted) {
    if (c.two_cycle_ms > 0.0) widths.push_back(c.two_cycle_ms);
    for (const BreathPhase& p : m.breathing.phases)
      if (c.at_s >= p.start_s && c.at_s < p.end_s)
        (p.phase == exam::Phase::kInspiration ? share.inspiration : share.expiration) += 1.0;
  }
  if (widths.empty()) return;
  const double width_ms = signal::median_of(widths);
  const auto sound = width_ms < 10.0 ? exam::Sound::kFineCrackle : exam::Sound::kCoarseCrackle;
  char text[120];
  std::snprintf(text, sizeof text, "%.0f %ss a breath, two-cycle duration %.1f ms",
                static_cast<double>(weighed.counted.size()) / num_breaths(m),
                std::string(exam::label_of(sound)).c_str(), width_ms);
  out.push_back({sound, weighed.confidence, share.mostly(), text});
}

}  // namespace

std::vector<HeardSound> heard_sounds(const RecordingMeasurement& m, const exam::Site& site) {
  std::vector<HeardSound> out;
  add_tones(m, site, out);
  add_crackles(m, out);
  return out;
}

}  // namespace phren::measurement
