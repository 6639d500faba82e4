// What lies at hand to listen with, and how it is used: through which instrument, how real, what is
// left out. One chestpiece's choice; a deed changes it.
//
// Errors:  check() says what cannot be chosen here; the rest cannot fail and never allocates.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

#include "acoustics/chestpiece.h"
#include "bedside/log.h"

namespace phren::bedside {

struct AtHand {
  std::string id;          // of data/instruments
  std::string name;        // one line
  std::string other_side;  // the id of what it is when turned round; empty: it has one side
  acoustics::Instrument instrument;
};

class Listening {
 public:
  Listening() = default;
  explicit Listening(std::vector<AtHand> at_hand) : at_hand_(std::move(at_hand)) {}

  const std::vector<AtHand>& at_hand() const noexcept { return at_hand_; }
  acoustics::Realness realness() const noexcept { return realness_; }
  std::string_view instrument_id() const noexcept {
    return held() != nullptr ? std::string_view(held()->id) : std::string_view();
  }
  // How much one breath differs from the next (patient::Patient::set_breath_variability).
  double breath_variability() const noexcept {
    return realness_ == acoustics::Realness::kClean ? 0.0 : 1.0;
  }

  Status check(const Listen& deed) const;
  void perform(const Listen& deed, acoustics::Chestpiece& piece) noexcept;
  void turn(acoustics::Head head, acoustics::Chestpiece& piece) noexcept;

 private:
  const AtHand* find(std::string_view id) const noexcept;
  const AtHand* held() const noexcept {
    return held_ < 0 ? nullptr : &at_hand_[static_cast<std::size_t>(held_)];
  }
  void hold(const AtHand* one, acoustics::Chestpiece& piece) noexcept;

  std::vector<AtHand> at_hand_;
  std::ptrdiff_t held_ = -1;  // of them; none: a plain stethoscope, as in a first lesson
  bool is_chosen_ = false;    // by name, so it stays when the chest is clean again
  acoustics::Realness realness_ = acoustics::Realness::kClean;
  acoustics::Head head_ = acoustics::Head::kDiaphragm;
};

}  // namespace phren::bedside
