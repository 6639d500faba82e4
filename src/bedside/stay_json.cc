#include "bedside/stay_json.h"

#include <nlohmann/json.hpp>

#include "bedside/words.h"
#include "exam/names.h"

namespace phren::bedside {

nlohmann::ordered_json stay_json(const Stay& stay) {
  nlohmann::ordered_json heard = nlohmann::ordered_json::array();
  for (const HeardSound& one : stay.heard) {
    heard.push_back({{"sound", exam::to_string(one.sound)},
                     {"phase", exam::to_string(one.phase)},
                     {"events", one.events},
                     {"seconds", one.seconds},
                     {"loudest_db", one.loudest_db}});
  }
  return {{"site_id", stay.site_id},    {"aspect", exam::to_string(stay.point.aspect)},
          {"u", stay.point.u},          {"v", stay.point.v},
          {"start_s", stay.start_s},    {"end_s", stay.end_s},
          {"head", word_of(stay.head)}, {"through_clothing", stay.through_clothing},
          {"heard", std::move(heard)}};
}

}  // namespace phren::bedside
