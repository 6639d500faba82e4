// One round under way, without sockets, store or threads: who is there, what was done, and the patient's clock.
// docs/round.md tells the rules.
//
// Rules:   no device may live further than horizon(): up to there every shared line is on disk and was sent. A
//          new line is stamped at or after every horizon that was ever told, so no device has passed it.
// Units:   steps of 1/128 s of the patient's time. Real time is monotonic; no wall clock decides anything.
// Errors:  a refusal says what was asked and what would be right; nothing is changed by it.
// Threads: none of its own.
#pragma once

#include <chrono>
#include <cstdint>
#include <map>
#include <nlohmann/json.hpp>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "base/result.h"
#include "bedside/round.h"
#include "bedside/setup.h"
#include "records/rounds.h"
#include "teaching/library.h"

namespace phren::app::server {

using SteadyTime = std::chrono::steady_clock::time_point;

// The patient's time: stands, or runs with real time.
class RoundClock {
 public:
  std::int64_t step_at(SteadyTime now) const;
  bool is_running() const { return is_running_; }
  void set(std::int64_t step, bool is_running, SteadyTime now);

 private:
  std::int64_t base_ = 0;
  SteadyTime since_{};
  bool is_running_ = false;
};

// The answer that stands: the last one to the question that stands.
struct RoundAnswer {
  std::int64_t question = 0;
  std::string value;
};

struct RoundMember {
  records::RoundPerson person;
  bool is_here = false, is_crew = false, is_away = false;  // away: sent away by the desk
  bool has_lived = false;  // since it came: a chestpiece, a mark, or a sum of the body
  SteadyTime came{};
  std::string address;  // that it came from
  RoundAnswer answer;
  std::int64_t own_n = 0;               // last own line taken
  std::size_t own_bytes = 0;            // of those taken
  std::vector<records::RoundText> own;  // kept ones, in order
  std::int64_t kept_n() const { return own.empty() ? 0 : own.back().n; }
  bool is_desk() const { return person.role == "desk"; }
  bool is_listener() const { return person.role == "listener"; }
};

// Whether the lines of a round, as they are kept, leave the door open for somebody new.
bool is_door_open(const std::vector<records::RoundText>& shared);

class RoundRoom {
 public:
  // ENGINEERING: a lecture room; each is a phone that gets 25 small messages a second.
  static constexpr std::size_t kMostListeners = 120, kMostProjectors = 8;
  // A page that has not begun to listen for so long keeps nobody else out.
  static constexpr std::chrono::seconds kUnusedSeat{60};
  static constexpr std::int64_t kLead_steps =
      4;  // a line waits so long that it can be kept in the meantime
  static constexpr std::int64_t kLease_steps = 4 * bedside::kStepsPerSecond;

  // From what is kept: where the clock may have come to, it goes on.
  static Result<RoundRoom> open(const records::Round& round,
                                std::shared_ptr<const teaching::Library> library,
                                std::vector<records::RoundPerson> people,
                                std::vector<records::RoundText> lines, SteadyTime now);

  const records::Round& round() const { return round_; }
  const teaching::Case& prepared() const { return prepared_; }
  const bedside::Setup& setup() const { return setup_; }
  std::map<std::string, RoundMember>& members() { return members_; }
  RoundMember& member(const records::RoundPerson& person);
  // Seats are of those who are here, not of all who ever came. Where all are taken, one that was never used gives
  // way, first of the address that holds the most.
  struct Seat {
    bool is_there = false;
    std::string gives_way;  // who; empty where there is room
  };
  Seat seat_for(const records::RoundPerson& person, SteadyTime now) const;
  // What has been answered to the question that stands, as the desk sees it or as the wall may show it: until what
  // it was is shown, no words of anybody's own, only how many have answered.
  nlohmann::json tally(bool is_for_wall) const;
  bool shows_names() const { return shows_names_; }
  bool is_over() const { return is_over_; }

  // ---- new lines: stamped, to be stored; known to nobody before kept() ----
  Result<records::RoundText> deed(const RoundMember& by, const nlohmann::ordered_json& deed,
                                  SteadyTime now);
  Result<records::RoundText> word(const RoundMember& by, const nlohmann::json& word,
                                  SteadyTime now);
  // Of the person's own; those taken before are left out. `left_out`: what could not be taken, in words.
  Result<std::vector<records::RoundText>> own(RoundMember& by, const nlohmann::ordered_json& lines);
  void kept(const records::RoundText& line);

  // ---- the clock ----
  std::int64_t horizon(SteadyTime now);
  bool is_running() const { return clock_.is_running(); }
  int take() const { return take_; }
  std::int64_t last_kept() const { return last_kept_; }
  bool may_tell_time() const { return !goes_back_; }  // not while a new take is on its way to disk
  // How far the clock may go before this is asked again; to be stored, then granted.
  std::optional<std::int64_t> lease_wanted(SteadyTime now) const;
  void lease_granted(int take, std::int64_t step);

  // Kept shared lines after number `have`, as JSON texts.
  std::vector<std::string> since(std::int64_t have) const;
  // Takes a device's sum; those of other devices that differ from the most frequent one.
  std::vector<std::string> compare(const std::string& person_id, int take, std::int64_t step,
                                   const std::string& sum);

 private:
  RoundRoom(const records::Round& round, teaching::Case prepared, bedside::Setup setup,
            std::shared_ptr<const teaching::Library> library)
      : round_(round),
        prepared_(std::move(prepared)),
        setup_(std::move(setup)),
        library_(std::move(library)) {}
  Status check_deed(const RoundMember& by, const bedside::Deed& deed) const;
  Result<nlohmann::json> checked_word(const nlohmann::json& word) const;
  Result<nlohmann::json> checked_away(const nlohmann::json& away) const;
  records::RoundText stamp(const std::string& by, nlohmann::ordered_json line, SteadyTime now);
  void apply(const nlohmann::json& word, std::int64_t n, SteadyTime now);
  static void note(RoundMember& by, const std::string& line);

  records::Round round_;
  teaching::Case prepared_;
  bedside::Setup setup_;
  std::shared_ptr<const teaching::Library> library_;
  std::map<std::string, RoundMember> members_;
  std::vector<std::string> shared_;  // kept, by number from 1
  std::set<std::string> deed_ids_;
  RoundClock clock_;
  int take_ = 0;
  std::int64_t last_n_ = 0, last_kept_ = 0, promised_ = 0, lease_ = 0;
  std::map<std::int64_t, std::int64_t> on_the_way_;  // number -> step
  bool goes_back_ = false, is_over_ = false, shows_names_ = false, shows_truth_ = false;
  std::int64_t question_ = 0;  // the number of the line that asked; 0: none
  std::vector<std::string> options_;
  std::map<std::pair<int, std::int64_t>, std::map<std::string, std::string>> sums_;
};

}  // namespace phren::app::server
