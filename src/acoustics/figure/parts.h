// Which part of the person a place of the skin belongs to, for whoever points at what is seen.
//
// Errors:  none.
// Source:  shares of the mesh (mould.h); the neck ends at notch and collar bones.
#pragma once

#include "acoustics/figure/figure.h"
#include "exam/body_part.h"

namespace phren::acoustics {

exam::BodyPart part_of(const Figure& figure, const Triangle& triangle) noexcept;

}  // namespace phren::acoustics
