#include "measurement/predictions.h"

#include <fstream>
#include <map>
#include <nlohmann/json.hpp>

#include "base/csv.h"
#include "base/json_text.h"
#include "measurement/names.h"

namespace phren::measurement {
namespace {

using nlohmann::json;
constexpr double kLatest_ms = 1e9;  // 11 days, longer than any recording
using ByName = std::map<std::string, ScoredRecording>;

Result<ByName> load_recordings(const std::filesystem::path& path) {
  const auto csv = TRY(CsvTable::load(path));
  TRY(csv.require({"recording", "record_label"}));
  ByName out;
  for (std::size_t row = 0; row < csv.num_rows(); ++row) {
    ScoredRecording r;
    r.recording = csv.text(row, "recording");
    // Without a patient column each file name starts with the patient.
    r.patient = csv.has("patient") ? csv.text(row, "patient")
                                   : r.recording.substr(0, r.recording.find('_'));
    r.truth = TRY(at(csv.place(row), parse_record_label(csv.text(row, "record_label"))));
    out[r.recording] = std::move(r);
  }
  return out;
}

Status load_events(const std::filesystem::path& path, ByName& recordings) {
  const auto csv = TRY(CsvTable::load(path));
  TRY(csv.require({"recording", "start_ms", "end_ms", "event_label"}));
  for (std::size_t row = 0; row < csv.num_rows(); ++row) {
    const auto found = recordings.find(csv.text(row, "recording"));
    if (found == recordings.end()) continue;  // events of recordings that are not to be scored
    const double start_ms = TRY(csv.needed_number(row, "start_ms", 0.0, kLatest_ms));
    const double end_ms = TRY(csv.needed_number(row, "end_ms", 0.0, kLatest_ms));
    const auto kind = TRY(at(csv.place(row), parse_event_label(csv.text(row, "event_label"))));
    found->second.true_events.push_back({start_ms / 1000.0, end_ms / 1000.0, kind});
  }
  return {};
}

Status read_event_list(const json& line, const char* key, std::vector<Span>& spans,
                       std::vector<double>* confidence) {
  for (const json& e : line.value(key, json::array())) {
    const auto label = TRY(parse_event_label(e.at("label").get<std::string>()));
    spans.push_back(
        {e.at("start_ms").get<double>() / 1000.0, e.at("end_ms").get<double>() / 1000.0, label});
    if (confidence != nullptr)
      confidence->push_back(e.at("probabilities").at(e.at("label").get<std::string>()));
  }
  return {};
}

// nlohmann's `at` throws on a missing field; the caller turns that into an error with the line.
Status read_line(const json& line, ByName& recordings, std::vector<std::string>& seen) {
  const std::string name = line.at("recording");
  const auto found = recordings.find(name);
  if (found == recordings.end()) return {};
  ScoredRecording& r = found->second;
  r.guess = TRY(parse_record_label(line.at("record").at("label").get<std::string>()));
  r.poor_probability = line.at("quality").at("poor_probability");
  TRY(read_event_list(line, "events", r.found_events, nullptr));
  TRY(read_event_list(line, "given_events", r.given_events, &r.given_confidence));
  if (r.given_events.size() != r.true_events.size())
    return fail(ErrorCode::kMalformed, name + " has " + std::to_string(r.given_events.size()) +
                                           " given events; the labels have " +
                                           std::to_string(r.true_events.size()) +
                                           " (measure with --events)");
  seen.push_back(name);
  return {};
}

}  // namespace

Result<std::vector<ScoredRecording>> load_predictions(const std::filesystem::path& predictions,
                                                      const std::filesystem::path& recordings_csv,
                                                      const std::filesystem::path& events_csv) {
  auto recordings = TRY(load_recordings(recordings_csv));
  TRY(load_events(events_csv, recordings));
  std::ifstream file(predictions);
  if (!file) return fail(ErrorCode::kNotFound, predictions.string() + ": no such file");
  std::vector<std::string> seen;
  std::string text;
  for (std::size_t number = 1; std::getline(file, text); ++number) {
    if (text.empty()) continue;
    const std::string where = predictions.string() + ": line " + std::to_string(number);
    if (is_deeper_json(text)) {
      return fail(ErrorCode::kMalformed, where + ": is nested too deeply for a measurement");
    }
    try {
      TRY(at(where, read_line(json::parse(text), recordings, seen)));
    } catch (const json::exception& error) {
      return fail(ErrorCode::kMalformed,
                  where + ": is not a line of phren measure --json: " + error.what());
    }
  }
  std::vector<ScoredRecording> out;
  for (const std::string& name : seen) out.push_back(std::move(recordings[name]));
  if (out.empty())
    return fail(ErrorCode::kMalformed, predictions.string() + ": has no recording that " +
                                           recordings_csv.string() + " names");
  if (out.size() < recordings.size())
    return fail(ErrorCode::kMalformed, predictions.string() + ": has " +
                                           std::to_string(out.size()) + " of the " +
                                           std::to_string(recordings.size()) + " recordings that " +
                                           recordings_csv.string() + " names");
  return out;
}

}  // namespace phren::measurement
