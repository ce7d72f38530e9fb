// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/tether/slide.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numbers>
#include <utility>

#include "holdfast/tether/taut.h"

namespace holdfast::tether {

using geometry::Scene;
using model::PartId;

namespace {

constexpr double pi = std::numbers::pi;

/// Where the strands of a loop cannot be drawn together any farther.
struct Apart {
  LoopSlide slide;
  std::vector<Vec3> left;  ///< of the loop, once its beginning is drawn together
};

/// A ladder from one strand to the other is carried along both from where the loop is closed, by the shortest rungs, as
/// a line under tension closes up; each triangle that it sweeps must be clear. Where it gets to the end the loop
/// shrinks to nothing over free space. Where it does not, structure lies between the strands. (Rungs of any length
/// would pass over the end of what the loop floats round, on to which it is drawn first.)
Apart draw_together(const Scene& scene, std::span<const Vec3> loop) {
  Apart apart;
  std::size_t i = 0, j = loop.size() - 1;
  while (i + 1 < j) {
    const auto blocks = [&](const Vec3& foot) {
      return scene.find_nearest_to_hull(std::array{loop[i], loop[j], foot}, line_clear_m / 2);
    };
    const bool i_is_shorter = (loop[i + 1] - loop[j]).norm() <= (loop[i] - loop[j - 1]).norm();
    const auto near = blocks(i_is_shorter ? loop[i + 1] : loop[j - 1]);
    const auto other = near ? blocks(i_is_shorter ? loop[j - 1] : loop[i + 1]) : std::nullopt;
    if (near && other) {
      apart.slide.is_apart = true;
      apart.slide.at = near->point;
      apart.slide.between = {near->part};
      if (other->part != near->part) apart.slide.between.push_back(other->part);
      break;
    }
    if (i_is_shorter != near.has_value())
      ++i;
    else
      --j;
  }
  const auto left = loop.subspan(i, j + 1 - i);
  apart.left.assign(left.begin(), left.end());
  return apart;
}

/// Twice the area that a loop goes round, as a vector.
Vec3 area_of(std::span<const Vec3> loop) {
  Vec3 middle = Vec3::Zero(), area = Vec3::Zero();
  for (const Vec3& p : loop) middle += p / static_cast<double>(loop.size());
  for (std::size_t i = 0; i < loop.size(); ++i) area += (loop[i] - middle).cross(loop[(i + 1) % loop.size()] - middle);
  return area;
}

/// Off a part in one direction, `up`, along its surface.
struct SlideOff {
  Vec3 up = Vec3::UnitZ();
  double most_m = 0;
  double lowest_m = 0;  ///< along `up`: nothing of the part below this is slid over
};

/// The directions in which a loop comes off one part of convex hull, in that part's frame. Where it is pulled to counts
/// as a point of it: nothing slides off at the far end.
class DirectionsOff {
 public:
  DirectionsOff(std::vector<Vec3> loop, const Vec3& pulled_to) : area_(area_of(loop)), loop_(std::move(loop)) {
    loop_.push_back(pulled_to);
  }

