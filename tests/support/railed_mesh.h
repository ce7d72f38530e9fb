// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Structures made at random with rails on them whose lines are known: what finding rails in a mesh is measured by.

#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>
#include <functional>
#include <map>
#include <numbers>
#include <random>
#include <set>
#include <string>
#include <vector>

#include "holdfast/geometry/named_mesh.h"

namespace holdfast::support {

using geometry::TriangleMesh;
using geometry::Vec3;

struct TrueRail {
  std::vector<Vec3> line;     ///< of what can be gripped; of a ring the last point is the first
  std::vector<Vec3> outward;  ///< of each point
  std::string what;
};

struct RailedMesh {
  TriangleMesh mesh;
  std::vector<TrueRail> rails;
  std::string what;
};

/// A place on a surface: u and v along it, h off it, in metres.
struct Chart {
  std::function<Vec3(double, double, double)> at;
  bool is_round = false;  ///< along v
  double u_most = 1, v_most = 1;
};

using Outline = std::vector<Eigen::Vector2d>;  ///< counter-clockwise; x sideways, y outward

inline Outline round_outline(double diameter, int sides, double turn) {
  Outline out;
  for (int i = 0; i < sides; ++i) {
    const double a = turn + 2 * std::numbers::pi * i / sides;
    out.emplace_back(diameter / 2 * std::cos(a), diameter / 2 * std::sin(a));
  }
  return out;
}
inline Outline racetrack_outline(double width, double height, int sides) {
  Outline out;
  const double r = height / 2, flat = width / 2 - r;
  const int half = std::max(2, sides / 2);
  for (int end : {1, -1})
    for (int i = 0; i < half; ++i) {
      const double a = -std::numbers::pi / 2 + std::numbers::pi * i / (half - 1);
      out.emplace_back(end * (flat + r * std::cos(a)), end * r * std::sin(a));
    }
  return out;
}
inline Outline square_outline(double side) {
  const double h = side / 2;
  return {{-h, -h}, {h, -h}, {h, h}, {-h, h}};
}

inline void add(TriangleMesh& mesh, const TriangleMesh& more) {
  const auto base = static_cast<std::uint32_t>(mesh.vertices.size());
  mesh.vertices.insert(mesh.vertices.end(), more.vertices.begin(), more.vertices.end());
  for (const auto& t : more.triangles) mesh.triangles.push_back({t[0] + base, t[1] + base, t[2] + base});
}

/// The outline carried along the line, its y side toward `outward`; at corners the rings stand on the bisecting plane.
/// Returns the first vertex of each ring.
inline std::vector<std::uint32_t> sweep(TriangleMesh& mesh, const std::vector<Vec3>& line,
                                        const std::vector<Vec3>& outward, const Outline& outline, bool is_ring,
                                        std::array<bool, 2> caps) {
  const std::size_t n = is_ring ? line.size() - 1 : line.size(), m = outline.size();
  std::vector<std::uint32_t> rings;
  for (std::size_t i = 0; i < n; ++i) {
    const Vec3 before = i > 0     ? Vec3((line[i] - line[i - 1]).normalized())
                        : is_ring ? Vec3((line[0] - line[n - 1]).normalized())
                                  : Vec3((line[1] - line[0]).normalized());
    const Vec3 after = i + 1 < line.size() ? Vec3((line[i + 1] - line[i]).normalized()) : before;
    const Vec3 along = (before + after).normalized();
    Vec3 up = outward[i] - outward[i].dot(along) * along;
    up.normalize();
    const Vec3 side = along.cross(up);
    rings.push_back(static_cast<std::uint32_t>(mesh.vertices.size()));
    for (const auto& p : outline) {
      // On the bisecting plane, so that both legs keep their section.
      const Vec3 flat = p.x() * side + p.y() * up, bend = after - before;
      Vec3 q = flat;
      if (bend.norm() > 1e-9) {
        const Vec3 b = bend.normalized();
        q += flat.dot(b) * (1 / std::cos(std::acos(std::clamp(before.dot(after), -1.0, 1.0)) / 2) - 1) * b;
      }
      mesh.vertices.push_back(line[i] + q);
    }
  }
  const auto quad = [&](std::uint32_t a, std::uint32_t b, std::uint32_t c, std::uint32_t d) {
    mesh.triangles.push_back({a, b, c}), mesh.triangles.push_back({a, c, d});
  };
  for (std::size_t i = 0; i + 1 < n + (is_ring ? 1 : 0); ++i)
    for (std::size_t k = 0; k < m; ++k) {
      const auto from = rings[i], to = rings[(i + 1) % n], a = static_cast<std::uint32_t>(k),
                 b = static_cast<std::uint32_t>((k + 1) % m);
      quad(from + a, from + b, to + b, to + a);
    }
  if (!is_ring)
    for (int e : {0, 1})
      if (caps[static_cast<std::size_t>(e)])
        for (std::uint32_t k = 1; k + 1 < m; ++k) {
          const auto ring = e == 0 ? rings.front() : rings.back();
          if (e == 0)
            mesh.triangles.push_back({ring, ring + k + 1, ring + k});
          else
            mesh.triangles.push_back({ring, ring + k, ring + k + 1});
        }
  return rings;
}

/// Half-edge collapses of vertices that lie in one plane or on one edge with their neighbours, within `error_m`.
inline void decimate(TriangleMesh& mesh, double error_m, std::mt19937& random) {
  std::map<std::array<double, 3>, std::uint32_t> known;
  for (auto& t : mesh.triangles)
    for (auto& v : t)
      v = known.try_emplace({mesh.vertices[v].x(), mesh.vertices[v].y(), mesh.vertices[v].z()}, v).first->second;
  std::vector<std::vector<std::uint32_t>> around(mesh.vertices.size());
  for (std::uint32_t t = 0; t < mesh.triangles.size(); ++t)
    for (const auto v : mesh.triangles[t]) around[v].push_back(t);
  std::vector<bool> is_gone(mesh.triangles.size());
  std::vector<std::uint32_t> order;
  for (std::uint32_t v = 0; v < mesh.vertices.size(); ++v)
    if (!around[v].empty()) order.push_back(v);
  std::shuffle(order.begin(), order.end(), random);
  const auto normal = [&](const std::array<std::uint32_t, 3>& t) {
    return Vec3((mesh.vertices[t[1]] - mesh.vertices[t[0]]).cross(mesh.vertices[t[2]] - mesh.vertices[t[0]]));
  };
  for (const auto u : order) {
    std::vector<std::uint32_t> live;
    std::map<std::uint32_t, int> neighbours;
    for (const auto t : around[u])
      if (!is_gone[t]) {
        live.push_back(t);
        for (const auto v : mesh.triangles[t])
          if (v != u) ++neighbours[v];
      }
    if (std::any_of(neighbours.begin(), neighbours.end(), [](const auto& n) { return n.second != 2; }))
      continue;  // a border
    for (const auto& [v, count] : neighbours) {
      bool is_good = true;
      std::set<std::uint32_t> of_v;
      for (const auto t : around[v])
        if (!is_gone[t])
          for (const auto w : mesh.triangles[t]) of_v.insert(w);
      int shared = 0;
      for (const auto& [w, c] : neighbours) shared += w != v && of_v.count(w) ? 1 : 0;
      if (shared != 2) continue;
      for (const auto t : live) {
        const Vec3 old = normal(mesh.triangles[t]);
        is_good = is_good && old.norm() > 0 &&
                  std::abs((mesh.vertices[v] - mesh.vertices[u]).dot(old.normalized())) < error_m;
        auto moved = mesh.triangles[t];
        if (std::find(moved.begin(), moved.end(), v) != moved.end()) continue;
        std::replace(moved.begin(), moved.end(), u, v);
        const Vec3 now = normal(moved);
        is_good = is_good && now.norm() > 1e-9 && now.normalized().dot(old.normalized()) > 0.9;
      }
      if (!is_good) continue;
      for (const auto t : live) {
        auto& corners = mesh.triangles[t];
        if (std::find(corners.begin(), corners.end(), v) != corners.end()) {
          is_gone[t] = true;
        } else {
          std::replace(corners.begin(), corners.end(), u, v);
          around[v].push_back(t);
        }
      }
      break;
    }
  }
  std::vector<std::array<std::uint32_t, 3>> kept;
  for (std::size_t t = 0; t < is_gone.size(); ++t)
    if (!is_gone[t]) kept.push_back(mesh.triangles[t]);
  mesh.triangles = std::move(kept);
}

class RailedMeshMaker {
 public:
  explicit RailedMeshMaker(unsigned seed) : random_(seed) {}

