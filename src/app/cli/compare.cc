// `phren compare`: two recordings of mirrored places side by side.
#include "measurement/compare.h"

#include <cstdio>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <ostream>

#include "app/cli/command.h"
#include "app/cli/commands.h"
#include "app/cli/table.h"
#include "measurement/measure.h"
#include "measurement/names.h"

namespace phren::app {
namespace {

using namespace measurement;

struct CompareArguments {
  std::string first, second;
  double placement_sd_db = 2.0;
  bool json = false;
};

constexpr const char* kAssumed =
    "Only recordings by one device at one gain, with breaths of one depth, can be compared. What a "
    "difference means for a person is for an examination to tell.";

std::string formatted(const char* format, double a, double b = 0.0) {
  char text[64];
  std::snprintf(text, sizeof text, format, a, b);
  return text;
}

std::string cell(const LevelDifference& d) {
  if (!d.is_known) return "not heard";
  return formatted("%+.1f +- %.1f", d.difference_db, d.sd_db) + (d.is_clear() ? " *" : "  ");
}

nlohmann::ordered_json json_of(const LevelDifference& d) {
  const auto rounded = [](double v) { return std::round(10.0 * v) / 10.0; };
  if (!d.is_known) return nullptr;
  return {{"difference_db", rounded(d.difference_db)},
          {"sd_db", rounded(d.sd_db)},
          {"clear", d.is_clear()}};
}

void print_json(const SideBySide& both, const std::string& first, const std::string& second,
                std::ostream& out) {
  nlohmann::ordered_json json{{"first", first},
                              {"second", second},
                              {"inspiration_150_600_hz", json_of(both.overall)},
                              {"bands", nlohmann::ordered_json::array()},
                              {"words", in_words(both, first, second)},
                              {"meaning", meaning_in_words(both)},
                              {"assumed", kAssumed}};
  for (std::size_t b = 0; b < kNumBands; ++b)
    json["bands"].push_back({{"low_hz", kBandEdges_hz[b]},
                             {"high_hz", kBandEdges_hz[b + 1]},
                             {"inspiration", json_of(both.inspiration[b])},
                             {"expiration", json_of(both.expiration[b])}});
  out << json.dump() << '\n';
}

void print_table(const SideBySide& both, const std::string& first, const std::string& second,
                 std::ostream& out) {
  Table table({"Hz", ">in, dB", ">out, dB"});
  for (std::size_t b = 0; b < kNumBands; ++b)
    table.row({formatted("%.0f-%.0f", kBandEdges_hz[b], kBandEdges_hz[b + 1]),
               cell(both.inspiration[b]), cell(both.expiration[b])});
  out << "Level of " << first << " less that of " << second
      << "; +- one standard error; * beyond two of them\n\n";
  table.print(out);
  out << '\n' << in_words(both, first, second) << ".\n";
  if (const std::string meaning = meaning_in_words(both); !meaning.empty()) out << meaning << '\n';
  out << kAssumed << '\n';
}

Result<RecordingMeasurement> measured(Measurer& measurer, const std::string& file) {
  auto reader = TRY(signal::AudioReader::open(file));
  auto m = measurer.measure(reader, {.is_fast = true, .given_s = {}});
  if (!m && m.error().message.find(file) == std::string::npos) return fail(at(file, m.error()));
  return m;
}

int run_compare(const CompareArguments& options, Context& context) {
  auto measurer = Measurer::load();
  if (!measurer) return context.report(measurer.error());
  const auto first = measured(*measurer, options.first);
  const auto second = measured(*measurer, options.second);
  for (const auto* m : {&first, &second})
    if (!*m) context.report(m->error());
  if (!first || !second) return kInputFailed;
  std::string names[] = {std::filesystem::path(options.first).stem().string(),
                         std::filesystem::path(options.second).stem().string()};
  if (names[0] == names[1]) names[0] = options.first, names[1] = options.second;
  const SideBySide both = compare(first->breathing, second->breathing, options.placement_sd_db);
  if (options.json)
    print_json(both, names[0], names[1], context.out);
  else
    print_table(both, names[0], names[1], context.out);
  for (std::size_t i = 0; i < 2; ++i)
    for (const QualityReason reason : (i == 0 ? first : second)->quality.reasons)
      context.err << "phren: " << names[i] << ": not good enough to rely on: " << to_string(reason)
                  << '\n';
  return kOk;
}

}  // namespace

void add_compare(Program& program) {
  auto options = std::make_shared<CompareArguments>();
  program.command("compare", "How much louder one place is than its mirror, by band and phase")
      .argument("FIRST", options->first, "a recording")
      .argument("SECOND", options->second, "one of the mirrored place, same device, same gain")
      .option("--placement", options->placement_sd_db, {0.0, 20.0},
              "what place and pressure alone may do: standard deviation in dB")
      .json(options->json)
      .example("phren compare right_base.wav left_base.wav", "the level difference in words too")
      .run([options](Context& context) { return run_compare(*options, context); });
}

}  // namespace phren::app
