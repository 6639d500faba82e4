// The engine's C interface: what the browser calls. One engine per module instance.
//
// Order of calls: phren_config_space, write the packed patient there, phren_make; then the rest.
// Pointers stay valid until the next phren_config_space or phren_make.
#include <optional>
#include <string>
#include <vector>

#include "app/engine/engine.h"
#include "app/engine/readout.h"
#include "patient/findings.h"

#ifdef __wasm__
#define PHREN_EXPORT(name) extern "C" __attribute__((export_name(#name)))
#else
#define PHREN_EXPORT(name) extern "C"
#endif

namespace {

using phren::app::Engine;
using phren::exam::TorsoPoint;

constexpr std::size_t kMaxFrames = 4096, kMaxEvents = 256, kMaxConfig = 65536;

struct Module {
  std::vector<double> config;
  std::optional<Engine> engine;
  std::string error, findings;
  std::array<float, kMaxFrames> audio{};
  std::array<double, phren::app::kStateLength> state{};
  std::array<double, phren::app::kSignsLength> signs{};
  std::array<double, kMaxEvents * phren::app::kEventLength> events{};
  std::array<phren::acoustics::TruthEvent, kMaxEvents> truth{};
};

Module& module() {
  static Module instance;
  return instance;
}

TorsoPoint point(int aspect, double u, double v) {
  const int known = aspect >= 0 && aspect <= 4 ? aspect : 0;
  return {static_cast<phren::exam::Aspect>(known), u, v};
}

}  // namespace

// Room for `count` numbers of a packed patient; 0 if that is more than any patient needs.
PHREN_EXPORT(phren_config_space) double* phren_config_space(int count) {
  if (count < 0 || static_cast<std::size_t>(count) > kMaxConfig) return nullptr;
  module().config.assign(static_cast<std::size_t>(count), 0.0);
  return module().config.data();
}

// 0, or 1 with phren_error() telling why. `seed` is a whole number up to 2^53.
PHREN_EXPORT(phren_make) int phren_make(double seed, double sample_rate_hz) {
  Module& m = module();
  m.engine.reset();
  const auto config = phren::patient::unpack(m.config);
  if (!config) {
    m.error = config.error().message;
    return 1;
  }
  const double whole = seed >= 0.0 && seed <= 9007199254740992.0 ? seed : 0.0;
  auto engine =
      Engine::make(*config, phren::Seed{static_cast<std::uint64_t>(whole)}, sample_rate_hz);
  if (!engine) {
    m.error = engine.error().message;
    return 1;
  }
  m.engine.emplace(std::move(*engine));
  return 0;
}

PHREN_EXPORT(phren_error) const char* phren_error() {
  return module().error.c_str();
}

PHREN_EXPORT(phren_place) void phren_place(int aspect, double u, double v) {
  if (module().engine) module().engine->chestpiece().move_to(point(aspect, u, v));
}
PHREN_EXPORT(phren_lift) void phren_lift() {
  if (module().engine) module().engine->chestpiece().lift();
}
// Taps there; 0 resonant, 1 dull, 2 stony dull, 3 hyper-resonant.
PHREN_EXPORT(phren_percuss) int phren_percuss(int aspect, double u, double v) {
  if (!module().engine) return 0;
  return static_cast<int>(module().engine->chestpiece().percuss(point(aspect, u, v)));
}
PHREN_EXPORT(phren_head) void phren_head(int is_bell) {
  using phren::acoustics::Head;
  if (module().engine) {
    module().engine->chestpiece().set_head(is_bell != 0 ? Head::kBell : Head::kDiaphragm);
  }
}
PHREN_EXPORT(phren_press) void phren_press(double pressure) {
  if (module().engine) module().engine->chestpiece().set_pressure(pressure);
}
PHREN_EXPORT(phren_cloth) void phren_cloth(double thickness) {
  if (module().engine) module().engine->chestpiece().set_clothing(thickness);
}
// 0 quiet, 1 ward, 2 street, 3 moving cabin, 4 cabin with siren, 5 helicopter.
PHREN_EXPORT(phren_room) void phren_room(int kind) {
  using phren::acoustics::kNumSurroundings;
  if (!module().engine || kind < 0 || static_cast<std::size_t>(kind) >= kNumSurroundings) return;
  module().engine->chestpiece().set_surroundings(static_cast<phren::acoustics::Surroundings>(kind));
}

