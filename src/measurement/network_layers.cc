#include "measurement/network_layers.h"

#include <algorithm>
#include <array>

namespace phren::measurement {
namespace {

using nlohmann::json;

class Convolution {
 public:
  static Result<Convolution> load(const WeightFile& file, const json& entry) {
    Convolution c;
    const std::string name = entry.at("name");
    c.in_ = entry.at("in");
    c.out_ = entry.at("out");
    c.bands_ = entry.at("kernel").at(0);
    c.times_ = entry.at("kernel").at(1);
    c.band_stride_ = entry.at("stride").at(0);
    c.time_stride_ = entry.at("stride").at(1);
    c.is_relu_ = entry.at("relu");
    const std::size_t groups = entry.at("groups");
    c.is_depthwise_ = groups == c.in_ && groups == c.out_ && groups > 1;
    if ((groups != 1 && !c.is_depthwise_) || c.band_stride_ < 1 || c.time_stride_ < 1 ||
        c.time_stride_ > 2 || c.times_ > 2 * kPad)
      return fail(
          ErrorCode::kUnsupported,
          file.name + ": layer '" + name + "' has groups or strides this program does not know");
    const std::size_t num_taps = (c.is_depthwise_ ? 1 : c.in_) * c.bands_ * c.times_;
    auto weights = TRY(file.tensor(name + ".weight", c.out_ * num_taps));
    auto bias = TRY(file.tensor(name + ".bias", c.out_));
    if (c.is_depthwise_) {
      c.depth_.assign(weights.begin(), weights.end());
      c.depth_bias_.assign(bias.begin(), bias.end());
    } else {
      c.taps_ = Taps::pack(weights.data(), c.out_, num_taps, bias.data());
    }
    return c;
  }

  bool is_depthwise() const { return is_depthwise_; }

  // `add`, where given, is added before the activation; `is_relu` overrides the layer's own.
  void run(const Map& in, Map& out, const Map* add, bool is_relu) {
    const std::size_t length = (in.rows.length() + time_stride_ - 1) / time_stride_;
    out.num_channels = out_;
    out.num_bands = (in.num_bands - 1) / band_stride_ + 1;
    out.rows.resize(out_ * out.num_bands, length);
    zero_.resize(1, length);
    if (time_stride_ == 2) split(in, length);
    for (std::size_t band = 0; band < out.num_bands; ++band) {
      if (is_depthwise_)
        run_depthwise(in, out, band, is_relu, length);
      else
        run_dense(in, out, band, add, is_relu, length);
    }
  }
  void run(const Map& in, Map& out) { run(in, out, nullptr, is_relu_); }

 private:
  // Even and odd columns apart, so that a stride of two reads neighbours.
  void split(const Map& in, std::size_t length) {
    for (Map* half : {&even_, &odd_}) {
      half->num_channels = in.num_channels;
      half->num_bands = in.num_bands;
      half->rows.resize(in.rows.num_rows(), length);
    }
    for (std::size_t r = 0; r < in.rows.num_rows(); ++r) {
      const float* from = in.rows.row(r);
      float *even = even_.rows.row(r), *odd = odd_.rows.row(r);
      for (std::size_t t = 0; t < length; ++t) {
        even[t] = from[2 * t];
        odd[t] = from[2 * t + 1];  // the padding behind the row is zero
      }
    }
  }

  // Where tap (band tap i, time tap j) of a channel starts for output band `band`.
  const float* tap(const Map& in, std::size_t channel, std::size_t band, std::size_t i,
                   std::size_t j) const {
    const auto at = static_cast<std::ptrdiff_t>(band * band_stride_ + i) -
                    static_cast<std::ptrdiff_t>(bands_ / 2);
    if (at < 0 || at >= static_cast<std::ptrdiff_t>(in.num_bands)) return zero_.row(0);
    const auto shift = static_cast<std::ptrdiff_t>(j) - static_cast<std::ptrdiff_t>(times_ / 2);
    const auto b = static_cast<std::size_t>(at);
    if (time_stride_ == 1) return in.row(channel, b) + shift;
    const bool is_odd = (shift & 1) != 0;
    return (is_odd ? odd_ : even_).row(channel, b) + (shift - (is_odd ? 1 : 0)) / 2;
  }

