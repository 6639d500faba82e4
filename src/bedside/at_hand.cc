#include "bedside/at_hand.h"

#include <algorithm>

namespace phren::bedside {
namespace {

using acoustics::Realness;

const acoustics::Layer* layer_of(std::string_view word) noexcept {
  for (const auto& [layer, name] : kWords<acoustics::Layer>) {
    if (name == word) return &layer;
  }
  return nullptr;
}

}  // namespace

const AtHand* Listening::find(std::string_view id) const noexcept {
  const auto found = std::find_if(at_hand_.begin(), at_hand_.end(),
                                  [&](const AtHand& one) { return one.id == id; });
  return found == at_hand_.end() ? nullptr : &*found;
}

Status Listening::check(const Listen& deed) const {
  for (const std::string& one : deed.without) {
    TRY(read_word<acoustics::Layer>("without", one));
  }
  const bool needs_one = deed.realness.value_or(Realness::kClean) != Realness::kClean;
  if (at_hand_.empty() && (needs_one || !deed.instrument_id.empty())) {
    return fail(ErrorCode::kNotFound,
                "listen: there is no instrument at this bedside; its packet was made before there "
                "were any. Begin it again.");
  }
  if (deed.instrument_id.empty() || find(deed.instrument_id) != nullptr) return {};
  std::vector<std::string> known;
  for (const AtHand& one : at_hand_) known.push_back(one.id);
  return fail(ErrorCode::kNotFound, "instrument '" + deed.instrument_id +
                                        "' is not at this bedside." +
                                        did_you_mean(deed.instrument_id, known));
}

void Listening::hold(const AtHand* one, acoustics::Chestpiece& piece) noexcept {
  if (one == held()) return;
  held_ = one == nullptr ? -1 : one - at_hand_.data();
  if (one == nullptr) {
    piece.put_instrument_away();
    piece.set_head(head_);
  } else {
    piece.set_instrument(one->instrument);
  }
}

void Listening::perform(const Listen& deed, acoustics::Chestpiece& piece) noexcept {
  if (deed.realness) realness_ = *deed.realness;
  if (!deed.instrument_id.empty()) is_chosen_ = true;
  const AtHand* wanted = deed.instrument_id.empty() ? held() : find(deed.instrument_id);
  if (!is_chosen_) {
    wanted = realness_ == Realness::kClean ? nullptr
             : held() == nullptr           ? find(acoustics::usual_instrument(head_))
                                           : held();
  }
  hold(wanted, piece);
  acoustics::LayerMix mix =
      held() == nullptr ? acoustics::LayerMix{} : acoustics::mix_of(realness_);
  for (const std::string& word : deed.without) {
    if (const acoustics::Layer* layer = layer_of(word)) mix[*layer] = 0.0;
  }
  piece.set_layers(mix);
}

void Listening::turn(acoustics::Head head, acoustics::Chestpiece& piece) noexcept {
  head_ = head;
  if (held() == nullptr) return piece.set_head(head);
  const AtHand* other = find(held()->other_side);
  if (other != nullptr && held()->instrument.head != head && other->instrument.head == head) {
    hold(other, piece);
  }
}

}  // namespace phren::bedside
