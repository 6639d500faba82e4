// The words of measurement's values: the wire names of the JSON and words for people.
#pragma once

#include <string_view>

#include "base/result.h"
#include "measurement/types.h"

namespace phren::measurement {

std::string_view to_string(EventLabel label);      // "Fine Crackle", "Wheeze+Crackle"
std::string_view to_string(RecordLabel label);     // "CAS & DAS"
std::string_view to_string(QualityReason reason);  // "clipping"
std::string_view to_string(Doubt doubt);           // "too many labels"; empty for none
// kInvalidArgument naming the word and those allowed. "Wheeze & Crackle" is read as Wheeze+Crackle.
Result<EventLabel> parse_event_label(std::string_view text);
Result<RecordLabel> parse_record_label(std::string_view text);

constexpr bool is_continuous(EventLabel label) {
  return label == EventLabel::kRhonchi || label == EventLabel::kWheeze ||
         label == EventLabel::kStridor || label == EventLabel::kMixed;
}
constexpr bool is_discontinuous(EventLabel label) {
  return label == EventLabel::kCoarseCrackle || label == EventLabel::kFineCrackle ||
         label == EventLabel::kMixed;
}

}  // namespace phren::measurement
