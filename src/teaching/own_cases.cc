#include "teaching/own_cases.h"

#include <algorithm>

#include "base/files.h"
#include "patient/person.h"
#include "teaching/draw/draw.h"

namespace phren::teaching {
namespace fs = std::filesystem;

OwnCases::OwnCases(fs::path folder, CaseVocabulary vocabulary)
    : folder_(std::move(folder)), vocabulary_(std::move(vocabulary)) {}

bool OwnCases::is_id(std::string_view id) {
  const auto is_good = [](char c) {
    return (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '-' || c == '_';
  };
  // What follows two low lines is an illness that may come (split_case_id).
  return !id.empty() && id.size() <= 64 && std::all_of(id.begin(), id.end(), is_good) &&
         id.find("__") == std::string_view::npos && !is_draw_id(id);
}

Result<fs::path> OwnCases::file_of(std::string_view id) const {
  if (folder_.empty()) {
    return fail(ErrorCode::kUnsupported,
                "no folder of own cases was named: `phren serve --cases DIR`");
  }
  if (is_id(id)) return folder_ / (std::string(id) + ".toml");
  return fail(out_of_range("the name of an own case", "'" + std::string(id) + "'",
                           "small letters, digits, - and single _, at most 64"));
}

Result<Case> OwnCases::read(std::string_view toml_text, std::string_view file_name) const {
  if (toml_text.size() > kMostCase_bytes) {
    return fail(ErrorCode::kUnsupported, std::string(file_name) + ": a case is at most 64 kB long");
  }
  auto one = TRY(parse_case(toml_text, file_name, vocabulary_));
  one.patient.person = TRY(at(file_name, patient::complete(one.patient.person)));
  return one;
}

std::vector<ListedCase> OwnCases::list() const {
  auto found = list_cases(folder_, vocabulary_);
  if (!found) return {};
  for (ListedCase& one : *found) {
    if (!one.loaded) continue;
    auto whole = patient::complete(one.loaded->patient.person);
    if (whole) {
      one.loaded->patient.person = *whole;
    } else {
      one.loaded = fail(at(one.file.filename().string(), whole.error()));
    }
  }
  return std::move(*found);
}

bool OwnCases::has(std::string_view id) const {
  std::error_code ignored;
  return !folder_.empty() && is_id(id) &&
         fs::is_regular_file(folder_ / (std::string(id) + ".toml"), ignored);
}

Result<std::string> OwnCases::text(std::string_view id) const {
  return read_file(TRY(file_of(id)), kMostCase_bytes);
}

Result<Case> OwnCases::find(std::string_view id) const {
  const auto toml_text = TRY(text(id));
  return read(toml_text, std::string(id) + ".toml");
}

Result<Case> OwnCases::save(std::string_view id, std::string_view toml_text) const {
  const auto file = TRY(file_of(id));
  auto one = TRY(read(toml_text, std::string(id) + ".toml"));
  std::error_code ignored;
  if (!fs::exists(file, ignored) && list().size() >= kMostOwnCases) {
    return fail(ErrorCode::kTooMany, "the folder of own cases holds " +
                                         std::to_string(kMostOwnCases) +
                                         ", the most there may be; remove one first");
  }
  TRY(make_directories(folder_));
  TRY(write_file(file, toml_text));
  return one;
}

Status OwnCases::remove(std::string_view id) const {
  const auto file = TRY(file_of(id));
  std::error_code error;
  if (fs::remove(file, error)) return {};
  if (error) return fail(ErrorCode::kIo, file.string() + ": " + error.message());
  return fail(ErrorCode::kNotFound, "there is no own case '" + std::string(id) + "'");
}

}  // namespace phren::teaching
