#include "specimen/rendered.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cstdio>

#include "app/examine/examine.h"
#include "app/specimen/specimen.h"
#include "base/files.h"
#include "exam/sites.h"

namespace phren::app {
namespace {

constexpr double kRate_hz = 8000.0;
constexpr double kSeconds = 15.0;

struct Chest {
  const char* condition;
  double severity;
  double age_years, height_cm, weight_kg;
};
constexpr Chest kChests[] = {{"healthy", 0.0, 30, 175, 72},
                             {"healthy", 0.0, 6, 116, 21},
                             {"healthy", 0.0, 66, 168, 80},
                             {"asthma", 0.5, 34, 166, 68},
                             {"asthma", 0.7, 22, 180, 75},
                             {"asthma", 0.6, 9, 135, 30},
                             {"cardiogenic_oedema", 0.5, 71, 170, 80},
                             {"cardiogenic_oedema", 0.8, 60, 178, 85},
                             {"croup", 0.7, 3, 95, 14},
                             {"croup", 0.5, 2, 88, 12},
                             {"croup", 0.8, 2, 86, 13},
                             {"epiglottitis", 0.7, 4, 102, 16},
                             {"epiglottitis", 0.8, 45, 172, 80},
                             {"bronchitis", 0.7, 50, 172, 78},
                             {"bronchitis", 0.8, 61, 165, 70},
                             {"bronchitis", 0.9, 38, 181, 84},
                             {"copd_exacerbation", 0.6, 68, 170, 64},
                             {"copd_exacerbation", 0.5, 72, 163, 58},
                             {"bronchiolitis", 0.6, 0.7, 70, 8.5},
                             {"interstitial_fibrosis", 0.6, 70, 172, 74}};
constexpr const char* kSites[] = {"N1", "N2", "F5", "F6", "F9", "F10", "P3", "P4", "P7", "P8"};

exam::SiteMap site_map() {
  auto map = exam::SiteMap::load(data_directory() / "sites.toml");
  EXPECT_TRUE(map) << map.error().message;
  return std::move(*map);
}

void render_at(const teaching::Case& prepared, const patient::Patient& patient,
               const exam::Site& site, Seed seed, const std::string& name, const TakeRendered& take,
               Realness realness) {
  RecordingOptions how;
  if (realness != Realness::kClean) {
    const Status chosen =
        choose_listening(std::string(word_of(realness)), std::nullopt, data_directory(), how);
    ASSERT_TRUE(chosen) << chosen.error().message;
  }
  how.seconds = kSeconds;
  how.sample_rate_hz = kRate_hz;
  auto recording = record_at(patient, site.at, prepared, how, seed);
  ASSERT_TRUE(recording) << recording.error().message;
  take({name + " at " + site.id, site, std::move(recording->audio), std::move(recording->truth)});
}

}  // namespace

void render_specimens(std::span<const std::uint64_t> seeds, const TakeRendered& take,
                      Realness realness) {
  const auto specimens = Specimens::load(data_directory() / "acoustics_specimens.toml");
  ASSERT_TRUE(specimens) << specimens.error().message;
  const auto map = site_map();
  for (Specimen specimen : specimens->all()) {
    specimen.realness = realness;
    if (specimen.is_tapped) continue;  // the finger's sound is not in the truth
    for (const std::uint64_t seed : seeds) {
      auto made = make_specimen(specimen, Seed{seed}, kRate_hz, data_directory());
      ASSERT_TRUE(made) << made.error().message;
      take({"specimen " + specimen.id + ", seed " + std::to_string(seed),
            *map.find(specimen.site_id), std::move(made->audio), std::move(made->truth)});
    }
  }
}

void render_demo_cases(Seed seed, const TakeRendered& take, Realness realness) {
  const auto vocabulary = teaching::CaseVocabulary::load(data_directory());
  ASSERT_TRUE(vocabulary) << vocabulary.error().message;
  const auto cases = teaching::list_cases(data_directory() / "cases", *vocabulary);
  ASSERT_TRUE(cases) << cases.error().message;
  const auto map = site_map();
  for (const auto& listed : *cases) {
    ASSERT_TRUE(listed.loaded) << listed.loaded.error().message;
    auto patient = patient_of(listed.loaded->patient, seed, data_directory());
    ASSERT_TRUE(patient) << patient.error().message;
    if (realness != Realness::kClean) patient->set_breath_variability(1.0, seed);
    for (const exam::Site& site : map.all())
      render_at(*listed.loaded, *patient, site, seed, "case " + listed.loaded->id, take, realness);
  }
}

void render_other_chests(Seed seed, const TakeRendered& take, Realness realness) {
  const auto map = site_map();
  for (const Chest& chest : kChests) {
    teaching::Case prepared;
    prepared.patient.person.age_years = chest.age_years;
    prepared.patient.person.height_cm = chest.height_cm;
    prepared.patient.person.weight_kg = chest.weight_kg;
    if (chest.severity > 0.0) {
      patient::ConditionUse use;
      use.id = chest.condition;
      use.severity = chest.severity;
      prepared.patient.conditions.push_back(use);
    }
    auto patient = patient_of(prepared.patient, seed, data_directory());
    ASSERT_TRUE(patient) << patient.error().message;
    if (realness != Realness::kClean) patient->set_breath_variability(1.0, seed);
    char name[80];
    std::snprintf(name, sizeof name, "%s %.1f, %g years", chest.condition, chest.severity,
                  chest.age_years);
    for (const exam::Site& site : map.all())
      if (std::find(std::begin(kSites), std::end(kSites), site.id) != std::end(kSites))
        render_at(prepared, *patient, site, seed, name, take, realness);
  }
}

}  // namespace phren::app
