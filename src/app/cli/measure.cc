// `phren measure`: what is in a recording.
#include "measurement/measure.h"

#include <atomic>
#include <filesystem>
#include <map>
#include <mutex>
#include <ostream>
#include <thread>

#include "app/cli/command.h"
#include "app/cli/commands.h"
#include "app/cli/progress.h"
#include "app/cli/table.h"
#include "app/picture/recording_picture.h"
#include "base/csv.h"
#include "base/text.h"
#include "measurement/json.h"
#include "measurement/names.h"

namespace phren::app {
namespace {

namespace fs = std::filesystem;
using measurement::Measurer;
using measurement::RecordingMeasurement;
using Given = std::map<std::string, std::vector<std::pair<double, double>>>;

struct MeasureArguments {
  std::vector<std::string> files;
  std::optional<std::string> events;
  std::optional<std::string> pictures;
  std::uint64_t jobs = 1;
  bool is_fast = false;
  bool json = false;
};

// Stretches to label, by recording, in the order of the file.
Result<Given> load_given(const std::string& path) {
  constexpr double kLatest_ms = 1e9;  // 11 days, longer than any recording
  const auto csv = TRY(CsvTable::load(path));
  TRY(csv.require({"recording", "start_ms", "end_ms"}));
  Given given;
  for (std::size_t row = 0; row < csv.num_rows(); ++row) {
    const double start_ms = TRY(csv.needed_number(row, "start_ms", -kLatest_ms, kLatest_ms));
    const double end_ms = TRY(csv.needed_number(row, "end_ms", -kLatest_ms, kLatest_ms));
    given[csv.text(row, "recording")].emplace_back(start_ms / 1000.0, end_ms / 1000.0);
  }
  return given;
}

Result<RecordingMeasurement> measure_file(const std::string& file, const MeasureArguments& options,
                                          const Given& given, Measurer& measurer,
                                          measurement::FindingSink& sink) {
  auto reader = TRY(signal::AudioReader::open(file));
  measurement::MeasureOptions how;
  how.is_fast = options.is_fast;
  how.sink = &sink;
  if (const auto found = given.find(fs::path(file).stem().string()); found != given.end())
    how.given_s = found->second;
  auto measured = measurer.measure(reader, how);
  if (!measured && measured.error().message.find(file) == std::string::npos)
    return fail(at(file, measured.error()));
  return measured;
}

// Pictures are named after recordings, so no two may have one name.
Status check_names(const std::vector<std::string>& files) {
  std::map<std::string, std::string> file_of;
  for (const std::string& file : files) {
    const auto [entry, is_new] = file_of.try_emplace(fs::path(file).stem().string(), file);
    if (!is_new)
      return fail(ErrorCode::kInvalidArgument,
                  "--picture: " + entry->second + " and " + file +
                      " would share one picture; give recordings of different names");
  }
  return {};
}

// Counts labels for the table.
class Tally : public measurement::FindingSink {
 public:
  void take(const measurement::Event& event) override {
    ++num_events_;
    if (event.label != measurement::EventLabel::kNormal)
      ++counts_[std::string(measurement::to_string(event.label))];
  }
  void take(const measurement::TonalTrack&) override {}
  void take(const measurement::Crackle&) override {}
  std::string words() const {
    std::string out = std::to_string(num_events_) + " breaths";
    for (const auto& [label, count] : counts_) out += ", " + std::to_string(count) + " " + label;
    return out;
  }

 private:
  int num_events_ = 0;
  std::map<std::string, int> counts_;
};

std::vector<std::string> table_row(const std::string& file, const RecordingMeasurement& m,
                                   const Tally& tally) {
  std::string quality = m.quality.is_usable ? "usable" : "";
  for (const auto reason : m.quality.reasons)
    quality += (quality.empty() ? "" : ", ") + std::string(measurement::to_string(reason));
  const auto& rate = m.breathing.rate_per_min;
  return {fs::path(file).filename().string(),
          number_text(m.duration_s, 1),
          std::string(measurement::to_string(m.label)),
          number_text(m.probabilities[static_cast<std::size_t>(m.label)], 2),
          rate ? number_text(*rate, 0) : "-",
          quality,
          tally.words()};
}

// Hands what is found to two takers.
class Both : public measurement::FindingSink {
 public:
  Both(measurement::FindingSink& first, measurement::FindingSink& second)
      : first_(first), second_(second) {}
  void take(const measurement::Event& event) override { first_.take(event), second_.take(event); }
  void take(const measurement::TonalTrack& track) override {
    first_.take(track), second_.take(track);
  }
  void take(const measurement::Crackle& crackle) override {
    first_.take(crackle), second_.take(crackle);
  }

