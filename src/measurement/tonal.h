// Musical tones: spectral peaks that stand out of their neighbourhood and last.
//
// Units:   Hz, seconds from the start of the piece, dB over the neighbourhood.
// Errors:  none. Source: CORSA gates: dominant frequency above 100 Hz, lasting more than 100 ms
//          (Sovijarvi et al., Eur Respir Rev 2000;10:597, quoted in Bio-protocol 10925897);
//          rhonchus: dominant below 300 Hz (same, from memory). Threshold: our choice, set so that
//          Gaussian noise gives less than one track in 10 s (tests).
// Limits:  tones closer than 24 Hz count as one, as do those 15 dB weaker within 190 Hz; edges are
// good to about 5 ms where the tone is
//          15 dB over its neighbourhood.
#pragma once

#include <vector>

#include "measurement/analysis.h"

namespace phren::measurement {

struct TonalGates {
  double min_hz = 100.0;  // strictly above
  double max_hz = kHighest_hz;
  double min_duration_s = 0.100;  // strictly longer
  double threshold_db = 13.5;     // mean height over the neighbourhood
};

// Tracks in order of start. Harmonics of a stronger track at the same time are left out.
std::vector<TonalTrack> find_tracks(const Analysis& analysis, const TonalGates& gates = {});

}  // namespace phren::measurement
