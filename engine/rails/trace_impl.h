// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Tubes of a mesh: followed section by section from the middle of thin places, both ways, until the section ends.

#include <array>
#include <vector>

#include "section_impl.h"

namespace holdfast::rails::detail {

struct Sample {
  Vec3 at = Vec3::Zero();
  double r_max = 0;
};

enum class EndKind { Free, Widens };  ///< past it: nothing, or a section too large

struct Tube {
  std::vector<Sample> samples;  ///< along the centreline; of a ring the last is the first
  bool is_ring = false;
  std::array<EndKind, 2> ends{EndKind::Free, EndKind::Free};
  double r = 0;                          ///< median of r_max
  std::vector<std::uint32_t> triangles;  ///< that lie along it, ascending
  [[nodiscard]] Vec3 end(int which) const { return which == 0 ? samples.front().at : samples.back().at; }
};

/// A mesh made ready: welded by position, pieces told apart, normals outward as far as each piece's volume says.
struct Prepared {
  /// `is_searched`: of each triangle, whether it may belong to a rail.
  Prepared(const TriangleMesh& given, const std::vector<bool>& is_searched);
  Prepared(const Prepared&) = delete;
  Prepared& operator=(const Prepared&) = delete;
  ~Prepared() = default;

  TriangleMesh mesh;                  ///< without degenerate triangles
  std::vector<std::uint32_t> source;  ///< of each triangle: its number as given
  std::vector<std::uint32_t> piece;   ///< of each triangle
  std::vector<bool> is_searched;      ///< of each triangle: may belong to a rail
  std::vector<bool> is_open;          ///< of each triangle: its piece has an edge that no two triangles share
  TriangleTree tree;                  ///< over `mesh`
};

struct TraceLimits {
  double thickest_m = 0.12;  ///< what is thicker is not looked at
};
[[nodiscard]] std::vector<Tube> trace_tubes(const Prepared& prepared, const TraceLimits& limits);

/// Points of `line` kept so that none left out lies farther than `tolerance_m` from what stays (Douglas and Peucker,
/// Cartographica 10, 1973): indices, ascending.
[[nodiscard]] std::vector<std::size_t> simplify(const std::vector<Vec3>& line, double tolerance_m);
[[nodiscard]] double distance_to_line(const std::vector<Vec3>& line, const Vec3& p);
/// Nearest place on a polyline.
struct Foot {
  double distance_m = 0;
  double along_m = 0;
  std::size_t segment = 0;
  Vec3 point = Vec3::Zero();
};
[[nodiscard]] Foot foot_on_line(const std::vector<Vec3>& line, const Vec3& p);
[[nodiscard]] double length_of(const std::vector<Vec3>& line);
[[nodiscard]] std::vector<Vec3> points_of(const Tube& tube);

}  // namespace holdfast::rails::detail
