#include "app/server/api/specimen_routes.h"

#include <charconv>
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
constexpr std::uint64_t kLargestSeed = 999'999;

json to_json(const Specimen& specimen) {
  return {
      {"id", specimen.id},         {"name", specimen.name},       {"mechanism", specimen.mechanism},
      {"listen", specimen.listen}, {"site_id", specimen.site_id}, {"source", specimen.source},
      {"status", specimen.status}};
}

// ?seed=N&realness=WORD: another body, and how real it sounds.
struct Wish {
  Seed seed = kSpecimenSeed;
  acoustics::Realness realness = acoustics::Realness::kClean;
};
Result<Wish> wish_of(const Request& request) {
  Wish out;
  if (const std::string word = query_value(request, "realness"); !word.empty()) {
    out.realness = TRY(read_word<acoustics::Realness>("realness", word));
  }
  if (const std::string text = query_value(request, "seed"); !text.empty()) {
    const auto [end, error] =
        std::from_chars(text.data(), text.data() + text.size(), out.seed.value);
    if (error != std::errc() || end != text.data() + text.size() || out.seed.value > kLargestSeed) {
      return fail(out_of_range("seed", "'" + text + "'", "a whole number up to 999999"));
    }
  }
  return out;
}

using Answer = Response (*)(const Specimen&, const SpecimenSound&);

Route made_route(std::string pattern, const OfficePtr& office, Answer answer) {
  Route route;
  route.method = "GET";
  route.pattern = std::move(pattern);
  route.lane = Lane::kSlow;
  route.handler = [office, answer](const Request& request, const PathValues& values) {
    auto specimen = office->player->specimens().find(values.at("id"));
    if (!specimen) return problem(specimen.error());
    const auto wish = wish_of(request);
    if (!wish) return problem(wish.error());
    specimen->realness = wish->realness;
    const teaching::Library& library = *office->library;
    const auto made = make_specimen(
        *specimen, wish->seed, kRate_hz,
        SpecimenData{library.conditions, library.treatments, library.sites, &library.instruments});
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

void add_specimen_routes(RouteTable& table, const OfficePtr& office) {
  json list = json::array();
  for (const Specimen& specimen : office->player->specimens().all()) {
    list.push_back(to_json(specimen));
  }
  Route all;
  all.method = "GET";
  all.pattern = "/api/v1/specimens";
  all.handler = [text = json{{"specimens", list}}.dump()](const Request&, const PathValues&) {
    return json_response(text);
  };
  table.add(std::move(all));
  table.add(made_route("/api/v1/specimens/{id}", office, answer_truth));
  table.add(made_route("/api/v1/specimens/{id}/sound", office, answer_sound));
}

}  // namespace phren::app::server
