// The instruments of data/instruments: one file each, with source and status.
//
// Errors:  each names file, line, field, value and allowed range. Not in the browser engine.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include "acoustics/instrument.h"

namespace phren::acoustics {

struct NamedInstrument {
  std::string id;          // the name of the file
  std::string name;        // one line
  std::string source;      // of the response and of what comes with holding it
  std::string status;      // measured, from memory, engineering
  std::string other_side;  // the id of what it is when turned round; empty: it has one side
  Instrument instrument;
};

class Instruments {
 public:
  static Result<Instruments> load(const std::filesystem::path& folder);
  const std::vector<NamedInstrument>& all() const { return all_; }  // in the order of their ids
  Result<NamedInstrument> find(std::string_view id) const;

 private:
  std::vector<NamedInstrument> all_;
};

}  // namespace phren::acoustics
