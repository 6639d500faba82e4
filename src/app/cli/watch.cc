// `phren watch`: a case over time, as a monitor trend: table, CSV, chart.
#include <algorithm>
#include <array>
#include <cstdlib>
#include <nlohmann/json.hpp>
#include <ostream>

#include "app/cli/command.h"
#include "app/cli/commands.h"
#include "app/cli/table.h"
#include "app/watch/trend_chart.h"
#include "base/files.h"
#include "base/stable_sort.h"
#include "patient/conditions.h"
#include "patient/findings.h"
#include "patient/patient.h"
#include "teaching/case.h"

namespace phren::app {
namespace {

struct WatchArguments {
  std::string case_file;
  double minutes = 15.0, every = 1.0;
  std::uint64_t seed = 1;
  std::optional<std::string> actions, csv, chart;
  bool json = false;
};

struct TimedAction {
  double minute = 0.0;
  patient::Action action;
  std::string text;
};

// In the order of patient::Posture.
constexpr std::array<std::string_view, patient::kNumPostures> kPostures{
    "sitting", "reclined", "lying", "legs_raised", "right_side", "left_side"};

// "4:oxygen", "9:-cpap", "6:needle_decompression:right", "3:lying": minute, treatment (- takes it away), side.
Result<TimedAction> parse_action(const std::string& text, const patient::Treatments& treatments) {
  const auto wrong = [&] {
    return fail(ErrorCode::kInvalidArgument, "--do '" + text +
                                                 "' must be MINUTE:TREATMENT, MINUTE:-TREATMENT or "
                                                 "MINUTE:TREATMENT:SIDE, for example 4:oxygen");
  };
  const std::size_t colon = text.find(':');
  if (colon == std::string::npos || colon == 0) return wrong();
  TimedAction out;
  char* end = nullptr;
  out.minute = std::strtod(text.c_str(), &end);
  if (end != text.c_str() + colon) return wrong();
  if (!(out.minute >= 0.0 && out.minute <= 600.0)) {
    return fail(at("--do", out_of_range("minute", out.minute, "between 0 and 600")));
  }
  std::string name = text.substr(colon + 1);
  if (const std::size_t second = name.find(':'); second != std::string::npos) {
    const std::string side = name.substr(second + 1);
    if (side != "right" && side != "left")
      return fail(at("--do", out_of_range("side", side, "right or left")));
    out.action.side = side == "right" ? exam::Side::kRight : exam::Side::kLeft;
    name.resize(second);
  }
  out.text = name;
  if (name.starts_with('-')) {
    out.action.kind = patient::ActionKind::kStop;
    name.erase(0, 1);
  }
  for (std::size_t i = 0; i < kPostures.size(); ++i) {
    if (name != kPostures[i] || out.action.kind == patient::ActionKind::kStop) continue;
    out.action.kind = patient::ActionKind::kSetPosture;
    out.action.index = static_cast<int>(i);
    return out;
  }
  out.action.index = TRY(at("--do", treatments.index_of(name)));
  return out;
}

Result<std::vector<TimedAction>> parse_actions(const std::string& list,
                                               const patient::Treatments& treatments) {
  std::vector<TimedAction> actions;
  std::size_t from = 0;
  while (from < list.size()) {
    std::size_t comma = list.find(',', from);
    if (comma == std::string::npos) comma = list.size();
    auto action = TRY(parse_action(list.substr(from, comma - from), treatments));
    actions.push_back(std::move(action));
    from = comma + 1;
  }
  phren::stable_sort(actions, [](const auto& a, const auto& b) { return a.minute < b.minute; });
  return actions;
}

std::string whole(double v) {
  return std::to_string(static_cast<int>(v + (v < 0.0 ? -0.5 : 0.5)));
}

Trend watch(patient::Patient& p, const WatchArguments& options,
            const std::vector<TimedAction>& actions) {
  Trend trend;
  std::size_t next = 0;
  for (int n = 0; n * options.every <= options.minutes + 1e-9; ++n) {
    const double minute = n * options.every;
    std::string done;
    for (; next < actions.size() && actions[next].minute <= minute + 1e-9; ++next) {
      p.advance_to(actions[next].minute * 60.0);
      p.act(actions[next].action);
      done += (done.empty() ? "" : ", ") + actions[next].text;
    }
    p.advance_to(minute * 60.0);
    const patient::Signs signs = p.signs();
    trend.push_back({minute, p.monitor(), p.inside(), std::string(patient::to_string(signs.speech)),
                     std::string(patient::to_string(signs.consciousness)), done});
  }
  return trend;
}

void print_table(const Trend& trend, std::ostream& out) {
  Table table({">min", ">RR", ">SpO2", ">EtCO2", ">HR", ">BP", "mind, speech", "done"});
  for (const TrendRow& r : trend) {
    const auto& m = r.monitor;
    table.row({whole(r.minute), whole(m.respiratory_rate_per_min),
               m.has_pulse ? whole(m.spo2_percent) : "-", whole(m.etco2_mmHg),
               whole(m.heart_rate_per_min),
               m.has_pulse ? whole(m.systolic_mmHg) + "/" + whole(m.diastolic_mmHg) : "no pulse",
               r.consciousness + ", " + r.speech, r.done});
  }
  table.print(out);
}

std::string csv_of(const Trend& trend) {
  std::string text =
      "minute,respiratory_rate_per_min,spo2_percent,etco2_mmHg,heart_rate_per_min,systolic_mmHg,"
      "diastolic_mmHg,temperature_C,paco2_mmHg,cardiac_output_L_per_min,ph,pao2_mmHg,"
      "lactate_mmol_per_L,bicarbonate_mmol_per_L,tidal_L,mean_arterial_mmHg,pulse_pressure_mmHg,"
      "least_pleural_cmH2O,most_pleural_cmH2O,wedge_mmHg,has_pulse,consciousness,speech,done\n";
  for (const TrendRow& r : trend) {
    const patient::Monitor& m = r.monitor;
    const patient::Inside& x = r.inside;
    for (double v : {r.minute,
                     m.respiratory_rate_per_min,
                     m.spo2_percent,
                     m.etco2_mmHg,
                     m.heart_rate_per_min,
                     m.systolic_mmHg,
                     m.diastolic_mmHg,
                     m.temperature_C,
                     x.paco2_mmHg,
                     x.cardiac_output_L_per_min,
                     x.ph,
                     x.pao2_mmHg,
                     x.lactate_mmol_per_L,
                     x.bicarbonate_mmol_per_L,
                     x.tidal_L,
                     x.mean_arterial_mmHg,
                     m.systolic_mmHg - m.diastolic_mmHg,
                     x.least_pleural_cmH2O,
                     x.most_pleural_cmH2O,
                     x.wedge_mmHg}) {
      text += std::to_string(v) + ",";
    }
    text += std::string(m.has_pulse ? "1" : "0") + ",\"" + r.consciousness + "\",\"" + r.speech +
            "\",\"" + r.done + "\"\n";
  }
  return text;
}

nlohmann::ordered_json json_of(const Trend& trend) {
  auto rows = nlohmann::ordered_json::array();
  for (const TrendRow& r : trend) {
    rows.push_back({{"minute", r.minute},
                    {"respiratory_rate_per_min", r.monitor.respiratory_rate_per_min},
                    {"spo2_percent", r.monitor.spo2_percent},
                    {"etco2_mmHg", r.monitor.etco2_mmHg},
                    {"heart_rate_per_min", r.monitor.heart_rate_per_min},
                    {"systolic_mmHg", r.monitor.systolic_mmHg},
                    {"diastolic_mmHg", r.monitor.diastolic_mmHg},
                    {"paco2_mmHg", r.inside.paco2_mmHg},
                    {"ph", r.inside.ph},
                    {"pao2_mmHg", r.inside.pao2_mmHg},
                    {"lactate_mmol_per_L", r.inside.lactate_mmol_per_L},
                    {"has_pulse", r.monitor.has_pulse},
                    {"consciousness", r.consciousness},
                    {"speech", r.speech},
                    {"done", r.done}});
  }
  return rows;
}

int run(const WatchArguments& options, Context& context) {
  const auto data = data_directory();
  const auto conditions = patient::Conditions::load(data / "conditions");
  if (!conditions) return context.report(conditions.error());
  const auto treatments = patient::Treatments::load(data / "treatments");
  if (!treatments) return context.report(treatments.error());
  const auto found = teaching::find_case(options.case_file, data);
  if (!found) return context.report(found.error());
  const auto actions = parse_actions(options.actions.value_or(""), *treatments);
  if (!actions) return context.report(actions.error());
  const auto config = patient::configure(found->patient, *conditions, *treatments);
  if (!config) return context.report(at(options.case_file, config.error()));
  auto patient = patient::Patient::make(*config, Seed{options.seed});
  if (!patient) return context.report(patient.error());
  const Trend trend = watch(*patient, options, *actions);
  if (options.json) {
    context.out << json_of(trend).dump(2) << '\n';
  } else {
    context.out << found->title << '\n';
    print_table(trend, context.out);
    if (!actions->empty()) {
      context.out << "Treatments as effects, no doses. Follow local protocols and medical "
                     "direction.\n";
    }
  }
  if (options.csv) {
    if (const Status s = write_file(*options.csv, csv_of(trend)); !s)
      return context.report(s.error());
  }
  if (options.chart) {
    const Drawing chart = trend_chart(found->title, trend);
    const std::string page = options.chart->ends_with(".png") ? png_of(chart) : svg_of(chart);
    if (const Status s = write_file(*options.chart, page); !s) return context.report(s.error());
  }
  return kOk;
}

}  // namespace

void add_watch(Program& program) {
  auto options = std::make_shared<WatchArguments>();
  program.command("watch", "Follow a case over time: monitor trend, with treatments as effects")
      .argument("CASE", options->case_file, "a case file or the id of one in data/cases")
      .option("--minutes", options->minutes, Range{0.0, 600.0}, "how long to watch")
      .option("--every", options->every, Range{0.05, 60.0}, "minutes between rows")
      .option("--do", options->actions, "LIST",
              "treatments or postures as MINUTE:NAME[:SIDE], comma between; -NAME stops")
      .option("--csv", options->csv, "FILE", "write the trend as CSV")
      .option("--chart", options->chart, "FILE",
              "write the trend as a page: SVG, or PNG if FILE ends in .png")
      .option("--seed", options->seed, WholeRange{}, "seed of what is random in the patient")
      .json(options->json)
      .example("phren watch asthma --minutes 20 --do \"2:oxygen,4:inhaled_bronchodilator\"",
               "how the monitor follows treatment")
      .run([options](Context& context) { return run(*options, context); });
}

}  // namespace phren::app
