// Reads the fields of one TOML table and keeps the first thing that is wrong with them.
//
// Errors:  each names file, line, field, value and what is allowed; unknown fields are errors with
// the
//          nearest known name, so that a slip of the pen never goes unnoticed. After the first
//          error further reads change nothing: check error() once at the end.
// Limits:  includes toml++, which is slow to compile: for .cc files only.
#pragma once

#include <toml++/toml.h>

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.h"

namespace phren::teaching {

class TomlFields {
 public:
  // `section` stands before field names in errors: "[person] ", or "" for the top of the file.
  TomlFields(std::string file_name, const toml::table& table, std::string section);

  const std::optional<Error>& error() const { return error_; }
  // kInvalidArgument at the line of the first field that is not in `known`.
  void only(const std::vector<std::string_view>& known);

  void text(std::string_view key, std::string& target, bool required = false);
  void number(std::string_view key, double& target, double low, double high, bool required = false);
  void texts(std::string_view key, std::vector<std::string>& target);
  // A word that `parse` turns into a value, as exam::parse_side does.
  template <class E, class Parse>
  void word(std::string_view key, E& target, Parse parse) {
    const toml::node* node = find(key, false);
    if (node == nullptr) return;
    const auto* word = node->as_string();
    if (word == nullptr) return wrong_type(key, *node, "a word in quotes");
    const auto parsed = parse(std::string_view(word->get()));
    if (!parsed) return note(*node, parsed.error());
    target = *parsed;
  }
  // One of `allowed`.
  void one_of(std::string_view key, std::string& target,
              const std::vector<std::string_view>& allowed);
  const toml::node* find(std::string_view key, bool required);
  void wrong_type(std::string_view key, const toml::node& node, std::string_view allowed);
  void note(const toml::node& node, const Error& error);  // at the line of the node

 private:
  std::string place(const toml::node& node) const;
  std::string file_name_;
  const toml::table& table_;
  std::string section_;
  std::optional<Error> error_;
};

// The document, or kMalformed naming file and line.
Result<toml::table> parse_toml(std::string_view text, std::string_view file_name);

}  // namespace phren::teaching
