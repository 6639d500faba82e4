// Who is asking and what they may do.
//
// Errors:  within a handler a refusal is thrown as Refused and caught in one place, where it
// becomes
//          an answer that says who was refused; the route table (routes.h) writes it down. Refused
//          never leaves this folder.
// Rules:   another's thing and a thing that is not there look the same (404).
#pragma once

#include <functional>
#include <nlohmann/json.hpp>
#include <string>

#include "app/server/api/desk.h"
#include "app/server/api/office.h"
#include "app/server/api/routes.h"
#include "records/classes.h"
#include "records/encounters.h"
#include "teaching/statistics/estimate.h"

namespace phren::app::server {

using OfficePtr = std::shared_ptr<const Office>;

struct Caller {
  records::OpenSession session;
  bool is_local = false;  // the local instructor, without a session
  const records::Person& person() const { return session.person; }
};

struct Refused {
  Response response;
  std::string class_id;  // that it has to do with; may be empty
};
[[noreturn]] void refuse(int status, std::string_view title, std::string_view detail,
                         std::string class_id = {});
[[noreturn]] void refuse(const Error& error, std::string class_id = {});

// 429: "too many WHAT; wait 15 minutes".
[[noreturn]] void refuse_for_a_while(const std::string& what, std::string class_id = {});
// ... where so many tries are noted under the name (records/people.h) within these 15 minutes.
void need_fewer_tries(Desk& desk, const std::string& name, int most, const std::string& what,
                      std::string class_id = {});

// The value, or the error as a refusal.
template <class T>
T need(Result<T> result, const std::string& class_id = {}) {
  if (!result) refuse(result.error(), class_id);
  return std::move(*result);
}
inline void need(const Status& status, const std::string& class_id = {}) {
  if (!status) refuse(status.error(), class_id);
}

using CallerHandler =
    std::function<Response(Desk&, const Caller&, const Request&, const PathValues&)>;
// What a route needs beside its address.
struct RouteShape {
  std::string method, pattern;
  Lane lane = Lane::kStore;
  std::string body_type = {};
};
// Only for who is logged in; everything but GET needs the CSRF header.
Route for_callers(const OfficePtr& office, const RouteShape& shape, CallerHandler handler);
// For anyone, logged in or not.
Route for_anyone(const RouteShape& shape, DeskHandler handler);

// Holds the key that this machine's instructor has read where the server was started.
inline constexpr std::string_view kLocalCookie = "phren_local";

std::optional<Caller> find_caller(const Office& office, Desk& desk, const Request& request);

// A session made by joining a class is good for that class alone (and for practice, which has
// none), whatever else the person may do elsewhere.
bool reaches(const Caller& caller, const std::string& class_id);
// An instructor or examiner, who cannot be on a roll.
bool is_teaching(const Caller& caller);
records::ClassRole role_of(Desk& desk, const Caller& caller, const std::string& class_id);
// The role in the class, or 404 for who has none.
records::ClassRole need_member(Desk& desk, const Caller& caller, const std::string& class_id);
records::ClassRole need_staff(Desk& desk, const Caller& caller, const std::string& class_id);
void need_instructor(Desk& desk, const Caller& caller, const std::string& class_id);
// The station, for staff of its class.
records::Station need_station(Desk& desk, const Caller& caller, const std::string& station_id,
                              bool instructor_only = false);

// The encounter, for its learner and the staff of its class.
records::SeenEncounter need_encounter(Desk& desk, const Caller& caller, const std::string& id);

// The body as a JSON object; 400 otherwise.
nlohmann::json body_of(const Request& request);
// Fields of it; 422 naming the field.
std::string text_field(const nlohmann::json& body, const char* name, std::size_t most_bytes = 200,
                       bool may_be_empty = false);
std::string text_field_or(const nlohmann::json& body, const char* name, std::string fallback,
                          std::size_t most_bytes = 4000);
double number_field(const nlohmann::json& body, const char* name, double low, double high);

// Where a page of this server is, as others reach it, best first: ".../#/PLACE/CODE".
std::vector<std::string> places_for(const Office& office, const Request& request,
                                    std::string_view place, const std::string& code);
// The QR code of the one that the request names, or of the first.
Response qr_answer(const Request& request, const std::vector<std::string>& places,
                   const std::string& class_id);

Response json_answer(const nlohmann::json& body, int status = 200);
// null for what the data cannot tell.
nlohmann::json number_or_null(double value);
nlohmann::json to_json(const teaching::Estimate& estimate);

}  // namespace phren::app::server
