// A spectrogram as a picture that stands alone: pixels in a PNG, and over them in SVG the axes, the
// breath phases, the tonal tracks and the crackles, so that print stays sharp and a reader that
// does not see the picture gets its words.
//
// Units:   seconds, Hz; levels in dB re full scale per bin.
// Errors:  none; sound shorter than one window gives an empty plot.
// Limits:  one frame per pixel column, so that a long sound is thinned, not averaged.
#pragma once

#include <string>
#include <utility>
#include <vector>

#include "exam/types.h"
#include "signal/audio.h"

namespace phren::app {

// Shared by all pictures of one examination: a quiet place must look quiet.
struct SpectrogramScale {
  double top_db = -40.0;
  double range_db = 50.0;
  double max_hz = 2000.0;
};

// Levels of one sound, row-major levels_db[row * num_columns + column], row 0 is the highest pitch.
struct SpectrogramGrid {
  std::size_t num_rows = 0;
  std::size_t num_columns = 0;
  std::vector<float> levels_db;
};
SpectrogramGrid spectrogram_grid(const signal::Audio& audio, double max_hz,
                                 std::size_t num_rows = 84, std::size_t num_columns = 460);
// The level that all but `share` of the grid stays below; -200 for an empty grid.
double upper_level_db(const SpectrogramGrid& grid, double share);

struct PhaseMark {
  exam::Phase phase = exam::Phase::kInspiration;
  double start_s = 0.0, end_s = 0.0;
};
struct TrackMark {
  std::vector<std::pair<double, double>> points;  // time_s, frequency_hz
};
struct TickMark {
  double time_s = 0.0;
  bool is_coarse = false;
};
struct SpectrogramMarks {
  std::vector<PhaseMark> phases;
  std::vector<TrackMark> tracks;
  std::vector<TickMark> ticks;
};

// PNG bytes of the grid in ink on paper.
std::string spectrogram_png(const SpectrogramGrid& grid, const SpectrogramScale& scale);
// The whole picture as an <svg> element; `description` is its text alternative.
std::string spectrogram_svg(const SpectrogramGrid& grid, const SpectrogramScale& scale,
                            double duration_s, const SpectrogramMarks& marks,
                            const std::string& description);

}  // namespace phren::app
