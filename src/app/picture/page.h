// One page of a recording's picture, drawn once for PNG and SVG alike; private to this folder.
#pragma once

#include <string>
#include <vector>

#include "app/examine/spectrogram.h"
#include "app/picture/recording_picture.h"

namespace phren::app {

inline constexpr double kPage_s = 30.0;

struct PicturePage {
  std::string title, subtitle;
  double start_s = 0.0, length_s = 0.0;
  SpectrogramGrid grid;
  SpectrogramScale scale;
  const measurement::RecordingMeasurement* measurement = nullptr;
  const PictureMarks* marks = nullptr;
};

struct PictureFiles {
  std::string png, svg;  // bytes; empty if the drawing library fails
};
PictureFiles draw_page(const PicturePage& page);

}  // namespace phren::app
