// Coming in and leaving: login, logout, password, joining a class or a station by code.
#include "app/server/api/classroom.h"
#include "app/server/api/guard.h"
#include "app/server/api/plan.h"

namespace phren::app::server {
namespace {

using nlohmann::json;

// Wrong codes and keys in a window: per address (a whole room may share one behind a router), and
// per class, so that many addresses cannot guess together (a key is one of 30^8).
constexpr int kMostWrongJoins = 60;
constexpr int kMostWrongKeys = 5000;
// Guests of one open station, and of one address in a window (a room behind one router).
constexpr int kMostGuests = 200;
constexpr int kMostGuestsAddress = 60;

void set_cookie(Response& response, const Request& request, const std::string& token) {
  response.headers.push_back(
      {"Set-Cookie", std::string(session_cookie_name(request.is_secure)) + "=" + token +
                         "; Path=/; HttpOnly; SameSite=Strict; Max-Age=" +
                         (token.empty() ? "0" : "43200") + (request.is_secure ? "; Secure" : "")});
}

Response session_answer(Desk& desk, const std::optional<Caller>& caller) {
  const bool has_accounts = need(records::People(desk.db).anyone_has_password());
  json out{{"person", nullptr},
           {"csrf", ""},
           {"login_needed", !caller || !caller->is_local},
           {"is_local", caller && caller->is_local},
           {"has_accounts", has_accounts},
           {"station_id", ""},
           {"class_id", ""}};
  if (caller) {
    const auto& session = caller->session;
    out["person"] = {{"id", session.person.id},
                     {"name", session.person.name},
                     {"role", records::to_string(session.person.role)}};
    out["csrf"] = session.csrf;
    out["station_id"] = session.station_id;
    out["class_id"] = session.class_id;
  }
  return json_answer(out);
}

Response show(const OfficePtr& office, Desk& desk, const Request& request) {
  const auto caller = find_caller(*office, desk, request);
  Response response = session_answer(desk, caller);
  if (!caller && !session_token(request).empty()) set_cookie(response, request, "");
  return response;
}

// From the address that the server printed where it was started.
Response show_local_key(const OfficePtr& office, Desk& desk, const Request& request,
                        const PathValues& values) {
  Request with_key = request;
  with_key.cookie = std::string(kLocalCookie) + "=" + values.at("key");
  if (!find_caller(*office, desk, with_key)) {
    refuse(403, "not allowed",
           "this key is not the one that the server printed when it was started last, or the store "
           "has accounts by now: log in");
  }
  Response response;
  response.status = 303;
  response.headers = {{"Location", "/"},
                      {"Cache-Control", "no-store"},
                      {"Set-Cookie", std::string(kLocalCookie) + "=" + values.at("key") +
                                         "; Path=/; HttpOnly; SameSite=Strict; Max-Age=31536000" +
                                         (request.is_secure ? "; Secure" : "")}};
  return response;
}

Response log_in(const OfficePtr& office, Desk& desk, const Request& request) {
  const json body = body_of(request);
  records::People people(desk.db, office->options.cost);
  auto open = people.login(text_field(body, "login", 64), text_field(body, "password", 400),
                           desk.now_ms, office->options.login, request.remote);
  if (!open) {
    if (open.error().code == ErrorCode::kTooMany) refuse_for_a_while("wrong passwords");
    if (open.error().code == ErrorCode::kIo) refuse(open.error());
    refuse(401, "not logged in", open.error().message);
  }
  const std::string token = open->token;
  Response response = session_answer(desk, Caller{std::move(*open), false});
  set_cookie(response, request, token);
  return response;
}

Response log_out(Desk& desk, const Caller& caller, const Request& request) {
  if (!caller.is_local) need(records::People(desk.db).logout(caller.session.token));
  Response response = session_answer(desk, std::nullopt);
  set_cookie(response, request, "");
  return response;
}

Response change_password(const OfficePtr& office, Desk& desk, const Caller& caller,
                         const Request& request) {
  const json body = body_of(request);
  if (caller.is_local) refuse(409, "no account", "the local instructor has no password");
  records::People people(desk.db, office->options.cost);
  const auto changed =
      people.change_password(caller.session, text_field(body, "old", 400),
                             text_field(body, "new", 400), desk.now_ms, office->options.login);
  if (!changed && changed.error().code == ErrorCode::kTooMany) {
    refuse_for_a_while("wrong passwords");
  }
  need(changed);
  return session_answer(desk, caller);
}

// Class and, unless a whole class is joined, station of a code.
struct JoinTarget {
  std::string class_id, station_id;
  bool is_open_to_all = false;
};

// By key one may come back to a station that has closed, to see the result; beginning is another
// matter.
JoinTarget find_target(Desk& desk, const std::string& code, bool has_key) {
  if (auto station = records::Stations(desk.db).find_code(code)) {
    const bool is_draft = station->state == records::StationState::kDraft;
    if (is_draft || (station->state != records::StationState::kOpen && !has_key)) {
      refuse(409, "closed", "this station is not open", station->class_id);
    }
    const StationPlan plan = need(plan_of(*station));
    return {station->class_id, station->id, plan.admission == "open"};
  }
  const auto joined = records::Classes(desk.db).find_code(code);
  if (!joined) refuse(404, "not found", "no class and no open station has this code");
  return {joined->id, "", false};
}

records::Member add_guest(Desk& desk, const JoinTarget& target, const std::string& name,
                          const std::string& remote) {
  records::Classes classes(desk.db);
  if (need(classes.guests(target.class_id, target.station_id)) >= kMostGuests) {
    refuse(409, "full", "this station has taken 200 guests, which is the most", target.class_id);
  }
  const std::string counted = "guest:" + remote;
  need_fewer_tries(desk, counted, kMostGuestsAddress, "guests of one address", target.class_id);
  need(records::note_failure(desk.db, counted, desk.now_ms));
  return need(classes.add_guest(target.class_id, name, desk.now_ms), target.class_id);
}

records::Member find_member(Desk& desk, const JoinTarget& target, const json& body,
                            const std::string& remote) {
  records::Classes classes(desk.db);
  if (!body.contains("key") && target.is_open_to_all) {
    const std::string name = text_field(body, "name", 100);
    if (records::could_run_in_spreadsheet(name)) {
      refuse(422, "wrong value", "a name cannot begin as a formula does, with = + - or @",
             target.class_id);
    }
    return add_guest(desk, target, name, remote);
  }
  const std::string tried = "class:" + target.class_id;
  need_fewer_tries(desk, tried, kMostWrongKeys, "wrong keys", target.class_id);
  auto member =
      classes.member_by_key(target.class_id, records::plain_code(text_field(body, "key", 40)));
  if (!member) {
    need(records::note_failure(desk.db, tried, desk.now_ms));
    refuse(404, "not found", "this key is not on the class list; ask your instructor",
           target.class_id);
  }
  return std::move(*member);
}

Response join(Desk& desk, const Request& request) {
  const std::string tried = "join:" + request.remote;
  need_fewer_tries(desk, tried, kMostWrongJoins, "wrong codes");
  const json body = body_of(request);
  try {
    const JoinTarget target =
        find_target(desk, records::plain_code(text_field(body, "code", 40)), body.contains("key"));
    const records::Member member = find_member(desk, target, body, request.remote);
    auto open = need(records::People(desk.db).open_joined(
        member.person, target.class_id, target.station_id, desk.now_ms, request.remote));
    const std::string token = open.token;
    Response response = session_answer(desk, Caller{std::move(open), false});
    set_cookie(response, request, token);
    return response;
  } catch (const Refused& refused) {
    if (refused.response.status == 404) {
      need(records::note_failure(desk.db, tried, desk.now_ms));
    }
    throw;
  }
}

}  // namespace

void add_session_routes(RouteTable& table, const OfficePtr& office) {
  const std::string path = "/api/v1/session";
  table.add(
      for_anyone({"GET", path}, [office](Desk& desk, const Request& request, const PathValues&) {
        return show(office, desk, request);
      }));
  table.add(for_anyone({"GET", path + "/local/{key}"},
                       [office](Desk& desk, const Request& request, const PathValues& values) {
                         return show_local_key(office, desk, request, values);
                       }));
  table.add(for_anyone({"POST", path, Lane::kWork},
                       [office](Desk& desk, const Request& request, const PathValues&) {
                         return log_in(office, desk, request);
                       }));
  table.add(for_callers(office, {"DELETE", path},
                        [](Desk& desk, const Caller& caller, const Request& request,
                           const PathValues&) { return log_out(desk, caller, request); }));
  table.add(for_callers(
      office, {"POST", path + "/password", Lane::kWork},
      [office](Desk& desk, const Caller& caller, const Request& request, const PathValues&) {
        return change_password(office, desk, caller, request);
      }));
  table.add(for_anyone(
      {"POST", "/api/v1/join"},
      [](Desk& desk, const Request& request, const PathValues&) { return join(desk, request); }));
}

}  // namespace phren::app::server
