// The whole job on prepared patients, end to end. Slow: each examination listens at 32 sites.
#include "app/examine/examine.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <map>

#include "app/run.h"
#include "app/temporary_folder.h"
#include "base/files.h"
#include "exam/record.h"
#include "opened_files.h"
#include "signal/audio_file.h"
#include "signal/filter.h"
#include "signal/labels.h"

namespace phren::app {
namespace {
namespace fs = std::filesystem;

Examined examined(const std::string& id, std::uint64_t seed = 1, unsigned num_threads = 2) {
  static const auto library = teaching::Library::load(data_directory()).value();
  const auto prepared = library->open_case(id);
  EXPECT_TRUE(prepared) << prepared.error().message;
  ExamineOptions options;
  options.seed = Seed{seed};
  options.num_threads = num_threads;
  auto result = examine(*prepared, options, *library, [](const std::string&) {});
  EXPECT_TRUE(result) << result.error().message;
  return std::move(*result);
}

// Root mean square in dB re full scale between 150 and 1000 Hz, where breath sound lives and heart
// sound does not: measured here by plain filtering, not by the measurer.
double level_db(const signal::Audio& audio) {
  auto chain = signal::FilterChain::butterworth(
      {.is_high_pass = true, .order = 4, .sample_rate_hz = audio.sample_rate_hz, .corner_hz = 150});
  chain->append(*signal::FilterChain::butterworth({.is_high_pass = false,
                                                   .order = 4,
                                                   .sample_rate_hz = audio.sample_rate_hz,
                                                   .corner_hz = 1000}));
  double sum = 0.0;
  for (const float sample : audio.samples) {
    const double y = chain->step(sample);
    sum += y * y;
  }
  return 10.0 * std::log10(sum / static_cast<double>(audio.samples.size()) + 1e-20);
}

// Right minus left at every mirrored pair over the chest, by site id of the right one.
std::map<std::string, double> right_minus_left_db(const Examined& e) {
  std::map<std::string, double> level, out;
  for (const auto& site : e.sites) level[site.site.id] = level_db(site.recording.audio);
  for (const auto& site : e.sites) {
    if (site.site.side != exam::Side::kRight) continue;
    out[site.site.id] = level[site.site.id] - level[site.site.mirror_id];
  }
  return out;
}

const reasoning::RankedCondition& first_of(const Examined& e) {
  return e.impression.ranking.front();
}

TEST(ExamineSlow, RightPneumothoraxIsAtLeastTenDbQuieterOnTheRightAtEveryMirroredSite) {
  const Examined e = examined("right_pneumothorax");
  for (const auto& [id, difference_db] : right_minus_left_db(e)) {
    EXPECT_LE(difference_db, -10.0) << id;
  }
  EXPECT_EQ(first_of(e).id, "pneumothorax");
}

TEST(ExamineSlow, HealthyChestIsWithinFourDbAtEveryMirroredSite) {
  const Examined e = examined("healthy_volunteer");
  for (const auto& [id, difference_db] : right_minus_left_db(e)) {
    EXPECT_LE(std::abs(difference_db), 4.0) << id;
  }
  EXPECT_EQ(first_of(e).id, "healthy");
}

// Share of the audible time of `sound` in the truth of one site.
double truth_share(const ExaminedSite& site, exam::Sound sound) {
  double sum_s = 0.0;
  for (const auto& event : site.recording.truth) {
    if (event.sound == sound && event.audible) sum_s += event.end_s - event.start_s;
  }
  return sum_s / site.recording.audio.duration_s();
}

TEST(ExamineSlow, WheezeIsMeasuredWhereTheTruthHasItAndAsthmaComesFirst) {
  const Examined e = examined("asthma");
  int with_wheeze = 0, measured = 0;
  for (std::size_t i = 0; i < e.sites.size(); ++i) {
    if (e.sites[i].site.at.aspect == exam::Aspect::kNeck) continue;
    if (truth_share(e.sites[i], exam::Sound::kWheeze) < 0.1) continue;
    ++with_wheeze;
    const auto& sounds = e.record.sites[i].sounds;
    measured += std::find(sounds.begin(), sounds.end(), exam::Sound::kWheeze) != sounds.end();
  }
  EXPECT_GE(with_wheeze, 10);
  EXPECT_GE(measured, (9 * with_wheeze + 9) / 10) << "of " << with_wheeze;  // nine in ten
  EXPECT_EQ(first_of(e).id, "asthma");
}

TEST(ExamineSlow, EachDemoCaseIsRankedFirst) {
  for (const char* id : {"cardiogenic_oedema", "lobar_pneumonia", "croup"}) {
    SCOPED_TRACE(id);
    EXPECT_EQ(first_of(examined(id)).id, id);
  }
}

TEST(ExamineSlow, StridorIsHeardOverTheNeckInCroup) {
  const Examined e = examined("croup");
  const auto found = std::find_if(e.record.findings.begin(), e.record.findings.end(),
                                  [](const auto& finding) { return finding.id == "stridor"; });
  ASSERT_NE(found, e.record.findings.end());
  EXPECT_EQ(found->presence, exam::Presence::kPresent);
}

// Contents by name of every file of a folder.
std::map<std::string, std::string> contents(const fs::path& folder) {
  std::map<std::string, std::string> out;
  for (const auto& entry : fs::recursive_directory_iterator(folder)) {
    if (entry.is_regular_file()) {
      out[entry.path().lexically_relative(folder).string()] = read_file(entry.path()).value();
    }
  }
  return out;
}

TEST(ExamineCommandSlow, SameSeedGivesTheSameBytesWhateverTheThreads) {
  const TemporaryFolder folder;
  const std::string first = folder.path() / "first", second = folder.path() / "second";
  const std::string third = folder.path() / "third";
  ASSERT_EQ(run_phren({"examine", "asthma", "--out", first, "--threads", "1"}).code, kOk);
  ASSERT_EQ(run_phren({"examine", "asthma", "--out", second, "--threads", "3"}).code, kOk);
  ASSERT_EQ(run_phren({"examine", "asthma", "--out", third, "--seed", "2"}).code, kOk);
  const auto a = contents(first), b = contents(second), c = contents(third);
  ASSERT_EQ(a.size(), 2u * 32u + 4u);
  EXPECT_EQ(a.size(), b.size());
  for (const auto& [name, bytes] : a) EXPECT_TRUE(bytes == b.at(name)) << name;
  EXPECT_FALSE(a.at("audio/F5.wav") == c.at("audio/F5.wav"));
}

TEST(ExamineCommandSlow, WritesAReadableRecordSoundAndLabelsOfEverySite) {
  const TemporaryFolder folder;
  const Ran ran =
      run_phren({"examine", "lobar_pneumonia", "--out", folder.path(), "--seconds", "4"});
  ASSERT_EQ(ran.code, kOk) << ran.err;
  EXPECT_NE(ran.out.find("Training aid"), std::string::npos);
  const auto record = exam::examination_from_json(
      read_file(folder.path() / "examination.json").value(), "examination.json");
  ASSERT_TRUE(record) << record.error().message;
  ASSERT_EQ(record->sites.size(), 32u);
  for (const auto& site : record->sites) {
    const auto audio = signal::read_audio(folder.path() / site.audio_file);
    ASSERT_TRUE(audio) << audio.error().message;
    EXPECT_EQ(audio->sample_rate_hz, 8000.0);
    EXPECT_EQ(audio->samples.size(), 32000u);
    const auto labels =
        signal::parse_labels(read_file(folder.path() / "truth" / (site.site_id + ".txt")).value());
    ASSERT_TRUE(labels) << labels.error().message;
    for (const auto& label : *labels) {
      EXPECT_GE(label.start_s, 0.0);
      EXPECT_LE(label.end_s, 4.1);
    }
  }
}

// The models that measure lie elsewhere, and each thread has its own.
TEST(ExamineSlow, OpensEachDataFileAtMostOnce) {
  const OwnData data;
  OpenedFiles opened(data.folder());
  const Ran ran = run_phren({"examine", "asthma", "--seconds", "5"});
  ASSERT_EQ(ran.code, 0) << ran.err;
  const auto counts = opened.counts();
  EXPECT_GT(counts.size(), 40u);
  for (const auto& [file, count] : counts) EXPECT_EQ(count, 1) << file;
}

}  // namespace
}  // namespace phren::app