  RailedMesh make() {
    const int kind = pick(0, 2);
    if (kind == 0) drum();
    if (kind == 1) box();
    if (kind == 2) truss();
    out_.what = kind == 0 ? "drum" : kind == 1 ? "box" : "truss";
    if (chance(0.4)) {
      decimate(out_.mesh, 0.0005, random_);
      out_.what += ", decimated";
    }
    if (chance(0.5)) {
      out_.what += ", perturbed";
      // One move a place: a copy of a vertex at the same place moves with it.
      std::map<std::array<double, 3>, Vec3> moved;
      for (auto& v : out_.mesh.vertices) {
        Vec3 d;
        do d = Vec3(real(-1, 1), real(-1, 1), real(-1, 1));
        while (d.norm() > 1);
        v += moved.try_emplace({v.x(), v.y(), v.z()}, 0.001 * d).first->second;
      }
    }
    if (chance(0.5)) {
      std::shuffle(out_.mesh.triangles.begin(), out_.mesh.triangles.end(), random_);
      out_.what += ", shuffled";
    }
    return std::move(out_);
  }

 private:
  double real(double low, double high) { return std::uniform_real_distribution<double>(low, high)(random_); }
  int pick(int low, int high) { return std::uniform_int_distribution<int>(low, high)(random_); }
  bool chance(double p) { return real(0, 1) < p; }

