// SPDX-License-Identifier: GPL-3.0-or-later
// Orientation of plainly closed shells, against what CGAL makes of them.

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <random>

#include "soup_impl.h"

namespace holdfast::geometry::detail {
namespace {

/// A torus, or a wavy ball where `tube` is 0, of n by m quadrilaterals in two triangles each, outward.
TriangleMesh shell(std::uint32_t n, std::uint32_t m, double tube) {
  TriangleMesh mesh;
  const double pi = std::numbers::pi;
  if (tube > 0) {
    for (std::uint32_t i = 0; i < n; ++i)
      for (std::uint32_t j = 0; j < m; ++j) {
        const double a = 2 * pi * i / n, b = 2 * pi * j / m, r = 2 + tube * std::cos(b);
        mesh.vertices.push_back({r * std::cos(a), r * std::sin(a), tube * std::sin(b)});
      }
    const auto at = [&](std::uint32_t i, std::uint32_t j) { return (i % n) * m + j % m; };
    for (std::uint32_t i = 0; i < n; ++i)
      for (std::uint32_t j = 0; j < m; ++j) {
        mesh.triangles.push_back({at(i, j), at(i + 1, j), at(i + 1, j + 1)});
        mesh.triangles.push_back({at(i, j), at(i + 1, j + 1), at(i, j + 1)});
      }
    return mesh;
  }
  mesh.vertices.push_back({0, 0, 1});
  for (std::uint32_t i = 1; i < n; ++i)
    for (std::uint32_t j = 0; j < m; ++j) {
      const double a = pi * i / n, b = 2 * pi * j / m, r = 1 + 0.1 * std::sin(5 * a) * std::cos(3 * b);
      mesh.vertices.push_back({r * std::sin(a) * std::cos(b), r * std::sin(a) * std::sin(b), r * std::cos(a)});
    }
  mesh.vertices.push_back({0, 0, -1});
  const auto last = static_cast<std::uint32_t>(mesh.vertices.size() - 1);
  const auto at = [&](std::uint32_t i, std::uint32_t j) { return 1 + (i - 1) * m + j % m; };
  for (std::uint32_t j = 0; j < m; ++j) {
    mesh.triangles.push_back({0, at(1, j), at(1, j + 1)});
    mesh.triangles.push_back({last, at(n - 1, j + 1), at(n - 1, j)});
    for (std::uint32_t i = 1; i + 1 < n; ++i) {
      mesh.triangles.push_back({at(i, j), at(i + 1, j), at(i + 1, j + 1)});
      mesh.triangles.push_back({at(i, j), at(i + 1, j + 1), at(i, j + 1)});
    }
  }
  return mesh;
}

/// Each triangle from its smallest corner on.
std::vector<std::array<std::uint32_t, 3>> rotated(std::vector<std::array<std::uint32_t, 3>> triangles) {
  for (auto& t : triangles) std::rotate(t.begin(), std::min_element(t.begin(), t.end()), t.end());
  return triangles;
}

TEST(Orientation, OfPlainShellsIsWhatCgalMakesOfThem) {
  constexpr std::uint64_t seed = 160;
  std::mt19937_64 random(seed);
  for (const double tube : {0.0, 0.3, 0.9, 1.9})
    for (const double flips : {0.0, 0.1, 0.5, 1.0}) {
      const TriangleMesh outward = shell(14, 17, tube);
      TriangleMesh flipped = outward;
      bool is_any = false;
      for (auto& t : flipped.triangles)
        if (std::uniform_real_distribution<double>(0, 1)(random) < flips) std::swap(t[1], t[2]), is_any = true;
      TriangleMesh ours = flipped, theirs = flipped;
      const auto plain = orient_plain_shell(ours);
      const auto cgal = orient_shell(theirs);
      ASSERT_TRUE(plain) << "tube " << tube << " flips " << flips;
      EXPECT_TRUE(plain->is_closed && cgal.is_closed);
      EXPECT_EQ(plain->was_flipped, is_any);
      EXPECT_EQ(cgal.was_flipped, is_any);
      EXPECT_EQ(rotated(ours.triangles), rotated(outward.triangles)) << "seed " << seed;
      EXPECT_EQ(rotated(theirs.triangles), rotated(outward.triangles));
    }
}

TEST(Orientation, OfWhatIsNotPlainlyClosedIsLeftToCgal) {
  TriangleMesh open = shell(8, 9, 0.5);
  open.triangles.pop_back();
  const auto before = open.triangles;
  EXPECT_FALSE(orient_plain_shell(open));
  EXPECT_EQ(open.triangles, before);
  // Two tetrahedra that share a corner, and two that share an edge.
  TriangleMesh corner{{{0, 0, 0}, {1, 0, 0}, {0, 1, 0}, {0, 0, 1}, {-1, 0, 0}, {0, -1, 0}, {0, 0, -1}},
                      {{0, 2, 1}, {0, 1, 3}, {0, 3, 2}, {1, 2, 3}, {0, 5, 4}, {0, 4, 6}, {0, 6, 5}, {4, 5, 6}}};
  EXPECT_FALSE(orient_plain_shell(corner));
  TriangleMesh edge{{{0, 0, 0}, {1, 0, 0}, {0, 1, 0}, {0, 0, 1}, {0, -1, 0}, {0, 0, -1}},
                    {{0, 2, 1}, {0, 1, 3}, {0, 3, 2}, {1, 2, 3}, {0, 4, 1}, {0, 1, 5}, {0, 5, 4}, {1, 4, 5}}};
  EXPECT_FALSE(orient_plain_shell(edge));
  // Closed and not orientable: the projective plane of six vertices (each two vertices share an edge).
  TriangleMesh projective{
      {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}, {-1, 0.1, 0}, {0, -1, 0.2}, {0.3, 0, -1}},
      {{0, 1, 2}, {0, 2, 3}, {0, 3, 4}, {0, 4, 5}, {0, 5, 1}, {1, 2, 4}, {2, 3, 5}, {3, 4, 1}, {4, 5, 2}, {5, 1, 3}}};
  EXPECT_FALSE(orient_plain_shell(projective));
}

}  // namespace
}  // namespace holdfast::geometry::detail
