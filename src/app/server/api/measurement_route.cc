#include "app/server/api/measurement_route.h"

#include <cmath>
#include <memory>
#include <mutex>
#include <optional>
#include <span>

#include "measurement/json.h"
#include "measurement/measure.h"
#include "signal/audio_file.h"

namespace phren::app::server {
namespace {

// A recording for teaching is one place for some breaths. What decodes to more would keep the one
// measurer from everybody else: 1.8 MB of FLAC can hold two days of silence (ENGINEERING).
constexpr double kLongest_s = 600.0;

// One measurer serves one thread at a time; the server measures one recording at a time anyway.
struct Bench {
  std::mutex mutex;
  std::optional<measurement::Measurer> measurer;
};

Response measure(Bench& bench, const Request& request) {
  const std::lock_guard lock(bench.mutex);
  auto reader =
      signal::AudioReader::open_bytes(std::as_bytes(std::span(request.body)), "the recording");
  if (!reader) return problem(reader.error());
  if (!(reader->info().duration_s() <= kLongest_s)) {
    return problem(422, "too long",
                   "the recording lasts " +
                       std::to_string(std::llround(reader->info().duration_s())) +
                       " s; here at most 600 s are measured: cut it, or use `phren measure`");
  }
  if (!bench.measurer) {
    auto loaded = measurement::Measurer::load();
    if (!loaded) return problem(loaded.error());
    bench.measurer.emplace(std::move(*loaded));
  }
  measurement::MeasureOptions options;
  options.is_over = [&request] { return request.is_abandoned && *request.is_abandoned; };
  const auto measured = bench.measurer->measure(*reader, options);
  if (!measured) return problem(measured.error());
  return json_response(measurement::to_json(*measured, "recording"));
}

}  // namespace

Status add_measurement_route(RouteTable& table, const std::filesystem::path&) {
  Route route;
  route.method = "POST";
  route.pattern = "/api/v1/measurement";
  route.body_type = "application/octet-stream";
  route.max_body_bytes = kMaxRecordingBody_bytes;
  route.lane = Lane::kSlow;
  route.handler = [bench = std::make_shared<Bench>()](const Request& request, const PathValues&) {
    return measure(*bench, request);
  };
  table.add(std::move(route));
  return {};
}

}  // namespace phren::app::server
