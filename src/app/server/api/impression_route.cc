#include "app/server/api/impression_route.h"

#include "exam/record.h"
#include "reasoning/json.h"
#include "reasoning/weigh.h"

namespace phren::app::server {

void add_impression_route(RouteTable& table, std::shared_ptr<const teaching::Library> library) {
  Route route;
  route.method = "POST";
  route.pattern = "/api/v1/impression";
  route.body_type = "application/json";
  route.max_body_bytes = kMaxJsonBody_bytes;
  route.handler = [library = std::move(library)](const Request& request, const PathValues&) {
    const auto examination = exam::examination_from_json(request.body, "examination");
    if (!examination) return problem(examination.error());
    const auto impression = reasoning::weigh(*examination, library->knowledge);
    if (!impression) return problem(impression.error());
    return json_response(reasoning::to_json_text(*impression));
  };
  table.add(std::move(route));
}

}  // namespace phren::app::server
