#include "app/picture/recording_picture.h"

#include <cmath>
#include <cstdio>

#include "app/picture/page.h"
#include "base/files.h"
#include "measurement/names.h"

namespace phren::app {
namespace {

constexpr std::size_t kRows = 160, kColumns = 990;

std::string formatted(const char* format, double a, double b) {
  char text[96];
  std::snprintf(text, sizeof text, format, a, b);
  return text;
}

std::string title_of(const measurement::RecordingMeasurement& m, const std::string& name,
                     std::size_t page, std::size_t num_pages) {
  std::string out = name + ": " + std::string(measurement::to_string(m.label)) +
                    formatted(" (%.2f)", m.probabilities[static_cast<std::size_t>(m.label)], 0.0);
  if (num_pages > 1)
    out += ", page " + std::to_string(page + 1) + " of " + std::to_string(num_pages);
  return out;
}

std::string subtitle_of(const measurement::RecordingMeasurement& m) {
  std::string out = m.breathing.rate_per_min
                        ? formatted("%.0f breaths a minute", *m.breathing.rate_per_min, 0.0)
                        : "breathing rate not told";
  out += m.quality.is_usable ? "; quality: usable" : "; quality: not good enough";
  for (std::size_t i = 0; i < m.quality.reasons.size(); ++i)
    out += (i == 0 ? " (" : ", ") + std::string(measurement::to_string(m.quality.reasons[i]));
  return out + (m.quality.reasons.empty() ? "" : ")");
}

// Exactly `wanted` samples, or fewer at the end.
Result<std::vector<float>> read_page(signal::AudioReader& reader, std::size_t wanted) {
  std::vector<float> samples(wanted);
  std::size_t got = 0;
  while (got < wanted) {
    const auto more = TRY(reader.read({samples.data() + got, wanted - got}));
    if (more == 0) break;
    got += more;
  }
  samples.resize(got);
  return samples;
}

}  // namespace

void PictureMarks::take(const measurement::Event& e) {
  EventMark mark{e.start_s, e.end_s, e.label == measurement::EventLabel::kNormal, "", ""};
  mark.label = std::string(measurement::to_string(e.label)) +
               formatted(" %.2f", e.probabilities[static_cast<std::size_t>(e.label)], 0.0);
  if (e.wheeze_hz)
    mark.evidence = formatted("%.0f Hz, %.0f %%", *e.wheeze_hz, 100.0 * e.tonal_share);
  if (e.num_crackles > 0)
    mark.evidence += (mark.evidence.empty() ? "" : "; ") +
                     formatted("%.0f crackles, %.0f ms", e.num_crackles, e.crackle_two_cycle_ms);
  events.push_back(std::move(mark));
}

Status write_pictures(const std::filesystem::path& folder, const std::filesystem::path& recording,
                      const measurement::RecordingMeasurement& m, const PictureMarks& marks) {
  auto reader = TRY(signal::AudioReader::open(recording));
  TRY(make_directories(folder));
  const double rate_hz = reader.info().sample_rate_hz;
  const auto per_page = static_cast<std::size_t>(std::lround(kPage_s * rate_hz));
  const auto num_pages =
      static_cast<std::size_t>(std::ceil(std::max(m.duration_s, 0.1) / kPage_s - 1e-9));
  const std::string name = recording.stem().string();
  double top_db = -200.0;  // of the first page: all pages are shaded alike
  for (std::size_t number = 0; number < num_pages; ++number) {
    auto samples = TRY(read_page(reader, per_page));
    if (samples.empty()) break;
    PicturePage page;
    page.title = title_of(m, name, number, num_pages);
    page.subtitle = subtitle_of(m);
    page.start_s = static_cast<double>(number) * kPage_s;
    page.length_s = static_cast<double>(samples.size()) / rate_hz;
    page.scale.max_hz = measurement::kHighest_hz;
    page.grid = spectrogram_grid({rate_hz, std::move(samples)}, page.scale.max_hz, kRows, kColumns);
    if (number == 0) top_db = upper_level_db(page.grid, 0.003);
    page.scale.top_db = top_db;
    page.measurement = &m;
    page.marks = &marks;
    const PictureFiles files = draw_page(page);
    const std::string stem = number == 0 ? name : name + "-" + std::to_string(number + 1);
    TRY(write_file(folder / (stem + ".png"), files.png));
    TRY(write_file(folder / (stem + ".svg"), files.svg));
  }
  return {};
}

}  // namespace phren::app
