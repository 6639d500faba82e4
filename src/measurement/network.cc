#include "measurement/network.h"

#include <algorithm>
#include <cmath>

#include "base/files.h"
#include "measurement/names.h"
#include "measurement/network_front.h"
#include "measurement/network_layers.h"

namespace phren::measurement {
namespace {

constexpr double kFrameLength_s = 0.04;
constexpr std::size_t kNumFrameOutputs = 5;  // presence, onset, offset, continuous, crackle

struct Linear {
  Taps taps;
  static Result<Linear> load(const WeightFile& file, const std::string& name, std::size_t in,
                             std::size_t out) {
    auto weights = TRY(file.tensor(name + ".weight", in * out));
    auto bias = TRY(file.tensor(name + ".bias", out));
    return Linear{Taps::pack(weights.data(), out, in, bias.data())};
  }
  void run(const Rows& in, Rows& out) const {
    out.resize(taps.num_outputs, in.length());
    std::vector<const float*> inputs;
    for (std::size_t r = 0; r < in.num_rows(); ++r) inputs.push_back(in.row(r));
    std::vector<float*> outputs;
    for (std::size_t r = 0; r < taps.num_outputs; ++r) outputs.push_back(out.row(r));
    weigh_rows(taps, inputs.data(), outputs.data(), nullptr, false, in.length());
  }
  // weights times one vector plus bias
  double at(std::size_t output, std::span<const double> x) const {
    double sum = static_cast<double>(taps.bias[output]);
    for (std::size_t k = 0; k < taps.num_taps; ++k)
      sum += static_cast<double>(taps.weights[(output / 4 * taps.num_taps + k) * 4 + output % 4]) *
             x[k];
    return sum;
  }
};

struct Head {  // attention, value and pooled parts over a stretch of frames
  Linear attention, value, pooled;
  Rows scores, values;

  static Result<Head> load(const WeightFile& file, const std::string& name, std::size_t width,
                           std::size_t classes, std::size_t groups) {
    auto attention = Linear::load(file, name + "_attention", width, classes);
    if (!attention) return fail(attention.error());
    auto value = Linear::load(file, name + "_value", width, classes * groups);
    if (!value) return fail(value.error());
    auto pooled = Linear::load(file, name + "_pooled", 2 * width, classes * groups);
    if (!pooled) return fail(pooled.error());
    return Head{std::move(*attention), std::move(*value), std::move(*pooled), {}, {}};
  }
  void run(const Rows& g) {
    attention.run(g, scores);
    value.run(g, values);
  }
  // `group`: whose values and pooled parts; attention is the same for all.
  std::vector<float> logits(const Rows& g, std::size_t begin, std::size_t end,
                            std::size_t group) const {
    std::vector<double> pool(2 * g.num_rows());
    for (std::size_t r = 0; r < g.num_rows(); ++r) {
      double sum = 0.0, top = -1e30;
      for (std::size_t t = begin; t < end; ++t) {
        const auto v = static_cast<double>(g.row(r)[t]);
        sum += v;
        top = std::max(top, v);
      }
      pool[r] = sum / static_cast<double>(end - begin);
      pool[g.num_rows() + r] = top;
    }
    std::vector<float> out;
    for (std::size_t c = 0; c < scores.num_rows(); ++c) {
      const std::size_t own = group * scores.num_rows() + c;
      const float top = *std::max_element(scores.row(c) + begin, scores.row(c) + end);
      double weight = 0.0, sum = 0.0;
      for (std::size_t t = begin; t < end; ++t) {
        const double w = std::exp(static_cast<double>(scores.row(c)[t] - top));
        weight += w;
        sum += w * static_cast<double>(values.row(own)[t]);
      }
      out.push_back(static_cast<float>(sum / weight + pooled.at(own, pool)));
    }
    return out;
  }
};

template <std::size_t kSize>
std::array<double, kSize> softmax(const std::vector<float>& logits,
                                  const std::array<std::size_t, kSize>& order, double temperature) {
  std::array<double, kSize> p{};
  const float top = *std::max_element(logits.begin(), logits.end());
  double sum = 0.0;
  for (std::size_t i = 0; i < kSize; ++i) {
    const double v = std::exp(static_cast<double>(logits[i] - top) / temperature);
    p[order[i]] = v;
    sum += v;
  }
  for (double& v : p) v /= sum;
  return p;
}

struct Decoding {
  double cost = 1.0, bias = 0.0, share = 0.5, shortest_ms = 200.0;
  double crackle_bias = 0.0, continuous_bias = 0.0;
};

}  // namespace

namespace {

struct Member {  // one network
  std::vector<std::unique_ptr<Layer>> layers;
  Linear frame;
  Head event, record;
  std::optional<Linear> record_peaks;
  Map ping, pong;
  const Rows* g = nullptr;
  Rows frames;

