#include "app/server/api/round_hub.h"

#include <openssl/evp.h>

#include <algorithm>
#include <condition_variable>
#include <cstdlib>
#include <mutex>
#include <span>
#include <thread>
#include <utility>

#include "app/server/api/case_json.h"
#include "app/server/api/round_room.h"
#include "app/server/net/lanes.h"
#include "base/json_text.h"

namespace phren::app::server {
namespace {

using nlohmann::json;
using Json = nlohmann::ordered_json;
using records::RoundText;

constexpr std::chrono::milliseconds kBeat{40}, kSlowBeat{400};  // the slow one while time stands
constexpr std::chrono::milliseconds kTryStoreAgain{500};
constexpr std::chrono::seconds kEmptyRoom{30};
// ENGINEERING: a page says hello as soon as its socket is open. Of one address so many may be between the two at a
// time: a whole room that comes back after a restart.
constexpr std::chrono::seconds kHelloWithin{10};
constexpr std::ptrdiff_t kMostWithoutSeat = 150;
constexpr int kPage = 1;  // the pages' way of speaking; another one is told to load anew
constexpr std::size_t kLinesAtOnce = 400;
constexpr const char* kAwayWords =
    "Whoever leads this round has taken this device out of it. As long as the door is open, the "
    "code lets you in again.";

std::string base64(const std::string& bytes) {
  std::string out(4 * ((bytes.size() + 2) / 3) + 1, '\0');
  const int length = EVP_EncodeBlock(reinterpret_cast<unsigned char*>(out.data()),
                                     reinterpret_cast<const unsigned char*>(bytes.data()),
                                     static_cast<int>(bytes.size()));
  out.resize(static_cast<std::size_t>(length));
  return out;
}

std::shared_ptr<const std::string> message(const json& body) {
  return std::make_shared<const std::string>(
      body.dump(-1, ' ', false, json::error_handler_t::replace));
}
// A list of texts that are JSON already.
std::shared_ptr<const std::string> list_message(const char* key,
                                                std::span<const std::string> texts) {
  std::string out = std::string("{\"") + key + "\":[";
  for (std::size_t i = 0; i < texts.size(); ++i) out += (i > 0 ? "," : "") + texts[i];
  return std::make_shared<const std::string>(out + "]}");
}
json refused(const std::string& words, const std::string& id = {}) {
  return {{"refused", {{"id", id}, {"words", words}}}};
}

// Of own lines, where chestpieces lie: what may stand on the wall. Answers come as a tally.
std::vector<std::string> seen_on_wall(const std::vector<std::string>& own) {
  std::vector<std::string> seen;
  for (const std::string& text : own) {
    const json line = json::parse(text, nullptr, false);
    const std::string what = line.is_object() ? line.value("do", "") : "";
    if (what == "place" || what == "lift" || what == "take_up") seen.push_back(text);
  }
  return seen;
}

class Hub;
struct LiveRoom;

// One socket; what it says waits until it is known whose it is.
struct Line : public SocketUser, public std::enable_shared_from_this<Line> {
  Line(std::shared_ptr<Hub> of, std::shared_ptr<Socket> given, std::string from)
      : hub(std::move(of)), socket(std::move(given)), address(std::move(from)) {}
  void on_text(std::string_view text) override;
  void on_closed() override;

  std::shared_ptr<Hub> hub;
  std::shared_ptr<Socket> socket;
  std::shared_ptr<LiveRoom> room;
  std::string address, person;
  SteadyTime since = std::chrono::steady_clock::now();
  bool is_closed = false, has_said_hello = false;
};

struct LiveRoom {
  explicit LiveRoom(RoundRoom given) : room(std::move(given)) {}
  RoundRoom room;
  std::vector<std::shared_ptr<Line>> lines;
  std::vector<RoundText> to_store, storing;
  bool is_storing = false, people_changed = false, has_trouble = false;
  std::string told_desk, told_wall;  // the tally, as it was told last
  std::optional<std::int64_t> lease_asked;
  SteadyTime next_beat{}, next_store{}, empty_since{};
  std::int64_t told = -1;
};

class Hub final : public RoundHub, public std::enable_shared_from_this<Hub> {
 public:
  explicit Hub(std::shared_ptr<const teaching::Library> library) : library_(std::move(library)) {}
  ~Hub() override { stop(); }

