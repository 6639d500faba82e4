#include "app/examine/recording.h"

#include <fmt/core.h>

#include <algorithm>
#include <map>

#include "acoustics/instruments.h"
#include "app/examine/markup.h"
#include "bedside/recording.h"
#include "bedside/words.h"
#include "exam/names.h"

namespace phren::app {
namespace {

std::string_view phase_in_words(exam::Phase phase) {
  return phase == exam::Phase::kInspiration  ? "in"
         : phase == exam::Phase::kExpiration ? "out"
                                             : "pause";
}

}  // namespace

Status choose_listening(const std::optional<std::string>& realness,
                        const std::optional<std::string>& instrument,
                        const std::filesystem::path& data_directory, RecordingOptions& to) {
  if (realness) {
    to.realness = TRY(read_word<acoustics::Realness>("--realness", *realness));
  }
  if (!instrument && to.realness == acoustics::Realness::kClean) return {};
  const auto all = TRY(acoustics::Instruments::load(data_directory / "instruments"));
  const std::string usual(acoustics::usual_instrument(to.head));
  to.instrument = TRY(all.find(instrument.value_or(usual))).instrument;
  return {};
}

Result<Recording> record_at(patient::Patient patient, const exam::TorsoPoint& point,
                            const teaching::Case& prepared, const RecordingOptions& options,
                            Seed seed) {
  bedside::RecordingRequest request;
  request.at = point;
  request.seconds = options.seconds;
  request.sample_rate_hz = options.sample_rate_hz;
  request.head = options.head;
  request.instrument = options.instrument;
  request.layers = acoustics::mix_of(options.realness);
  request.around = {prepared.clothing, prepared.room};
  auto made = TRY(bedside::record(std::move(patient), seed, request));
  return Recording{{made.sample_rate_hz, std::move(made.samples)}, std::move(made.events)};
}

std::vector<signal::Label> labels_of(const std::vector<acoustics::TruthEvent>& truth) {
  std::vector<signal::Label> labels;
  for (const acoustics::TruthEvent& event : truth) {
    std::string text = fmt::format("{}, {}, {}", exam::label_of(event.sound),
                                   phase_in_words(event.phase), word_of(event.region));
    if (event.pitch_hz > 0.0) text += fmt::format(", {:.0f} Hz", event.pitch_hz);
    if (event.two_cycle_ms > 0.0) text += fmt::format(", 2CD {:.1f} ms", event.two_cycle_ms);
    if (!event.audible) text += " (not audible)";
    labels.push_back({event.start_s, event.end_s, std::move(text)});
  }
  return labels;
}

std::vector<std::string> truth_in_words(const std::vector<acoustics::TruthEvent>& truth) {
  struct Group {
    std::size_t count = 0, audible = 0;
    double lowest_hz = 1e9, highest_hz = 0.0;
  };
  std::map<std::pair<exam::Sound, exam::Phase>, Group> groups;
  for (const acoustics::TruthEvent& event : truth) {
    Group& group = groups[{event.sound, event.phase}];
    ++group.count;
    group.audible += event.audible ? 1 : 0;
    if (event.pitch_hz <= 0.0) continue;
    group.lowest_hz = std::min(group.lowest_hz, event.pitch_hz);
    group.highest_hz = std::max(group.highest_hz, event.pitch_hz);
  }
  std::vector<std::string> lines;
  for (const auto& [key, group] : groups) {
    std::string line =
        fmt::format("{}, breathing {}: {} times, {} of them audible", exam::label_of(key.first),
                    phase_in_words(key.second), group.count, group.audible);
    if (key.second == exam::Phase::kPause)
      line.replace(line.find("breathing pause"), 15, "in pauses");
    if (group.highest_hz > 0.0) {
      line += fmt::format(", {} to {} Hz", number(group.lowest_hz), number(group.highest_hz));
    }
    lines.push_back(std::move(line));
  }
  return lines;
}

}  // namespace phren::app
