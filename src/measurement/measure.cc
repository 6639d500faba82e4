#include "measurement/measure.h"

#include <cmath>

#include "measurement/session.h"

namespace phren::measurement {
struct Measurer::Impl {
  Models models;
  Analyser analyser;
};

Measurer::Measurer(std::unique_ptr<Impl> impl) : impl_(std::move(impl)) {}
Measurer::Measurer(Measurer&&) noexcept = default;
Measurer& Measurer::operator=(Measurer&&) noexcept = default;
Measurer::~Measurer() = default;

Result<Measurer> Measurer::read(const ModelFiles& files) {
  auto events = TRY(Trees::read(files.events, files.folder + kEventsFile, kNumEventLabels));
  auto poor = TRY(Trees::read(files.poor, files.folder + kPoorFile, 1));
  auto decision = TRY(Decision::read(files.decision, files.folder + kDecisionFile));
  Models models{std::move(events), std::move(poor), std::move(decision), std::nullopt};
  if (!files.network.empty())
    models.network = TRY(Network::read(files.network, files.folder + kNetworkFile));
  return Measurer(std::make_unique<Impl>(Impl{std::move(models), Analyser()}));
}

namespace {

Status check_given(const MeasureOptions& options, double duration_s) {
  for (const auto& [start_s, end_s] : options.given_s) {
    if (!(start_s >= 0.0 && start_s < duration_s))
      return fail(out_of_range("event start_ms", 1000.0 * start_s,
                               "within the recording, which lasts " +
                                   std::to_string(std::lround(1000.0 * duration_s)) + " ms"));
    if (!(end_s > start_s))
      return fail(out_of_range("event end_ms", 1000.0 * end_s, "after its start_ms"));
  }
  return {};
}

Status check_duration(double duration_s) {
  if (duration_s >= kShortest_s) return {};
  return fail(
      out_of_range("duration", std::to_string(1000.0 * duration_s) + " ms", "at least 100 ms"));
}

}  // namespace

Result<RecordingMeasurement> Measurer::measure(signal::AudioReader& reader,
                                               const MeasureOptions& options) {
  const double duration_s = reader.info().duration_s();
  TRY(check_duration(duration_s));
  TRY(check_given(options, duration_s));
  auto session =
      TRY(Session::make(impl_->models, impl_->analyser, reader.info().sample_rate_hz, options));
  std::vector<float> block(65536);
  while (true) {
    if (options.is_over && options.is_over()) {
      return fail(ErrorCode::kIo, "the measurement was called off");
    }
    auto got = TRY(reader.read(block));
    if (got == 0) break;
    session.add({block.data(), got});
  }
  RecordingMeasurement out = session.finish();
  out.has_metadata_text = reader.info().has_metadata_text;
  return out;
}

Result<RecordingMeasurement> Measurer::measure(const signal::Audio& audio,
                                               const MeasureOptions& options) {
  TRY(check_duration(audio.duration_s()));
  TRY(check_given(options, audio.duration_s()));
  auto session = TRY(Session::make(impl_->models, impl_->analyser, audio.sample_rate_hz, options));
  for (std::size_t at = 0; at < audio.samples.size(); at += 65536)
    session.add(std::span(audio.samples)
                    .subspan(at, std::min<std::size_t>(65536, audio.samples.size() - at)));
  return session.finish();
}

}  // namespace phren::measurement
