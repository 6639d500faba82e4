#include "bedside/answers.h"

#include <algorithm>
#include <cstdlib>
#include <map>

#include "bedside/deed_fields.h"
#include "bedside/deed_json.h"
#include "bedside/described.h"
#include "bedside/examination.h"
#include "bedside/log_text.h"
#include "bedside/round.h"
#include "bedside/shown.h"
#include "bedside/steps.h"
#include "bedside/verdict.h"
#include "exam/place_words.h"
#include "exam/record.h"

namespace phren::bedside {
namespace {

Result<std::vector<EncounterAction>> actions_of(const Json& list) {
  if (!list.is_array()) return fail(ErrorCode::kMalformed, "log must be a list of actions");
  std::vector<EncounterAction> out;
  for (const Json& one : list) {
    out.push_back(TRY(at("action " + std::to_string(out.size() + 1), parse_action(one.dump()))));
  }
  return out;
}

template <class E>
E word_in_question(const Json& question, const char* key) {
  return read_word<E>(key, question.value(key, std::string())).value_or(E{});
}

Result<Json> place(const Json& question, const exam::SiteMap& sites) {
  const exam::TorsoPoint point{word_in_question<exam::Aspect>(question, "aspect"),
                               question.value("u", 0.0), question.value("v", 0.0)};
  const exam::TorsoPoint other = exam::mirrored(point);
  return json_of(PlaceAnswer{nearest_site(sites, point), exam::side_of(point),
                             exam::in_words(point), other.aspect, other.u, other.v});
}

StayAnswer stay_answer(const Stay& stay) {
  return {stay.site_id, stay.point.aspect, stay.point.u, stay.point.v,
          stay.start_s, stay.end_s,        stay.head,    stay.through_clothing};
}

// What of a log a page shows at once; the last word on each thing counts.
class Standing {
 public:
  Standing(Clothing worn, patient::Posture posture) : covering_(worn) { out_.posture = posture; }

  void note(const EncounterAction& action) {
    covering_.apply(action.deed);
    std::visit([&](const auto& deed) { note_deed(deed); }, action.deed);
  }
  LogAnswer finish(const Performance& performance) {
    out_.is_closed = covering_.is_closed();
    for (const Stay& stay : performance.stays) out_.stays.push_back(stay_answer(stay));
    out_.ranking = performance.ranking;
    return std::move(out_);
  }

 private:
  template <class D>
  void note_deed(const D&) {}
  void note_deed(const Place& d) {
    out_.is_on_skin = true;
    out_.last_place = StayAnswer{"", d.point.aspect, d.point.u, d.point.v};
  }
  void note_deed(const Lift&) { out_.is_on_skin = false; }
  void note_deed(const TurnHead& d) { out_.head = d.head; }
  void note_deed(const Listen& d) {
    if (d.realness) out_.realness = *d.realness;
    if (!d.instrument_id.empty()) out_.instrument_id = d.instrument_id;
    out_.without = d.without;
  }
  void note_deed(const SetPosture& d) { out_.posture = d.posture; }
  void note_deed(const End&) { out_.is_ended = true; }
  void note_deed(const Treat& d) {
    note_deed(StopTreatment{d.treatment_id});
    out_.treatments_on.push_back(d.treatment_id);
  }
  void note_deed(const StopTreatment& d) { std::erase(out_.treatments_on, d.treatment_id); }
  void note_deed(const Measure& d) {
    std::erase_if(out_.readings, [&](const ReadingAnswer& one) { return one.vital == d.vital; });
    out_.readings.push_back({d.vital, d.value});
  }

