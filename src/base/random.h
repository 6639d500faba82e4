// Named, seeded random streams. Every draw in Phren comes from one of these, so a case with its
// seed gives the same patient everywhere. Two streams of one seed with different names are
// independent, and adding a stream never disturbs another.
//
// Threads: a stream belongs to one thread. Errors: none.
// Source:  xoshiro256++ (Blackman & Vigna 2018), seeded by splitmix64 of seed and FNV-1a of the
// name.
#pragma once

#include <array>
#include <cstdint>
#include <string_view>

namespace phren {

struct Seed {
  std::uint64_t value = 1;
};

class RandomStream {
 public:
  RandomStream(Seed seed, std::string_view name) noexcept;

  std::uint64_t bits() noexcept;
  double uniform() noexcept;                         // [0, 1)
  double uniform(double low, double high) noexcept;  // [low, high)
  double normal() noexcept;                          // mean 0, sd 1 (polar method on det_math)
  double normal(double mean, double sd) noexcept;
  double log_normal(double median, double sigma_log) noexcept;
  double exponential(double mean) noexcept;
  bool chance(double probability) noexcept;
  std::uint32_t below(std::uint32_t n) noexcept;      // 0..n-1, n > 0, unbiased
  RandomStream fork(std::string_view name) noexcept;  // an independent stream; advances this one

 private:
  std::array<std::uint64_t, 4> s_;
  double spare_ = 0.0;
  bool has_spare_ = false;
};

}  // namespace phren
