// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Tubes against what they stand on and against each other: trimmed where they enter solids, posts and legs told from
// rails, truss members recognised, corners joined.

#include <algorithm>
#include <array>
#include <limits>
#include <optional>
#include <unordered_map>
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
  bool is_frame = false;         ///< a member of a truss, whatever its kind: thick chords too
  std::size_t slants = 0;        ///< places where another run meets it slantwise
  bool is_in_solid = false;      ///< all of it lies inside of a closed body
  bool is_side_unclear = false;  ///< it goes through an open surface
  bool stands_alone = false;     ///< a post that holds no rail
  bool has_post = false;         ///< a post or leg holds it
  std::vector<Vec3> stands;      ///< up each post that ends at it
  std::vector<std::uint32_t> triangles;
};

/// Away from the run, over the last `base_m` of that end.
[[nodiscard]] Vec3 end_direction(const Run& run, int which, double base_m = 0.06);

/// Of a place: in a closed body or not, or on one side of an open surface.
enum class Side { Outside, Inside, Unclear };

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
  /// By how often lines to the outside meet the surface, most of three; near an open one it may be wrong.
  [[nodiscard]] bool is_inside(const Vec3& p) const;
  /// Unclear where it is inside only because open surfaces count. `closed` is of `find_closed`.
  [[nodiscard]] Side side_of(const Vec3& p, const std::optional<TriangleTree>& closed) const;
  [[nodiscard]] Vec3 normal(std::uint32_t triangle) const;

  /// Triangles of a round or square bar with its middle line: what stands on a bar stands off its middle, not off a
  /// facet or an edge.
  void add_bar(const std::vector<std::uint32_t>& triangles, std::vector<Vec3> line);
  /// Nothing for what is no such bar.
  [[nodiscard]] const std::vector<Vec3>* find_bar(std::uint32_t triangle) const;

 private:
  const TriangleMesh& mesh_;
  TriangleTree tree_;
  double size_ = 0;
  std::vector<std::vector<Vec3>> bars_;
  std::unordered_map<std::uint32_t, std::size_t> bar_of_;
};

/// The triangles of closed pieces, without those left out; nothing where no piece is open.
[[nodiscard]] std::optional<TriangleTree> find_closed(const Prepared& prepared, const std::vector<bool>& is_left_out);

/// The pieces of each tube that lie outside of solids; of one that has none, all of it, as what lies in a solid. Where
/// it goes through an open surface it is kept, but for feet.
[[nodiscard]] std::vector<Run> runs_of(const std::vector<Tube>& tubes, const Body& body,
                                       const std::optional<TriangleTree>& closed);
/// Sets `on_body`; marks posts, and cuts the legs off bent runs.
void find_posts(std::vector<Run>& runs, const Body& body);
/// Marks runs that lie in the plane of a thin plate into which others run from another direction. `is_bar`: of each
/// triangle, whether it belongs to a bar, which has no plate in it.
void find_plated_members(std::vector<Run>& runs, const Prepared& prepared, const std::vector<bool>& is_bar);
/// Marks runs that slanting ones meet at two places or more, and what runs between such.
void find_truss_members(std::vector<Run>& runs);
/// Straight runs too thick for a glove of which one end holds a longer rail crosswise.
[[nodiscard]] std::vector<std::size_t> find_thick_posts(const std::vector<Run>& runs);
/// True where an end is in or near structure; `body` is without the post.
[[nodiscard]] bool stands_on(const Run& post, const Body& body);
/// Sets `stands_alone` of posts that come to no rail and to no post of one.
void find_lone_posts(std::vector<Run>& runs);
/// Sets `has_post` and `stands` of what posts hold.
void mark_held(std::vector<Run>& runs);
/// After `mark_held`: bars that no post holds and that end on members of a truss, or slantwise in one node with others
/// of their kind, are members too.
void find_unheld_members(std::vector<Run>& runs);
/// Joins runs of kind Rail where just two ends meet, brings ends to the line of the run that they meet, closes rings;
/// sets `on_tube` and `has_post`.
void join(std::vector<Run>& runs);

/// Calls `meet(i, k)`, i < k, for all pairs of runs that come within `margin_m` of each other's box.
template <class Meet>
void for_each_pair(const std::vector<Run>& runs, double margin_m, Meet&& meet) {
  struct Box {
    geometry::Bounds bounds;
    std::size_t run;
  };
  std::vector<Box> boxes;
  for (std::size_t i = 0; i < runs.size(); ++i) {
    Box box{{}, i};
    for (const auto& p : runs[i].line) box.bounds.extend(p);
    const Vec3 grown = Vec3::Constant(runs[i].r * 2 + margin_m);
    box.bounds.min -= grown, box.bounds.max += grown;
    boxes.push_back(box);
  }
  std::sort(boxes.begin(), boxes.end(), [](const Box& x, const Box& y) {
    return x.bounds.min.x() != y.bounds.min.x() ? x.bounds.min.x() < y.bounds.min.x() : x.run < y.run;
  });
  for (std::size_t a = 0; a < boxes.size(); ++a)
    for (std::size_t b = a + 1; b < boxes.size() && boxes[b].bounds.min.x() <= boxes[a].bounds.max.x(); ++b) {
      const auto &x = boxes[a].bounds, &y = boxes[b].bounds;
      if ((x.min.array() > y.max.array()).any() || (y.min.array() > x.max.array()).any()) continue;
      meet(std::min(boxes[a].run, boxes[b].run), std::max(boxes[a].run, boxes[b].run));
    }
}

/// How near the end of one run must come to the line of another to touch it: the section of a joint widens before it.
[[nodiscard]] inline double touch_m(const Run& line, const Run& end) { return 1.3 * line.r + end.r + 0.01; }
[[nodiscard]] inline Vec3 end_of(const Run& run, int which) { return which == 0 ? run.line.front() : run.line.back(); }

[[nodiscard]] Vec3 tangent(const std::vector<Vec3>& line, std::size_t i, bool is_ring);

}  // namespace holdfast::rails::detail
