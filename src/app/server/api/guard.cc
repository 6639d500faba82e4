#include "app/server/api/guard.h"

#include <openssl/crypto.h>

#include <algorithm>
#include <cmath>

#include "app/server/api/audited.h"
#include "app/server/api/qr.h"
#include "base/json_text.h"

namespace phren::app::server {
namespace {

using nlohmann::json;
using records::ClassRole;

Response answer_of(const Refused& refused, const std::optional<Caller>& caller) {
  Response response = refused.response;
  if (caller) response.actor_id = caller->person().id;
  response.class_id = refused.class_id;
  return response;
}

// The local instructor may be asked only under a name of this machine: a foreign name that is made
// to point here is somebody's trick.
bool is_own_name(std::string_view host) {
  const std::size_t colon = host.rfind(':');
  const std::string_view name = host.ends_with(']') ? host : host.substr(0, colon);
  return name == "localhost" || name == "127.0.0.1" || name == "[::1]";
}

std::optional<Caller> local_instructor(const Office& office, Desk& desk, const Request& request) {
  const std::string& key = office.options.local_key;
  const std::string shown = cookie_value(request, kLocalCookie);
  const bool has_key = !key.empty() && shown.size() == key.size() &&
                       CRYPTO_memcmp(shown.data(), key.data(), key.size()) == 0;
  if (!has_key || !is_own_name(request.host)) return std::nullopt;
  records::People people(desk.db, office.options.cost);
  if (need(people.anyone_has_password())) return std::nullopt;
  auto person = people.find_login("local");
  if (!person) {
    person = people.add_without_password("local", "Local instructor", records::Role::kInstructor,
                                         desk.now_ms);
  }
  Caller caller;
  caller.session.person = need(std::move(person));
  caller.session.csrf = office.local_csrf;
  caller.is_local = true;
  return caller;
}

void check_csrf(const Caller& caller, const Request& request) {
  if (request.method == "GET" || request.method == "HEAD") return;
  if (request.csrf.empty() || request.csrf != caller.session.csrf) {
    refuse(403, "wrong page",
           "the header X-Phren-CSRF is missing or wrong; load the page again and repeat");
  }
}

void check_origin(const Request& request) {
  if (request.method == "GET" || request.method == "HEAD" || !is_cross_site(request)) return;
  refuse(403, "cross-site request", "a page of " + request.origin + " may not send to this server");
}

Route route_of(const RouteShape& shape) {
  Route route;
  route.method = shape.method;
  route.pattern = shape.pattern;
  route.lane = shape.lane;
  route.body_type = shape.body_type;
  if (shape.method == "POST" || shape.method == "PUT") {
    if (shape.body_type.empty()) route.body_type = "application/json";
    route.max_body_bytes =
        route.body_type == "application/json" ? kMaxJsonBody_bytes : kMaxTextBody_bytes;
  }
  return route;
}

}  // namespace

void refuse(int status, std::string_view title, std::string_view detail, std::string class_id) {
  throw Refused{problem(status, title, detail), std::move(class_id)};
}
void refuse(const Error& error, std::string class_id) {
  throw Refused{problem(error), std::move(class_id)};
}

std::optional<Caller> find_caller(const Office& office, Desk& desk, const Request& request) {
  const std::string token = session_token(request);
  if (token.empty()) return local_instructor(office, desk, request);
  records::People people(desk.db, office.options.cost);
  auto open = people.resume(token, desk.now_ms, office.options.session);
  // A store in trouble ends nobody's session; an expired learner must not turn into the local
  // instructor.
  if (!open && open.error().code != ErrorCode::kNotFound) refuse(open.error());
  if (!open) return std::nullopt;
  return Caller{std::move(*open), false};
}

Route for_anyone(const RouteShape& shape, DeskHandler handler) {
  Route route = route_of(shape);
  route.desk_handler = [run = std::move(handler)](Desk& desk, const Request& request,
                                                  const PathValues& values) {
    try {
      check_origin(request);
      return run(desk, request, values);
    } catch (const Refused& refused) {
      return answer_of(refused, std::nullopt);
    }
  };
  return route;
}

Route for_callers(const OfficePtr& office, const RouteShape& shape, CallerHandler handler) {
  Route route = route_of(shape);
  const std::string event(event_of(shape.method, shape.pattern));
  route.desk_handler = [office, event, run = std::move(handler)](Desk& desk, const Request& request,
                                                                 const PathValues& values) {
    std::optional<Caller> caller;
    try {
      check_origin(request);
      caller = find_caller(*office, desk, request);
      if (!caller) {
        refuse(401, "not logged in",
               session_token(request).empty() ? "log in, or join with a code"
                                              : "the session has expired; log in or join again");
      }
      check_csrf(*caller, request);
      Response response = run(desk, *caller, request, values);
      response.has_session = !caller->is_local;
      if (!event.empty() && response.status < 300) {
        note_deed(desk, *caller, request, values, event);
      }
      return response;
    } catch (const Refused& refused) {
      Response response = answer_of(refused, caller);
      response.has_session = caller && !caller->is_local;
      return response;
    }
  };
  return route;
}

bool reaches(const Caller& caller, const std::string& class_id) {
  const std::string& joined = caller.session.class_id;
  return joined.empty() || class_id.empty() || joined == class_id;
}

bool is_teaching(const Caller& caller) {
  return caller.person().role != records::Role::kLearner && caller.session.class_id.empty();
}

ClassRole role_of(Desk& desk, const Caller& caller, const std::string& class_id) {
  if (!reaches(caller, class_id)) return ClassRole::kNone;
  return need(records::Classes(desk.db).role_in(class_id, caller.person().id), class_id);
}

records::SeenEncounter need_encounter(Desk& desk, const Caller& caller, const std::string& id) {
  records::Encounters encounters(desk.db);
  const auto info = encounters.info(id);
  const std::string class_id = info ? info->class_id : std::string();
  auto seen = need(encounters.see(caller.person(), id), class_id);
  if (!reaches(caller, class_id)) {
    refuse(404, "not found", "encounter '" + id + "' is not among those you may see", class_id);
  }
  return seen;
}

ClassRole need_member(Desk& desk, const Caller& caller, const std::string& class_id) {
  const ClassRole role = role_of(desk, caller, class_id);
  if (role == ClassRole::kNone) {
    refuse(404, "not found", "there is no such class, or it is not yours", class_id);
  }
  return role;
}

ClassRole need_staff(Desk& desk, const Caller& caller, const std::string& class_id) {
  const ClassRole role = need_member(desk, caller, class_id);
  if (!records::is_staff(role)) {
    refuse(403, "not allowed", "this is for the instructors and examiners of the class", class_id);
  }
  return role;
}

void need_instructor(Desk& desk, const Caller& caller, const std::string& class_id) {
  if (need_member(desk, caller, class_id) != ClassRole::kInstructor) {
    refuse(403, "not allowed", "this is for the instructors of the class", class_id);
  }
}

records::Station need_station(Desk& desk, const Caller& caller, const std::string& station_id,
                              bool instructor_only) {
  records::Station station = need(records::Stations(desk.db).find(station_id));
  const ClassRole role = role_of(desk, caller, station.class_id);
  if (role == ClassRole::kNone) {
    refuse(404, "not found", "there is no such station, or it is not yours", station.class_id);
  }
  if (!records::is_staff(role) || (instructor_only && role != ClassRole::kInstructor)) {
    refuse(403, "not allowed",
           instructor_only ? "this is for the instructors of the class"
                           : "this is for the instructors and examiners of the class",
           station.class_id);
  }
  return station;
}

// One store cuts text at a NUL and the other keeps it: two people would become one.
void need_no_nul(const json& value) {
  if (value.is_string() && value.get_ref<const std::string&>().find('\0') != std::string::npos) {
    refuse(422, "wrong value", "text must not contain the character NUL");
  }
  if (!value.is_structured()) return;
  for (const auto& [name, inner] : value.items()) {
    if (value.is_object()) need_no_nul(json(name));
    need_no_nul(inner);
  }
}

json body_of(const Request& request) {
  json body = parse_json<json>(request.body);
  need_no_nul(body);
  if (!body.is_object()) {
    refuse(400, "malformed",
           "the body must be one JSON object, nested at most " + std::to_string(kDeepestJson) +
               " deep");
  }
  return body;
}

std::string text_field(const json& body, const char* name, std::size_t most_bytes,
                       bool may_be_empty) {
  const auto found = body.find(name);
  const bool fits = found != body.end() && found->is_string() &&
                    found->get_ref<const std::string&>().size() <= most_bytes &&
                    (may_be_empty || !found->get_ref<const std::string&>().empty());
  if (!fits) {
    refuse(422, "wrong value",
           std::string(name) + " must be a text of " + (may_be_empty ? "0" : "1") + " to " +
               std::to_string(most_bytes) + " bytes");
  }
  return found->get<std::string>();
}

std::string text_field_or(const json& body, const char* name, std::string fallback,
                          std::size_t most_bytes) {
  if (!body.contains(name)) return fallback;
  return text_field(body, name, most_bytes, true);
}

double number_field(const json& body, const char* name, double low, double high) {
  const auto found = body.find(name);
  if (found == body.end() || !found->is_number() || !(found->get<double>() >= low) ||
      !(found->get<double>() <= high)) {
    refuse(422, "wrong value",
           std::string(name) + " must be a number from " + json(low).dump() + " to " +
               json(high).dump());
  }
  return found->get<double>();
}

void refuse_for_a_while(const std::string& what, std::string class_id) {
  Response response = problem(
      429, "too many tries",
      "too many " + what + "; wait " + std::to_string(records::kTriesWindow_s / 60) + " minutes");
  response.headers.push_back({"Retry-After", std::to_string(records::kTriesWindow_s)});
  throw Refused{std::move(response), std::move(class_id)};
}

void need_fewer_tries(Desk& desk, const std::string& name, int most, const std::string& what,
                      std::string class_id) {
  const std::int64_t since_ms = desk.now_ms - 1000 * records::kTriesWindow_s;
  if (need(records::count_failures(desk.db, name, since_ms)) >= most) {
    refuse_for_a_while(what, std::move(class_id));
  }
}

std::vector<std::string> places_for(const Office& office, const Request& request,
                                    std::string_view place, const std::string& code) {
  std::vector<std::string> bases = *office.options.addresses;
  if (bases.empty()) bases = {(request.is_secure ? "https://" : "http://") + request.host};
  for (std::string& base : bases) base += "/#/" + std::string(place) + "/" + code;
  return bases;
}

Response qr_answer(const Request& request, const std::vector<std::string>& places,
                   const std::string& class_id) {
  std::string chosen = query_value(request, "address");
  if (chosen.empty()) chosen = places.front();
  if (std::find(places.begin(), places.end(), chosen) == places.end()) {
    refuse(422, "wrong value", "address must be one of those that .../join lists", class_id);
  }
  Response response;
  response.content_type = "image/svg+xml";
  response.body = need(qr_svg(chosen));
  response.headers = {{"Cache-Control", "no-store"}};
  return response;
}

Response json_answer(const json& body, int status) {
  Response response =
      json_response(body.dump(-1, ' ', false, json::error_handler_t::replace), status);
  response.headers = {{"Cache-Control", "no-store"}};
  return response;
}

json number_or_null(double value) {
  return std::isfinite(value) ? json(value) : json();
}

json to_json(const teaching::Estimate& estimate) {
  return {{"value", number_or_null(estimate.value)},
          {"se", number_or_null(estimate.se)},
          {"low", number_or_null(estimate.low)},
          {"high", number_or_null(estimate.high)}};
}

}  // namespace phren::app::server
