// An impression as readable text for the terminal: threats first, then the ranking with its
// reasons, the next looks, published rules, sayings beside the evidence.
#pragma once

#include <iosfwd>

#include "reasoning/types.h"

namespace phren::app {

void print_impression(const reasoning::Impression& impression, std::ostream& out);

// "4.2 %", "below 0.5 %" or "above 98 %".
std::string percent_text(double probability);

}  // namespace phren::app
