#include "app/engine/engine.h"

#include <algorithm>
#include <utility>

namespace phren::app {

Engine::Engine(patient::Patient patient, acoustics::Chestpiece piece, double sample_rate_hz)
    : patient_(std::move(patient)),
      piece_(std::move(piece)),
      now_(patient_.snapshot()),
      sample_rate_hz_(sample_rate_hz),
      first_s_(patient_.time_s()) {}

Result<Engine> Engine::make(const patient::PatientConfig& config, Seed seed,
                            double sample_rate_hz) {
  auto body = TRY(patient::Patient::make(config, seed));
  auto piece = TRY(acoustics::Chestpiece::make({sample_rate_hz, body.person(), seed}));
  if (!(body.step_s() * sample_rate_hz < static_cast<double>(kLongestStep_frames))) {
    return fail(out_of_range("step_s", body.step_s(), "at most 1/50"));
  }
  return Engine(std::move(body), std::move(piece), sample_rate_hz);
}

void Engine::next_step() noexcept {
  patient_.step();
  now_ = patient_.snapshot();
  // As many frames as belong to the time that has passed; steps need not be whole frames.
  const auto due =
      static_cast<std::uint64_t>((patient_.time_s() - first_s_) * sample_rate_hz_ + 1e-6);
  block_size_ = std::min(static_cast<std::size_t>(due - made_), kLongestStep_frames);
  block_at_ = 0;
  made_ = due;
  piece_.render(now_, std::span<float>(block_.data(), block_size_));
}

void Engine::render(std::span<float> out) noexcept {
  for (std::size_t done = 0; done < out.size();) {
    if (block_at_ == block_size_) {
      next_step();
      continue;
    }
    const std::size_t n = std::min(out.size() - done, block_size_ - block_at_);
    std::copy_n(block_.begin() + static_cast<std::ptrdiff_t>(block_at_), n,
                out.begin() + static_cast<std::ptrdiff_t>(done));
    block_at_ += n;
    done += n;
  }
}

void Engine::skip(double seconds) noexcept {
  const double until_s = patient_.time_s() + seconds;
  patient_.advance_to(until_s);
  now_ = patient_.snapshot();
  first_s_ = patient_.time_s();
  made_ = 0;
  block_size_ = block_at_ = 0;
}

void Engine::run_to(double time_s) noexcept {
  while (patient_.time_s() < time_s) {
    next_step();
    block_at_ = block_size_;
  }
}

}  // namespace phren::app