  void begin(const std::shared_ptr<Lanes>& lanes) override {
    lanes_ = lanes;
    thread_ = std::thread([this] { run(); });
  }
  void stop() override {
    {
      const std::lock_guard lock(mutex_);
      is_over_ = true;
    }
    changed_.notify_all();
    if (thread_.joinable()) thread_.join();
    const std::lock_guard lock(mutex_);
    rooms_.clear();
    without_seat_.clear();
    lanes_.reset();
  }
  std::shared_ptr<SocketUser> open(const Request& request,
                                   std::shared_ptr<Socket> socket) override {
    const std::lock_guard lock(mutex_);
    if (!lanes_ || is_over_) return nullptr;
    const auto of_address =
        std::count_if(without_seat_.begin(), without_seat_.end(),
                      [&](const auto& one) { return one->address == request.remote; });
    if (of_address >= kMostWithoutSeat) return nullptr;
    const auto line = std::make_shared<Line>(shared_from_this(), std::move(socket), request.remote);
    without_seat_.push_back(line);
    changed_.notify_all();
    return line;
  }

  void hear(const std::shared_ptr<Line>& line, std::string_view text);
  void close(const std::shared_ptr<Line>& line);

 private:
  // What the store lane finds for a token.
  struct Found {
    records::Rounds::Held held;
    records::Round round;
    std::vector<records::RoundPerson> people;
    std::vector<RoundText> lines;
    bool has_lines = false;  // not read where the round is under way already
    std::string trouble;
  };

  void run();
  void beat(LiveRoom& live, SteadyTime now);
  void store(const std::shared_ptr<LiveRoom>& live, SteadyTime now);
  void stored(const std::shared_ptr<LiveRoom>& live, bool is_kept, int take);
  void hello(const std::shared_ptr<Line>& line, const json& said);
  bool is_live(const std::string& round_id) {
    const std::lock_guard lock(mutex_);
    return rooms_.count(round_id) > 0;
  }
  void welcome(const std::shared_ptr<Line>& line, Found& found, std::int64_t have);
  std::shared_ptr<LiveRoom> live_of(Found& found);
  void say(const std::shared_ptr<Line>& line, const json& said, std::string_view text);
  void say_deed(const std::shared_ptr<Line>& line, const Json& given);
  void say_word(const std::shared_ptr<Line>& line, const json& word);
  void say_own(const std::shared_ptr<Line>& line, const Json& lines);
  void say_sum(const std::shared_ptr<Line>& line, const json& sum);
  void put(const std::shared_ptr<LiveRoom>& live, RoundText line);
  static json people_json(LiveRoom& live, bool has_names);
  static void tell_people(LiveRoom& live);
  static void tell_tally(LiveRoom& live);
  static void send_away(LiveRoom& live);
  static void end(const std::shared_ptr<Line>& line, const char* why, const std::string& words);
  static void send_lines(const Line& to, const char* key, const std::vector<std::string>& texts);
  static void to_role(LiveRoom& live, const char* role,
                      const std::shared_ptr<const std::string>& text);
  static void to_desks(LiveRoom& live, const std::shared_ptr<const std::string>& text) {
    to_role(live, "desk", text);
  }
  static void to_person(LiveRoom& live, const std::string& person,
                        const std::shared_ptr<const std::string>& text);

