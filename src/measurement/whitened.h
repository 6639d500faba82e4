// Crackles that stand out of each frequency's own background; private to this room.
//
// Shapes:  times in seconds from the start of the piece, in order; those closer than 8 ms are one.
// Units:   dB of the whitened level over its median in the piece; widths as in transients.h, 0
// where
//          the waveform has no two clear cycles.
// Errors:  none; allocates (not for the live path).
// Source:  method of our own. The peak of a crackle's spectrum lies at 130 to 210 Hz (Piirila 1991,
//          as quoted), often under the louder, broader noise of the breath; so each bin of 16 ms
//          spectra is first divided by its own median over +-100 ms, which also takes steady tones
//          away, and the mean over 125-562 Hz is searched. find_crackles() looks at the plain level
//          above 200 Hz instead; the trained trees count what it finds, so both stay.
// Limits:  more crackles than about 40 a second become noise themselves. On children's recordings
//          heart sounds and handling are found too (docs/validation/measurement.md).
#pragma once

#include <vector>

#include "measurement/analysis.h"
#include "signal/stft.h"

namespace phren::measurement {

class WhitenedCrackles {
 public:
  WhitenedCrackles();
  std::vector<Crackle> find(const Analysis& analysis);

 private:
  signal::Stft stft_;
  std::vector<float> power_, level_db_;
};

}  // namespace phren::measurement
