#include "measurement/weight_file.h"

#include <array>
#include <cstring>

#include "base/files.h"

namespace phren::measurement {

std::uint32_t crc32(std::span<const unsigned char> bytes) {
  static const auto table = [] {
    std::array<std::uint32_t, 256> out{};
    for (std::uint32_t n = 0; n < 256; ++n) {
      std::uint32_t c = n;
      for (int k = 0; k < 8; ++k) c = (c & 1u) != 0 ? 0xEDB88320u ^ (c >> 1) : c >> 1;
      out[n] = c;
    }
    return out;
  }();
  std::uint32_t crc = 0xFFFFFFFFu;
  for (const unsigned char byte : bytes) crc = table[(crc ^ byte) & 0xFFu] ^ (crc >> 8);
  return crc ^ 0xFFFFFFFFu;
}

Result<WeightFile> WeightFile::load(const std::filesystem::path& path) {
  const std::string name = path.string();
  const auto bad = [&](const std::string& why) {
    return fail(ErrorCode::kMalformed, name + ": " + why + "; copy the model folder again");
  };
  auto bytes = TRY(read_file(path));
  if (bytes.size() < 16 || bytes.compare(0, 8, "PHRENNW1") != 0)
    return bad("is not a weight file of the recording network");
  std::uint32_t header_size = 0, checksum = 0;
  std::memcpy(&header_size, bytes.data() + 8, 4);
  std::memcpy(&checksum, bytes.data() + 12, 4);
  const auto* data = reinterpret_cast<const unsigned char*>(bytes.data());
  if (crc32({data + 16, bytes.size() - 16}) != checksum) return bad("its checksum does not match");
  const std::size_t start = 16 + static_cast<std::size_t>(header_size);
  if (start > bytes.size() || (bytes.size() - start) % 4 != 0) return bad("is cut short");
  WeightFile file;
  file.name = name;
  file.header = nlohmann::json::parse(
      bytes.begin() + 16, bytes.begin() + static_cast<std::ptrdiff_t>(start), nullptr, false);
  if (!file.header.is_object()) return bad("its header is not JSON");
  file.values.resize((bytes.size() - start) / 4);
  std::memcpy(file.values.data(), data + start, file.values.size() * 4);
  return file;
}

Result<std::span<const float>> WeightFile::tensor(const std::string& key, std::size_t size) const {
  const auto bad = [&](const std::string& why) {
    return fail(ErrorCode::kMalformed, name + ": tensor '" + key + "' " + why);
  };
  const auto all = header.find("tensors");
  if (all == header.end() || !all->is_object() || !all->contains(key)) return bad("is missing");
  const auto& entry = (*all)[key];
  if (!entry.is_object() || !entry.contains("offset") || !entry["offset"].is_number_unsigned() ||
      !entry.contains("shape") || !entry["shape"].is_array())
    return bad("has no offset and shape");
  std::size_t count = 1;
  for (const auto& n : entry["shape"]) count *= n.is_number_unsigned() ? n.get<std::size_t>() : 0;
  const std::size_t offset = entry["offset"];
  if (count != size)
    return bad("has " + std::to_string(count) + " numbers; it must have " + std::to_string(size));
  if (offset > values.size() || values.size() - offset < size) return bad("lies outside the file");
  return std::span<const float>(values).subspan(offset, size);
}

}  // namespace phren::measurement
