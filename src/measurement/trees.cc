#include "measurement/trees.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstring>
#include <string>

#include "base/files.h"
#include "measurement/weight_file.h"

namespace phren::measurement {
namespace {

// Takes numbers off the front of the file; remembers when there were too few.
class Bytes {
 public:
  explicit Bytes(std::string_view bytes) : rest_(bytes) {}
  template <class Number>
  Number take() {
    Number value{};
    if (rest_.size() < sizeof value) {
      is_short_ = true;
      return value;
    }
    std::memcpy(&value, rest_.data(), sizeof value);
    rest_.remove_prefix(sizeof value);
    return value;
  }
  bool is_short() const { return is_short_; }
  std::size_t size() const { return rest_.size(); }

 private:
  std::string_view rest_;
  bool is_short_ = false;
};

}  // namespace

Result<Trees> Trees::load(const std::filesystem::path& path, std::size_t num_classes) {
  auto bytes = read_file(path);
  if (!bytes) return fail(bytes.error());
  return read(*bytes, path.string(), num_classes);
}

Result<Trees> Trees::read(std::string_view all, const std::string& name, std::size_t num_classes) {
  const auto bad = [&](const std::string& why) {
    return fail(ErrorCode::kMalformed, name + ": " + why);
  };
  if (all.size() < 12 || all.substr(0, 8) != "PHRENTR1")
    return bad("is not a model file of boosted trees");
  Bytes bytes(all.substr(8));
  const auto checksum = bytes.take<std::uint32_t>();
  const auto* body = reinterpret_cast<const unsigned char*>(all.data()) + 12;
  if (crc32({body, all.size() - 12}) != checksum)
    return bad("its checksum does not match; copy the model folder again");
  const std::size_t classes = bytes.take<std::uint16_t>(), features = bytes.take<std::uint16_t>();
  if (classes != num_classes)
    return fail(at(name, out_of_range("number of classes", std::to_string(classes),
                                      std::to_string(num_classes))));
  if (features != kNumFeatures)
    return fail(at(name, out_of_range("number of features", std::to_string(features),
                                      std::to_string(kNumFeatures))));
  const std::size_t num_trees = bytes.take<std::uint32_t>(),
                    num_nodes = bytes.take<std::uint32_t>();
  Trees out;
  out.num_classes_ = num_classes;
  out.base_ = bytes.take<float>();
  if (num_trees > bytes.size() || num_nodes > bytes.size()) return bad("is cut short");
  std::vector<std::uint32_t> end_of(num_nodes);  // of the tree that a node belongs to
  std::size_t first = 0;
  for (std::size_t t = 0; t < num_trees; ++t) {
    const std::size_t count = bytes.take<std::uint16_t>();
    const auto output = bytes.take<std::uint8_t>();
    if (count == 0 || first + count > num_nodes || output >= num_classes)
      return bad("its trees are not as agreed");
    std::fill_n(end_of.begin() + static_cast<std::ptrdiff_t>(first), count,
                static_cast<std::uint32_t>(first + count));
    out.trees_.push_back({static_cast<std::uint32_t>(first), output});
    first += count;
  }
  out.nodes_.resize(num_nodes);
  std::size_t tree = 0;
  for (Node& node : out.nodes_) node.feature = bytes.take<std::uint8_t>();
  for (std::size_t i = 0; i < num_nodes; ++i) {
    while (tree + 1 < num_trees && out.trees_[tree + 1].root <= i) ++tree;
    Node& node = out.nodes_[i];
    if (node.feature == kLeaf) continue;
    node.left = out.trees_[tree].root + bytes.take<std::uint16_t>();
    if (node.left <= i || node.left + 1 >= end_of[i] || node.feature >= kNumFeatures)
      return bad("its trees are not as agreed");
  }
  for (Node& node : out.nodes_)
    if (node.feature != kLeaf) node.threshold = bytes.take<float>();
  for (Node& node : out.nodes_)
    if (node.feature != kLeaf) node.is_missing_left = bytes.take<std::uint8_t>() != 0;
  for (Node& node : out.nodes_) node.value = bytes.take<float>();
  if (bytes.is_short() || bytes.size() != 0 || first != num_nodes) return bad("is cut short");
  return out;
}

const Trees::Node& Trees::child(const Node& node, const FeatureVector& row) const {
  const float x = row[node.feature];
  const bool is_left = std::isnan(x) ? node.is_missing_left : x < node.threshold;
  return nodes_[node.left + (is_left ? 0u : 1u)];
}

std::vector<float> Trees::probabilities(std::span<const FeatureVector> rows) const {
  std::vector<float> out(rows.size() * num_classes_);
  for (std::size_t r = 0; r < rows.size(); ++r) {
    float* margin = out.data() + r * num_classes_;
    std::fill_n(margin, num_classes_, base_);
    for (const Tree& tree : trees_) {
      const Node* node = &nodes_[tree.root];
      while (node->feature != kLeaf) node = &child(*node, rows[r]);
      margin[tree.output] += node->value;
    }
    if (num_classes_ == 1) {
      margin[0] = 1.0f / (1.0f + std::exp(-margin[0]));
      continue;
    }
    const float top = *std::max_element(margin, margin + num_classes_);
    float sum = 0.0f;
    for (std::size_t c = 0; c < num_classes_; ++c) sum += margin[c] = std::exp(margin[c] - top);
    for (std::size_t c = 0; c < num_classes_; ++c) margin[c] /= sum;
  }
  return out;
}

std::vector<std::vector<Reason>> Trees::reasons(std::span<const FeatureVector> rows,
                                                std::span<const std::size_t> towards,
                                                std::size_t most) const {
  std::vector<std::vector<Reason>> out(rows.size());
  for (std::size_t r = 0; r < rows.size(); ++r) {
    std::array<double, kNumFeatures> push{};
    for (const Tree& tree : trees_) {
      if (tree.output != towards[r]) continue;
      const Node* node = &nodes_[tree.root];
      while (node->feature != kLeaf) {
        const Node& next = child(*node, rows[r]);
        push[node->feature] += static_cast<double>(next.value - node->value);
        node = &next;
      }
    }
    for (std::size_t f = 0; f < kNumFeatures; ++f)
      if (push[f] > 0.0) out[r].push_back({f, push[f]});
    std::sort(out[r].begin(), out[r].end(),
              [](const Reason& a, const Reason& b) { return a.push > b.push; });
    if (out[r].size() > most) out[r].resize(most);
  }
  return out;
}

}  // namespace phren::measurement
