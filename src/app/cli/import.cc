// `phren import`: copies of recordings that say nothing of whom they are from but their sound.
#include <cstdio>
#include <filesystem>
#include <map>
#include <nlohmann/json.hpp>
#include <ostream>

#include "app/cli/command.h"
#include "app/cli/commands.h"
#include "app/cli/progress.h"
#include "app/cli/table.h"
#include "base/files.h"
#include "measurement/measure.h"

namespace phren::app {
namespace {

namespace fs = std::filesystem;

struct ImportArguments {
  std::vector<std::string> files;
  std::optional<std::string> out;
  bool json = false;
};

struct Imported {
  std::string copy;
  bool had_text = false, has_speech = false;
};

// The next name that is free in the folder: names of files may name people too.
fs::path free_name(const fs::path& folder, std::size_t& number) {
  while (true) {
    char name[32];
    std::snprintf(name, sizeof name, "recording-%04zu.flac", ++number);
    if (!fs::exists(folder / name)) return folder / name;
  }
}

Result<Imported> import_one(const std::string& file, const fs::path& folder, std::size_t& number,
                            measurement::Measurer& measurer) {
  const auto reader = TRY(signal::AudioReader::open(file));
  const auto audio = TRY(signal::read_audio(file));
  const auto m = TRY(at(file, measurer.measure(audio, {.is_fast = true, .given_s = {}})));
  // 24 bits hold 16-bit and 24-bit samples exactly.
  const bool is_16 =
      reader.info().format.find("16 bit") != std::string::npos && reader.info().num_channels == 1;
  const fs::path copy = free_name(folder, number);
  TRY(signal::write_audio(copy, audio,
                          is_16 ? signal::SampleFormat::kPcm16 : signal::SampleFormat::kPcm24));
  const auto& reasons = m.quality.reasons;
  return Imported{copy.string(), reader.info().has_metadata_text,
                  std::find(reasons.begin(), reasons.end(), measurement::QualityReason::kSpeech) !=
                      reasons.end()};
}

void print(const std::string& file, const Imported& one, bool json, Table& table,
           std::ostream& out) {
  if (json) {
    out << nlohmann::ordered_json{{"from", file},
                                  {"copy", one.copy},
                                  {"left_out_text", one.had_text},
                                  {"speech", one.has_speech}}
               .dump()
        << '\n';
    return;
  }
  table.row({fs::path(file).filename().string(), fs::path(one.copy).filename().string(),
             one.had_text ? "left out" : "none seen",
             one.has_speech ? "speech: listen before sharing" : "none found"});
}

int run_import(const ImportArguments& options, Context& context) {
  if (!options.out) {
    context.err << "phren import: --out is needed: the folder for the copies\n";
    return kUsage;
  }
  if (auto made = make_directories(*options.out); !made) return context.report(made.error());
  auto measurer = measurement::Measurer::load();
  if (!measurer) return context.report(measurer.error());
  Progress progress(context, "copying", options.files.size());
  Table table({"from", "copy", "text in the file", "voices"});
  bool has_failed = false;
  std::size_t number = 0;
  for (const std::string& file : options.files) {
    const auto one = import_one(file, *options.out, number, *measurer);
    if (one)
      print(file, *one, options.json, table, context.out);
    else
      context.report(one.error()), has_failed = true;
    progress.step(fs::path(file).filename().string());
  }
  if (!options.json) table.print(context.out);
  context.err << "phren: the copies carry no text and no file names of the originals; whether a "
                 "voice can be heard is for you to check.\n";
  return has_failed ? kInputFailed : kOk;
}

}  // namespace

void add_import(Program& program) {
  auto options = std::make_shared<ImportArguments>();
  program.command("import", "Copy recordings without anything that names a person; flag speech")
      .arguments("FILE", options->files, "WAV or FLAC recordings; stereo is averaged to mono")
      .option("--out", options->out, "DIR", "where the copies go: recording-0001.flac and so on")
      .json(options->json)
      .example("phren import ward/*.wav --out shelf",
               "the same samples, numbered, no tags; which came from which is printed only")
      .run([options](Context& context) { return run_import(*options, context); });
}

}  // namespace phren::app
