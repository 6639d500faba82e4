// A measured recording as one line of JSON, the format of docs/formats/measurement.md.
//
// Errors:  none; values that are not numbers become null.
// Threads: a JsonRecording belongs to one thread at a time.
#pragma once

#include <cstdio>
#include <iosfwd>
#include <memory>
#include <string>
#include <string_view>

#include "measurement/measure.h"
#include "measurement/types.h"

namespace phren::measurement {

// Text that moves to a temporary file when it gets long, so that an hour of events fits in little
// memory.
class Spool {
 public:
  void append(const std::string& text);
  void copy_to(std::ostream& out);

 private:
  struct Close {
    void operator()(std::FILE* file) const { std::fclose(file); }
  };
  std::string recent_;
  std::unique_ptr<std::FILE, Close> file_;
};

// Takes findings while a recording is measured, then writes the whole line.
class JsonRecording : public FindingSink {
 public:
  void take(const Event& event) override;
  void take(const TonalTrack& track) override;
  void take(const Crackle& crackle) override;
  // No line break at the end. `recording` is the file's name without folder and extension. What
  // `measurement` itself holds comes after what was taken.
  void write(const RecordingMeasurement& measurement, std::string_view recording,
             std::ostream& out);

 private:
  Spool events_, tracks_, crackles_;
  bool has_events_ = false, has_tracks_ = false, has_crackles_ = false;
};

std::string to_json(const RecordingMeasurement& measurement, std::string_view recording);

}  // namespace phren::measurement
