#include "acoustics/handling.h"

namespace phren::acoustics {
namespace {

using enum TrainFigure;

constexpr double kLeastTold_db = -6.0;  // above what hides it; fainter is not worth an event
constexpr double kSlipRest_s = 4.0;
constexpr double kSlipAt = -1.9;  // standard deviations of the hand's pressure
// The tail of the drawn levels is bent: nobody goes on with a contact that cracks so loudly.
constexpr double kLoud_db = 24.0, kLoudest_db = 34.0;
constexpr double kSettingDown_db = 6.0;

constexpr InstrumentFigure first_of(bool knock) noexcept {
  return knock ? InstrumentFigure::kKnocks : InstrumentFigure::kClicks;
}

}  // namespace

Handling::Handling(Seed seed, double) noexcept
    : clicks_(seed, "contact clicks"),
      knocks_(seed, "contact knocks"),
      rubs_(seed, "contact rubs"),
      hand_(seed, "hand"),
      recorder_(seed, "recorder") {}

void Handling::put_down(const Instrument& as, Seed placing) noexcept {
  clicks_ = RandomStream(placing, "contact clicks");
  knocks_ = RandomStream(placing, "contact knocks");
  rubs_ = RandomStream(placing, "contact rubs");
  hand_ = RandomStream(placing, "hand");
  recorder_ = RandomStream(placing, "recorder");
  for (const bool knock : {false, true}) {
    RandomStream& draw = knock ? knocks_ : clicks_;
    const InstrumentFigure f = first_of(knock);
    Train& train = trains_[knock ? 1 : 0];
    train.rate = draw.log_normal(as.train(f, kPerMinute) / 60.0, as.train(f, kRateSpread));
    train.level_db = draw.normal(as.train(f, kLevel_db), as.train(f, kPlacing_db));
    train.pitch_hz = draw.log_normal(as.train(f, kPitch_hz), as.train(f, kPlacingPitch));
    train.next_s = draw.exponential(1.0);
  }
  rub_rate_ = rubs_.log_normal(as[InstrumentFigure::kRubs_per_minute] / 60.0,
                               as[InstrumentFigure::kRubRateSpread]);
  rub_level_db_ = rubs_.normal(as[InstrumentFigure::kRub_db], as[InstrumentFigure::kRubPlacing_db]);
  next_rub_s_ = rubs_.exponential(1.0);
  pressure_.start(hand_);
  tremor_hz_ = hand_.uniform(7.0, 10.0);
  still_s_ = hand_.log_normal(as[InstrumentFigure::kStill_s], as[InstrumentFigure::kBoutSpread]);
  gate_left_s_ = hand_.exponential(still_s_);
  is_moving_ = false;
  for (Cluster& c : clusters_) c.left = 0;
  wants_knock_ = is_down_ = true;
}

void Handling::lift() noexcept {
  if (is_down_) wants_knock_ = true;
  is_down_ = false;
}

void Handling::start_recorder(const HandlingStep&) noexcept {
  wants_start_ = true;
}

// Pressure drifts and trembles; now and then the hand moves for a moment.
void Handling::move_hand(const HandlingStep& at) noexcept {
  const double step_s = at.scene.step_s, amount = at.mix[Layer::kHand];
  const WalkPace pace(step_s, 3.0);
  const double drift = pressure_.step(hand_, pace.keep, pace.renew);
  tremor_hz_ = clamp(tremor_hz_ + 2.5 * det::sqrt(2.0 * step_s) * hand_.normal(), 6.0, 11.0);
  tremor_turn_ += tremor_hz_ * step_s;
  if (tremor_turn_ > 1.0) tremor_turn_ -= 1.0;
  pressure_db_ =
      amount * (at.as[InstrumentFigure::kPressure_db] * drift +
                at.as[InstrumentFigure::kTremor_db] * det::sin(det::kTwoPi * tremor_turn_));
  gate_left_s_ -= step_s;
  if (gate_left_s_ <= 0.0) {
    is_moving_ = !is_moving_;
    gate_left_s_ += hand_.exponential(is_moving_ ? at.as[InstrumentFigure::kMoving_s] : still_s_);
    if (amount > 0.0 && gate_left_s_ > 0.3) begin_cluster(at.as, true, 0.0);  // a move knocks
  }
}

// How much busier than usual the contact is now.
double Handling::busy(const HandlingStep& at, bool knock) const noexcept {
  const ContactState& c = at.contact;
  const double factor = 1.0 + (at.as[InstrumentFigure::kMovingFactor] - 1.0) * at.mix[Layer::kHand];
  const double moving_share =
      at.as[InstrumentFigure::kMoving_s] /
      (at.as[InstrumentFigure::kMoving_s] + at.as[InstrumentFigure::kStill_s]);
  double rate = (is_moving_ ? factor : 1.0) / (1.0 + (factor - 1.0) * moving_share);
  if (knock) return rate * (1.0 - c.lifted);
  const double flow = at.scene.now->trachea_flow_L_per_s / at.scene.scale.flow_L_per_s;
  rate *= 1.0 + at.lower * clamp(flow > 0.0 ? 1.5 * flow : 0.5 * flow, -0.3, 1.0);
  const double light = 1.0 - smooth_step(0.1, 0.5, c.pressure);
  const double firm = smooth_step(0.7, 1.0, c.pressure);
  rate *= (1.0 + 3.0 * c.hair) * (1.0 + 0.5 * light) * (1.0 - 0.7 * firm) *
          (1.0 + 0.5 * clamp(3.0 * c.clothing, 0.0, 1.0)) * (1.0 + 0.4 * c.speed_cm_per_s);
  return rate * (1.0 - c.lifted);
}

void Handling::begin_cluster(const Instrument& as, bool knock, double extra_db) noexcept {
  RandomStream& draw = knock ? knocks_ : clicks_;
  const InstrumentFigure f = first_of(knock);
  const Train& train = trains_[knock ? 1 : 0];
  Cluster& c = clusters_[next_cluster_];
  next_cluster_ = (next_cluster_ + 1) % kClusters;
  c.knock = knock;
  c.slip = false;
  c.next_s = 0.0;
  c.left = 1;
  if (!draw.chance(as.train(f, kSingleShare))) {
    const double going_on = 1.0 - 1.0 / as.train(f, kClusterSize);
    c.left = 2;
    while (c.left < 60 && draw.chance(going_on)) ++c.left;
  }
  c.level_db = draw.normal(train.level_db + extra_db, as.train(f, kCluster_db));
  c.pitch_hz = draw.log_normal(train.pitch_hz, as.train(f, kClusterPitch));
}

void Handling::run_train(const HandlingStep& at, bool knock) noexcept {
  const double amount = at.mix[knock ? Layer::kKnocks : Layer::kClicks];
  if (amount <= 0.0) return;
  Train& train = trains_[knock ? 1 : 0];
  // `next_s` counts expected clusters, so that a rate which changes stays exact.
  train.next_s -= amount * train.rate * busy(at, knock) * at.scene.step_s;
  while (train.next_s <= 0.0) {
    train.next_s += (knock ? knocks_ : clicks_).exponential(1.0);
    begin_cluster(at.as, knock, 0.0);
  }
}

void Handling::strike(const HandlingStep& at, const Cluster& c, double delay_s,
                      Transients& to) noexcept {
  RandomStream& draw = c.knock ? knocks_ : clicks_;
  const InstrumentFigure f = first_of(c.knock);
  const Instrument& as = at.as;
  Transients::Blow blow;
  blow.pitch_hz = clamp(draw.log_normal(c.pitch_hz, as.train(f, kEachPitch)), 50.0, 1500.0);
  blow.q = draw.log_normal(as.train(f, kQ), as.train(f, kQSpread));
  const double drawn_db = draw.normal(c.level_db, as.train(f, kEach_db));
  const double level_db = clamp(
      drawn_db < kLoud_db ? drawn_db : kLoud_db + 0.5 * (drawn_db - kLoud_db), -60.0, kLoudest_db);
  const double peak = at.breath * det::ratio_from_db(level_db);
  blow.peak = draw.chance(0.5) ? peak : -peak;
  blow.soft = draw.chance(as.train(f, kSoftShare));
  blow.second_ratio = draw.uniform(1.6, 2.6);
  blow.mix = draw.uniform(0.1, 0.6);
  blow.delay_s = delay_s;
  to.strike(blow);
  const double length_s = clamp(2.0 * blow.q / (det::kPi * blow.pitch_hz), 0.004, 0.06);
  tell(at,
       c.slip    ? exam::Sound::kContactSlip
       : c.knock ? exam::Sound::kContactKnock
                 : exam::Sound::kContactClick,
       blow.pitch_hz, peak, at.scene.start_s + delay_s, length_s);
}

void Handling::run_clusters(const HandlingStep& at, Transients& to) noexcept {
  for (Cluster& c : clusters_) {
    RandomStream& draw = c.knock ? knocks_ : clicks_;
    const InstrumentFigure f = first_of(c.knock);
    while (c.left > 0 && c.next_s < at.scene.step_s) {
      strike(at, c, c.next_s, to);
      --c.left;
      c.next_s += draw.log_normal(at.as.train(f, kGap_s), at.as.train(f, kGapSpread));
    }
    if (c.left > 0) c.next_s -= at.scene.step_s;
  }
}

void Handling::rub(const HandlingStep& at, double extra_db, Transients& to) noexcept {
  const Instrument& as = at.as;
  Transients::Rub r;
  r.length_s = clamp(
      rubs_.log_normal(as[InstrumentFigure::kRubLength_s], as[InstrumentFigure::kRubLengthSpread]),
      0.02, 2.0);
  r.low_hz = rubs_.log_normal(as[InstrumentFigure::kRubLow_hz], 0.3);
  r.high_hz = rubs_.log_normal(as[InstrumentFigure::kRubHigh_hz], 0.3);
  r.grain_db = as[InstrumentFigure::kRubGrain_db];
  const double level_db =
      clamp(rubs_.normal(rub_level_db_, as[InstrumentFigure::kRubEach_db]) + extra_db, -60.0, 35.0);
  r.level = at.breath * det::ratio_from_db(level_db);
  to.rub(r);
  tell(at, exam::Sound::kContactRub, 0.5 * (r.low_hz + r.high_hz), 2.0 * r.level, at.scene.start_s,
       r.length_s);
}

void Handling::run_rubs(const HandlingStep& at, Transients& to) noexcept {
  const double amount = at.mix[Layer::kRubs];
  if (amount > 0.0) {
    const double sliding = 1.0 + at.contact.speed_cm_per_s;
    next_rub_s_ -= amount * rub_rate_ * busy(at, true) * sliding * at.scene.step_s;
    while (next_rub_s_ <= 0.0) {
      next_rub_s_ += rubs_.exponential(1.0);
      rub(at, 0.0, to);
    }
  }
  slip_rest_s_ -= at.scene.step_s;
  if (at.mix[Layer::kHand] > 0.0 && pressure_.now() < kSlipAt && slip_rest_s_ <= 0.0 &&
      at.contact.lifted < 0.5) {  // it slips: a rub and a few clicks
    slip_rest_s_ = kSlipRest_s;
    rub(at, 3.0, to);
    begin_cluster(at.as, false, 3.0);
    Cluster& c = clusters_[(next_cluster_ + kClusters - 1) % kClusters];
    c.left = 3 + static_cast<int>(hand_.below(6));
    c.slip = true;
  }
}

void Handling::run_recorder(const HandlingStep& at, Transients& to) noexcept {
  if (!wants_start_) return;
  wants_start_ = false;
  const Instrument& as = at.as;
  const double amount = at.mix[Layer::kRecorder];
  if (amount <= 0.0 || as[InstrumentFigure::kStartChance] <= 0.0) return;
  const auto height = [&](double db) {
    const double size = amount * at.breath * det::ratio_from_db(db);
    return recorder_.chance(0.5) ? size : -size;
  };
  if (recorder_.chance(as[InstrumentFigure::kStartChance])) {
    const double h = height(
        recorder_.normal(as[InstrumentFigure::kStart_db], as[InstrumentFigure::kStartSpread_db]));
    to.click(h, 60.0, 0.0);
    tell(at, exam::Sound::kRecorder, 150.0, h < 0.0 ? -h : h, at.scene.start_s, 0.012);
  }
  const double level =
      recorder_.normal(as[InstrumentFigure::kButton_db], as[InstrumentFigure::kStartSpread_db]);
  double left = as[InstrumentFigure::kButtons];
  for (int i = 0; i < 10; ++i) {  // a Poisson count
    left -= recorder_.exponential(1.0);
    if (left < 0.0) break;
    const double delay_s = clamp(recorder_.exponential(0.07), 0.0, 0.4);
    const double h = height(recorder_.normal(level, 4.0));
    to.click(h, recorder_.uniform(0.0008, 0.0022), delay_s);
    tell(at, exam::Sound::kRecorder, 250.0, h < 0.0 ? -h : h, at.scene.start_s + delay_s, 0.005);
  }
}

void Handling::tell(const HandlingStep& at, exam::Sound sound, double pitch_hz, double peak,
                    double start_s, double length_s) const noexcept {
  const double wall = at.scene.hearing->wall_gain * at.scene.hearing->gas_gain + 1e-9;
  const double above = transient_above_background_db(*at.scene.background, pitch_hz, peak / wall);
  if (above < kLeastTold_db) return;
  TruthEvent event;
  event.sound = sound;
  event.region = Region::kContact;
  event.phase = at.scene.now->phase;
  event.start_s = start_s;
  event.end_s = start_s + length_s;
  event.pitch_hz = pitch_hz;
  event.level_above_background_db = above;
  event.audible = above > kTransientThreshold_db;
  at.scene.truth->push(event);
}

void Handling::update(const HandlingStep& at, Transients& to) noexcept {
  move_hand(at);
  if (wants_knock_) {  // set down or lifted
    wants_knock_ = false;
    if (at.mix[Layer::kKnocks] > 0.0) begin_cluster(at.as, true, kSettingDown_db);
  }
  run_recorder(at, to);
  run_train(at, false);
  run_train(at, true);
  run_clusters(at, to);
  run_rubs(at, to);
}

}  // namespace phren::acoustics
