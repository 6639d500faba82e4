// The network's view of a piece: band levels in four planes; private to this room.
//
// Shapes:  planes as Rows, row = plane * num_bands + band, one column per 20 ms frame.
// Source:  training/README.md, section 2.
#pragma once

#include <vector>

#include "measurement/analysis.h"
#include "measurement/rows.h"
#include "measurement/weight_file.h"

namespace phren::measurement {

class NetworkFront {
 public:
  static Result<NetworkFront> make(const WeightFile& file);
  std::size_t num_planes() const { return planes_.size(); }
  std::size_t num_bands() const { return num_bands_; }
  // Fills `out` with num_planes * num_bands rows of analysis.num_frames columns.
  void run(const Analysis& analysis, Rows& out);

 private:
  struct Band {
    std::size_t first_bin = 0;
    std::vector<float> weights;
  };
  struct Plane {
    std::size_t window = 0, transform = 0;
    std::ptrdiff_t offset = 0;
    float scale = 1.0f;  // from the power of analysis.h to the network's
    std::vector<Band> bands;
  };
  explicit NetworkFront(signal::Stft clicks) : clicks_(std::move(clicks)) {}
  static Result<Plane> make_plane(const WeightFile& file, const nlohmann::json& entry,
                                  std::size_t num_bands);
  void measure_clicks(const Analysis& analysis);
  void fill_plane(std::size_t p, const float* power, std::size_t step, std::size_t bins, Rows& out);
  void normalise(Rows& out) const;

  std::size_t num_bands_ = 0;
  std::vector<Plane> planes_;
  float tiny_ = 1e-14f, relative_floor_ = 1e-3f;
  signal::Stft clicks_;  // 16 ms windows every 10 ms: planes 2 and 3 take turns
  std::vector<float> padded_, click_power_;
};

}  // namespace phren::measurement