  void run_dense(const Map& in, Map& out, std::size_t band, const Map* add, bool is_relu,
                 std::size_t length) {
    inputs_.clear();
    for (std::size_t c = 0; c < in_; ++c)
      for (std::size_t i = 0; i < bands_; ++i)
        for (std::size_t j = 0; j < times_; ++j) inputs_.push_back(tap(in, c, band, i, j));
    outputs_.clear();
    adds_.clear();
    for (std::size_t o = 0; o < out_; ++o) {
      outputs_.push_back(out.rows.row(o * out.num_bands + band));
      if (add != nullptr) adds_.push_back(add->row(o, band));
    }
    weigh_rows(taps_, inputs_.data(), outputs_.data(), add == nullptr ? nullptr : adds_.data(),
               is_relu, length);
  }

  void run_depthwise(const Map& in, Map& out, std::size_t band, bool is_relu, std::size_t length) {
    const std::size_t num_taps = bands_ * times_;
    for (std::size_t c = 0; c < in_; ++c) {
      inputs_.clear();
      for (std::size_t i = 0; i < bands_; ++i)
        for (std::size_t j = 0; j < times_; ++j) inputs_.push_back(tap(in, c, band, i, j));
      weigh_row(depth_.data() + c * num_taps, inputs_.data(), num_taps, depth_bias_[c], is_relu,
                out.rows.row(c * out.num_bands + band), length);
    }
  }

  std::size_t in_ = 0, out_ = 0, bands_ = 1, times_ = 1, band_stride_ = 1, time_stride_ = 1;
  bool is_relu_ = false, is_depthwise_ = false;
  Taps taps_;
  std::vector<float> depth_, depth_bias_;
  Map even_, odd_;
  Rows zero_;
  std::vector<const float*> inputs_, adds_;
  std::vector<float*> outputs_;
};

class AffineLayer : public Layer {
 public:
  static Result<std::unique_ptr<Layer>> load(const WeightFile& file, const json&) {
    auto scale = TRY(file.tensor("scale", 4));
    auto shift = TRY(file.tensor("shift", 4));
    auto layer = std::make_unique<AffineLayer>();
    std::copy(scale.begin(), scale.end(), layer->scale_.begin());
    std::copy(shift.begin(), shift.end(), layer->shift_.begin());
    return layer;
  }
  void run(const Map& in, Map& out) override {
    out.num_channels = in.num_channels;
    out.num_bands = in.num_bands;
    out.rows.resize(in.rows.num_rows(), in.rows.length());
    for (std::size_t r = 0; r < in.rows.num_rows(); ++r) {
      const float scale = scale_[r / in.num_bands], shift = shift_[r / in.num_bands];
      const float* from = in.rows.row(r);
      float* to = out.rows.row(r);
      for (std::size_t t = 0; t < in.rows.length(); ++t) to[t] = from[t] * scale + shift;
    }
  }

 private:
  std::array<float, 4> scale_{}, shift_{};
};

class ConvLayer : public Layer {
 public:
  static Result<std::unique_ptr<Layer>> load(const WeightFile& file, const json& entry) {
    auto conv = TRY(Convolution::load(file, entry));
    auto layer = std::make_unique<ConvLayer>();
    layer->conv_ = std::move(conv);
    return layer;
  }
  void run(const Map& in, Map& out) override { conv_.run(in, out); }

 private:
  Convolution conv_;
};

// y = relu(main(x) + shortcut(x)), or relu(main(x)) for a sequence.
class BlockLayer : public Layer {
 public:
  static Result<std::unique_ptr<Layer>> load(const WeightFile& file, const json& entry) {
    auto layer = std::make_unique<BlockLayer>();
    layer->is_residual_ = entry.at("op") == "residual";
    for (const auto& [key, list] :
         {std::pair{"main", &layer->main_}, std::pair{"shortcut", &layer->shortcut_}}) {
      if (!entry.contains(key)) continue;
      for (const auto& item : entry.at(key)) {
        auto conv = TRY(Convolution::load(file, item));
        list->push_back(std::move(conv));
      }
    }
    if (layer->main_.empty() || layer->main_.back().is_depthwise() || layer->shortcut_.size() > 1)
      return fail(ErrorCode::kUnsupported,
                  file.name + ": a block that ends depthwise or has a long shortcut");
    layer->steps_.resize(layer->main_.size());
    return layer;
  }
  void run(const Map& in, Map& out) override {
    const Map* add = is_residual_ ? &in : nullptr;
    if (!shortcut_.empty()) {
      shortcut_.front().run(in, side_);
      add = &side_;
    }
    const Map* from = &in;
    for (std::size_t i = 0; i + 1 < main_.size(); ++i) {
      main_[i].run(*from, steps_[i]);
      from = &steps_[i];
    }
    main_.back().run(*from, out, add, true);
  }