  std::vector<SlideOff> operator()(const model::Box& box) {
    add_sides(box.center, box.size);
    return std::move(all_);
  }
  std::vector<SlideOff> operator()(const model::Panel& panel) {
    add_sides(Vec3::Zero(), {panel.size.x(), panel.size.y(), panel.thickness});
    return std::move(all_);
  }
  std::vector<SlideOff> operator()(const model::Cylinder& c) {
    const Vec3 axis = (c.to - c.from).normalized();
    add_straight(axis, axis.dot(c.from), axis.dot(c.to), 1);
    add_straight(-axis, -axis.dot(c.to), -axis.dot(c.from), 1);
    return std::move(all_);
  }
  std::vector<SlideOff> operator()(const model::Cone& c) {
    // A loop that is pulled goes to the narrow end.
    const bool is_to = c.radius_to < c.radius_from;
    const Vec3 wide = is_to ? c.from : c.to, narrow = is_to ? c.to : c.from;
    const double height = (narrow - wide).norm();
    const Vec3 axis = (narrow - wide) / height;
    add_straight(axis, axis.dot(wide), axis.dot(narrow), std::hypot(height, c.radius_to - c.radius_from) / height);
    return std::move(all_);
  }
  std::vector<SlideOff> operator()(const model::Sphere& ball) {
    std::vector<Vec3> out;
    // A cap smaller than half the ball holds what lies between two points on it; for others the pieces are short.
    const double spacing_m = 0.01 * ball.radius;
    for (std::size_t i = 0; i < loop_.size(); ++i) {
      const Vec3 &a = loop_[i], &b = loop_[(i + 1) % loop_.size()];
      const int n = std::max(1, static_cast<int>(std::ceil((b - a).norm() / spacing_m)));
      for (int k = 0; k < n; ++k)
        out.push_back((a + (b - a) * (static_cast<double>(k) / n) - ball.center).normalized());
    }
    const auto angle_to = [&](const Vec3& middle) {
      double least = 1;
      for (const Vec3& u : out) least = std::min(least, middle.dot(u));
      return std::acos(std::clamp(least, -1.0, 1.0));
    };
    Vec3 best = Vec3::UnitZ();
    double angle = pi;
    const auto look_at = [&](const Vec3& middle) {
      if (const double a = angle_to(middle); a < angle) angle = a, best = middle;
    };
    if (area_.norm() > 1e-12) look_at(area_.normalized()), look_at(-area_.normalized());
    // The least enclosing cap, toward the farthest point by ever smaller steps (Badoiu and Clarkson, 2003).
    Vec3 middle = best;
    for (int k = 1; k <= 200; ++k) {
      const Vec3* farthest = &out.front();
      for (const Vec3& u : out)
        if (middle.dot(u) < middle.dot(*farthest)) farthest = &u;
      middle += (*farthest - middle) / (k + 1.0);
      if (middle.norm() < 1e-6) break;
      look_at(middle.normalized());
    }
    constexpr double nearly_all = pi - 0.05;
    if (angle > nearly_all) return {};
    const double radius = ball.radius + line_clear_m;
    // Landing may be lower than the loop is, where that is below the middle.
    const double lowest = std::min(lowest_of(best), best.dot(ball.center) + radius * std::cos(angle));
    all_.push_back({best, radius * angle + (angle > pi / 2 ? spacing_m / 2 : 0), lowest});
    return std::move(all_);
  }
  std::vector<SlideOff> operator()(const model::Dish& dish) {
    // The back alone is a hull's: what reaches into the bowl is not slid along it.
    double most_r = 0;
    for (const Vec3& p : loop_) {
      if (p.z() > dish.depth) return {};
      const double r = dish.radius * std::sqrt(std::max(0.0, p.z() + dish.thickness) / dish.depth);
      const double inner = dish.radius * std::sqrt(std::max(0.0, p.z()) / dish.depth);
      if (std::hypot(p.x(), p.y()) < inner) return {};
      most_r = std::max(most_r, r);
    }
    // Arc of z = r^2 / 4f from the vertex.
    const double s = 2 * dish.depth * most_r / (dish.radius * dish.radius);
    const double arc = most_r == 0 ? 0 : most_r / (2 * s) * (s * std::hypot(1.0, s) + std::asinh(s));
    all_.push_back({-Vec3::UnitZ(), arc, lowest_of(-Vec3::UnitZ())});
    return std::move(all_);
  }
  std::vector<SlideOff> operator()(const model::Truss&) { return {}; }
  std::vector<SlideOff> operator()(const model::MeshFile&) { return {}; }

 private:
  [[nodiscard]] double lowest_of(const Vec3& up) const {
    double low = std::numeric_limits<double>::infinity();
    for (const Vec3& p : loop_) low = std::min(low, up.dot(p));
    return low;
  }
  /// Up the sides of a body whose sides lean inward alike, all round, by `slant` per metre of height.
  void add_straight(const Vec3& up, double bottom, double top, double slant) {
    const double low = lowest_of(up);
    if (low < bottom) return;  // it also goes round the bottom
    all_.push_back({up, std::max(0.0, top + line_clear_m - low) * slant, low});
  }
  void add_sides(const Vec3& center, const Vec3& size) {
    for (int axis = 0; axis < 3; ++axis)
      for (const double sense : {1.0, -1.0}) {
        const Vec3 up = sense * Vec3::Unit(axis);
        const double middle = up.dot(center), half = size[axis] / 2;
        add_straight(up, middle - half, middle + half, 1);
      }
  }

