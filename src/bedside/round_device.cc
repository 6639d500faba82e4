#include "bedside/round_device.h"

#include <algorithm>
#include <array>
#include <cstring>
#include <utility>

#include "bedside/shown.h"

namespace phren::bedside {

std::uint64_t sum_of_state(const Bedside& bedside) {
  std::array<double, 256> numbers{};
  ShownNumbers writer(numbers.data());
  show(writer, bedside.now(), bedside.patient().monitor());
  // FNV-1a, 64 bits (Fowler, Noll, Vo; RFC 9923).
  std::uint64_t sum = 14695981039346656037ULL;
  for (std::size_t i = 0; i < writer.count(); ++i) {
    std::uint64_t bits = 0;
    std::memcpy(&bits, &numbers[i], sizeof bits);
    for (int byte = 0; byte < 8; ++byte) {
      sum ^= (bits >> (8 * byte)) & 0xffU;
      sum *= 1099511628211ULL;
    }
  }
  return sum;
}

Result<RoundDevice> RoundDevice::make(const Setup& setup, Seed seed, double sample_rate_hz) {
  auto bedside = TRY(Bedside::make(setup, seed, sample_rate_hz));
  if (shown_length(bedside.now(), bedside.patient().monitor()) > 256) {
    return fail(ErrorCode::kUnsupported, "more is shown of a body than a sum can hold");
  }
  patient::Patient fresh = bedside.patient();
  return RoundDevice(std::move(bedside), std::move(fresh));
}

Status RoundDevice::hear(const RoundLine& line) {
  if (line.seq < next_seq_) return {};
  if (line.seq > next_seq_) {
    return fail(ErrorCode::kConflict, "line " + std::to_string(next_seq_) + " is missing");
  }
  if (line.deed) TRY(bedside_.check(*line.deed));
  ++next_seq_;
  if (line.begins_take) {
    take_ = line.take;
    std::erase_if(lived_, [&](const RoundLine& one) { return one.step >= line.step; });
    allowed_ = line.step;
    begin_again();
    run_unheard(line.step);
    take_up();
    return {};
  }
  if (!line.deed || !concerns_all(*line.deed)) return {};
  const auto at =
      std::upper_bound(lived_.begin(), lived_.end(), line,
                       [](const RoundLine& a, const RoundLine& b) { return a.step < b.step; });
  const auto place = static_cast<std::size_t>(at - lived_.begin());
  lived_.insert(at, line);
  // Later than was promised: what was lived without it has to be lived again.
  if (line.step < step_ || place < next_) live_again();
  return {};
}

void RoundDevice::allow(int take, std::int64_t step, std::int64_t last_seq) {
  if (take == take_ && last_seq < next_seq_) allowed_ = std::max(allowed_, step);
}

void RoundDevice::do_shared() {
  for (; next_ < lived_.size() && lived_[next_].step <= step_; ++next_) {
    bedside_.perform(*lived_[next_].deed);
  }
}

void RoundDevice::count_step() {
  ++step_;
  if (step_ % kSumEvery_steps == 0) sum_ = StateSum{take_, step_, sum_of_state(bedside_)};
}

std::span<const float> RoundDevice::make_step() {
  do_shared();
  for (const Deed& deed : own_) bedside_.perform(deed);
  own_.clear();
  const auto sound = bedside_.step();
  if (on_step_) on_step_(take_, step_, sound);
  count_step();
  return sound;
}

void RoundDevice::run_unheard(std::int64_t step) {
  while (step_ < step) {
    do_shared();
    bedside_.step_unheard();
    count_step();
  }
}

void RoundDevice::catch_up(std::int64_t step) {
  run_unheard(std::min(step, allowed_));
  take_up();
}

void RoundDevice::take_up() {
  own_.clear();
  bedside_.take_up();
  has_taken_up_ = true;
}

std::optional<RoundLine> RoundDevice::take_taken_up() {
  if (!std::exchange(has_taken_up_, false)) return std::nullopt;
  return RoundLine{.take = take_, .step = step_, .person = {}, .deed = Deed{TakeUp{}}};
}

void RoundDevice::begin_again() {
  bedside_.begin_again(fresh_);
  next_ = 0;
  step_ = 0;
}

void RoundDevice::live_again() {
  const std::int64_t here = step_;
  begin_again();
  run_unheard(here);
  take_up();
}

RoundLine RoundDevice::own(const Deed& deed) {
  own_.push_back(deed);
  RoundLine line;
  line.take = take_;
  line.step = step_;
  line.deed = deed;
  return line;
}

std::optional<StateSum> RoundDevice::take_sum() {
  return std::exchange(sum_, std::nullopt);
}

}  // namespace phren::bedside
