// SPDX-License-Identifier: GPL-3.0-or-later
#include <CGAL/AABB_traits.h>
#include <CGAL/AABB_tree.h>
#include <CGAL/AABB_triangle_primitive.h>
#include <CGAL/Simple_cartesian.h>

#include <cmath>
#include <vector>

#include "second_opinion.h"

namespace holdfast::support {

using Kernel = CGAL::Simple_cartesian<double>;
using Point = Kernel::Point_3;
using Iterator = std::vector<Kernel::Triangle_3>::const_iterator;
using Tree = CGAL::AABB_tree<CGAL::AABB_traits<Kernel, CGAL::AABB_triangle_primitive<Kernel, Iterator>>>;

struct CgalTree::Impl {
  std::vector<Kernel::Triangle_3> triangles;
  std::unique_ptr<Tree> tree;
};

namespace {
Point to_point(const Eigen::Vector3d& p) { return {p.x(), p.y(), p.z()}; }
}  // namespace

CgalTree::CgalTree(const geometry::TriangleMesh& mesh) : impl_(std::make_unique<Impl>()) {
  for (const auto& t : mesh.triangles)
    impl_->triangles.emplace_back(to_point(mesh.vertices[t[0]]), to_point(mesh.vertices[t[1]]),
                                  to_point(mesh.vertices[t[2]]));
  impl_->tree = std::make_unique<Tree>(impl_->triangles.cbegin(), impl_->triangles.cend());
  impl_->tree->accelerate_distance_queries();
}
CgalTree::~CgalTree() = default;

double CgalTree::distance(const Eigen::Vector3d& p) const {
  return std::sqrt(impl_->tree->squared_distance(to_point(p)));
}
bool CgalTree::is_segment_blocked(const Eigen::Vector3d& a, const Eigen::Vector3d& b) const {
  return impl_->tree->do_intersect(Kernel::Segment_3(to_point(a), to_point(b)));
}

}  // namespace holdfast::support