  void face(const Chart& chart, int nu, int nv) {  // of a box or the shell of a drum, outward for h up
    std::vector<std::vector<std::uint32_t>> grid;
    for (int i = 0; i <= nu; ++i) {
      grid.emplace_back();
      for (int k = 0; k <= nv; ++k) {
        if (chart.is_round && k == nv) {
          grid.back().push_back(grid.back().front());
          continue;
        }
        grid.back().push_back(static_cast<std::uint32_t>(out_.mesh.vertices.size()));
        out_.mesh.vertices.push_back(chart.at(chart.u_most * i / nu, chart.v_most * k / nv, 0));
      }
    }
    for (int i = 0; i < nu; ++i)
      for (int k = 0; k < nv; ++k) {
        const auto u = static_cast<std::size_t>(i), v = static_cast<std::size_t>(k);
        cells_.push_back({grid[u][v], grid[u + 1][v], grid[u + 1][v + 1], grid[u][v + 1]});
      }
  }

  /// Cells become triangles, those with a foot in them an annulus round it.
  void close_cells() {
    for (std::size_t c = 0; c < cells_.size(); ++c) {
      const auto& q = cells_[c];
      const auto foot = feet_.find(c);
      if (foot == feet_.end()) {
        out_.mesh.triangles.push_back({q[0], q[1], q[2]}), out_.mesh.triangles.push_back({q[0], q[2], q[3]});
        continue;
      }
      auto ring = foot->second;
      Vec3 middle = Vec3::Zero();
      for (const auto v : ring) middle += out_.mesh.vertices[v] / static_cast<double>(ring.size());
      const auto& p = out_.mesh.vertices;
      const Vec3 normal = (p[q[1]] - p[q[0]]).cross(p[q[2]] - p[q[0]]).normalized();
      const Vec3 x = (p[q[0]] - middle).normalized(), y = normal.cross(x);
      const auto angle = [&](std::uint32_t v) {
        const double a = std::atan2((p[v] - middle).dot(y), (p[v] - middle).dot(x));
        return a < -1e-9 ? a + 2 * std::numbers::pi : a;
      };
      std::sort(ring.begin(), ring.end(), [&](auto a, auto b) { return angle(a) < angle(b); });
      std::size_t i = 0, k = 0;  // along the square, along the ring
      while (i < 4 || k < ring.size()) {
        const double next_square = i < 3 ? angle(q[i + 1]) : 2 * std::numbers::pi;
        const double next_ring = k + 1 < ring.size() ? angle(ring[k + 1]) : 2 * std::numbers::pi + angle(ring[0]);
        const auto a = q[i % 4], r = ring[k % ring.size()];
        if (i < 4 && (k >= ring.size() || next_square <= next_ring)) {
          out_.mesh.triangles.push_back({a, q[(i + 1) % 4], r});
          ++i;
        } else {
          out_.mesh.triangles.push_back({a, ring[(k + 1) % ring.size()], r});
          ++k;
        }
      }
    }
  }

