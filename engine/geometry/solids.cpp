// SPDX-License-Identifier: GPL-3.0-or-later
#include "solids_impl.h"

namespace holdfast::geometry::detail {

void Solids::reserve(std::size_t more) {
  primitives_.reserve(primitives_.size() + more);
  parts_.reserve(parts_.size() + more);
  slacks_.reserve(slacks_.size() + more);
}

Solids Solids::between(const Extent& from, const Extent& to, std::optional<Bvh> hierarchy) const {
  Solids some;
  some.reserve(to.primitives - from.primitives);
  for (std::size_t i = from.primitives; i < to.primitives; ++i)
    some.add(primitives_[i], parts_[i], static_cast<double>(slacks_[i]));
  for (std::size_t i = from.shells; i < to.shells; ++i) some.add(shells_[i]);
  some.finish(std::move(hierarchy));
  return some;
}

void Solids::finish(std::optional<Bvh> hierarchy) {
  std::vector<Bounds> boxes(hierarchy ? 0 : primitives_.size());
  for (std::size_t i = 0; i < primitives_.size(); ++i) {
    const Bounds box = bounds_of(primitives_[i]);
    bounds_.extend(box.min), bounds_.extend(box.max);
    if (!hierarchy) boxes[i] = box;
  }
  hierarchy_ = hierarchy ? std::move(*hierarchy) : Bvh(boxes);
  std::vector<Bounds> shell_boxes;
  for (const auto& shell : shells_) {
    shell_boxes.push_back(shell->bounds);
    deepest_shell_ = std::max(deepest_shell_, shell->deepest_m);
  }
  shell_hierarchy_ = Bvh(shell_boxes);
}

namespace {

/// Inside by counting crossings along three fixed directions, by majority: a ray through an edge may miscount, not two
/// of three.
bool is_inside(const ClosedShell& shell, const Vec3& p) {
  static const std::array<Vec3, 3> directions = {Vec3(0.5773, 0.5772, 0.5777).normalized(),
                                                 Vec3(-0.2113, 0.8471, -0.4877).normalized(),
                                                 Vec3(0.7071, -0.3217, -0.6297).normalized()};
  const double far = 2 * (shell.bounds.max - shell.bounds.min).norm();
  int votes = 0;
  for (const auto& direction : directions) {
    const Vec3 step = far * direction;
    const SegmentSlabs slabs(p, step);
    int crossings = 0;
    shell.hierarchy.any([&](const Bvh::Node& node) { return slabs.touches(node, 1); },
                        [&](std::uint32_t item) {
                          crossings += first_touch(shell.triangles[item], p, step).has_value() ? 1 : 0;
                          return false;
                        });
    votes += crossings % 2;
  }
  return votes >= 2;
}

bool contains(const Bounds& box, const Vec3& p) {
  return (p.array() >= box.min.array()).all() && (p.array() <= box.max.array()).all();
}

bool node_contains(const Bvh::Node& node, const Vec3& p) { return squared_distance(node, p) == 0; }

/// How far boxes lie beside a hull along directions other than those of the coordinates: a slanted arm or the rays from
/// an eye to a patch fill little of their own box.
class HullAxes {
 public:
  explicit HullAxes(std::span<const Vec3> points) : points_(points) {
    const Vec3& apex = points.front();
    Vec3 along = Vec3::Zero();
    for (const auto& p : points) along += p - apex;
    for (int k = 0; k < 3; ++k) add(along.cross(Vec3::Unit(k)));
    for (std::size_t i = 1; i < points.size() && count_ < axes_.size(); ++i)
      for (std::size_t j = i + 1; j < points.size() && count_ < axes_.size(); ++j)
        add((points[i] - apex).cross(points[j] - apex));
  }
  /// True where no point of the node's box is within the limit of the hull: a gap along any one direction shows it.
  [[nodiscard]] bool is_beyond(const Bvh::Node& node, double limit) const {
    Vec3 middle, half;
    for (int k = 0; k < 3; ++k) {
      const auto i = static_cast<std::size_t>(k);
      const double low = static_cast<double>(node.min[i]), high = static_cast<double>(node.max[i]);
      middle[k] = (low + high) / 2, half[k] = (high - low) / 2;
    }
    for (std::size_t a = 0; a < count_; ++a) {
      const auto& axis = axes_[a];
      const double at = axis.direction.dot(middle), wide = axis.direction.cwiseAbs().dot(half);
      if (std::max(axis.low - at, at - axis.high) - wide - rounding_m > limit) return true;
    }
    return false;
  }
  [[nodiscard]] bool is_beyond(const Triangle& triangle, double limit) const {
    for (std::size_t a = 0; a < count_; ++a) {
      const auto& axis = axes_[a];
      const double p = axis.direction.dot(triangle.corner[0]), q = axis.direction.dot(triangle.corner[1]),
                   r = axis.direction.dot(triangle.corner[2]);
      if (std::max(axis.low - std::max({p, q, r}), std::min({p, q, r}) - axis.high) - rounding_m > limit) return true;
    }
    return false;
  }

