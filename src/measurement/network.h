// The recording networks: one pass of each over a piece of sound, then labels for any stretch of
// it, breath events, and a label for the whole. What the networks say is averaged (logits).
//
// Shapes:  frames of 40 ms (frame j is centred on 0.04 j s). What run() computed stays until the
// next. Units:   seconds from the start of the piece; probabilities sum to 1. Errors:  load() names
// the file and what is wrong (cut short, checksum, unknown layer, odd shape). Threads: one Network
// serves one thread at a time. run() allocates only when a piece is longer than
//          any before it.
// Source:  training/README.md gives the layers and the weight file to the byte.
#pragma once

#include <filesystem>
#include <memory>
#include <utility>
#include <vector>

#include "base/result.h"
#include "measurement/analysis.h"

namespace phren::measurement {

class Network {
 public:
  static Result<Network> load(const std::filesystem::path& path);
  static Result<Network> read(std::string_view bytes, const std::string& name);
  Network(Network&&) noexcept;
  Network& operator=(Network&&) noexcept;
  ~Network();

  void run(const Analysis& analysis);
  // As the raters of recordings of that kind would say.
  EventProbabilities event(double start_s, double end_s, RecordingKind kind) const;
  RecordProbabilities record(RecordingKind kind) const;
  // Breath events by the best path through gap and event.
  std::vector<std::pair<double, double>> events() const;

  // What golden vectors are checked against: the input planes ([plane][band][frame], 20 ms), the
  // frame logits ([output][frame]) and the logits of an event and of the record before softmax.
  std::vector<float> input_planes() const;
  std::vector<float> frame_logits() const;
  std::vector<float> event_logits(double start_s, double end_s, RecordingKind kind) const;
  std::vector<float> record_logits(RecordingKind kind) const;
  std::size_t num_frames() const;

 private:
  struct Impl;
  explicit Network(std::unique_ptr<Impl> impl);
  std::unique_ptr<Impl> impl_;
};

}  // namespace phren::measurement
