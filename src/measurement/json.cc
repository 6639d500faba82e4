#include "measurement/json.h"

#include <array>
#include <charconv>
#include <cmath>
#include <ostream>
#include <sstream>

#include "exam/names.h"
#include "measurement/evidence.h"
#include "measurement/features.h"
#include "measurement/names.h"
#include "measurement/transients.h"

namespace phren::measurement {
namespace {

// Writes JSON front to back. An hour holds thousands of events of a hundred numbers each, so this
// appends to one string rather than build a tree.
class Json {
 public:
  Json& open(char bracket) {
    separate();
    out_ += bracket;
    is_first_ = true;
    return *this;
  }
  Json& close(char bracket) {
    out_ += bracket;
    is_first_ = false;
    return *this;
  }
  Json& key(std::string_view name) {
    separate();
    quote(name);
    out_ += ": ";
    is_first_ = true;
    return *this;
  }
  Json& text(std::string_view value) {
    separate();
    quote(value);
    return *this;
  }
  Json& yes(bool value) {
    separate();
    out_ += value ? "true" : "false";
    return *this;
  }
  Json& null() {
    separate();
    out_ += "null";
    return *this;
  }
  Json& number(double value, int decimals) {
    if (!std::isfinite(value)) return null();
    separate();
    char buffer[48];
    if (std::fabs(value) >= 1e15) value = std::copysign(1e15, value);
    auto [end, error] =
        std::to_chars(buffer, buffer + sizeof buffer, value, std::chars_format::fixed, decimals);
    if (decimals > 0) {  // 1.500 -> 1.5
      while (*(end - 1) == '0') --end;
      if (*(end - 1) == '.') --end;
    }
    out_.append(buffer, error == std::errc() ? end : buffer);
    return *this;
  }
  std::string take() { return std::move(out_); }

 private:
  void separate() {
    if (!is_first_) out_ += ", ";
    is_first_ = false;
  }
  void quote(std::string_view value) {
    out_ += '"';
    for (const char c : value) {
      if (c == '"' || c == '\\') {
        (out_ += '\\') += c;
      } else if (static_cast<unsigned char>(c) < 0x20) {
        constexpr const char* kHex = "0123456789abcdef";
        const auto code = static_cast<unsigned char>(c);
        (((out_ += "\\u00") += kHex[code >> 4])) += kHex[code & 15];
      } else {
        out_ += c;
      }
    }
    out_ += '"';
  }