  void run(const Map& input) {
    const Map* from = &input;
    Map* to = &ping;
    for (const auto& layer : layers) {
      layer->run(*from, *to);
      from = to;
      to = to == &ping ? &pong : &ping;
    }
    g = &from->rows;
    frame.run(*g, frames);
    event.run(*g);
    record.run(*g);
  }

  std::pair<std::size_t, std::size_t> span_of(double start_s, double end_s) const {
    const auto count = static_cast<double>(g->length());
    double s = start_s / kFrameLength_s, e = std::min(end_s / kFrameLength_s, count);
    s = std::max(0.0, std::min(s, e - 3.0));
    e = std::max(e, s + 3.0);
    const auto begin = static_cast<std::size_t>(std::ceil(s));
    const auto end = static_cast<std::size_t>(std::min(count, std::ceil(e)));
    return {std::min(begin, g->length() - 1), std::max(end, std::min(begin, g->length() - 1) + 1)};
  }

  std::vector<float> record_logits(std::size_t group, std::size_t peak_frames) const {
    std::vector<float> out = record.logits(*g, 0, g->length(), group);
    if (!record_peaks) return out;
    const std::size_t length = frames.length(), window = std::min(peak_frames, length);
    std::vector<double> peaks;
    for (std::size_t r = 0; r < frames.num_rows(); ++r) {
      double sum = 0.0, top = -1e30;
      for (std::size_t t = 0; t < length; ++t) {
        sum += static_cast<double>(frames.row(r)[t]);
        if (t + 1 < window) continue;
        top = std::max(top, sum / static_cast<double>(window));
        sum -= static_cast<double>(frames.row(r)[t + 1 - window]);
      }
      peaks.push_back(top);
    }
    for (std::size_t c = 0; c < out.size(); ++c)
      out[c] += static_cast<float>(record_peaks->at(group * out.size() + c, peaks));
    return out;
  }
};

// The mean over members of what `logits` gives.
template <class Logits>
std::vector<float> mean_of(const std::vector<Member>& members, Logits logits) {
  std::vector<float> sum;
  for (const Member& member : members) {
    const std::vector<float> one = logits(member);
    if (sum.empty()) sum.assign(one.size(), 0.0f);
    for (std::size_t i = 0; i < one.size(); ++i)
      sum[i] += one[i] / static_cast<float>(members.size());
  }
  return sum;
}

}  // namespace

struct Network::Impl {
  NetworkFront front;
  std::vector<Member> members;
  std::vector<std::size_t> raters;  // of each kind: the group of the event heads
  std::size_t num_kinds = 1, peak_frames = 8;
  std::array<std::size_t, kNumEventLabels> event_order{};
  std::array<std::size_t, kNumRecordLabels> record_order{};
  double event_temperature = 1.0, record_temperature = 1.0;
  Decoding decode;
  Map input;
  Rows frames;  // mean over members

