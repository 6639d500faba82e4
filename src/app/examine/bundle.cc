#include "app/examine/bundle.h"

#include <filesystem>

#include "app/examine/present.h"
#include "app/examine/report.h"
#include "base/files.h"
#include "exam/record.h"
#include "measurement/json.h"
#include "reasoning/json.h"
#include "signal/audio_file.h"
#include "signal/labels.h"

namespace phren::app {
namespace fs = std::filesystem;
namespace {

Status write_site(const ExaminedSite& site, const fs::path& folder) {
  const Status audio = signal::write_audio(folder / audio_file_of(site.site), site.recording.audio);
  if (!audio) return audio;
  return write_file(folder / "truth" / (site.site.id + ".txt"),
                    signal::format_labels(labels_of(site.recording.truth)));
}

}  // namespace

Status write_bundle(const Examined& examined, const reasoning::Knowledge& knowledge,
                    const fs::path& folder) {
  for (const char* part : {"audio", "truth"}) {
    if (const Status made = make_directories(folder / part); !made) return made;
  }
  std::string lines;
  for (const ExaminedSite& site : examined.sites) {
    if (const Status written = write_site(site, folder); !written) return written;
    lines += measurement::to_json(site.measured, audio_file_of(site.site)) + "\n";
  }
  const std::pair<const char*, std::string> texts[] = {
      {"examination.json", exam::to_json(examined.record)},
      {"impression.json", reasoning::to_json_text(examined.impression)},
      {"measured.jsonl", std::move(lines)},
      {"report.html", report_html(report_model(examined, knowledge.findings))}};
  for (const auto& [name, text] : texts) {
    if (const Status written = write_file(folder / name, text); !written) return written;
  }
  return {};
}

}  // namespace phren::app
