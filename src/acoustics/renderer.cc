#include "acoustics/renderer.h"

namespace phren::acoustics {
namespace {

using patient::Snapshot;

constexpr double kSlide_s = 0.035;                    // time constant of the chestpiece's movement
constexpr double kTouch_s = 0.02;                     // of putting down and lifting
constexpr double kLow_hz = 100.0, kHigh_hz = 1000.0;  // the band of breath sound
constexpr double kBreathThreshold_db = 0.0;
constexpr double kRestingMemory_s = 12.0;
constexpr double kHeartApex = 0.15, kHeartBase = 0.6;  // how high on the chest (SkinPoint::upper)
constexpr int kJudgeEvery_chunks = 4;
constexpr int kListenEvery_chunks = 8;  // when the chestpiece stays where it is

void blend(double& value, double from, double to, double t) noexcept {
  value = from + (to - from) * t;
}

// The state a share t of the way from one snapshot to the next: what moves within a block moves in
// a straight line, the rest is as at the end.
void between(const Snapshot& from, const Snapshot& to, double t, Snapshot& out) noexcept {
  out = to;
  if (t >= 1.0) return;
  blend(out.time_s, from.time_s, to.time_s, t);
  blend(out.trachea_flow_L_per_s, from.trachea_flow_L_per_s, to.trachea_flow_L_per_s, t);
  for (std::size_t l = 0; l < exam::kNumLobes; ++l) {
    const auto &a = from.lobe[l], &b = to.lobe[l];
    auto& o = out.lobe[l];
    blend(o.flow_L_per_s, a.flow_L_per_s, b.flow_L_per_s, t);
    blend(o.volume_L, a.volume_L, b.volume_L, t);
    blend(o.volume_fraction, a.volume_fraction, b.volume_fraction, t);
    blend(o.breath_fraction, a.breath_fraction, b.breath_fraction, t);
    blend(o.flow_limitation, a.flow_limitation, b.flow_limitation, t);
    blend(o.choke_speed_m_per_s, a.choke_speed_m_per_s, b.choke_speed_m_per_s, t);
    blend(o.choke_half_gap_mm, a.choke_half_gap_mm, b.choke_half_gap_mm, t);
  }
  auto& u = out.upper_airway;
  blend(u.flow_L_per_s, from.upper_airway.flow_L_per_s, to.upper_airway.flow_L_per_s, t);
  blend(u.area_mm2, from.upper_airway.area_mm2, to.upper_airway.area_mm2, t);
  blend(u.jet_speed_m_per_s, from.upper_airway.jet_speed_m_per_s, to.upper_airway.jet_speed_m_per_s,
        t);
  const double left_s = to.time_s - out.time_s;
  if (to.heart.beat_count == from.heart.beat_count) {
    out.heart.since_beat_s = to.heart.since_beat_s - left_s;
  } else if (to.heart.since_beat_s < left_s) {  // the beat is still to come
    out.heart = from.heart;
    out.heart.since_beat_s = from.heart.since_beat_s + (out.time_s - from.time_s);
  } else {
    out.heart.since_beat_s = to.heart.since_beat_s - left_s;
  }
}

}  // namespace

Chestpiece::Renderer::Renderer(const ChestpieceConfig& c) noexcept
    : config(c),
      torso(c.person),
      scale(body_scale(c.person)),
      breath(c.seed),
      airway(c.seed),
      musical(c.seed, scale),
      crackles(c.seed, torso),
      notes(c.seed, scale),
      voice(c.seed, c.person),
      contact(c.seed, c.sample_rate_hz),
      realism(c.seed, c.person, torso, c.sample_rate_hz) {}

void Chestpiece::Renderer::render(const Snapshot& end, std::span<float> out) noexcept {
  if (out.empty()) return;
  if (!has_last) {
    last = end;
    has_last = true;
  }
  const Snapshot from = last;
  const std::size_t n = out.size();
  const double step_s = 1.0 / config.sample_rate_hz;
  const double start_s = end.time_s - static_cast<double>(n) * step_s;
  Snapshot before = from;
  for (std::size_t done = 0; done < n;) {
    const std::size_t frames = n - done < kChunk ? n - done : kChunk;
    const double t = static_cast<double>(done + frames) / static_cast<double>(n);
    between(from, end, t, between_);
    chunk(before, between_, start_s + static_cast<double>(done) * step_s,
          out.subspan(done, frames));
    before = between_;
    done += frames;
  }
  last = end;
}

void Chestpiece::Renderer::move(Scene& scene) noexcept {
  const double share = 1.0 - det::exp(-scene.step_s / kSlide_s);
  if (is_placed) {
    double turn = target_place.angle_rad - place.angle_rad;
    while (turn > det::kPi) turn -= det::kTwoPi;
    while (turn < -det::kPi) turn += det::kTwoPi;
    const double rise = target_place.height_cm - place.height_cm;
    place.angle_rad += turn * share;
    place.height_cm += rise * share;
    place.neck += (target_place.neck - place.neck) * share;
    const double neck = target_place.neck - place.neck;
    if (turn * turn + rise * rise + neck * neck < 1e-10) place = target_place;  // arrived
    const double across = turn * config.person.half_chest_breadth_cm;
    const double moved = share * det::sqrt(across * across + rise * rise);
    const double speed = moved / scene.step_s;
    contact_state.speed_cm_per_s = speed < 0.01 ? 0.0 : clamp(speed, 0.0, 60.0);
  }
  const double goal = is_placed && !is_lifted ? 0.0 : 1.0;
  lifted += (goal - lifted) * (1.0 - det::exp(-scene.step_s / kTouch_s));
  if (goal == 0.0 && lifted < 1e-6) lifted = 0.0;
  contact_state.lifted = lifted;
}

// The lowest volume of late, per lobe.
void Chestpiece::Renderer::follow_resting_volume(const Scene& scene) noexcept {
  const double share = scene.step_s / kRestingMemory_s;
  for (std::size_t l = 0; l < exam::kNumLobes; ++l) {
    const double now = scene.now->lobe[l].inflation;
    double& low = resting_[l];
    if (!has_resting_ || now < low) {
      low = now;
    } else {
      low += (now - low) * share;
    }
  }
  has_resting_ = true;
}

// Paths change when the chestpiece moves; the lung itself changes slowly.
bool Chestpiece::Renderer::must_listen_anew() noexcept {
  const auto differs = [](double x, double y, double by) { return x - y > by || y - x > by; };
  const bool has_moved = differs(place.angle_rad, heard_place_.angle_rad, 1e-4) ||
                         differs(place.height_cm, heard_place_.height_cm, 1e-3) ||
                         differs(place.neck, heard_place_.neck, 1e-4);
  const bool is_due = listen_count_ == 0;
  listen_count_ = (listen_count_ + 1) % kListenEvery_chunks;
  if (has_moved || is_due) heard_place_ = place;
  return has_moved || is_due;
}

void Chestpiece::Renderer::chunk(const Snapshot& from, const Snapshot& to, double start_s,
                                 std::span<float> out) noexcept {
  Scene scene;
  scene.sample_rate_hz = config.sample_rate_hz;
  scene.frames = out.size();
  scene.start_s = start_s;
  scene.step_s = static_cast<double>(out.size()) / config.sample_rate_hz;
  scene.before = &from;
  scene.now = &to;
  scene.torso = &torso;
  scene.scale = scale;
  move(scene);
  follow_resting_volume(scene);
  scene.is_way_new = must_listen_anew();
  if (scene.is_way_new) {
    const SkinPoint skin = torso.skin(place);
    hearing = hear(torso, config.person, skin, to, resting_);
    notes.set_heart_base(smooth_step(kHeartApex, kHeartBase, skin.upper));
  }
  scene.hearing = &hearing;
  scene.background = &background;
  scene.truth = &truth;

  realism.set_heart(scene);

  background.clear();
  breath.update(scene);
  airway.update(scene);
  scene.is_judging = judge_count_ == 0;
  judge_count_ = (judge_count_ + 1) % kJudgeEvery_chunks;
  add_windpipe(scene.is_judging);
  contact.update(scene, contact_state);
  realism.update(scene, contact_state);
  if (scene.is_judging) assess(power_);
  breath_track.follow(scene, power_, audibility);
  crackles.update(scene, musical);
  musical.update(scene);
  notes.update(scene, pings);
  voice.update(scene);
  paths.update(scene, airway.is_audible() || crackles.is_audible() || pings.is_audible() ||
                          voice.is_audible());

  const auto frames = static_cast<float>(out.size());
  const auto delay = static_cast<float>(hearing.airway.delay_s * config.sample_rate_hz);
  delay_ = delay_target_ < 0.0f ? delay : delay_target_;
  delay_target_ = delay;
  delay_step_ = (delay_target_ - delay_) / frames;
  neck_ = neck_target_;
  neck_target_ = static_cast<float>(hearing.neck_gain);
  neck_step_ = (neck_target_ - neck_) / frames;
  perform(out);
}

// Adds the windpipe's share to the background, which holds the lung's; when judging, measures what
// breath sound arrives here, by kind.
void Chestpiece::Renderer::add_windpipe(bool is_judging) noexcept {
  const Hearing& h = hearing;
  const double d = airway.density();
  background.add(
      {d * h.airway.gain * h.airway.q * 0.8, h.airway.peak_hz * 1.6, 0.7, h.airway.pole_hz, 0.0});
  const std::size_t through_lung = background.size();
  background.add({d * h.open_gain, 1.6 * h.open_centre_hz, 0.7, kOpenPole_hz, 250.0});
  const std::size_t through_solid = background.size();
  background.add({d * h.neck_gain, airway.corner_hz(), 0.7, 4000.0, 0.0});
  breath_parts_ = background.size();
  if (!is_judging) return;
  power_.lung = background.power_between(kLow_hz, kHigh_hz, 0, through_lung);
  power_.solid = background.power_between(kLow_hz, kHigh_hz, through_lung, through_solid);
  power_.windpipe = background.power_between(kLow_hz, kHigh_hz, through_solid, background.size());
}

void Chestpiece::Renderer::assess(const BreathPower& power) noexcept {
  const double breath_power = power.lung + power.solid + power.windpipe;
  const double all = background.power_between(kLow_hz, kHigh_hz);
  const double wall = hearing.wall_gain * hearing.gas_gain;
  audibility.background_dbfs = 10.0 * det::log10(all * wall * wall + 1e-12);
  audibility.normal_breath_db =
      10.0 * det::log10(background.clearest_ratio(kLow_hz, kHigh_hz, breath_parts_) + 1e-12);
  audibility.breath_is_audible = audibility.normal_breath_db > kBreathThreshold_db;
  audibility.breath_mean_square = breath_power * wall * wall;
  const double wall_db = det::db_from_ratio(wall);
  audibility.least_wheeze_dbfs =
      wall_db - tone_above_background_db(background, 400.0, 1.0) + kToneThreshold_db;
  audibility.least_crackle_dbfs =
      wall_db - transient_above_background_db(background, 250.0, 1.0) + kTransientThreshold_db;
}

float Chestpiece::Renderer::delayed_windpipe(std::size_t i) noexcept {
  delay_line_[delay_at_] = windpipe_[i];
  delay_ += delay_step_;
  const auto whole = static_cast<std::size_t>(delay_);
  const float part = delay_ - static_cast<float>(whole);
  const std::size_t a = (delay_at_ + kDelayLength - whole) % kDelayLength;
  const std::size_t b = (a + kDelayLength - 1) % kDelayLength;
  delay_at_ = (delay_at_ + 1) % kDelayLength;
  return delay_line_[a] + part * (delay_line_[b] - delay_line_[a]);
}

void Chestpiece::Renderer::perform(std::span<float> out) noexcept {
  const std::size_t n = out.size();
  for (std::size_t i = 0; i < n; ++i) {
    sum_[i] = Lanes{};
    regions_[i] = Lanes{};
    chest_[i] = heart_[i] = ear_[i] = 0.0f;
  }
  breath.process(sum_.data(), n);
  if (realism.has_flutter()) realism.flutter().process(sum_.data(), n);
  musical.process(sum_.data(), n);
  airway.process(windpipe_.data(), n);
  if (realism.has_flutter()) realism.flutter().process_windpipe(windpipe_.data(), n);
  voice.process(windpipe_.data(), n);
  pings.process({windpipe_.data(), chest_.data(), heart_.data(), ear_.data()}, n);
  crackles.process(regions_.data(), n);
  if (paths.is_active()) {
    for (std::size_t i = 0; i < n; ++i) {
      const float far = delayed_windpipe(i);
      regions_[i][RegionPaths::kThroughLung] = far;
      regions_[i][RegionPaths::kThroughSolid] = far;
      regions_[i][RegionPaths::kHeart] = heart_[i];
    }
    paths.process(regions_.data(), sum_.data(), n);
  }
  for (std::size_t i = 0; i < n; ++i) {
    neck_ += neck_step_;
    out[i] = sum_of(sum_[i]) + chest_[i] + neck_ * windpipe_[i];
  }
  contact.process(out.data(), windpipe_.data(), n);
  if (realism.is_on()) realism.process(out.data(), n);
  for (std::size_t i = 0; i < n; ++i) out[i] += ear_[i];
}

}  // namespace phren::acoustics
