#include "acoustics/record.h"

#include <array>

namespace phren::acoustics {
namespace {

constexpr double kSettle_s = 0.25;

class Collector {
 public:
  explicit Collector(Recording& to) : to_(to) {}
  void drain(Chestpiece& piece) {
    std::size_t got = 0;
    do {
      got = piece.drain_truth(block_);
      for (std::size_t i = 0; i < got; ++i) {
        if (block_[i].end_s > to_.start_s) to_.events.push_back(block_[i]);
      }
    } while (got == block_.size());
  }

 private:
  Recording& to_;
  std::array<TruthEvent, 128> block_{};
};

}  // namespace

Result<Recording> record(patient::Patient& patient, Seed seed, const RecordingRequest& request,
                         const std::function<void(double)>& on_progress) {
  if (!(request.seconds > 0.0 && request.seconds <= 3600.0)) {
    return fail(out_of_range("seconds", request.seconds, "more than 0 and at most 3600"));
  }
  auto made = TRY(Chestpiece::make({request.sample_rate_hz, patient.person(), seed}));
  Chestpiece piece = std::move(made);
  piece.set_head(request.head);
  piece.set_pressure(request.pressure);
  piece.set_clothing(request.clothing);
  piece.set_surroundings(request.surroundings);
  piece.move_to(request.at);

  const double rate = request.sample_rate_hz;
  Recording out;
  out.sample_rate_hz = rate;
  const double first_s = patient.time_s();
  const auto settle = static_cast<std::size_t>(kSettle_s * rate);
  const auto total = settle + static_cast<std::size_t>(request.seconds * rate + 0.5);
  out.start_s = first_s + static_cast<double>(settle) / rate;
  out.samples.resize(total);
  Collector collector(out);
  std::size_t done = 0, told = 0;
  while (done < total) {
    patient.step();
    // As many frames as belong to the time the patient has moved; steps need not be whole frames.
    const auto due = static_cast<std::size_t>((patient.time_s() - first_s) * rate + 1e-6);
    const std::size_t to = due < total ? due : total;
    piece.render(patient.snapshot(), std::span<float>(out.samples).subspan(done, to - done));
    done = to;
    collector.drain(piece);
    if (on_progress && done - told >= static_cast<std::size_t>(rate)) {
      told = done;
      on_progress(static_cast<double>(done) / static_cast<double>(total));
    }
  }
  piece.finish_truth();
  collector.drain(piece);
  out.samples.erase(out.samples.begin(), out.samples.begin() + static_cast<std::ptrdiff_t>(settle));
  return out;
}

}  // namespace phren::acoustics