 private:
  struct Axis {
    Vec3 direction;
    double low, high;  // of the hull along it
  };
  void add(const Vec3& direction) {
    const double length = direction.norm();
    if (count_ == axes_.size() || length < 1e-9) return;
    const Vec3 unit = direction / length;
    for (std::size_t a = 0; a < count_; ++a)
      if (std::abs(axes_[a].direction.dot(unit)) > 1 - 1e-6) return;
    Axis axis{unit, std::numeric_limits<double>::infinity(), -std::numeric_limits<double>::infinity()};
    for (const auto& p : points_)
      axis.low = std::min(axis.low, unit.dot(p)), axis.high = std::max(axis.high, unit.dot(p));
    axes_[count_++] = axis;
  }
  static constexpr double rounding_m = 1e-9;
  std::span<const Vec3> points_;
  std::array<Axis, 9> axes_;
  std::size_t count_ = 0;
};

}  // namespace

const ClosedShell* Solids::find_shell_around(const Vec3& p, double farther_than) const {
  if (farther_than > deepest_shell_) return nullptr;
  const ClosedShell* around = nullptr;
  shell_hierarchy_.any([&](const Bvh::Node& node) { return node_contains(node, p); },
                       [&](std::uint32_t item) {
                         const ClosedShell& shell = *shells_[item];
                         if (shell.deepest_m < farther_than || !contains(shell.bounds, p) || !is_inside(shell, p))
                           return false;
                         around = &shell;
                         return true;
                       });
  return around;
}

std::optional<Solids::Found> Solids::find_nearest(const Vec3& p, double cutoff) const {
  double best = cutoff + most_slack_;
  std::optional<Found> found;
  double limit_squared = best * best;
  hierarchy_.nearest_first([&](const Bvh::Node& node) { return squared_distance(node, p); },
                           [&](std::uint32_t item) {
                             const Closest c = closest(primitives_[item], p);
                             const double d = std::max(0.0, c.distance - static_cast<double>(slacks_[item]));
                             if (d > cutoff || (found && d >= found->distance)) return;
                             found = Found{d, c.point, parts_[item]};
                             best = d + most_slack_;
                             limit_squared = best * best;
                           },
                           [&] { return found && found->distance == 0 ? -1.0 : limit_squared; });
  const double outside = found ? found->distance : cutoff;
  if (outside > 0)
    if (const auto* shell = find_shell_around(p, outside)) return Found{0, p, shell->part};
  return found;
}

std::optional<Solids::Found> Solids::find_first_touch(const Vec3& from, const Vec3& step) const {
  if (const auto* shell = find_shell_around(from, 0)) return Found{0, from, shell->part};
  const SegmentSlabs slabs(from, step);
  double best = 1;
  std::optional<Found> found;
  hierarchy_.any([&](const Bvh::Node& node) { return slabs.touches(node, best); },
                 [&](std::uint32_t item) {
                   if (const auto t = first_touch(primitives_[item], from, step); t && (!found || *t < best)) {
                     best = *t;
                     found = Found{*t, from + *t * step, parts_[item]};
                   }
                   return false;
                 });
  return found;
}

bool Solids::is_touched(const Vec3& from, const Vec3& step) const {
  const SegmentSlabs slabs(from, step);
  return hierarchy_.any([&](const Bvh::Node& node) { return slabs.touches(node, 1); },
                        [&](std::uint32_t item) { return first_touch(primitives_[item], from, step).has_value(); }) ||
         find_shell_around(from, 0) != nullptr;
}

std::optional<Solids::Found> Solids::find_nearest_to_hull(std::span<const Vec3> points, double cutoff,
                                                          double tolerance) const {
  Bounds box;
  for (const auto& p : points) box.extend(p);
  std::optional<Found> found;
  double limit_squared = (cutoff + most_slack_) * (cutoff + most_slack_);
  // Most questions end at the boxes along the coordinates: the axes are found when they are first asked.
  std::optional<HullAxes> axes;
  const auto is_beyond = [&](const auto& what) {
    if (!axes) axes.emplace(points);
    return axes->is_beyond(what, std::sqrt(limit_squared));
  };
  const auto box_distance = [&](const Bvh::Node& node) {
    const double square = squared_distance(node, box);
    return square <= limit_squared && is_beyond(node) ? std::numeric_limits<double>::infinity() : square;
  };
  hierarchy_.nearest_first(
      box_distance,
      [&](std::uint32_t item) {
        const auto* triangle = std::get_if<Triangle>(&primitives_[item]);
        if (triangle && is_beyond(*triangle)) return;
        const double best = found ? found->distance : cutoff;
        const auto gjk = std::visit(
            [&](const auto& shape) {
              return hull_distance(
                  points, [&](const Vec3& direction) { return support(shape, direction); }, best + most_slack_,
                  tolerance);
            },
            primitives_[item]);
        const double d = std::max(0.0, gjk.lower_m - static_cast<double>(slacks_[item]));
        if (d > cutoff || (found && d >= found->distance)) return;
        found = Found{d, gjk.on_body, parts_[item]};
        limit_squared = (d + most_slack_) * (d + most_slack_);
      },
      [&] { return found && found->distance == 0 ? -1.0 : limit_squared; });
  if (!found || found->distance > 0)
    if (const auto* shell = find_shell_around(points[0], found ? found->distance : cutoff))
      return Found{0, points[0], shell->part};
  return found;
}

}  // namespace holdfast::geometry::detail