 private:
  bool is_residual_ = false;
  std::vector<Convolution> main_, shortcut_;
  std::vector<Map> steps_;
  Map side_;
};

class ProjectLayer : public Layer {
 public:
  static Result<std::unique_ptr<Layer>> load(const WeightFile& file, const json& entry) {
    auto layer = std::make_unique<ProjectLayer>();
    const std::string name = entry.at("name");
    const std::size_t in = entry.at("in"), out = entry.at("out");
    auto weights = TRY(file.tensor(name + ".weight", in * out));
    auto bias = TRY(file.tensor(name + ".bias", out));
    layer->taps_ = Taps::pack(weights.data(), out, in, bias.data());
    return layer;
  }
  void run(const Map& in, Map& out) override {
    out.num_channels = taps_.num_outputs;
    out.num_bands = 1;
    out.rows.resize(taps_.num_outputs, in.rows.length());
    std::vector<const float*> inputs;  // band outer, channel inner
    for (std::size_t b = 0; b < in.num_bands; ++b)
      for (std::size_t c = 0; c < in.num_channels; ++c) inputs.push_back(in.row(c, b));
    std::vector<float*> outputs;
    for (std::size_t o = 0; o < taps_.num_outputs; ++o) outputs.push_back(out.rows.row(o));
    weigh_rows(taps_, inputs.data(), outputs.data(), nullptr, true, in.rows.length());
  }

 private:
  Taps taps_;
};

class TemporalLayer : public Layer {
 public:
  static Result<std::unique_ptr<Layer>> load(const WeightFile& file, const json& entry) {
    auto layer = std::make_unique<TemporalLayer>();
    const std::string name = entry.at("name");
    const std::size_t width = entry.at("width"), hidden = entry.at("hidden");
    layer->num_taps_ = entry.at("taps");
    layer->dilation_ = entry.at("dilation");
    if (layer->num_taps_ / 2 * layer->dilation_ > kPad)
      return fail(ErrorCode::kUnsupported, file.name + ": layer '" + name + "' reaches too far");
    auto depth = file.tensor(name + ".depth.weight", width * layer->num_taps_);
    auto depth_bias = file.tensor(name + ".depth.bias", width);
    auto up = file.tensor(name + ".up.weight", width * hidden);
    auto up_bias = file.tensor(name + ".up.bias", hidden);
    auto down = file.tensor(name + ".down.weight", width * hidden);
    auto down_bias = file.tensor(name + ".down.bias", width);
    for (const auto* part : {&depth, &depth_bias, &up, &up_bias, &down, &down_bias})
      if (!*part) return fail(part->error());
    layer->depth_.assign(depth->begin(), depth->end());
    layer->depth_bias_.assign(depth_bias->begin(), depth_bias->end());
    layer->up_ = Taps::pack(up->data(), hidden, width, up_bias->data());
    layer->down_ = Taps::pack(down->data(), width, hidden, down_bias->data());
    return layer;
  }
  void run(const Map& in, Map& out) override {
    const std::size_t length = in.rows.length(), width = in.rows.num_rows();
    middle_.resize(width, length);
    hidden_.resize(up_.num_outputs, length);
    out.num_channels = in.num_channels;
    out.num_bands = 1;
    out.rows.resize(width, length);
    std::vector<const float*> taps(num_taps_), from_middle, from_hidden, add;
    std::vector<float*> to_hidden, to_out;
    for (std::size_t r = 0; r < width; ++r) {
      for (std::size_t k = 0; k < num_taps_; ++k)
        taps[k] = in.rows.row(r) +
                  (static_cast<std::ptrdiff_t>(k) - static_cast<std::ptrdiff_t>(num_taps_ / 2)) *
                      static_cast<std::ptrdiff_t>(dilation_);
      weigh_row(depth_.data() + r * num_taps_, taps.data(), num_taps_, depth_bias_[r], false,
                middle_.row(r), length);
      from_middle.push_back(middle_.row(r));
      add.push_back(in.rows.row(r));
      to_out.push_back(out.rows.row(r));
    }
    for (std::size_t r = 0; r < up_.num_outputs; ++r) {
      to_hidden.push_back(hidden_.row(r));
      from_hidden.push_back(hidden_.row(r));
    }
    weigh_rows(up_, from_middle.data(), to_hidden.data(), nullptr, true, length);
    weigh_rows(down_, from_hidden.data(), to_out.data(), add.data(), false, length);
  }

