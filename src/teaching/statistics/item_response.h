// Ability of a person from items of known difficulty and slope (logistic item response models).
//
// Units:   ability and difficulty in logits, D = 1 (no 1.702). Slope a > 0; Rasch is a = 1;
//          guess c is the floor of the curve, 0 for Rasch and 2PL.
// Errors:  estimates that do not exist (all right, all wrong) are empty, never a large number.
// Source:  Birnbaum 1968; weighted likelihood Warm 1989; expected a posteriori Bock & Mislevy 1982
//          (citations from memory). Checked against published and reference-package values in
//          tests/published/teaching_irt_test.cc.
#pragma once

#include <optional>
#include <vector>

#include "teaching/statistics/estimate.h"

namespace phren::teaching {

struct Item {
  double slope = 1.0;
  double difficulty = 0.0;
  double guess = 0.0;
};
Item item_from_intercept(double slope, double intercept);  // difficulty = -intercept / slope

double probability_right(const Item& item, double ability);
double information(const Item& item, double ability);

struct Response {
  Item item;
  bool right = false;
};
using Responses = std::vector<Response>;

double test_information(const Responses& responses, double ability);

// Posterior mean and sd under a standard normal prior; exists for every pattern, even an empty one.
Estimate ability_eap(const Responses& responses);
// Posterior mode under the same prior. 2PL only (guess is ignored in the score equation).
Estimate ability_map(const Responses& responses);
// Maximum likelihood; empty when all are right or all wrong.
std::optional<Estimate> ability_mle(const Responses& responses);
// Warm's weighted likelihood: less biased, exists for every pattern; empty for no responses.
std::optional<Estimate> ability_wle(const Responses& responses);

}  // namespace phren::teaching
