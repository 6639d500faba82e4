// The figure breathes as the model does: read off the moved vertices, side by side.
#include <gtest/gtest.h>

#include <cmath>

#include "acoustics/figure/parts.h"
#include "acoustics/figure/seen.h"
#include "nine_bodies.h"

namespace phren::acoustics {
namespace {

BreathNow breath_of(const patient::Snapshot& s) {
  return seen_of(s, {}).breath;
}
double side_of(const BreathNow& b, std::size_t k) {
  const double lobes = k == 0 ? b.lobe_L[0] + b.lobe_L[1] + b.lobe_L[2] : b.lobe_L[3] + b.lobe_L[4];
  return lobes + b.pleural_L[k];
}

// Litres that the skin of each side has moved out from `before` to `after`, triangle by triangle.
std::array<double, 2> swept_L(const Figure& figure, const std::vector<Point>& before,
                              const std::vector<Point>& after) {
  std::array<double, 2> out{};
  for (const Triangle& t : figure.triangles) {
    const Point a = before[t[0]], b = before[t[1]], c = before[t[2]];
    const Point way = (1.0f / 3.0f) * ((after[t[0]] - a) + (after[t[1]] - b) + (after[t[2]] - c));
    const double volume_cm3 = 0.5 * static_cast<double>(dot(cross(b - a, c - a), way));
    const float middle = a.x + b.x + c.x;
    out[middle < 0.0f ? 0 : 1] += 0.001 * volume_cm3;
  }
  return out;
}

struct Breath {
  BreathNow low, high;  // of the whole chest, at its least and its most
};
Breath one_breath(patient::Patient& body) {
  Breath out;
  double least = 1e9, most = -1e9;
  const double end = body.time_s() + 12.0;
  while (body.time_s() < end) {
    body.step();
    const patient::Snapshot s = body.snapshot();
    if (s.total_volume_L < least) least = s.total_volume_L, out.low = breath_of(s);
    if (s.total_volume_L > most) most = s.total_volume_L, out.high = breath_of(s);
  }
  return out;
}

struct Case {
  const char* condition;
  double severity;
  exam::Side side;
};

// Both halves of the belly move alike and the cage of each side by its own share, so what the skin
// swept tells each side's volume: sum and difference of the halves.
void expect_sides_as_modelled(const Case& one, const patient::Person& person) {
  auto patient = sick(one.condition, one.severity, person, one.side);
  patient.advance_to(30.0);
  const Breath breath = one_breath(patient);
  const Body body(person);
  Motion motion(body.figure, body.map, body.ribs);
  const patient::Signs calm;
  motion.move(breath.low, calm, {});
  const auto before = motion.at();
  motion.move(breath.high, calm, {});
  const auto swept = swept_L(body.figure, before, motion.at());
  const double ribs = motion.rib_share(0.0);
  const double sum = swept[0] + swept[1], difference = (swept[0] - swept[1]) / ribs;
  for (std::size_t k = 0; k < 2; ++k) {
    const double modelled = side_of(breath.high, k) - side_of(breath.low, k);
    const double drawn = 0.5 * (sum + (k == 0 ? difference : -difference));
    const double total = side_of(breath.high, 0) - side_of(breath.low, 0) +
                         side_of(breath.high, 1) - side_of(breath.low, 1);
    EXPECT_NEAR(drawn, modelled, 0.05 * std::max(0.5 * total, modelled))
        << one.condition << ", side " << k << ", " << person.age_years << " years";
  }
}

TEST(FigureMotion, EachSideRisesByTheVolumeTheModelGivesIt) {
  const auto man = person_of(kNineBodies[5]), child = person_of(kNineBodies[2]);
  for (const Case& one :
       {Case{"healthy", 0.0, exam::Side::kMidline}, Case{"pneumothorax", 0.8, exam::Side::kRight},
        Case{"tension_pneumothorax", 0.7, exam::Side::kLeft},
        Case{"bronchial_foreign_body", 1.0, exam::Side::kRight},
        Case{"haemothorax", 0.7, exam::Side::kLeft}, Case{"asthma", 0.7, exam::Side::kMidline}}) {
    expect_sides_as_modelled(one, man);
  }
  expect_sides_as_modelled({"bronchial_foreign_body", 1.0, exam::Side::kRight}, child);
}

// A side that the model leaves still is drawn still: no leak across the midline beyond 5 %.
TEST(FigureMotion, OneSideAloneMovesOneSide) {
  const Body body(person_of(kNineBodies[5]));
  Motion motion(body.figure, body.map, body.ribs);
  BreathNow breath;
  breath.lobe_L = motion.rest_L();
  motion.move(breath, {}, {});
  const auto before = motion.at();
  for (const std::size_t lobe : {3u, 4u}) breath.lobe_L[lobe] += 0.2;
  motion.move(breath, {}, {});
  const auto swept = swept_L(body.figure, before, motion.at());
  const double ribs = motion.rib_share(0.0), belly = 0.5 * (1.0 - ribs) * 0.4;
  EXPECT_NEAR(swept[0] - belly, 0.0, 0.05 * 0.4 * ribs);
  EXPECT_NEAR(swept[1] - belly, 0.4 * ribs, 0.05 * 0.4 * ribs);
}

// Skin of ribs 3 to 5 moves 3 to 5 mm in a quiet breath of a seated adult (De Groote 1997); the
// belly 8 to 12 mm lying (from memory). Children less: newborn belly 3-6 mm (from memory).
TEST(FigureMotion, AQuietBreathMovesTheSkinByMillimetres) {
  const Body body(person_of(kNineBodies[5]));
  Motion motion(body.figure, body.map, body.ribs);
  BreathNow breath;
  breath.lobe_L = motion.rest_L();
  const auto moved_mm = [&](const SkinSpot& spot, double lying) {
    BreathNow full = breath;
    for (std::size_t i = 0; i < full.lobe_L.size(); ++i)
      full.lobe_L[i] += 0.5 * patient::kLobeShare[i];
    motion.move(breath, {}, {0.0, lying, 1.0});
    const Point a = body.map.point(spot, motion.at());
    motion.move(full, {}, {0.0, lying, 1.0});
    const Point d = body.map.point(spot, motion.at()) - a;
    return 10.0 * std::sqrt(static_cast<double>(dot(d, d)));
  };
  const auto chest = body.map.at(0.45, body.ribs.height_cm(4.0, 0.45));
  const auto navel =
      body.map.at(0.0, static_cast<double>(body.figure.of(Landmark::kNavel).z) + 5.0);
  ASSERT_TRUE(chest && navel);
  const double of_chest = moved_mm(*chest, 0.0), of_belly = moved_mm(*navel, 1.0);
  RecordProperty("chest_mm", std::to_string(of_chest));
  RecordProperty("belly_mm", std::to_string(of_belly));
  EXPECT_GE(of_chest, 2.0);
  EXPECT_LE(of_chest, 7.0);
  EXPECT_GE(of_belly, 5.0);
  EXPECT_LE(of_belly, 14.0);
}

// Drawing-in goes inward, only while muscles pull, and between ribs, not on them.
TEST(FigureMotion, RetractionsDrawInWhileTheMusclesPull) {
  const Body body(person_of(kNineBodies[1]));
  Motion motion(body.figure, body.map, body.ribs);
  BreathNow breath;
  breath.lobe_L = motion.rest_L();
  patient::Signs signs;
  signs.retractions = 1.0;
  const auto notch = body.map.at(0.0, 0.8 * body.ribs.scale());
  ASSERT_TRUE(notch);
  const auto place = [&](double effort) {
    breath.effort_cmH2O = effort;
    motion.move(breath, signs, {});
    return body.map.point(*notch, motion.at());
  };
  const Point at_rest = place(0.0), pulling = place(12.0);
  EXPECT_LT(pulling.y, at_rest.y - 0.1f);  // at least a millimetre in
  EXPECT_GT(pulling.y, at_rest.y - 1.1f);  // and no more than eleven
}

// A loose piece of the wall sinks while the rest of its side rises, and the side takes up what the model
// gives it (5 %, as above); the other side does not sink.
TEST(FigureMotion, AFlailPieceSinksAsItsSideRises) {
  for (const std::size_t of : {5u, 2u}) {
    const Body body(person_of(kNineBodies[of]));
    Motion motion(body.figure, body.map, body.ribs);
    BreathNow breath;
    breath.lobe_L = motion.rest_L();
    patient::Signs signs;
    signs.flail = {0.7, 0.0};
    motion.move(breath, signs, {});
    const auto before = motion.at();
    const double more_L = 0.12 * breath.lobe_L[0];  // hard work for a breath of quiet size
    for (double& lobe : breath.lobe_L) lobe += more_L;
    breath.effort_cmH2O = 12.0;
    motion.move(breath, signs, {});
    const auto front_cm = [&](double angle) {
      const auto spot = body.map.at(angle, body.ribs.height_cm(5.3, angle));
      const Point at = body.map.point(*spot, before), n = body.map.point(*spot, body.figure.normal);
      return static_cast<double>(dot(body.map.point(*spot, motion.at()) - at, n));
    };
    EXPECT_LT(front_cm(-0.95), -0.1 * body.ribs.scale()) << kNineBodies[of].name;
    EXPECT_GT(front_cm(0.95), 0.0) << kNineBodies[of].name;
    const auto swept = swept_L(body.figure, before, motion.at());
    const double ribs = motion.rib_share(0.0), difference = (swept[0] - swept[1]) / ribs;
    EXPECT_NEAR(difference, 1.0 * more_L, 0.05 * 5.0 * more_L);  // three lobes against two
  }
}

// Chest out and belly in at once: together they are still the breath.
TEST(FigureMotion, WithParadoxTheBellySinksAsTheChestRises) {
  const Body body(person_of(kNineBodies[1]));
  Motion motion(body.figure, body.map, body.ribs);
  BreathNow full;
  full.lobe_L = motion.rest_L();
  full.lobe_L[0] += 0.05;
  patient::Signs signs;
  signs.abdominal_paradox = 1.0;
  motion.move(full, signs, {});
  EXPECT_LT(motion.belly_L(), 0.0);
  EXPECT_NEAR(motion.belly_L() + motion.side_L()[0] + motion.side_L()[1], 0.05, 1e-9);
}

// Each part is met where it lies, from in front.
TEST(FigureParts, FaceNeckTrunkAndArms) {
  for (const Someone& someone : kNineBodies) {
    const Body body(person_of(someone));
    const auto part_at = [&](Point from) {
      from.y += 60.0f;
      const auto spot =
          first_met(body.figure.at, body.figure.triangles, from, Point{0.0f, -1.0f, 0.0f});
      EXPECT_TRUE(spot) << someone.name;
      return part_of(body.figure, body.figure.triangles[spot->triangle]);
    };
    const Figure& g = body.figure;
    const float neck = 0.35f * g.of(Joint::kHead).z;
    EXPECT_EQ(part_at(g.of(Joint::kMouth)), exam::BodyPart::kFace) << someone.name;
    EXPECT_EQ(part_at({0.0f, 0.0f, neck}), exam::BodyPart::kNeck) << someone.name;
    EXPECT_EQ(part_at(g.of(Landmark::kNipple)), exam::BodyPart::kTrunk) << someone.name;
    EXPECT_EQ(part_at(g.of(Landmark::kNavel)), exam::BodyPart::kTrunk) << someone.name;
    const Point shoulder = g.of(Joint::kShoulder);
    EXPECT_EQ(part_at({1.25f * shoulder.x, 0.0f, shoulder.z}), exam::BodyPart::kBearing)
        << someone.name;
  }
}

// What crosses from the engine's module to the figure's comes out as it went in.
TEST(Seen, RowOfNumbersAndBack) {
  auto body = sick("tension_pneumothorax", 0.8, person_of(kNineBodies[5]), exam::Side::kLeft);
  body.advance_to(40.0);
  patient::Signs signs = body.signs();
  signs.tripod = true;
  signs.consciousness = patient::Consciousness::kPain;
  const Seen seen = seen_of(body.snapshot(), signs);
  std::array<double, kSeenLength> row{}, again{};
  write_seen(seen, row);
  write_seen(read_seen(row), again);
  EXPECT_EQ(row, again);
  EXPECT_EQ(read_seen(row).breath.lobe_L, seen.breath.lobe_L);
  EXPECT_EQ(read_seen(row).signs.consciousness, patient::Consciousness::kPain);
  EXPECT_TRUE(read_seen(row).signs.tripod);
  EXPECT_GT(read_seen(row).breath.pleural_L[1], 0.1);
}

// Twice as plain is twice the movement, for a hall; never more by itself.
TEST(FigureMotion, PlainMovementIsTwiceTheTrueOne) {
  const Body body(person_of(kNineBodies[4]));
  Motion motion(body.figure, body.map, body.ribs);
  BreathNow full;
  full.lobe_L = motion.rest_L();
  full.lobe_L[0] += 0.2;
  motion.move(full, {}, {});
  const auto once = swept_L(body.figure, body.figure.at, motion.at());
  Pose twice;
  twice.plain = 2.0;
  motion.move(full, {}, twice);
  const auto doubled = swept_L(body.figure, body.figure.at, motion.at());
  // Arms hang by the same angle in both, so take them out by the difference.
  motion.move({motion.rest_L(), {}, 0.0}, {}, {});
  const auto none = swept_L(body.figure, body.figure.at, motion.at());
  EXPECT_NEAR(doubled[0] - none[0], 2.0 * (once[0] - none[0]), 0.01);
}

}  // namespace
}  // namespace phren::acoustics
