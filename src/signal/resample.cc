#include "signal/resample.h"

#include <soxr.h>

#include <cmath>

namespace phren::signal {

struct Resampler::Impl {
  soxr_t soxr = nullptr;
  double ratio = 1.0;

  Impl() = default;
  Impl(const Impl&) = delete;
  Impl& operator=(const Impl&) = delete;
  ~Impl() {
    if (soxr != nullptr) soxr_delete(soxr);
  }
};

Resampler::Resampler(std::unique_ptr<Impl> impl) : impl_(std::move(impl)) {}
Resampler::Resampler(Resampler&&) noexcept = default;
Resampler& Resampler::operator=(Resampler&&) noexcept = default;
Resampler::~Resampler() = default;

Result<Resampler> Resampler::make(double from_hz, double to_hz) {
  constexpr std::string_view kAllowed = "between 1000 and 384000 Hz";
  if (!(from_hz >= kMinSampleRate_hz && from_hz <= kMaxSampleRate_hz))
    return fail(out_of_range("from_hz", from_hz, kAllowed));
  if (!(to_hz >= kMinSampleRate_hz && to_hz <= kMaxSampleRate_hz))
    return fail(out_of_range("to_hz", to_hz, kAllowed));
  auto impl = std::make_unique<Impl>();
  impl->ratio = to_hz / from_hz;
  if (from_hz != to_hz) {
    soxr_error_t error = nullptr;
    const soxr_io_spec_t io = soxr_io_spec(SOXR_FLOAT32_I, SOXR_FLOAT32_I);
    const soxr_quality_spec_t quality = soxr_quality_spec(SOXR_HQ, 0);
    const soxr_runtime_spec_t runtime = soxr_runtime_spec(1);
    impl->soxr = soxr_create(from_hz, to_hz, 1, &error, &io, &quality, &runtime);
    if (error != nullptr)
      return fail(ErrorCode::kUnsupported, std::string("cannot resample: ") + soxr_strerror(error));
  }
  return Resampler(std::move(impl));
}

void Resampler::process(std::span<const float> in, std::vector<float>& out) {
  if (impl_->soxr == nullptr) {
    out.insert(out.end(), in.begin(), in.end());
    return;
  }
  while (!in.empty()) {
    const std::size_t before = out.size();
    const auto room =
        static_cast<std::size_t>(std::ceil(static_cast<double>(in.size()) * impl_->ratio)) + 256;
    out.resize(before + room);
    std::size_t used = 0, made = 0;
    soxr_process(impl_->soxr, in.data(), in.size(), &used, out.data() + before, room, &made);
    out.resize(before + made);
    in = in.subspan(used);
    if (used == 0 && made == 0) break;
  }
}

void Resampler::finish(std::vector<float>& out) {
  if (impl_->soxr == nullptr) return;
  std::size_t made = 0;
  do {
    const std::size_t before = out.size();
    out.resize(before + 4096);
    soxr_process(impl_->soxr, nullptr, 0, nullptr, out.data() + before, 4096, &made);
    out.resize(before + made);
  } while (made > 0);
}

Result<Audio> resample(const Audio& audio, double to_hz) {
  auto resampler = TRY(Resampler::make(audio.sample_rate_hz, to_hz));
  Audio out;
  out.sample_rate_hz = to_hz;
  resampler.process(audio.samples, out.samples);
  resampler.finish(out.samples);
  return out;
}

}  // namespace phren::signal
