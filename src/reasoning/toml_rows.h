// What the rows of threats, sayings and rules share: their words and their conditions on findings.
//
// Limits:  includes toml++: for .cc files only.
#pragma once

#include <utility>
#include <vector>

#include "base/toml_fields.h"
#include "reasoning/when.h"

namespace phren::reasoning {

// Text fields that must not be empty.
void read_texts(TomlFields& row,
                std::initializer_list<std::pair<std::string_view, std::string*>> fields);

// A list of lines, each a list of words.
void read_lines(TomlFields& row, std::string_view key, const FindingTable& table,
                std::vector<Line>& target);

}  // namespace phren::reasoning
