#include "acoustics/figure/parts.h"

namespace phren::acoustics {

exam::BodyPart part_of(const Figure& figure, const Triangle& triangle) noexcept {
  const auto share = [&](Plane plane) {
    float sum = 0.0f;
    for (const std::uint32_t v : triangle) sum += figure.share(plane, v);
    return sum / 3.0f;
  };
  if (share(Plane::kHead) > 0.5f) return exam::BodyPart::kFace;
  if (share(Plane::kArm) > 0.5f) return exam::BodyPart::kBearing;
  float height_cm = 0.0f, out_cm = 0.0f;
  for (const std::uint32_t v : triangle) {
    height_cm += figure.at[v].z / 3.0f;
    out_cm += (figure.at[v].x < 0.0f ? -1.0f : 1.0f) * figure.at[v].x / 3.0f;
  }
  // Below a line from the notch along the collar bone it is the chest; beyond its middle the shoulder.
  const Point inner = figure.of(Landmark::kSternoclavicularJoint);
  const Point middle = figure.of(Landmark::kMidclavicularPoint);
  const float rise = (middle.z - inner.z) / (middle.x - inner.x);
  const float bone_cm = inner.z + rise * (out_cm - inner.x);
  if (height_cm < (out_cm < inner.x ? inner.z : bone_cm)) return exam::BodyPart::kTrunk;
  return out_cm < middle.x ? exam::BodyPart::kNeck : exam::BodyPart::kBearing;
}

}  // namespace phren::acoustics
