// From a recording to what is in it: the one entry to this room.
//
// Shapes:  a recording of up to 20 s is one piece; a longer one streams by in pieces of 15.36 s
// every
//          12.8 s, so memory does not grow with its length.
// Errors:  what AudioReader reports; kInvalidArgument for a recording shorter than 0.1 s or an
// event
//          that ends before it starts or lies outside the recording.
// Threads: one Measurer may serve one thread at a time; load one for each. Let it go before the
// program
//          ends: the tree library cannot be used by destructors of statics.
#pragma once

#include <filesystem>
#include <functional>
#include <memory>
#include <string>
#include <string_view>
#include <utility>

#include "base/result.h"
#include "measurement/types.h"
#include "signal/audio_file.h"

namespace phren::measurement {

// Takes what is found as it is found, so that an hour need not be kept in memory.
class FindingSink {
 public:
  virtual ~FindingSink() = default;
  virtual void take(const Event& event) = 0;
  virtual void take(const TonalTrack& track) = 0;
  virtual void take(const Crackle& crackle) = 0;
};

struct MeasureOptions {
  bool is_fast = false;  // features and trees only: no network, and no reasons for labels
  // Where to put events, tracks and crackles; the measurement then comes back without them.
  FindingSink* sink = nullptr;
  std::vector<std::pair<double, double>> given_s;  // stretches to label as well: start, end
  // Asked every few seconds of sound; once it is true the measurement ends with kIo.
  std::function<bool()> is_over = {};
};

inline constexpr double kShortest_s = 0.1;

// The folder of trained models: $PHREN_MODEL if set, else `model` beside the folder of data files.
std::filesystem::path model_directory();

// The trained models as their files hold them. An empty network makes every measurement a fast one.
struct ModelFiles {
  std::string_view events, poor, decision, network;
  std::string folder;  // before the names in errors
};
inline constexpr const char* kEventsFile = "trees_events.bin";
inline constexpr const char* kPoorFile = "trees_poor.bin";
inline constexpr const char* kDecisionFile = "decision.json";
inline constexpr const char* kNetworkFile = "recording_network.bin";

class Measurer {
 public:
  static Result<Measurer> load(const std::filesystem::path& folder = model_directory());
  static Result<Measurer> read(const ModelFiles& files);  // the bytes are not needed afterwards
  Measurer(Measurer&&) noexcept;
  Measurer& operator=(Measurer&&) noexcept;
  ~Measurer();

  Result<RecordingMeasurement> measure(signal::AudioReader& reader,
                                       const MeasureOptions& options = {});
  Result<RecordingMeasurement> measure(const signal::Audio& audio,
                                       const MeasureOptions& options = {});

 private:
  struct Impl;
  explicit Measurer(std::unique_ptr<Impl> impl);
  std::unique_ptr<Impl> impl_;
};

}  // namespace phren::measurement
