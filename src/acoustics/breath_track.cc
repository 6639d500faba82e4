#include "acoustics/renderer.h"

namespace phren::acoustics {
namespace {

constexpr double kShortest_s = 0.1;

}  // namespace

void BreathTrack::follow(const Scene& scene, const BreathPower& power,
                         const Chestpiece::Audibility& audibility) noexcept {
  const exam::Phase phase = scene.now->phase;
  if (open_ && event_.phase != phase) finish(*scene.truth);
  if (phase == exam::Phase::kPause) return;
  if (!open_) {
    if (!audibility.breath_is_audible) return;
    open_ = true;
    event_ = {};
    event_.phase = phase;
    event_.start_s = scene.start_s;
    sum_ = {};
    best_db_ = -100.0;
    lobe_ = {};
  }
  if (audibility.breath_is_audible) event_.end_s = scene.start_s + scene.step_s;
  if (audibility.normal_breath_db > best_db_) best_db_ = audibility.normal_breath_db;
  sum_.lung += power.lung;
  sum_.solid += power.solid;
  sum_.windpipe += power.windpipe;
  for (std::size_t l = 0; l < exam::kNumLobes; ++l) lobe_[l] += scene.hearing->lobe_gain[l];
}

void BreathTrack::finish(TruthRing& truth) noexcept {
  if (!open_) return;
  open_ = false;
  if (event_.end_s - event_.start_s < kShortest_s) return;
  std::size_t nearest = 0;
  for (std::size_t l = 1; l < exam::kNumLobes; ++l) {
    if (lobe_[l] > lobe_[nearest]) nearest = l;
  }
  event_.region = static_cast<Region>(nearest);
  event_.sound = exam::Sound::kNormal;
  if (sum_.windpipe > sum_.lung && sum_.windpipe > sum_.solid) {
    event_.sound = exam::Sound::kTracheal;
    event_.region = Region::kTrachea;
  } else if (sum_.solid > sum_.lung) {
    event_.sound = exam::Sound::kBronchial;
  }
  event_.level_above_background_db = best_db_;
  truth.push(event_);
}

}  // namespace phren::acoustics
