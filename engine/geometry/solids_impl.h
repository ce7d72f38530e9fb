// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// A set of primitives with closed shells among them, and all queries on it. A scene is one such set; so is each of its
// parts.

#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <vector>

#include "bvh_impl.h"
#include "gjk_impl.h"
#include "holdfast/model/ids.h"
#include "primitive_impl.h"

namespace holdfast::geometry::detail {

/// A closed mesh: the range of its triangles among the primitives, for telling inside from outside.
struct ClosedShell {
  model::PartId part;
  Bounds bounds;
  std::vector<Triangle> triangles;
  Bvh hierarchy;
  double deepest_m = 0;  ///< no point inside is farther than this from the surface
};

class Solids {
 public:
  /// `slack_m`: what is taken off the distance to each primitive's piece (the chord error of dishes).
  void add(const Primitive& primitive, model::PartId part, double slack_m = 0) {
    primitives_.push_back(primitive);
    parts_.push_back(part);
    slacks_.push_back(static_cast<float>(slack_m));
    most_slack_ = std::max(most_slack_, slack_m);
  }
  void add(std::shared_ptr<const ClosedShell> shell) { shells_.push_back(std::move(shell)); }
  void reserve(std::size_t more);
  /// `hierarchy`: over all primitives, where it is known already.
  void finish(std::optional<Bvh> hierarchy = std::nullopt);

  /// How far things were added: two of them are what was added between.
  struct Extent {
    std::size_t primitives = 0, shells = 0;
    friend bool operator==(const Extent&, const Extent&) = default;
  };
  [[nodiscard]] Extent extent() const { return {primitives_.size(), shells_.size()}; }
  /// What was added between the two, by itself, finished. `hierarchy`: over its primitives, where it is known already.
  [[nodiscard]] Solids between(const Extent& from, const Extent& to, std::optional<Bvh> hierarchy) const;

  [[nodiscard]] std::size_t size() const { return primitives_.size(); }
  [[nodiscard]] const Bounds& bounds() const { return bounds_; }
  [[nodiscard]] const Bvh& hierarchy() const { return hierarchy_; }

  struct Found {
    double distance;
    Vec3 point;
    model::PartId part;
  };
  /// Nothing when no piece is within the cutoff.
  [[nodiscard]] std::optional<Found> find_nearest(const Vec3& p, double cutoff) const;
  [[nodiscard]] std::optional<Found> find_first_touch(const Vec3& from,
                                                      const Vec3& step) const;  ///< distance = t in [0, 1]
  [[nodiscard]] bool is_touched(const Vec3& from, const Vec3& step) const;
  [[nodiscard]] std::optional<Found> find_nearest_to_hull(std::span<const Vec3> points, double cutoff,
                                                          double tolerance) const;
  [[nodiscard]] const ClosedShell* find_shell_around(const Vec3& p, double farther_than) const;

 private:
  std::vector<Primitive> primitives_;
  std::vector<model::PartId> parts_;
  std::vector<float> slacks_;
  std::vector<std::shared_ptr<const ClosedShell>> shells_;
  Bvh hierarchy_;
  Bvh shell_hierarchy_;
  Bounds bounds_;
  double most_slack_ = 0;
  double deepest_shell_ = 0;
};

}  // namespace holdfast::geometry::detail