  void drum() {
    const double radius = real(1, 2.4), length = real(4, 7);
    const int sides = 4 * pick(12, 24);
    const double v_most = 2 * std::numbers::pi * radius;
    Chart chart{[=](double u, double v, double h) {
                  const double a = v / radius;
                  return Vec3(u, -(radius + h) * std::sin(a), -(radius + h) * std::cos(a));
                },
                true, length, v_most};
    // u x v is outward here.
    const int steps = static_cast<int>(length / 0.25);
    face(chart, steps, sides);
    for (const double u : {0.0, length}) {
      const auto base = static_cast<std::uint32_t>(out_.mesh.vertices.size());
      for (int k = 0; k < sides; ++k) out_.mesh.vertices.push_back(chart.at(u, v_most * k / sides, 0));
      for (std::uint32_t k = 1; k + 1 < static_cast<std::uint32_t>(sides); ++k) {
        if (u == 0)
          out_.mesh.triangles.push_back({base, base + k, base + k + 1});
        else
          out_.mesh.triangles.push_back({base, base + k + 1, base + k});
      }
    }
    // Facets: the middle of one, where outward is the radius.
    const double facet = v_most / sides, sag = radius * (1 - std::cos(std::numbers::pi / sides));
    for (int lane = 0; lane < 6; ++lane) {
      const double v = facet * (static_cast<int>(sides * (lane + 0.5) / 6) + 0.5);
      lane_on(chart, 0.4, length - 0.4, v, facet, length / steps, sag, static_cast<std::size_t>(sides));
    }
    if (chance(0.6)) ring(chart, 0.15, sag);
    close_cells();
  }

  void box() {
    const Vec3 size(real(2, 5), real(1.5, 4), real(1.5, 4));
    struct Side {
      Vec3 corner, u, v;
    };
    const Vec3 x(size.x(), 0, 0), y(0, size.y(), 0), z(0, 0, size.z());
    const std::vector<Side> sides = {{Vec3::Zero(), y, x}, {z, x, y}, {Vec3::Zero(), x, z}, {y, z, x},
                                     {Vec3::Zero(), z, y}, {x, y, z}};
    for (const auto& side : sides) {
      const Vec3 u = side.u.normalized(), v = side.v.normalized(), n = u.cross(v), corner = side.corner;
      Chart chart{[=](double a, double b, double h) { return Vec3(corner + a * u + b * v + h * n); }, false,
                  side.u.norm(), side.v.norm()};
      const int nu = std::max(1, static_cast<int>(chart.u_most / 0.25)),
                nv = std::max(1, static_cast<int>(chart.v_most / 0.25));
      first_cell_ = cells_.size();
      face(chart, nu, nv);
      const double dv = chart.v_most / nv;
      for (int lane = 0; lane < 2; ++lane) {
        const double b = dv * (static_cast<int>(nv * (lane + 0.5) / 2) + 0.5);
        lane_on(chart, 0.3, chart.u_most - 0.3, b, dv, chart.u_most / nu, 0, static_cast<std::size_t>(nv));
      }
    }
    close_cells();
  }

