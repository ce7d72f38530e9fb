// SPDX-License-Identifier: GPL-3.0-or-later
// Surfaces made ready for drawing, and what hides what.

#include "surface_impl.h"

#include <gtest/gtest.h>

#include <numeric>

#include "drawn.h"
#include "raster_impl.h"

namespace holdfast::picture {
namespace {

geometry::TriangleMesh mesh_of(const model::Shape& shape) {
  support::YardBuilder yard;
  yard.part("it", shape);
  return Drawn(yard.structure).picture().parts.at(0).mesh;
}

TEST(Shade, BreaksNormalsAtEdgesAlone) {
  const auto box = shade(mesh_of(model::Box{.size = {1, 2, 3}}));
  EXPECT_EQ(box.triangles.size(), 12u);
  EXPECT_EQ(box.vertices.size(), 24u) << "a corner of a box is drawn in three directions";
  EXPECT_EQ(box.edges.size(), 12u);
  const auto ball = shade(mesh_of(model::Sphere{.radius = 1}));
  EXPECT_EQ(ball.edges.size(), 0u);
  for (std::size_t i = 0; i < ball.vertices.size(); ++i)
    EXPECT_GT(ball.normals[i].dot(ball.vertices[i].normalized()), 0.99) << "out of a ball, along its radius";
  const auto drum = weld(mesh_of(model::Cylinder{.from = {0, 0, 0}, .to = {5, 0, 0}, .radius = 1}));
  for (const auto& edge : drum.edges)
    if (edge.is_crease)
      EXPECT_NEAR(drum.vertices[edge.ends[0]].x(), drum.vertices[edge.ends[1]].x(), 1e-9) << "the rims alone";
}

TEST(Weld, HasTwoFacesAtEachEdgeOfAClosedSurface) {
  for (const model::Shape& shape :
       {model::Shape(model::Box{}), model::Shape(model::Sphere{}), model::Shape(model::Cylinder{}),
        model::Shape(model::Cone{}), model::Shape(model::Dish{}), model::Shape(model::Panel{})}) {
    const auto welded = weld(mesh_of(shape));
    for (const auto& edge : welded.edges) EXPECT_GE(edge.faces[1], 0) << "shape " << shape.index();
    // Euler: vertices - edges + faces = 2 for a closed surface without holes.
    EXPECT_EQ(static_cast<int>(welded.vertices.size()) - static_cast<int>(welded.edges.size()) +
                  static_cast<int>(welded.triangles.size()),
              2);
  }
}

TEST(Grown, LiesAtLeastSoFarOut) {
  const auto ball = grown(mesh_of(model::Sphere{.radius = 1}), 0.25);
  for (const auto& t : ball.triangles)
    EXPECT_GE(((ball.vertices[t[0]] + ball.vertices[t[1]] + ball.vertices[t[2]]) / 3).norm(), 1.25 - 1e-9);
  EXPECT_TRUE(grown({}, 1).triangles.empty());
}

TEST(Raster, KeepsTheNearestAndItsOutline) {
  const Direction view{"zenith", Vec3::UnitX(), -Vec3::UnitY(), -Vec3::UnitZ()};
  Raster raster({-2, -2}, {2, 2}, 0.01);
  raster.fill(view, {Vec3(-1, -1, 5), Vec3(1, -1, 5), Vec3(1, 1, 5)}, 1);
  raster.fill(view, {Vec3(-1, -1, 3), Vec3(1, -1, 3), Vec3(1, 1, 3)}, 2);
  raster.fill(view, {Vec3(-1, -1, 4), Vec3(1, -1, 4), Vec3(1, 1, 4)}, 3);
  EXPECT_EQ(raster.at({0.5, 0.5}).owner, 2) << "zenith is -z: the least z is nearest";
  EXPECT_NEAR(raster.at({0.5, 0.5}).depth, -3, 1e-9);
  EXPECT_EQ(raster.at({-0.5, -0.7}).owner, -1);
  EXPECT_EQ(raster.at({70, 0}).owner, -1);
  const auto loops = raster.outlines();
  ASSERT_EQ(loops.size(), 1u);
  double area = 0;
  for (std::size_t i = 0; i < loops[0].size(); ++i) {
    const auto &a = loops[0][i], &b = loops[0][(i + 1) % loops[0].size()];
    area += (a.x() * b.y() - a.y() * b.x()) / 2;
  }
  EXPECT_NEAR(std::abs(area), 2, 0.05) << "half of a square of 2 by 2";
}

}  // namespace
}  // namespace holdfast::picture
