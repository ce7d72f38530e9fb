// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Plane sections of a triangle soup near a point.

#include <Eigen/Geometry>
#include <optional>
#include <vector>

#include "holdfast/geometry/triangle_tree.h"

namespace holdfast::rails::detail {

using geometry::TriangleMesh;
using geometry::TriangleTree;
using geometry::Vec3;
using Vec2 = Eigen::Vector2d;

struct Section {
  Vec3 centre = Vec3::Zero();
  double r_max = 0;  ///< farthest point of the outline from the centre
  double area = 0;   ///< enclosed; 0 where the outline does not close
  bool is_closed = false;
};

struct Outline {
  std::vector<Vec2> points;  ///< ends of the outline's pieces, from the centre, in the plane's axes u and v
  Vec3 u = Vec3::UnitX(), v = Vec3::UnitY();
};

/// What a plane finds near a point.
enum class Met { Nothing, Wide, Tube };

struct Cut {
  Met met = Met::Nothing;
  Section section;  ///< of a tube
};

/// How a section is asked for.
struct Aim {
  Vec3 at;
  Vec3 along;               ///< unit
  double r_expected = 0;    ///< 0: not known
  double r_most = 0.1;      ///< a larger one is wide
  double most_aside_m = 0;  ///< farthest that its centre may lie from `at`
};

/// Cuts a welded mesh. Holds scratch space: one a thread.
class Slicer {
 public:
  /// Keeps references, which must outlive it.
  Slicer(const TriangleMesh& mesh, const TriangleTree& tree) : mesh_(mesh), tree_(tree) {}
  /// The outline nearest to the aim that is as large as expected.
  [[nodiscard]] Cut cut(const Aim& aim, Outline* outline = nullptr);

 private:
  struct Piece {
    std::uint64_t edge_a, edge_b;
    Vec2 a, b;
    std::uint32_t group;
  };
  const TriangleMesh& mesh_;
  const TriangleTree& tree_;
  std::vector<std::uint32_t> triangles_;
  std::vector<Piece> pieces_;
  std::vector<std::pair<std::uint64_t, std::uint32_t>> ends_;
  std::vector<std::uint32_t> parent_;
  std::vector<Vec2> loose_;
};

}  // namespace holdfast::rails::detail
