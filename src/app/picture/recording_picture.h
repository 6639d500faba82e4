// A recording as a picture: its spectrogram with breath phases, tones, crackles and labelled events
// drawn on it, so that the evidence for each label can be seen.
//
// Shapes:  one picture for each 30 s; sound is read again, page by page, so an hour needs no more
//          memory than half a minute.
// Units:   seconds from the start of the recording, Hz; darkness is level in dB.
// Errors:  what reading the sound or writing the files reports.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "base/result.h"
#include "measurement/measure.h"

namespace phren::app {

// Keeps of what is found only what is drawn.
class PictureMarks : public measurement::FindingSink {
 public:
  struct EventMark {
    double start_s = 0.0, end_s = 0.0;
    bool is_normal = true;
    std::string label, evidence;  // "Wheeze 0.91", "412 Hz, 62 % of it"
  };
  void take(const measurement::Event& event) override;
  void take(const measurement::TonalTrack& track) override { tones.push_back(track); }
  void take(const measurement::Crackle& crackle) override { crackles.push_back(crackle); }

  std::vector<EventMark> events;
  std::vector<measurement::TonalTrack> tones;
  std::vector<measurement::Crackle> crackles;
};

// FOLDER/NAME.png and .svg; NAME-2, NAME-3 and so on for the pages after the first. Makes the
// folder.
Status write_pictures(const std::filesystem::path& folder, const std::filesystem::path& recording,
                      const measurement::RecordingMeasurement& measurement,
                      const PictureMarks& marks);

}  // namespace phren::app
