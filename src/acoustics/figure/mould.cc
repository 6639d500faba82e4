#include "acoustics/figure/mould.h"

#include <algorithm>
#include <cstring>

#include "base/det_math.h"

namespace phren::acoustics {
namespace {

constexpr float kStep_dm = 0.0025f;
constexpr std::size_t kAges = 4, kSexes = 2;
constexpr std::array<double, kAges> kAgeKnots{1.0, 10.0, 25.0, 90.0};

// Reads numbers in turn; past the end it gives zeros and remembers that it did.
class Reader {
 public:
  explicit Reader(std::span<const std::uint8_t> bytes) noexcept : bytes_(bytes) {}
  bool ran_out() const noexcept { return ran_out_; }
  bool at_end() const noexcept { return at_ == bytes_.size(); }
  std::uint8_t byte() noexcept {
    if (at_ >= bytes_.size()) {
      ran_out_ = true;
      return 0;
    }
    return bytes_[at_++];
  }
  std::uint32_t word() noexcept {
    std::uint32_t out = 0;
    for (unsigned i = 0; i < 4; ++i) out |= static_cast<std::uint32_t>(byte()) << (8 * i);
    return out;
  }
  float real() noexcept {
    const std::uint32_t bits = word();
    float out = 0.0f;
    std::memcpy(&out, &bits, sizeof out);
    return out;
  }
  std::int32_t whole() noexcept {  // zigzag, seven bits a byte
    std::uint32_t z = 0;
    for (unsigned shift = 0; shift < 35; shift += 7) {
      const std::uint8_t b = byte();
      z |= static_cast<std::uint32_t>(b & 127u) << (shift & 31u);
      if ((b & 128u) == 0) break;
    }
    return static_cast<std::int32_t>(z >> 1) ^ -static_cast<std::int32_t>(z & 1u);
  }

