// One action of the log in words, for a debrief. Numbers that only the machine needs stay out of it.
#pragma once

#include <functional>
#include <string>

#include "base/words.h"
#include "bedside/log.h"
#include "exam/sites.h"

namespace phren::bedside {

// What a step is to a timeline.
enum class StepKind { kListen, kExamine, kFind, kTreat, kOther };
StepKind kind_of(const Deed& deed);

// The label of a finding, treatment or condition by its id.
using LabelOf = std::function<std::string(const std::string& id)>;

// "Chestpiece on the right upper front", "Found no wheeze, left", "Began: oxygen by mask"
std::string step_in_words(const Deed& deed, const exam::SiteMap& sites, const LabelOf& label_of);
// The name of the nearest site, else the place in words.
std::string place_in_words(const exam::TorsoPoint& point, const exam::SiteMap& sites);
// "inhaled_bronchodilator" as "inhaled bronchodilator": a label where nothing better is known.
std::string spaced(std::string id);

}  // namespace phren::bedside

namespace phren {

template <>
inline constexpr std::array<Word<bedside::StepKind>, 5> kWords<bedside::StepKind>{
    {{bedside::StepKind::kListen, "listen"},
     {bedside::StepKind::kExamine, "examine"},
     {bedside::StepKind::kFind, "find"},
     {bedside::StepKind::kTreat, "treat"},
     {bedside::StepKind::kOther, "other"}}};

}  // namespace phren