// 1 if the action is known. `kind` is patient::ActionKind, `side` exam::Side.
PHREN_EXPORT(phren_act) int phren_act(int kind, int index, int side, double seconds) {
  Module& m = module();
  if (!m.engine || kind < 0 || kind > 9 || side < 0 || side > 2) return 0;
  phren::patient::Action action;
  action.kind = static_cast<phren::patient::ActionKind>(kind);
  action.index = index;
  action.side = static_cast<phren::exam::Side>(side);
  action.seconds = seconds;
  return m.engine->act(action) ? 1 : 0;
}

// Unheard up to the first patient step at or after `time_s`; not more than an hour at a time.
PHREN_EXPORT(phren_run_to) void phren_run_to(double time_s) {
  if (!module().engine) return;
  const double limit_s = module().engine->patient().time_s() + 3600.0;
  module().engine->run_to(time_s < limit_s ? time_s : limit_s);
}

// Makes `frames` (at most 4096) samples and tells where they are.
PHREN_EXPORT(phren_render) float* phren_render(int frames) {
  Module& m = module();
  const std::size_t n = frames < 0 ? 0
                        : static_cast<std::size_t>(frames) < kMaxFrames
                            ? static_cast<std::size_t>(frames)
                            : kMaxFrames;
  if (m.engine) {
    m.engine->render(std::span<float>(m.audio.data(), n));
  } else {
    m.audio.fill(0.0f);
  }
  return m.audio.data();
}

// The places of these numbers are listed in readout.h.
PHREN_EXPORT(phren_state) double* phren_state() {
  if (module().engine) phren::app::read_state(*module().engine, module().state);
  return module().state.data();
}
PHREN_EXPORT(phren_state_length) int phren_state_length() {
  return static_cast<int>(phren::app::kStateLength);
}
PHREN_EXPORT(phren_signs) double* phren_signs() {
  if (module().engine) phren::app::read_signs(*module().engine, module().signs);
  return module().signs.data();
}

// What looking, feeling, tapping and asking would find now, by id of data/findings.toml, as JSON:
// {"cyanosis":0,"dull_percussion":2}; 0 absent, 1 present, 2 on the right, 3 on the left. Called
// when the learner looks, not for every block: it allocates.
PHREN_EXPORT(phren_findings) const char* phren_findings() {
  Module& m = module();
  m.findings = "{";
  if (m.engine) {
    const phren::patient::Patient& body = m.engine->patient();
    for (const auto& one :
         phren::patient::findings_of(body.signs(), body.monitor(), body.person())) {
      const bool is_present = one.presence == phren::exam::Presence::kPresent;
      const char code = !is_present                             ? '0'
                        : one.side == phren::exam::Side::kRight ? '2'
                        : one.side == phren::exam::Side::kLeft  ? '3'
                                                                : '1';
      if (m.findings.size() > 1) m.findings += ',';
      m.findings += '"';
      m.findings += one.id;
      m.findings += "\":";
      m.findings += code;
    }
  }
  m.findings += '}';
  return m.findings.c_str();
}

// Ends the events that are still going on; once, at the end.
PHREN_EXPORT(phren_finish) void phren_finish() {
  if (module().engine) module().engine->chestpiece().finish_truth();
}

// Takes the truth events since the last call; how many; phren_events() tells where they are.
PHREN_EXPORT(phren_drain) int phren_drain() {
  Module& m = module();
  if (!m.engine) return 0;
  const std::size_t count = m.engine->chestpiece().drain_truth(m.truth);
  for (std::size_t i = 0; i < count; ++i) {
    phren::app::write_event(
        m.truth[i], std::span<double, phren::app::kEventLength>(
                        m.events.data() + i * phren::app::kEventLength, phren::app::kEventLength));
  }
  return static_cast<int>(count);
}
PHREN_EXPORT(phren_events) double* phren_events() {
  return module().events.data();
}
