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
  auto bytes = read_file(path);
  if (!bytes) return fail(bytes.error());
  return read(*bytes, path.string());
}

Result<WeightFile> WeightFile::read(std::string_view bytes, const std::string& name) {
  const auto bad = [&](const std::string& why) {
    return fail(ErrorCode::kMalformed, name + ": " + why + "; copy the model folder again");
  };
  if (bytes.size() < 16 || bytes.substr(0, 8) != "PHRENNW1")
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
  file.header = nlohmann::json::parse(bytes.substr(16, start - 16), nullptr, false);
  if (!file.header.is_object()) return bad("its header is not JSON");
  file.values.resize((bytes.size() - start) / 4);
  std::memcpy(file.values.data(), data + start, file.values.size() * 4);
  if (auto ok = file.unpack(); !ok) return fail(ok.error());
  return file;
}

// A tensor with a `scale` is kept as one signed byte a number; `scale` is where the factors of its
// rows are.
Status WeightFile::unpack() {
  const auto all = header.find("tensors");
  if (all == header.end() || !all->is_object()) return {};
  for (const auto& [key, entry] : all->items()) {
    if (!entry.is_object() || !entry.contains("scale")) continue;
    const auto whole = [&, &one = entry](const char* field) {
      return one.contains(field) && one[field].is_number_unsigned() ? one[field].get<std::size_t>()
                                                                    : values.size() + 1;
    };
    const std::size_t offset = whole("offset"), scale = whole("scale");
    std::size_t rows = 0, count = 1;
    if (entry.contains("shape") && entry["shape"].is_array())
      for (const auto& n : entry["shape"]) {
        const std::size_t size = n.is_number_unsigned() ? n.get<std::size_t>() : 0;
        if (rows == 0) rows = size;
        if (size > values.size() * 4)
          return fail(ErrorCode::kMalformed, name + ": tensor '" + key + "' lies outside the file");
        count *= size;
      }
    if (rows == 0 || offset > values.size() || count > (values.size() - offset) * 4 ||
        scale > values.size() || rows > values.size() - scale)
      return fail(ErrorCode::kMalformed, name + ": tensor '" + key + "' lies outside the file");
    const auto* from = reinterpret_cast<const signed char*>(values.data() + offset);
    std::vector<float>& out = unpacked[key];
    out.resize(count);
    for (std::size_t i = 0; i < count; ++i)
      out[i] = static_cast<float>(from[i]) * values[scale + i / (count / rows)];
  }
  return {};
}

Result<std::span<const float>> WeightFile::tensor(const std::string& short_key,
                                                  std::size_t size) const {
  const std::string key = prefix + short_key;
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
  if (const auto found = unpacked.find(key); found != unpacked.end() && count == size)
    return std::span<const float>(found->second);
  if (count != size)
    return bad("has " + std::to_string(count) + " numbers; it must have " + std::to_string(size));
  if (offset > values.size() || values.size() - offset < size) return bad("lies outside the file");
  return std::span<const float>(values).subspan(offset, size);
}

}  // namespace phren::measurement
