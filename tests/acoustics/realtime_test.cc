// What real time demands: no allocation while rendering, no clicks while the chestpiece moves, and
// only what is audible costs.
#include <gtest/gtest.h>

#include <atomic>
#include <cstdlib>
#include <new>

#include "acoustics/bedside.h"
#include "acoustics/instruments.h"
#include "acoustics/measures.h"
#include "base/files.h"
#include "bedside/bedside.h"

// g++ 12 sees malloc behind one inlined operator and free behind another, and takes them for a mismatch.
#if defined(__GNUC__) && !defined(__clang__)
#pragma GCC diagnostic ignored "-Wmismatched-new-delete"
#endif

namespace {
std::atomic<std::size_t> num_allocations{0};
}

// Sanitizers bring an allocator of their own.
#if !defined(__SANITIZE_ADDRESS__) && !defined(__SANITIZE_THREAD__)
constexpr bool kCountsAllocations = true;
void* operator new(std::size_t size) {
  ++num_allocations;
  if (void* p = std::malloc(size)) return p;
  throw std::bad_alloc();
}
void* operator new(std::size_t size, std::align_val_t align) {
  ++num_allocations;
  const std::size_t a = static_cast<std::size_t>(align);
  if (void* p = std::aligned_alloc(a, (size + a - 1) / a * a)) return p;
  throw std::bad_alloc();
}
void operator delete(void* p) noexcept {
  std::free(p);
}
void operator delete(void* p, std::size_t) noexcept {
  std::free(p);
}
void operator delete(void* p, std::align_val_t) noexcept {
  std::free(p);
}
void operator delete(void* p, std::size_t, std::align_val_t) noexcept {
  std::free(p);
}
#else
constexpr bool kCountsAllocations = false;
#endif

