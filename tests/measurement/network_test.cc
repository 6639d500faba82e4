// The network's C++ against the plainest possible reading of training/README.md, on random weights:
// the fast code tiles, packs and pads; the reference here only loops.
#include "measurement/network.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <complex>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <map>
#include <nlohmann/json.hpp>

#include "measurement/weight_file.h"
#include "sounds.h"

namespace phren::measurement {
namespace {

using nlohmann::json;
using testing::HasSubstr;

constexpr std::size_t kBands = 16;
constexpr double kTolerance = 1e-4;  // what is asked of the real network too

struct Tensor3 {  // [channel][band][time]
  std::size_t c = 0, b = 0, t = 0;
  std::vector<double> v;
  Tensor3(std::size_t channels, std::size_t bands, std::size_t times)
      : c(channels), b(bands), t(times), v(channels * bands * times, 0.0) {}
  double& at(std::size_t i, std::size_t j, std::size_t k) { return v[(i * b + j) * t + k]; }
  double at(std::size_t i, std::size_t j, std::size_t k) const { return v[(i * b + j) * t + k]; }
  double padded(std::size_t i, std::ptrdiff_t j, std::ptrdiff_t k) const {
    if (j < 0 || k < 0 || j >= static_cast<std::ptrdiff_t>(b) ||
        k >= static_cast<std::ptrdiff_t>(t))
      return 0.0;
    return at(i, static_cast<std::size_t>(j), static_cast<std::size_t>(k));
  }
};

// A small network of every kind of layer, with its weight file and its reference.
class Reference {
 public:
  Reference() {
    add("scale", {4});
    add("shift", {4});
    layers_.push_back({{"op", "affine"}});
    layers_.push_back(conv("stem", 4, 6, 5, 3, 2, 1, 1, true, "conv"));
    layers_.push_back(
        {{"op", "residual"},
         {"main", {conv("r1", 6, 7, 3, 3, 2, 2, 1, true), conv("r2", 7, 7, 3, 3, 1, 1, 1, false)}},
         {"shortcut", {conv("rs", 6, 7, 1, 1, 2, 2, 1, false)}}});
    layers_.push_back(
        {{"op", "residual"},
         {"main", {conv("d1", 7, 7, 3, 3, 1, 1, 7, true), conv("p1", 7, 7, 1, 1, 1, 1, 1, false)}},
         {"shortcut", json::array()}});
    layers_.push_back(
        {{"op", "sequence"},
         {"main",
          {conv("d2", 7, 7, 3, 3, 2, 1, 7, true), conv("p2", 7, 10, 1, 1, 1, 1, 1, false)}}});
    linear("project", 20, 9);
    layers_.push_back({{"op", "project"}, {"name", "project"}, {"in", 20}, {"out", 9}});
    for (const int dilation : {1, 4, 16}) {
      const std::string name = "t" + std::to_string(dilation);
      add(name + ".depth.weight", {9, 5});
      add(name + ".depth.bias", {9});
      linear(name + ".up", 9, 11);
      linear(name + ".down", 11, 9);
      layers_.push_back({{"op", "temporal"},
                         {"name", name},
                         {"width", 9},
                         {"hidden", 11},
                         {"taps", 5},
                         {"dilation", dilation}});
    }
    linear("context", 9, 9);
    layers_.push_back({{"op", "context"}, {"name", "context"}, {"width", 9}});
    layers_.push_back({{"op", "relu"}});
    linear("frame", 9, 5);
    for (const auto& [head, classes] : {std::pair{"event", 7u}, {"record", 5u}}) {
      linear(std::string(head) + "_attention", 9, classes);
      linear(std::string(head) + "_value", 9, classes);
      linear(std::string(head) + "_pooled", 18, classes);
    }
    linear("record_peaks", 5, 5);
    for (const std::size_t window : {512u, 192u, 64u}) {
      auto& taper = tensors_["taper" + std::to_string(window)];
      taper.first = {window};
      for (std::size_t k = 0; k < window; ++k)
        taper.second.push_back(static_cast<float>(
            0.5 -
            0.5 * std::cos(2.0 * M_PI * static_cast<double>(k) / static_cast<double>(window))));
    }
    for (const std::size_t transform : {512u, 256u}) {  // bands of five bins each
      const std::size_t bins = transform / 2 + 1;
      auto& matrix = tensors_["matrix" + std::to_string(transform)];
      matrix.first = {kBands, bins};
      matrix.second.assign(kBands * bins, 0.0f);
      for (std::size_t b = 0; b < kBands; ++b)
        for (std::size_t k = 0; k < 5; ++k) matrix.second[b * bins + 3 + 4 * b + k] = 0.2f;
    }
  }

