// The measurement's C interface: what the Bench calls in a worker. docs/engine.md.
//
// Order of calls: the models go in through phren_space, then phren_load; then each recording's file through
// phren_space, then phren_measure_file. Where that answers kNotRead, the samples that the browser decoded go in
// through phren_samples, then phren_measure_samples.
// Pointers stay valid until the next call.
#include <array>
#include <cstdint>
#include <cstring>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/wasm_export.h"
#include "measurement/json.h"
#include "measurement/measure.h"
#include "signal/sound_checks.h"
#include "signal/wav.h"

namespace {

using namespace phren;

enum Answer { kDone = 0, kFailed = 1, kNotRead = 2 };

struct Module {
  std::vector<unsigned char> in;
  signal::Audio audio;
  signal::Words words = signal::Words::kNotLookedFor;
  std::string out, error;
  std::optional<measurement::Measurer> measurer;
};

Module& module() {
  static Module instance;
  return instance;
}

const std::string kName = "the recording";

// Measures what is in module().audio, which is let go.
Result<std::string> measured() {
  Module& m = module();
  if (!m.measurer) return fail(ErrorCode::kInvalidArgument, "the models are not loaded yet");
  const signal::Audio audio = std::move(m.audio);
  m.audio = {};
  auto result = TRY(m.measurer->measure(audio));
  result.has_metadata_text = m.words == signal::Words::kSome;
  return measurement::to_json(result, "recording");
}

int answer(const Result<std::string>& result) {
  module().out = result ? *result : "";
  module().error = result ? "" : result.error().message;
  return result ? kDone : kFailed;
}

// As web/pack_model.mjs writes it: four lengths of 32 bits, little end first, then the four files.
Status load(std::string_view all) {
  std::array<std::uint32_t, 4> lengths{};
  std::array<std::string_view, 4> parts;
  if (all.size() < sizeof lengths) return fail(ErrorCode::kMalformed, "the models are cut short");
  std::memcpy(lengths.data(), all.data(), sizeof lengths);
  all.remove_prefix(sizeof lengths);
  for (std::size_t i = 0; i < parts.size(); ++i) {
    if (lengths[i] > all.size()) return fail(ErrorCode::kMalformed, "the models are cut short");
    parts[i] = all.substr(0, lengths[i]);
    all.remove_prefix(lengths[i]);
  }
  auto measurer = TRY(measurement::Measurer::read({parts[0], parts[1], parts[2], parts[3], ""}));
  module().measurer.emplace(std::move(measurer));
  return {};
}

}  // namespace

// Room for `bytes` bytes of a file.
PHREN_EXPORT(phren_space) unsigned char* phren_space(unsigned bytes) {
  module().in = {};
  module().in.resize(bytes);
  return module().in.data();
}

// What the last call that failed says is wrong.
PHREN_EXPORT(phren_error) const char* phren_error() {
  return module().error.c_str();
}

// The trained models, packed into one file, in phren_space; 0, or 1 and an error.
PHREN_EXPORT(phren_load) int phren_load() {
  const auto& in = module().in;
  const Status ok = load({reinterpret_cast<const char*>(in.data()), in.size()});
  module().in = {};
  module().error = ok ? "" : ok.error().message;
  return ok ? kDone : kFailed;
}

// The file in phren_space: 0 and a result, 1 and an error, or 2: not a WAV of a kind that is read here.
PHREN_EXPORT(phren_measure_file) int phren_measure_file() {
  Module& m = module();
  m.words = signal::words_beside(m.in);
  auto audio = signal::read_wav(m.in, kName);
  m.in = {};
  if (!audio) {
    m.error = audio.error().message;
    return audio.error().code == ErrorCode::kUnsupported ? kNotRead : kFailed;
  }
  m.audio = std::move(*audio);
  return answer(measured());
}

// Room for the samples of the recording that phren_measure_file could not read.
PHREN_EXPORT(phren_samples) float* phren_samples(unsigned count) {
  module().audio.samples.assign(count, 0.0f);
  return module().audio.samples.data();
}

PHREN_EXPORT(phren_measure_samples) int phren_measure_samples(double rate_hz) {
  Module& m = module();
  m.audio.sample_rate_hz = rate_hz;
  if (const Status ok = signal::check_samples(m.audio.samples, 0, kName); !ok) {
    m.error = ok.error().message;
    return kFailed;
  }
  return answer(measured());
}

// The last result: JSON as `phren measure --json` writes it (docs/formats/measurement.md).
PHREN_EXPORT(phren_result) const char* phren_result() {
  return module().out.c_str();
}

// Whether the file that was measured last carries words beside its sound: 0 none, 1 some, 2 not looked for.
PHREN_EXPORT(phren_words) int phren_words() {
  return static_cast<int>(module().words);
}
