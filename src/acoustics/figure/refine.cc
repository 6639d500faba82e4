#include "acoustics/figure/refine.h"

#include <algorithm>
#include <map>

namespace phren::acoustics {
namespace {

using Edge = std::pair<std::uint32_t, std::uint32_t>;
constexpr float kFace = 0.5f;  // share of the head from which the mesh is fine enough as it is

Edge edge_of(std::uint32_t a, std::uint32_t b) {
  return {std::min(a, b), std::max(a, b)};
}

void add_quad(std::vector<Triangle>& to, std::uint32_t a, std::uint32_t b, std::uint32_t c,
              std::uint32_t d) {
  to.push_back({a, b, c});
  to.push_back({a, c, d});
}

// A quad of which some edges were split: a fan from one of the new vertices.
void add_fan(std::vector<Triangle>& to, const Mould::Quad& quad,
             const std::map<Edge, std::uint32_t>& split) {
  std::vector<std::uint32_t> ring;
  std::size_t start = 0;
  for (std::size_t i = 0; i < 4; ++i) {
    ring.push_back(quad[i]);
    const auto found = split.find(edge_of(quad[i], quad[(i + 1) % 4]));
    if (found == split.end()) continue;
    start = ring.size();
    ring.push_back(found->second);
  }
  const std::size_t n = ring.size();
  for (std::size_t i = 1; i + 1 < n; ++i) {
    to.push_back({ring[start], ring[(start + i) % n], ring[(start + i + 1) % n]});
  }
}

void make_sides(const Mould& mould, Whole& out) {
  out.twin.resize(mould.vertices);
  out.coarse = mould.vertices;
  for (std::size_t i = 0; i < mould.vertices; ++i) {
    out.twin[i] = mould.is_middle[i] != 0 ? static_cast<std::uint32_t>(i)
                                          : static_cast<std::uint32_t>(out.coarse++);
  }
  out.quads = mould.quads;
  for (const Mould::Quad& q : mould.quads) {
    out.quads.push_back({out.twin[q[3]], out.twin[q[2]], out.twin[q[1]], out.twin[q[0]]});
  }
}

}  // namespace

Whole make_whole(const Mould& mould) {
  Whole out;
  make_sides(mould, out);
  const auto& head = mould.plane[static_cast<std::size_t>(Plane::kHead)];
  std::vector<float> is_head(out.coarse, 0.0f);
  for (std::size_t i = 0; i < mould.vertices; ++i) is_head[i] = is_head[out.twin[i]] = head[i];

  std::map<Edge, std::uint32_t> split;
  for (std::uint32_t q = 0; q < out.quads.size(); ++q) {
    const Mould::Quad& quad = out.quads[q];
    const auto counts = [&](std::uint32_t v) { return is_head[v] < kFace; };
    if (!std::all_of(quad.begin(), quad.end(), counts)) continue;
    out.faces.push_back(q);
    std::array<std::uint32_t, 4> own{};
    for (std::size_t i = 0; i < 4; ++i) {
      const Edge edge = edge_of(quad[i], quad[(i + 1) % 4]);
      const auto [found, is_new] =
          split.try_emplace(edge, static_cast<std::uint32_t>(out.coarse + out.edges.size()));
      if (is_new) out.edges.push_back({edge.first, edge.second});
      own[i] = found->second;
    }
    out.edges_of_face.push_back(own);
  }
  const auto first_face = static_cast<std::uint32_t>(out.coarse + out.edges.size());
  std::uint32_t k = 0;
  for (std::uint32_t q = 0; q < out.quads.size(); ++q) {
    if (k < out.faces.size() && out.faces[k] == q) {
      const auto& e = out.edges_of_face[k];
      for (std::size_t i = 0; i < 4; ++i) {
        add_quad(out.triangles, out.quads[q][i], e[i], first_face + k, e[(i + 3) % 4]);
      }
      ++k;
    } else {
      add_fan(out.triangles, out.quads[q], split);
    }
  }
  return out;
}

std::vector<Point> refined(const Whole& whole, const std::vector<Point>& half) {
  std::vector<Point> out(whole.coarse);
  for (std::size_t i = 0; i < whole.twin.size(); ++i) {
    out[i] = half[i];
    if (whole.twin[i] != i)
      out[whole.twin[i]] = mirrored(half[i]);
    else
      out[i].x = 0.0f;
  }
  std::vector<Triangle> coarse;
  for (const Mould::Quad& q : whole.quads) add_quad(coarse, q[0], q[1], q[2], q[3]);
  std::vector<Point> normal;
  set_normals(out, coarse, normal);
  for (const auto& [a, b] : whole.edges) {
    const Point d = out[b] - out[a];
    const Point bend = dot(d, normal[b]) * normal[b] - dot(d, normal[a]) * normal[a];
    out.push_back(0.5f * (out[a] + out[b]) + 0.125f * bend);
  }
  for (std::size_t k = 0; k < whole.faces.size(); ++k) {
    Point middle;
    for (std::size_t i = 0; i < 4; ++i) {
      middle = middle + 0.5f * out[whole.edges_of_face[k][i]] -
               0.25f * out[whole.quads[whole.faces[k]][i]];
    }
    out.push_back(middle);
  }
  return out;
}

std::vector<float> refined(const Whole& whole, const std::vector<float>& half) {
  std::vector<float> out(whole.coarse);
  for (std::size_t i = 0; i < whole.twin.size(); ++i) out[i] = out[whole.twin[i]] = half[i];
  for (const auto& [a, b] : whole.edges) out.push_back(0.5f * (out[a] + out[b]));
  for (const std::uint32_t q : whole.faces) {
    float sum = 0.0f;
    for (const std::uint32_t v : whole.quads[q]) sum += 0.25f * out[v];
    out.push_back(sum);
  }
  return out;
}

}  // namespace phren::acoustics
