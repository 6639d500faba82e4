// A chestpiece in somebody's hand: where it lies, how hard it is pressed, which side is turned on.
// Several may listen to one body.
//
// Errors:  make() as acoustics::Chestpiece; the rest cannot fail and never allocates.
// Threads: an instance belongs to one thread.
#pragma once

#include <optional>
#include <utility>

#include "acoustics/chestpiece.h"
#include "bedside/at_hand.h"
#include "bedside/covering.h"
#include "bedside/log.h"

namespace phren::bedside {

class Stethoscope {
 public:
  static Result<Stethoscope> make(const patient::Person& person, Seed seed, double sample_rate_hz,
                                  std::vector<AtHand> at_hand = {}) {
    return Stethoscope(TRY(acoustics::Chestpiece::make({sample_rate_hz, person, seed})),
                       std::move(at_hand));
  }

  // What the hands do with it, and what the clothing does under it.
  void perform(const Deed& deed, const Covering& covering) noexcept {
    if (const auto* place = std::get_if<Place>(&deed)) {
      place_ = *place;
      touch(covering);
      piece_.move_to(place->point);
    } else if (std::holds_alternative<Lift>(deed)) {
      piece_.lift();
    } else if (const auto* tap = std::get_if<Tap>(&deed)) {
      piece_.percuss(tap->point);
    } else if (const auto* turn = std::get_if<TurnHead>(&deed)) {
      listening_.turn(turn->head, piece_);
    } else if (const auto* listen = std::get_if<Listen>(&deed)) {
      listening_.perform(*listen, piece_);
      touch(covering);
    } else if (std::holds_alternative<Expose>(deed) || std::holds_alternative<Cover>(deed)) {
      touch(covering);
    }
  }

  acoustics::Chestpiece& chestpiece() noexcept { return piece_; }
  const acoustics::Chestpiece& chestpiece() const noexcept { return piece_; }
  const Listening& listening() const noexcept { return listening_; }

 private:
  Stethoscope(acoustics::Chestpiece piece, std::vector<AtHand> at_hand)
      : piece_(std::move(piece)), listening_(std::move(at_hand)) {}
  void touch(const Covering& covering) noexcept {
    if (!place_) return;
    piece_.set_clothing(covering.thickness_at(place_->point.aspect));
    piece_.set_pressure(place_->pressure);
  }

  acoustics::Chestpiece piece_;
  Listening listening_;
  std::optional<Place> place_;  // the last one, also while lifted
};

}  // namespace phren::bedside
