// Reading rows of a TOML data file: the few steps that threats, sayings and rules share.
//
// Errors:  kMalformed or kInvalidArgument naming file, line, row and field.
#pragma once

#include <toml++/toml.h>

#include <functional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "base/result.h"
#include "reasoning/when.h"

namespace phren::reasoning {

// Calls read(row, "FILE:LINE") for every table of the list `name`; stops at the first error.
Status for_each_row(std::string_view toml_text, std::string_view file_name, std::string_view name,
                    const std::function<Status(const toml::table&, const std::string&)>& read);

// Text fields that must not be empty.
Status fill_texts(const toml::table& row, const std::string& here,
                  std::initializer_list<std::pair<std::string_view, std::string*>> fields);

std::vector<std::string> words_of(const toml::array* list);

// A list of lines, each a list of words.
Result<std::vector<Line>> lines_of(const toml::array* list, const std::string& here,
                                   const FindingTable& table);

}  // namespace phren::reasoning
