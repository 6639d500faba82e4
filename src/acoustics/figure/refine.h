// The half mesh made whole and the trunk made finer, so that breathing and ribs have vertices to
// move.
#pragma once

#include <cstdint>
#include <utility>
#include <vector>

#include "acoustics/figure/figure.h"

namespace phren::acoustics {

// Topology that is the same for every person.
struct Whole {
  std::vector<std::uint32_t> twin;                          // right-hand vertex of a left one
  std::size_t coarse = 0;                                   // vertices before refining
  std::vector<Mould::Quad> quads;                           // all of them, both sides
  std::vector<std::array<std::uint32_t, 2>> edges;          // each gives a new vertex
  std::vector<std::uint32_t> faces;                         // quads that give a new vertex
  std::vector<std::array<std::uint32_t, 4>> edges_of_face;  // of those, in the quad's order
  std::vector<Triangle> triangles;
};
Whole make_whole(const Mould& mould);

// Places of all vertices from the half's. New vertices lie on the curved surface that the old ones
// and their normals tell of (the edge rule of PN triangles: Vlachos et al. 2001, from memory), so
// that the old ones stay where they are.
std::vector<Point> refined(const Whole& whole, const std::vector<Point>& half);
// The same for a value that is averaged.
std::vector<float> refined(const Whole& whole, const std::vector<float>& half);

}  // namespace phren::acoustics
