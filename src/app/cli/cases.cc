// `phren cases`: the prepared patients.
#include <nlohmann/json.hpp>
#include <ostream>

#include "app/cli/command.h"
#include "app/cli/commands.h"
#include "app/cli/table.h"
#include "base/files.h"
#include "teaching/case.h"

namespace phren::app {
namespace {

struct CasesArguments {
  bool json = false;
  std::optional<std::string> folder;
};

std::string person_in_words(const patient::Person& person) {
  const auto age = std::to_string(static_cast<int>(person.age_years));
  return age + (person.sex == patient::Sex::kFemale ? " y, female" : " y, male");
}

nlohmann::ordered_json json_of(const teaching::Case& prepared, const std::string& file) {
  nlohmann::ordered_json row = {
      {"id", prepared.id},
      {"file", file},
      {"title", prepared.title},
      {"age_years", prepared.patient.person.age_years},
      {"sex", prepared.patient.person.sex == patient::Sex::kFemale ? "female" : "male"},
      {"setting", prepared.setting},
      {"conditions", nlohmann::ordered_json::array()}};
  for (const auto& condition : prepared.patient.conditions) {
    row["conditions"].push_back({{"id", condition.id}, {"severity", condition.severity}});
  }
  return row;
}

int run_cases(const CasesArguments& options, Context& context) {
  const auto data = data_directory();
  const auto vocabulary = teaching::CaseVocabulary::load(data);
  if (!vocabulary) return context.report(vocabulary.error());
  const std::filesystem::path folder = options.folder ? *options.folder : (data / "cases").string();
  const auto cases = teaching::list_cases(folder, *vocabulary);
  if (!cases) return context.report(cases.error());
  int code = kOk;
  auto rows = nlohmann::ordered_json::array();
  Table table({"case", "title", "patient", "file"});
  for (const auto& [file, loaded] : *cases) {
    if (!loaded) {
      code = context.report(loaded.error());
      continue;
    }
    rows.push_back(json_of(*loaded, file.string()));
    table.row({loaded->id, loaded->title, person_in_words(loaded->patient.person), file.string()});
  }
  if (options.json) {
    context.out << rows.dump(2) << '\n';
  } else {
    table.print(context.out);
  }
  return code;
}

}  // namespace

void add_cases(Program& program) {
  auto options = std::make_shared<CasesArguments>();
  program.command("cases", "List the prepared patients")
      .option("--in", options->folder, "FOLDER", "a folder of case files instead of the demo cases")
      .json(options->json)
      .example("phren cases --in my-cases",
               "your own cases; tells what is wrong with each, by line")
      .run([options](Context& context) { return run_cases(*options, context); });
}

}  // namespace phren::app