  void truss() {
    const double width = real(0.8, 1.4), bay = real(0.8, 1.4), r = real(0.022, 0.04);
    const int bays = pick(3, 6), sides = pick(6, 16);
    const auto bar = [&](const Vec3& a, const Vec3& b, double radius) {
      sweep(out_.mesh, {a, b}, std::vector<Vec3>(2, (b - a).unitOrthogonal()), round_outline(2 * radius, sides, 0),
            false, {true, true});
    };
    const auto corner = [&](int k, double x) {
      const double s = width / 2;
      const std::array<Vec3, 4> at = {Vec3(x, -s, -s), Vec3(x, s, -s), Vec3(x, s, s), Vec3(x, -s, s)};
      return at[static_cast<std::size_t>(k % 4)];
    };
    for (int k = 0; k < 4; ++k) {
      bar(corner(k, 0), corner(k, bay * bays), r);
      for (int i = 0; i <= bays; ++i) bar(corner(k, bay * i), corner(k + 1, bay * i), 0.8 * r);
      for (int i = 0; i < bays; ++i) bar(corner(k + i % 2, bay * i), corner(k + 1 - i % 2, bay * (i + 1)), 0.7 * r);
      const Vec3 n = corner(k, 0).normalized(), flat = Vec3(1, 0, 0).cross(n);
      const Vec3 from = corner(k, 0);
      Chart chart{[=](double u, double v, double h) { return Vec3(from + Vec3(u, 0, 0) + v * flat + (r + h) * n); },
                  false, bay * bays, 0.1};
      feet_allowed_ = false;
      lane_on(chart, 0.2, bay * bays - 0.2, 0, 0.05, bay, -0.0, 1);
    }
  }

  /// Rails one behind the other along u at v.
  void lane_on(const Chart& chart, double from, double to, double v, double dv, double du, double sag,
               std::size_t rows) {
    double u = from + real(0, 0.2);
    while (u < to - 0.5) {
      const double length = std::min(real(0.5, 2.2), to - u);
      const int kind = pick(0, feet_allowed_ ? 5 : 1);
      if (kind <= 1)
        straight(chart, u, u + length, v, sag);
      else if (kind == 2)
        handle(chart, u, u + length, v, dv, du, sag, rows);
      else if (kind == 3)
        corner(chart, u, u + length, v, sag);
      else if (kind == 4)
        tee(chart, u, u + length, v, sag);
      else
        distractor(chart, u, u + length, v, sag);
      u += length + real(0.25, 0.6);
    }
  }

  Outline any_outline() {
    switch (pick(0, 3)) {
      case 0:
        return round_outline(real(0.022, 0.045), pick(3, 64), real(0, 6));
      case 1:
        return racetrack_outline(real(0.03, 0.042), real(0.018, 0.022), 2 * pick(3, 20));
      case 2:
        return square_outline(real(0.02, 0.036));
      default:
        return round_outline(real(0.025, 0.04), pick(6, 24), 0);
    }
  }
  static double half_height(const Outline& outline) {
    double most = 0;
    for (const auto& p : outline) most = std::max(most, p.norm());
    return most;
  }
  Vec3 normal(const Chart& chart, double u, double v) { return (chart.at(u, v, 1) - chart.at(u, v, 0)).normalized(); }