namespace phren::acoustics {
namespace {

using namespace testing;
using exam::Phase;

constexpr double kRate_hz = 48000.0;

// Everything at once: wheeze, mucus, crackles, rub, bubbles, narrow larynx, heart, voice.
SyntheticBreath everything() {
  SyntheticBreath breath;
  breath.change = [](patient::Snapshot& s) {
    for (auto& lobe : s.lobe) {
      lobe.reopening = {30.0, 20.0, 0.5, 0.2};
      lobe.secretions = 0.7;
      lobe.consolidation = 0.3;
      lobe.fibrosis = 0.4;
      if (s.phase == Phase::kExpiration) {
        lobe.flow_limitation = 0.95;
        lobe.choke_speed_m_per_s = 14.0;
        lobe.choke_half_gap_mm = 0.8;
        lobe.limited_volume_mL = 200.0 * s.since_phase_s;
      }
    }
    s.pleura[0].friction = 0.8;
    s.pleura[1].fluid_L = 0.4;
    s.upper_airway.narrowing = 0.5;
    s.upper_airway.area_mm2 = 30.0;
    s.upper_airway.jet_speed_m_per_s = 25.0 * s.trachea_flow_L_per_s;
    s.upper_airway.secretions = 0.6;
    s.upper_airway.grunting = 0.4;
    s.heart.loudness = 1.0;
    s.heart.third_sound = 0.7;
    s.voice = static_cast<patient::Voice>(static_cast<int>(s.time_s) % 5);
  };
  return breath;
}

TEST(Rendering, NeverAllocates) {
  if (!kCountsAllocations) GTEST_SKIP() << "the sanitizer's allocator is in the way";
  const SyntheticBreath breath = everything();
  Chestpiece piece = make_piece(kLeftBase);
  std::array<float, 128> out{};
  std::array<TruthEvent, 64> events;
  std::size_t made = 0, heard = 0;
  for (int block = 0; block < 5000; ++block) {
    const patient::Snapshot s = breath.at((block + 1) * 128.0 / kRate_hz);
    if (block % 400 == 100) piece.move_to({exam::Aspect::kFront, 0.1 * (block % 9) - 0.4, 0.6});
    if (block % 400 == 200) piece.percuss(kRightBase);
    if (block % 400 == 300) piece.lift();
    if (block % 900 == 450) piece.set_surroundings(Surroundings::kSiren);
    const std::size_t before = num_allocations;
    piece.render(s, out);
    heard += piece.drain_truth(events);
    made += num_allocations - before;
  }
  EXPECT_EQ(made, 0u);
  EXPECT_GT(heard, 100u);
  static_assert(noexcept(piece.render(patient::Snapshot{}, out)));
}

TEST(Rendering, NeverAllocatesAsOnAPatient) {
  if (!kCountsAllocations) GTEST_SKIP() << "the sanitizer's allocator is in the way";
  const SyntheticBreath breath = everything();
  const auto instruments = Instruments::load(data_directory() / "instruments");
  ASSERT_TRUE(instruments.has_value());
  Chestpiece piece = make_piece(kLeftBase);
  std::array<float, 128> out{};
  std::array<TruthEvent, 64> events;
  std::size_t made = 0, heard = 0;
  for (int block = 0; block < 5000; ++block) {
    const patient::Snapshot s = breath.at((block + 1) * 128.0 / kRate_hz);
    const std::size_t before = num_allocations;
    if (block == 10) piece.set_instrument(instruments->all()[2].instrument);
    if (block == 10) piece.set_realness(Realness::kPatient);
    if (block % 400 == 100) piece.move_to({exam::Aspect::kFront, 0.1 * (block % 9) - 0.4, 0.6});
    if (block % 400 == 300) piece.lift();
    piece.render(s, out);
    heard += piece.drain_truth(events);
    made += num_allocations - before;
  }
  EXPECT_EQ(made, 0u);
  EXPECT_GT(heard, 100u);
}

TEST(Rendering, StaysFiniteAndWithinFullScale) {
  const SyntheticBreath breath = everything();
  for (const double rate : {4000.0, 8000.0, 44100.0, 192000.0}) {
    Chestpiece piece = make_piece(kTrachea, adult(), 3, rate);
    const Rendered sound = render(piece, breath, 0.0, 4.0, rate, 100);
    for (const float x : sound.samples) ASSERT_TRUE(std::abs(x) <= 1.5f);
  }
}

TEST(Rendering, ASteadyStateSoundsTheSameHoweverItIsCut) {
  // A longer block is cut into chunks of 128 frames with states in a straight line between its
  // ends, so a steady state sounds the same however it is cut.
  SyntheticBreath still{.peak_in_L_per_s = 0.0, .peak_out_L_per_s = 0.0};
  Chestpiece c = make_piece(kLeftBase), d = make_piece(kLeftBase);
  still.change = [](patient::Snapshot& s) {
    s.trachea_flow_L_per_s = 0.5;
    for (auto& lobe : s.lobe) lobe.flow_L_per_s = 0.1, lobe.volume_fraction = 0.4;
  };
  EXPECT_EQ(render(c, still, 0.0, 1.0, kRate_hz, 128).samples,
            render(d, still, 0.0, 1.0, kRate_hz, 1280).samples);
}

// Largest step from sample to sample against what the local noise makes by itself: the chestpiece
// sweeps over front, sides, back and neck in two seconds.
TEST(Rendering, ASweepOverTheTorsoMakesNoClick) {
  SyntheticBreath breath{.peak_in_L_per_s = 0.6, .peak_out_L_per_s = 0.6, .square = true};
  breath.inspiration_s = 30.0;  // steady flow, so that only the movement could click
  Chestpiece piece = make_piece({exam::Aspect::kFront, 0.0, 0.0});
  std::vector<float> sound(static_cast<std::size_t>(3.0 * kRate_hz));
  const std::size_t blocks = sound.size() / 128;
  for (std::size_t block = 0; block < blocks; ++block) {
    const double t = static_cast<double>(block) * 128.0 / kRate_hz - 0.5;
    if (t > 0.0 && t < 2.0) {
      // Once round the chest while going down and up again, over the neck at the end.
      exam::TorsoPoint at;
      const double turn = 4.0 * t / 2.0;
      const int quarter = static_cast<int>(turn);
      constexpr exam::Aspect kRound[] = {exam::Aspect::kFront, exam::Aspect::kLeftSide,
                                         exam::Aspect::kBack, exam::Aspect::kRightSide};
      at.aspect = t > 1.8 ? exam::Aspect::kNeck : kRound[quarter % 4];
      at.u = 0.9 * std::sin(9.0 * t);
      at.v = 0.6 + 0.5 * std::sin(7.0 * t);
      piece.move_to(at);
    }
    piece.render(breath.at(1.0 + (static_cast<double>(block) + 1.0) * 128.0 / kRate_hz),
                 std::span<float>(sound.data() + block * 128, 128));
  }
  // Second differences of smooth noise are small and near normal; a click is an outlier.
  double worst = 0.0;
  const std::size_t half = 480;  // 10 ms on either side
  for (std::size_t i = 9600 + half; i + half < blocks * 128; i += 16) {
    double square = 0.0, tallest = 0.0;
    for (std::size_t k = i - half; k < i + half; ++k) {
      const double d = static_cast<double>(sound[k + 1]) - 2.0 * static_cast<double>(sound[k]) +
                       static_cast<double>(sound[k - 1]);
      square += d * d;
      if (k + 8 >= i && k < i + 8) tallest = std::max(tallest, std::abs(d));
    }
    worst = std::max(worst, tallest / std::sqrt(square / (2.0 * half)));
  }
  std::printf("[ FIGURE   ] sweep: largest curvature %.2f of the local root mean square\n", worst);
  EXPECT_LT(worst, 6.5);  // normal noise reaches 5.2 in 10^5 draws; a click of half the level 15
}

TEST(Rendering, OnlyWhatIsAudibleCosts) {
  SyntheticBreath quiet{.peak_in_L_per_s = 0.0, .peak_out_L_per_s = 0.0};
  Chestpiece piece = make_piece(kLeftBase);
  render(piece, quiet, 0.0, 1.0, kRate_hz);
  EXPECT_EQ(piece.active_groups(), 0u);
  Chestpiece busy = make_piece(kLeftBase);
  render(busy, everything(), 0.0, 2.5, kRate_hz);
  EXPECT_GE(busy.active_groups(), 6u);
}

// Body, chestpiece, clothing and deeds that are still to come, as the page plays them.
TEST(Rendering, ABedsideAllocatesNothingWhileItPlays) {
  auto here = *bedside::Bedside::make({sick_config("asthma", 0.6), {}, {}, {}}, Seed{4}, kRate_hz);
  ASSERT_TRUE(here.follow({{"a", 0.1, bedside::Place{kLeftBase}},
                           {"b", 0.4, bedside::Instruct{patient::Manoeuvre::kDeep, 20.0}},
                           {"c", 0.7, bedside::Expose{}},
                           {"d", 1.0, bedside::Tap{kRightBase}},
                           {"e", 1.3, bedside::Lift{}}}));
  std::vector<float> block(128);
  const std::size_t before = num_allocations;
  for (int i = 0; i < 750; ++i) here.render(block);
  if (kCountsAllocations) {
    EXPECT_EQ(num_allocations, before);
  }
}

}  // namespace
}  // namespace phren::acoustics
