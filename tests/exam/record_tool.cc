// Helper of schema_test.py: `sample` prints a record that uses every field; `read` reads one JSON
// document a line and prints "ok" or the error of examination_from_json, one line each.
#include <iostream>
#include <string>

#include "exam/record.h"

using namespace phren::exam;

namespace {

Examination sample() {
  Examination exam;
  exam.case_id = "sample";
  exam.seed = 18446744073709551615ull;
  exam.sex = "female";
  exam.setting = "clinic";
  exam.vital_signs = {24.5, 91.0, 33.0, 118.0, 142.0, 85.0, 37.4};
  exam.sites.push_back({"F5", "audio/F5.wav", -31.25, {}, {"first", "second"}});
  for (int i = 0; i <= static_cast<int>(Sound::kVoice); ++i) {
    exam.sites[0].sounds.push_back(static_cast<Sound>(i));
  }
  for (int i = 0; i <= static_cast<int>(Basis::kMonitored); ++i) {
    Finding finding;
    finding.id = "wheeze";
    finding.presence = static_cast<Presence>(i % 3);
    finding.basis = static_cast<Basis>(i);
    finding.side = static_cast<Side>(i % 3);
    finding.site_ids = {"F5", "F6"};
    if (i > 0) finding.phase = static_cast<Phase>(i % 3);
    finding.confidence = 0.75;
    finding.note = "wheeze 412 Hz";
    exam.findings.push_back(finding);
  }
  return exam;
}

}  // namespace

int main(int argc, char** argv) {
  if (argc == 2 && std::string(argv[1]) == "sample") {
    std::cout << to_json(sample());
    return 0;
  }
  for (std::string line; std::getline(std::cin, line);) {
    const auto exam = examination_from_json(line, "line");
    std::cout << (exam ? std::string("ok") : exam.error().message) << '\n';
  }
}