 private:
  std::span<const std::uint8_t> bytes_;
  std::size_t at_ = 0;
  bool ran_out_ = false;
};

Mould::Shape read_places(Reader& in, std::size_t count) {
  Mould::Shape out(count);
  // The source mesh has y up and z to the front.
  for (float Point::* axis : {&Point::x, &Point::z, &Point::y}) {
    std::int64_t sum = 0;
    for (Point& p : out) {
      sum += in.whole();
      p.*axis = static_cast<float>(sum) * kStep_dm;
    }
  }
  return out;
}

Error malformed(const char* what) {
  return {ErrorCode::kMalformed, std::string("the packed body: ") + what};
}

struct Part {
  std::size_t shape;
  double weight;
};

double third(double x, std::size_t i) noexcept {  // weights of min, average, max; sum 1
  const double t = std::clamp(x, 0.0, 1.0);
  if (i == 0) return std::max(0.0, 1.0 - 2.0 * t);
  if (i == 2) return std::max(0.0, 2.0 * t - 1.0);
  return 1.0 - third(x, 0) - third(x, 2);
}

// Below a year the line from child to baby is drawn on, to the newborn.
std::array<double, kAges> age_weights(double years) noexcept {
  std::array<double, kAges> out{};
  if (years < kAgeKnots[0]) {
    const double e = 0.055 * (1.0 - std::max(0.0, years));
    out[0] = 1.0 + e;
    out[1] = -e;
    return out;
  }
  for (std::size_t i = 0; i + 1 < kAges; ++i) {
    if (years > kAgeKnots[i + 1]) continue;
    const double f = (years - kAgeKnots[i]) / (kAgeKnots[i + 1] - kAgeKnots[i]);
    out[i] = 1.0 - f;
    out[i + 1] = f;
    return out;
  }
  out[kAges - 1] = 1.0;
  return out;
}

// Babies and children have no shapes of great muscle: the average one stands in.
template <typename Take>
void each_corner(const Mix& mix, Take take) {
  const auto ages = age_weights(mix.age_years);
  for (std::size_t sex = 0; sex < kSexes; ++sex) {
    const double of_sex = sex == 1 ? mix.male : 1.0 - mix.male;
    for (std::size_t age = 0; age < kAges; ++age) {
      const double k = of_sex * ages[age];
      if (k != 0.0) take(sex, age, k);
    }
  }
}

std::size_t shapes_of(std::size_t sex, std::size_t age) noexcept {
  return 1 + (age < 2 ? 6 : 9) + (sex == 0 ? 2 : 0);
}
std::size_t first_shape(std::size_t sex, std::size_t age) noexcept {
  std::size_t out = 0;
  for (std::size_t i = 0; i < sex * kAges + age; ++i) out += shapes_of(i / kAges, i % kAges);
  return out;
}

}  // namespace

Result<Mould> Mould::read(std::span<const std::uint8_t> bytes) {
  constexpr char kName[] = "PHRNBODY";
  if (bytes.size() < 40 || std::memcmp(bytes.data(), kName, 8) != 0) {
    return fail(malformed("it does not begin with PHRNBODY"));
  }
  Reader in(bytes.subspan(8));
  const std::uint32_t version = in.word();
  Mould m;
  m.vertices = in.word();
  m.skin_quads = in.word();
  const std::size_t eye_quads = in.word(), shapes = in.word();
  const std::size_t planes = in.word(), landmarks = in.word(), joints = in.word();
  if (version != 2 || planes != kNumPlanes || landmarks != kNumLandmarks || joints != kNumJoints ||
      shapes != first_shape(kSexes, 0) || m.vertices > 65535 || m.skin_quads + eye_quads > 65535) {
    return fail(malformed("it is of another version; pack it anew with scripts/pack_body.py"));
  }
  m.is_middle.resize(m.vertices);
  for (std::uint8_t& b : m.is_middle) b = in.byte();
  m.quads.resize(m.skin_quads + eye_quads);
  std::int64_t at = 0;
  bool is_known = true;
  for (Quad& quad : m.quads) {
    for (std::uint32_t& v : quad) {
      at += in.whole();
      is_known = is_known && at >= 0 && at < static_cast<std::int64_t>(m.vertices);
      v = is_known ? static_cast<std::uint32_t>(at) : 0;
    }
    std::swap(quad[1], quad[3]);  // the turned axes are left-handed: keep the outside outside
  }
  for (auto& plane : m.plane) {
    plane.resize(m.vertices);
    std::int64_t level = 0;
    for (float& value : plane) {
      level += in.whole();
      value = static_cast<float>(level) / 255.0f;
    }
  }
  for (auto& two : m.landmark) {
    for (std::uint32_t& v : two) {
      const std::int32_t id = in.whole();
      is_known = is_known && id >= 0 && static_cast<std::size_t>(id) < m.vertices;
      v = is_known ? static_cast<std::uint32_t>(id) : 0;
    }
  }
  for (Corner& c : m.corner) c = {in.real(), in.real(), in.real()};
  m.base = read_places(in, m.vertices + kNumJoints);
  for (std::size_t i = 0; i < shapes; ++i) {
    m.shapes.push_back(read_places(in, m.vertices + kNumJoints));
  }
  if (!is_known) return fail(malformed("it names a vertex that is not there"));
  if (in.ran_out() || !in.at_end()) return fail(malformed("its length does not fit its counts"));
  return m;
}

Mould::Shape mixed(const Mould& mould, const Mix& mix) {
  std::vector<Part> parts;
  each_corner(mix, [&](std::size_t sex, std::size_t age, double k) {
    const std::size_t first = first_shape(sex, age), muscles = age < 2 ? 2 : 3;
    parts.push_back({first, k});
    for (std::size_t m = 0; m < 3; ++m) {
      for (std::size_t w = 0; w < 3; ++w) {
        const double share = k * third(mix.muscle, m) * third(mix.weight, w);
        parts.push_back({first + 1 + 3 * std::min(m, muscles - 1) + w, share});
      }
    }
    if (sex == 0) {  // breasts: of a lean and of a heavy woman
      const double heavy = third(mix.weight, 2) * third(mix.muscle, 0);
      parts.push_back({first + 1 + 3 * muscles, k * mix.sag * (1.0 - heavy)});
      parts.push_back({first + 2 + 3 * muscles, k * mix.sag * heavy});
    }
  });
  Mould::Shape out = mould.base;
  for (const Part& part : parts) {
    if (part.weight == 0.0) continue;
    const Mould::Shape& shape = mould.shapes[part.shape];
    const float k = static_cast<float>(part.weight);
    for (std::size_t i = 0; i < out.size(); ++i) out[i] = out[i] + k * shape[i];
  }
  return out;
}

Corner mixed_corner(const Mould& mould, const Mix& mix) noexcept {
  double floor_dm = 0.0, crown_dm = 0.0, edge = 0.0;  // edge of a cube of that volume
  each_corner(mix, [&](std::size_t sex, std::size_t age, double k) {
    for (std::size_t m = 0; m < 3; ++m) {
      for (std::size_t w = 0; w < 3; ++w) {
        const double share = k * third(mix.muscle, m) * third(mix.weight, w);
        const std::size_t row = age < 2 ? std::min<std::size_t>(m, 1) : m;
        const Corner& c = mould.corner[((sex * kAges + age) * 3 + row) * 3 + w];
        floor_dm += share * static_cast<double>(c.floor_dm);
        crown_dm += share * static_cast<double>(c.crown_dm);
        edge += share * det::pow(static_cast<double>(c.litres), 1.0 / 3.0);
      }
    }
  });
  return {static_cast<float>(floor_dm), static_cast<float>(crown_dm),
          static_cast<float>(edge * edge * edge)};
}

}  // namespace phren::acoustics