  const std::vector<float>& w(const std::string& name) const { return tensors_.at(name).second; }

  std::string bytes() const {
    json header{{"version", "test"},
                {"layers", layers_},
                {"event_labels",
                 {"Normal", "Rhonchi", "Wheeze", "Stridor", "Coarse Crackle", "Fine Crackle",
                  "Wheeze+Crackle"}},
                {"record_labels", {"Normal", "CAS", "DAS", "CAS & DAS", "Poor Quality"}},
                {"temperature", {{"event", 1.0}, {"record", 1.0}, {"presence", 1.0}}},
                {"peak_frames", 8},
                {"decode", {{"cost", 1.0}, {"bias", 0.0}, {"share", 0.5}, {"shortest_ms", 160}}}};
    header["front"] = {{"sample_rate_hz", 4000},
                       {"hop", 80},
                       {"bands", kBands},
                       {"tiny", 1e-14},
                       {"relative_floor", 1e-3}};
    for (const auto& [window, transform, offset] :
         {std::tuple{512, 512, 0}, {192, 256, 0}, {64, 256, -20}, {64, 256, 20}})
      header["front"]["planes"].push_back({{"window", window},
                                           {"transform", transform},
                                           {"offset", offset},
                                           {"taper", "taper" + std::to_string(window)},
                                           {"matrix", "matrix" + std::to_string(transform)}});
    std::vector<float> data;
    for (const auto& [name, tensor] : tensors_) {
      header["tensors"][name] = {{"shape", tensor.first}, {"offset", data.size()}};
      data.insert(data.end(), tensor.second.begin(), tensor.second.end());
    }
    std::string text = header.dump();
    while ((16 + text.size()) % 64 != 0) text += ' ';
    std::string rest =
        text + std::string(reinterpret_cast<const char*>(data.data()), data.size() * 4);
    const std::uint32_t sizes[2] = {
        static_cast<std::uint32_t>(text.size()),
        crc32({reinterpret_cast<const unsigned char*>(rest.data()), rest.size()})};
    return "PHRENNW1" + std::string(reinterpret_cast<const char*>(sizes), 8) + rest;
  }

  Tensor3 planes(const std::vector<float>& x) const {
    const std::size_t frames = (x.size() + 79) / 80;
    Tensor3 p(4, kBands, frames);
    const std::tuple<int, int, int> kPlanes[] = {
        {512, 512, 0}, {192, 256, 0}, {64, 256, -20}, {64, 256, 20}};
    for (std::size_t i = 0; i < 4; ++i) {
      const auto [window, transform, offset] = kPlanes[i];
      const auto& taper = w("taper" + std::to_string(window));
      const auto& matrix = w("matrix" + std::to_string(transform));
      double total = 0.0;
      for (const float v : taper) total += static_cast<double>(v);
      const auto bins = static_cast<std::size_t>(transform / 2 + 1);
      for (std::size_t t = 0; t < frames; ++t)
        for (std::size_t bin = 0; bin < 80; ++bin) {  // the matrices use no bin above
          std::complex<double> sum = 0.0;
          for (int k = 0; k < window; ++k) {
            const int at = 80 * static_cast<int>(t) + offset - window / 2 + k;
            if (at < 0 || at >= static_cast<int>(x.size())) continue;
            sum += static_cast<double>(x[static_cast<std::size_t>(at)] *
                                       taper[static_cast<std::size_t>(k)]) *
                   std::polar(1.0, -2.0 * M_PI * k * static_cast<double>(bin) / transform);
          }
          for (std::size_t b = 0; b < kBands; ++b)
            p.at(i, b, t) +=
                static_cast<double>(matrix[b * bins + bin]) * std::norm(sum) / (total * total);
        }
    }
    double level = 0.0;
    for (std::size_t b = 0; b < kBands; ++b)
      for (std::size_t t = 0; t < frames; ++t) level += std::log(p.at(1, b, t) + 1e-14);
    level /= static_cast<double>(kBands * frames);
    for (std::size_t i = 0; i < 4; ++i)
      for (std::size_t b = 0; b < kBands; ++b) {
        double mean = 0.0;
        for (std::size_t t = 0; t < frames; ++t) {
          p.at(i, b, t) = std::log(p.at(i, b, t) * std::exp(-level) + 1e-3);
          mean += p.at(i, b, t) / static_cast<double>(frames);
        }
        for (std::size_t t = 0; t < frames; ++t) p.at(i, b, t) -= mean;
      }
    return p;
  }

