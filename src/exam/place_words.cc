#include "exam/place_words.h"

#include <span>
#include <string_view>

#include "exam/names.h"

namespace phren::exam {
namespace {

struct UpTo {
  double limit;
  std::string_view words;
};

constexpr double kOn = 1e9;
constexpr UpTo kRibSpaces[] = {{-0.05, "above the clavicle"}, {0.34, "1st rib space"},
                               {0.55, "2nd rib space"},       {0.74, "3rd rib space"},
                               {0.9, "4th rib space"},        {1.06, "5th rib space"},
                               {1.21, "6th rib space"},       {1.36, "7th rib space"},
                               {1.52, "8th rib space"},       {kOn, "below the 8th rib space"}};
constexpr UpTo kFrontLines[] = {{0.09, "over the sternum"},
                                {0.3, "beside the sternum"},
                                {0.46, "inside the midclavicular line"},
                                {0.74, "midclavicular line"},
                                {0.92, "between midclavicular and anterior axillary line"},
                                {kOn, "anterior axillary line"}};
constexpr UpTo kBackLines[] = {{0.1, "over the spine"},
                               {0.38, "between spine and shoulder blade"},
                               {0.6, "scapular line"},
                               {kOn, "posterior axillary line"}};
constexpr UpTo kSideLines[] = {
    {-0.4, "anterior axillary line"}, {0.4, "mid-axillary line"}, {kOn, "posterior axillary line"}};
constexpr UpTo kNeckHeights[] = {{-0.42, "below the jaw"},
                                 {-0.22, "over the larynx"},
                                 {-0.05, "over the trachea"},
                                 {kOn, "at the notch above the breastbone"}};
constexpr double kMidline = 0.08;

std::string first_up_to(std::span<const UpTo> table, double value) {
  for (const UpTo& one : table) {
    if (value <= one.limit) return std::string(one.words);
  }
  return std::string(table.back().words);
}

double size_of(double value) {
  return value < 0.0 ? -value : value;
}

// The spine from C7 (0) to T12 (1) in twelve steps.
std::string vertebra(double v) {
  if (v * 12.0 < 0.5) return "level of C7";
  if (v * 12.0 >= 12.5) return "below T12";
  return "level of T" + std::to_string(static_cast<int>(v * 12.0 + 0.5));
}

}  // namespace

Side side_of(const TorsoPoint& point) {
  if (point.aspect == Aspect::kRightSide) return Side::kRight;
  if (point.aspect == Aspect::kLeftSide) return Side::kLeft;
  if (size_of(point.u) < kMidline) return Side::kMidline;
  return point.u < 0.0 ? Side::kRight : Side::kLeft;
}

TorsoPoint mirrored(const TorsoPoint& point) {
  if (point.aspect == Aspect::kRightSide) return {Aspect::kLeftSide, point.u, point.v};
  if (point.aspect == Aspect::kLeftSide) return {Aspect::kRightSide, point.u, point.v};
  return {point.aspect, point.u == 0.0 ? 0.0 : -point.u, point.v};
}

std::string in_words(const TorsoPoint& point) {
  const std::string side(to_string(side_of(point)));
  switch (point.aspect) {
    case Aspect::kFront:
      return side + ", " + first_up_to(kRibSpaces, point.v) + ", " +
             first_up_to(kFrontLines, size_of(point.u));
    case Aspect::kBack:
      return side + " back, " + vertebra(point.v) + ", " +
             first_up_to(kBackLines, size_of(point.u));
    case Aspect::kNeck:
      return "neck, " + side + ", " + first_up_to(kNeckHeights, point.v);
    default:
      return side + " side, " + first_up_to(kRibSpaces, point.v) + ", " +
             first_up_to(kSideLines, point.u);
  }
}

}  // namespace phren::exam
