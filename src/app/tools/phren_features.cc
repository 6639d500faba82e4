// phren_features AUDIO_DIR EVENTS.csv: the features of every labelled event and of every recording
// as CSV on standard output, for training the trees (training/trees.py). Recordings without events
// come from RECORDINGS.csv.
//
// Usage: phren_features AUDIO_DIR RECORDINGS.csv EVENTS.csv > features.csv
#include <cstdio>
#include <map>

#include "base/csv.h"
#include "measurement/features.h"
#include "measurement/work_rate.h"
#include "signal/audio_file.h"

namespace {

using namespace phren;
using namespace phren::measurement;

using Spans = std::map<std::string, std::vector<std::pair<double, double>>>;

int complain(const Error& error) {
  std::fprintf(stderr, "phren_features: %s\n", error.message.c_str());
  return 1;
}

void print_row(const std::string& recording, const char* kind, double start_s, double end_s,
               const FeatureVector& features) {
  std::printf("%s,%s,%.0f,%.0f", recording.c_str(), kind, start_s * 1000.0, end_s * 1000.0);
  for (const float value : features) std::printf(",%.6g", static_cast<double>(value));
  std::putchar('\n');
}

Result<Spans> load_events(const char* path) {
  constexpr double kLatest_ms = 1e9;  // 11 days, longer than any recording
  const auto csv = TRY(CsvTable::load(path));
  TRY(csv.require({"recording", "start_ms", "end_ms"}));
  Spans spans;
  for (std::size_t r = 0; r < csv.num_rows(); ++r) {
    const double start_ms = TRY(csv.needed_number(r, "start_ms", 0.0, kLatest_ms));
    const double end_ms = TRY(csv.needed_number(r, "end_ms", 0.0, kLatest_ms));
    spans[csv.text(r, "recording")].emplace_back(start_ms / 1000.0, end_ms / 1000.0);
  }
  return spans;
}

Status describe(const std::string& folder, const std::string& recording, const Spans& spans,
                Analyser& analyser) {
  auto audio = TRY(signal::read_audio(folder + "/" + recording + ".flac"));
  auto rate = TRY(WorkRate::make(audio.sample_rate_hz));
  std::vector<float> samples;
  rate.process(audio.samples, samples);
  rate.finish(samples);
  const Analysis& analysis = analyser.analyse(samples);
  const PieceContext context = context_of(analysis);
  if (const auto found = spans.find(recording); found != spans.end())
    for (const auto& [start_s, end_s] : found->second)
      print_row(recording, "event", start_s, end_s, features_of(analysis, context, start_s, end_s));
  print_row(recording, "record", 0.0, analysis.duration_s(), context.whole);
  return {};
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 4) {
    std::fprintf(stderr,
                 "usage: phren_features AUDIO_DIR RECORDINGS.csv EVENTS.csv > features.csv\n");
    return 2;
  }
  auto spans = load_events(argv[3]);
  if (!spans) return complain(spans.error());
  const auto recordings = phren::CsvTable::load(argv[2]);
  if (!recordings) return complain(recordings.error());
  if (const auto ok = recordings->require({"recording"}); !ok) return complain(ok.error());
  std::printf("recording,kind,start_ms,end_ms");
  for (const auto feature : feature_names()) std::printf(",%s", std::string(feature).c_str());
  std::putchar('\n');
  Analyser analyser;
  for (std::size_t r = 0; r < recordings->num_rows(); ++r)
    if (auto done = describe(argv[1], recordings->text(r, "recording"), *spans, analyser); !done)
      return complain(done.error());
  return 0;
}
