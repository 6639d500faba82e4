#include "bedside/deed_json.h"

#include <algorithm>

#include "bedside/deed_fields.h"
#include "bedside/log_text.h"
#include "bedside/words.h"

namespace phren::bedside {
namespace {

using Json = nlohmann::ordered_json;

// Reads the fields of one line and keeps the first thing wrong with them.
class Reader {
 public:
  explicit Reader(const Json& json) : json_(json) {}
  const std::optional<Error>& error() const { return error_; }

  void number(const char* key, double& value, double low, double high, Need need) {
    const Json* found = find(key, need);
    if (found == nullptr) return;
    if (!found->is_number() || !(*found >= low) || !(*found <= high)) {
      note(out_of_range(key, found->dump(),
                        "a number between " + Json(low).dump() + " and " + Json(high).dump()));
      return;
    }
    value = found->get<double>();
  }
  void number(const char* key, std::optional<double>& value, double low, double high) {
    if (json_.contains(key)) value.emplace();
    if (value) number(key, *value, low, high, Need::kMay);
    known_.emplace_back(key);
  }
  void text(const char* key, std::string& value, Need need, std::size_t longest) {
    const Json* found = find(key, need);
    if (found == nullptr) return;
    if (!is_text(*found, longest) || (need == Need::kMust && found->get<std::string>().empty())) {
      note(out_of_range(key, found->dump(), "text of 1 to " + std::to_string(longest) + " bytes"));
      return;
    }
    value = found->get<std::string>();
  }
  void texts(const char* key, std::vector<std::string>& list, Need need) {
    const Json* found = find(key, need);
    if (found == nullptr) return;
    const auto is_name = [](const Json& j) {
      return is_text(j, kIdBytes) && !j.get<std::string>().empty();
    };
    if (!found->is_array() || found->size() > kMostNames ||
        !std::all_of(found->begin(), found->end(), is_name)) {
      return note(out_of_range(key, found->dump(), "a list of at most 50 names"));
    }
    for (const Json& name : *found) list.push_back(name.get<std::string>());
  }
  template <class E>
  void word(const char* key, E& value, Need need) {
    std::string name;
    text(key, name, need, kIdBytes);
    if (name.empty()) return;
    const auto read = read_word<E>(key, name);
    if (read) value = *read;
    if (!read) note(read.error());
  }
  template <class E>
  void word(const char* key, std::optional<E>& value) {
    E read{};
    word(key, read, Need::kMay);
    if (json_.contains(key)) value = read;
  }
  void part(const char* key, std::optional<exam::Aspect>& value) {
    const auto found = json_.find(key);
    if (found != json_.end() && *found != "all") word(key, value);
    known_.emplace_back(key);
  }
  void vital(const char* key, std::string& value) {
    text(key, value, Need::kMust, kIdBytes);
    if (error_ || vital_kind(value) != nullptr) return;
    std::vector<std::string_view> known;
    for (const VitalKind& kind : kVitals) known.push_back(kind.id);
    note(out_of_range(
        key, "'" + value + "'",
        "a vital sign with its unit, such as spo2_percent." + did_you_mean(value, known)));
  }
  void whole(const char* key, int& value, int low, int high) {
    double read = value;
    number(key, read, low, high, Need::kMust);
    if (!error_ && read != static_cast<double>(static_cast<int>(read))) {
      note(out_of_range(key, read, "a whole number"));
    }
    if (!error_) value = static_cast<int>(read);
  }
  void nothing_else() {
    for (const auto& [key, value] : json_.items()) {
      if (key == "id" || key == "t" || key == "do") continue;
      if (std::find(known_.begin(), known_.end(), key) == known_.end()) {
        note({ErrorCode::kInvalidArgument,
              "field '" + key + "' is not known here." + did_you_mean(key, known_)});
      }
    }
  }

 private:
  static constexpr std::size_t kMostNames = 50;
  static bool is_text(const Json& json, std::size_t longest) {
    return json.is_string() && json.get_ref<const std::string&>().size() <= longest;
  }
  const Json* find(const char* key, Need need) {
    known_.emplace_back(key);
    const auto found = json_.find(key);
    if (found != json_.end()) return &*found;
    if (need == Need::kMust) note(out_of_range(key, "missing", "given"));
    return nullptr;
  }
  void note(Error error) {
    if (!error_) error_ = std::move(error);
  }

  const Json& json_;
  std::vector<std::string> known_;
  std::optional<Error> error_;
};

struct Writer {
  Json& json;

  void number(const char* key, double value, double, double, Need) { json[key] = value; }
  void whole(const char* key, int value, int, int) { json[key] = value; }
  void number(const char* key, const std::optional<double>& value, double, double) {
    if (value) json[key] = *value;
  }
  void text(const char* key, const std::string& value, Need need, std::size_t) {
    if (need == Need::kMust || !value.empty()) json[key] = value;
  }
  void texts(const char* key, const std::vector<std::string>& list, Need need) {
    if (need == Need::kMust || !list.empty()) json[key] = list;
  }
  template <class E>
  void word(const char* key, E value, Need) {
    json[key] = word_of(value);
  }
  void word(const char* key, exam::Side value, Need) {
    if (value != exam::Side::kMidline) json[key] = word_of(value);
  }
  template <class E>
  void word(const char* key, const std::optional<E>& value) {
    if (value) json[key] = word_of(*value);
  }
  void part(const char* key, const std::optional<exam::Aspect>& value) {
    json[key] = value ? word_of(*value) : std::string_view("all");
  }
  void vital(const char* key, const std::string& value) { json[key] = value; }
};

// The deed of the alternative with that number, as it stands before anything is read.
template <std::size_t I = 0>
Deed blank(std::size_t index) {
  if constexpr (I + 1 < std::variant_size_v<Deed>) {
    if (index != I) return blank<I + 1>(index);
  }
  return std::variant_alternative_t<I, Deed>{};
}

}  // namespace

std::string_view name_of(const Deed& deed) {
  return kDeedNames[deed.index()];
}

void write_deed(Deed deed, Json& json) {
  Writer writer{json};
  std::visit([&](auto& one) { fields(writer, one); }, deed);
}

Result<Deed> read_deed(const Json& json) {
  const auto found = json.find("do");
  const std::string name =
      found != json.end() && found->is_string() ? found->get<std::string>() : std::string();
  const auto known = std::find(kDeedNames.begin(), kDeedNames.end(), name);
  if (known == kDeedNames.end()) {
    return fail(ErrorCode::kInvalidArgument,
                "do is " + (found == json.end() ? "missing" : found->dump()) +
                    "; it must be an action of docs/formats/encounter.md." +
                    did_you_mean(name, kDeedNames));
  }
  Deed deed = blank(static_cast<std::size_t>(known - kDeedNames.begin()));
  Reader reader(json);
  std::visit([&](auto& one) { fields(reader, one); }, deed);
  reader.nothing_else();
  if (reader.error()) return fail(at(name, *reader.error()));
  return deed;
}

}  // namespace phren::bedside
