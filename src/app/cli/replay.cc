// `phren replay`: lives an encounter again from its log, tells what was heard where, and marks it.
#include "bedside/replay.h"

#include <fmt/format.h>

#include <nlohmann/json.hpp>
#include <ostream>

#include "app/cli/command.h"
#include "app/cli/commands.h"
#include "app/cli/table.h"
#include "base/files.h"
#include "bedside/log_text.h"
#include "bedside/stay_json.h"
#include "exam/names.h"
#include "patient/conditions.h"
#include "signal/audio_writer.h"
#include "teaching/case.h"
#include "teaching/marking/affected.h"
#include "teaching/marking/mark.h"
#include "teaching/marking/mark_json.h"

namespace phren::app {
namespace {

struct ReplayArguments {
  std::string log;
  std::optional<std::string> prepared, checklist, sound;
  double from_s = 0.0, to_s = 14400.0, rate_hz = 48000.0;
  bool json = false;
};

struct Replayed {
  bedside::EncounterLog log;
  bedside::Performance performance;
  std::optional<teaching::MarkSheet> marks;
  std::optional<signal::AudioWriter> sound;
};

Result<Replayed> live_again(const ReplayArguments& options) {
  const auto data = data_directory();
  const auto text = TRY(read_file(options.log));
  auto parsed = TRY(bedside::parse_log(text, options.log));
  Replayed out;
  out.log = std::move(parsed.log);
  const auto prepared =
      TRY(teaching::find_case(options.prepared.value_or(out.log.header.case_id), data));
  const auto conditions = TRY(patient::Conditions::load(data / "conditions"));
  const auto treatments = TRY(patient::Treatments::load(data / "treatments"));
  const auto instruments = TRY(acoustics::Instruments::load(data / "instruments"));
  const auto sites = TRY(exam::SiteMap::load(data / "sites.toml"));

  bedside::ReplayOptions how;
  how.sample_rate_hz = options.rate_hz;
  if (options.sound) {
    out.sound.emplace(TRY(signal::AudioWriter::open(*options.sound, options.rate_hz)));
    how.on_sound = [&](double start_s, std::span<const float> block) {
      if (start_s < options.from_s || start_s >= options.to_s) return;
      out.sound->add(block);
    };
  }
  out.performance = TRY(bedside::replay(
      out.log, TRY(teaching::setup_of(prepared, conditions, treatments, instruments)), sites, how));
  if (options.checklist) {
    const std::filesystem::path given(*options.checklist);
    const auto checklist = TRY(teaching::load_checklist(
        given.has_extension() ? given : data / "checklists" / (*options.checklist + ".toml")));
    out.marks = teaching::mark(out.performance, checklist, sites,
                               {0.0, teaching::affected_side(prepared.patient, conditions)});
  }
  return out;
}

nlohmann::ordered_json json_of(const Replayed& one) {
  nlohmann::ordered_json out = {{"encounter", one.log.header.encounter_id},
                                {"case", one.log.header.case_id},
                                {"seed", std::to_string(one.log.header.seed)},
                                {"actions", one.log.actions.size()},
                                {"end_s", one.performance.end_s},
                                {"stays", nlohmann::ordered_json::array()},
                                {"reports", nlohmann::ordered_json::array()},
                                {"ranking", one.performance.ranking}};
  for (const bedside::Stay& stay : one.performance.stays)
    out["stays"].push_back(bedside::stay_json(stay));
  for (const bedside::TimedDeed& report : one.performance.last_reports) {
    const exam::Finding& f = std::get<bedside::Report>(report.deed).finding;
    out["reports"].push_back({{"finding", f.id},
                              {"presence", exam::to_string(f.presence)},
                              {"side", exam::to_string(f.side)},
                              {"sites", f.site_ids}});
  }
  if (one.marks) out["mark"] = teaching::mark_json(*one.marks);
  return out;
}

void print(const Replayed& one, std::ostream& out) {
  Table table({"from", "to", "place", "heard"});
  for (const bedside::Stay& stay : one.performance.stays) {
    table.row(
        {fmt::format("{:.1f} s", stay.start_s), fmt::format("{:.1f} s", stay.end_s),
         stay.site_id.empty() ? std::string(exam::to_string(stay.point.aspect)) : stay.site_id,
         bedside::in_words(stay.found)});
  }
  table.print(out);
  if (!one.marks) return;
  out << '\n';
  Table marks({"item", "verdict", "points", "why"});
  for (const teaching::ItemMark& item : one.marks->items) {
    marks.row({item.text, std::string(teaching::to_string(item.verdict)),
               fmt::format("{:g} of {:g}", item.points, item.max_points), item.reason});
  }
  marks.print(out);
  out << fmt::format("{:g} of {:g} points, {}\n", one.marks->points, one.marks->max_points,
                     one.marks->passed ? "passed" : "not passed");
}

int run_replay(const ReplayArguments& options, Context& context) {
  auto one = live_again(options);
  if (!one) return context.report(one.error());
  if (one->sound) {
    const auto written = one->sound->finish();
    if (!written) return context.report(written.error());
  }
  if (options.json) {
    context.out << json_of(*one).dump(2) << '\n';
  } else {
    print(*one, context.out);
  }
  return kOk;
}

}  // namespace

void add_replay(Program& program) {
  auto options = std::make_shared<ReplayArguments>();
  program.command("replay", "Live an encounter again from its log: what was heard where, and marks")
      .argument("LOG.encounter.jsonl", options->log, "an encounter log (docs/formats/encounter.md)")
      .option("--case", options->prepared, "CASE", "a case file, if not the one that the log names")
      .option("--checklist", options->checklist, "NAME", "mark it by this checklist, or file")
      .option("--sound", options->sound, "FILE.wav", "what the learner heard, sample by sample")
      .option("--from", options->from_s, {0.0, 14400.0}, "first second of that sound")
      .option("--to", options->to_s, {0.0, 14400.0}, "and the last")
      .option("--rate", options->rate_hz, {4096.0, 192000.0},
              "samples per second; the pages play at 48000")
      .json(options->json)
      .example("phren replay my.encounter.jsonl --checklist asthma_station", "what it is worth")
      .example("phren replay my.encounter.jsonl --sound heard.wav --from 20 --to 30",
               "ten seconds as the learner heard them")
      .run([options](Context& context) { return run_replay(*options, context); });
}

}  // namespace phren::app
