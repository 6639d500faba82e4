// A stretch of breath described by numbers a person can read: size, bands, shape, tones,
// transients, envelope, and what the rest of the recording is like.
//
// Shapes:  kNumFeatures values in the order of feature_names().
// Units:   in the names. Times are seconds from the start of the piece.
// Errors:  none; a stretch outside the piece is moved inside, and is at least 60 ms long.
// Limits:  levels are relative to the recording, so gain does not matter; equalising does.
#pragma once

#include <string_view>

#include "measurement/analysis.h"

namespace phren::measurement {

const std::array<std::string_view, kNumFeatures>& feature_names();
// In words for people: "share of frames with a tone 12 dB above its surroundings, 250-600 Hz".
std::string_view feature_in_words(std::size_t index);

struct PieceContext {  // what the whole piece is like; made once per piece
  std::vector<TonalTrack> tracks;
  std::vector<Crackle> crackles;
  double level_db = -140.0;  // median broadband level
  FeatureVector whole{};     // of the piece from end to end
};
PieceContext context_of(const Analysis& analysis);

FeatureVector features_of(const Analysis& analysis, const PieceContext& context, double start_s,
                          double end_s);

}  // namespace phren::measurement
