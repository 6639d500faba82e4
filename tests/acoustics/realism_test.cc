// What reaches the chestpiece besides breath: clean stays clean, each layer can be taken away, each
// added thing is in the truth, and the instruments' figures come out.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>

#include "acoustics/instruments.h"
#include "acoustics/measures.h"
#include "base/files.h"

namespace phren::acoustics {
namespace {

using namespace testing;
using exam::Sound;
using ::testing::HasSubstr;

constexpr double kRate_hz = 8000.0;

Instrument instrument(std::string_view id) {
  const auto all = Instruments::load(data_directory() / "instruments");
  if (!all) throw std::runtime_error(all.error().message);
  const auto found = all->find(id);
  if (!found) throw std::runtime_error(found.error().message);
  return found->instrument;
}

LayerMix only(std::initializer_list<Layer> layers) {
  LayerMix mix;
  for (const Layer layer : layers) mix[layer] = 1.0;
  return mix;
}

Rendered listen(const Instrument& as, const LayerMix& mix, std::uint64_t seed = 7,
                double seconds = 12.0, const SyntheticBreath& breath = {}) {
  auto piece = Chestpiece::make({kRate_hz, adult(), Seed{seed}});
  piece->set_instrument(as);
  piece->set_layers(mix);
  piece->move_to(kLeftBase);
  piece->start_recorder();
  return render(*piece, breath, 0.0, seconds, kRate_hz, 64);
}

std::size_t all_of(const Rendered& sound, Sound kind) {
  return static_cast<std::size_t>(
      std::count_if(sound.events.begin(), sound.events.end(),
                    [&](const TruthEvent& e) { return e.sound == kind; }));
}

TEST(Realism, CleanThroughAFlatInstrumentChangesNoBit) {
  Chestpiece plain = make_piece(kLeftBase, adult(), 7, kRate_hz);
  Instrument flat;
  flat.head = Head::kSensor;
  EXPECT_EQ(render(plain, {}, 0.0, 4.0, kRate_hz, 64).samples,
            listen(flat, mix_of(Realness::kClean), 7, 4.0).samples);
}

TEST(Realism, TheSameSeedSoundsTheSameAndAnotherDoesNot) {
  const Instrument as = instrument("contact_sensor");
  const LayerMix real = mix_of(Realness::kPatient);
  EXPECT_EQ(listen(as, real, 5, 4.0).samples, listen(as, real, 5, 4.0).samples);
  EXPECT_NE(listen(as, real, 5, 4.0).samples, listen(as, real, 6, 4.0).samples);
}

TEST(Realism, EachLayerTellsItsOwnEventsAndNoOthers) {
  const Instrument as = instrument("contact_sensor");
  const struct {
    Layer layer;
    Sound sound;
  } cases[] = {{Layer::kClicks, Sound::kContactClick},
               {Layer::kKnocks, Sound::kContactKnock},
               {Layer::kRubs, Sound::kContactRub},
               {Layer::kRecorder, Sound::kRecorder},
               {Layer::kFloor, Sound::kBodyNoise}};
  for (const auto& one : cases) {
    const Rendered sound = listen(as, only({one.layer}), 11, 20.0);
    SCOPED_TRACE(word_of(one.layer));
    EXPECT_GE(all_of(sound, one.sound), 1u);
    for (const auto& other : cases) {
      if (other.sound == one.sound) continue;
      EXPECT_EQ(all_of(sound, other.sound), 0u);
    }
  }
}

TEST(Realism, TheHeartIsToldAsTwoSounds) {
  SyntheticBreath breath;
  breath.change = [](patient::Snapshot& s) { s.heart.loudness = 1.0; };
  auto piece = Chestpiece::make({kRate_hz, adult(), Seed{3}});
  piece->set_instrument(instrument("electronic_wide"));
  piece->set_layers(only({Layer::kHeart}));
  piece->move_to({exam::Aspect::kFront, 0.3, 0.9});
  const Rendered sound = render(*piece, breath, 0.0, 8.0, kRate_hz, 64);  // ten beats
  EXPECT_NEAR(static_cast<double>(all_of(sound, Sound::kFirstHeartSound)), 10.0, 1.0);
  EXPECT_NEAR(static_cast<double>(all_of(sound, Sound::kSecondHeartSound)), 10.0, 1.0);
  EXPECT_EQ(all_of(sound, Sound::kHeart), 0u);
}

TEST(Realism, AFirmHandCracksLessAndHairMore) {
  const Instrument as = instrument("electronic_wide");
  const auto clicks = [&](double pressure, double hair) {
    std::size_t n = 0;
    for (std::uint64_t seed = 1; seed <= 4; ++seed) {
      auto piece = Chestpiece::make({kRate_hz, adult(), Seed{seed}});
      piece->set_instrument(as);
      piece->set_layers(only({Layer::kClicks}));
      piece->set_pressure(pressure);
      piece->set_hair(hair);
      piece->move_to(kLeftBase);
      n += all_of(render(*piece, {}, 0.0, 20.0, kRate_hz, 64), Sound::kContactClick);
    }
    return static_cast<double>(n);
  };
  const double usual = clicks(0.6, 0.0);
  EXPECT_GT(usual, 40.0);
  EXPECT_LT(clicks(1.0, 0.0), 0.7 * usual);
  EXPECT_GT(clicks(0.6, 1.0), 1.5 * usual);
}

TEST(Realism, SilentBreathLeavesTheFloorAtItsFigure) {
  // No breath: what is left in 80-150 Hz is the floor, at its figure below the reference.
  Instrument as = instrument("contact_sensor");
  for (const InstrumentFigure f : {InstrumentFigure::kFloorSpread_db, InstrumentFigure::kFloorTilt,
                                   InstrumentFigure::kFloorWander_db, InstrumentFigure::kGain_db}) {
    as.figures[static_cast<std::size_t>(f)] = 0.0;
  }
  const SyntheticBreath none{.peak_in_L_per_s = 0.0, .peak_out_L_per_s = 0.0};
  const auto level = [&](double floor_db) {
    Instrument at = as;
    at.figures[static_cast<std::size_t>(InstrumentFigure::kFloor_db)] = floor_db;
    const Rendered sound = listen(at, only({Layer::kFloor}), 3, 20.0, none);
    return spectrum_of(sound.samples, kRate_hz).level_db(80.0, 150.0);
  };
  EXPECT_NEAR(level(-5.0) - level(-15.0), 10.0, 0.3);
  // Against quiet breathing of this person through the same instrument.
  const SyntheticBreath quiet{.peak_in_L_per_s = 0.39, .peak_out_L_per_s = 0.35, .square = true};
  const Rendered breath = listen(as, {}, 3, 20.0, quiet);
  const double reference_db =
      spectrum_of(phase_part(breath, quiet, exam::Phase::kInspiration), kRate_hz)
          .level_db(100.0, 700.0);
  EXPECT_NEAR(level(-9.0) - reference_db, -9.0, 4.5);  // the body's mean place, and band edges
}

TEST(Realism, LiftedThereIsNoContact) {
  auto piece = Chestpiece::make({kRate_hz, adult(), Seed{1}});
  piece->set_instrument(instrument("electronic_wide"));
  piece->set_realness(Realness::kPatient);
  piece->move_to(kLeftBase);
  render(*piece, {}, 0.0, 1.0, kRate_hz, 64);
  piece->lift();
  render(*piece, {}, 1.0, 1.0, kRate_hz, 64);
  const Rendered sound = render(*piece, {}, 2.0, 10.0, kRate_hz, 64);
  EXPECT_EQ(all_of(sound, Sound::kContactClick), 0u);
  EXPECT_EQ(all_of(sound, Sound::kContactRub), 0u);
}

// Air under the skin is a finding: it crackles on a clean chest too, more while the chest moves, and
// never where there is none.
TEST(Realism, AirUnderTheSkinCracklesAtTheChestpiece) {
  const auto snow = [&](double air, const SyntheticBreath& breath) {
    auto piece = Chestpiece::make({kRate_hz, adult(), Seed{3}});
    piece->set_skin_air(air);
    piece->move_to(kLeftBase);
    return all_of(render(*piece, breath, 0.0, 20.0, kRate_hz, 64), Sound::kContactClick);
  };
  const SyntheticBreath held{.peak_in_L_per_s = 0.0, .peak_out_L_per_s = 0.0};
  EXPECT_EQ(snow(0.0, {}), 0u);
  EXPECT_GT(snow(0.8, {}), 60u);
  EXPECT_GT(snow(0.8, {}), 2 * snow(0.8, held));
  EXPECT_GT(snow(0.9, {}), snow(0.3, {}));
}

TEST(Instruments, EveryFileSurvivesPackingAndHasSourceAndStatus) {
  const auto all = Instruments::load(data_directory() / "instruments");
  ASSERT_TRUE(all.has_value()) << all.error().message;
  EXPECT_GE(all->all().size(), 7u);
  for (const NamedInstrument& one : all->all()) {
    SCOPED_TRACE(one.id);
    EXPECT_FALSE(one.source.empty());
    const auto back = unpack_instrument(pack(one.instrument));
    ASSERT_TRUE(back.has_value()) << back.error().message;
    EXPECT_EQ(back->figures, one.instrument.figures);
    EXPECT_EQ(pack(*back), pack(one.instrument));
  }
}

TEST(Instruments, UnpackRejectsWhatPackDidNotWrite) {
  std::vector<double> numbers = pack(instrument("contact_sensor"));
  numbers[0] = 2.0;
  EXPECT_FALSE(unpack_instrument(numbers).has_value());
  numbers = pack(instrument("contact_sensor"));
  numbers.back() = std::nan("");
  EXPECT_FALSE(unpack_instrument(numbers).has_value());
  numbers.pop_back();
  EXPECT_FALSE(unpack_instrument(numbers).has_value());
}

TEST(Instruments, AnUnknownOneIsAnsweredWithTheKnown) {
  const auto found = Instruments::load(data_directory() / "instruments")->find("trumpet");
  ASSERT_FALSE(found.has_value());
  EXPECT_THAT(found.error().message, HasSubstr("contact_sensor"));
}

TEST(Instruments, AWrongFigureIsNamedWithItsRange) {
  const auto folder = std::filesystem::path(::testing::TempDir()) / "phren_instruments";
  std::filesystem::remove_all(folder);
  std::filesystem::create_directories(folder);
  std::filesystem::copy(data_directory() / "instruments" / "contact_sensor.toml", folder);
  std::ofstream(folder / "wrong.toml")
      << "name = \"x\"\nlike = \"contact_sensor\"\nhead = \"flat\"\nsource = \"x\"\n"
         "status = \"engineering\"\n[floor]\nlevel_db = 400\n";
  const auto all = Instruments::load(folder);
  ASSERT_FALSE(all.has_value());
  EXPECT_THAT(all.error().message, HasSubstr("wrong.toml"));
  EXPECT_THAT(all.error().message, HasSubstr("level_db"));
  EXPECT_THAT(all.error().message, HasSubstr("between -80 and 20"));
}

TEST(Layers, WordsAndMixesAgree) {
  for (const Realness r : {Realness::kClean, Realness::kClassroom, Realness::kPatient}) {
    EXPECT_EQ(read_word<Realness>("realness", word_of(r)).value(), r);
  }
  EXPECT_FALSE(read_word<Realness>("realness", "dirty").has_value());
  EXPECT_TRUE(mix_of(Realness::kClean).is_clean());
  for (std::size_t i = 0; i < kNumLayers; ++i) {
    EXPECT_LE(mix_of(Realness::kClassroom).amount[i], mix_of(Realness::kPatient).amount[i]);
  }
}

}  // namespace
}  // namespace phren::acoustics