  Tensor3 features(Tensor3 x) const {
    for (const json& layer : layers_) x = run(layer, x);
    return x;
  }

  std::vector<double> head(const std::string& name, const Tensor3& g, std::size_t classes,
                           std::size_t begin, std::size_t end) const {
    std::vector<double> out(classes), pool(2 * g.c);
    for (std::size_t c = 0; c < g.c; ++c) {
      pool[g.c + c] = -1e30;
      for (std::size_t t = begin; t < end; ++t) {
        pool[c] += g.at(c, 0, t) / static_cast<double>(end - begin);
        pool[g.c + c] = std::max(pool[g.c + c], g.at(c, 0, t));
      }
    }
    for (std::size_t k = 0; k < classes; ++k) {
      double weight = 0.0, sum = 0.0;
      for (std::size_t t = begin; t < end; ++t) {
        const double a = std::exp(row(name + "_attention", k, column(g, t)));
        weight += a;
        sum += a * row(name + "_value", k, column(g, t));
      }
      out[k] = sum / weight + row(name + "_pooled", k, pool);
    }
    return out;
  }

  double row(const std::string& name, std::size_t o, const std::vector<double>& x) const {
    double sum = static_cast<double>(w(name + ".bias")[o]);
    for (std::size_t k = 0; k < x.size(); ++k)
      sum += static_cast<double>(w(name + ".weight")[o * x.size() + k]) * x[k];
    return sum;
  }
  static std::vector<double> column(const Tensor3& g, std::size_t t) {
    std::vector<double> x;
    for (std::size_t c = 0; c < g.c; ++c) x.push_back(g.at(c, 0, t));
    return x;
  }

 private:
  void add(const std::string& name, const std::vector<std::size_t>& shape) {
    auto& tensor = tensors_[name];
    tensor.first = shape;
    std::size_t size = 1, fan = shape.size() > 1 ? 1 : 4;
    for (const std::size_t n : shape) size *= n;
    for (std::size_t i = 1; i < shape.size(); ++i) fan *= shape[i];
    for (std::size_t i = 0; i < size; ++i)
      tensor.second.push_back(
          static_cast<float>(random_.normal() / std::sqrt(static_cast<double>(fan))));
  }
  void linear(const std::string& name, std::size_t in, std::size_t out) {
    add(name + ".weight", {out, in});
    add(name + ".bias", {out});
  }
  json conv(const std::string& name, std::size_t in, std::size_t out, int kb, int kt, int sb,
            int st, std::size_t groups, bool relu, const char* op = "conv") {
    add(name + ".weight",
        {out, in / groups, static_cast<std::size_t>(kb), static_cast<std::size_t>(kt)});
    add(name + ".bias", {out});
    return {{"op", op},           {"name", name},       {"in", in},         {"out", out},
            {"kernel", {kb, kt}}, {"stride", {sb, st}}, {"groups", groups}, {"relu", relu}};
  }