  std::size_t group_of(RecordingKind kind) const {
    return raters[std::min(static_cast<std::size_t>(kind), num_kinds - 1)];
  }
};

Network::Network(std::unique_ptr<Impl> impl) : impl_(std::move(impl)) {}
Network::Network(Network&&) noexcept = default;
Network& Network::operator=(Network&&) noexcept = default;
Network::~Network() = default;

namespace {

template <class Parse, std::size_t kSize>
Status read_order(const WeightFile& file, const char* key, Parse parse,
                  std::array<std::size_t, kSize>& order) {
  const auto& labels = file.header.at(key);
  if (labels.size() != kSize)
    return fail(ErrorCode::kMalformed,
                file.name + ": " + key + " must name " + std::to_string(kSize) + " labels");
  for (std::size_t i = 0; i < kSize; ++i) {
    auto label = TRY(at(file.name, parse(labels.at(i).template get<std::string>())));
    order[i] = static_cast<std::size_t>(label);
  }
  return {};
}

std::size_t width_of(const WeightFile& file) {
  for (const auto& layer : file.header.at("layers"))
    if (layer.at("op") == "project") return layer.at("out");
  return 0;
}

Result<Member> load_member(const WeightFile& file, std::size_t num_raters, std::size_t num_kinds) {
  auto layers = load_layers(file);
  if (!layers) return fail(layers.error());
  const std::size_t width = width_of(file);
  auto frame = Linear::load(file, "frame", width, kNumFrameOutputs);
  if (!frame) return fail(frame.error());
  auto event = Head::load(file, "event", width, kNumEventLabels, num_raters);
  if (!event) return fail(event.error());
  auto record = Head::load(file, "record", width, kNumRecordLabels, num_kinds);
  if (!record) return fail(record.error());
  Member member;
  member.layers = std::move(*layers);
  member.frame = std::move(*frame);
  member.event = std::move(*event);
  member.record = std::move(*record);
  if (file.header.at("tensors").contains(file.prefix + "record_peaks.weight")) {
    auto peaks = Linear::load(file, "record_peaks", kNumFrameOutputs, num_kinds * kNumRecordLabels);
    if (!peaks) return fail(peaks.error());
    member.record_peaks = std::move(*peaks);
  }
  return member;
}

template <class Impl>
Result<std::unique_ptr<Impl>> build(WeightFile& file) {
  auto front = NetworkFront::make(file);
  if (!front) return fail(front.error());
  auto impl =
      std::make_unique<Impl>(Impl{std::move(*front), {}, {0}, 1, 8, {}, {}, 1.0, 1.0, {}, {}, {}});
  if (file.header.contains("event_raters"))
    impl->raters = file.header.at("event_raters").template get<std::vector<std::size_t>>();
  impl->num_kinds = impl->raters.size();
  if (impl->num_kinds == 0 || impl->num_kinds > kNumRecordingKinds)
    return fail(ErrorCode::kUnsupported, file.name + ": event_raters must name 1 to 3 kinds");
  const std::size_t num_raters = 1 + *std::max_element(impl->raters.begin(), impl->raters.end());
  for (const auto& name : file.header.value("members", std::vector<std::string>{""})) {
    file.prefix = name;
    auto member = load_member(file, num_raters, impl->num_kinds);
    if (!member) return fail(member.error());
    impl->members.push_back(std::move(*member));
  }
  if (impl->members.empty()) return fail(ErrorCode::kMalformed, file.name + ": has no members");
  impl->peak_frames = file.header.value("peak_frames", std::size_t{8});
  if (auto ok = read_order(file, "event_labels", parse_event_label, impl->event_order); !ok)
    return fail(ok.error());
  if (auto ok = read_order(file, "record_labels", parse_record_label, impl->record_order); !ok)
    return fail(ok.error());
  const auto& temperature = file.header.at("temperature");
  impl->event_temperature = temperature.value("event", 1.0);
  impl->record_temperature = temperature.value("record", 1.0);
  const auto& decode = file.header.at("decode");
  impl->decode = {decode.value("cost", 1.0),         decode.value("bias", 0.0),
                  decode.value("share", 0.5),        decode.value("shortest_ms", 200.0),
                  decode.value("crackle_bias", 0.0), decode.value("continuous_bias", 0.0)};
  return impl;
}

}  // namespace

Result<Network> Network::load(const std::filesystem::path& path) {
  auto bytes = read_file(path);
  if (!bytes) return fail(bytes.error());
  return read(*bytes, path.string());
}

Result<Network> Network::read(std::string_view bytes, const std::string& name) {
  auto file = TRY(WeightFile::read(bytes, name));
#ifdef __cpp_exceptions  // the browser's module stops instead; the page says that it did
  try {                  // a header with a valid checksum but other fields than agreed
    auto impl = TRY(build<Impl>(file));
    return Network(std::move(impl));
  } catch (const nlohmann::json::exception& error) {
    return fail(ErrorCode::kMalformed, name + ": its header is not as agreed: " + error.what());
  }
#else
  auto impl = TRY(build<Impl>(file));
  return Network(std::move(impl));
#endif
}

void Network::run(const Analysis& analysis) {
  Impl& n = *impl_;
  n.front.run(analysis, n.input.rows);
  n.input.num_channels = n.front.num_planes();
  n.input.num_bands = n.front.num_bands();
  for (Member& member : n.members) member.run(n.input);
  const Rows& first = n.members.front().frames;
  n.frames.resize(first.num_rows(), first.length());
  const float share = 1.0f / static_cast<float>(n.members.size());
  for (std::size_t r = 0; r < first.num_rows(); ++r)
    for (std::size_t t = 0; t < first.length(); ++t) {
      float sum = 0.0f;
      for (const Member& member : n.members) sum += member.frames.row(r)[t];
      n.frames.row(r)[t] = sum * share;
    }
}

std::size_t Network::num_frames() const {
  return impl_->frames.length();
}

std::vector<float> Network::input_planes() const {
  std::vector<float> out;
  const Rows& rows = impl_->input.rows;
  for (std::size_t r = 0; r < rows.num_rows(); ++r)
    out.insert(out.end(), rows.row(r), rows.row(r) + rows.length());
  return out;
}

std::vector<float> Network::frame_logits() const {
  std::vector<float> out;
  for (std::size_t r = 0; r < impl_->frames.num_rows(); ++r)
    out.insert(out.end(), impl_->frames.row(r), impl_->frames.row(r) + impl_->frames.length());
  return out;
}

std::vector<float> Network::event_logits(double start_s, double end_s, RecordingKind kind) const {
  return mean_of(impl_->members, [&](const Member& member) {
    const auto [begin, end] = member.span_of(start_s, end_s);
    return member.event.logits(*member.g, begin, end, impl_->group_of(kind));
  });
}

std::vector<float> Network::record_logits(RecordingKind kind) const {
  const std::size_t group = std::min(static_cast<std::size_t>(kind), impl_->num_kinds - 1);
  return mean_of(impl_->members, [&](const Member& member) {
    return member.record_logits(group, impl_->peak_frames);
  });
}

EventProbabilities Network::event(double start_s, double end_s, RecordingKind kind) const {
  return softmax(event_logits(start_s, end_s, kind), impl_->event_order, impl_->event_temperature);
}

RecordProbabilities Network::record(RecordingKind kind) const {
  return softmax(record_logits(kind), impl_->record_order, impl_->record_temperature);
}

// The best path through gap, normal breath, breath with crackles and continuous sound: what sounds
// of one kind has its own edges, also inside a breath.
std::vector<std::pair<double, double>> Network::events() const {
  constexpr std::size_t kStates = 4;  // 0 is the gap
  const Rows& z = impl_->frames;
  const Decoding& d = impl_->decode;
  const std::size_t length = z.length();
  if (length == 0) return {};
  const auto edge = [&](std::size_t output, std::size_t t) {
    return d.share * std::clamp(static_cast<double>(z.row(output)[t]), -6.0, 6.0) - d.cost;
  };
  const auto chance = [&](std::size_t output, std::size_t t) {
    return 1.0 / (1.0 + std::exp(-static_cast<double>(z.row(output)[t])));
  };
  const auto scores = [&](std::size_t t) -> std::array<double, kStates> {
    const double any = std::clamp(chance(0, t), 1e-4, 1.0 - 1e-4);
    const double tone = std::max(1e-4, chance(3, t)), crackle = std::max(1e-4, chance(4, t));
    return {std::log(1.0 - any), std::log(std::max(0.03, any - tone - crackle)) + d.bias,
            std::log(crackle) + d.crackle_bias, std::log(tone) + d.continuous_bias};
  };
  std::vector<std::array<std::uint8_t, kStates>> back(length);
  std::array<double, kStates> best = scores(0);
  for (std::size_t s = 1; s < kStates; ++s) best[s] += edge(1, 0);
  for (std::size_t t = 1; t < length; ++t) {
    const std::array<double, kStates> score = scores(t);
    std::array<double, kStates> next{};
    for (std::size_t to = 0; to < kStates; ++to) {
      double top = -1e300;
      for (std::size_t from = 0; from < kStates; ++from) {
        double v = best[from];
        if (from != to && from != 0) v += edge(2, t - 1);
        if (from != to && to != 0) v += edge(1, t);
        if (v > top) top = v, back[t][to] = static_cast<std::uint8_t>(from);
      }
      next[to] = top + score[to];
    }
    best = next;
  }
  for (std::size_t s = 1; s < kStates; ++s) best[s] += edge(2, length - 1);
  auto state = static_cast<std::size_t>(std::max_element(best.begin(), best.end()) - best.begin());
  std::vector<std::pair<double, double>> events;
  std::size_t end = length;
  for (std::size_t t = length; t-- > 0;) {
    const std::size_t before = t == 0 ? 0 : back[t][state];
    if (t > 0 && before == state) continue;
    const double start_s = static_cast<double>(t) * kFrameLength_s;
    const double end_s = static_cast<double>(end) * kFrameLength_s;
    if (state != 0 && 1000.0 * (end_s - start_s) >= d.shortest_ms)
      events.emplace_back(start_s, end_s);
    end = t;
    state = before;
  }
  std::reverse(events.begin(), events.end());
  return events;
}

}  // namespace phren::measurement