  std::shared_ptr<const teaching::Library> library_;
  std::shared_ptr<Lanes> lanes_;
  std::mutex mutex_;
  std::condition_variable changed_;
  bool is_over_ = false;
  std::map<std::string, std::shared_ptr<LiveRoom>> rooms_;
  std::vector<std::shared_ptr<Line>> without_seat_;
  std::thread thread_;
};

void Line::on_text(std::string_view text) {
  hub->hear(shared_from_this(), text);
}
void Line::on_closed() {
  hub->close(shared_from_this());
  hub.reset();
}

// ---- the beat ----

void Hub::run() {
  std::unique_lock lock(mutex_);
  while (!is_over_) {
    const auto is_idle = [&] { return rooms_.empty() && without_seat_.empty(); };
    if (is_idle()) {
      changed_.wait(lock, [&] { return is_over_ || !is_idle(); });
      continue;
    }
    const SteadyTime now = std::chrono::steady_clock::now();
    std::erase_if(without_seat_, [&](const auto& line) {
      if (!line->is_closed && !line->room && now - line->since > kHelloWithin) {
        line->socket->close("this socket took no seat in time; say hello at once");
        return true;
      }
      return line->is_closed || line->room != nullptr;
    });
    for (auto& [id, live] : rooms_) {
      beat(*live, now);
      store(live, now);
    }
    std::erase_if(rooms_, [&](const auto& one) {
      const LiveRoom& live = *one.second;
      return live.lines.empty() && live.to_store.empty() && !live.is_storing &&
             !live.room.is_running() && now - live.empty_since > kEmptyRoom;
    });
    changed_.wait_until(lock, now + kBeat, [&] { return is_over_; });
  }
}

void Hub::beat(LiveRoom& live, SteadyTime now) {
  if (live.lines.empty()) {
    // Nobody is there: the patient waits.
    if (live.room.is_running() && now - live.empty_since > kEmptyRoom) {
      RoundMember nobody;
      nobody.person.role = "desk";
      if (auto line = live.room.word(nobody, {{"clock", "pause"}}, now)) {
        live.to_store.push_back(std::move(*line));
      }
    }
    return;
  }
  if (live.people_changed) tell_people(live);
  if (!live.room.may_tell_time()) return;
  const std::int64_t horizon = live.room.horizon(now);
  if (horizon == live.told && now < live.next_beat) return;
  live.told = horizon;
  live.next_beat = now + kSlowBeat;
  const auto text = message(
      {{"beat",
        {live.room.take(), horizon, live.room.last_kept(), live.room.is_running() ? 1 : 0}}});
  for (const auto& line : live.lines) line->socket->send(text);
}

// Who is there: the desk sees names, the wall only where the desk shows them, the others a number.
void Hub::tell_people(LiveRoom& live) {
  live.people_changed = false;
  to_desks(live, message({{"people", people_json(live, true)}}));
  to_role(live, "projector", message({{"people", people_json(live, live.room.shows_names())}}));
  const auto& members = live.room.members();
  const auto count =
      message({{"count", std::count_if(members.begin(), members.end(), [](const auto& one) {
                  return one.second.is_here && one.second.person.role != "projector";
                })}});
  for (const auto& line : live.lines) line->socket->send(count);
}

void Hub::tell_tally(LiveRoom& live) {
  const auto tell = [&](const char* role, bool is_wall, std::string& told) {
    const auto text = message({{"tally", live.room.tally(is_wall)}});
    if (*text == told) return;
    told = *text;
    to_role(live, role, text);
  };
  tell("desk", false, live.told_desk);
  tell("projector", true, live.told_wall);
}

void Hub::end(const std::shared_ptr<Line>& line, const char* why, const std::string& words) {
  line->socket->send(message({{"over", {{"why", why}, {"words", words}}}}));
  line->socket->close(words.substr(0, 100));
}

// Whose going is on disk.
void Hub::send_away(LiveRoom& live) {
  for (const auto& line : live.lines) {
    if (!live.room.members()[line->person].is_away) continue;
    end(line, "away", kAwayWords);
  }
}

// ---- the store ----

void Hub::store(const std::shared_ptr<LiveRoom>& live, SteadyTime now) {
  if (live->is_storing || !lanes_ || now < live->next_store) return;
  const auto lease = live->room.lease_wanted(now);
  if (live->to_store.empty() && !lease) return;
  const int take = live->room.take();
  live->storing = live->to_store;
  live->lease_asked = lease;
  live->is_storing = true;
  const std::string id = live->room.round().id;
  const auto keep = [id, lines = live->storing, lease, take,
                     is_over = live->room.is_over()](Desk* desk) -> Response {
    if (desk == nullptr) return problem(503, "no store", "this server keeps no records");
    records::Rounds rounds(desk->db);
    const auto kept = [&]() -> Status {
      TRY(rounds.append(id, lines, desk->now_ms));
      if (lease) TRY(rounds.set_reached(id, take, *lease));
      if (is_over) TRY(rounds.end(id, desk->now_ms));
      return {};
    }();
    return kept ? Response{} : problem(kept.error());
  };
  const bool is_taken = lanes_->submit(
      Lane::kStore, keep,
      [self = shared_from_this(), live, take](Response response) {
        self->stored(live, response.status == 200, take);
      },
      Asker{"round:" + id, false});
  if (is_taken) return;
  live->is_storing = false;
  live->next_store = now + kTryStoreAgain;
}

void Hub::stored(const std::shared_ptr<LiveRoom>& live, bool is_kept, int take) {
  const std::lock_guard lock(mutex_);
  const SteadyTime now = std::chrono::steady_clock::now();
  live->is_storing = false;
  if (!is_kept) {
    live->next_store = now + kTryStoreAgain;
    if (!live->has_trouble) {
      to_desks(*live, message({{"trouble",
                                "The server cannot keep what is done just now: the patient waits "
                                "until it can."}}));
    }
    live->has_trouble = true;
    return;
  }
  live->has_trouble = false;
  if (live->lease_asked) live->room.lease_granted(take, *live->lease_asked);
  std::vector<std::string> shared, own;
  std::map<std::string, std::int64_t> acks;
  for (const RoundText& line : live->storing) {
    live->room.kept(line);
    (line.person_id.empty() ? shared : own).push_back(line.line);
    if (!line.person_id.empty()) acks[line.person_id] = line.n;
  }
  live->to_store.erase(live->to_store.begin(),
                       live->to_store.begin() + static_cast<std::ptrdiff_t>(live->storing.size()));
  live->storing.clear();
  if (!shared.empty()) {
    const auto text = list_message("lines", shared);
    for (const auto& line : live->lines) line->socket->send(text);
    live->told = -1;
  }
  for (const auto& [person, n] : acks) to_person(*live, person, message({{"ack", n}}));
  if (!own.empty()) {
    to_desks(*live, list_message("own", own));
    const auto seen = seen_on_wall(own);
    if (!seen.empty()) to_role(*live, "projector", list_message("own", seen));
  }
  send_away(*live);
  tell_tally(*live);
  beat(*live, now);
  store(live, now);
}

void Hub::put(const std::shared_ptr<LiveRoom>& live, RoundText line) {
  live->to_store.push_back(std::move(line));
  store(live, std::chrono::steady_clock::now());
}

// ---- who comes and goes ----

json Hub::people_json(LiveRoom& live, bool has_names) {
  json list = json::array();
  for (const auto& [id, member] : live.room.members()) {
    if (member.is_away) continue;
    list.push_back({{"id", id},
                    {"name", has_names ? member.person.name : ""},
                    {"role", member.person.role},
                    {"is_crew", member.is_crew},
                    {"is_here", member.is_here}});
  }
  return list;
}

void Hub::send_lines(const Line& to, const char* key, const std::vector<std::string>& texts) {
  for (std::size_t from = 0; from < texts.size(); from += kLinesAtOnce) {
    const std::size_t count = std::min(kLinesAtOnce, texts.size() - from);
    to.socket->send(list_message(key, std::span(texts).subspan(from, count)));
  }
}
void Hub::to_role(LiveRoom& live, const char* role,
                  const std::shared_ptr<const std::string>& text) {
  for (const auto& line : live.lines) {
    if (live.room.members()[line->person].person.role == role) line->socket->send(text);
  }
}
void Hub::to_person(LiveRoom& live, const std::string& person,
                    const std::shared_ptr<const std::string>& text) {
  for (const auto& line : live.lines) {
    if (line->person == person) line->socket->send(text);
  }
}

void Hub::hello(const std::shared_ptr<Line>& line, const json& said) {
  if (line->has_said_hello) return;
  if (said.value("page", 0) != kPage) {
    return end(line, "page", "This page is not of this server: load it again.");
  }
  // Read here, where a wrong kind of value is refused in words: the rest runs on the store's thread.
  const std::string token = said.value("token", std::string());
  const std::int64_t have = said.value("have", std::int64_t{0});
  line->has_said_hello = true;
  auto found = std::make_shared<Found>();
  const auto look = [self = shared_from_this(), found, token](Desk* desk) -> Response {
    const auto read = [&]() -> Status {
      if (desk == nullptr) return fail(ErrorCode::kIo, "this server keeps no records");
      records::Rounds rounds(desk->db);
      found->held = TRY(rounds.by_token(token));
      found->round = TRY(rounds.find(found->held.round_id));
      if (self->is_live(found->held.round_id)) return {};
      found->has_lines = true;
      found->people = TRY(rounds.people(found->held.round_id));
      found->lines = TRY(rounds.lines(found->held.round_id));
      return {};
    }();
    if (read) return {};
    // Any other error passes: the page is to come again, and need not forget who it is.
    if (read.error().code == ErrorCode::kNotFound) found->trouble = read.error().message;
    return problem(read.error());
  };
  const bool is_taken = lanes_->submit(
      Lane::kStore, look, [self = shared_from_this(), line, found, said, have](Response response) {
        const std::lock_guard lock(self->mutex_);
        if (response.status != 200 && found->trouble.empty()) {
          if (line->is_closed) return;
          return line->socket->close("the records cannot be read now; try again");
        }
        const bool is_gone = found->trouble.empty() && !found->has_lines &&
                             self->rooms_.count(found->held.round_id) == 0;
        if (!is_gone) return self->welcome(line, *found, have);
        line->has_said_hello = false;
        if (!line->is_closed && !self->is_over_) self->hello(line, said);
      });
  if (!is_taken) line->socket->close("the server is busy; try again");
}

std::shared_ptr<LiveRoom> Hub::live_of(Found& found) {
  const auto known = rooms_.find(found.round.id);
  if (known != rooms_.end()) return known->second;
  auto room = RoundRoom::open(found.round, library_, found.people, std::move(found.lines),
                              std::chrono::steady_clock::now());
  if (!room) {
    found.trouble = room.error().message;
    return nullptr;
  }
  const auto live = std::make_shared<LiveRoom>(std::move(*room));
  rooms_[found.round.id] = live;
  changed_.notify_all();
  return live;
}

void Hub::welcome(const std::shared_ptr<Line>& line, Found& found, std::int64_t have) {
  if (line->is_closed || is_over_) return;
  const auto live = found.trouble.empty() ? live_of(found) : nullptr;
  if (!live) {
    // What is wrong with the patient's file may name what is wrong with the patient.
    const bool may_know = found.round.id.empty() || found.held.person.role == "desk";
    const std::string words =
        may_know ? found.trouble : "This round cannot be opened now: ask whoever leads it.";
    return end(line, "token", words);
  }
  const auto known = live->room.members().find(found.held.person.id);
  if (known != live->room.members().end() && known->second.is_away) {
    return end(line, "away", kAwayWords);
  }
  const SteadyTime now = std::chrono::steady_clock::now();
  const auto seat = live->room.seat_for(found.held.person, now);
  if (!seat.is_there) {
    return end(line, "full",
               "All places of this round are taken. Load again when somebody has left.");
  }
  if (!seat.gives_way.empty()) {
    live->room.members()[seat.gives_way].is_here = false;
    for (const auto& other : live->lines) {
      if (other->person != seat.gives_way) continue;
      end(other, "full",
          "The round is full, and this page had not begun to listen: its place went to somebody "
          "else. Load again when somebody has left.");
    }
  }
  // One page each: the one opened last.
  for (const auto& other : live->lines) {
    if (other->person != found.held.person.id) continue;
    end(other, "elsewhere", "This round was opened on another page.");
  }
  RoundMember& member = live->room.member(found.held.person);
  member.is_here = true;
  member.has_lived = false;
  member.came = now;
  member.address = line->address;
  line->room = live;
  line->person = member.person.id;
  live->lines.push_back(line);
  live->people_changed = true;

  const bool is_desk = member.is_desk();
  const records::Round& round = live->room.round();
  json patient = patient_json(live->room.prepared());
  patient.erase("id");
  patient["told"] = json::array();  // it lies in the packet; who asks is answered
  const std::uint64_t key = std::strtoull(records::random_id().substr(0, 16).c_str(), nullptr, 16);
  json body{
      {"you",
       {{"id", member.person.id}, {"name", member.person.name}, {"role", member.person.role}}},
      {"round", {{"id", round.id}, {"title", round.title}, {"code", round.code}}},
      {"seed", std::to_string(round.seed)},
      {"patient", std::move(patient)},
      {"packet", base64(bedside::pack_keyed(live->room.setup(), key))},
      {"own", member.own_n},
      {"kept", member.kept_n()},
      {"take", live->room.take()},
      {"last", live->room.last_kept()}};
  if (is_desk) {
    body["case_id"] = round.case_id;
    body["truth"] = truth_json(live->room.prepared(), *library_);
    body["people"] = people_json(*live, true);
  }
  const bool is_wall = member.person.role == "projector";
  if (is_wall) body["people"] = people_json(*live, live->room.shows_names());
  line->socket->send(message({{"welcome", std::move(body)}}));
  send_lines(*line, "lines", live->room.since(have));
  std::vector<std::string> own;
  for (const auto& [id, one] : live->room.members()) {
    const bool is_whole = is_desk || id == member.person.id;
    if (!is_whole && !is_wall) continue;
    std::vector<std::string> of_one;
    for (const RoundText& text : one.own) of_one.push_back(text.line);
    if (!is_whole) of_one = seen_on_wall(of_one);
    std::move(of_one.begin(), of_one.end(), std::back_inserter(own));
  }
  send_lines(*line, "own", own);
  live->told = -1;
  if (is_wall) live->told_wall.clear();
  if (is_desk) live->told_desk.clear();
  tell_tally(*live);
  beat(*live, std::chrono::steady_clock::now());
}

void Hub::close(const std::shared_ptr<Line>& line) {
  const std::lock_guard lock(mutex_);
  line->is_closed = true;
  line->socket.reset();
  const auto live = std::exchange(line->room, nullptr);
  if (!live) return;
  std::erase(live->lines, line);
  const bool is_elsewhere =
      std::any_of(live->lines.begin(), live->lines.end(),
                  [&](const auto& one) { return one->person == line->person; });
  live->room.members()[line->person].is_here = is_elsewhere;
  live->people_changed = true;
  if (live->lines.empty()) live->empty_since = std::chrono::steady_clock::now();
}

// ---- what is said ----

void Hub::hear(const std::shared_ptr<Line>& line, std::string_view text) {
  // Not nested so deeply that copying it would take all the stack.
  const json said = parse_json<json>(text);
  const std::lock_guard lock(mutex_);
  if (is_over_ || line->is_closed) return;
  const auto refuse_to = [&](const char* words) {
    line->socket->send(message(refused(words)));
    // Whoever has not said who it is holds no place here.
    if (!line->has_said_hello) line->socket->close("the first message must be hello");
  };
  if (!said.is_object() || said.size() != 1) {
    return refuse_to("a message is one JSON object with one field");
  }
  try {
    if (said.contains("hello") && said["hello"].is_object()) return hello(line, said["hello"]);
    if (!line->room) return refuse_to("say hello first, and wait for the welcome");
    say(line, said, text);
  } catch (const json::exception&) {
    refuse_to("a field has the wrong kind of value");
  }
}

void Hub::say(const std::shared_ptr<Line>& line, const json& said, std::string_view text) {
  const std::string kind = said.begin().key();
  const json& value = said.begin().value();
  if (kind == "do" || kind == "own") {
    const Json ordered = Json::parse(text);
    return kind == "do" ? say_deed(line, ordered["do"]) : say_own(line, ordered["own"]);
  }
  if (kind == "room") return say_word(line, value);
  if (kind == "sum" && value.is_object()) return say_sum(line, value);
  if (kind == "missing") {
    return send_lines(*line, "lines", line->room->room.since(value.get<std::int64_t>() - 1));
  }
  line->socket->send(message(refused("'" + kind + "' is not known here")));
}

void Hub::say_deed(const std::shared_ptr<Line>& line, const Json& given) {
  RoundRoom& room = line->room->room;
  auto made = room.deed(room.members()[line->person], given, std::chrono::steady_clock::now());
  if (made) return put(line->room, std::move(*made));
  if (made.error().message == "repeated") return;
  const std::string id = given.is_object() ? given.value("id", std::string()) : std::string();
  line->socket->send(message(refused(made.error().message, id)));
}

void Hub::say_word(const std::shared_ptr<Line>& line, const json& word) {
  RoundRoom& room = line->room->room;
  auto made = room.word(room.members()[line->person], word, std::chrono::steady_clock::now());
  if (!made) return line->socket->send(message(refused(made.error().message)));
  line->room->people_changed = true;
  put(line->room, std::move(*made));
}

void Hub::say_own(const std::shared_ptr<Line>& line, const Json& lines) {
  RoundRoom& room = line->room->room;
  RoundMember& member = room.members()[line->person];
  auto made = room.own(member, lines);
  if (!made) return line->socket->send(message(refused(made.error().message)));
  // Not at once: what sixty hands do in a twentieth of a second shares one commit.
  auto& waiting = line->room->to_store;
  std::move(made->begin(), made->end(), std::back_inserter(waiting));
  if (made->empty()) line->socket->send(message({{"ack", member.kept_n()}}));
}

void Hub::say_sum(const std::shared_ptr<Line>& line, const json& sum) {
  RoundRoom& room = line->room->room;
  const auto others = room.compare(line->person, sum.value("take", 0),
                                   sum.value("step", std::int64_t{0}), sum.value("sum", ""));
  for (const std::string& person : others) {
    to_person(*line->room, person, message({{"live_again", true}}));
    to_desks(*line->room,
             message({{"trouble", "A device lived another body than the others; it begins again."},
                      {"person", person}}));
  }
}

}  // namespace

std::shared_ptr<RoundHub> RoundHub::make(std::shared_ptr<const teaching::Library> library) {
  return std::make_shared<Hub>(std::move(library));
}

}  // namespace phren::app::server
