#include "app/specimen/truth_json.h"

#include <nlohmann/json.hpp>

#include "exam/names.h"

namespace phren::app {

nlohmann::ordered_json truth_json(const SpecimenSound& made) {
  nlohmann::ordered_json list = nlohmann::ordered_json::array();
  for (const acoustics::TruthEvent& event : made.truth) {
    list.push_back({{"sound", exam::to_string(event.sound)},
                    {"phase", exam::to_string(event.phase)},
                    {"start_s", event.start_s},
                    {"end_s", event.end_s},
                    {"pitch_hz", event.pitch_hz},
                    {"audible", event.audible}});
  }
  return list;
}

}  // namespace phren::app
