// `phren render`: the sound of one place of a prepared patient.
#include <charconv>
#include <filesystem>
#include <ostream>

#include "app/cli/command.h"
#include "app/cli/commands.h"
#include "app/examine/examine.h"
#include "base/files.h"
#include "exam/names.h"
#include "exam/sites.h"
#include "signal/audio_file.h"
#include "signal/labels.h"

namespace phren::app {
namespace {

struct RenderArguments {
  std::string prepared;
  std::optional<std::string> site, at, out, labels, head, realness, instrument;
  double seconds = 12.0;
  double rate_hz = 16000.0;
  double from_min = 0.0;
  std::uint64_t seed = 1;
};

// "X,Y,ASPECT" as in data/sites.toml: u, v and front, back, right_side, left_side or neck.
Result<exam::TorsoPoint> parse_point(const std::string& text) {
  const std::string wanted =
      "two numbers between -1.5 and 1.5 and an aspect, as in -0.6,0.45,front";
  const std::size_t first = text.find(','), second = text.find(',', first + 1);
  exam::TorsoPoint point;
  if (first == text.npos || second == text.npos) {
    return fail(out_of_range("--at", "'" + text + "'", wanted));
  }
  point.aspect = TRY(at("--at", exam::parse_aspect(text.substr(second + 1))));
  const auto read = [&](std::size_t from, std::size_t to, double& target) {
    const char* end = text.data() + to;
    const auto [stop, error] = std::from_chars(text.data() + from, end, target);
    return error == std::errc() && stop == end && target >= -1.5 && target <= 1.5;
  };
  if (!read(0, first, point.u) || !read(first + 1, second, point.v)) {
    return fail(out_of_range("--at", "'" + text + "'", wanted));
  }
  return point;
}

Result<exam::TorsoPoint> place_of(const RenderArguments& options) {
  if (options.site.has_value() == options.at.has_value()) {
    return fail(ErrorCode::kInvalidArgument, "one of --site and --at is needed, and only one");
  }
  if (options.at) return parse_point(*options.at);
  const auto map = TRY(exam::SiteMap::load(data_directory() / "sites.toml"));
  const auto site = TRY(map.find(*options.site));
  return site.at;
}

Result<acoustics::Head> head_of(const std::optional<std::string>& word) {
  if (!word || *word == "diaphragm") return acoustics::Head::kDiaphragm;
  if (*word == "bell") return acoustics::Head::kBell;
  if (*word == "sensor") return acoustics::Head::kSensor;
  return fail(out_of_range("--head", "'" + *word + "'", "one of diaphragm, bell, sensor"));
}

int run_render(const RenderArguments& options, Context& context) {
  if (!options.out) {
    context.err << "phren render: --out is needed: the file to write, .wav or .flac\n";
    return kUsage;
  }
  const auto point = place_of(options);
  if (!point) return context.report(point.error());
  const auto head = head_of(options.head);
  if (!head) return context.report(head.error());
  if (options.head && options.instrument) {
    return context.report(
        {ErrorCode::kInvalidArgument,
         "--head and --instrument exclude each other: an instrument has its own head"});
  }
  RecordingOptions how;
  how.seconds = options.seconds;
  how.sample_rate_hz = options.rate_hz;
  how.head = *head;
  if (const Status chosen =
          choose_listening(options.realness, options.instrument, data_directory(), how);
      !chosen) {
    return context.report(chosen.error());
  }
  const auto prepared = teaching::find_case(options.prepared, data_directory());
  if (!prepared) return context.report(prepared.error());
  const Seed seed{options.seed};
  auto patient = patient_of(prepared->patient, seed, data_directory());
  if (!patient) return context.report(at("case " + prepared->id, patient.error()));
  patient->set_breath_variability(how.realness == acoustics::Realness::kClean ? 0.0 : 1.0, seed);
  patient->advance_to(patient->time_s() + 60.0 * options.from_min);
  const auto recording = record_at(*patient, *point, *prepared, how, seed);
  if (!recording) return context.report(recording.error());
  if (const Status written = signal::write_audio(*options.out, recording->audio); !written) {
    return context.report(written.error());
  }
  if (options.labels) {
    const Status written =
        write_file(*options.labels, signal::format_labels(labels_of(recording->truth)));
    if (!written) return context.report(written.error());
  }
  for (const std::string& line : truth_in_words(recording->truth)) context.out << line << '\n';
  return kOk;
}

}  // namespace

void add_render(Program& program) {
  auto options = std::make_shared<RenderArguments>();
  program.command("render", "Make the sound of one place of a prepared patient, with its truth")
      .argument("case", options->prepared, "a case file, or the name of a demo case")
      .option("--site", options->site, "ID", "a listening site (`phren sites`)")
      .option("--at", options->at, "X,Y,ASPECT",
              "any place, in the coordinates of `phren sites --json`")
      .option("--seconds", options->seconds, {0.5, 3600.0}, "how long")
      .option("-o,--out", options->out, "FILE", "the sound: .wav or .flac")
      .option("--labels", options->labels, "FILE", "the truth as tab-separated labels")
      .option("--rate", options->rate_hz, {4000.0, 192000.0}, "samples per second")
      .option("--head", options->head, "WORD", "diaphragm, bell or sensor")
      .option("--realness", options->realness, "WORD",
              "clean, classroom or patient: how much of hand, heart, skin and room sounds too")
      .option("--instrument", options->instrument, "ID",
              "what one listens with (`phren instruments`)")
      .option("--after", options->from_min, {0.0, 600.0}, "minutes after arrival")
      .option("--seed", options->seed, {}, "another seed, another patient of the same kind")
      .example("phren render asthma --site P9 --seconds 20 -o p9.wav --labels p9.txt",
               "the right back base, with labels for an audio editor")
      .example("phren render croup --at 0,-0.2,neck -o neck.flac", "anywhere, not only on sites")
      .run([options](Context& context) { return run_render(*options, context); });
}

}  // namespace phren::app