 private:
  measurement::FindingSink &first_, &second_;
};

// Results in the order of the files, whichever is done first.
class Results {
 public:
  Results(const MeasureArguments& options, Context& context)
      : options_(options), context_(context), done_(options.files.size()) {}

  // Measures file `index` and prints it as soon as all before it are printed.
  void measure(std::size_t index, const Given& given, Measurer& measurer) {
    Done done;
    done.json = std::make_unique<measurement::JsonRecording>();
    measurement::FindingSink* sink = &done.tally;
    if (options_.json) sink = done.json.get();
    const std::string& file = options_.files[index];
    PictureMarks marks;
    Both both(*sink, marks);
    if (options_.pictures) sink = &both;
    auto measured = measure_file(file, options_, given, measurer, *sink);
    if (measured && options_.pictures)
      if (const Status drawn = write_pictures(*options_.pictures, file, *measured, marks); !drawn)
        measured = fail(drawn.error());
    const std::lock_guard lock(mutex_);
    if (measured) {
      done.measurement = std::move(*measured);
    } else {
      context_.report(measured.error());
      has_failed_ = true;
      done.has_failed = true;
    }
    done_[index] = std::move(done);
    for (; next_ < done_.size() && done_[next_]; done_[next_++].reset())
      if (!done_[next_]->has_failed) print(options_.files[next_], *done_[next_]);
  }
  int finish() {
    if (!options_.json) table_.print(context_.out);
    context_.out.flush();
    return has_failed_ ? kInputFailed : kOk;
  }

 private:
  struct Done {
    bool has_failed = false;
    RecordingMeasurement measurement;
    std::unique_ptr<measurement::JsonRecording> json;
    Tally tally;
  };
  void print(const std::string& file, Done& done) {
    if (!options_.json) return table_.row(table_row(file, done.measurement, done.tally));
    done.json->write(done.measurement, fs::path(file).stem().string(), context_.out);
    context_.out << '\n';
  }

  const MeasureArguments& options_;
  Context& context_;
  std::mutex mutex_;
  std::vector<std::optional<Done>> done_;
  std::size_t next_ = 0;
  bool has_failed_ = false;
  Table table_{{"recording", ">seconds", "label", ">sure", ">breaths/min", "quality", "events"}};
};

int measure_all(const MeasureArguments& options, Context& context) {
  Given given;
  if (options.events) {
    auto loaded = load_given(*options.events);
    if (!loaded) return context.report(loaded.error());
    given = std::move(*loaded);
  }
  if (options.pictures)
    if (auto ok = check_names(options.files); !ok) return context.report(ok.error());
  std::vector<Measurer> measurers;  // one a thread
  const std::size_t jobs = std::min<std::size_t>(options.jobs, options.files.size());
  for (std::size_t j = 0; j < std::max<std::size_t>(1, jobs); ++j) {
    auto measurer = Measurer::load();
    if (!measurer) return context.report(measurer.error());
    measurers.push_back(std::move(*measurer));
  }
  Results results(options, context);
  Progress progress(context, "measuring", options.files.size());
  std::atomic<std::size_t> next{0};
  const auto work = [&](Measurer& measurer) {
    for (std::size_t i = next++; i < options.files.size(); i = next++) {
      results.measure(i, given, measurer);
      progress.step(fs::path(options.files[i]).filename().string());
    }
  };
  std::vector<std::jthread> threads;
  for (std::size_t j = 1; j < measurers.size(); ++j)
    threads.emplace_back([&, j] { work(measurers[j]); });
  work(measurers.front());
  threads.clear();
  return results.finish();
}

}  // namespace

void add_measure(Program& program) {
  auto options = std::make_shared<MeasureArguments>();
  program.command("measure", "Say what is in a recording: breaths, wheezes, crackles, quality")
      .arguments("FILE", options->files, "WAV or FLAC recordings")
      .option("--events", options->events, "CSV",
              "label these stretches too: columns recording, start_ms, end_ms")
      .option("--picture", options->pictures, "DIR",
              "draw each recording with what was found: DIR/NAME.png and .svg")
      .option("--jobs", options->jobs, WholeRange{1, 256}, "recordings measured at a time")
      .flag("--fast", options->is_fast, "features and trees only: no network, no reasons")
      .json(options->json)
      .example("phren measure chest.wav", "a readable line for each recording")
      .example("phren measure chest.wav --picture pictures", "and see what each label rests on")
      .example("phren measure --json archive/*.flac > archive.jsonl",
               "everything, one JSON line each")
      .run([options](Context& context) { return measure_all(*options, context); });
}

}  // namespace phren::app
