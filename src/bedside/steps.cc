#include "bedside/steps.h"

#include <algorithm>

#include "base/text.h"
#include "bedside/performance.h"
#include "bedside/words.h"
#include "exam/names.h"
#include "exam/place_words.h"

namespace phren::bedside {
namespace {

std::string joined(const std::vector<std::string>& words, const char* between) {
  std::string out;
  for (const std::string& word : words) out += (out.empty() ? "" : between) + word;
  return out;
}

std::optional<std::string> site_name(const exam::SiteMap& sites, std::string_view id) {
  for (const exam::Site& site : sites.all()) {
    if (site.id == id) return site.name;
  }
  return std::nullopt;
}

struct InWords {
  const exam::SiteMap& sites;
  const LabelOf& label_of;

  std::string operator()(const Place& d) const {
    return "Chestpiece on the " + place_in_words(d.point, sites);
  }
  std::string operator()(const Lift&) const { return "Chestpiece lifted"; }
  std::string operator()(const TurnHead& d) const {
    return "Turned to the " + std::string(word_of(d.head));
  }
  std::string operator()(const Expose&) const { return "Opened the clothing"; }
  std::string operator()(const Cover&) const { return "Closed the clothing"; }
  std::string operator()(const Tap& d) const {
    return "Percussed the " + place_in_words(d.point, sites);
  }
  std::string operator()(const Instruct& d) const {
    for (const Asked& one : kAsked) {
      if (one.manoeuvre == d.manoeuvre) return std::string(one.step);
    }
    return "Asked";
  }
  std::string operator()(const SetPosture& d) const {
    return "Patient " + std::string(word_of(d.posture));
  }
  std::string operator()(const Examine& d) const {
    const char* how = d.how == Look::kFeel      ? "Felt for "
                      : d.how == Look::kPercuss ? "Percussed for "
                      : d.how == Look::kAsk     ? "Asked about "
                                                : "Looked for ";
    return how + label_of(d.finding_id);
  }
  std::string operator()(const Measure& d) const {
    const VitalKind* kind = vital_kind(d.vital);
    std::string out = "Measured the " + (kind ? std::string(kind->label) : spaced(d.vital));
    if (!d.value) return out;
    return out + ": " + short_number(*d.value);
  }
  std::string operator()(const Treat& d) const {
    return "Began: " + label_of(d.treatment_id) + side(d.side);
  }
  std::string operator()(const StopTreatment& d) const {
    return "Stopped: " + label_of(d.treatment_id);
  }
  std::string operator()(const Report& d) const {
    const exam::Finding& f = d.finding;
    std::vector<std::string> names;
    for (const std::string& id : f.site_ids) names.push_back(site_name(sites, id).value_or(id));
    const std::string where =
        names.empty() ? side(f.side) : " at the " + joined(names, " and the ");
    if (f.presence == exam::Presence::kUnknown) return "Took back: " + label_of(f.id) + where;
    return (f.presence == exam::Presence::kAbsent ? "Found no " : "Found ") + label_of(f.id) +
           where;
  }
  std::string operator()(const Rank& d) const {
    std::vector<std::string> names;
    for (const std::string& id : d.condition_ids) names.push_back(label_of(id));
    return "Thought most likely: " +
           (names.empty() ? "nothing any more" : joined(names, ", then "));
  }
  std::string operator()(const Say& d) const { return "Said: “" + d.text + "”"; }
  std::string operator()(const End&) const { return "Ended"; }
  std::string operator()(const Listen& d) const {
    std::vector<std::string> parts;
    if (!d.instrument_id.empty()) parts.push_back("through the " + spaced(d.instrument_id));
    if (d.realness) parts.emplace_back(word_in(kRealnessLabels, *d.realness));
    std::vector<std::string> layers;
    for (const std::string& one : d.without) layers.push_back(spaced(one));
    if (!layers.empty()) parts.push_back("without " + joined(layers, ", "));
    return parts.empty() ? "Listened with everything" : "Listened " + joined(parts, ", ");
  }
  std::string operator()(const Steer& d) const {
    // Named where the truth may be told: "illness_1" is the label that such a page gives.
    std::string illness = label_of("illness_" + std::to_string(d.condition + 1));
    if (!illness.empty() && illness[0] >= 'a' && illness[0] <= 'z') {
      illness[0] = static_cast<char>(illness[0] - 'a' + 'A');
    }
    return illness + " goes to " + short_number(100.0 * d.severity) + " %" +
           (d.seconds > 0.0 ? " in " + short_number(d.seconds) + " s" : std::string());
  }
  std::string operator()(const Befall& d) const {
    for (const auto& [event, label] : kEventLabels) {
      if (event == d.event) return std::string(label) + side(d.side);
    }
    return "Something happened";
  }
  std::string operator()(const TakeUp&) const { return "Took up a chestpiece"; }

  static std::string side(exam::Side value) {
    return value == exam::Side::kMidline ? "" : ", " + std::string(word_of(value));
  }
};

}  // namespace

std::string spaced(std::string id) {
  std::replace(id.begin(), id.end(), '_', ' ');
  return id;
}

std::string place_in_words(const exam::TorsoPoint& point, const exam::SiteMap& sites) {
  const auto name = site_name(sites, nearest_site(sites, point));
  return name ? *name : exam::in_words(point);
}

StepKind kind_of(const Deed& deed) {
  if (std::holds_alternative<Place>(deed) || std::holds_alternative<Lift>(deed) ||
      std::holds_alternative<TurnHead>(deed) || std::holds_alternative<Listen>(deed)) {
    return StepKind::kListen;
  }
  if (std::holds_alternative<Report>(deed)) return StepKind::kFind;
  if (std::holds_alternative<Treat>(deed) || std::holds_alternative<StopTreatment>(deed)) {
    return StepKind::kTreat;
  }
  const bool is_said = std::holds_alternative<Rank>(deed) || std::holds_alternative<Say>(deed) ||
                       std::holds_alternative<End>(deed);
  return is_said ? StepKind::kOther : StepKind::kExamine;
}

std::string step_in_words(const Deed& deed, const exam::SiteMap& sites, const LabelOf& label_of) {
  return std::visit(InWords{sites, label_of}, deed);
}

}  // namespace phren::bedside
