// Difficulty of items from a class's practice: not everybody answered everything, and some items
// were answered many times. Rasch model with a fixed share of lucky guesses.
//
// Units:   logits; ability in the class is N(0, 1), so 0 is the middle of those who answered.
// Errors:  kInvalidArgument naming the count or the item that is out of range.
// Source:  marginal maximum likelihood by expectation and maximisation, Bock & Aitkin 1981;
//          standard errors from the observed information, Louis 1982 (citations from memory). With
//          complete answers, no guessing and no prior it is calibrate_marginal's kUnit: checked
//          against R package ltm in tests/published/teaching_irt_test.cc.
// Limits:  a person counts with one ability, though practice is there to change it.
#pragma once

#include <cstddef>
#include <vector>

#include "base/result.h"
#include "teaching/statistics/item_response.h"

namespace phren::teaching {

// What one person did with one item.
struct AnswerCount {
  std::size_t person = 0, item = 0;
  double answers = 0.0, right = 0.0;
};
struct ItemPrior {
  double guess = 0.0;  // share right of who knows nothing, at least 0 and below 1
  double mean = 0.0;
  double sd = 1.0;  // > 0; infinite: no prior
};
struct SparseDifficulty {
  Estimate difficulty;
  std::size_t persons = 0;
  double answers = 0.0, right = 0.0;
};
Result<std::vector<SparseDifficulty>> calibrate_sparse(const std::vector<AnswerCount>& counts,
                                                       const std::vector<ItemPrior>& items);

// An item whose difficulty is known only so far: its curve averaged over what the difficulty may
// be, which is flatter, so that answers to it count for less.
// Source:  logistic averaged over a normal, MacKay 1992, Neural Computation 4:720 (from memory);
//          within 0.02 of the integral for standard errors to 1 (teaching_tests).
Item item_of_uncertain_difficulty(double difficulty, double se, double guess);

}  // namespace phren::teaching
