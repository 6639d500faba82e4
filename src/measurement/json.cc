#include "measurement/json.h"

#include <charconv>
#include <cmath>

#include "exam/names.h"
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

}  // namespace

std::string to_json(const RecordingMeasurement& m, std::string_view recording) {
  Json json;
  json.open('{');
  json.key("recording").text(recording);
  json.key("duration_s").number(m.duration_s, 3);
  json.key("sample_rate_hz").number(m.sample_rate_hz, 0);
  json.key("record").open('{').key("label").text(to_string(m.label));
  write_probabilities<RecordLabel>(json, m.probabilities);
  json.close('}');
  write_quality(json, m.quality);
  json.key("rms_dbfs").number(m.rms_dbfs, 1);
  json.key("has_metadata_text").yes(m.has_metadata_text);
  write_breath(json, m);
  json.key("tones").open('[');
  for (const TonalTrack& t : m.tracks) {
    json.open('{').key("start_ms").number(1000.0 * t.start_s, 0);
    json.key("end_ms").number(1000.0 * t.end_s, 0);
    json.key("hz").number(t.mean_hz, 1);
    json.key("prominence_db").number(t.prominence_db, 1).close('}');
  }
  json.close(']');
  json.key("crackle_high_pass_hz").number(kCrackleHighPass_hz, 0);
  json.key("crackles").open('[');
  for (const Crackle& c : m.crackles) {
    json.open('{').key("at_ms").number(1000.0 * c.at_s, 1);
    json.key("idw_ms").number(c.initial_deflection_ms, 2);
    json.key("2cd_ms").number(c.two_cycle_ms, 2);
    json.key("ldw_ms").number(c.largest_deflection_ms, 2);
    json.key("height_db").number(c.height_db, 1).close('}');
  }
  json.close(']');
  for (const auto& [name, events] :
       {std::pair{"events", &m.events}, std::pair{"given_events", &m.given_events}}) {
    json.key(name).open('[');
    for (const Event& e : *events) write_event(json, e);
    json.close(']');
  }
  return json.close('}').take();
}

}  // namespace phren::measurement
