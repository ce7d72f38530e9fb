#pragma once
// Tubes against what they stand on and against each other: trimmed where they enter solids, posts and legs told from
// rails, truss members recognised, corners joined.

#include <array>
#include <limits>
#include <optional>
#include <vector>

#include "trace_impl.h"

namespace holdfast::rails::detail {

enum class RunKind { Rail, Post, Truss, Thick };
/// True of what rails may stand on, however thin.
[[nodiscard]] inline bool is_structure(RunKind kind) { return kind == RunKind::Truss || kind == RunKind::Thick; }

/// A piece of tube outside of solids.
struct Run {
  std::vector<Vec3> line;  ///< of a ring the last point is the first
  bool is_ring = false;
  double r = 0;
  std::array<bool, 2> on_body{};  ///< the end stands on structure
  std::array<bool, 2> on_tube{};  ///< the end touches another run
  std::array<EndKind, 2> ends{};
  RunKind kind = RunKind::Rail;
  std::size_t slants = 0;  ///< places where another run meets it slantwise
  bool has_post = false;   ///< a post or leg holds it
  std::vector<std::uint32_t> triangles;
};

/// What rails stand on: the mesh without some of its triangles.
class Body {
 public:
  Body(const TriangleMesh& mesh, const std::vector<bool>& is_left_out);
  [[nodiscard]] std::optional<geometry::TriangleHit> find_nearest(const Vec3& p, double cutoff_m) const {
    return tree_.find_nearest(p, cutoff_m);
  }
  [[nodiscard]] std::vector<double> find_crossings(const Vec3& a, const Vec3& b) const {
    return tree_.find_crossings(a, b);
  }
  /// By how often lines to the outside meet the surface, most of three; false near an open one.
  [[nodiscard]] bool is_inside(const Vec3& p) const;
  [[nodiscard]] Vec3 normal(std::uint32_t triangle) const;

 private:
  const TriangleMesh& mesh_;
  TriangleTree tree_;
  double size_ = 0;
};

/// The pieces of each tube that lie outside of solids.
[[nodiscard]] std::vector<Run> runs_of(const std::vector<Tube>& tubes, const Body& body);
/// Sets `on_body`; marks posts, and cuts the legs off bent runs.
void find_posts(std::vector<Run>& runs, const Body& body);
/// Marks runs that slanting ones meet at two places or more.
void find_truss_members(std::vector<Run>& runs);
/// Joins runs of kind Rail where just two ends meet, brings ends to the line of the run that they meet, closes rings;
/// sets `on_tube` and `has_post`.
void join(std::vector<Run>& runs);

[[nodiscard]] Vec3 tangent(const std::vector<Vec3>& line, std::size_t i, bool is_ring);

}  // namespace holdfast::rails::detail
