// SPDX-License-Identifier: GPL-3.0-or-later
// Surface ways against closed forms (standards.md 8b), published distances, invariants, and a slow twin.

#include "holdfast/geometry/surface_way.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <tbb/global_control.h>
#include <tbb/parallel_for.h>

#include <Eigen/Geometry>
#include <cmath>
#include <fstream>
#include <numbers>
#include <queue>
#include <sstream>

#include "holdfast/model/diagnostic.h"
#include "mesh_scene.h"

namespace holdfast::geometry {
namespace {

using support::Random;
using support::YardBuilder;

constexpr double pi = std::numbers::pi;

void add_mesh(TriangleMesh& to, const TriangleMesh& mesh) {
  const auto base = static_cast<std::uint32_t>(to.vertices.size());
  to.vertices.insert(to.vertices.end(), mesh.vertices.begin(), mesh.vertices.end());
  for (const auto& t : mesh.triangles) to.triangles.push_back({base + t[0], base + t[1], base + t[2]});
}

/// A box from `low` to `high`, each face a grid of n x n squares of two triangles; closed, outward.
TriangleMesh box(const Vec3& low, const Vec3& high, int n = 1) {
  TriangleMesh mesh;
  for (int axis = 0; axis < 3; ++axis)
    for (const bool is_high : {false, true}) {
      const int u = (axis + 1) % 3, v = (axis + 2) % 3;
      const auto base = static_cast<std::uint32_t>(mesh.vertices.size());
      for (int i = 0; i <= n; ++i)
        for (int j = 0; j <= n; ++j) {
          Vec3 p;
          p[axis] = is_high ? high[axis] : low[axis];
          p[u] = low[u] + (high[u] - low[u]) * i / n;
          p[v] = low[v] + (high[v] - low[v]) * j / n;
          mesh.vertices.push_back(p);
        }
      const auto at = [&](int i, int j) { return base + static_cast<std::uint32_t>(i * (n + 1) + j); };
      for (int i = 0; i < n; ++i)
        for (int j = 0; j < n; ++j) {
          std::array<std::uint32_t, 3> one = {at(i, j), at(i + 1, j), at(i + 1, j + 1)};
          std::array<std::uint32_t, 3> two = {at(i, j), at(i + 1, j + 1), at(i, j + 1)};
          if (!is_high) std::swap(one[1], one[2]), std::swap(two[1], two[2]);
          mesh.triangles.push_back(one), mesh.triangles.push_back(two);
        }
    }
  return mesh;
}

/// Vertices on the unit sphere, moved in or out by up to `bump` of it.
TriangleMesh ball(int rows, int around, double bump = 0, std::uint64_t seed = 1) {
  Random random(seed);
  TriangleMesh mesh;
  const auto add = [&](double polar, double angle) {
    const double r = 1 + bump * (2 * random.unit() - 1);
    mesh.vertices.push_back(
        r * Vec3(std::sin(polar) * std::cos(angle), std::sin(polar) * std::sin(angle), std::cos(polar)));
    return static_cast<std::uint32_t>(mesh.vertices.size() - 1);
  };
  const auto north = add(0, 0);
  for (int row = 1; row < rows; ++row)
    for (int i = 0; i < around; ++i) add(pi * row / rows, 2 * pi * (i + 0.5 * (row % 2)) / around);
  const auto south = add(pi, 0);
  const auto id = [&](int row, int i) { return static_cast<std::uint32_t>(1 + (row - 1) * around + i % around); };
  for (int i = 0; i < around; ++i) {
    mesh.triangles.push_back({north, id(1, i), id(1, i + 1)});
    mesh.triangles.push_back({south, id(rows - 1, i + 1), id(rows - 1, i)});
    for (int row = 1; row + 1 < rows; ++row) {
      mesh.triangles.push_back({id(row, i), id(row + 1, i), id(row + 1, i + 1)});
      mesh.triangles.push_back({id(row, i), id(row + 1, i + 1), id(row, i + 1)});
    }
  }
  return mesh;
}

/// Side of a cylinder about z, open at both ends, corners on the circle of radius r.
TriangleMesh tube(double r, double height, int sides, int rows) {
  TriangleMesh mesh;
  for (int row = 0; row <= rows; ++row)
    for (int i = 0; i < sides; ++i)
      mesh.vertices.push_back(
          {r * std::cos(2 * pi * i / sides), r * std::sin(2 * pi * i / sides), height * row / rows});
  const auto id = [&](int row, int i) { return static_cast<std::uint32_t>(row * sides + i % sides); };
  for (int row = 0; row < rows; ++row)
    for (int i = 0; i < sides; ++i) {
      mesh.triangles.push_back({id(row, i), id(row, i + 1), id(row + 1, i + 1)});
      mesh.triangles.push_back({id(row, i), id(row + 1, i + 1), id(row + 1, i)});
    }
  return mesh;
}

SurfaceWay way_of(const WayOrNone& found) {
  EXPECT_TRUE(std::holds_alternative<SurfaceWay>(found));
  return std::holds_alternative<SurfaceWay>(found) ? std::get<SurfaceWay>(found) : SurfaceWay{};
}
SurfaceWay way(const SurfacePatch& patch, const Vec3& a, const Vec3& b, const WayOptions& options = {}) {
  return way_of(find_shortest_ways(patch, a, std::array{b}, options)[0]);
}
NoWay no_way(const SurfacePatch& patch, const Vec3& a, const Vec3& b, const WayOptions& options = {}) {
  const auto found = find_shortest_ways(patch, a, std::array{b}, options)[0];
  EXPECT_TRUE(std::holds_alternative<NoWay>(found));
  return std::holds_alternative<NoWay>(found) ? std::get<NoWay>(found) : NoWay{};
}
SurfacePatch patch_of(const TriangleMesh& mesh, double chord_error_m = 0) {
  return whole_patch(Surface(mesh, chord_error_m));
}

double polyline_length(const SurfaceWay& w) {
  double length = 0;
  for (std::size_t i = 1; i < w.points.size(); ++i) length += (w.points[i] - w.points[i - 1]).norm();
  return length;
}

/// Feet lie off their face's edges by 1e-7 of the face, so a length is off by at most twice that and the gaps say so.
void expect_length(const SurfaceWay& w, double expected, double size) {
  EXPECT_NEAR(w.length_m, expected, 4e-7 * size);
  EXPECT_GE(w.length_upper_m, expected - 1e-12 * size);
  EXPECT_LE(w.length_upper_m, expected + 8e-7 * size);
}

// ---- closed forms ---------------------------------------------------------------------------------------------------

TEST(SurfaceWay, SpiderAndFly) {
  // Dudeney, The Canterbury Puzzles: across five of the six faces.
  for (const int n : {1, 2, 4, 8}) {
    const auto room = patch_of(box({0, 0, 0}, {30, 12, 12}, n));
    expect_length(way(room, {0, 6, 11}, {30, 6, 1}), 40, 30);
    expect_length(way(room, {30, 6, 1}, {0, 6, 11}), 40, 30);
  }
}

TEST(SurfaceWay, SourcesOnEdgesAndCornersOfTheMeshAreRight) {
  // Straight over one face, from points of a 4 x 4 grid that lie on its edges and at its corners.
  const auto room = patch_of(box({0, 0, 0}, {4, 4, 4}, 4));
  for (const Vec3& source : {Vec3(0.5, 0.5, 4), Vec3(1, 0.3, 4), Vec3(1, 1, 4), Vec3(2, 2.5, 4), Vec3(4, 4, 4)})
    for (const Vec3& target : {Vec3(3, 3, 4), Vec3(3, 2.2, 4), Vec3(2.5, 2.5, 4)})
      expect_length(way(room, source, target), (target - source).norm(), 4);
}

TEST(SurfaceWay, OppositeCornersOfBoxes) {
  for (const auto& [size, published] : {std::pair{Vec3(1, 1, 1), 2.236068}, std::pair{Vec3(1, 1, 2), 2.828427},
                                        std::pair{Vec3(3, 4, 5), 8.602325}, std::pair{Vec3(3, 4, 6), 9.219544}}) {
    const double longest = size.maxCoeff(), others = size.sum() - longest;
    const double expected = std::hypot(longest, others);
    EXPECT_NEAR(expected, published, 5e-7);
    expect_length(way(patch_of(box({0, 0, 0}, size)), {0, 0, 0}, size), expected, longest);
  }
}

TEST(SurfaceWay, FarthestPointOfABoxIsNotItsCorner) {
  // Kotani's ant: on a 1 x 1 x 2 box a quarter off two edges of the far face.
  const auto patch = patch_of(box({0, 0, 0}, {1, 1, 2}));
  std::vector<Vec3> targets = {{0.75, 0.75, 2}, {1, 1, 2}};
  for (int i = 0; i <= 40; ++i)
    for (int j = 0; j <= 40; ++j) targets.emplace_back(i / 40.0, j / 40.0, 2);
  const auto found = find_shortest_ways(patch, {0, 0, 0}, targets);
  expect_length(way_of(found[0]), std::sqrt(130.0) / 4, 2);
  EXPECT_GT(way_of(found[0]).length_m, way_of(found[1]).length_m + 0.02);
  for (const auto& other : found) EXPECT_LE(way_of(other).length_m, std::sqrt(130.0) / 4 + 1e-6);
}

/// Cylinder rows of standards.md 8b: half way round and 3 m up.
struct CylinderRow {
  double radius, expected;
};
class SurfaceWayOnCylinder : public testing::TestWithParam<CylinderRow> {};

TEST_P(SurfaceWayOnCylinder, InscribedMeshIsShortByItsChordsAndTheBoundIsNot) {
  const auto [r, expected] = GetParam();
  EXPECT_NEAR(expected, std::hypot(pi * r, 3), 5e-7);
  for (const int sides : {24, 48, 96}) {
    const double chord_error = r * (1 - std::cos(pi / sides));
    const auto patch = patch_of(tube(r, 3, sides, 4), chord_error);
    const auto w = way(patch, {r, 0, 0}, {-r, 0, 3});
    EXPECT_LT(w.length_m, expected);
    // Perimeter of the polygon against the circle: sin(x) / x > 1 - x^2 / 6.
    EXPECT_GT(w.length_m, expected * (1 - pi * pi / sides / sides / 6));
    EXPECT_GE(w.length_upper_m, expected);
    // Half a polygon turns by at most pi, and one side more where a foot at a corner took the face before it.
    EXPECT_LE(w.length_upper_m, expected + chord_error * (pi + 2 * pi / sides + 2) + 1e-5);
  }
}

TEST_P(SurfaceWayOnCylinder, PartMeshIsNeverShort) {
  const auto [r, expected] = GetParam();
  for (const double chord_error : {0.02, 0.005, 0.001}) {
    YardBuilder yard;
    yard.part("drum", model::Cylinder{.from = {0, 0, -1}, .to = {0, 0, 4}, .radius = r});
    const auto scene =
        build_scene(yard.structure, yard.structure.default_configuration(), {.chord_error_m = chord_error});
    const auto patch = patch_of(scene.part_mesh(model::PartId(0)), chord_error);
    Random random(3);
    for (int i = 0; i < 20; ++i) {
      const double angle = 2 * pi * random.unit();
      const Vec3 a(r * std::cos(angle), r * std::sin(angle), 0), b(-a.x(), -a.y(), 3);
      const auto w = way(patch, a, b);
      EXPECT_GE(w.length_upper_m, expected) << "seed 3, case " << i;
      // The polygon's turn is that of its faces: up to one more side than half a circle. Its circumference exceeds the
      // circle's by tan(x) / x - 1 < x^2 / 2, with x^2 / 2 <= chord_error / r.
      const double most_turn = pi + 2 * std::sqrt(2 * chord_error / r);
      EXPECT_LE(w.length_upper_m,
                expected * (1 + chord_error / r) + chord_error * (most_turn + 2) + w.source_gap_m + w.target_gap_m);
    }
  }
}

INSTANTIATE_TEST_SUITE_P(Rows, SurfaceWayOnCylinder,
                         testing::Values(CylinderRow{2, 6.962644}, CylinderRow{1, 4.343916}));

TEST(SurfaceWay, GreatCircles) {
  const double chord_error = 1 - std::pow(std::cos(pi / 48), 2);  // rows and columns of a 48 x 24 ball
  const auto patch = patch_of(ball(24, 48), chord_error);
  const auto on_sphere = [](double latitude, double longitude) {
    const double f = latitude * pi / 180, l = longitude * pi / 180;
    return Vec3(std::cos(f) * std::cos(l), std::cos(f) * std::sin(l), std::sin(f));
  };
  const Vec3 a = on_sphere(36.12, -86.67), b = on_sphere(33.94, -118.40);
  const double expected = 2887.260 / 6372.8;
  const auto w = way(patch, a, b);
  EXPECT_NEAR(w.length_m, expected, 2 * chord_error);
  EXPECT_GE(w.length_upper_m, expected);
  const auto round = way(patch, a, -a);
  EXPECT_GE(round.length_upper_m, pi);
  EXPECT_LE(round.length_upper_m, pi + chord_error * (1.2 * pi + 4));
}

TEST(SurfaceWay, RightConeUnrolls) {
  // Slant 3, base radius 1: the sector is 120 degrees, opposite base points are 60 apart in it, so their chord is 3.
  TriangleMesh cone;
  constexpr int sides = 96;
  cone.vertices.push_back({0, 0, std::sqrt(8.0)});
  for (int i = 0; i < sides; ++i)
    cone.vertices.push_back({std::cos(2 * pi * i / sides), std::sin(2 * pi * i / sides), 0});
  for (std::uint32_t i = 0; i < sides; ++i) cone.triangles.push_back({0, 1 + i, 1 + (i + 1) % sides});
  const double chord_error = 1 - std::cos(pi / sides);
  const auto w = way(patch_of(cone, chord_error), {1, 0, 0}, {-1, 0, 0});
  EXPECT_NEAR(w.length_m, 3.0, 3 * pi * pi / sides / sides / 6);
  EXPECT_GE(w.length_upper_m, 3.0);
}

TEST(SurfaceWay, PublishedDistancesOnAFlatMesh) {
  // tests/data/geodesic: published in the test of pygeodesic, from vertex 25 to all 121, 8 decimals.
  const std::string folder = HOLDFAST_SOURCE_DIR "/tests/data/geodesic/";
  std::ifstream off(folder + "flat_triangular_mesh.off");
  std::string word;
  std::size_t vertices = 0, triangles = 0, none = 0;
  off >> word >> vertices >> triangles >> none;
  TriangleMesh mesh;
  for (std::size_t i = 0; i < vertices; ++i) {
    Vec3 v;
    off >> v.x() >> v.y() >> v.z();
    mesh.vertices.push_back(v);
  }
  for (std::size_t i = 0; i < triangles; ++i) {
    std::array<std::uint32_t, 3> t{};
    off >> none >> t[0] >> t[1] >> t[2];
    mesh.triangles.push_back(t);
  }
  ASSERT_EQ(mesh.vertices.size(), 121u);
  ASSERT_EQ(mesh.triangles.size(), 200u);
  const auto found = find_shortest_ways(patch_of(mesh), mesh.vertices[25], mesh.vertices);
  std::ifstream published(folder + "flat_known_distances_from_25.txt");
  std::string line;
  std::getline(published, line);
  std::size_t compared = 0;
  while (std::getline(published, line)) {
    std::size_t index = 0;
    double distance = 0;
    std::istringstream(line) >> index >> distance;
    EXPECT_NEAR(way_of(found[index]).length_m, distance, 2e-7) << index;
    ++compared;
  }
  EXPECT_EQ(compared, 121u);
  EXPECT_NEAR(way_of(found[97]).length_upper_m, 1.697056274847714, 2e-7);
}

// ---- invariants and a slow twin -------------------------------------------------------------------------------------

class SurfaceWayInvariants : public testing::TestWithParam<double> {};

TEST_P(SurfaceWayInvariants, OnABumpyBall) {
  const auto mesh = ball(12, 16, GetParam(), 11);
  const Surface surface(mesh);
  const auto patch = whole_patch(surface);
  Random random(5);
  std::vector<Vec3> points;
  for (int i = 0; i < 12; ++i) {
    const auto& t = mesh.triangles[random.index(mesh.triangles.size())];
    const double u = random.unit(), v = random.unit() * (1 - u);
    points.push_back(mesh.vertices[t[0]] + u * (mesh.vertices[t[1]] - mesh.vertices[t[0]]) +
                     v * (mesh.vertices[t[2]] - mesh.vertices[t[0]]));
  }
  const auto n = static_cast<Eigen::Index>(points.size());
  Eigen::MatrixXd d(n, n);
  for (Eigen::Index i = 0; i < n; ++i) {
    const auto found = find_shortest_ways(patch, points[static_cast<std::size_t>(i)], points);
    for (Eigen::Index j = 0; j < n; ++j) {
      const auto w = way_of(found[static_cast<std::size_t>(j)]);
      d(i, j) = w.length_m;
      const Vec3 &a = points[static_cast<std::size_t>(i)], &b = points[static_cast<std::size_t>(j)];
      EXPECT_NEAR(polyline_length(w), w.length_m, 1e-12);
      EXPECT_GE(w.length_upper_m, (a - b).norm() - 1e-12);
      ASSERT_FALSE(w.points.empty());
      EXPECT_NEAR((w.points.front() - a).norm(), w.source_gap_m, 1e-12);
      EXPECT_NEAR((w.points.back() - b).norm(), w.target_gap_m, 1e-12);
      for (std::size_t k = 0; k < w.points.size(); ++k) {
        EXPECT_LT(patch.distance(w.points[k]), 1e-9);
        if (k > 0) EXPECT_LT(patch.distance((w.points[k] + w.points[k - 1]) / 2), 1e-9);
      }
    }
  }
  constexpr double nudge = 1e-6;
  for (Eigen::Index i = 0; i < n; ++i)
    for (Eigen::Index j = 0; j < n; ++j) {
      EXPECT_NEAR(d(i, j), d(j, i), nudge);
      for (Eigen::Index k = 0; k < n; ++k) EXPECT_LE(d(i, j), d(i, k) + d(k, j) + nudge);
    }
}

/// Slow twin: Dijkstra over points spread on all edges, joined across each face. Such a way is one over the surface, so
/// never shorter than the shortest, and at most a little longer.
double reference_way(const TriangleMesh& mesh, std::uint32_t from, std::uint32_t to, int pieces) {
  std::vector<Vec3> nodes = mesh.vertices;
  std::map<std::pair<std::uint32_t, std::uint32_t>, std::vector<std::size_t>> on_edge;
  const auto edge = [&](std::uint32_t a, std::uint32_t b) -> const std::vector<std::size_t>& {
    auto& list = on_edge[std::minmax(a, b)];
    if (list.empty()) {
      list = {a, b};
      for (int k = 1; k < pieces; ++k) {
        list.push_back(nodes.size());
        nodes.push_back(mesh.vertices[a] + (mesh.vertices[b] - mesh.vertices[a]) * k / pieces);
      }
    }
    return list;
  };
  std::vector<std::vector<std::size_t>> at_face;
  for (const auto& t : mesh.triangles) {
    auto& all = at_face.emplace_back();
    for (std::size_t i = 0; i < 3; ++i)
      for (const auto node : edge(t[i], t[(i + 1) % 3])) all.push_back(node);
  }
  std::vector<std::vector<std::size_t>> faces_of(nodes.size());
  for (std::size_t f = 0; f < at_face.size(); ++f)
    for (const auto node : at_face[f]) faces_of[node].push_back(f);
  std::vector<double> best(nodes.size(), std::numeric_limits<double>::infinity());
  std::priority_queue<std::pair<double, std::size_t>> open;
  best[from] = 0, open.emplace(0, from);
  while (!open.empty()) {
    const auto [minus, node] = open.top();
    open.pop();
    if (node == to) return -minus;
    if (-minus > best[node]) continue;
    for (const auto f : faces_of[node])
      for (const auto next : at_face[f]) {
        const double length = best[node] + (nodes[next] - nodes[node]).norm();
        if (length < best[next]) best[next] = length, open.emplace(-length, next);
      }
  }
  return std::numeric_limits<double>::infinity();
}

TEST_P(SurfaceWayInvariants, AgreeWithDijkstraOverManyEdgePoints) {
  const auto mesh = ball(8, 10, GetParam(), 23);
  const auto patch = patch_of(mesh);
  for (const std::uint32_t from : {0u, 17u, 40u}) {
    const auto found = find_shortest_ways(patch, mesh.vertices[from], mesh.vertices);
    for (const std::uint32_t to : {3u, 29u, 55u, 70u}) {
      const double slow = reference_way(mesh, from, to, 24);
      const double exact = way_of(found[to]).length_m;
      EXPECT_LE(exact, slow + 1e-6) << from << " to " << to;
      EXPECT_GE(exact, slow * 0.995) << from << " to " << to;
    }
  }
}

INSTANTIATE_TEST_SUITE_P(Bumps, SurfaceWayInvariants, testing::Values(0.0, 0.1, 0.3));

// ---- points off the surface, and no way -----------------------------------------------------------------------------

TEST(SurfaceWay, TellsWhereTheSurfaceFoldsAndWhichWayIsOut) {
  const auto patch = whole_patch(Surface(box({0, 0, 0}, {1, 1, 1})));
  const auto found = find_shortest_ways(patch, {0.5, 0.5, 1}, std::vector<Vec3>{{1, 0.5, 0.5}});
  const auto& way = std::get<SurfaceWay>(found[0]);
  ASSERT_GE(way.points.size(), 3u);
  double folds = 0;
  for (std::size_t i = 0; i < way.points.size(); ++i) {
    folds += way.fold_rad[i];
    if (way.fold_rad[i] < 1) continue;
    EXPECT_NEAR((way.points[i] - Vec3(1, 0.5, 1)).norm(), 0, 1e-6);
    EXPECT_NEAR((way.lift[i] - Vec3(1, 0, 1)).norm(), 0, 1e-9) << "1 off the top and 1 off the side";
  }
  EXPECT_NEAR(folds, pi / 2, 1e-9);
}

TEST(SurfaceWay, CountsTheGapsAtBothEnds) {
  const auto patch = patch_of(box({0, 0, 0}, {1, 1, 1}));
  const auto w = way(patch, {0.2, 0.5, 1.03}, {0.8, 0.5, 1.05});
  EXPECT_NEAR(w.length_m, 0.6, 1e-9);
  EXPECT_NEAR(w.source_gap_m, 0.03, 1e-9);
  EXPECT_NEAR(w.target_gap_m, 0.05, 1e-9);
  EXPECT_NEAR(w.length_upper_m, 0.68, 1e-9);
}

TEST(SurfaceWay, FromAPointToItselfIsNothing) {
  const auto w = way(patch_of(box({0, 0, 0}, {1, 1, 1})), {0.3, 0.4, 1}, {0.3, 0.4, 1});
  EXPECT_NEAR(w.length_m, 0, 1e-12);
  EXPECT_EQ(w.normal_turn_rad, 0);
}

TEST(SurfaceWay, SaysHowFarAPointIsOffTheSurface) {
  const auto patch = patch_of(box({0, 0, 0}, {1, 1, 1}));
  const auto source = no_way(patch, {0.5, 0.5, 1.4}, {0.5, 0.5, 1});
  EXPECT_EQ(source.kind, NoWayKind::SourceOffSurface);
  EXPECT_NEAR(source.gap_m, 0.4, 1e-6);
  const auto target = no_way(patch, {0.5, 0.5, 1}, {2, 0.5, 0.5});
  EXPECT_EQ(target.kind, NoWayKind::TargetOffSurface);
  EXPECT_NEAR(target.gap_m, 1, 1e-6);
  EXPECT_NEAR(way(patch, {0.5, 0.5, 1.4}, {0.2, 0.5, 1}, {.most_gap_m = 0.5}).source_gap_m, 0.4, 1e-6);
}

TEST(SurfaceWay, OnNothingIsInfinitelyFarOff) {
  const auto patch = patch_of({});
  EXPECT_EQ(patch.triangle_count(), 0u);
  const auto none = no_way(patch, {0, 0, 0}, {1, 0, 0});
  EXPECT_EQ(none.kind, NoWayKind::SourceOffSurface);
  EXPECT_EQ(none.gap_m, std::numeric_limits<double>::infinity());
  EXPECT_TRUE(find_shortest_ways(patch, {0, 0, 0}, {}).empty());
}

TEST(SurfaceWay, ShellsThatDoNotTouchAreToldApart) {
  auto mesh = box({0, 0, 0}, {1, 1, 1});
  add_mesh(mesh, box({2, 0, 0}, {3, 1, 1}));
  const Surface surface(mesh);
  EXPECT_EQ(surface.shell_count(), 2u);
  EXPECT_EQ(no_way(whole_patch(surface), {0.5, 0.5, 1}, {2.5, 0.5, 1}).kind, NoWayKind::OtherShell);
}

TEST(SurfaceWay, APatchWithoutTheSurfaceBetweenSaysSo) {
  // Two opposite sides of a finely meshed box 1 m thick, the patch a ball that reaches both but not round.
  const Surface surface(box({0, 0, 0}, {6, 6, 1}, 24));
  const auto patch = cut_patch(surface, {{3, 3, 0.5}, 0.8});
  EXPECT_EQ(no_way(patch, {3, 3, 1}, {3, 3, 0}).kind, NoWayKind::NoSurfaceBetween);
  EXPECT_NEAR(way(whole_patch(surface), {3, 3, 1}, {3, 3, 0}).length_m, 7, 1e-5);
}

TEST(SurfaceWay, RefusesAPatchTooFineToSearch) {
  const Surface surface(box({0, 0, 0}, {1, 1, 1}, 60));
  ASSERT_GT(surface.triangle_count(), most_patch_triangles);
  const auto none = no_way(whole_patch(surface), {0.5, 0.5, 1}, {0.2, 0.5, 1});
  EXPECT_EQ(none.kind, NoWayKind::TooFine);
  EXPECT_EQ(none.triangles, surface.triangle_count());
}

TEST(Surface, RefusesWhatIsNotAMesh) {
  TriangleMesh not_finite = box({0, 0, 0}, {1, 1, 1});
  not_finite.vertices[3].x() = std::nan("");
  EXPECT_THROW(Surface{not_finite}, model::InternalFault);
  TriangleMesh out_of_range = box({0, 0, 0}, {1, 1, 1});
  out_of_range.triangles[2][1] = 99;
  EXPECT_THROW(Surface{out_of_range}, model::InternalFault);
}

TEST(Surface, DropsWhatHasNoArea) {
  TriangleMesh mesh = box({0, 0, 0}, {1, 1, 1});
  mesh.triangles.push_back({0, 0, 1});
  mesh.triangles.push_back(mesh.triangles[0]);
  EXPECT_EQ(Surface(mesh).triangle_count(), 12u);
}

// ---- patches --------------------------------------------------------------------------------------------------------

TEST(Patch, GivesTheWaysOfTheWholeSurfaceWithinItsRadius) {
  const Surface surface(ball(32, 48, 0.05, 3));
  const auto whole = whole_patch(surface);
  Random random(9);
  for (int i = 0; i < 10; ++i) {
    const Vec3 center = random.point(1).normalized();
    const auto patch = cut_patch(surface, {center, 0.61});
    EXPECT_LT(patch.triangle_count(), surface.triangle_count() / 3);
    std::vector<Vec3> targets;
    for (int k = 0; k < 20; ++k) targets.push_back((center + random.point(0.45)).normalized());
    const auto by_patch = find_shortest_ways(patch, center, targets);
    const auto by_whole = find_shortest_ways(whole, center, targets);
    for (std::size_t k = 0; k < targets.size(); ++k) {
      const auto all = way_of(by_whole[k]);
      // The centre is a little off the bumpy surface, so a way of the radius less that stays in the ball.
      if (all.length_m + all.source_gap_m > 0.61) continue;
      EXPECT_NEAR(way_of(by_patch[k]).length_m, all.length_m, 1e-9) << "seed 9, case " << i << ", target " << k;
    }
  }
}

TEST(Patch, WaysAreTheSameOnOneThreadAndTwo) {
  const Surface surface(ball(24, 32, 0.1, 4));
  std::vector<Vec3> sources;
  Random random(6);
  for (int i = 0; i < 16; ++i) sources.push_back(random.point(1).normalized());
  const auto all_lengths = [&](std::size_t threads) {
    const tbb::global_control limit(tbb::global_control::max_allowed_parallelism, threads);
    std::vector<std::vector<double>> lengths(sources.size());
    tbb::parallel_for(std::size_t{0}, sources.size(), [&](std::size_t i) {
      const auto patch = cut_patch(surface, {sources[i], 1.0});
      for (const auto& found : find_shortest_ways(patch, sources[i], sources))
        lengths[i].push_back(std::holds_alternative<SurfaceWay>(found) ? std::get<SurfaceWay>(found).length_upper_m
                                                                       : -1);
    });
    return lengths;
  };
  EXPECT_EQ(all_lengths(1), all_lengths(2));
}

}  // namespace
}  // namespace holdfast::geometry
