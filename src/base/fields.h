// The fields of one record, told once: describe(fields, record) names every field with its range,
// and the same description reads TOML (toml_fields.h) and JSON and writes JSON (json_fields.h).
//
// Errors:  reading keeps the first thing that is wrong, with its place, and goes on; the record is
//          good only if done() of the reader says so. Writing has none.
// Use:     void describe(Fields& f, Item& item) {
//            f.text("id", item.id, true);
//            f.number("points", item.points, 0.0, 100.0);
//          }
//          What holds between fields is checked under `if (f.reads())` and noted.
#pragma once

#include <cmath>
#include <cstddef>
#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.h"

namespace phren {

class Fields {
 public:
  static constexpr std::size_t kAnyLength = static_cast<std::size_t>(-1);

  virtual ~Fields() = default;
  static std::string between(double low, double high);  // "a number between 0 and 1"
  static std::string listed(const std::vector<std::string_view>& words);  // "one of a, b"

  virtual bool reads() const = 0;  // false: the record is written
  // From here on errors say `name`, for example "site R1".
  virtual void is_called(const std::string&) {}
  virtual void note(const Error& error) = 0;

  // A text; a required one must not be empty.
  virtual void text(std::string_view key, std::string& target, bool required = false,
                    std::size_t most_bytes = kAnyLength) = 0;
  virtual void number(std::string_view key, double& target, double low, double high,
                      bool required = false) = 0;
  virtual void number(std::string_view key, std::optional<double>& target, double low,
                      double high) = 0;
  virtual void flag(std::string_view key, bool& target) = 0;
  virtual void texts(std::string_view key, std::vector<std::string>& target) = 0;
  // A whole number of 64 bits, as seeds are.
  virtual void seed(std::string_view key, std::uint64_t& target) = 0;
  // One of `allowed`.
  virtual void one_of(std::string_view key, std::string& target,
                      const std::vector<std::string_view>& allowed, bool required = false) = 0;

  template <class Whole>
  void whole(std::string_view key, Whole& target, double low, double high, bool required = false) {
    auto value = static_cast<double>(target);
    number(key, value, low, high, required);
    target = static_cast<Whole>(value);
    if (static_cast<double>(target) != value) note(out_of_range(key, value, "a whole number"));
  }
  // A word that `parse` turns into a value and to_string() into the word again.
  template <class E, class Parse>
  void word(std::string_view key, E& target, Parse parse, bool required = false) {
    const auto take = [&](std::string_view text) -> Status {
      target = TRY(parse(text));
      return {};
    };
    word_text(key, reads() ? std::string() : std::string(to_string(target)), take, required);
  }
  // None where it is not there.
  template <class E, class Parse>
  void word(std::string_view key, std::optional<E>& target, Parse parse) {
    const auto take = [&](std::string_view text) -> Status {
      target = TRY(parse(text));
      return {};
    };
    if (reads()) word_text(key, "", take, false);
    if (!reads() && target) word_text(key, std::string(to_string(*target)), take, false);
  }
  template <class E, class Parse>
  void words(std::string_view key, std::vector<E>& list, Parse parse) {
    std::vector<std::string> names;
    for (const E value : list) names.emplace_back(to_string(value));
    texts(key, names);
    if (!reads()) return;
    list.clear();
    for (std::size_t i = 0; i < names.size(); ++i) {
      const auto value = parse(std::string_view(names[i]));
      if (!value) return note(placed(std::string(key) + "/" + std::to_string(i), value.error()));
      list.push_back(*value);
    }
  }
  // A list that is left out where it is empty, and a number where there is none.
  void texts_if_any(std::string_view key, std::vector<std::string>& target) {
    if (reads() || !target.empty()) texts(key, target);
  }
  void number_if_any(std::string_view key, std::optional<double>& target, double low, double high) {
    if (reads() || target) number(key, target, low, high);
  }
  // A list of records, each with its own description. TOML names each of them in the singular:
  // `items` is written [[item]].
  template <class Record>
  void rows(std::string_view key, std::vector<Record>& list, bool required = false) {
    each_row(key, list.size(), required, [&](Fields& row, std::size_t i) {
      if (i == list.size()) list.emplace_back();
      describe(row, list[i]);
    });
  }
  template <class Record>
  void table(std::string_view key, Record& record, bool required = false) {
    one_table(key, required, [&](Fields& inner) { describe(inner, record); });
  }
  // Two records with one id are an error; ask after rows().
  template <class Record>
  void need_own_ids(const std::vector<Record>& list) {
    for (std::size_t i = 0; i < list.size(); ++i) {
      for (std::size_t k = 0; k < i; ++k) {
        if (list[i].id != list[k].id) continue;
        return note({ErrorCode::kInvalidArgument, "id '" + list[i].id + "' is used twice"});
      }
    }
  }

 protected:
  using Take = std::function<Status(std::string_view)>;
  // The error of a parser, with the place of the field where the format has one.
  virtual Error placed(const std::string&, const Error& error) const { return error; }
  virtual void word_text(std::string_view key, const std::string& now, const Take& take,
                         bool required) = 0;
  // Reading calls `visit` for 0, 1, ...; writing for each of `count`.
  virtual void each_row(std::string_view key, std::size_t count, bool required,
                        const std::function<void(Fields&, std::size_t)>& visit) = 0;
  virtual void one_table(std::string_view key, bool required,
                         const std::function<void(Fields&)>& visit) = 0;
};

}  // namespace phren
