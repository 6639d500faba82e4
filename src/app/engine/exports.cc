// The bedside's C interface: what the browser calls. One encounter per module instance; docs/engine.md.
//
// Order of calls: text and packets go in through phren_space; phren_sites once; phren_make for a patient;
// then the rest. Pointers stay valid until the next call of the same function.
#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <string>
#include <vector>

#include "acoustics/figure/seen.h"
#include "base/wasm_export.h"
#include "bedside/answers.h"
#include "bedside/described.h"
#include "bedside/log_text.h"
#include "bedside/replay.h"
#include "bedside/round_playout.h"
#include "bedside/shown.h"

namespace {

using namespace phren;

constexpr std::size_t kMaxFrames = 4096, kMaxEvents = 256, kMaxBytes = 8u << 20;

struct Module {
  std::string in, out, error;
  exam::SiteMap sites;
  std::optional<bedside::Relived> encounter;
  std::optional<bedside::RoundDevice> round;  // instead of it
  bedside::RoundPlayout playout;
  std::array<float, kMaxFrames> audio{};
  std::vector<double> state =
      std::vector<double>(bedside::shown_length(patient::Snapshot{}, patient::Monitor{}));
  std::size_t event_length = bedside::shown_length(acoustics::TruthEvent{});
  std::vector<double> events = std::vector<double>(kMaxEvents * event_length);
  std::array<acoustics::TruthEvent, kMaxEvents> truth{};

  bedside::Bedside* here() {
    if (round) return &round->bedside();
    return encounter ? &encounter->bedside() : nullptr;
  }
  std::string_view given(int bytes) const {
    return std::string_view(in).substr(0, bytes < 0 ? 0 : static_cast<std::size_t>(bytes));
  }
  template <class T>
  bool keep_error(const Result<T>& result) {
    error = result ? "" : result.error().message;
    return !result;
  }
};

Module& module() {
  static Module instance;
  return instance;
}

Result<exam::SiteMap> sites_of(std::string_view text) {
  const auto list = bedside::Json::parse(text, nullptr, false);
  if (!list.is_array()) return fail(ErrorCode::kMalformed, "sites must be a list");
  std::vector<exam::Site> sites;
  for (const auto& one : list) {
    exam::Site site;
    site.id = one.value("id", std::string());
    site.name = one.value("name", std::string());
    site.at = {TRY(read_word<exam::Aspect>("aspect", one.value("aspect", std::string()))),
               one.value("u", 0.0), one.value("v", 0.0)};
    sites.push_back(std::move(site));
  }
  return exam::SiteMap::of(std::move(sites));
}

Result<bedside::Relived> begin(std::string_view packet, std::string_view log, double seed,
                               double rate_hz) {
  const auto setup = TRY(bedside::unpack(packet));
  bedside::EncounterLog done;
  done.actions = TRY(bedside::read_actions(log));
  const bool is_whole = seed >= 0.0 && seed <= 9007199254740992.0;
  const Seed whole{is_whole ? static_cast<std::uint64_t>(seed) : 0u};
  return bedside::Relived::make(done, setup, whole, module().sites, rate_hz);
}

// Cut to the millisecond: never later than the step at which the body felt it.
double stamped(double time_s) {
  return std::floor(time_s * 1000.0 + 1e-7) / 1000.0;
}

// Does the deed of a log line now; the line as it stands in the log.
Result<std::string> perform(std::string_view line) {
  bedside::Bedside* here = module().here();
  if (here == nullptr) return fail(ErrorCode::kInvalidArgument, "there is no patient yet");
  auto action = TRY(bedside::parse_action(line));
  TRY(here->check(action.deed));
  if (module().round) {
    module().round->own(action.deed);
  } else {
    here->perform(action.deed);
  }
  action.time_s = stamped(here->time_s());
  return bedside::to_line(action);
}

}  // namespace

// Room for `bytes` bytes of text or packet; null if that is more than anything needs.
PHREN_EXPORT(phren_space) char* phren_space(int bytes) {
  if (bytes < 0 || static_cast<std::size_t>(bytes) > kMaxBytes) return nullptr;
  module().in.assign(static_cast<std::size_t>(bytes), '\0');
  return module().in.data();
}

