// The layers of the recording network; private to this room.
//
// Shapes:  a Map is channels x bands x time, row = channel * num_bands + band.
// Errors:  load_layers names the layer and what is wrong. Source: training/README.md, section 3.
#pragma once

#include <memory>
#include <vector>

#include "measurement/rows.h"
#include "measurement/weight_file.h"

namespace phren::measurement {

struct Map {
  Rows rows;
  std::size_t num_channels = 0, num_bands = 0;
  const float* row(std::size_t channel, std::size_t band) const {
    return rows.row(channel * num_bands + band);
  }
};

class Layer {
 public:
  virtual ~Layer() = default;
  virtual void run(const Map& in, Map& out) = 0;
};

Result<std::vector<std::unique_ptr<Layer>>> load_layers(const WeightFile& file);

}  // namespace phren::measurement
