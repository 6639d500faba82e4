// Boosted trees on the features: probabilities, and which features pushed them where.
//
// Shapes:  rows of kNumFeatures floats in the order of feature_names(); probabilities row-major,
//          num_rows x num_classes.
// Errors:  load() names the file and what is wrong with it; prediction cannot fail afterwards.
// Threads: one Trees serves one thread at a time.
// Source:  XGBoost's C interface (Chen & Guestrin, KDD 2016); contributions are SHAP values
//          (Lundberg et al., 2018), which sum with a constant to the class's log-odds.
#pragma once

#include <filesystem>
#include <memory>
#include <span>
#include <vector>

#include "base/result.h"
#include "measurement/types.h"

namespace phren::measurement {

class Trees {
 public:
  static Result<Trees> load(const std::filesystem::path& path, std::size_t num_classes);
  Trees(Trees&&) noexcept;
  Trees& operator=(Trees&&) noexcept;
  ~Trees();

  std::vector<float> probabilities(std::span<const FeatureVector> rows) const;
  // The `most` features that push each row towards its class `towards`, strongest first.
  std::vector<std::vector<Reason>> reasons(std::span<const FeatureVector> rows,
                                           std::span<const std::size_t> towards,
                                           std::size_t most = 3) const;

 private:
  struct Impl;
  explicit Trees(std::unique_ptr<Impl> impl);
  std::unique_ptr<Impl> impl_;
};

}  // namespace phren::measurement
