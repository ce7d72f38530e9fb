// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/geometry/triangle_tree.h"

#include <algorithm>
#include <numeric>

#include "bvh_impl.h"
#include "primitive_impl.h"

namespace holdfast::geometry {

struct TriangleTree::Impl {
  const TriangleMesh& mesh;
  std::vector<std::uint32_t> ids;
  detail::Bvh tree;

  Impl(const TriangleMesh& m, std::vector<std::uint32_t> only) : mesh(m), ids(std::move(only)) {
    std::vector<Bounds> boxes(ids.size());
    for (std::size_t i = 0; i < ids.size(); ++i)
      for (const auto v : mesh.triangles[ids[i]]) boxes[i].extend(mesh.vertices[v]);
    tree = detail::Bvh(boxes);
  }
  [[nodiscard]] detail::Triangle triangle(std::uint32_t t) const {
    const auto& c = mesh.triangles[t];
    return {{mesh.vertices[c[0]], mesh.vertices[c[1]], mesh.vertices[c[2]]}};
  }
};

TriangleTree::TriangleTree(const TriangleMesh& mesh) {
  std::vector<std::uint32_t> all(mesh.triangles.size());
  std::iota(all.begin(), all.end(), 0U);
  impl_ = std::make_unique<Impl>(mesh, std::move(all));
}
TriangleTree::TriangleTree(const TriangleMesh& mesh, const std::vector<std::uint32_t>& only)
    : impl_(std::make_unique<Impl>(mesh, only)) {}
TriangleTree::TriangleTree(TriangleTree&&) noexcept = default;
TriangleTree& TriangleTree::operator=(TriangleTree&&) noexcept = default;
TriangleTree::~TriangleTree() = default;

void TriangleTree::find_crossing(const Vec3& p, const Vec3& d, double radius_m, std::vector<std::uint32_t>& out) const {
  const double square = radius_m * radius_m;
  impl_->tree.any(
      [&](const detail::Bvh::Node& node) {
        if (detail::squared_distance(node, p) > square) return false;
        double middle = 0, half = 0;  // of the box, along d
        for (int a = 0; a < 3; ++a) {
          const auto i = static_cast<std::size_t>(a);
          const double low = static_cast<double>(node.min[i]), high = static_cast<double>(node.max[i]);
          middle += d[a] * ((low + high) / 2 - p[a]);
          half += std::abs(d[a]) * (high - low) / 2;
        }
        return std::abs(middle) <= half;
      },
      [&](std::uint32_t item) {
        const auto t = impl_->ids[item];
        const auto& c = impl_->mesh.triangles[t];
        int above = 0;
        for (const auto v : c) above += (impl_->mesh.vertices[v] - p).dot(d) >= 0 ? 1 : 0;
        if (above != 0 && above != 3) out.push_back(t);
        return false;
      });
}

void TriangleTree::find_near(const Vec3& a, const Vec3& b, double radius_m, std::vector<std::uint32_t>& out) const {
  Bounds box;
  box.extend(a), box.extend(b);
  impl_->tree.any(
      [&](const detail::Bvh::Node& node) { return detail::squared_distance(node, box) <= radius_m * radius_m; },
      [&](std::uint32_t item) {
        Bounds own;
        for (const auto v : impl_->mesh.triangles[impl_->ids[item]]) own.extend(impl_->mesh.vertices[v]);
        const Vec3 apart = (own.min - box.max).cwiseMax(box.min - own.max).cwiseMax(Vec3::Zero());
        if (apart.squaredNorm() <= radius_m * radius_m) out.push_back(impl_->ids[item]);
        return false;
      });
}

std::optional<TriangleHit> TriangleTree::find_first_hit(const Vec3& origin, const Vec3& direction, double max_m,
                                                        std::uint32_t skip) const {
  const Vec3 d = direction * max_m;
  const detail::SegmentSlabs slabs(origin, d);
  std::optional<TriangleHit> best;
  double limit = 1;
  impl_->tree.any([&](const detail::Bvh::Node& node) { return slabs.touches(node, limit); },
                  [&](std::uint32_t item) {
                    const auto t = impl_->ids[item];
                    if (t == skip) return false;
                    const auto at = detail::first_touch(impl_->triangle(t), origin, d);
                    if (at && (*at < limit || (*at == limit && (!best || t < best->triangle)))) {
                      limit = *at;
                      best = TriangleHit{t, *at * max_m, origin + *at * d};
                    }
                    return false;
                  });
  return best;
}

std::vector<double> TriangleTree::find_crossings(const Vec3& a, const Vec3& b) const {
  const Vec3 d = b - a;
  const detail::SegmentSlabs slabs(a, d);
  std::vector<double> found;
  impl_->tree.any([&](const detail::Bvh::Node& node) { return slabs.touches(node, 1); },
                  [&](std::uint32_t item) {
                    if (const auto at = detail::first_touch(impl_->triangle(impl_->ids[item]), a, d))
                      found.push_back(*at);
                    return false;
                  });
  std::sort(found.begin(), found.end());
  return found;
}

std::optional<TriangleHit> TriangleTree::find_nearest(const Vec3& p, double cutoff_m) const {
  std::optional<TriangleHit> best;
  double limit = cutoff_m * cutoff_m;
  impl_->tree.nearest_first([&](const detail::Bvh::Node& node) { return detail::squared_distance(node, p); },
                            [&](std::uint32_t item) {
                              const auto t = impl_->ids[item];
                              const Vec3 q = closest_point(impl_->mesh, t, p);
                              const double square = (q - p).squaredNorm();
                              if (square < limit || (square == limit && (!best || t < best->triangle))) {
                                limit = square;
                                best = TriangleHit{t, std::sqrt(square), q};
                              }
                            },
                            [&] { return limit; });
  return best;
}

Vec3 closest_point(const TriangleMesh& mesh, std::uint32_t triangle, const Vec3& p) {
  const auto& c = mesh.triangles[triangle];
  return detail::closest_on_triangle(mesh.vertices[c[0]], mesh.vertices[c[1]], mesh.vertices[c[2]], p);
}

}  // namespace holdfast::geometry
