// `phren specimen`: one labelled sound.
#include "app/specimen/specimen.h"

#include <nlohmann/json.hpp>
#include <ostream>

#include "app/cli/command.h"
#include "app/cli/commands.h"
#include "app/cli/table.h"
#include "base/files.h"
#include "base/text.h"
#include "exam/names.h"
#include "signal/audio_file.h"
#include "signal/labels.h"

namespace phren::app {
namespace {

struct SpecimenArguments {
  std::string kind;
  std::optional<std::string> out, labels;
  double rate_hz = 16000.0, seconds = 0.0, severity = -1.0;
  std::uint64_t seed = kSpecimenSeed.value;
  bool json = false;
};

void print_list(const Specimens& specimens, std::ostream& out) {
  Table table({"specimen", "sound", "condition", "site"});
  for (const Specimen& s : specimens.all()) {
    table.row({s.id, s.name, s.setup.conditions[0].id, s.site_id});
  }
  table.print(out);
}

std::vector<signal::Label> labels_of(const std::vector<acoustics::TruthEvent>& truth) {
  std::vector<signal::Label> labels;
  for (const auto& e : truth) {
    std::string text =
        std::string(exam::to_string(e.sound)) + " " + std::string(exam::to_string(e.phase));
    if (e.pitch_hz > 0.0) text += " " + std::to_string(static_cast<int>(e.pitch_hz + 0.5)) + " Hz";
    labels.push_back({e.start_s, e.end_s, text + (e.audible ? "" : " (not audible)")});
  }
  return labels;
}

nlohmann::ordered_json json_of(const Specimen& s, const SpecimenSound& sound) {
  nlohmann::ordered_json out = {{"specimen", s.id},
                                {"condition", s.setup.conditions[0].id},
                                {"severity", s.setup.conditions[0].severity},
                                {"site", s.site_id},
                                {"sample_rate_hz", sound.audio.sample_rate_hz},
                                {"seconds", sound.audio.duration_s()}};
  for (const auto& e : sound.truth) {
    out["truth"].push_back({{"sound", exam::to_string(e.sound)},
                            {"phase", exam::to_string(e.phase)},
                            {"start_s", e.start_s},
                            {"end_s", e.end_s},
                            {"pitch_hz", e.pitch_hz},
                            {"initial_deflection_ms", e.initial_deflection_ms},
                            {"two_cycle_ms", e.two_cycle_ms},
                            {"level_above_background_db", e.level_above_background_db},
                            {"audible", e.audible}});
  }
  return out;
}

int make_one(const SpecimenArguments& options, const Specimens& specimens, Context& context) {
  auto specimen = specimens.find(options.kind);
  if (!specimen) return context.report(specimen.error());
  if (options.seconds > 0.0) specimen->seconds = options.seconds;
  if (options.severity >= 0.0) specimen->setup.conditions[0].severity = options.severity;
  const auto sound =
      make_specimen(*specimen, Seed{options.seed}, options.rate_hz, data_directory());
  if (!sound) return context.report(sound.error());
  if (options.out) {
    if (const auto done = signal::write_audio(*options.out, sound->audio); !done) {
      return context.report(done.error());
    }
  }
  if (options.labels) {
    const auto done = write_file(*options.labels, signal::format_labels(labels_of(sound->truth)));
    if (!done) return context.report(done.error());
  }
  if (options.json) {
    context.out << json_of(*specimen, *sound).dump(2) << '\n';
    return kOk;
  }
  context.out << specimen->name << ": " << specimen->mechanism << '\n';
  Table table({"from s", "to s", "sound", "pitch Hz", "2CD ms", "above dB"});
  for (const auto& e : sound->truth) {
    if (!e.audible) continue;
    table.row({number_text(e.start_s, 2), number_text(e.end_s, 2),
               std::string(exam::label_of(e.sound)) + ", " + std::string(exam::to_string(e.phase)),
               e.pitch_hz > 0.0 ? number_text(e.pitch_hz, 0) : "-",
               e.two_cycle_ms > 0.0 ? number_text(e.two_cycle_ms, 1) : "-",
               number_text(e.level_above_background_db, 0)});
  }
  table.print(context.out);
  return kOk;
}

int run_specimen(const SpecimenArguments& options, Context& context) {
  const auto specimens = Specimens::load(data_directory() / "acoustics_specimens.toml");
  if (!specimens) return context.report(specimens.error());
  if (options.kind == "document") {
    const auto done =
        write_sounds_document(*specimens, data_directory(), options.out.value_or("docs"));
    return done ? kOk : context.report(done.error());
  }
  if (options.kind != "list") return make_one(options, *specimens, context);
  print_list(*specimens, context.out);
  return kOk;
}

}  // namespace

void add_specimen(Program& program) {
  auto options = std::make_shared<SpecimenArguments>();
  program.command("specimen", "Make one labelled sound")
      .argument("kind", options->kind,
                "which one; `list` shows all, `document` writes the page of sounds to --out")
      .option("-o,--out", options->out, "FILE", "the sound: .wav or .flac")
      .option("--labels", options->labels, "FILE", "the truth as tab-separated labels")
      .option("--seconds", options->seconds, {0.0, 60.0}, "how long; 0: the specimen's own length")
      .option("--severity", options->severity, {-1.0, 1.0}, "-1: the specimen's own severity")
      .option("--rate", options->rate_hz, {4000.0, 192000.0}, "samples per second")
      .option("--seed", options->seed, {}, "another seed, another body of the same kind")
      .json(options->json)
      .example("phren specimen wheeze -o wheeze.wav --labels wheeze.txt",
               "a wheeze, with labels for an audio editor")
      .run([options](Context& context) { return run_specimen(*options, context); });
}

}  // namespace phren::app