  Tensor3 run_conv(const json& l, const Tensor3& x) const {
    const std::size_t out = l["out"], in = l["in"], groups = l["groups"];
    const int kb = l["kernel"][0], kt = l["kernel"][1], sb = l["stride"][0], st = l["stride"][1];
    Tensor3 y(out, (x.b - 1) / static_cast<std::size_t>(sb) + 1,
              (x.t - 1) / static_cast<std::size_t>(st) + 1);
    const auto& weight = w(std::string(l["name"]) + ".weight");
    const auto& bias = w(std::string(l["name"]) + ".bias");
    const std::size_t per = in / groups;
    for (std::size_t o = 0; o < out; ++o)
      for (std::size_t j = 0; j < y.b; ++j)
        for (std::size_t t = 0; t < y.t; ++t) {
          double sum = static_cast<double>(bias[o]);
          for (std::size_t i = 0; i < per; ++i)
            for (int p = 0; p < kb; ++p)
              for (int q = 0; q < kt; ++q)
                sum +=
                    static_cast<double>(weight[((o * per + i) * static_cast<std::size_t>(kb) +
                                                static_cast<std::size_t>(p)) *
                                                   static_cast<std::size_t>(kt) +
                                               static_cast<std::size_t>(q)]) *
                    x.padded(groups == 1 ? i : o, static_cast<std::ptrdiff_t>(j) * sb + p - kb / 2,
                             static_cast<std::ptrdiff_t>(t) * st + q - kt / 2);
          y.at(o, j, t) = l["relu"] ? std::max(0.0, sum) : sum;
        }
    return y;
  }

  Tensor3 run(const json& l, const Tensor3& x) const {
    const std::string op = l["op"];
    if (op == "conv") return run_conv(l, x);
    Tensor3 y = x;
    if (op == "affine") {
      for (std::size_t i = 0; i < x.v.size(); ++i) {
        const std::size_t c = i / (x.b * x.t);
        y.v[i] = x.v[i] * static_cast<double>(w("scale")[c]) + static_cast<double>(w("shift")[c]);
      }
    } else if (op == "residual" || op == "sequence") {
      for (const json& c : l["main"]) y = run_conv(c, y);
      if (op == "residual") {
        const Tensor3 s = l["shortcut"].empty() ? x : run_conv(l["shortcut"][0], x);
        for (std::size_t i = 0; i < y.v.size(); ++i) y.v[i] += s.v[i];
      }
      for (double& v : y.v) v = std::max(0.0, v);
    } else if (op == "project") {
      y = Tensor3(l["out"], 1, x.t);
      for (std::size_t t = 0; t < x.t; ++t) {
        std::vector<double> flat;
        for (std::size_t b = 0; b < x.b; ++b)
          for (std::size_t c = 0; c < x.c; ++c) flat.push_back(x.at(c, b, t));
        for (std::size_t o = 0; o < y.c; ++o)
          y.at(o, 0, t) = std::max(0.0, row("project", o, flat));
      }
    } else if (op == "temporal") {
      const std::string name = l["name"];
      const int dilation = l["dilation"];
      Tensor3 u(x.c, 1, x.t);
      for (std::size_t c = 0; c < x.c; ++c)
        for (std::size_t t = 0; t < x.t; ++t) {
          u.at(c, 0, t) = static_cast<double>(w(name + ".depth.bias")[c]);
          for (int k = 0; k < 5; ++k)
            u.at(c, 0, t) += static_cast<double>(
                                 w(name + ".depth.weight")[c * 5 + static_cast<std::size_t>(k)]) *
                             x.padded(c, 0, static_cast<std::ptrdiff_t>(t) + (k - 2) * dilation);
        }
      for (std::size_t t = 0; t < x.t; ++t) {
        std::vector<double> hidden;
        for (std::size_t o = 0; o < 11; ++o)
          hidden.push_back(std::max(0.0, row(name + ".up", o, column(u, t))));
        for (std::size_t o = 0; o < x.c; ++o) y.at(o, 0, t) += row(name + ".down", o, hidden);
      }
    } else if (op == "context") {
      std::vector<double> mean(x.c, 0.0);
      for (std::size_t t = 0; t < x.t; ++t)
        for (std::size_t c = 0; c < x.c; ++c) mean[c] += x.at(c, 0, t) / static_cast<double>(x.t);
      for (std::size_t o = 0; o < x.c; ++o)
        for (std::size_t t = 0; t < x.t; ++t)
          y.at(o, 0, t) += std::max(0.0, row("context", o, mean));
    } else {
      for (double& v : y.v) v = std::max(0.0, v);
    }
    return y;
  }

