#include "base/random.h"

#include <bit>

#include "base/det_math.h"

namespace phren {
namespace {

std::uint64_t splitmix64(std::uint64_t& x) noexcept {
  x += 0x9e3779b97f4a7c15ULL;
  std::uint64_t z = x;
  z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9ULL;
  z = (z ^ (z >> 27)) * 0x94d049bb133111ebULL;
  return z ^ (z >> 31);
}

std::uint64_t fnv1a(std::string_view text) noexcept {
  std::uint64_t h = 0xcbf29ce484222325ULL;
  for (const char c : text) h = (h ^ static_cast<unsigned char>(c)) * 0x100000001b3ULL;
  return h;
}

}  // namespace

RandomStream::RandomStream(Seed seed, std::string_view name) noexcept {
  std::uint64_t x = seed.value;
  std::uint64_t mixed = splitmix64(x) ^ fnv1a(name);
  for (auto& word : s_) word = splitmix64(mixed);
}

std::uint64_t RandomStream::bits() noexcept {
  const std::uint64_t result = std::rotl(s_[0] + s_[3], 23) + s_[0];
  const std::uint64_t t = s_[1] << 17;
  s_[2] ^= s_[0];
  s_[3] ^= s_[1];
  s_[1] ^= s_[2];
  s_[0] ^= s_[3];
  s_[2] ^= t;
  s_[3] = std::rotl(s_[3], 45);
  return result;
}

double RandomStream::uniform() noexcept {
  return static_cast<double>(bits() >> 11) * 0x1.0p-53;
}
double RandomStream::uniform(double low, double high) noexcept {
  return low + (high - low) * uniform();
}

double RandomStream::normal() noexcept {
  if (has_spare_) {
    has_spare_ = false;
    return spare_;
  }
  double u = 0.0, v = 0.0, r2 = 0.0;
  do {
    u = 2.0 * uniform() - 1.0;
    v = 2.0 * uniform() - 1.0;
    r2 = u * u + v * v;
  } while (r2 >= 1.0 || r2 == 0.0);
  const double scale = det::sqrt(-2.0 * det::log(r2) / r2);
  spare_ = v * scale;
  has_spare_ = true;
  return u * scale;
}

double RandomStream::normal(double mean, double sd) noexcept {
  return mean + sd * normal();
}
double RandomStream::log_normal(double median, double sigma_log) noexcept {
  return median * det::exp(sigma_log * normal());
}
double RandomStream::exponential(double mean) noexcept {
  return -mean * det::log(1.0 - uniform());
}
bool RandomStream::chance(double probability) noexcept {
  return uniform() < probability;
}

std::uint32_t RandomStream::below(std::uint32_t n) noexcept {
  const std::uint64_t limit = (std::uint64_t{1} << 32) - ((std::uint64_t{1} << 32) % n);
  std::uint64_t draw = 0;
  do {
    draw = bits() >> 32;
  } while (draw >= limit);
  return static_cast<std::uint32_t>(draw % n);
}

RandomStream RandomStream::fork(std::string_view name) noexcept {
  return RandomStream(Seed{bits()}, name);
}

}  // namespace phren