  Vec3 area_;
  std::vector<Vec3> loop_;
  std::vector<SlideOff> all_;
};

/// Do the hulls of two sets keep apart by more than `by_m`? Gilbert's method (1966) for the point of their difference
/// that is nearest to the origin; false where that is not settled soon.
bool are_apart(std::span<const Vec3> a, std::span<const Vec3> b, double by_m) {
  const auto support = [](std::span<const Vec3> set, const Vec3& along) -> const Vec3& {
    return *std::max_element(set.begin(), set.end(),
                             [&](const Vec3& x, const Vec3& y) { return along.dot(x) < along.dot(y); });
  };
  Vec3 nearest = a.front() - b.front();
  for (int step = 0; step < 200; ++step) {
    const double length = nearest.norm();
    if (length <= by_m) return false;
    const Vec3 toward = -nearest / length;
    const Vec3 extreme = support(a, toward) - support(b, -toward);
    if (-toward.dot(extreme) > by_m) return true;
    const Vec3 edge = extreme - nearest;
    const double squared = edge.squaredNorm();
    if (squared < 1e-18) return false;
    nearest += std::clamp(-nearest.dot(edge) / squared, 0.0, 1.0) * edge;
  }
  return false;
}

/// The loop and the part above a height, as corners of a hull.
std::vector<Vec3> slid_over(std::span<const Vec3> loop, const geometry::TriangleMesh& mesh, const SlideOff& off) {
  std::vector<Vec3> corners(loop.begin(), loop.end());
  for (const Vec3& v : mesh.vertices)
    if (off.up.dot(v) >= off.lowest_m) corners.push_back(v);
  for (const auto& face : mesh.triangles)
    for (std::size_t k = 0; k < 3; ++k) {
      const Vec3 &p = mesh.vertices[face[k]], &q = mesh.vertices[face[(k + 1) % 3]];
      const double from = off.up.dot(p) - off.lowest_m, to = off.up.dot(q) - off.lowest_m;
      if (from < 0 && to > 0) corners.push_back(p + (q - p) * (from / (from - to)));
    }
  return corners;
}

bool is_all_else_out_of(const Scene& scene, PartId part, std::span<const Vec3> region) {
  // Of meshes that are drawn within a millimetre of what they stand for.
  constexpr double mesh_m = 0.001;
  geometry::Bounds bounds;
  for (const Vec3& p : region) bounds.extend(p);
  for (std::size_t i = 0; i < scene.structure().parts.size(); ++i) {
    if (PartId(i) == part) continue;
    const Vec3 middle = (bounds.min + bounds.max) / 2;
    const double reach_m = (bounds.max - bounds.min).norm() / 2 + mesh_m;
    if (scene.distance_to_part(PartId(i), middle, 2 * reach_m) > reach_m) continue;
    const auto mesh = scene.part_mesh(PartId(i));
    if (!mesh.vertices.empty() && !are_apart(mesh.vertices, region, mesh_m)) return false;
  }
  return true;
}

}  // namespace

LoopSlide find_slide(const Scene& scene, std::span<const Vec3> loop) {
  Apart apart = draw_together(scene, loop);
  if (apart.slide.between.size() != 1) return apart.slide;
  const PartId part = apart.slide.between.front();
  const auto& structure = scene.structure();
  const model::Pose pose = structure.pose(part, scene.configuration());
  const model::Pose inward = pose.inverse();
  std::vector<Vec3> local;
  for (const Vec3& p : apart.left) local.push_back(inward * p);
  auto directions =
      std::visit(DirectionsOff(std::move(local), inward * loop.front()), structure.parts[part.index()].shape);
  if (directions.empty()) return apart.slide;
  std::sort(directions.begin(), directions.end(),
            [](const SlideOff& x, const SlideOff& y) { return x.most_m < y.most_m; });
  const auto mesh = scene.part_mesh(part);
  for (SlideOff& off : directions) {
    off.up = pose.linear() * off.up;
    off.lowest_m += off.up.dot(pose.translation());
    if (!is_all_else_out_of(scene, part, slid_over(apart.left, mesh, off))) continue;
    apart.slide.most_m = off.most_m;
    break;
  }
  return apart.slide;
}

}  // namespace holdfast::tether
