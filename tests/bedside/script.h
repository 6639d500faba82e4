// A world of data and scripted encounters, for tests that live one again.
#pragma once

#include <string>

#include "acoustics/instruments.h"
#include "base/files.h"
#include "bedside/replay.h"
#include "patient/conditions.h"

namespace phren::bedside::testing {

struct World {
  patient::Conditions conditions =
      patient::Conditions::load(data_directory() / "conditions").value();
  patient::Treatments treatments =
      patient::Treatments::load(data_directory() / "treatments").value();
  acoustics::Instruments instruments =
      acoustics::Instruments::load(data_directory() / "instruments").value();
  exam::SiteMap sites = exam::SiteMap::load(data_directory() / "sites.toml").value();
};

inline const World& world() {
  static const World w;
  return w;
}

inline Setup asthma(double severity, Clothing clothing = Clothing::kShirt) {
  patient::PatientSetup body;
  body.person = {34, patient::Sex::kFemale, 166, 68, 0.3};
  if (severity > 0.0) body.conditions.push_back({"asthma", severity});
  return prepare(body, {clothing}, {}, world().conditions, world().treatments, &world().instruments)
      .value();
}

class Script {
 public:
  Script() { log_.header = {1, "e-1", "asthma", 42, "test", ""}; }
  Script& at(double time_s, Deed deed) {
    log_.actions.push_back({"a" + std::to_string(log_.actions.size()), time_s, std::move(deed)});
    return *this;
  }
  Script& listen(double from_s, const std::string& site) {
    return at(from_s, Place{world().sites.find(site)->at});
  }
  const EncounterLog& log() const { return log_; }

 private:
  EncounterLog log_;
};

inline Report report(const std::string& id, exam::Presence presence = exam::Presence::kPresent) {
  exam::Finding f;
  f.id = id;
  f.presence = presence;
  return Report{f};
}

inline EncounterLog done_well() {
  Script s;
  s.at(2, Expose{}).at(3, Instruct{Manoeuvre::kDeep, 120});
  s.at(4, Measure{"respiratory_rate_per_min"}).at(5, Measure{"spo2_percent"});
  s.at(6, Measure{"heart_rate_per_min"});
  double t = 10;
  for (const char* site : {"F5", "F6", "F9", "F10", "S3", "S4", "P9", "P10"})
    s.listen(t += 8, site);
  s.at(85, Lift{}).at(86, report("wheeze")).at(88, Examine{Look::kAsk, "history_asthma", ""});
  s.at(90, Examine{Look::kAsk, "allergen_exposure", ""});
  s.at(95, Treat{"inhaled_bronchodilator", exam::Side::kMidline});
  s.listen(100, "P9").listen(108, "P10").at(116, Lift{});
  s.at(117, Measure{"respiratory_rate_per_min"}).at(117.5, Measure{"spo2_percent"});
  s.at(118, Rank{{"asthma", "anaphylaxis"}});
  s.at(119, Say{"Asthma attack, wheeze on both sides, eased after the inhaled bronchodilator"});
  s.at(120, End{});
  return s.log();
}

inline EncounterLog done_badly() {
  Script s;
  s.listen(2, "F5").at(4, Lift{}).at(6, report("fine_crackles"));
  s.at(8, Treat{"needle_decompression", exam::Side::kRight}).at(10, End{});
  return s.log();
}

inline double musical_s(const Performance& p) {
  double sum = 0.0;
  for (const Stay& stay : p.stays) {
    for (const HeardSound& heard : stay.heard) {
      const bool musical =
          heard.sound == exam::Sound::kWheeze || heard.sound == exam::Sound::kRhonchus;
      sum += musical ? heard.seconds : 0.0;
    }
  }
  return sum;
}

}  // namespace phren::bedside::testing
