// `phren conditions`: what the patient can have, as a table, a page, or all pages as Markdown.
#include "patient/conditions.h"

#include <nlohmann/json.hpp>
#include <ostream>

#include "app/cli/command.h"
#include "app/cli/commands.h"
#include "app/cli/table.h"
#include "base/files.h"

namespace phren::app {
namespace {

struct ConditionsArguments {
  std::vector<std::string> ids;
  std::optional<std::string> docs;
  bool json = false;
};

std::string short_number(double v) {
  std::string s = std::to_string(v);
  while (s.ends_with('0')) s.pop_back();
  if (s.ends_with('.')) s.pop_back();
  return s;
}

std::string_view word_of(patient::Place place) {
  switch (place) {
    case patient::Place::kChosen:
      return "chosen side or lobe";
    case patient::Place::kBases:
      return "lower lobes";
    case patient::Place::kUpper:
      return "upper lobes";
    case patient::Place::kOther:
      return "the rest of the lung";
    case patient::Place::kEverywhere:
      break;
  }
  return "everywhere";
}

// One page per condition, from data alone, so that a clinician can read and correct it.
std::string page_of(const patient::Condition& c) {
  std::string p = "# " + c.name + "\n\n" + c.summary + "\n\n";
  p += "*Training aid. Not for diagnosing or treating anyone; follow local protocols and medical "
       "direction.*\n\n";
  for (const auto& [title, text] :
       {std::pair{"How it comes about", &c.mechanism}, std::pair{"What is heard", &c.heard},
        std::pair{"What is seen and felt", &c.seen}, std::pair{"On the monitor", &c.monitor},
        std::pair{"Mind", &c.caution}}) {
    if (!text->empty()) p += std::string("## ") + title + "\n\n" + *text + "\n\n";
  }
  if (!c.effects.empty()) {
    p += "## In the model\n\n| mechanism | where | severity 0 | 0.25 | 0.5 | 0.75 | 1 | source | "
         "status |\n"
         "|---|---|---|---|---|---|---|---|---|\n";
    for (const patient::DataEffect& e : c.effects) {
      const patient::MechanismInfo& info = patient::info_of(e.effect.mechanism);
      const bool is_body = patient::level_of(e.effect.mechanism) == patient::Level::kBody;
      p += "| " + std::string(info.name) + " (" + std::string(info.meaning) + ") | " +
           std::string(is_body ? "body" : word_of(e.place));
      for (double v : e.effect.curve.at) p += " | " + short_number(v);
      p += " | " + e.source.text + " | " + e.source.status + " |\n";
    }
    p += "\n";
  }
  if (c.course_change != 0.0 || !c.grade_by_age.empty()) {
    p += "## Course and age\n\n";
    if (c.course_change != 0.0) {
      p += "- Left alone, severity changes by " + short_number(c.course_change) + " over " +
           short_number(c.course_minutes) + " minutes, less when mild (engineering).\n";
    }
    for (const auto& [age, share] : c.grade_by_age) {
      p += "- At " + short_number(age) + " years " + short_number(share) +
           " of the lesion makes the same grade (engineering).\n";
    }
    p += "\n";
  }
  if (!c.facts.empty()) {
    p += "## Story and signs stated by the condition\n\n";
    for (const patient::ConditionFact& f : c.facts) {
      p += "- " + std::string(patient::info_of(f.fact).finding);
      if (f.from_severity > 0.0) p += " (from severity " + short_number(f.from_severity) + ")";
      p += "\n";
    }
    p += "\n";
  }
  if (!c.sources.empty()) {
    p += "## Sources\n\n";
    for (const patient::Source& s : c.sources) p += "- " + s.text + " [" + s.status + "]\n";
    p += "\n";
  }
  p += "Made from `data/conditions/" + c.id +
       ".toml` by `phren conditions --docs docs/conditions`.\n";
  return p;
}

Status write_docs(const patient::Conditions& all, const std::filesystem::path& folder) {
  TRY(make_directories(folder));
  for (const patient::Condition& c : all.all()) {
    TRY(write_file(folder / (c.id + ".md"), page_of(c)));
  }
  return {};
}

void print_json(const patient::Conditions& all, std::ostream& out) {
  auto rows = nlohmann::ordered_json::array();
  for (const patient::Condition& c : all.all()) {
    rows.push_back({{"id", c.id},
                    {"name", c.name},
                    {"summary", c.summary},
                    {"heard", c.heard},
                    {"needs_side", c.needs_side},
                    {"least_age_years", c.least_age_years},
                    {"most_age_years", c.most_age_years}});
  }
  out << rows.dump(2) << '\n';
}

int run(const ConditionsArguments& options, Context& context) {
  const auto all = patient::Conditions::load(data_directory() / "conditions");
  if (!all) return context.report(all.error());
  if (options.docs) {
    if (const Status wrote = write_docs(*all, *options.docs); !wrote)
      return context.report(wrote.error());
    context.out << "wrote " << all->all().size() << " pages to " << *options.docs << '\n';
    return kOk;
  }
  int code = kOk;
  for (const std::string& id : options.ids) {
    const auto c = all->find(id);
    if (!c) {
      code = context.report(c.error());
      continue;
    }
    context.out << page_of(*c);
  }
  if (!options.ids.empty()) return code;
  if (options.json) {
    print_json(*all, context.out);
    return kOk;
  }
  Table table({"condition", "name", "what it is"});
  for (const patient::Condition& c : all->all()) table.row({c.id, c.name, c.summary});
  table.print(context.out);
  return kOk;
}

}  // namespace

void add_conditions(Program& program) {
  auto options = std::make_shared<ConditionsArguments>();
  auto page = std::make_shared<std::optional<std::string>>();
  program.command("conditions", "List what a patient can have, with mechanism, signs and sources")
      .option("--page", *page, "ID", "print the page of one condition")
      .option("--docs", options->docs, "DIR", "write every page as Markdown into DIR")
      .json(options->json)
      .example("phren conditions", "all conditions in one table")
      .example("phren conditions --page asthma", "mechanism, what is heard where, sources")
      .run([options, page](Context& context) {
        if (*page) options->ids = {**page};
        return run(*options, context);
      });
}

}  // namespace phren::app