  std::string out_;
  bool is_first_ = true;
};

void write_optional(Json& json, std::string_view key, const std::optional<double>& value,
                    int decimals) {
  json.key(key);
  value ? json.number(*value, decimals) : json.null();
}

template <class Label, class Probabilities>
void write_probabilities(Json& json, const Probabilities& probabilities) {
  json.key("probabilities").open('{');
  for (std::size_t i = 0; i < probabilities.size(); ++i)
    json.key(to_string(static_cast<Label>(i))).number(probabilities[i], 5);
  json.close('}');
}

void write_quality(Json& json, const Quality& quality) {
  json.key("quality").open('{');
  json.key("usable").yes(quality.is_usable);
  json.key("poor_probability").number(quality.poor_probability, 4);
  json.key("reasons").open('[');
  for (const QualityReason reason : quality.reasons) json.text(to_string(reason));
  json.close(']').close('}');
}

void write_breath(Json& json, const RecordingMeasurement& m) {
  const Breathing& b = m.breathing;
  json.key("breath").open('{');
  write_optional(json, "rate_per_min", b.rate_per_min, 1);
  write_optional(json, "expiration_to_inspiration", b.expiration_to_inspiration, 2);
  json.key("confidence").number(b.confidence, 3);
  json.key("phase_confidence").number(b.phase_confidence, 3);
  json.key("level_dbfs").number(b.level_db, 1);
  json.key("phases").open('[');
  for (const BreathPhase& p : b.phases) {
    json.open('{').key("phase").text(exam::to_string(p.phase));
    json.key("start_ms").number(1000.0 * p.start_s, 0);
    json.key("end_ms").number(1000.0 * p.end_s, 0);
    json.key("level_db").number(p.level_db, 1).close('}');
  }
  json.close(']').key("bands").open('[');
  for (std::size_t i = 0; i < kNumBands; ++i) {
    json.open('{').key("low_hz").number(kBandEdges_hz[i], 0);
    json.key("high_hz").number(kBandEdges_hz[i + 1], 0);
    json.key("inspiration_db").number(b.bands[i].inspiration_db, 1);
    json.key("inspiration_se_db").number(b.bands[i].inspiration_se_db, 1);
    json.key("expiration_db").number(b.bands[i].expiration_db, 1);
    json.key("expiration_se_db").number(b.bands[i].expiration_se_db, 1).close('}');
  }
  json.close(']').close('}');
}

void write_event(Json& json, const Event& e) {
  json.open('{');
  json.key("start_ms").number(1000.0 * e.start_s, 0);
  json.key("end_ms").number(1000.0 * e.end_s, 0);
  json.key("label").text(to_string(e.label));
  write_probabilities<EventLabel>(json, e.probabilities);
  write_optional(json, "wheeze_hz", e.wheeze_hz, 0);
  json.key("tonal_share").number(e.tonal_share, 3);
  json.key("crackles").number(e.num_crackles, 0);
  json.key("crackle_2cd_ms").number(e.crackle_two_cycle_ms, 1);
  json.key("top_continuous").number(e.evidence[6], 4);
  json.key("features").open('{');
  for (std::size_t i = 0; i < kNumFeatures; ++i)
    json.key(feature_names()[i]).number(static_cast<double>(e.features[i]), 4);
  json.close('}').key("because").open('[');
  for (const Reason& reason : e.because) {
    json.open('{').key("feature").text(feature_names()[reason.feature_index]);
    json.key("words").text(feature_in_words(reason.feature_index));
    json.key("value").number(static_cast<double>(e.features[reason.feature_index]), 4);
    json.key("push").number(reason.push, 3).close('}');
  }
  json.close(']').close('}');
}

void write_track(Json& json, const TonalTrack& t) {
  json.open('{').key("start_ms").number(1000.0 * t.start_s, 0);
  json.key("end_ms").number(1000.0 * t.end_s, 0);
  json.key("hz").number(t.mean_hz, 1);
  json.key("prominence_db").number(t.prominence_db, 1).close('}');
}

void write_crackle(Json& json, const Crackle& c) {
  json.open('{').key("at_ms").number(1000.0 * c.at_s, 1);
  json.key("idw_ms").number(c.initial_deflection_ms, 2);
  json.key("2cd_ms").number(c.two_cycle_ms, 2);
  json.key("ldw_ms").number(c.largest_deflection_ms, 2);
  json.key("height_db").number(c.height_db, 1).close('}');
}

void write_verdict(Json& json, const Verdict& verdict) {
  json.key("verdict").open('{');
  json.key("can_tell").yes(verdict.doubt == Doubt::kNone);
  json.key("why_not").text(to_string(verdict.doubt));
  json.key("set").open('[');
  for (const RecordLabel label : verdict.set) json.text(to_string(label));
  json.close(']').close('}');
}

// What the judges of adults' recordings went by.
void write_evidence(Json& json, const RecordingMeasurement& m) {
  json.key("evidence").open('{');
  for (std::size_t i = 0; i < kNumRecordEvidence; ++i)
    json.key(record_evidence_names()[i]).number(m.evidence[i], 4);
  json.key("clip_on").number(m.clip_on, 4);
  json.key("floor_db").open('[');
  for (const double v : m.floor) json.number(v, 2);
  json.close(']').close('}');
}

// What comes before the lists; the brace is left open.
std::string head_of(const RecordingMeasurement& m, std::string_view recording) {
  Json json;
  json.open('{');
  json.key("recording").text(recording);
  json.key("duration_s").number(m.duration_s, 3);
  json.key("sample_rate_hz").number(m.sample_rate_hz, 0);
  json.key("record").open('{').key("label").text(to_string(m.label));
  write_probabilities<RecordLabel>(json, m.probabilities);
  json.close('}');
  write_verdict(json, m.verdict);
  json.key("kind").open('{');
  constexpr std::array<std::string_view, kNumRecordingKinds> kKinds{
      "children's sensor", "electronic stethoscope", "other"};
  for (std::size_t k = 0; k < kNumRecordingKinds; ++k) json.key(kKinds[k]).number(m.kind[k], 4);
  json.close('}');
  json.key("is_familiar").yes(m.is_familiar);
  write_evidence(json, m);
  write_quality(json, m.quality);
  json.key("rms_dbfs").number(m.rms_dbfs, 1);
  json.key("has_metadata_text").yes(m.has_metadata_text);
  write_breath(json, m);
  json.key("crackle_high_pass_hz").number(kCrackleHighPass_hz, 0);
  return json.take();
}

template <class Write, class Item>
void append(Spool& spool, bool& has_any, Write write, const Item& item) {
  Json json;
  write(json, item);
  spool.append((has_any ? ", " : "") + json.take());
  has_any = true;
}

}  // namespace

void Spool::append(const std::string& text) {
  constexpr std::size_t kMost = 128u << 10;
  recent_ += text;
  if (recent_.size() < kMost) return;
#ifndef __wasi__  // a page has no files
  if (!file_) file_.reset(std::tmpfile());
#endif
  // Without a temporary file the text stays in memory: slower on long recordings, never lost.
  if (file_ && std::fwrite(recent_.data(), 1, recent_.size(), file_.get()) == recent_.size())
    recent_.clear();
}

void Spool::copy_to(std::ostream& out) {
  if (file_) {
    std::rewind(file_.get());
    std::array<char, 65536> block;
    for (std::size_t got = 1; got > 0;) {
      got = std::fread(block.data(), 1, block.size(), file_.get());
      out.write(block.data(), static_cast<std::streamsize>(got));
    }
  }
  out << recent_;
}

void JsonRecording::take(const Event& event) {
  append(events_, has_events_, write_event, event);
}
void JsonRecording::take(const TonalTrack& track) {
  append(tracks_, has_tracks_, write_track, track);
}
void JsonRecording::take(const Crackle& crackle) {
  append(crackles_, has_crackles_, write_crackle, crackle);
}

void JsonRecording::write(const RecordingMeasurement& m, std::string_view recording,
                          std::ostream& out) {
  for (const Event& event : m.events) take(event);
  for (const TonalTrack& track : m.tracks) take(track);
  for (const Crackle& crackle : m.crackles) take(crackle);
  out << head_of(m, recording) << ", \"tones\": [";
  tracks_.copy_to(out);
  out << "], \"crackles\": [";
  crackles_.copy_to(out);
  out << "], \"events\": [";
  events_.copy_to(out);
  out << "], \"given_events\": [";
  bool is_first = true;
  for (const Event& event : m.given_events) {
    Json json;
    write_event(json, event);
    out << (is_first ? "" : ", ") << json.take();
    is_first = false;
  }
  out << "]}";
}

std::string to_json(const RecordingMeasurement& measurement, std::string_view recording) {
  std::ostringstream out;
  JsonRecording().write(measurement, recording, out);
  return out.str();
}

}  // namespace phren::measurement
