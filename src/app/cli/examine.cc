// `phren examine`: the whole job on one prepared patient.
#include "app/examine/examine.h"

#include <fmt/core.h>

#include <ostream>
#include <thread>

#include "app/cli/command.h"
#include "app/cli/commands.h"
#include "app/cli/progress.h"
#include "app/cli/table.h"
#include "app/examine/bundle.h"
#include "app/examine/markup.h"
#include "app/examine/present.h"
#include "base/files.h"
#include "exam/names.h"
#include "exam/record.h"
#include "reasoning/threats.h"

namespace phren::app {
namespace {

constexpr std::size_t kExplanationsShown = 6, kReasonsShown = 2, kThreatsShown = 6;

struct ExamineArguments {
  std::string prepared;
  std::optional<std::string> out, realness, instrument;
  std::uint64_t seed = 1;
  double seconds = 12.0;
  double rate_hz = 8000.0;
  std::uint64_t threads = 2;
  bool json = false;
};

void print_sites(const Examined& examined, std::ostream& out) {
  Table table({"site", "where", "there to be heard", ">level dB", "measured"});
  for (std::size_t i = 0; i < examined.sites.size(); ++i) {
    const exam::SiteRecord& record = examined.record.sites[i];
    // Truth and measurement stand in columns of their own, so that a disagreement shows.
    table.row({record.site_id, examined.sites[i].site.name,
               bedside::in_short(examined.sites[i].expected), number(record.level_db),
               measured_in_words(record)});
  }
  table.print(out);
}

void print_findings(const Examined& examined, const reasoning::FindingTable& findings,
                    std::ostream& out) {
  Table table({"present", "how", "where", "in words"});
  for (const exam::Finding& finding : examined.record.findings) {
    if (finding.presence != exam::Presence::kPresent) continue;
    const auto index = findings.index_of(finding.id);
    table.row({index ? findings[*index].label : finding.id,
               std::string(exam::to_string(finding.basis)), place_in_words(finding), finding.note});
  }
  table.print(out);
}

void print_impression(const reasoning::Impression& impression, std::ostream& out) {
  std::size_t shown = 0;
  for (const auto& threat : impression.threats) {
    if (!threat.is_named || shown++ == kThreatsShown) continue;
    out << (shown == 1 ? "First, what could kill:\n" : "") << "  ! " << threat.label << ": "
        << threat.why << " (" << reasoning::standing_in_words(threat) << ")\n";
  }
  out << (shown > 0 ? "\n" : "");
  Table table({"explanation", ">probability", "95 % interval", "what moved it"});
  for (std::size_t i = 0; i < std::min(kExplanationsShown, impression.ranking.size()); ++i) {
    const auto& ranked = impression.ranking[i];
    table.row({(ranked.can_kill_soon ? "! " : "  ") + ranked.label, probability_in_words(ranked),
               number(100 * ranked.posterior_lo, 1) + " to " +
                   number(100 * ranked.posterior_hi, 1) + " %",
               reasons_in_words(ranked, kReasonsShown)});
  }
  table.print(out);
  if (!impression.looks.empty()) {
    out << "\nNext best look: " << impression.looks.front().how << " ("
        << impression.looks.front().label << ").\n";
  }
}

void print_people_text(const Examined& examined, const reasoning::FindingTable& findings,
                       std::ostream& out) {
  const exam::VitalSigns& signs = examined.record.vital_signs;
  out << examined.prepared.title << " (" << person_in_words(examined.prepared.patient.person)
      << ", seed " << examined.options.seed.value << ")\n"
      << "breathing " << number(signs.respiratory_rate_per_min.value_or(0)) << "/min, SpO2 "
      << number(signs.spo2_percent.value_or(0)) << " %, EtCO2 "
      << number(signs.etco2_mmHg.value_or(0)) << " mmHg, pulse "
      << number(signs.heart_rate_per_min.value_or(0)) << "/min, blood pressure "
      << number(signs.systolic_mmHg.value_or(0)) << '/' << number(signs.diastolic_mmHg.value_or(0))
      << " mmHg\n\n";
  print_sites(examined, out);
  out << '\n';
  print_findings(examined, findings, out);
  out << '\n';
  print_impression(examined.impression, out);
  out << "\nTraining aid: not a medical device, not for diagnosing or treating anyone.\n";
}

int run_examine(const ExamineArguments& options, Context& context) {
  const auto library = teaching::Library::load(data_directory());
  if (!library) return context.report(library.error());
  const reasoning::Knowledge& knowledge = (*library)->knowledge;
  const auto prepared = (*library)->open_case(options.prepared);
  if (!prepared) return context.report(prepared.error());
  ExamineOptions examine_options;
  examine_options.seed = Seed{options.seed};
  examine_options.recording.seconds = options.seconds;
  examine_options.recording.sample_rate_hz = options.rate_hz;
  if (const Status chosen = choose_listening(options.realness, options.instrument, data_directory(),
                                             examine_options.recording);
      !chosen) {
    return context.report(chosen.error());
  }
  examine_options.num_threads = static_cast<unsigned>(options.threads);
  Result<Examined> examined = fail(ErrorCode::kIo, "");
  {
    Progress progress(context, "listening", 32);
    examined = examine(*prepared, examine_options, **library,
                       [&](const std::string& site) { progress.step(site); });
  }
  if (!examined) return context.report(examined.error());
  if (options.json) {
    context.out << exam::to_json(examined->record);
  } else {
    print_people_text(*examined, knowledge.findings, context.out);
  }
  if (!options.out) return kOk;
  const std::filesystem::path folder = *options.out;
  if (const Status written = write_bundle(*examined, knowledge, folder); !written) {
    return context.report(written.error());
  }
  if (!options.json) context.out << "\nReport: " << (folder / "report.html").string() << '\n';
  return kOk;
}

}  // namespace

void add_examine(Program& program) {
  auto options = std::make_shared<ExamineArguments>();
  program.command("examine", "Examine a prepared patient: listen, measure, weigh, report")
      .argument("case", options->prepared, "a case file, or the name of a demo case")
      .option("-o,--out", options->out, "FOLDER",
              "write sound, truth, record and report.html there")
      .option("--seed", options->seed, {}, "another seed, another patient of the same kind")
      .option("--seconds", options->seconds, {2.0, 120.0}, "how long to listen at each site")
      .option("--rate", options->rate_hz, {4000.0, 48000.0}, "samples per second of the sound")
      .option("--realness", options->realness, "WORD",
              "clean, classroom or patient: how much of hand, heart, skin and room sounds too")
      .option("--instrument", options->instrument, "ID",
              "what one listens with (`phren instruments`)")
      .option("--threads", options->threads, {1, 64}, "how many sites at once; changes no result")
      .json(options->json)
      .example("phren examine asthma --out out/asthma", "examine a demo case and write its report")
      .example("phren examine my-case.toml --seed 7 --json", "print the record as JSON")
      .run([options](Context& context) { return run_examine(*options, context); });
}

}  // namespace phren::app
