#include "app/server/api/impression_route.h"

#include <memory>

#include "exam/record.h"
#include "reasoning/json.h"
#include "reasoning/weigh.h"

namespace phren::app::server {

Status add_impression_route(RouteTable& table, const std::filesystem::path& data) {
  auto loaded = TRY(reasoning::Knowledge::load(data));
  const auto knowledge = std::make_shared<const reasoning::Knowledge>(std::move(loaded));
  Route route;
  route.method = "POST";
  route.pattern = "/api/v1/impression";
  route.body_type = "application/json";
  route.max_body_bytes = kMaxJsonBody_bytes;
  route.handler = [knowledge](const Request& request, const PathValues&) {
    const auto examination = exam::examination_from_json(request.body, "examination");
    if (!examination) return problem(examination.error());
    const auto impression = reasoning::weigh(*examination, *knowledge);
    if (!impression) return problem(impression.error());
    return json_response(reasoning::to_json_text(*impression));
  };
  table.add(std::move(route));
  return {};
}

}  // namespace phren::app::server
