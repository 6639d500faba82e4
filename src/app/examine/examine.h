// The whole job on one prepared patient: listen at every site, measure what is in each recording,
// write the findings down, weigh them.
//
// Shapes:  site results in the order of the site map.
// Errors:  what the case, the models and the data folder report.
// Threads: examine() uses `num_threads` of its own; the result does not depend on how many.
#pragma once

#include <filesystem>
#include <functional>
#include <string>
#include <vector>

#include "app/examine/recording.h"
#include "base/random.h"
#include "base/result.h"
#include "bedside/heard.h"
#include "exam/types.h"
#include "measurement/types.h"
#include "reasoning/types.h"
#include "teaching/library.h"

namespace phren::app {

struct ExamineOptions {
  Seed seed;
  RecordingOptions recording;
  unsigned num_threads = 2;
};

struct ExaminedSite {
  exam::Site site;
  Recording recording;
  measurement::RecordingMeasurement measured;
  bedside::HeardAt
      expected;  // what is truly there to be heard; `measured` is the independent judge
};

struct Examined {
  teaching::Case prepared;
  ExamineOptions options;
  std::vector<ExaminedSite> sites;
  exam::Examination record;
  reasoning::Impression impression;
};

// `on_site` is told the id of each site as it is done, from any thread.
Result<Examined> examine(const teaching::Case& prepared, const ExamineOptions& options,
                         const teaching::Library& library,
                         const std::function<void(const std::string&)>& on_site);

// The patient of a case, settled and at time 0.
Result<patient::Patient> patient_of(const patient::PatientSetup& setup, Seed seed,
                                    const std::filesystem::path& data_directory);

inline std::string audio_file_of(const exam::Site& site) {
  return "audio/" + site.id + ".wav";
}

}  // namespace phren::app
