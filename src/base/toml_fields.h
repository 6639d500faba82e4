// Reads the fields of one TOML table and keeps the first thing that is wrong with them.
//
// Errors:  each names file, line, field, value and what is allowed; a field that nobody asked for
// is
//          an error with the nearest known name, so that a slip of the pen never goes unnoticed.
//          After the first error further reads change nothing: ask done() once at the end.
// Limits:  includes toml++, which is slow to compile: for .cc files only. Not in the browser
// engine.
#pragma once

#include <toml++/toml.h>

#include <concepts>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/fields.h"

namespace phren {

class TomlFields : public Fields {
 public:
  // `section` stands before field names in errors: "[person] ", or "" for the top of the file.
  TomlFields(std::string_view file_name, const toml::table& table, std::string section = "");

  // The first error; but an unknown field comes before a missing one, for it explains it.
  Status done() const;
  bool is_good() const { return !error_; }
  bool reads() const override { return true; }
  void is_called(const std::string& name) override { section_ = name + ": "; }

  void text(std::string_view key, std::string& target, bool required = false,
            std::size_t most_bytes = kAnyLength) override;
  void number(std::string_view key, double& target, double low, double high,
              bool required = false) override;
  void number(std::string_view key, std::optional<double>& target, double low,
              double high) override;
  void flag(std::string_view key, bool& target) override;
  void seed(std::string_view key, std::uint64_t& target) override;
  void texts(std::string_view key, std::vector<std::string>& target) override;
  void one_of(std::string_view key, std::string& target,
              const std::vector<std::string_view>& allowed, bool required = false) override;
  // A word that `parse` turns into a value, as exam::parse_side does.
  template <class E, class Parse>
  void word(std::string_view key, E& target, Parse parse, bool required = false) {
    const toml::node* node = find(key, required);
    if (node == nullptr) return;
    const auto* word = node->as_string();
    if (word == nullptr) return wrong_type(key, *node, "a word in quotes");
    const auto parsed = parse(std::string_view(word->get()));
    if (!parsed) return note(*node, parsed.error());
    target = *parsed;
  }
  // Calls read(TomlFields&) for the table [key] and takes over what is wrong in it.
  using Fields::rows, Fields::table;
  template <std::invocable<TomlFields&> Read>
  void table(std::string_view key, Read read, bool required = false) {
    const toml::node* node = find(key, required);
    if (node == nullptr) return;
    const auto* inner = node->as_table();
    const std::string title = "[" + std::string(key) + "]";
    if (inner == nullptr) return wrong_type(key, *node, "a table, " + title);
    take(*inner, title + " ", read);
  }
  // The same for every table of the list [[key]].
  template <std::invocable<TomlFields&> Read>
  void rows(std::string_view key, Read read, bool required = false) {
    const toml::node* node = find(key, required);
    if (node == nullptr) return;
    const std::string title = "[[" + std::string(key) + "]]";
    const auto* list = node->as_array();
    if (list == nullptr) return wrong_type(key, *node, "a list of tables, " + title);
    for (const auto& item : *list) {
      const auto* inner = item.as_table();
      if (inner == nullptr) return wrong_type(key, item, "a table, " + title);
      take(*inner, title + " ", read);
      if (error_) return;
    }
  }

  // Adds this row to `items`; two with one id are an error.
  template <class Item>
  void add(std::vector<Item>& items, Item item) {
    for (const Item& earlier : items) {
      if (earlier.id == item.id) {
        note({ErrorCode::kInvalidArgument, "id '" + item.id + "' is used twice"});
      }
    }
    items.push_back(std::move(item));
  }

  // nullptr if the field is not there, which is an error where it is required.
  const toml::node* find(std::string_view key, bool required = false);
  void wrong_type(std::string_view key, const toml::node& node, std::string_view allowed);
  void note(const toml::node& node, const Error& error);           // at the line of the node
  void note(const Error& error) override { note(table_, error); }  // at the line of the table

 protected:
  void word_text(std::string_view key, const std::string& now, const Take& take,
                 bool required) override;
  void each_row(std::string_view key, std::size_t count, bool required,
                const std::function<void(Fields&, std::size_t)>& visit) override;
  void one_table(std::string_view key, bool required,
                 const std::function<void(Fields&)>& visit) override;

 private:
  template <class Read>
  void take(const toml::table& inner, const std::string& section, Read read) {
    TomlFields fields(file_name_, inner, section_ + section);
    read(fields);
    const Status ok = fields.done();
    if (!ok && !error_) error_ = ok.error();
  }
  std::string place(const toml::node& node) const;
  std::string file_name_;
  const toml::table& table_;
  std::string section_;
  std::vector<std::string> known_;
  std::optional<Error> error_;
  bool is_missing_ = false;  // the first error is a missing field
};

// The document, or kMalformed naming file and line.
Result<toml::table> parse_toml(std::string_view text, std::string_view file_name);

// Parses the document and calls read(TomlFields&) for its top.
template <class Read>
Status read_toml(std::string_view text, std::string_view file_name, Read read) {
  const auto root = TRY(parse_toml(text, file_name));
  TomlFields top(file_name, root);
  read(top);
  return top.done();
}

}  // namespace phren
