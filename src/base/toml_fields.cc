// toml++ is compiled here alone (cmake/phren.cmake).
#define TOML_IMPLEMENTATION
#include "base/toml_fields.h"

#include <algorithm>
#include <cmath>
#include <sstream>

#include "base/text.h"

namespace phren {
namespace {

// A node as it stands in a file, for an error message.
std::string shown(const toml::node& node) {
  if (const auto* real = node.as_floating_point()) return short_number(real->get());
  std::ostringstream out;
  node.visit([&](const auto& typed) { out << typed; });
  std::string text = out.str();
  std::replace(text.begin(), text.end(), '\n', ' ');
  return text.size() > 60 ? text.substr(0, 57) + "..." : text;
}

}  // namespace

TomlFields::TomlFields(std::string_view file_name, const toml::table& table, std::string section)
    : file_name_(file_name), table_(table), section_(std::move(section)) {}

std::string TomlFields::place(const toml::node& node) const {
  return file_name_ + ":" + std::to_string(node.source().begin.line) + ": " + section_;
}

void TomlFields::note(const toml::node& node, const Error& error) {
  if (!error_) error_ = Error{error.code, place(node) + error.message};
}

void TomlFields::wrong_type(std::string_view key, const toml::node& node,
                            std::string_view allowed) {
  note(node, out_of_range(key, std::string_view(shown(node)), allowed));
}

Status TomlFields::done() const {
  if (error_ && !is_missing_) return fail(*error_);
  const toml::node* first = nullptr;
  std::string_view name;
  for (const auto& [key, node] : table_) {  // the table is sorted by name, not by line
    if (std::find(known_.begin(), known_.end(), key.str()) != known_.end()) continue;
    if (first == nullptr || node.source().begin.line < first->source().begin.line) {
      first = &node;
      name = key.str();
    }
  }
  if (first != nullptr) {
    return fail(ErrorCode::kInvalidArgument, place(*first) + "'" + std::string(name) +
                                                 "' is not a field here." +
                                                 did_you_mean(name, known_));
  }
  if (error_) return fail(*error_);
  return {};
}

const toml::node* TomlFields::find(std::string_view key, bool required) {
  known_.emplace_back(key);
  const toml::node* node = table_.get(key);
  if (node == nullptr && required) {
    is_missing_ = is_missing_ || !error_;
    note({ErrorCode::kMalformed, std::string(key) + " is missing; it is required"});
  }
  return node;
}

void TomlFields::text(std::string_view key, std::string& target, bool required,
                      std::size_t most_bytes) {
  const toml::node* node = find(key, required);
  if (node == nullptr) return;
  const auto* value = node->as_string();
  if (value != nullptr && value->get().size() > most_bytes) {
    return wrong_type(key, *node, "a text of at most " + std::to_string(most_bytes) + " bytes");
  }
  if (value == nullptr || (required && value->get().empty())) {
    return wrong_type(key, *node, "a text in quotes that is not empty");
  }
  target = value->get();
}

void TomlFields::number(std::string_view key, double& target, double low, double high,
                        bool required) {
  const toml::node* node = find(key, required);
  if (node == nullptr) return;
  const double value = node->is_number() ? node->value<double>().value_or(NAN) : NAN;
  if (!(value >= low && value <= high)) {
    return wrong_type(key, *node, between(low, high));
  }
  target = value;
}

void TomlFields::number(std::string_view key, std::optional<double>& target, double low,
                        double high) {
  double value = 0.0;
  number(key, value, low, high);
  if (table_.contains(key)) target = value;
}

void TomlFields::flag(std::string_view key, bool& target) {
  const toml::node* node = find(key);
  if (node == nullptr) return;
  const auto* value = node->as_boolean();
  if (value == nullptr) return wrong_type(key, *node, "true or false");
  target = value->get();
}

void TomlFields::seed(std::string_view key, std::uint64_t& target) {
  const toml::node* node = find(key);
  if (node == nullptr) return;
  const auto* value = node->as_integer();
  if (value == nullptr || value->get() < 0) {
    return wrong_type(key, *node, "a whole number from 0 to 9223372036854775807");
  }
  target = static_cast<std::uint64_t>(value->get());
}

void TomlFields::texts(std::string_view key, std::vector<std::string>& target) {
  const toml::node* node = find(key);
  if (node == nullptr) return;
  const auto* list = node->as_array();
  if (list == nullptr) return wrong_type(key, *node, "a list of texts in quotes");
  for (const auto& item : *list) {
    const auto* value = item.as_string();
    if (value == nullptr) return wrong_type(key, item, "a text in quotes");
    target.push_back(value->get());
  }
}

void TomlFields::one_of(std::string_view key, std::string& target,
                        const std::vector<std::string_view>& allowed, bool required) {
  word(
      key, target,
      [&](std::string_view text) -> Result<std::string> {
        if (std::find(allowed.begin(), allowed.end(), text) != allowed.end()) {
          return std::string(text);
        }
        return fail(out_of_range(key, "'" + std::string(text) + "'", listed(allowed)));
      },
      required);
}

void TomlFields::word_text(std::string_view key, const std::string&, const Take& take,
                           bool required) {
  const toml::node* node = find(key, required);
  if (node == nullptr) return;
  const auto* word = node->as_string();
  if (word == nullptr) return wrong_type(key, *node, "a word in quotes");
  const Status taken = take(word->get());
  if (!taken) note(*node, taken.error());
}

void TomlFields::each_row(std::string_view key, std::size_t, bool required,
                          const std::function<void(Fields&, std::size_t)>& visit) {
  std::size_t i = 0;
  if (key.ends_with('s')) key.remove_suffix(1);
  rows(key, [&](TomlFields& row) { visit(row, i++); }, required);
}

void TomlFields::one_table(std::string_view key, bool required,
                           const std::function<void(Fields&)>& visit) {
  table(key, [&](TomlFields& inner) { visit(inner); }, required);
}

namespace {

// Dots and opening brackets in one line and brackets left open: how deep the parser will have to go,
// at most. No data file of ours comes near it; the parser itself goes as deep as the stack allows.
constexpr int kDeepestToml = 1000;

bool is_too_deep(std::string_view text) {
  int dots = 0, open = 0;
  for (const char c : text) {
    if (c == '\n') dots = 0;
    if (c == '.') ++dots;
    if (c == '[' || c == '{') ++open;
    if ((c == ']' || c == '}') && open > 0) --open;
    if (dots > kDeepestToml || open > kDeepestToml) return true;
  }
  return false;
}

}  // namespace

Result<toml::table> parse_toml(std::string_view text, std::string_view file_name) {
  if (is_too_deep(text)) {
    return fail(ErrorCode::kMalformed,
                std::string(file_name) + ": more than 1000 dots in a line or brackets in brackets");
  }
  try {
    return toml::parse(text, std::string(file_name));
  } catch (const toml::parse_error& error) {
    return fail(ErrorCode::kMalformed, std::string(file_name) + ":" +
                                           std::to_string(error.source().begin.line) + ": " +
                                           std::string(error.description()));
  }
}

}  // namespace phren
