// The part of an action that differs from deed to deed, to and from JSON. For .cc files only: the
// JSON library is slow to compile.
#pragma once

#include <nlohmann/json.hpp>

#include "base/result.h"
#include "bedside/log.h"

namespace phren::bedside {

void write_deed(Deed deed, nlohmann::ordered_json& json);
// Reads "do" and its fields; an unknown field or word is an error that names it.
Result<Deed> read_deed(const nlohmann::ordered_json& json);

}  // namespace phren::bedside