 private:
  std::size_t num_taps_ = 5, dilation_ = 1;
  std::vector<float> depth_, depth_bias_;
  Taps up_, down_;
  Rows middle_, hidden_;
};

class ContextLayer : public Layer {
 public:
  static Result<std::unique_ptr<Layer>> load(const WeightFile& file, const json& entry) {
    auto layer = std::make_unique<ContextLayer>();
    const std::string name = entry.at("name");
    layer->width_ = entry.at("width");
    auto weights = TRY(file.tensor(name + ".weight", layer->width_ * layer->width_));
    auto bias = TRY(file.tensor(name + ".bias", layer->width_));
    layer->weights_.assign(weights.begin(), weights.end());
    layer->bias_.assign(bias.begin(), bias.end());
    return layer;
  }
  void run(const Map& in, Map& out) override {
    const std::size_t length = in.rows.length();
    out = in;
    std::vector<double> mean(width_, 0.0);
    for (std::size_t r = 0; r < width_; ++r) {
      for (std::size_t t = 0; t < length; ++t) mean[r] += static_cast<double>(in.rows.row(r)[t]);
      mean[r] /= static_cast<double>(std::max<std::size_t>(1, length));
    }
    for (std::size_t o = 0; o < width_; ++o) {
      double sum = static_cast<double>(bias_[o]);
      for (std::size_t k = 0; k < width_; ++k)
        sum += static_cast<double>(weights_[o * width_ + k]) * mean[k];
      const auto more = static_cast<float>(std::max(0.0, sum));
      float* row = out.rows.row(o);
      for (std::size_t t = 0; t < length; ++t) row[t] += more;
    }
  }

 private:
  std::size_t width_ = 0;
  std::vector<float> weights_, bias_;
};

class ReluLayer : public Layer {
 public:
  static Result<std::unique_ptr<Layer>> load(const WeightFile&, const json&) {
    return std::make_unique<ReluLayer>();
  }
  void run(const Map& in, Map& out) override {
    out = in;
    for (std::size_t r = 0; r < out.rows.num_rows(); ++r)
      for (std::size_t t = 0; t < out.rows.length(); ++t)
        out.rows.row(r)[t] = std::max(0.0f, out.rows.row(r)[t]);
  }
};

using Loader = Result<std::unique_ptr<Layer>> (*)(const WeightFile&, const json&);
constexpr std::array<std::pair<std::string_view, Loader>, 8> kLoaders{{
    {"affine", AffineLayer::load},
    {"conv", ConvLayer::load},
    {"residual", BlockLayer::load},
    {"sequence", BlockLayer::load},
    {"project", ProjectLayer::load},
    {"temporal", TemporalLayer::load},
    {"context", ContextLayer::load},
    {"relu", ReluLayer::load},
}};

}  // namespace

Result<std::vector<std::unique_ptr<Layer>>> load_layers(const WeightFile& file) {
  std::vector<std::unique_ptr<Layer>> layers;
  for (const auto& entry : file.header.at("layers")) {
    const std::string op = entry.at("op");
    const auto found = std::find_if(kLoaders.begin(), kLoaders.end(),
                                    [&](const auto& loader) { return loader.first == op; });
    if (found == kLoaders.end())
      return fail(ErrorCode::kUnsupported,
                  file.name + ": has a layer '" + op + "' that this program does not know");
    auto layer = TRY(found->second(file, entry));
    layers.push_back(std::move(layer));
  }
  return layers;
}

}  // namespace phren::measurement
