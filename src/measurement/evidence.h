// What the judges of adults' recordings go by, as numbers that have a name; private to this room.
//
// The networks were taught mostly by children, and what their raters would say of an adult's chest
// carries further than what can be learned from a hundred adults. So the answers of several heads
// are put beside measured tones and crackles, and a linear judge weighs them (decision.h).
//
// Shapes:  RecordEvidence and EventEvidence in the order of record_evidence_names() and
//          event_evidence_names().
// Units:   log-odds of heads; logits of frames; dB.
// Errors:  none; without a piece all are those of silence.
#pragma once

#include <string_view>

#include "measurement/features.h"
#include "measurement/network.h"

namespace phren::measurement {

const std::array<std::string_view, kNumRecordEvidence>& record_evidence_names();
const std::array<std::string_view, kNumEventEvidence>& event_evidence_names();

// Means over the pieces of a recording, each as long as it speaks for.
class EvidenceMeter {
 public:
  // After network.run(); the piece speaks for [from_s, to_s).
  void add(const Network& network, const PieceContext& context, double from_s, double to_s);
  RecordEvidence evidence() const;

 private:
  static constexpr std::size_t kNumChances = 9;  // of the heads; the rest is averaged as it is
  RecordEvidence sum_{};
  double weight_ = 0.0;
};

// `clip_on`: probability that the microphone is one that clips on (sound_kind.h).
EventEvidence event_evidence(const Network& network, const FeatureVector& features, double start_s,
                             double end_s, double clip_on);

}  // namespace phren::measurement
