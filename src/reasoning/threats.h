// What could kill first: rules on findings, whatever the probabilities say.
#pragma once

#include <string>
#include <vector>

#include "reasoning/knowledge.h"
#include "reasoning/observe.h"

namespace phren::reasoning {

// Named threats (a line of the rule holds) by urgency, then open ones: a line that holds as far as
// it was looked at, one finding that is there among it, and has exactly one word still unknown.
std::vector<Threat> find_threats(const Knowledge& knowledge, const Observations& known);

// What a reader must know of a rule beside its source, by its `status` of data/threats.toml:
// "rule is our choice", "rule is our choice; figures from memory", or "" if published as it is.
std::string standing_in_words(const Threat& threat);

}  // namespace phren::reasoning
