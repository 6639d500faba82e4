// Boosted trees on the features: probabilities, and which features pushed them where.
//
// Shapes:  rows of kNumFeatures floats in the order of feature_names(); probabilities row-major,
//          num_rows x num_classes.
// Errors:  load() and read() name the file and what is wrong with it; prediction cannot fail
//          afterwards.
// Source:  gradient-boosted trees (Chen & Guestrin, KDD 2016); the file is written by
//          training/pack_trees.py, which defines its bytes. A reason is the change of the mean
//          margin along the row's path through each tree, summed by feature.
#pragma once

#include <cstdint>
#include <filesystem>
#include <span>
#include <string_view>
#include <vector>

#include "base/result.h"
#include "measurement/types.h"

namespace phren::measurement {

class Trees {
 public:
  static Result<Trees> load(const std::filesystem::path& path, std::size_t num_classes);
  static Result<Trees> read(std::string_view bytes, const std::string& name,
                            std::size_t num_classes);

  // One probability a row for a yes-or-no model (num_classes 1).
  std::vector<float> probabilities(std::span<const FeatureVector> rows) const;
  // The `most` features that push each row towards its class `towards`, strongest first.
  std::vector<std::vector<Reason>> reasons(std::span<const FeatureVector> rows,
                                           std::span<const std::size_t> towards,
                                           std::size_t most = 3) const;

 private:
  struct Node {
    std::uint8_t feature = kLeaf;
    bool is_missing_left = false;
    float threshold = 0.0f;  // below goes left
    std::uint32_t left = 0;  // the right child is the next
    float value = 0.0f;      // of a leaf; the mean over the training data of an inner node
  };
  struct Tree {
    std::uint32_t root = 0;
    std::uint8_t output = 0;
  };
  static constexpr std::uint8_t kLeaf = 255;
  const Node& child(const Node& node, const FeatureVector& row) const;

  std::size_t num_classes_ = 0;
  float base_ = 0.0f;
  std::vector<Tree> trees_;
  std::vector<Node> nodes_;
};

}  // namespace phren::measurement