  Covering covering_;
  LogAnswer out_;
};

Result<Json> log(const Json& question, const exam::SiteMap& sites) {
  auto actions = TRY(actions_of(question.value("log", Json::array())));
  const auto worn = word_in_question<Clothing>(question, "clothing");
  Standing standing(worn, word_in_question<patient::Posture>(question, "posture"));
  for (const EncounterAction& action : actions) standing.note(action);
  const EncounterLog all{{}, std::move(actions)};
  return json_of(standing.finish(timeline_of(all, sites, worn, question.value("until_s", 0.0))));
}

// Sliding over the skin writes many lines; one is enough to read.
bool is_slide(const EncounterAction& action, const EncounterAction& next) {
  return std::holds_alternative<Place>(action.deed) && std::holds_alternative<Place>(next.deed) &&
         next.time_s - action.time_s < 0.5;
}

Result<Json> steps(const Json& question, const exam::SiteMap& sites) {
  const auto actions = TRY(actions_of(question.value("log", Json::array())));
  const Json labels = question.value("labels", Json::object());
  const LabelOf label_of = [&](const std::string& id) { return labels.value(id, spaced(id)); };
  std::vector<StepAnswer> out;
  for (std::size_t i = 0; i < actions.size(); ++i) {
    const EncounterAction& one = actions[i];
    if (i + 1 < actions.size() && is_slide(one, actions[i + 1])) continue;
    // Where a take begins, the log and the device both take the chestpiece up.
    const bool is_take_up = std::holds_alternative<TakeUp>(one.deed);
    if (is_take_up && i > 0 && std::holds_alternative<TakeUp>(actions[i - 1].deed)) continue;
    out.push_back({one.time_s, kind_of(one.deed), std::string(name_of(one.deed)),
                   step_in_words(one.deed, sites, label_of)});
  }
  return json_of(out);
}

// The log as a file.
EncounterHeader header_of(const Json& question) {
  EncounterHeader header;
  header.encounter_id = question.value("id", std::string());
  header.case_id = question.value("case_id", std::string());
  header.seed = std::strtoull(question.value("seed", std::string("0")).c_str(), nullptr, 10);
  header.started_at = question.value("started_at", std::string());
  return header;
}

Result<Json> log_text(const Json& question) {
  return Json(
      to_text({header_of(question), TRY(actions_of(question.value("log", Json::array())))}));
}

Result<Json> round_log(const Json& question) {
  const auto shared = TRY(parse_round_lines(question.value("shared", Json::array()).dump()));
  const auto own = TRY(parse_round_lines(question.value("own", Json::array()).dump()));
  const int take = question.value("take", 0);
  if (take < 0 || take > kMostTakes) return fail(out_of_range("take", take, "from 0 to 1000"));
  return Json(
      to_text({header_of(question),
               encounter_of(shared, own, take, question.value("end_step", std::int64_t{0}))}));
}

// The vital signs as the pages have them (shown.h), back as a monitor.
struct VitalsIn {
  const Json& json;
  bool is_whole = true;
  void number(const char* key, double& value) {
    const auto found = json.find(key);
    if (found == json.end()) return;
    if (found->is_number()) {
      value = found->get<double>();
    } else {
      is_whole = false;  // null: not a number, no reading
    }
  }
};

Result<Json> examination(const Json& question, const exam::SiteMap& sites) {
  auto actions = TRY(actions_of(question.value("log", Json::array())));
  Examined who;
  who.case_id = question.value("case_id", std::string());
  who.seed = question.value("seed", std::uint64_t{0});
  who.age_years = question.value("age_years", 0.0);
  who.sex = word_in_question<patient::Sex>(question, "sex");
  who.setting = question.value("setting", std::string());
  patient::Monitor now;
  const Json vitals = question.value("now", Json());
  if (vitals.is_object()) {
    VitalsIn in{vitals};
    show_vitals(in, now);
    now.has_pulse = in.is_whole;
  }
  const EncounterLog all{{}, std::move(actions)};
  const auto record = examination_of(timeline_of(all, sites, Clothing::kBare), who,
                                     vitals.is_object() ? &now : nullptr);
  return Json::parse(exam::to_json(record), nullptr, false);
}

Json findings(const Bedside& bedside) {
  std::vector<FindingAnswer> out;
  for (const exam::Finding& one : bedside.findings()) {
    out.push_back({one.id, one.presence, one.side});
  }
  return json_of(out);
}

Json instruments(const Bedside& bedside) {
  std::vector<InstrumentAnswer> out;
  for (const AtHand& one : bedside.listening().at_hand()) {
    out.push_back({one.id, one.name, one.other_side});
  }
  return json_of(out);
}

template <class Key>
Key most_of(const std::map<Key, int>& counts) {
  return std::max_element(counts.begin(), counts.end(),
                          [](const auto& a, const auto& b) { return a.second < b.second; })
      ->first;
}

bool is_breath(exam::Sound sound) {
  return sound == exam::Sound::kNormal || sound == exam::Sound::kBronchial ||
         sound == exam::Sound::kTracheal;
}

// All stays at one place together.
PlaceHeard place_heard(const std::vector<const Stay*>& stays) {
  PlaceHeard out{stays.front()->site_id, 0.0, false, {}, {}, {}, ""};
  std::map<exam::Sound, int> counts;
  double sums_db[2] = {0.0, 0.0};
  int breaths[2] = {0, 0};
  for (const Stay* stay : stays) {
    out.seconds += stay->seconds();
    out.through_clothing = out.through_clothing || stay->through_clothing;
    for (const HeardSound& heard : stay->heard) {
      counts[heard.sound] += heard.events;
      const auto phase = static_cast<std::size_t>(heard.phase);
      if (!is_breath(heard.sound) || phase > 1) continue;
      sums_db[phase] += heard.sum_db;
      breaths[phase] += heard.events;
    }
  }
  for (const auto& [sound, events] : counts) out.sounds.push_back({sound, events});
  const Stay* longest =
      *std::max_element(stays.begin(), stays.end(),
                        [](const Stay* a, const Stay* b) { return a->seconds() < b->seconds(); });
  out.words = in_words(longest->found);
  if (breaths[0] > 0) out.breath_in_db = sums_db[0] / breaths[0];
  if (breaths[1] > 0) out.breath_out_db = sums_db[1] / breaths[1];
  return out;
}

SoundHeardAnswer sound_heard(exam::Sound sound, const std::vector<Stay>& stays) {
  SoundHeardAnswer out;
  out.sound = sound;
  std::map<exam::Phase, int> phases;
  std::map<std::size_t, int> regions;
  for (const Stay& stay : stays) {
    for (const HeardSound& heard : stay.heard) {
      if (heard.sound != sound) continue;
      phases[heard.phase] += heard.events;
      for (std::size_t r = 0; r < heard.regions.size(); ++r) regions[r] += heard.regions[r];
      const auto& ids = out.site_ids;
      const bool is_new = std::find(ids.begin(), ids.end(), stay.site_id) == ids.end();
      if (is_new && !stay.site_id.empty()) out.site_ids.push_back(stay.site_id);
    }
  }
  out.phase = most_of(phases);
  out.region = word_of(static_cast<acoustics::Region>(most_of(regions)));
  SoundNames names = finding_names(sound);
  out.exact = std::move(names.exact);
  out.family = std::move(names.family);
  return out;
}

// Each mark about what was heard or seen with its verdict, and what no mark names.
void add_verdicts(const Performance& performance, DebriefAnswer& out) {
  std::vector<HeardAt> places;
  for (const Stay& stay : performance.stays) places.push_back(stay.found);
  std::vector<exam::Finding> marks;
  for (const TimedDeed& report : performance.last_reports) {
    const exam::Finding& mark = std::get<Report>(report.deed).finding;
    if (mark.presence == exam::Presence::kUnknown || !is_heard_finding(mark.id)) continue;
    marks.push_back(mark);
    const JudgedMark judged = judge_mark(mark, places);
    out.marks.push_back({mark.id, mark.presence, mark.side, mark.site_ids,
                         std::string(to_string(judged.verdict)), judged.reason});
  }
  for (MissedFinding& one : missed_findings(marks, places)) {
    out.missed.push_back({one.finding_id, one.side, one.site_ids, one.words});
  }
  for (const LookedAt& look : performance.looks.all()) {
    const JudgedMark judged = judge_look(look);
    out.looks.push_back({look.said.id, look.said.presence, look.said.side, look.said.site_ids,
                         std::string(to_string(judged.verdict)), judged.reason});
  }
  for (MissedFinding& one : missed_looks(performance.looks, performance.at_the_end)) {
    out.unseen.push_back({one.finding_id, one.side, {}, ""});
  }
}

}  // namespace

DebriefAnswer debrief_of(const Performance& performance) {
  constexpr double kGlance_s = 0.3;  // shorter is left out
  DebriefAnswer out;
  std::vector<std::vector<const Stay*>> places;
  std::vector<exam::Sound> sounds;
  for (const Stay& stay : performance.stays) {
    const auto same = std::find_if(places.begin(), places.end(), [&](const auto& one) {
      return one.front()->site_id == stay.site_id;
    });
    if (same == places.end()) {
      places.push_back({&stay});
    } else {
      same->push_back(&stay);
    }
    for (const HeardSound& heard : stay.heard) {
      const bool is_known = std::find(sounds.begin(), sounds.end(), heard.sound) != sounds.end();
      if (!is_known && !finding_names(heard.sound).exact.empty()) sounds.push_back(heard.sound);
    }
  }
  for (const auto& stays : places) {
    out.places.push_back(place_heard(stays));
    if (out.places.back().seconds <= kGlance_s) out.places.pop_back();
  }
  for (const exam::Sound sound : sounds) {
    out.sounds.push_back(sound_heard(sound, performance.stays));
  }
  for (const auto& [sound, word] : kWords<exam::Sound>) {
    const SoundNames names = finding_names(sound);
    for (const auto* ids : {&names.exact, &names.family}) {
      out.nameable.insert(out.nameable.end(), ids->begin(), ids->end());
    }
  }
  add_verdicts(performance, out);
  for (const MonitorPoint& point : performance.monitor) {
    const patient::Monitor& m = point.shown;
    out.monitor.push_back(
        {point.time_s, m.respiratory_rate_per_min, m.spo2_percent, m.heart_rate_per_min});
  }
  return out;
}

Result<std::vector<EncounterAction>> read_actions(std::string_view json_array) {
  return actions_of(Json::parse(json_array, nullptr, false));
}

Result<std::string> answer(std::string_view text, const exam::SiteMap& sites,
                           const Bedside* bedside) {
  const Json question = Json::parse(text, nullptr, false);
  if (!question.is_object()) return fail(ErrorCode::kMalformed, "the question is not JSON");
  const std::string ask = question.value("ask", std::string());
  Result<Json> out = fail(out_of_range("ask", "'" + ask + "'", "a question of kQuestions"));
  if (ask == "place") out = place(question, sites);
  if (ask == "log") out = log(question, sites);
  if (ask == "text") out = log_text(question);
  if (ask == "round_log") out = round_log(question);
  if (ask == "steps") out = steps(question, sites);
  if (ask == "examination") out = examination(question, sites);
  if (ask == "findings" && bedside != nullptr) out = findings(*bedside);
  if (ask == "instruments" && bedside != nullptr) out = instruments(*bedside);
  if (!out) return fail(out.error());
  return out->dump(-1, ' ', false, Json::error_handler_t::replace);
}

}  // namespace phren::bedside
