#include "app/server/api/specimen_routes.h"

#include <memory>
#include <nlohmann/json.hpp>

#include "app/specimen/specimen.h"
#include "app/specimen/truth_json.h"
#include "exam/names.h"
#include "signal/audio_file.h"

namespace phren::app::server {
namespace {

using nlohmann::json;

constexpr double kRate_hz = 16000.0;
constexpr Seed kSeed{3};  // as `phren specimen` makes them unless told otherwise

struct Shelf {
  std::filesystem::path data;
  Specimens specimens;
};

json to_json(const Specimen& specimen) {
  return {
      {"id", specimen.id},         {"name", specimen.name},       {"mechanism", specimen.mechanism},
      {"listen", specimen.listen}, {"site_id", specimen.site_id}, {"source", specimen.source},
      {"status", specimen.status}};
}

using Answer = Response (*)(const Specimen&, const SpecimenSound&);

Route made_route(std::string pattern, std::shared_ptr<const Shelf> shelf, Answer answer) {
  Route route;
  route.method = "GET";
  route.pattern = std::move(pattern);
  route.lane = Lane::kSlow;
  route.handler = [shelf, answer](const Request&, const PathValues& values) {
    const auto specimen = shelf->specimens.find(values.at("id"));
    if (!specimen) return problem(specimen.error());
    const auto made = make_specimen(*specimen, kSeed, kRate_hz, shelf->data);
    return made ? answer(*specimen, *made) : problem(made.error());
  };
  return route;
}

Response answer_truth(const Specimen& specimen, const SpecimenSound& made) {
  json out = to_json(specimen);
  out["truth"] = truth_json(made);
  return json_response(out.dump());
}

Response answer_sound(const Specimen&, const SpecimenSound& made) {
  auto bytes = signal::wav_bytes(made.audio, signal::SampleFormat::kPcm24);
  if (!bytes) return problem(bytes.error());
  Response response;
  response.content_type = "audio/wav";
  response.body = std::move(*bytes);
  response.headers.push_back({"Cache-Control", "no-cache"});
  return response;
}

}  // namespace

Status add_specimen_routes(RouteTable& table, const std::filesystem::path& data) {
  auto loaded = TRY(Specimens::load(data / "acoustics_specimens.toml"));
  const auto shelf = std::make_shared<const Shelf>(Shelf{data, std::move(loaded)});
  json list = json::array();
  for (const Specimen& specimen : shelf->specimens.all()) list.push_back(to_json(specimen));
  Route all;
  all.method = "GET";
  all.pattern = "/api/v1/specimens";
  all.handler = [text = json{{"specimens", list}}.dump()](const Request&, const PathValues&) {
    return json_response(text);
  };
  table.add(std::move(all));
  table.add(made_route("/api/v1/specimens/{id}", shelf, answer_truth));
  table.add(made_route("/api/v1/specimens/{id}/sound", shelf, answer_sound));
  return {};
}

}  // namespace phren::app::server