// What the last call that failed says is wrong.
PHREN_EXPORT(phren_error) const char* phren_error() {
  return module().error.c_str();
}

// The listening sites, as a JSON list of id, name, aspect, u, v. 0, or 1 with phren_error().
PHREN_EXPORT(phren_sites) int phren_sites(int bytes) {
  auto sites = sites_of(module().given(bytes));
  if (module().keep_error(sites)) return 1;
  module().sites = std::move(*sites);
  return 0;
}

// A patient from a packet (bedside/setup.h) and, behind it, the JSON list of what was done already. 0, or 1
// with phren_error(). `seed` is a whole number up to 2^53.
PHREN_EXPORT(phren_make)
int phren_make(int packet_bytes, int log_bytes, double seed, double rate_hz) {
  Module& m = module();
  m.encounter.reset();
  m.round.reset();
  const std::string_view all = m.given(packet_bytes + log_bytes);
  const auto packet = static_cast<std::size_t>(packet_bytes < 0 ? 0 : packet_bytes);
  if (packet > all.size()) return 1;
  auto made = begin(all.substr(0, packet), all.substr(packet), seed, rate_hz);
  if (m.keep_error(made)) return 1;
  m.encounter.emplace(std::move(*made));
  return 0;
}

// A log line {"id", "t", "do", ...} whose deed is done now; the line with the time at which it was. Empty with
// phren_error().
PHREN_EXPORT(phren_perform) const char* phren_perform(int bytes) {
  Module& m = module();
  auto line = perform(m.given(bytes));
  m.out = m.keep_error(line) ? std::string() : std::move(*line);
  return m.out.c_str();
}

// The answer to a question of bedside/answers.h, as JSON. Empty with phren_error().
PHREN_EXPORT(phren_ask) const char* phren_ask(int bytes) {
  Module& m = module();
  auto said = bedside::answer(m.given(bytes), m.sites, m.here());
  m.out = m.keep_error(said) ? std::string() : std::move(*said);
  return m.out.c_str();
}

// Unheard up to the first patient step at or after `time_s`, not more than an hour at a time. What the log
// still holds is done on the way.
PHREN_EXPORT(phren_run_to) void phren_run_to(double time_s) {
  Module& m = module();
  if (!m.encounter) return;
  const double limit_s = m.here()->time_s() + 3600.0;
  m.encounter->run_to(time_s < limit_s ? time_s : limit_s);
}

// To the end of the log; what was there to hear, as JSON (bedside/answers.h, DebriefAnswer).
PHREN_EXPORT(phren_relived) const char* phren_relived() {
  Module& m = module();
  m.out.clear();
  if (m.encounter) {
    m.encounter->finish();
    m.out = bedside::json_of(bedside::debrief_of(m.encounter->performance())).dump();
  }
  return m.out.c_str();
}

// Makes `frames` (at most 4096) samples and tells where they are.
PHREN_EXPORT(phren_render) float* phren_render(int frames) {
  Module& m = module();
  const std::size_t n = frames < 0 ? 0 : std::min(static_cast<std::size_t>(frames), kMaxFrames);
  const std::span<float> out(m.audio.data(), n);
  if (m.round) {
    m.playout.render(*m.round, out);
  } else if (m.encounter) {
    m.here()->render(out);
  } else {
    m.audio.fill(0.0f);
  }
  return m.audio.data();
}

// The state as numbers, in the order of bedside/shown.h.
PHREN_EXPORT(phren_state) double* phren_state() {
  Module& m = module();
  if (m.here() != nullptr) {
    bedside::ShownNumbers numbers(m.state.data());
    bedside::show(numbers, m.here()->now(), m.here()->patient().monitor());
  }
  return m.state.data();
}

// What the figure's module needs to show this body now (acoustics/figure/seen.h).
PHREN_EXPORT(phren_seen) double* phren_seen() {
  static std::array<double, acoustics::kSeenLength> row{};
  Module& m = module();
  if (m.here() != nullptr) {
    const bedside::Bedside& here = *m.here();
    acoustics::write_seen(acoustics::seen_of(here.now(), here.patient().signs()), row);
  }
  return row.data();
}
PHREN_EXPORT(phren_seen_length) int phren_seen_length() {
  return static_cast<int>(acoustics::kSeenLength);
}

