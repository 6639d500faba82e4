#include "bedside/recording.h"

#include <algorithm>
#include <array>

#include "base/stable_sort.h"

namespace phren::bedside {
namespace {

constexpr double kSettle_s = 0.25;

// What has come up since the last call, as far as it lasts beyond the recording's start.
void collect(Bedside& bedside, Recording& to) {
  std::array<acoustics::TruthEvent, 128> some;
  for (std::size_t n = bedside.drain(some); n > 0; n = bedside.drain(some)) {
    for (std::size_t i = 0; i < n; ++i) {
      if (some[i].end_s > to.start_s) to.events.push_back(some[i]);
    }
  }
}

// From patient time to the recording's.
void shift(Recording& to) {
  const double length_s = to.duration_s();
  for (acoustics::TruthEvent& event : to.events) {
    event.start_s = std::max(0.0, event.start_s - to.start_s);
    event.end_s = std::min(length_s, event.end_s - to.start_s);
  }
  std::erase_if(to.events, [](const auto& event) { return event.end_s < event.start_s; });
  phren::stable_sort(to.events, [](const auto& a, const auto& b) { return a.start_s < b.start_s; });
}

}  // namespace

Recording take(Bedside& bedside, double seconds, double settle_s) {
  const double rate = bedside.sample_rate_hz();
  const auto settle = static_cast<std::size_t>(settle_s * rate);
  const std::size_t total = settle + static_cast<std::size_t>(seconds * rate + 0.5);
  Recording out;
  out.sample_rate_hz = rate;
  out.start_s = bedside.time_s() + static_cast<double>(settle) / rate;
  out.samples.resize(total);
  bedside.render(std::span<float>(out.samples).first(settle));
  collect(bedside, out);
  bedside.chestpiece().start_recorder();
  const auto second = static_cast<std::size_t>(rate);
  for (std::size_t done = settle; done < total; done += second) {
    bedside.render(std::span<float>(out.samples).subspan(done, std::min(second, total - done)));
    collect(bedside, out);
  }
  bedside.finish();
  collect(bedside, out);
  out.samples.erase(out.samples.begin(), out.samples.begin() + static_cast<std::ptrdiff_t>(settle));
  shift(out);
  return out;
}

Result<Recording> record(patient::Patient body, Seed seed, const RecordingRequest& request) {
  if (!(request.seconds > 0.0 && request.seconds <= 3600.0)) {
    return fail(out_of_range("seconds", request.seconds, "more than 0 and at most 3600"));
  }
  auto made = TRY(Bedside::around(std::move(body), request.around, seed, request.sample_rate_hz));
  made.perform(TurnHead{request.head});
  if (request.instrument) made.chestpiece().set_instrument(*request.instrument);
  made.chestpiece().set_layers(request.layers);
  made.perform(Place{request.at, request.pressure});
  return take(made, request.seconds, kSettle_s);
}

}  // namespace phren::bedside
