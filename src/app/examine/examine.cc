#include "app/examine/examine.h"

#include <algorithm>
#include <atomic>
#include <thread>

#include "bedside/bedside.h"
#include "exam/sites.h"
#include "measurement/findings.h"
#include "measurement/measure.h"
#include "patient/conditions.h"
#include "patient/findings.h"
#include "patient/patient.h"
#include "reasoning/weigh.h"
#include "teaching/expected.h"

namespace phren::app {
namespace {

// Runs work(i) for i = 0..count-1 on `num_threads` threads, each with its own measurer, and returns
// the error of the lowest i that failed.
template <class Work>
Status in_parallel(std::size_t count, unsigned num_threads, Work work) {
  std::vector<Status> results(count);
  std::atomic<std::size_t> next{0};
  const auto run = [&] {
    auto measurer = measurement::Measurer::load();
    for (std::size_t i = next++; i < count; i = next++) {
      results[i] = measurer ? work(i, *measurer) : Status(fail(measurer.error()));
    }
  };
  {
    std::vector<std::jthread> helpers;
    for (unsigned t = 1; t < num_threads; ++t) helpers.emplace_back(run);
    run();
  }
  for (const Status& result : results) {
    if (!result) return result;
  }
  return {};
}

struct Job {
  const teaching::Case& prepared;
  const ExamineOptions& options;
  std::vector<patient::Patient> patients;  // as each site finds it
};

Status listen(const Job& job, std::size_t index, measurement::Measurer& measurer,
              ExaminedSite& out) {
  // Each site has its own stream, so neither order nor threads change what is heard.
  const Seed seed{RandomStream(job.options.seed, "site " + out.site.id).bits()};
  out.recording =
      TRY(record_at(job.patients[index], out.site.at, job.prepared, job.options.recording, seed));
  out.measured = TRY(at("site " + out.site.id, measurer.measure(out.recording.audio)));
  return {};
}

exam::Examination written_down(const Examined& examined, const patient::Patient& first) {
  exam::Examination record;
  record.case_id = examined.prepared.id;
  record.seed = examined.options.seed.value;
  record.age_years = first.person().age_years;
  record.sex = first.person().sex == patient::Sex::kFemale ? "female" : "male";
  record.setting = examined.prepared.setting;
  record.vital_signs = patient::vital_signs_of(first.monitor());
  std::vector<measurement::SiteMeasurement> heard;
  for (const ExaminedSite& site : examined.sites) heard.push_back({site.site, site.measured});
  for (const auto& site : heard) {
    record.sites.push_back(measurement::site_record_of(site));
    record.sites.back().audio_file = audio_file_of(site.site);
  }
  record.findings = measurement::findings_of(heard);
  const auto seen = bedside::findings_at_bedside(first, examined.prepared.told);
  record.findings.insert(record.findings.end(), seen.begin(), seen.end());
  return record;
}

reasoning::WeighOptions weigh_options(const teaching::Case& prepared) {
  using acoustics::Surroundings;
  reasoning::WeighOptions options;
  const bool moving = prepared.room == Surroundings::kCabin ||
                      prepared.room == Surroundings::kSiren ||
                      prepared.room == Surroundings::kHelicopter;
  if (moving) options.surroundings = reasoning::Surroundings::kMovingVehicle;
  return options;
}

}  // namespace

Result<patient::Patient> patient_of(const patient::PatientSetup& setup, Seed seed,
                                    const std::filesystem::path& data_directory) {
  const auto conditions = TRY(patient::Conditions::load(data_directory / "conditions"));
  const auto treatments = TRY(patient::Treatments::load(data_directory / "treatments"));
  const auto config = TRY(patient::configure(setup, conditions, treatments));
  return patient::Patient::make(config, seed);
}

Result<Examined> examine(const teaching::Case& prepared, const ExamineOptions& options,
                         const teaching::Library& library,
                         const std::function<void(const std::string&)>& on_site) {
  const auto config =
      TRY(at("case " + prepared.id,
             patient::configure(prepared.patient, library.conditions, library.treatments)));
  auto patient = TRY(at("case " + prepared.id, patient::Patient::make(config, options.seed)));
  if (options.recording.realness != acoustics::Realness::kClean) {
    patient.set_breath_variability(1.0, options.seed);
  }
  Examined out{prepared, options, {}, {}, {}};
  Job job{prepared, options, {}};
  for (const exam::Site& site : library.sites.all()) {  // one site after another, as at the bedside
    out.sites.push_back({site, {}, {}, {}});
    job.patients.push_back(patient);
    patient.advance_to(patient.time_s() + options.recording.seconds);
  }
  TRY(in_parallel(out.sites.size(), options.num_threads,
                  [&](std::size_t i, measurement::Measurer& measurer) {
                    const Status status = listen(job, i, measurer, out.sites[i]);
                    on_site(out.sites[i].site.id);
                    return status;
                  }));
  const auto setup = TRY(
      teaching::setup_of(prepared, library.conditions, library.treatments, library.instruments));
  auto expected = TRY(teaching::expected_at_sites(setup, library.sites, options.seed));
  for (std::size_t i = 0; i < out.sites.size(); ++i) out.sites[i].expected = std::move(expected[i]);
  out.record = written_down(out, job.patients.front());
  out.impression = TRY(reasoning::weigh(out.record, library.knowledge, weigh_options(prepared)));
  return out;
}

}  // namespace phren::app
