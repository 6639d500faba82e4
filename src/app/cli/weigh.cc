// `phren weigh`: what the findings of an examination mean.
#include "reasoning/weigh.h"

#include <ostream>

#include "app/cli/command.h"
#include "app/cli/commands.h"
#include "app/cli/impression_text.h"
#include "base/files.h"
#include "exam/record.h"
#include "reasoning/json.h"

namespace phren::app {
namespace {

struct WeighArguments {
  std::string file;
  std::optional<std::string> setting;
  bool moving = false, published_only = false, json = false;
};

int weigh_file(const WeighArguments& options, Context& context) {
  const auto text = read_file(options.file);
  if (!text) return context.report(text.error());
  const auto examination = exam::examination_from_json(*text, options.file);
  if (!examination) return context.report(examination.error());
  const auto knowledge = reasoning::Knowledge::load(data_directory());
  if (!knowledge) return context.report(knowledge.error());
  reasoning::WeighOptions how;
  how.setting = options.setting.value_or("");
  how.published_only = options.published_only;
  if (options.moving) how.surroundings = reasoning::Surroundings::kMovingVehicle;
  const auto impression = reasoning::weigh(*examination, *knowledge, how);
  if (!impression) return context.report(impression.error());
  if (options.json) {
    context.out << reasoning::to_json_text(*impression);
  } else {
    print_impression(*impression, context.out);
  }
  return kOk;
}

}  // namespace

void add_weigh(Program& program) {
  auto options = std::make_shared<WeighArguments>();
  program.command("weigh", "Say what the findings of an examination mean, with sources")
      .argument("EXAMINATION.json", options->file, "an examination record")
      .option("--setting", options->setting, "NAME",
              "whose priors: ems_adult, ems_child or clinic (default: as the record says)")
      .flag("--moving", options->moving,
            "listened to in a moving vehicle: sounds not heard count for next to nothing")
      .flag("--published-only", options->published_only,
            "leave teaching judgement out; only published figures move a condition")
      .json(options->json)
      .example("phren weigh examination.json", "threats, likely conditions, next looks")
      .example("phren weigh examination.json --setting clinic --json", "the same for a program")
      .run([options](Context& context) { return weigh_file(*options, context); });
}

}  // namespace phren::app
