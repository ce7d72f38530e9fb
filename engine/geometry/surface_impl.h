// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// A surface's triangles with their shells, and the pieces cut from it for patches.

#include <cstdint>
#include <span>
#include <vector>

#include "bvh_impl.h"
#include "holdfast/geometry/surface_way.h"

namespace holdfast::geometry {

struct Surface::Impl {
  TriangleMesh mesh;                 // the shells one after another, each with vertices of its own
  std::vector<std::uint32_t> shell;  // of each triangle
  std::size_t shells = 0;
  double chord_error_m = 0;
  detail::Bvh hierarchy;
};

namespace detail {

/// Triangles taken from a surface.
struct Cut {
  TriangleMesh mesh;
  std::vector<std::uint32_t> shell;  // of each triangle
};
[[nodiscard]] Cut cut_all(const Surface::Impl& surface);
/// Whole triangles that come within the ball.
[[nodiscard]] Cut cut_ball(const Surface::Impl& surface, const PatchArea& area);

}  // namespace detail

}  // namespace holdfast::geometry
