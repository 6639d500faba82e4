#include "measurement/names.h"

#include <array>

namespace phren::measurement {
namespace {

constexpr std::array<std::string_view, kNumEventLabels> kEventNames{
    "Normal", "Rhonchi", "Wheeze", "Stridor", "Coarse Crackle", "Fine Crackle", "Wheeze+Crackle"};
constexpr std::array<std::string_view, kNumRecordLabels> kRecordNames{"Normal", "CAS", "DAS",
                                                                      "CAS & DAS", "Poor Quality"};
constexpr std::array<std::string_view, 9> kReasonNames{"clipping", "contact",    "noise",
                                                       "speech",   "heart only", "too short",
                                                       "silence",  "looks poor", "gaps"};

constexpr std::array<std::string_view, 5> kDoubtNames{"", "unfamiliar recording", "poor recording",
                                                      "too many labels", "fast measurement"};

template <class Label, std::size_t kSize>
Result<Label> parse(std::string_view field, const std::array<std::string_view, kSize>& names,
                    std::string_view text) {
  std::string allowed = "one of";
  for (std::size_t i = 0; i < kSize; ++i) {
    if (names[i] == text) return static_cast<Label>(i);
    allowed += (i == 0 ? " '" : ", '") + std::string(names[i]) + "'";
  }
  return fail(out_of_range(field, "'" + std::string(text) + "'", allowed));
}

}  // namespace

std::string_view to_string(EventLabel label) {
  return kEventNames[static_cast<std::size_t>(label)];
}
std::string_view to_string(RecordLabel label) {
  return kRecordNames[static_cast<std::size_t>(label)];
}
std::string_view to_string(QualityReason reason) {
  return kReasonNames[static_cast<std::size_t>(reason)];
}
std::string_view to_string(Doubt doubt) {
  return kDoubtNames[static_cast<std::size_t>(doubt)];
}

Result<EventLabel> parse_event_label(std::string_view text) {
  if (text == "Wheeze & Crackle") return EventLabel::kMixed;
  return parse<EventLabel>("event label", kEventNames, text);
}
Result<RecordLabel> parse_record_label(std::string_view text) {
  return parse<RecordLabel>("record label", kRecordNames, text);
}

}  // namespace phren::measurement