  RandomStream random_{Seed{4}, "network_test"};
  std::map<std::string, std::pair<std::vector<std::size_t>, std::vector<float>>> tensors_;
  json layers_ = json::array();
};

class NetworkTest : public testing::Test {
 protected:
  std::filesystem::path write(const std::string& bytes) const {
    const auto path = std::filesystem::temp_directory_path() /
                      ("phren_network_" + std::to_string(getpid()) + ".bin");
    std::ofstream(path, std::ios::binary) << bytes;
    return path;
  }
  Reference reference_;
};

TEST_F(NetworkTest, AgreesWithThePlainReferenceForEverySize) {
  auto network = Network::load(write(reference_.bytes()));
  ASSERT_TRUE(network) << network.error().message;
  Analyser analyser;
  for (const double seconds : {1.3, 0.5, 3.01}) {  // shorter after longer: nothing may be left over
    SCOPED_TRACE(seconds);
    auto x = test::breathing(seconds, 40.0, 6.0, 5);
    test::add_tone(x, 300.0, 0.1, 0.3, 0.01);
    network->run(analyser.analyse(x));
    const Tensor3 planes = reference_.planes(x);
    const auto input = network->input_planes();
    ASSERT_EQ(input.size(), planes.v.size());
    for (std::size_t i = 0; i < input.size(); ++i)
      ASSERT_NEAR(static_cast<double>(input[i]), planes.v[i], kTolerance) << "input " << i;
    const Tensor3 g = reference_.features(planes);
    ASSERT_EQ(network->num_frames(), g.t);
    const auto frames = network->frame_logits();
    for (std::size_t o = 0; o < 5; ++o)
      for (std::size_t t = 0; t < g.t; ++t)
        ASSERT_NEAR(static_cast<double>(frames[o * g.t + t]),
                    reference_.row("frame", o, Reference::column(g, t)), kTolerance);
    const auto event = network->event_logits(
        0.13, 0.37, RecordingKind::kChildrensSensor);  // frames 3.25 <= t < 9.25
    const auto expected = reference_.head("event", g, 7, 4, 10);
    for (std::size_t k = 0; k < 7; ++k)
      EXPECT_NEAR(static_cast<double>(event[k]), expected[k], kTolerance);
    auto record = reference_.head("record", g, 5, 0, g.t);
    std::vector<double> peaks(5, -1e30);
    for (std::size_t o = 0; o < 5; ++o)
      for (std::size_t t = 0; t + std::min<std::size_t>(8, g.t) <= g.t; ++t) {
        double sum = 0.0;
        for (std::size_t i = 0; i < std::min<std::size_t>(8, g.t); ++i)
          sum += reference_.row("frame", o, Reference::column(g, t + i));
        peaks[o] = std::max(peaks[o], sum / static_cast<double>(std::min<std::size_t>(8, g.t)));
      }
    const auto logits = network->record_logits(RecordingKind::kChildrensSensor);
    for (std::size_t k = 0; k < 5; ++k)
      EXPECT_NEAR(static_cast<double>(logits[k]),
                  record[k] + reference_.row("record_peaks", k, peaks), kTolerance);
  }
}

TEST_F(NetworkTest, RefusesDamagedFilesInWords) {
  std::string bytes = reference_.bytes();
  EXPECT_THAT(Network::load(write(bytes.substr(0, 10))).error().message,
              HasSubstr("is not a weight file"));
  std::string flipped = bytes;
  flipped[flipped.size() - 3] = static_cast<char>(flipped[flipped.size() - 3] ^ 1);
  EXPECT_THAT(Network::load(write(flipped)).error().message, HasSubstr("checksum does not match"));
  EXPECT_THAT(Network::load("/nonexistent.bin").error().message, HasSubstr("/nonexistent.bin"));
}

TEST(Crc32, IsTheUsualOne) {  // check value of CRC-32/ISO-HDLC, catalogue of parametrised CRCs
  const char* text = "123456789";
  EXPECT_EQ(crc32({reinterpret_cast<const unsigned char*>(text), 9}), 0xCBF43926u);
}

}  // namespace
}  // namespace phren::measurement