  struct Place {
    double u, v, h;
  };
  std::vector<Vec3> points(const Chart& chart, const std::vector<Place>& places) {
    std::vector<Vec3> out;
    for (const auto& p : places) out.push_back(chart.at(p.u, p.v, p.h));
    return out;
  }
  std::vector<Vec3> normals(const Chart& chart, const std::vector<Place>& places) {
    std::vector<Vec3> out;
    for (const auto& p : places) out.push_back(normal(chart, p.u, p.v));
    return out;
  }
  void post(const Chart& chart, double u, double v, double h, double sag) {
    const Vec3 a = chart.at(u, v, -sag - (chance(0.5) ? 0.01 : 0.0)), b = chart.at(u, v, h);
    sweep(out_.mesh, {a, b}, std::vector<Vec3>(2, (b - a).unitOrthogonal()),
          round_outline(real(0.016, 0.026), pick(5, 16), 0), false, {true, true});
  }
  double height_over(const Outline& outline) { return half_height(outline) + real(0.062, 0.11); }

  void straight(const Chart& chart, double from, double to, double v, double sag) {
    const auto outline = any_outline();
    const double h = height_over(outline);
    const std::vector<Place> ends = {{from, v, h}, {to, v, h}};
    const bool is_open = chance(0.2);
    std::vector<Place> places = {ends[0]};
    const int pieces = chance(0.5) ? 1 : pick(2, 12);
    for (int i = 1; i <= pieces; ++i) places.push_back({from + (to - from) * i / pieces, v, h});
    sweep(out_.mesh, points(chart, places), normals(chart, places), outline, false, {!is_open, !is_open});
    for (const double u : {from + 0.06, (from + to) / 2, to - 0.06}) post(chart, u, v, h, sag);
    out_.rails.push_back({points(chart, ends), normals(chart, ends), "straight"});
  }

  void ring(const Chart& chart, double u, double sag) {
    const auto outline = any_outline();
    const double h = height_over(outline);
    std::vector<Place> places;
    const int pieces = 4 * pick(16, 40);
    for (int i = 0; i <= pieces; ++i) places.push_back({u, chart.v_most * i / pieces, h});
    auto line = points(chart, places);
    line.back() = line.front();
    sweep(out_.mesh, line, normals(chart, places), outline, true, {});
    for (int i = 0; i < 8; ++i) post(chart, u, chart.v_most * (i + 0.5) / 8, h, sag);
    out_.rails.push_back({line, normals(chart, places), "ring"});
  }

  /// Bent down at both ends; its feet may be welded into the face.
  void handle(const Chart& chart, double from, double to, double v, double dv, double du, double sag,
              std::size_t rows) {
    auto outline = any_outline();
    const double bend = real(0.045, 0.055), h = std::max(height_over(outline), bend + 0.02);
    std::size_t cell_a = 0, cell_b = 0;
    const bool is_welded = chance(0.6) && half_height(outline) < 0.4 * std::min(dv, du);
    if (is_welded) {  // feet in the middle of cells
      const auto row = [&](double u) { return static_cast<std::size_t>(u / du); };
      from = (static_cast<double>(row(from)) + 0.5) * du, to = (static_cast<double>(row(to)) + 0.5) * du;
      const auto column = static_cast<std::size_t>(v / dv);
      cell_a = first_cell_ + row(from) * rows + column, cell_b = first_cell_ + row(to) * rows + column;
      if (cell_a == cell_b || feet_.count(cell_a) || feet_.count(cell_b)) return;
    }
    std::vector<Place> places, grip;
    const double foot = is_welded ? -sag : -sag - 0.01;
    places.push_back({from, v, foot});
    constexpr int steps = 12;
    for (int i = 0; i <= steps; ++i) {
      const double a = std::numbers::pi / 2 * i / steps;
      places.push_back({from + bend * (1 - std::cos(a)), v, h - bend * (1 - std::sin(a))});
      if (i >= steps / 2) grip.push_back(places.back());
    }
    for (int i = steps; i >= 0; --i) {
      const double a = std::numbers::pi / 2 * i / steps;
      places.push_back({to - bend * (1 - std::cos(a)), v, h - bend * (1 - std::sin(a))});
      if (i >= steps / 2) grip.push_back(places.back());
    }
    places.push_back({to, v, foot});
    // The outline's outward side turns with the tube: away from the middle of the handle.
    const auto line = points(chart, places);
    const Vec3 n = normal(chart, (from + to) / 2, v), along = (line.back() - line.front()).normalized();
    std::vector<Vec3> up;
    for (std::size_t i = 0; i < line.size(); ++i) {
      const Vec3 t = (line[std::min(i + 1, line.size() - 1)] - line[i > 0 ? i - 1 : 0]).normalized();
      up.push_back(t.cross(n.cross(along)));
    }
    const auto rings = sweep(out_.mesh, line, up, outline, false, {!is_welded, !is_welded});
    if (is_welded)
      for (int e : {0, 1})
        for (std::uint32_t k = 0; k < outline.size(); ++k)
          feet_[e == 0 ? cell_a : cell_b].push_back((e == 0 ? rings.front() : rings.back()) + k);
    out_.rails.push_back({points(chart, grip), normals(chart, grip), is_welded ? "welded handle" : "handle"});
  }

