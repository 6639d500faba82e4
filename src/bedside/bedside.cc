#include "bedside/bedside.h"

#include <algorithm>
#include <utility>

#include "patient/findings.h"

namespace phren::bedside {
namespace {

constexpr std::uint64_t kSkinEvery_steps = 64;  // half a second: air under the skin spreads slowly

}  // namespace

Bedside::Bedside(patient::Patient body, Stethoscope ears, const Circumstances& around, Seed seed,
                 double sample_rate_hz)
    : body_(std::move(body)),
      ears_(std::move(ears)),
      around_(around),
      seed_(seed),
      covering_(around.clothing),
      now_(body_.snapshot()),
      sample_rate_hz_(sample_rate_hz),
      first_s_(body_.time_s()) {
  ears_.chestpiece().set_surroundings(around.room);
}

Result<Bedside> Bedside::around(patient::Patient body, const Circumstances& around, Seed seed,
                                double sample_rate_hz, std::vector<AtHand> at_hand) {
  auto ears = TRY(Stethoscope::make(body.person(), seed, sample_rate_hz, std::move(at_hand)));
  if (!(body.step_s() * sample_rate_hz < static_cast<double>(kLongestStep_frames))) {
    return fail(out_of_range("step_s", body.step_s(), "at most 1/50"));
  }
  return Bedside(std::move(body), std::move(ears), around, seed, sample_rate_hz);
}

Result<Bedside> Bedside::make(const Setup& setup, Seed seed, double sample_rate_hz) {
  auto body = TRY(patient::Patient::make(setup.patient, seed));
  auto out = TRY(around(std::move(body), setup.around, seed, sample_rate_hz, setup.instruments));
  out.treatment_ids_ = setup.treatment_ids;
  out.told_ = setup.told;
  return out;
}

int Bedside::treatment(std::string_view id) const noexcept {
  const auto found = std::find(treatment_ids_.begin(), treatment_ids_.end(), id);
  return found == treatment_ids_.end() ? -1 : static_cast<int>(found - treatment_ids_.begin());
}

Status Bedside::check(const Deed& deed) const {
  if (const auto* listen = std::get_if<Listen>(&deed)) return ears_.listening().check(*listen);
  if (const auto* steer = std::get_if<Steer>(&deed)) {
    const int count = body_.condition_count();
    if (steer->condition >= 0 && steer->condition < count) return {};
    return fail(out_of_range("condition", steer->condition,
                             "the place of one of the patient's " + std::to_string(count)));
  }
  const auto* treat = std::get_if<Treat>(&deed);
  const auto* stop = std::get_if<StopTreatment>(&deed);
  if (treat == nullptr && stop == nullptr) return {};
  const std::string& id = treat != nullptr ? treat->treatment_id : stop->treatment_id;
  if (treatment(id) >= 0) return {};
  return fail(ErrorCode::kNotFound,
              "treatment '" + id + "' cannot be given here." + did_you_mean(id, treatment_ids_));
}

Status Bedside::follow(std::vector<EncounterAction> to_come) {
  for (const EncounterAction& action : to_come) {
    TRY(at("action " + action.id, check(action.deed)));
  }
  to_come_ = std::move(to_come);
  next_ = 0;
  return {};
}

void Bedside::perform(const Deed& deed) noexcept {
  using patient::ActionKind;
  if (std::holds_alternative<TakeUp>(deed)) return take_up();
  covering_.apply(deed);
  ears_.perform(deed, covering_);
  if (const auto* instruct = std::get_if<Instruct>(&deed)) {
    body_.act(patient::Action::ask(instruct->manoeuvre, instruct->seconds));
  } else if (const auto* posture = std::get_if<SetPosture>(&deed)) {
    body_.act({ActionKind::kSetPosture, static_cast<int>(posture->posture)});
  } else if (const auto* steer = std::get_if<Steer>(&deed)) {
    body_.steer(steer->condition, steer->severity, steer->seconds);
  } else if (const auto* befall = std::get_if<Befall>(&deed)) {
    body_.happen(befall->event, befall->side, befall->amount);
  } else if (const auto* treat = std::get_if<Treat>(&deed)) {
    body_.act({ActionKind::kTreat, treatment(treat->treatment_id), treat->side});
  } else if (const auto* stop = std::get_if<StopTreatment>(&deed)) {
    body_.act({ActionKind::kStop, treatment(stop->treatment_id)});
  } else if (const auto* listen = std::get_if<Listen>(&deed); listen && listen->realness) {
    body_.set_breath_variability(ears_.listening().breath_variability(), seed_);
  }
}

void Bedside::do_what_is_due() noexcept {
  for (; next_ < to_come_.size() && to_come_[next_].time_s <= body_.time_s(); ++next_) {
    perform(to_come_[next_].deed);
  }
}

void Bedside::step_unheard() noexcept {
  do_what_is_due();
  body_.step();
  now_ = body_.snapshot();
}

void Bedside::take_up() noexcept {
  // What the room listens with stays; what was left out of it is heard again until that is said anew.
  const Listening& old = ears_.listening();
  const Listen kept{old.realness(), std::string(old.instrument_id()), {}};
  const bool is_plain = *kept.realness == acoustics::Realness::kClean && kept.instrument_id.empty();
  auto at_hand = old.at_hand();
  // What could be made once can be made again.
  if (auto fresh = Stethoscope::make(body_.person(), seed_, sample_rate_hz_, std::move(at_hand))) {
    ears_ = std::move(*fresh);
    ears_.chestpiece().set_surroundings(around_.room);
    if (!is_plain) ears_.perform(kept, covering_);
  }
  first_s_ = body_.time_s();
  made_ = 0;
  block_size_ = block_at_ = 0;
}

void Bedside::begin_again(const patient::Patient& body) noexcept {
  body_ = body;
  now_ = body_.snapshot();
  covering_ = Covering(around_.clothing);
  next_ = 0;
  auto at_hand = ears_.listening().at_hand();
  if (auto fresh = Stethoscope::make(body_.person(), seed_, sample_rate_hz_, std::move(at_hand))) {
    ears_ = std::move(*fresh);  // plain, as at the beginning
  }
  take_up();
}

std::span<const float> Bedside::step() noexcept {
  do_what_is_due();
  // By the body's own time, so that whoever joins later hears the same.
  const auto now_step = static_cast<std::uint64_t>(body_.time_s() / body_.step_s() + 0.5);
  if (now_step % kSkinEvery_steps == 0) {
    ears_.chestpiece().set_skin_air(body_.signs().subcutaneous_air);
  }
  body_.step();
  now_ = body_.snapshot();
  // As many frames as belong to the time that has passed; steps need not be whole frames.
  const auto due = static_cast<std::uint64_t>((body_.time_s() - first_s_) * sample_rate_hz_ + 1e-6);
  block_size_ = block_at_ = std::min(static_cast<std::size_t>(due - made_), kLongestStep_frames);
  made_ = due;
  const std::span<float> block(block_.data(), block_size_);
  ears_.chestpiece().render(now_, block);
  return block;
}

void Bedside::render(std::span<float> out) noexcept {
  for (std::size_t done = 0; done < out.size();) {
    if (block_at_ == block_size_) {
      step();
      block_at_ = 0;
      continue;
    }
    const std::size_t n = std::min(out.size() - done, block_size_ - block_at_);
    std::copy_n(block_.begin() + static_cast<std::ptrdiff_t>(block_at_), n,
                out.begin() + static_cast<std::ptrdiff_t>(done));
    block_at_ += n;
    done += n;
  }
}

void Bedside::run_to(double time_s) noexcept {
  while (body_.time_s() < time_s) step();
}

void Bedside::skip(double seconds) noexcept {
  body_.advance_to(body_.time_s() + seconds);
  now_ = body_.snapshot();
  first_s_ = body_.time_s();
  made_ = 0;
  block_size_ = block_at_ = 0;
}

std::vector<exam::Finding> Bedside::findings() const {
  return findings_at_bedside(body_, told_);
}

std::vector<exam::Finding> findings_at_bedside(const patient::Patient& body,
                                               const std::vector<exam::Finding>& told) {
  std::vector<exam::Finding> out =
      patient::findings_of(body.signs(), body.monitor(), body.person());
  std::erase_if(out, [&](const exam::Finding& seen) {
    return std::any_of(told.begin(), told.end(),
                       [&](const exam::Finding& one) { return one.id == seen.id; });
  });
  out.insert(out.end(), told.begin(), told.end());
  return out;
}

}  // namespace phren::bedside
