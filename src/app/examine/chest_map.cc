#include "app/examine/chest_map.h"

#include <fmt/core.h>

#include <algorithm>

#include "app/examine/markup.h"

namespace phren::app {
namespace {

struct Point {
  double x, y;
};

// Each drawing has its own origin: the suprasternal notch in front, the spine of C7 behind, the
// armpit line at the sides. Proportions follow exam::TorsoPoint.
constexpr double kWidth = 900, kHeight = 346;
constexpr double kHalfBreadth = 78, kNotchToNipple = 150, kBackLength = 205;
constexpr double kSideHalf = 48;
constexpr Point kRightSide{80, 92}, kFront{305, 92}, kBack{595, 78}, kLeftSide{820, 92};

Point place(const exam::TorsoPoint& at) {
  switch (at.aspect) {
    case exam::Aspect::kBack:  // seen from behind: the patient's left is on our left
      return {kBack.x - at.u * kHalfBreadth, kBack.y + at.v * kBackLength};
    case exam::Aspect::kRightSide:  // faces right
      return {kRightSide.x - at.u * kSideHalf, kRightSide.y + at.v * kNotchToNipple};
    case exam::Aspect::kLeftSide:  // faces left
      return {kLeftSide.x + at.u * kSideHalf, kLeftSide.y + at.v * kNotchToNipple};
    case exam::Aspect::kFront:
    case exam::Aspect::kNeck:
      break;
  }
  return {kFront.x + at.u * kHalfBreadth, kFront.y + at.v * kNotchToNipple};
}

// Half an outline and its mirror image about x = 0, moved to `at`.
std::string mirrored(Point at, const char* half_path) {
  return fmt::format(
      "<g transform='translate({0} {1})'><path d='{2}'/><path d='{2}' transform='scale(-1 "
      "1)'/></g>",
      at.x, at.y, half_path);
}

std::string drawings() {
  const char* front_outline =
      "M18 -74 C19 -50 20 -34 24 -27 C40 -16 84 -14 101 4 C114 18 118 48 121 84 "
      "M90 66 C86 108 80 150 79 190 C79 206 80 220 82 232";
  const char* clavicle = "M7 -2 C26 -14 58 -10 84 -16";
  const char* front_ribs =
      "M5 2 L6 108 M6 108 C24 118 46 150 66 186 "  // sternum, costal margin
      "M6 34 C30 26 56 30 76 52 M6 62 C34 56 62 64 80 92 M6 90 C36 92 64 106 79 134";
  const char* back_outline =
      "M19 -56 C20 -34 22 -20 26 -13 C44 -2 86 0 102 18 C115 32 118 62 121 98 "
      "M90 80 C86 122 80 164 79 204 C79 220 80 234 82 246";
  const char* scapula = "M24 30 L66 22 C70 44 58 92 46 112 C36 90 26 58 24 30 Z";
  const char* back_ribs = "M10 128 C30 130 56 142 76 164 M10 158 C32 162 58 176 76 198";
  const char* side_outline =  // the patient faces to the right; front edge at +46, back at -46
      "M22 -74 C22 -54 26 -36 34 -24 C50 10 54 60 51 108 C50 150 44 190 46 232 "
      "M-14 -74 C-14 -54 -22 -40 -34 -26 C-54 0 -58 60 -54 110 C-52 150 -42 190 -44 232 "
      "M-20 20 C-24 -8 24 -10 22 20 C22 44 18 70 16 92 M-20 20 C-20 44 -16 70 -14 92";
  const auto side = [&](Point at, int direction) {
    return fmt::format("<g transform='translate({} {}) scale({} 1)'><path d='{}'/></g>", at.x, at.y,
                       direction, side_outline);
  };
  std::string out = "<g class='body'>";
  out += side(kRightSide, 1) + side(kLeftSide, -1);
  out += mirrored(kFront, front_outline) + mirrored(kBack, back_outline);
  out += "</g><g class='bone'>" + mirrored(kFront, clavicle) + mirrored(kFront, front_ribs) +
         mirrored(kBack, scapula) + mirrored(kBack, back_ribs);
  out += fmt::format("<path d='M{0} {1} V{2}' stroke-dasharray='2 5'/></g>", kBack.x, kBack.y - 6,
                     kBack.y + 236);
  const auto caption = [](Point at, const char* text) {
    return fmt::format("<text class='caption' x='{}' y='{}'>{}</text>", at.x, kHeight - 4, text);
  };
  return out + caption(kRightSide, "right side") + caption(kFront, "front") +
         caption(kBack, "back") + caption(kLeftSide, "left side");
}

std::string drawn(const ChestMark& mark) {
  const Point at = place(mark.site.at);
  // 6 px for the loudest, 2.5 px from 30 dB below it.
  const double radius = 6.0 + 3.5 * std::clamp(mark.relative_level_db, -30.0, 0.0) / 30.0;
  const bool is_right = mark.site.side == exam::Side::kRight;
  // Letters stand outward of the mark; in the back view right and left are exchanged.
  const bool is_back = mark.site.at.aspect == exam::Aspect::kBack;
  const bool to_the_left = is_right != is_back;
  std::string out =
      mark.link.empty() ? std::string("<g>") : fmt::format("<a href='{}'>", escape(mark.link));
  out += fmt::format("<title>{}</title><circle class='{}' cx='{:.1f}' cy='{:.1f}' r='{:.1f}'/>",
                     escape(mark.description), mark.is_silent ? "silent" : "mark", at.x, at.y,
                     mark.is_silent ? 5.0 : radius);
  if (!mark.letters.empty()) {
    out += fmt::format("<text class='letters {}' x='{:.1f}' y='{:.1f}'>{}</text>",
                       to_the_left ? "e" : "s", at.x + (to_the_left ? -8.5 : 8.5), at.y + 4,
                       escape(mark.letters));
  }
  return out + (mark.link.empty() ? "</g>" : "</a>");
}

}  // namespace

std::string chest_map_svg(const std::vector<ChestMark>& marks, const std::string& description) {
  std::string out =
      fmt::format("<svg class='chest' role='img' viewBox='0 0 {} {}'><title>{}</title>", kWidth,
                  kHeight, escape(description));
  out += drawings();
  for (const ChestMark& mark : marks) out += drawn(mark);
  return out + "</svg>";
}

}  // namespace phren::app
