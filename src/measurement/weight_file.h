// The weight file of the recording network: a JSON header and named tensors; private to this room.
//
// Errors:  kMalformed naming the file and what is wrong. Source: training/README.md, section 1.
#pragma once

#include <filesystem>
#include <map>
#include <nlohmann/json.hpp>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.h"

namespace phren::measurement {

struct WeightFile {
  std::string name;
  nlohmann::json header;
  std::vector<float> values;
  std::map<std::string, std::vector<float>> unpacked;  // tensors kept as small whole numbers
  std::string prefix;  // before the names that tensor() is asked for: one network of several

  static Result<WeightFile> load(const std::filesystem::path& path);
  static Result<WeightFile> read(std::string_view bytes, const std::string& name);
  // The tensor's numbers if it exists and has `size` of them.
  Result<std::span<const float>> tensor(const std::string& key, std::size_t size) const;

 private:
  Status unpack();
};

std::uint32_t crc32(std::span<const unsigned char> bytes);  // IEEE 802.3, as zlib

}  // namespace phren::measurement
