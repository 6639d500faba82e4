#include "bedside/stay_json.h"

#include <nlohmann/json.hpp>

#include "bedside/words.h"
#include "exam/names.h"

namespace phren::bedside {

namespace {

using Json = nlohmann::ordered_json;

Json phase_json(const InPhase& part) {
  return {{"events", part.events},
          {"audible", part.audible},
          {"audible_s", part.audible_s},
          {"over_hiding_db", part.over_hiding_db}};
}

}  // namespace

nlohmann::ordered_json heard_json(const HeardAt& heard) {
  Json added = Json::array();
  for (const AddedSound& one : heard.added) {
    added.push_back({{"sound", exam::to_string(one.sound)},
                     {"noticed", one.is_noticed()},
                     {"words", in_words(one)},
                     {"in", phase_json(one.in)},
                     {"out", phase_json(one.out)}});
  }
  Json out{{"site_id", heard.site_id},
           {"seconds", heard.seconds},
           {"loudness", to_string(heard.loudness)},
           {"breath", exam::to_string(heard.breath)},
           {"prolonged", heard.is_prolonged},
           {"words", in_words(heard)},
           {"short", in_short(heard)},
           {"added", std::move(added)}};
  if (heard.below_health_db) out["below_health_db"] = *heard.below_health_db;
  if (heard.below_mirror_db) out["below_mirror_db"] = *heard.below_mirror_db;
  return out;
}

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
          {"heard", std::move(heard)},  {"found", heard_json(stay.found)}};
}

}  // namespace phren::bedside
