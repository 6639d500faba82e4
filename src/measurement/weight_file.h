// The weight file of the recording network: a JSON header and named tensors; private to this room.
//
// Errors:  kMalformed naming the file and what is wrong. Source: training/README.md, section 1.
#pragma once

#include <filesystem>
#include <nlohmann/json.hpp>
#include <span>
#include <string>
#include <vector>

#include "base/result.h"

namespace phren::measurement {

struct WeightFile {
  std::string name;
  nlohmann::json header;
  std::vector<float> values;

  static Result<WeightFile> load(const std::filesystem::path& path);
  // The tensor's numbers if it exists and has `size` of them.
  Result<std::span<const float>> tensor(const std::string& key, std::size_t size) const;
};

std::uint32_t crc32(std::span<const unsigned char> bytes);  // IEEE 802.3, as zlib

}  // namespace phren::measurement
