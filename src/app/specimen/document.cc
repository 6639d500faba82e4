// docs/sounds.md: each kind of sound, its picture, its reason and its source.
#include <algorithm>
#include <cstdio>
#include <map>

#include "app/examine/spectrogram.h"
#include "app/specimen/specimen.h"
#include "base/files.h"
#include "exam/names.h"
#include "exam/sites.h"

namespace phren::app {
namespace {

constexpr double kPictureRate_hz = 4000.0;
constexpr double kQuietest_db = -72.0;

std::string number(double value, const char* format) {
  std::array<char, 32> text{};
  std::snprintf(text.data(), text.size(), format, value);
  return text.data();
}

// "wheeze in expiration: 6 times, 402-455 Hz, up to 18 dB above the background"
std::vector<std::string> truth_lines(const std::vector<acoustics::TruthEvent>& truth) {
  struct Sum {
    std::size_t count = 0;
    double low_hz = 1e9, high_hz = 0.0, best_db = -100.0, wide_ms = 0.0;
  };
  std::map<std::pair<exam::Sound, exam::Phase>, Sum> sums;
  for (const auto& e : truth) {
    if (!e.audible) continue;
    Sum& s = sums[{e.sound, e.phase}];
    ++s.count;
    s.best_db = std::max(s.best_db, e.level_above_background_db);
    s.wide_ms += e.two_cycle_ms;
    if (e.pitch_hz > 0.0) {
      s.low_hz = std::min(s.low_hz, e.pitch_hz);
      s.high_hz = std::max(s.high_hz, e.pitch_hz);
    }
  }
  std::vector<std::string> lines;
  for (const auto& [key, s] : sums) {
    std::string line = std::string(exam::label_of(key.first)) + ", " +
                       std::string(exam::to_string(key.second)) + ": " + std::to_string(s.count);
    if (s.high_hz > 0.0) {
      line += ", " + number(s.low_hz, "%.0f") + "-" + number(s.high_hz, "%.0f") + " Hz";
    }
    if (s.wide_ms > 0.0) {
      line += ", mean 2CD " + number(s.wide_ms / static_cast<double>(s.count), "%.1f") + " ms";
    }
    lines.push_back(line + ", up to " + number(s.best_db, "%.0f") + " dB above what hides it");
  }
  if (lines.empty()) lines.push_back("nothing that could be heard");
  return lines;
}

std::string chapter(const Specimen& s, const exam::Site& site, const SpecimenSound& sound) {
  std::string text = "## " + s.name + "\n\n";
  text += "![Spectrogram: " + s.name + "](sounds/" + s.id + ".png)\n\n";
  text += "- **Why it sounds**: " + s.mechanism + "\n";
  text += "- **How to know it**: " + s.listen + "\n";
  text += "- **This specimen**: `phren specimen " + s.id + "`, " + s.setup.conditions[0].id +
          " at severity " + number(s.setup.conditions[0].severity, "%.2f") + ", " + site.name +
          " (" + site.id + "), " + number(s.seconds, "%.0f") + " s\n";
  text += "- **In it**: ";
  const auto lines = truth_lines(sound.truth);
  for (std::size_t i = 0; i < lines.size(); ++i) text += (i == 0 ? "" : "; ") + lines[i];
  text += "\n- **Source**: " + s.source + " (" + s.status + ")\n\n";
  return text;
}

}  // namespace

Status write_sounds_document(const Specimens& specimens, const std::filesystem::path& data,
                             const std::filesystem::path& directory) {
  TRY(make_directories(directory / "sounds"));
  const auto sites = TRY(exam::SiteMap::load(data / "sites.toml"));
  std::string text =
      "# The sounds\n\n"
      "Each sound below is made by a body that has a reason to sound so: nothing here is a clip.\n"
      "Pictures run from 0 to 2000 Hz upwards, time to the right; 50 dB of\n"
      "loudness from white to ink, each to its own loudest part unless that is very quiet.\n"
      "This page and its pictures are written by `phren specimen document`; what each\n"
      "specimen holds is read from its own truth. What the sounds are checked against:\n"
      "[validation/acoustics.md](validation/acoustics.md).\n\n"
      "A training aid: not a medical device, not for diagnosing anyone. Start listening "
      "quietly.\n\n";
  for (const Specimen& s : specimens.all()) {
    const auto sound = TRY(make_specimen(s, kSpecimenSeed, kPictureRate_hz, data));
    const auto site = TRY(sites.find(s.site_id));
    SpectrogramScale scale;
    const auto grid = spectrogram_grid(sound.audio, scale.max_hz);
    scale.top_db = upper_level_db(grid, 0.002);
    if (scale.top_db < kQuietest_db) scale.top_db = kQuietest_db;  // quiet must look quiet
    if (auto written =
            write_file(directory / "sounds" / (s.id + ".png"), spectrogram_png(grid, scale));
        !written) {
      return written;
    }
    text += chapter(s, site, sound);
  }
  return write_file(directory / "sounds.md", text);
}

}  // namespace phren::app
