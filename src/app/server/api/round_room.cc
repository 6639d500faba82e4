#include "app/server/api/round_room.h"

#include <algorithm>
#include <cmath>

#include "app/server/api/case_json.h"
#include "bedside/at_hand.h"
#include "bedside/deed_json.h"
#include "bedside/words.h"

namespace phren::app::server {
namespace {

using nlohmann::json;
using Json = nlohmann::ordered_json;
using bedside::kStepsPerSecond;

constexpr std::size_t kMostLineBytes = 4096, kMostQuestionBytes = 400, kMostOptions = 12;
constexpr double kLongestSkip_s = 1800.0;
// ENGINEERING: four hours of a hand that moves ten times a second.
constexpr std::size_t kMostOwnBytes = 16u << 20;

Error wrong(std::string words) {
  return {ErrorCode::kInvalidArgument, std::move(words)};
}

bool is_text(const json& value, std::size_t most) {
  return value.is_string() && !value.get_ref<const std::string&>().empty() &&
         value.get_ref<const std::string&>().size() <= most;
}

Result<json> checked_question(const json& ask) {
  if (!ask.is_object() || !is_text(ask.value("words", json()), kMostQuestionBytes)) {
    return fail(wrong("ask must have words of 1 to 400 bytes"));
  }
  json out{{"words", ask["words"]}, {"options", json::array()}};
  for (const json& one : ask.value("options", json::array())) {
    if (!is_text(one, 100) || out["options"].size() == kMostOptions) {
      return fail(wrong("options must be at most 12 texts of at most 100 bytes"));
    }
    out["options"].push_back(one);
  }
  return out;
}

Result<json> checked_point(const json& point) {
  if (point.is_null()) return point;
  Json deed(point);
  deed["do"] = "place";
  TRY(bedside::read_deed(deed));
  return point;
}

// Lists longer than this would not be read on a wall.
constexpr std::size_t kMostTold = 12;

}  // namespace

bool is_door_open(const std::vector<records::RoundText>& shared) {
  bool is_open = true;
  for (const records::RoundText& one : shared) {
    if (one.line.find("\"door\"") == std::string::npos) continue;  // most lines are of the body
    const json said = json::parse(one.line, nullptr, false);
    if (!said.is_object() || !said.contains("room")) continue;
    const json& word = said["room"];
    if (word.contains("door")) is_open = word["door"] == "open";
  }
  return is_open;
}

std::int64_t RoundClock::step_at(SteadyTime now) const {
  if (!is_running_) return base_;
  const double passed_s = std::chrono::duration<double>(now - since_).count();
  const auto passed = static_cast<std::int64_t>(std::max(0.0, passed_s) * kStepsPerSecond);
  return std::min(base_ + passed, bedside::kLastRoundStep);
}

void RoundClock::set(std::int64_t step, bool is_running, SteadyTime now) {
  base_ = std::clamp<std::int64_t>(step, 0, bedside::kLastRoundStep);
  is_running_ = is_running;
  since_ = now;
}

Result<RoundRoom> RoundRoom::open(const records::Round& round,
                                  std::shared_ptr<const teaching::Library> library,
                                  std::vector<records::RoundPerson> people,
                                  std::vector<records::RoundText> lines, SteadyTime now) {
  auto prepared = TRY(library->get(round.case_id));
  auto setup = TRY(
      teaching::setup_of(prepared, library->conditions, library->treatments, library->instruments));
  RoundRoom room(round, std::move(prepared), std::move(setup), std::move(library));
  for (const auto& person : people) room.member(person);
  bool is_running = false;
  std::int64_t parted = 0;
  for (records::RoundText& line : lines) {
    if (!line.person_id.empty()) {
      const auto found = room.members_.find(line.person_id);
      if (found == room.members_.end()) continue;
      found->second.own_n = line.n;
      found->second.own_bytes += line.line.size();
      note(found->second, line.line);
      found->second.own.push_back(std::move(line));
      continue;
    }
    const json said = json::parse(line.line, nullptr, false);
    room.last_n_ = room.last_kept_ = line.n;
    room.take_ = said.value("take", 0);
    if (said.contains("id")) room.deed_ids_.insert(said.value("id", ""));
    if (said.value("do", "") == "go_back") {
      is_running = false;
      parted = said.value("step", std::int64_t{0});
    }
    if (said.contains("room")) {
      const json& word = said["room"];
      if (word.contains("clock")) is_running = word["clock"] == "run";
      room.apply(word, line.n, now);
    }
    room.shared_.push_back(std::move(line.line));
  }
  room.promised_ = room.lease_ = round.reached_take == room.take_ ? round.reached_step : parted;
  room.clock_.set(room.promised_, is_running && !room.is_over_, now);
  return room;
}

RoundMember& RoundRoom::member(const records::RoundPerson& person) {
  RoundMember& found = members_[person.id];
  found.person = person;
  return found;
}

RoundRoom::Seat RoundRoom::seat_for(const records::RoundPerson& person, SteadyTime now) const {
  if (person.role == "desk") return {true, {}};
  std::map<std::string, std::size_t> of_address;
  std::size_t taken = 0;
  for (const auto& [id, one] : members_) {
    if (!one.is_here || one.person.role != person.role || id == person.id) continue;
    ++taken;
    ++of_address[one.address];
  }
  if (taken < (person.role == "projector" ? kMostProjectors : kMostListeners)) return {true, {}};
  const RoundMember* unused = nullptr;
  for (const auto& [id, one] : members_) {
    if (!one.is_here || one.person.role != person.role || one.has_lived || id == person.id ||
        now - one.came < kUnusedSeat) {
      continue;
    }
    const auto rank = [&](const RoundMember& of) {
      return std::pair{of_address[of.address], -of.came.time_since_epoch().count()};
    };
    if (unused == nullptr || rank(one) > rank(*unused)) unused = &one;
  }
  if (unused == nullptr) return {};
  return {true, unused->person.id};
}

// ---- answers ----

void RoundRoom::note(RoundMember& by, const std::string& line) {
  if (line.find("\"answer\"") == std::string::npos) return;
  const json said = json::parse(line, nullptr, false);
  if (!said.is_object() || !said.contains("answer") || !said["answer"].is_object()) return;
  const json question = said["answer"].value("question", json()),
             value = said["answer"].value("value", json());
  if (question.is_number_integer() && value.is_string()) by.answer = {question, value};
}

json RoundRoom::tally(bool is_for_wall) const {
  if (question_ == 0) return nullptr;
  std::map<std::string, int> counts;
  int given = 0;
  for (const auto& [id, one] : members_) {
    if (!one.is_listener() || one.is_away || one.answer.question != question_) continue;
    ++given;
    // A page offers only what the desk does; whoever sends something else is counted, not quoted.
    const bool is_offered =
        std::find(options_.begin(), options_.end(), one.answer.value) != options_.end();
    if (is_offered || (options_.empty() && (!is_for_wall || shows_truth_))) {
      ++counts[one.answer.value];
    }
  }
  std::vector<std::pair<std::string, int>> most(counts.begin(), counts.end());
  std::stable_sort(most.begin(), most.end(),
                   [](const auto& a, const auto& b) { return a.second > b.second; });
  json list = json::array();
  for (const auto& [value, count] : most) {
    if (list.size() == kMostTold) break;
    list.push_back({{"value", value}, {"count", count}});
  }
  return {{"question", question_}, {"given", given}, {"counts", std::move(list)}};
}

// ---- time ----

std::int64_t RoundRoom::horizon(SteadyTime now) {
  std::int64_t to = std::min(clock_.step_at(now), lease_);
  for (const auto& [n, step] : on_the_way_) to = std::min(to, step);
  promised_ = std::max(promised_, to);
  return promised_;
}

std::optional<std::int64_t> RoundRoom::lease_wanted(SteadyTime now) const {
  const std::int64_t here = clock_.step_at(now);
  if (lease_ - here > kLease_steps / 2 || (!clock_.is_running() && lease_ >= here) ||
      lease_ >= bedside::kLastRoundStep) {
    return std::nullopt;
  }
  return clock_.is_running() ? std::min(here + kLease_steps, bedside::kLastRoundStep) : here;
}

void RoundRoom::lease_granted(int take, std::int64_t step) {
  if (take == take_) lease_ = std::max(lease_, step);
}

// ---- new lines ----

records::RoundText RoundRoom::stamp(const std::string& by, Json line, SteadyTime now) {
  const std::int64_t lead = clock_.is_running() ? kLead_steps : 0;
  // Nobody reads a line beyond the last step: the round's end itself would be lost.
  const std::int64_t step =
      std::min(std::max(promised_, clock_.step_at(now)) + lead, bedside::kLastRoundStep);
  Json whole{{"n", ++last_n_}, {"take", take_}, {"step", step}, {"by", by}};
  whole.update(line);
  on_the_way_[last_n_] = step;
  return {"", last_n_, whole.dump(-1, ' ', false, Json::error_handler_t::replace)};
}

Status RoundRoom::check_deed(const RoundMember& by, const bedside::Deed& deed) const {
  if (is_over_) return fail(ErrorCode::kConflict, "this round is over");
  if (!bedside::concerns_all(deed)) return fail(wrong("this deed does not reach the body"));
  const bool may = by.is_desk() || (by.is_crew && !bedside::is_steering(deed));
  if (!may) {
    return fail(ErrorCode::kConflict,
                by.is_crew
                    ? "only the desk changes the illness"
                    : "only the desk, and whom it has made crew, treats and moves the patient");
  }
  if (const auto* steer = std::get_if<bedside::Steer>(&deed)) {
    const int count = static_cast<int>(setup_.patient.conditions.size());
    if (steer->condition >= count) {
      return fail(out_of_range("condition", steer->condition,
                               "below " + std::to_string(count) + ": this patient has so many"));
    }
  }
  if (const auto* listen = std::get_if<bedside::Listen>(&deed)) {
    return bedside::Listening(setup_.instruments).check(*listen);
  }
  const auto* treat = std::get_if<bedside::Treat>(&deed);
  const auto* stop = std::get_if<bedside::StopTreatment>(&deed);
  if (treat == nullptr && stop == nullptr) return {};
  const std::string& id = treat != nullptr ? treat->treatment_id : stop->treatment_id;
  const auto& ids = setup_.treatment_ids;
  if (std::find(ids.begin(), ids.end(), id) != ids.end()) return {};
  return fail(ErrorCode::kNotFound, "there is no treatment '" + id + "'." + did_you_mean(id, ids));
}

Result<records::RoundText> RoundRoom::deed(const RoundMember& by, const Json& given,
                                           SteadyTime now) {
  const std::string id = given.value("id", std::string());
  if (id.empty() || id.size() > 64) return fail(wrong("a deed needs an id of 1 to 64 bytes"));
  if (deed_ids_.count(id) > 0) return fail(ErrorCode::kConflict, "repeated");
  Json plain = given;
  plain.erase("id");
  plain.erase("t");
  const auto deed = TRY(bedside::read_deed(plain));
  TRY(check_deed(by, deed));
  deed_ids_.insert(id);
  plain["id"] = id;
  return stamp(by.person.id, plain, now);
}

Result<json> RoundRoom::checked_word(const json& word) const {
  if (!word.is_object() || word.size() != 1) {
    return fail(
        wrong("a word of the room has one field: clock, skip_s, go_back_s, show, ask, "
              "listen, crew, truth, away, door or end"));
  }
  const std::string kind = word.begin().key();
  const json& value = word.begin().value();
  if (kind == "clock" && (value == "run" || value == "pause")) return word;
  if (kind == "skip_s" && value.is_number() && value > 0.0 && value <= kLongestSkip_s) return word;
  if (kind == "go_back_s" && value.is_number() && value >= 0.0) return word;
  if (kind == "end" && value == true) return word;
  if (kind == "door" && (value == "open" || value == "closed")) return word;
  if (kind == "away") return checked_away(value);
  if (kind == "ask" && value.is_null()) return word;
  // A return from inside a braced list would leave what is in it undestroyed (TRY is a statement
  // expression of g++).
  if (kind == "ask") {
    auto question = TRY(checked_question(value));
    return json{{"ask", std::move(question)}};
  }
  if (kind == "listen") {
    auto point = TRY(checked_point(value));
    return json{{"listen", std::move(point)}};
  }
  if (kind == "show" && value.is_object()) {
    json out = json::object();
    for (const char* key : {"monitor", "names"}) {
      if (value.contains(key) && value[key].is_boolean()) out[key] = value[key];
    }
    return json{{"show", std::move(out)}};
  }
  if (kind == "truth" && value.is_boolean()) {
    return json{{"truth", value == true ? truth_json(prepared_, *library_) : json()}};
  }
  if (kind == "crew" && value.is_object() && is_text(value.value("person", json()), 40) &&
      value.value("is", json()).is_boolean()) {
    return json{{"crew", {{"person", value["person"]}, {"is", value["is"]}}}};
  }
  return fail(wrong("'" + kind + "' is no word of the room, or its value is out of range"));
}

Result<json> RoundRoom::checked_away(const json& away) const {
  if (!away.is_array() || away.empty() || away.size() > kMostListeners) {
    return fail(wrong("away must be a list of 1 to " + std::to_string(kMostListeners) + " people"));
  }
  for (const json& one : away) {
    const auto found = members_.find(one.is_string() ? one.get<std::string>() : "");
    if (found == members_.end()) return fail(wrong("away names somebody who never came"));
    if (found->second.is_desk()) return fail(wrong("a desk cannot be sent away"));
  }
  return json{{"away", away}};
}

// What a word changes here, when it is said and when it is read again.
void RoundRoom::apply(const json& word, std::int64_t n, SteadyTime now) {
  if (word.contains("crew")) {
    const auto found = members_.find(word["crew"].value("person", ""));
    if (found != members_.end()) found->second.is_crew = word["crew"].value("is", false);
  }
  for (const json& one : word.value("away", json::array())) {
    const auto found = members_.find(one.is_string() ? one.get<std::string>() : "");
    if (found == members_.end()) continue;
    found->second.is_away = true;
    found->second.is_crew = false;
  }
  if (word.contains("show")) shows_names_ = word["show"].value("names", shows_names_);
  if (word.contains("truth")) shows_truth_ = !word["truth"].is_null();
  if (word.contains("ask")) {
    question_ = word["ask"].is_null() ? 0 : n;
    options_ = word["ask"].is_null() ? std::vector<std::string>()
                                     : word["ask"].value("options", std::vector<std::string>());
  }
  if (word.contains("clock")) clock_.set(clock_.step_at(now), word["clock"] == "run", now);
  if (word.contains("skip_s")) {
    const auto skipped = static_cast<std::int64_t>(word["skip_s"].get<double>() * kStepsPerSecond);
    clock_.set(clock_.step_at(now) + skipped, clock_.is_running(), now);
  }
  if (word.contains("end")) {
    clock_.set(clock_.step_at(now), false, now);
    is_over_ = true;
  }
}

Result<records::RoundText> RoundRoom::word(const RoundMember& by, const json& given,
                                           SteadyTime now) {
  if (!by.is_desk()) return fail(ErrorCode::kConflict, "only the desk leads the round");
  if (is_over_) return fail(ErrorCode::kConflict, "this round is over");
  if (goes_back_) return fail(ErrorCode::kConflict, "the round is just going back");
  const json word = TRY(checked_word(given));
  if (!word.contains("go_back_s")) {
    // Said while time stands and about to run, or the other way: the line stands where the clock is now.
    records::RoundText line = stamp(by.person.id, Json{{"room", word}}, now);
    apply(word, line.n, now);
    return line;
  }
  const double back_steps =
      std::floor(word["go_back_s"].get<double>() * static_cast<double>(kStepsPerSecond));
  if (back_steps >= static_cast<double>(promised_)) {
    return fail(wrong("one can only go back to a moment that has been"));
  }
  if (take_ >= bedside::kMostTakes) {
    return fail(
        wrong("a round goes back " + std::to_string(bedside::kMostTakes) + " times at most"));
  }
  const auto to = static_cast<std::int64_t>(back_steps);
  ++take_;
  goes_back_ = true;
  const Json line{
      {"n", ++last_n_}, {"take", take_}, {"step", to}, {"by", by.person.id}, {"do", "go_back"}};
  on_the_way_[last_n_] = to;
  clock_.set(to, false, now);
  promised_ = lease_ = to;
  sums_.clear();
  return records::RoundText{"", last_n_, line.dump()};
}

Result<std::vector<records::RoundText>> RoundRoom::own(RoundMember& by, const Json& lines) {
  if (by.is_away) return fail(ErrorCode::kConflict, "the desk has sent this device away");
  if (!lines.is_array()) return fail(wrong("own must be a list of lines"));
  std::vector<records::RoundText> taken;
  std::int64_t last = by.own_n;
  std::size_t bytes = by.own_bytes;
  for (const Json& given : lines) {
    if (!given.is_object()) return fail(wrong("each line must be an object"));
    Json whole = given;
    whole["by"] = by.person.id;
    std::string text = whole.dump(-1, ' ', false, Json::error_handler_t::replace);
    if (text.size() > kMostLineBytes) return fail(wrong("a line has at most 4096 bytes"));
    const auto line = TRY(bedside::parse_round_line(text));
    if (line.seq <= last) continue;
    if (line.seq != last + 1) {
      return fail(wrong("line " + std::to_string(last + 1) + " is missing"));
    }
    if (line.begins_take || (line.deed && bedside::concerns_all(*line.deed))) {
      return fail(wrong("this deed is not of one's own chestpiece: it concerns all"));
    }
    if (line.take > take_ || (line.take == take_ && line.step > promised_ + kStepsPerSecond)) {
      return fail(wrong("this line is ahead of the patient's time"));
    }
    bytes += text.size();
    if (bytes > kMostOwnBytes) return fail(wrong("what one person may write in a round is full"));
    last = line.seq;
    taken.push_back({by.person.id, line.seq, std::move(text)});
  }
  by.own_n = last;
  by.own_bytes = bytes;
  by.has_lived = by.has_lived || !taken.empty();
  return taken;
}

void RoundRoom::kept(const records::RoundText& line) {
  if (!line.person_id.empty()) {
    RoundMember& by = members_[line.person_id];
    by.own.push_back(line);
    note(by, line.line);
    return;
  }
  on_the_way_.erase(line.n);
  last_kept_ = line.n;
  shared_.push_back(line.line);
  if (goes_back_ && on_the_way_.empty()) goes_back_ = false;
}

std::vector<std::string> RoundRoom::since(std::int64_t have) const {
  const auto from = static_cast<std::size_t>(std::max<std::int64_t>(0, have));
  if (from >= shared_.size()) return {};
  return {shared_.begin() + static_cast<std::ptrdiff_t>(from), shared_.end()};
}

std::vector<std::string> RoundRoom::compare(const std::string& person_id, int take,
                                            std::int64_t step, const std::string& sum) {
  if (take != take_ || sum.size() > 20) return {};
  if (const auto by = members_.find(person_id); by != members_.end()) by->second.has_lived = true;
  const std::pair<int, std::int64_t> moment{take, step};
  sums_[moment][person_id] = sum;
  while (sums_.size() > 4) sums_.erase(sums_.begin());
  const auto found = sums_.find(moment);
  if (found == sums_.end()) return {};  // earlier than what is compared now
  auto& all = found->second;
  std::map<std::string, int> counts;
  for (const auto& [person, one] : all) ++counts[one];
  if (counts.size() < 2) return {};
  const auto most =
      std::max_element(counts.begin(), counts.end(),
                       [](const auto& a, const auto& b) { return a.second < b.second; });
  std::vector<std::string> others;
  for (const auto& [person, one] : all) {
    if (one != most->first) others.push_back(person);
  }
  for (const std::string& person : others) all.erase(person);
  return others;
}

}  // namespace phren::app::server
