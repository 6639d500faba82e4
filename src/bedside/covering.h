// Which parts of the chest are bare, and how thick the cloth is where they are not: told here once, for
// the chestpiece, the stays and the pages.
#pragma once

#include <cstdint>
#include <optional>

#include "bedside/log.h"

namespace phren::bedside {

class Covering {
 public:
  explicit Covering(Clothing worn = Clothing::kBare) noexcept : worn_(worn) {}

  // What exposing and covering do; true if the deed is one of them.
  bool apply(const Deed& deed) noexcept {
    if (const auto* expose = std::get_if<Expose>(&deed)) {
      bare_ |= expose->aspect ? bit(*expose->aspect) : kAll;
      return true;
    }
    if (!std::holds_alternative<Cover>(deed)) return false;
    bare_ = 0;
    return true;
  }
  // The neck is never covered.
  bool is_bare(exam::Aspect part) const noexcept {
    return worn_ == Clothing::kBare || part == exam::Aspect::kNeck || (bare_ & bit(part)) != 0;
  }
  bool is_closed() const noexcept { return worn_ != Clothing::kBare && bare_ == 0; }
  double thickness_at(exam::Aspect part) const noexcept {
    return is_bare(part) ? 0.0 : thickness_of(worn_);
  }

 private:
  static constexpr std::uint32_t kAll = ~0u;
  static std::uint32_t bit(exam::Aspect part) noexcept { return 1u << static_cast<unsigned>(part); }
  Clothing worn_;
  std::uint32_t bare_ = 0;
};

}  // namespace phren::bedside