// Takes the truth events since the last call; how many; phren_events() tells where they are.
PHREN_EXPORT(phren_drain) int phren_drain() {
  Module& m = module();
  if (m.here() == nullptr) return 0;
  const std::size_t count = m.here()->drain(m.truth);
  for (std::size_t i = 0; i < count; ++i) {
    bedside::ShownNumbers numbers(m.events.data() + i * m.event_length);
    bedside::show(numbers, m.truth[i]);
  }
  return static_cast<int>(count);
}
PHREN_EXPORT(phren_events) double* phren_events() {
  return module().events.data();
}

// ---- a round: one body, a whole room (bedside/round_device.h) ----

// As phren_make, without a log; phren_perform then does what is of one's own chestpiece.
PHREN_EXPORT(phren_round_make) int phren_round_make(int packet_bytes, double seed, double rate_hz) {
  Module& m = module();
  m.encounter.reset();
  m.round.reset();
  m.playout = {};
  const auto made = [&]() -> Result<bedside::RoundDevice> {
    const auto setup = TRY(bedside::unpack(m.given(packet_bytes)));
    const bool is_whole = seed >= 0.0 && seed <= 9007199254740992.0;
    const Seed whole{is_whole ? static_cast<std::uint64_t>(seed) : 0u};
    return bedside::RoundDevice::make(setup, whole, rate_hz);
  };
  auto device = made();
  if (m.keep_error(device)) return 1;
  m.round.emplace(std::move(*device));
  return 0;
}

// A JSON list of shared lines. The number of the line that is waited for next, or -1 with phren_error().
PHREN_EXPORT(phren_round_hear) double phren_round_hear(int bytes) {
  Module& m = module();
  m.error.clear();
  if (!m.round) return -1.0;
  const auto lines = bedside::parse_round_lines(m.given(bytes));
  if (m.keep_error(lines)) return -1.0;
  for (const bedside::RoundLine& line : *lines) {
    const auto heard = m.round->hear(line);
    if (heard) continue;
    if (heard.error().code == ErrorCode::kConflict) break;
    m.error = heard.error().message;
    return -1.0;
  }
  return static_cast<double>(m.round->next_seq());
}

PHREN_EXPORT(phren_round_allow) void phren_round_allow(int take, double step, double last_seq) {
  if (module().round) {
    module().round->allow(take, static_cast<std::int64_t>(step),
                          static_cast<std::int64_t>(last_seq));
  }
}

// Where the device stands: take, step, step allowed, 1 if it plays, then 1 if the chestpiece was taken up since
// the last call; a sum over the state if one is due: 1, take, step, upper and lower 32 bits.
PHREN_EXPORT(phren_round_standing) double* phren_round_standing() {
  static std::array<double, 10> row{};
  row.fill(0.0);
  Module& m = module();
  if (!m.round) return row.data();
  row[0] = m.round->take();
  row[1] = static_cast<double>(m.round->step());
  row[2] = static_cast<double>(m.round->allowed());
  row[3] = m.playout.is_playing() ? 1.0 : 0.0;
  row[4] = m.round->take_taken_up() ? 1.0 : 0.0;
  if (const auto sum = m.round->take_sum()) {
    row[5] = 1.0;
    row[6] = sum->take;
    row[7] = static_cast<double>(sum->step);
    row[8] = static_cast<double>(sum->sum >> 32);
    row[9] = static_cast<double>(sum->sum & 0xffffffffU);
  }
  return row.data();
}

// Without sound as far as is allowed, but for the playout's reserve.
PHREN_EXPORT(phren_round_catch_up) void phren_round_catch_up() {
  Module& m = module();
  if (m.round) {
    m.round->catch_up(m.round->allowed() - bedside::RoundPlayout::kReserve_steps);
  }
}
PHREN_EXPORT(phren_round_live_again) void phren_round_live_again() {
  if (module().round) module().round->live_again();
}