  /// A mitred corner in the surface.
  void corner(const Chart& chart, double from, double to, double v, double sag) {
    const auto outline = any_outline();
    const double h = height_over(outline), arm = chart.is_round ? 0.0 : real(0.3, 0.45);
    if (arm <= 0 || v + arm > chart.v_most - 0.1) return straight(chart, from, to, v, sag);
    const std::vector<Place> places = {{from, v, h}, {to, v, h}, {to, v + arm, h}};
    if (chance(0.5)) {
      sweep(out_.mesh, points(chart, places), normals(chart, places), outline, false, {true, true});
    } else {  // two pieces that overlap
      for (std::size_t i : {0U, 1U}) {
        const std::vector<Place> piece = {places[i], places[i + 1]};
        sweep(out_.mesh, points(chart, piece), normals(chart, piece), outline, false, {true, true});
      }
    }
    post(chart, from + 0.05, v, h, sag), post(chart, to, v + arm - 0.05, h, sag), post(chart, to - 0.1, v, h, sag);
    out_.rails.push_back({points(chart, places), normals(chart, places), "corner"});
  }

  void tee(const Chart& chart, double from, double to, double v, double sag) {
    const auto outline = any_outline();
    const double h = height_over(outline), arm = chart.is_round ? 0.0 : real(0.35, 0.5), at = (from + to) / 2 + 0.08;
    straight_at(chart, from, to, v, h, outline, sag);
    if (arm <= 0 || v + arm > chart.v_most - 0.1) return;
    const std::vector<Place> places = {{at, v, h}, {at, v + arm, h}};
    sweep(out_.mesh, points(chart, places), normals(chart, places), outline, false, {true, true});
    post(chart, at, v + arm - 0.05, h, sag);
    out_.rails.push_back({points(chart, places), normals(chart, places), "tee"});
  }
  void straight_at(const Chart& chart, double from, double to, double v, double h, const Outline& outline, double sag) {
    const std::vector<Place> ends = {{from, v, h}, {to, v, h}};
    sweep(out_.mesh, points(chart, ends), normals(chart, ends), outline, false, {true, true});
    for (const double u : {from + 0.06, to - 0.06}) post(chart, u, v, h, sag);
    out_.rails.push_back({points(chart, ends), normals(chart, ends), "straight"});
  }

  /// Thin and long, and no rail: on the surface, too thick, too thin, or standing up from it.
  void distractor(const Chart& chart, double from, double to, double v, double sag) {
    const int kind = pick(0, 3);
    double h = 0.1;
    Outline outline = round_outline(0.03, 12, 0);
    if (kind == 0) h = 0.02;
    if (kind == 1) outline = round_outline(real(0.075, 0.11), 16, 0), h = 0.16;
    if (kind == 2) outline = round_outline(real(0.004, 0.009), 8, 0), h = 0.09;
    std::vector<Place> places = {{from, v, h}, {to, v, h}};
    if (kind == 3) places = {{from, v, -sag}, {from, v, real(0.2, 0.6)}};
    sweep(out_.mesh, points(chart, places), kind == 3 ? std::vector<Vec3>(2, Vec3(1, 0, 0)) : normals(chart, places),
          outline, false, {true, true});
  }

