// A breathing body made of sines, so that acoustics can be tested without the patient model.
#pragma once

#include <functional>
#include <vector>

#include "acoustics/chestpiece.h"
#include "acoustics/scene.h"
#include "base/det_math.h"

namespace phren::acoustics::testing {

struct SyntheticBreath {
  double peak_in_L_per_s = 0.5, peak_out_L_per_s = 0.5;
  double inspiration_s = 1.6, expiration_s = 2.0, pause_s = 0.4;
  bool square = false;                                // constant flow within each phase
  double tidal_span = 0.45, resting_fraction = 0.25;  // of each lobe's volume range
  // Changes each snapshot after it is made: the disease.
  std::function<void(patient::Snapshot&)> change{};

  double period_s() const { return inspiration_s + expiration_s + pause_s; }

  patient::Snapshot at(double time_s) const {
    patient::Snapshot s;
    s.time_s = time_s;
    const double breaths = time_s / period_s();
    s.breath_count = static_cast<std::uint64_t>(breaths);
    const double t = time_s - static_cast<double>(s.breath_count) * period_s();
    double flow = 0.0, filled = 0.0;
    if (t < inspiration_s) {
      s.phase = exam::Phase::kInspiration;
      s.since_phase_s = t;
      const double x = t / inspiration_s;
      flow = peak_in_L_per_s * (square ? 1.0 : det::sin(det::kPi * x));
      filled = square ? x : 0.5 - 0.5 * det::cos(det::kPi * x);
    } else if (t < inspiration_s + expiration_s) {
      s.phase = exam::Phase::kExpiration;
      s.since_phase_s = t - inspiration_s;
      const double x = s.since_phase_s / expiration_s;
      flow = -peak_out_L_per_s * (square ? 1.0 : det::sin(det::kPi * x));
      filled = 1.0 - (square ? x : 0.5 - 0.5 * det::cos(det::kPi * x));
    } else {
      s.phase = exam::Phase::kPause;
      s.since_phase_s = t - inspiration_s - expiration_s;
    }
    s.trachea_flow_L_per_s = s.upper_airway.flow_L_per_s = flow;
    for (std::size_t l = 0; l < exam::kNumLobes; ++l) {
      s.lobe[l].flow_L_per_s = flow * kLobeShare[l];
      s.lobe[l].volume_fraction = resting_fraction + tidal_span * filled;
      s.lobe[l].breath_fraction = filled;
    }
    const double beat_s = 0.8;
    const double beats = time_s / beat_s;
    s.heart.rate_per_min = 75.0;
    s.heart.beat_count = static_cast<std::uint64_t>(beats);
    s.heart.since_beat_s = time_s - static_cast<double>(s.heart.beat_count) * beat_s;
    s.heart.loudness = 0.0;  // silent unless a test wants it
    if (change) change(s);
    return s;
  }
};

struct Rendered {
  std::vector<float> samples;
  std::vector<TruthEvent> events;
  double sample_rate_hz = 48000.0;
};

inline Rendered render(Chestpiece& piece, const SyntheticBreath& breath, double from_s,
                       double seconds, double sample_rate_hz, std::size_t block = 128) {
  Rendered out;
  out.sample_rate_hz = sample_rate_hz;
  const auto total = static_cast<std::size_t>(seconds * sample_rate_hz);
  out.samples.resize(total);
  std::vector<TruthEvent> events(256);
  piece.render(breath.at(from_s), std::span<float>(out.samples.data(), 0));
  for (std::size_t done = 0; done < total;) {
    const std::size_t n = total - done < block ? total - done : block;
    const double end_s = from_s + static_cast<double>(done + n) / sample_rate_hz;
    piece.render(breath.at(end_s), std::span<float>(out.samples.data() + done, n));
    done += n;
    const std::size_t got = piece.drain_truth(events);
    out.events.insert(out.events.end(), events.begin(),
                      events.begin() + static_cast<std::ptrdiff_t>(got));
  }
  piece.finish_truth();
  const std::size_t got = piece.drain_truth(events);
  out.events.insert(out.events.end(), events.begin(),
                    events.begin() + static_cast<std::ptrdiff_t>(got));
  return out;
}

// An adult man of middle size and build; children by age and height, walls by size.
inline patient::Person adult() {
  patient::Person p;
  p.sex = patient::Sex::kMale;
  p.height_cm = 175.0;
  p.weight_kg = 72.0;
  return p;
}

inline patient::Person newborn() {
  patient::Person p;
  p.age_years = 0.0;
  p.height_cm = 50.0;
  p.weight_kg = 3.5;
  p.muscle = 0.1;
  p.wall_front_cm = 0.8;
  p.wall_side_cm = 0.8;
  p.wall_back_cm = 1.0;
  p.half_chest_breadth_cm = 4.9;
  p.chest_depth_cm = 8.5;
  p.lung_height_cm = 7.0;
  return p;
}

inline Chestpiece make_piece(const exam::TorsoPoint& at, patient::Person person = adult(),
                             std::uint64_t seed = 7, double sample_rate_hz = 48000.0) {
  auto piece = Chestpiece::make({sample_rate_hz, person, Seed{seed}});
  piece->set_head(Head::kSensor);
  piece->move_to(at);
  return std::move(*piece);
}

// Points named in data/sites.toml.
inline constexpr exam::TorsoPoint kRightBase{exam::Aspect::kBack, -0.45, 0.82};
inline constexpr exam::TorsoPoint kLeftBase{exam::Aspect::kBack, 0.45, 0.82};
inline constexpr exam::TorsoPoint kRightUpperFront{exam::Aspect::kFront, -0.6, 0.45};
inline constexpr exam::TorsoPoint kLeftUpperFront{exam::Aspect::kFront, 0.6, 0.45};
inline constexpr exam::TorsoPoint kRightUpperBack{exam::Aspect::kBack, -0.3, 0.2};
inline constexpr exam::TorsoPoint kTrachea{exam::Aspect::kNeck, 0.0, 0.0};

}  // namespace phren::acoustics::testing
