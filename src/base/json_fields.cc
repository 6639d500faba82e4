#include "base/json_fields.h"

#include <algorithm>
#include <cmath>

namespace phren {
namespace {

using nlohmann::json;

// A value as it stands in the text, for an error message.
std::string shown(const json& value) {
  const std::string text = value.dump(-1, ' ', false, json::error_handler_t::replace);
  return text.size() > 60 ? text.substr(0, 57) + "..." : text;
}

}  // namespace

JsonFields::JsonFields(std::string name, const json& object, Unknown unknown, std::string place)
    : name_(std::move(name)), place_(std::move(place)), object_(object), unknown_(unknown) {
  if (object_.is_object()) return;
  const std::string here = place_.empty() ? (name_.empty() ? "the body" : "/") : place_of("");
  error_ = Error{ErrorCode::kMalformed, (name_.empty() ? "" : name_ + ": ") + here + " is " +
                                            shown(object_) + "; it must be an object"};
}

std::string JsonFields::place_of(std::string_view key) const {
  std::string place = place_ + (key.empty() ? "" : "/" + std::string(key));
  if (name_.empty() && place.starts_with('/')) place.erase(0, 1);
  return place;
}

void JsonFields::is_called(const std::string& name) {
  called_ = name;
}

void JsonFields::note(const Error& error) {
  if (error_) return;
  std::string where = name_.empty() ? "" : name_ + ": ";
  if (!called_.empty()) where += called_ + ": ";
  error_ = Error{error.code, where + error.message};
}

void JsonFields::wrong(std::string_view key, const json& seen, std::string_view allowed) {
  note(out_of_range(place_of(key), shown(seen), allowed));
}

Status JsonFields::done() const {
  if (error_ && !is_missing_) return fail(*error_);
  if (unknown_ == Unknown::kRefused && object_.is_object()) {
    for (const auto& [key, value] : object_.items()) {
      if (std::find(known_.begin(), known_.end(), key) != known_.end()) continue;
      return fail(ErrorCode::kInvalidArgument, (name_.empty() ? "" : name_ + ": ") + place_of(key) +
                                                   " is not a field here." +
                                                   did_you_mean(key, known_));
    }
  }
  if (error_) return fail(*error_);
  return {};
}

const json* JsonFields::find(std::string_view key, bool required) {
  known_.emplace_back(key);
  const auto found = object_.is_object() ? object_.find(std::string(key)) : object_.end();
  if (found != object_.end()) return &*found;
  if (required) {
    is_missing_ = is_missing_ || !error_;
    note({ErrorCode::kMalformed, place_of(key) + " is missing; it is required"});
  }
  return nullptr;
}

void JsonFields::text(std::string_view key, std::string& target, bool required,
                      std::size_t most_bytes) {
  const json* value = find(key, required);
  if (value == nullptr) return;
  const std::size_t size = value->is_string() ? value->get_ref<const std::string&>().size() : 0;
  if (!value->is_string() || (required && size == 0) || size > most_bytes) {
    std::string allowed = required ? "a text that is not empty" : "a text";
    if (most_bytes != kAnyLength) allowed += " of at most " + std::to_string(most_bytes) + " bytes";
    return wrong(key, *value, allowed);
  }
  target = value->get<std::string>();
}

void JsonFields::number(std::string_view key, double& target, double low, double high,
                        bool required) {
  const json* value = find(key, required);
  if (value == nullptr) return;
  const double seen = value->is_number() ? value->get<double>() : NAN;
  if (!(seen >= low && seen <= high)) return wrong(key, *value, between(low, high));
  target = seen;
}

void JsonFields::number(std::string_view key, std::optional<double>& target, double low,
                        double high) {
  const json* value = find(key);
  if (value == nullptr) return;
  if (value->is_null()) {
    target.reset();
    return;
  }
  double seen = 0.0;
  number(key, seen, low, high);
  target = seen;
}

void JsonFields::flag(std::string_view key, bool& target) {
  const json* value = find(key);
  if (value == nullptr) return;
  if (!value->is_boolean()) return wrong(key, *value, "true or false");
  target = value->get<bool>();
}

void JsonFields::texts(std::string_view key, std::vector<std::string>& target) {
  const json* list = find(key);
  if (list == nullptr) return;
  if (!list->is_array()) return wrong(key, *list, "a list of texts");
  target.clear();
  for (std::size_t i = 0; i < list->size(); ++i) {
    const json& item = (*list)[i];
    if (!item.is_string()) {
      return wrong(std::string(key) + "/" + std::to_string(i), item, "a text");
    }
    target.push_back(item.get<std::string>());
  }
}

void JsonFields::one_of(std::string_view key, std::string& target,
                        const std::vector<std::string_view>& allowed, bool required) {
  const json* value = find(key, required);
  if (value == nullptr) return;
  if (!value->is_string() || std::find(allowed.begin(), allowed.end(),
                                       value->get_ref<const std::string&>()) == allowed.end()) {
    return wrong(key, *value, listed(allowed));
  }
  target = value->get<std::string>();
}

void JsonFields::seed(std::string_view key, std::uint64_t& target) {
  const json* value = find(key);
  if (value == nullptr) return;
  constexpr double kExact = 9007199254740992.0;
  if (value->is_number_unsigned()) {
    target = value->get<std::uint64_t>();
  } else if (const double real = value->is_number_float() ? value->get<double>() : -1.0;
             real >= 0.0 && real <= kExact && real == std::floor(real)) {
    target = static_cast<std::uint64_t>(real);  // JSON knows no difference between 7 and 7.0
  } else {
    wrong(key, *value, "a whole number from 0 to 18446744073709551615");
  }
}

// The parser's "side is 'x'; it must be ..." with the place instead of its own name for the field.
Error JsonFields::placed(const std::string& key, const Error& error) const {
  const auto is = error.message.find(" is ");
  return {error.code, place_of(key) + (is == error.message.npos ? ": " + error.message
                                                                : error.message.substr(is))};
}

void JsonFields::word_text(std::string_view key, const std::string&, const Take& take,
                           bool required) {
  const json* value = find(key, required);
  if (value == nullptr) return;
  if (!value->is_string()) return wrong(key, *value, "a text");
  const Status taken = take(value->get_ref<const std::string&>());
  if (taken) return;
  note(placed(std::string(key), taken.error()));
}

void JsonFields::enter(const json& object, const std::string& place,
                       const std::function<void(Fields&)>& visit) {
  JsonFields inner(name_, object, Unknown::kRefused, place);
  if (object.is_object()) visit(inner);
  const Status ok = inner.done();
  if (!ok && !error_) error_ = ok.error();
}

void JsonFields::each_row(std::string_view key, std::size_t, bool required,
                          const std::function<void(Fields&, std::size_t)>& visit) {
  const json* list = find(key, required);
  if (list == nullptr) return;
  if (!list->is_array() || (required && list->empty())) {
    return wrong(key, *list, required ? "a list that is not empty" : "a list");
  }
  for (std::size_t i = 0; i < list->size() && !error_; ++i) {
    enter((*list)[i], place_ + "/" + std::string(key) + "/" + std::to_string(i),
          [&](Fields& row) { visit(row, i); });
  }
}

void JsonFields::one_table(std::string_view key, bool required,
                           const std::function<void(Fields&)>& visit) {
  const json* object = find(key, required);
  if (object != nullptr) enter(*object, place_ + "/" + std::string(key), visit);
}

void JsonWriter::number(std::string_view key, double& target, double, double, bool) {
  // Whole numbers as such: "4", not "4.0".
  constexpr double kExact = 9007199254740992.0;
  const bool is_whole = target == std::floor(target) && std::abs(target) <= kExact;
  if (is_whole && !(target == 0.0 && std::signbit(target))) {
    out[std::string(key)] = static_cast<std::int64_t>(target);
  } else {
    out[std::string(key)] = std::isfinite(target) ? json(target) : json();
  }
}

void JsonWriter::each_row(std::string_view key, std::size_t count, bool,
                          const std::function<void(Fields&, std::size_t)>& visit) {
  auto& list = out[std::string(key)] = nlohmann::ordered_json::array();
  for (std::size_t i = 0; i < count; ++i) {
    JsonWriter row;
    visit(row, i);
    list.push_back(std::move(row.out));
  }
}

void JsonWriter::one_table(std::string_view key, bool, const std::function<void(Fields&)>& visit) {
  JsonWriter inner;
  visit(inner);
  out[std::string(key)] = std::move(inner.out);
}

}  // namespace phren
