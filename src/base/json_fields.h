// The fields of a record in JSON: read with errors that name the place, and written.
//
// Errors:  "NAME: /items/3/points is 500; it must be a number between 0 and 100"; without a name the
//          place begins at the field. An unknown field is an error with the nearest known name,
//          unless the reader is told to pass it over. done() gives the first error.
// Limits:  for .cc files only, as nlohmann-json is slow to compile.
#pragma once

#include <nlohmann/json.hpp>

#include "base/fields.h"
#include "base/json_text.h"

namespace phren {

enum class Unknown { kRefused, kPassedOver };  // in the record itself; within it always refused

class JsonFields : public Fields {
 public:
  // `object` must outlive the reader. What is not an object is an error.
  JsonFields(std::string name, const nlohmann::json& object, Unknown unknown = Unknown::kRefused,
             std::string place = "");

  // The first error; but an unknown field comes before a missing one, for it explains it.
  Status done() const;

  bool reads() const override { return true; }
  void is_called(const std::string& name) override;
  void note(const Error& error) override;
  void text(std::string_view key, std::string& target, bool required = false,
            std::size_t most_bytes = kAnyLength) override;
  void number(std::string_view key, double& target, double low, double high,
              bool required = false) override;
  // null is the same as nothing.
  void number(std::string_view key, std::optional<double>& target, double low,
              double high) override;
  void flag(std::string_view key, bool& target) override;
  void seed(std::string_view key, std::uint64_t& target) override;
  void texts(std::string_view key, std::vector<std::string>& target) override;
  void one_of(std::string_view key, std::string& target,
              const std::vector<std::string_view>& allowed, bool required = false) override;

  // nullptr if the field is not there, which is an error where it is required.
  const nlohmann::json* find(std::string_view key, bool required = false);
  void wrong(std::string_view key, const nlohmann::json& seen, std::string_view allowed);

 protected:
  Error placed(const std::string& key, const Error& error) const override;
  void word_text(std::string_view key, const std::string& now, const Take& take,
                 bool required) override;
  void each_row(std::string_view key, std::size_t count, bool required,
                const std::function<void(Fields&, std::size_t)>& visit) override;
  void one_table(std::string_view key, bool required,
                 const std::function<void(Fields&)>& visit) override;

 private:
  std::string place_of(std::string_view key) const;
  void enter(const nlohmann::json& object, const std::string& place,
             const std::function<void(Fields&)>& visit);

  std::string name_, place_, called_;
  const nlohmann::json& object_;
  Unknown unknown_;
  std::vector<std::string> known_;
  std::optional<Error> error_;
  bool is_missing_ = false;  // the first error is a missing field
};

// In the order of the description; a number that is not there is null.
class JsonWriter : public Fields {
 public:
  bool reads() const override { return false; }
  void note(const Error&) override {}
  void text(std::string_view key, std::string& target, bool, std::size_t) override {
    out[std::string(key)] = target;
  }
  void number(std::string_view key, double& target, double, double, bool) override;
  void number(std::string_view key, std::optional<double>& target, double, double) override {
    out[std::string(key)] = target ? nlohmann::ordered_json(*target) : nlohmann::ordered_json();
  }
  void flag(std::string_view key, bool& target) override { out[std::string(key)] = target; }
  void seed(std::string_view key, std::uint64_t& target) override {
    out[std::string(key)] = target;
  }
  void texts(std::string_view key, std::vector<std::string>& target) override {
    out[std::string(key)] = target;
  }
  void one_of(std::string_view key, std::string& target, const std::vector<std::string_view>&,
              bool) override {
    out[std::string(key)] = target;
  }

  nlohmann::ordered_json out = nlohmann::ordered_json::object();

 protected:
  void word_text(std::string_view key, const std::string& now, const Take&, bool) override {
    out[std::string(key)] = now;
  }
  void each_row(std::string_view key, std::size_t count, bool required,
                const std::function<void(Fields&, std::size_t)>& visit) override;
  void one_table(std::string_view key, bool required,
                 const std::function<void(Fields&)>& visit) override;
};

template <class Record>
nlohmann::ordered_json json_of(Record record) {
  JsonWriter writer;
  describe(writer, record);
  return std::move(writer.out);
}

// The record in `object`; fields that are not there keep what a new one has.
template <class Record>
Result<Record> read_record(const nlohmann::json& object, std::string name = "",
                           Unknown unknown = Unknown::kRefused) {
  Record record;
  JsonFields fields(std::move(name), object, unknown);
  describe(fields, record);
  TRY(fields.done());
  return record;
}
template <class Record>
Result<Record> read_record_text(std::string_view text, std::string name,
                                Unknown unknown = Unknown::kRefused) {
  const auto json = parse_json<nlohmann::json>(text);
  if (json.is_discarded()) {
    return fail(ErrorCode::kMalformed, name + ": is not JSON text, or nested too deeply");
  }
  return read_record<Record>(json, std::move(name), unknown);
}

}  // namespace phren