  std::mt19937 random_;
  RailedMesh out_;
  std::vector<std::array<std::uint32_t, 4>> cells_;
  std::map<std::size_t, std::vector<std::uint32_t>> feet_;  ///< vertices of a foot's ring, by cell
  std::size_t first_cell_ = 0;
  bool feet_allowed_ = true;
};

/// How what was found compares with what is there, by length.
struct Score {
  double true_m = 0, met_m = 0;     ///< of the true rails; of them within 5 mm of a rail found
  double found_m = 0, right_m = 0;  ///< of the rails found; of them within 5 mm of a true one
  double worst_line_m = 0;          ///< of what is right
  double worst_outward_rad = 0;
  double outward_beyond_m = 0;  ///< length with outward more than 5 deg off
};

struct FoundLine {
  std::vector<Vec3> points;
  std::vector<Vec3> outward;  ///< one a piece
};

inline void add_score(Score& score, const RailedMesh& made, const std::vector<FoundLine>& found) {
  constexpr double step_m = 0.02, near_m = 0.005, most_rad = 5 * std::numbers::pi / 180;
  const auto nearest = [](const std::vector<Vec3>& line, const Vec3& p) {
    double best = 1e9;
    std::size_t at = 0;
    for (std::size_t i = 0; i + 1 < line.size(); ++i) {
      const Vec3 d = line[i + 1] - line[i];
      const double t = std::clamp((p - line[i]).dot(d) / d.squaredNorm(), 0.0, 1.0), l = (line[i] + t * d - p).norm();
      if (l < best) best = l, at = i;
    }
    return std::pair(best, at);
  };
  const auto walk = [&](const std::vector<Vec3>& line, auto&& visit) {
    for (std::size_t i = 0; i + 1 < line.size(); ++i) {
      const Vec3 d = line[i + 1] - line[i];
      const int steps = std::max(1, static_cast<int>(std::ceil(d.norm() / step_m)));
      for (int k = 0; k < steps; ++k) visit(line[i] + d * (k + 0.5) / steps, d.norm() / steps, i);
    }
  };
  for (const auto& rail : made.rails)
    walk(rail.line, [&](const Vec3& p, double l, std::size_t) {
      double best = 1e9;
      for (const auto& line : found) best = std::min(best, nearest(line.points, p).first);
      score.true_m += l;
      if (best <= near_m) score.met_m += l;
    });
  for (const auto& line : found)
    walk(line.points, [&](const Vec3& p, double l, std::size_t piece) {
      double best = 1e9;
      Vec3 outward = Vec3::UnitZ();
      for (const auto& rail : made.rails) {
        const auto [d, i] = nearest(rail.line, p);
        if (d < best) {
          best = d;
          const Vec3 along = rail.line[i + 1] - rail.line[i];
          const double t = std::clamp((p - rail.line[i]).dot(along) / along.squaredNorm(), 0.0, 1.0);
          outward = ((1 - t) * rail.outward[i] + t * rail.outward[i + 1]).normalized();
        }
      }
      score.found_m += l;
      if (best > near_m) return;
      score.right_m += l;
      score.worst_line_m = std::max(score.worst_line_m, best);
      // At right angles to the piece: at a bend outward leans with it.
      const Vec3 d = (line.points[piece + 1] - line.points[piece]).normalized();
      outward = (outward - outward.dot(d) * d).normalized();
      const double off = std::acos(std::clamp(outward.dot(line.outward[piece]), -1.0, 1.0));
      score.worst_outward_rad = std::max(score.worst_outward_rad, off);
      if (off > most_rad) score.outward_beyond_m += l;
    });
}

inline geometry::NamedMesh named(const TriangleMesh& mesh) {
  return {mesh, {"structure"}, std::vector<std::uint32_t>(mesh.triangles.size(), 0)};
}

}  // namespace holdfast::support
