// Rounds over HTTP: opening one, coming in, and the log afterwards. What happens in between goes over a
// WebSocket (round_hub.h, docs/round.md).
#include <algorithm>

#include "app/server/api/classroom.h"
#include "app/server/api/guard.h"
#include "app/server/api/round_hub.h"
#include "app/server/api/round_room.h"
#include "bedside/log_text.h"
#include "bedside/round.h"
#include "records/passwords.h"
#include "records/rounds.h"

namespace phren::app::server {
namespace {

using nlohmann::json;
using records::Round;
using records::Rounds;

constexpr int kMostWrongCodes = 60;      // of one address: a room behind one router
constexpr int kMostComings = 150;        // into one round from one address, likewise
constexpr std::size_t kMostCame = 1000;  // of a round; how many listen at a time, its room decides
constexpr std::size_t kMostName_bytes = 60;

json to_json(const Round& round) {
  return {{"id", round.id},
          {"code", round.code},
          {"title", round.title},
          {"case_id", round.case_id},
          {"seed", std::to_string(round.seed)},
          {"created_ms", round.created_ms},
          {"ended_ms", round.ended_ms},
          {"takes", round.reached_take + 1}};
}

Round need_round(Desk& desk, const Caller& caller, const std::string& id) {
  const auto round = Rounds(desk.db).find(id);
  if (!round && round.error().code != ErrorCode::kNotFound) refuse(round.error());
  if (!round || round->opened_by != caller.person().id) {
    refuse(404, "not found", "there is no such round, or somebody else opened it");
  }
  return *round;
}

// Who has the id has it from the round: it cannot be guessed. It opens what stands on the wall anyway.
Round need_known(Desk& desk, const std::string& id) {
  return need(Rounds(desk.db).find(id));
}

// Somebody new in the round, with the token that the socket asks for.
json come_in(Desk& desk, const Round& round, const std::string& name, const std::string& role) {
  const std::string token = records::new_token();
  const auto person =
      need(Rounds(desk.db).add_person(round.id, {"", name, role}, token, desk.now_ms));
  return {{"round", {{"id", round.id}, {"code", round.code}, {"title", round.title}}},
          {"person", {{"id", person.id}, {"name", person.name}, {"role", person.role}}},
          {"token", token}};
}

Response open(const Office& office, Desk& desk, const Caller& caller, const Request& request) {
  if (!is_teaching(caller)) {
    refuse(403, "not allowed", "only instructors and examiners open a round");
  }
  const json body = body_of(request);
  const auto prepared = need(office.library->get(text_field(body, "case_id", 200)));
  const teaching::Library& library = *office.library;
  need(teaching::setup_of(prepared, library.conditions, library.treatments, library.instruments));
  Round round;
  round.case_id = prepared.id;
  round.title = text_field_or(body, "title", prepared.title, 200);
  round.opened_by = caller.person().id;
  if (body.contains("seed")) {
    const std::string text = text_field(body, "seed", 15);
    if (text.find_first_not_of("0123456789") != std::string::npos) {
      refuse(422, "wrong value", "seed must be a whole number of at most 15 digits, as text");
    }
    round.seed = std::strtoull(text.c_str(), nullptr, 10);
  }
  round = need(Rounds(desk.db).open(std::move(round), desk.now_ms));
  return json_answer(come_in(desk, round, caller.person().name, "desk"), 201);
}

Response list(Desk& desk, const Caller& caller) {
  json out = json::array();
  for (const Round& one : need(Rounds(desk.db).of_person(caller.person().id))) {
    out.push_back(to_json(one));
  }
  return json_answer({{"rounds", std::move(out)}});
}

Response join(Desk& desk, const Request& request) {
  const std::string tried = "round:" + request.remote;
  need_fewer_tries(desk, tried, kMostWrongCodes, "wrong codes");
  const json body = body_of(request);
  Rounds rounds(desk.db);
  const auto round = rounds.find_code(records::plain_code(text_field(body, "code", 40)));
  if (!round && round.error().code != ErrorCode::kNotFound) refuse(round.error());
  if (!round) {
    need(records::note_failure(desk.db, tried, desk.now_ms));
    refuse(404, "not found", "no round has this code; look at the wall again");
  }
  if (round->ended_ms > 0) refuse(409, "over", "this round is over");
  const std::string role = text_field_or(body, "role", "listener", 20);
  if (role != "listener" && role != "projector") {
    refuse(422, "wrong value", "role must be listener or projector");
  }
  if (!is_door_open(need(rounds.shared(round->id)))) {
    refuse(409, "closed", "the desk has closed the door of this round; ask whoever leads it");
  }
  const std::string name = text_field_or(body, "name", "", kMostName_bytes);
  const auto people = need(rounds.people(round->id));
  if (people.size() >= kMostCame) {
    refuse(409, "full",
           std::to_string(kMostCame) +
               " people have come into this round, which is the most; open another");
  }
  // Counted beside the wrong codes, which are forgotten in the same way.
  const std::string came = "came:" + round->id + ":" + request.remote;
  need_fewer_tries(desk, came, kMostComings, "people of this address in this round");
  need(records::note_failure(desk.db, came, desk.now_ms));
  return json_answer(come_in(desk, *round, name, role), 201);
}

// The encounter log of one person in one take; without a person, of the body alone.
Response log(Desk& desk, const Caller& caller, const Request& request, const std::string& id) {
  const Round round = need_round(desk, caller, id);
  const std::string person = query_value(request, "person");
  const std::string asked = query_value(request, "take");
  std::vector<bedside::RoundLine> shared, own;
  std::int64_t last = 0;
  int takes = 0;
  for (const auto& text : need(Rounds(desk.db).lines(id))) {
    if (!text.person_id.empty() && text.person_id != person) continue;
    auto line = need(bedside::parse_round_line(text.line));
    takes = std::max(takes, line.take);
    (text.person_id.empty() ? shared : own).push_back(std::move(line));
  }
  const int take = asked.empty() ? takes : std::atoi(asked.c_str());
  if (take < 0 || take > takes) {
    refuse(422, "wrong value", "take must be from 0 to " + std::to_string(takes));
  }
  for (const auto* lines : {&shared, &own}) {
    for (const auto& line : *lines) {
      if (line.take == take) last = std::max(last, line.step);
    }
  }
  if (round.ended_ms == 0 && take == round.reached_take) last = std::max(last, round.reached_step);
  bedside::EncounterLog all;
  all.header.encounter_id =
      round.id + "-" + (person.empty() ? "body" : person) + "-" + std::to_string(take);
  all.header.case_id = round.case_id;
  all.header.seed = round.seed;
  all.header.engine = PHREN_VERSION;
  all.actions = bedside::encounter_of(shared, own, take, last);
  Response response;
  response.content_type = "application/x-ndjson";
  response.body = bedside::to_text(all);
  response.headers = {{"Cache-Control", "no-store"}};
  return response;
}

}  // namespace

void add_round_routes(RouteTable& table, const OfficePtr& office) {
  const std::string path = "/api/v1/rounds";
  table.add_socket(path + "/live",
                   [hub = office->rounds](const Request& request, std::shared_ptr<Socket> socket) {
                     return hub->open(request, std::move(socket));
                   });
  table.add(
      for_callers(office, {"POST", path},
                  [office](Desk& desk, const Caller& caller, const Request& request,
                           const PathValues&) { return open(*office, desk, caller, request); }));
  table.add(for_callers(office, {"GET", path},
                        [](Desk& desk, const Caller& caller, const Request&, const PathValues&) {
                          return list(desk, caller);
                        }));
  table.add(for_anyone(
      {"POST", path + "/join"},
      [](Desk& desk, const Request& request, const PathValues&) { return join(desk, request); }));
  table.add(for_callers(
      office, {"GET", path + "/{id}"},
      [](Desk& desk, const Caller& caller, const Request&, const PathValues& values) {
        json out = to_json(need_round(desk, caller, values.at("id")));
        out["people"] = json::array();
        for (const auto& one : need(Rounds(desk.db).people(values.at("id")))) {
          out["people"].push_back({{"id", one.id}, {"name", one.name}, {"role", one.role}});
        }
        return json_answer(out);
      }));
  table.add(
      for_callers(office, {"POST", path + "/{id}/desk"},
                  [](Desk& desk, const Caller& caller, const Request&, const PathValues& values) {
                    const Round round = need_round(desk, caller, values.at("id"));
                    return json_answer(come_in(desk, round, caller.person().name, "desk"), 201);
                  }));
  table.add(
      for_callers(office, {"POST", path + "/{id}/projector"},
                  [](Desk& desk, const Caller& caller, const Request&, const PathValues& values) {
                    const Round round = need_round(desk, caller, values.at("id"));
                    return json_answer(come_in(desk, round, "", "projector"), 201);
                  }));
  table.add(for_anyone({"GET", path + "/{id}/join"}, [office](Desk& desk, const Request& request,
                                                              const PathValues& values) {
    const Round round = need_known(desk, values.at("id"));
    return json_answer(
        {{"code", round.code}, {"addresses", places_for(*office, request, "round", round.code)}});
  }));
  table.add(for_anyone({"GET", path + "/{id}/qr"}, [office](Desk& desk, const Request& request,
                                                            const PathValues& values) {
    const Round round = need_known(desk, values.at("id"));
    return qr_answer(request, places_for(*office, request, "round", round.code), "");
  }));
  table.add(for_callers(
      office, {"GET", path + "/{id}/log", Lane::kWork},
      [](Desk& desk, const Caller& caller, const Request& request, const PathValues& values) {
        return log(desk, caller, request, values.at("id"));
      }));
}

}  // namespace phren::app::server
