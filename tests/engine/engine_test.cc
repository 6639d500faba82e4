// The engine natively, and the same bits from the browser's module.
#include "app/engine/engine.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <bit>
#include <cstdio>
#include <cstdlib>
#include <nlohmann/json.hpp>
#include <string>

#include "base/files.h"
#include "patient/conditions.h"

namespace phren::app {
namespace {

constexpr double kRate_hz = 48000.0;

patient::PatientConfig config_of(const std::string& condition, double severity) {
  const auto conditions = patient::Conditions::load(data_directory() / "conditions");
  const auto treatments = patient::Treatments::load(data_directory() / "treatments");
  patient::PatientSetup setup;
  setup.person.height_cm = 168.0;
  setup.person.weight_kg = 64.0;
  patient::ConditionUse use;
  use.id = condition;
  use.severity = severity;
  setup.conditions.push_back(use);
  auto config = patient::configure(setup, *conditions, *treatments);
  EXPECT_TRUE(config) << config.error().message;
  return std::move(*config);
}

Engine engine_of(const std::string& condition, double severity, std::uint64_t seed = 5) {
  auto engine = Engine::make(config_of(condition, severity), Seed{seed}, kRate_hz);
  EXPECT_TRUE(engine) << engine.error().message;
  return std::move(*engine);
}

TEST(Engine, RejectsARateOutOfRange) {
  const auto engine = Engine::make(config_of("healthy", 0.0), Seed{1}, 100.0);
  ASSERT_FALSE(engine);
  EXPECT_THAT(engine.error().message, ::testing::HasSubstr("sample_rate_hz is 100"));
}

TEST(Engine, OutputDoesNotDependOnBlockSize) {
  Engine a = engine_of("asthma", 0.6), b = engine_of("asthma", 0.6);
  a.chestpiece().move_to({exam::Aspect::kBack, 0.4, 0.6});
  b.chestpiece().move_to({exam::Aspect::kBack, 0.4, 0.6});
  std::vector<float> x(48000), y(48000);
  a.render(x);
  for (std::size_t done = 0; done < y.size();) {
    const std::size_t n = std::min<std::size_t>(1 + done % 777, y.size() - done);
    b.render(std::span<float>(y).subspan(done, n));
    done += n;
  }
  EXPECT_EQ(x, y);
}

TEST(Engine, TimeOfSoundIsTimeOfPatient) {
  auto made =
      Engine::make(config_of("healthy", 0.0), Seed{1}, 44100.0);  // steps are not whole frames
  ASSERT_TRUE(made);
  std::vector<float> minute(44100 * 60);
  made->render(minute);
  EXPECT_NEAR(made->patient().time_s(), 60.0, 0.009);
}

TEST(Engine, WhatFollowsTimePassedUnheardIsWhatWouldHaveBeenHeard) {
  Engine heard = engine_of("asthma", 0.6), unheard = engine_of("asthma", 0.6);
  for (Engine* engine : {&heard, &unheard}) {
    engine->chestpiece().move_to({exam::Aspect::kBack, 0.4, 0.6});
  }
  std::vector<float> thirty_s(48000 * 30), x(48000), y(48000);
  heard.render(thirty_s);
  unheard.run_to(30.0);
  EXPECT_EQ(unheard.patient().time_s(), 30.0);
  heard.render(x);
  unheard.render(y);
  EXPECT_EQ(x, y);
  const double before_s = unheard.patient().time_s();
  unheard.run_to(5.0);
  EXPECT_EQ(unheard.patient().time_s(), before_s) << "time never runs backwards";
}

// ---- native against WebAssembly ----

struct Script {
  nlohmann::json json;
  std::vector<std::uint32_t> hashes;  // made by the native engine
};

// An examination: places, bell, cloth, noise, treatments, cough, all at fixed blocks.
Script play(const std::string& condition, double severity, std::size_t blocks) {
  const auto config = config_of(condition, severity);
  auto made = Engine::make(config, Seed{77}, kRate_hz);
  EXPECT_TRUE(made);
  Engine& engine = *made;
  Script script;
  script.json = {{"seed", 77},
                 {"rate_hz", kRate_hz},
                 {"blocks", blocks},
                 {"config", patient::pack(config)},
                 {"actions", nlohmann::json::array()}};
  const auto note = [&](std::size_t block, const char* call, std::vector<double> values) {
    script.json["actions"].push_back({{"block", block}, {"call", call}, {"values", values}});
  };
  std::uint32_t hash = 0x811c9dc5u;
  std::array<float, 128> out{};
  for (std::size_t block = 0; block < blocks; ++block) {
    const std::size_t turn = block / 750;  // two seconds
    if (block % 750 == 0) {
      const int aspect = static_cast<int>(turn % 5);
      const double u = -0.8 + 0.4 * static_cast<double>(turn % 5);
      const double v = 0.1 + 0.17 * static_cast<double>(turn % 6);
      engine.chestpiece().move_to({static_cast<exam::Aspect>(aspect), u, v});
      note(block, "phren_place", {static_cast<double>(aspect), u, v});
      if (turn % 7 == 3) {
        engine.chestpiece().set_head(acoustics::Head::kBell);
        note(block, "phren_head", {1});
      }
      if (turn % 7 == 5) {
        engine.chestpiece().set_head(acoustics::Head::kDiaphragm);
        note(block, "phren_head", {0});
        const double cloth = turn % 2 == 0 ? 0.0 : 0.5;
        engine.chestpiece().set_clothing(cloth);
        note(block, "phren_cloth", {cloth});
      }
      if (turn % 11 == 4) {
        const int place = static_cast<int>(turn % acoustics::kNumSurroundings);
        engine.chestpiece().set_surroundings(static_cast<acoustics::Surroundings>(place));
        note(block, "phren_room", {static_cast<double>(place)});
      }
      if (turn % 13 == 6) {
        const int kind = turn % 2 == 0 ? 5 : turn % 3 == 0 ? 2 : 0;  // cough, deep breaths, treat
        engine.act({static_cast<patient::ActionKind>(kind), static_cast<int>(turn % 3),
                    exam::Side::kRight, 6.0});
        note(block, "phren_act",
             {static_cast<double>(kind), static_cast<double>(turn % 3), 0.0, 6.0});
      }
    }
    engine.render(out);
    for (const float x : out) hash = (hash ^ std::bit_cast<std::uint32_t>(x)) * 0x01000193u;
    if (block % 1000 == 999) script.hashes.push_back(hash);
  }
  script.hashes.push_back(hash);
  return script;
}

std::vector<std::uint32_t> play_in(const std::string& player, const Script& script) {
  const std::string file = std::string(PHREN_TEST_OUT) + "/engine_" + player + ".json";
  EXPECT_TRUE(write_file(file, script.json.dump()));
  const std::string command = std::string("node ") + PHREN_TEST_SOURCE + "/" + player +
                              "_engine.mjs " + PHREN_ENGINE_FILE + " " + file;
  FILE* pipe = popen(command.c_str(), "r");
  std::vector<std::uint32_t> out;
  char line[64];
  while (pipe != nullptr && std::fgets(line, sizeof line, pipe) != nullptr) {
    out.push_back(static_cast<std::uint32_t>(std::strtoul(line, nullptr, 10)));
  }
  EXPECT_NE(pipe, nullptr);
  EXPECT_EQ(pclose(pipe), 0) << command;
  return out;
}

TEST(EngineBits, WasmInNodeEqualsNativeForEveryDemoCondition) {
  for (const auto& [condition, severity] : {std::pair{"asthma", 0.7},
                                            {"cardiogenic_oedema", 0.7},
                                            {"pneumothorax", 0.6},
                                            {"lobar_pneumonia", 0.7},
                                            {"healthy", 0.0}}) {
    SCOPED_TRACE(condition);
    const Script script = play(condition, severity, 3750);  // ten seconds
    EXPECT_EQ(play_in("node", script), script.hashes);
  }
}

#ifdef PHREN_WITH_BROWSER
TEST(EngineBitsSlow, ChromiumEqualsNativeOverTenMinutes) {
  const Script script = play("asthma", 0.7, 225000);
  EXPECT_EQ(play_in("browser", script), script.hashes);
}
#endif

}  // namespace
}  // namespace phren::app
