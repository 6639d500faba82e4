// What the projector shows: every specimen with its reason and its words, its patient for the page's engine,
// and the lessons that come with Phren.
#include <nlohmann/json.hpp>

#include "app/server/api/classroom.h"
#include "app/server/api/guard.h"
#include "app/specimen/show.h"
#include "base/files.h"
#include "bedside/setup.h"
#include "bedside/words.h"
#include "exam/names.h"

namespace phren::app::server {
namespace {

using nlohmann::json;

// Heard over cloth as well as on the skin, so the patient wears something.
constexpr bedside::Circumstances kScene{bedside::Clothing::kJacket,
                                        acoustics::Surroundings::kQuiet};

json to_json(const Specimen& s, const ShowWords& words) {
  const patient::Person& person = s.setup.person;
  json out{{"id", s.id},
           {"name", s.name},
           {"mechanism", s.mechanism},
           {"listen", s.listen},
           {"source", s.source},
           {"status", s.status},
           {"sound", s.sound ? exam::to_string(*s.sound) : ""},
           {"site_id", s.site_id},
           {"manoeuvre", word_of(s.manoeuvre)},
           {"is_tapped", s.is_tapped},
           {"seconds", s.seconds},
           {"condition", s.setup.conditions.empty() ? "" : s.setup.conditions.front().id},
           {"age_years", person.age_years},
           {"where", words.where},
           {"means", words.means},
           {"look_alike", words.look_alike},
           {"apart", words.apart},
           {"words_source", words.source},
           {"words_status", words.status},
           {"treatment", nullptr}};
  if (!words.treatment.empty()) {
    out["treatment"] = {{"id", words.treatment},
                        {"side", exam::to_string(s.setup.conditions.front().side)},
                        {"minutes", words.treated_min}};
  }
  return out;
}

Response packet_of(const patient::PatientSetup& patient, const teaching::Library& library) {
  const auto setup = bedside::prepare(patient, kScene, {}, library.conditions, library.treatments);
  if (!setup) return problem(setup.error());
  Response response;
  response.content_type = "application/octet-stream";
  response.body = bedside::pack(*setup);
  response.headers.push_back({"Cache-Control", "no-cache"});
  return response;
}

Route packet_route(const OfficePtr& office, std::shared_ptr<const Show> show) {
  Route route;
  route.method = "GET";
  route.pattern = "/api/v1/show/{id}/config/{build}";
  route.handler = [office, show](const Request&, const PathValues& values) {
    const auto specimen = office->player->specimens().find(values.at("id"));
    if (!specimen) return problem(specimen.error());
    std::vector<std::string_view> known{"own"};
    for (const ShowBuild& build : show->builds()) {
      if (build.id == values.at("build")) {
        return packet_of(with_build(specimen->setup, build), *office->library);
      }
      known.push_back(build.id);
    }
    if (values.at("build") == "own") return packet_of(specimen->setup, *office->library);
    return problem(404, "not found",
                   "there is no build '" + values.at("build") + "'." +
                       did_you_mean(values.at("build"), known));
  };
  return route;
}

// Who builds a patient begins with a person of usual size.
json sizes_of(const teaching::DrawData& drawing) {
  json sizes = json::array();
  for (const teaching::TypicalSize& one : drawing.sizes()) {
    sizes.push_back({{"age_years", one.age_years},
                     {"female", {{"height_cm", one.female_cm}, {"weight_kg", one.female_kg}}},
                     {"male", {{"height_cm", one.male_cm}, {"weight_kg", one.male_kg}}}});
  }
  return sizes;
}

json lessons_of(const std::filesystem::path& folder) {
  json lessons = json::array();
  std::vector<std::filesystem::path> files;
  std::error_code error;
  for (const auto& entry : std::filesystem::directory_iterator(folder, error)) {
    if (entry.path().extension() == ".txt") files.push_back(entry.path());
  }
  std::sort(files.begin(), files.end());
  for (const auto& file : files) {
    if (const auto text = read_file(file, 1u << 16)) {
      lessons.push_back({{"id", file.stem().string()}, {"text", *text}});
    }
  }
  return lessons;
}

}  // namespace

void add_show_routes(RouteTable& table, const OfficePtr& office) {
  const auto show = office->show;
  json sounds = json::array(), builds = json::array();
  for (const ShowWords& words : show->words()) {
    if (const auto one = office->player->specimens().find(words.id)) {
      sounds.push_back(to_json(*one, words));
    }
  }
  for (const ShowBuild& build : show->builds()) {
    builds.push_back({{"id", build.id},
                      {"label", build.label},
                      {"weight_factor", build.weight_factor},
                      {"muscle", build.muscle ? json(*build.muscle) : json(nullptr)},
                      {"is_compared", build.is_compared}});
  }
  Route all;
  all.method = "GET";
  all.pattern = "/api/v1/show";
  all.handler = [text = json{{"sounds", sounds},
                             {"builds", builds},
                             {"sizes", sizes_of(office->library->drawing)},
                             {"usual_muscle", teaching::kUsualMuscle},
                             {"seed", kSpecimenSeed.value},
                             {"lessons", lessons_of(office->data / "lessons")}}
                            .dump()](const Request&, const PathValues&) {
    return json_response(text);
  };
  table.add(std::move(all));
  table.add(packet_route(office, show));
}

}  // namespace phren::app::server
