// `phren score`: predictions against expert labels.
#include "measurement/score.h"

#include <nlohmann/json.hpp>
#include <ostream>

#include "app/cli/command.h"
#include "app/cli/commands.h"
#include "app/cli/table.h"
#include "base/text.h"
#include "measurement/names.h"
#include "measurement/predictions.h"

namespace phren::app {
namespace {

using namespace measurement;

struct ScoreArguments {
  std::string predictions;
  std::optional<std::string> recordings, events;
  bool json = false;
};

constexpr std::array<std::pair<Task, std::string_view>, kNumTasks> kTasks{
    {{Task::kEventBinary, "1-1"},
     {Task::kEventClasses, "1-2"},
     {Task::kRecordMerged, "2-1"},
     {Task::kRecordClasses, "2-2"}}};

nlohmann::ordered_json all_scores(const std::vector<ScoredRecording>& recordings) {
  nlohmann::ordered_json out;
  out["recordings"] = recordings.size();
  for (const auto& [task, name] : kTasks) {
    const Scores s = score_of(task, recordings);
    const Interval i = patient_interval(task, recordings);
    out["tasks"][std::string(name)] = {
        {"SE", s.sensitivity}, {"SP", s.specificity}, {"AS", s.average()}, {"HS", s.harmonic()},
        {"Score", s.score()},  {"low", i.low},        {"high", i.high}};
  }
  const auto detection = [](const Detection& d) {
    return nlohmann::ordered_json{{"f1", d.f1},
                                  {"precision", d.precision},
                                  {"recall", d.recall},
                                  {"true", d.num_true},
                                  {"found", d.num_found}};
  };
  out["detection"]["any breath"] = detection(detection_of(recordings));
  for (std::size_t c = 0; c < kNumEventLabels; ++c) {
    const auto label = static_cast<EventLabel>(c);
    out["detection"][std::string(to_string(label))] = detection(detection_of(recordings, label));
  }
  const PoorQuality poor = poor_quality_of(recordings);
  out["poor_quality"] = {{"recall", poor.recall},
                         {"precision", poor.precision},
                         {"true", poor.num_true},
                         {"called", poor.num_called}};
  out["calibration_error"] = calibration_error(recordings);
  return out;
}

std::string fixed(const nlohmann::ordered_json& value) {
  return number_text(value.get<double>(), 3);
}

void print_tables(const nlohmann::ordered_json& scores, std::ostream& out) {
  Table tasks({"task", ">SE", ">SP", ">Score", "95 % over patients"});
  for (const auto& [name, s] : scores["tasks"].items())
    tasks.row({name, fixed(s["SE"]), fixed(s["SP"]), fixed(s["Score"]),
               fixed(s["low"]) + " to " + fixed(s["high"])});
  tasks.print(out);
  out << '\n';
  Table detection({"detection, IoU >= 0.5", ">F1", ">precision", ">recall", ">true", ">found"});
  for (const auto& [name, d] : scores["detection"].items())
    detection.row({name, fixed(d["f1"]), fixed(d["precision"]), fixed(d["recall"]),
                   d["true"].dump(), d["found"].dump()});
  detection.print(out);
  out << "\nPoor Quality: recall " << fixed(scores["poor_quality"]["recall"]) << ", precision "
      << fixed(scores["poor_quality"]["precision"]) << " (in neither SE nor SP)\n"
      << "calibration error of event labels: " << fixed(scores["calibration_error"]) << '\n';
}

int score_all(const ScoreArguments& options, Context& context) {
  for (const auto& [value, name] :
       {std::pair{&options.recordings, "--recordings"}, std::pair{&options.events, "--events"}})
    if (!*value)
      return context.report(
          {ErrorCode::kInvalidArgument,
           std::string(name) + " is missing; it must name a CSV of expert labels"});
  const auto recordings =
      load_predictions(options.predictions, *options.recordings, *options.events);
  if (!recordings) return context.report(recordings.error());
  const auto scores = all_scores(*recordings);
  if (options.json)
    context.out << scores.dump(2) << '\n';
  else
    print_tables(scores, context.out);
  return kOk;
}

}  // namespace

void add_score(Program& program) {
  auto options = std::make_shared<ScoreArguments>();
  program.command("score", "Score measured recordings against expert labels")
      .argument("PREDICTIONS", options->predictions, "lines of phren measure --json --events")
      .option("--recordings", options->recordings, "CSV",
              "columns recording, record_label, patient")
      .option("--events", options->events, "CSV",
              "columns recording, start_ms, end_ms, event_label")
      .json(options->json)
      .example("phren score out.jsonl --recordings recordings.csv --events events.csv",
               "the published scores with intervals over patients")
      .run([options](Context& context) { return score_all(*options, context); });
}

}  // namespace phren::app
