// From probabilities to labels, and from events to the label of the recording.
//
// Source:  the data set's exact rule: c = any of Rhonchi, Wheeze, Stridor, Wheeze+Crackle;
//          d = any of Coarse Crackle, Fine Crackle, Wheeze+Crackle; both -> CAS & DAS, c -> CAS, d
//          -> DAS, else Normal; no events at all -> Poor Quality. It reproduces every label of the
//          training part (tests/published/measurement_test.cc).
#pragma once

#include <span>

#include "measurement/types.h"

namespace phren::measurement {

EventLabel most_likely(const EventProbabilities& probabilities);
RecordLabel most_likely(const RecordProbabilities& probabilities);
RecordLabel record_label_of(std::span<const EventLabel> events);

// What the rule needs to know of all events: the greatest probability of c and of d.
struct EventSummary {
  double continuous = 0.0, discontinuous = 0.0;
  void add(const Event& event);
};
// The rule on probabilities, c and d taken as independent.
RecordProbabilities record_probabilities(const EventSummary& events, double poor_probability);

// The labels not less probable than `least`, most probable first; always one. More than two, a kind
// of recording never heard or a poor recording: it cannot be told.
Verdict verdict_of(const RecordProbabilities& probabilities, double least, bool is_familiar,
                   bool can_be_labelled);

}  // namespace phren::measurement
