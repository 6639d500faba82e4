// libFuzzer entry: any bytes through the sound reader and, if they are a short sound, the measurer.
// Built with clang: cmake --preset clang -DPHREN_FUZZ=ON, target reader_fuzz.
#include <cstddef>
#include <cstdint>

#include "measurement/measure.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace phren;
  static auto& measurer = *new measurement::Measurer(*measurement::Measurer::load());
  const auto audio =
      signal::read_audio_bytes({reinterpret_cast<const std::byte*>(data), size}, "fuzz.wav");
  if (audio && audio->duration_s() < 5.0)
    (void)measurer.measure(*audio, {.is_fast = true, .given_s = {}});
  return 0;
}
