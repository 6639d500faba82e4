#include "measurement/trees.h"

#include <xgboost/c_api.h>

#include <algorithm>
#include <cassert>
#include <limits>
#include <string>

#include "base/files.h"
#include "measurement/features.h"

namespace phren::measurement {

struct Trees::Impl {
  BoosterHandle booster = nullptr;
  std::size_t num_classes = 0;  // 1 for a yes-or-no model

  Impl() = default;
  Impl(const Impl&) = delete;
  Impl& operator=(const Impl&) = delete;
  ~Impl() {
    if (booster != nullptr) XGBoosterFree(booster);
  }
};

Trees::Trees(std::unique_ptr<Impl> impl) : impl_(std::move(impl)) {}
Trees::Trees(Trees&&) noexcept = default;
Trees& Trees::operator=(Trees&&) noexcept = default;
Trees::~Trees() = default;

Result<Trees> Trees::load(const std::filesystem::path& path, std::size_t num_classes) {
  auto bytes = TRY(read_file(path));
  auto impl = std::make_unique<Impl>();
  impl->num_classes = num_classes;
  XGBSetGlobalConfig(R"({"verbosity": 0})");
  bst_ulong num_features = 0;
  // One thread from the start: its pool of threads spins, which costs more than it gives here.
  if (XGBoosterCreate(nullptr, 0, &impl->booster) != 0 ||
      XGBoosterSetParam(impl->booster, "nthread", "1") != 0 ||
      XGBoosterLoadModelFromBuffer(impl->booster, bytes.data(), bytes.size()) != 0 ||
      XGBoosterGetNumFeature(impl->booster, &num_features) != 0)
    return fail(ErrorCode::kMalformed, path.string() + ": is not a model file of boosted trees");
  if (num_features != kNumFeatures)
    return fail(at(path.string(), out_of_range("number of features", std::to_string(num_features),
                                               std::to_string(kNumFeatures))));
  XGBoosterSetParam(impl->booster, "nthread", "1");
  return Trees(std::move(impl));
}

std::vector<float> Trees::probabilities(std::span<const FeatureVector> rows) const {
  if (rows.empty()) return {};
  const std::string array =
      "{\"data\": [" + std::to_string(reinterpret_cast<std::uintptr_t>(rows.data())) +
      ", true], \"shape\": [" + std::to_string(rows.size()) + ", " + std::to_string(kNumFeatures) +
      "], \"typestr\": \"<f4\", \"version\": 3}";
  constexpr const char* kConfig =
      R"({"type": 0, "training": false, "iteration_begin": 0, "iteration_end": 0,
          "strict_shape": false, "missing": NaN, "cache_id": 0})";
  const bst_ulong* shape = nullptr;
  bst_ulong dimensions = 0;
  const float* values = nullptr;
  const int status = XGBoosterPredictFromDense(impl_->booster, array.c_str(), kConfig, nullptr,
                                               &shape, &dimensions, &values);
  assert(status == 0);
  if (status != 0) return std::vector<float>(rows.size() * impl_->num_classes, 0.0f);
  return {values, values + rows.size() * impl_->num_classes};
}

std::vector<std::vector<Reason>> Trees::reasons(std::span<const FeatureVector> rows,
                                                std::span<const std::size_t> towards,
                                                std::size_t most) const {
  std::vector<std::vector<Reason>> out(rows.size());
  if (rows.empty()) return out;
  DMatrixHandle matrix = nullptr;
  if (XGDMatrixCreateFromMat(rows.front().data(), rows.size(), kNumFeatures,
                             std::numeric_limits<float>::quiet_NaN(), &matrix) != 0)
    return out;
  constexpr const char* kConfig =
      R"({"type": 2, "training": false, "iteration_begin": 0, "iteration_end": 0,
          "strict_shape": true})";
  const bst_ulong* shape = nullptr;
  bst_ulong dimensions = 0;
  const float* values = nullptr;
  if (XGBoosterPredictFromDMatrix(impl_->booster, matrix, kConfig, &shape, &dimensions, &values) ==
      0) {
    const std::size_t width = kNumFeatures + 1;  // the last is the constant
    for (std::size_t r = 0; r < rows.size(); ++r) {
      const float* push = values + (r * impl_->num_classes + towards[r]) * width;
      for (std::size_t f = 0; f < kNumFeatures; ++f)
        if (push[f] > 0.0f) out[r].push_back({f, static_cast<double>(push[f])});
      std::sort(out[r].begin(), out[r].end(),
                [](const Reason& a, const Reason& b) { return a.push > b.push; });
      if (out[r].size() > most) out[r].resize(most);
    }
  }
  XGDMatrixFree(matrix);
  return out;
}

}  // namespace phren::measurement
