// SPDX-License-Identifier: GPL-3.0-or-later
// Node plates: flat thin pieces into whose plane bars run from several directions. A handrail is carried by posts and
// brackets, and nothing is carried by it; bars that meet in the plane of one plate carry each other.
#include <algorithm>
#include <cmath>
#include <numbers>
#include <numeric>

#include "joints_impl.h"

namespace holdfast::rails::detail {

namespace {

constexpr double thickest_plate_m = 0.03;  // assumption: gussets are 4 to 25 mm
constexpr double least_plate_m = 0.05;     // narrower is a flat bar or the facet of a bar
constexpr double largest_plate_m = 2;      // assumption: a panel or wall beyond
constexpr double one_face = 0.9;           // cos 25 deg: neighbouring triangles of one face, moved by 1 mm
constexpr double bulge_m = 0.008;          // off its plane, moved by 1 mm a vertex and decimated
constexpr double least_filled = 0.35;      // of the box round it; a triangle fills half, the side of a bent bar less
constexpr std::size_t quarter = 9;         // the box is turned in steps of 10 deg
constexpr double in_plane = 0.26;          // sin 15 deg
constexpr double parallel = 0.966, upright = 0.26;  // cos 15 deg, cos 75 deg
constexpr double stub_m = 0.25;                     // shorter is a post on the plate, unless plates hold both its ends
constexpr double past_end_m = 0.03;                 // from where a tube's section widens to the edge of the plate
constexpr double same_place_m = 0.12;

/// One flat face of a thin piece.
struct Face {
  std::vector<std::uint32_t> triangles;
  Vec3 normal = Vec3::UnitZ();
};

/// A place where a run lies in the plane of a face and touches it.
struct Touch {
  std::size_t face = 0, run = 0;
  double along_m = 0;
  Vec3 direction = Vec3::UnitX();
};

Vec3 area_normal(const TriangleMesh& mesh, std::uint32_t t) {
  const auto& c = mesh.triangles[t];
  return (mesh.vertices[c[1]] - mesh.vertices[c[0]]).cross(mesh.vertices[c[2]] - mesh.vertices[c[0]]);
}

/// Triangles that go on smoothly over their edges, as sets; which edges are borders.
class Faces {
 public:
  /// `is_left_out`: of each triangle, whether it belongs to a bar.
  Faces(const Prepared& prepared, const std::vector<bool>& is_left_out)
      : p_(prepared), is_left_out_(is_left_out), parent_(p_.mesh.triangles.size()) {
    std::iota(parent_.begin(), parent_.end(), 0U);
    struct Side {
      std::uint64_t edge;
      std::uint32_t triangle;
    };
    std::vector<Side> sides;
    sides.reserve(3 * parent_.size());
    std::vector<Vec3> normals;
    normals.reserve(parent_.size());
    for (std::uint32_t t = 0; t < parent_.size(); ++t) {
      const auto& c = p_.mesh.triangles[t];
      normals.push_back(area_normal(p_.mesh, t).normalized());
      for (std::size_t i = 0; i < 3; ++i) {
        const std::uint64_t low = std::min(c[i], c[(i + 1) % 3]), high = std::max(c[i], c[(i + 1) % 3]);
        sides.push_back({low << 32 | high, t});
      }
    }
    std::sort(sides.begin(), sides.end(), [](const Side& x, const Side& y) {
      return x.edge != y.edge ? x.edge < y.edge : x.triangle < y.triangle;
    });
    is_open_.resize(parent_.size());
    for (std::size_t i = 0; i < sides.size();) {
      std::size_t k = i + 1;
      while (k < sides.size() && sides[k].edge == sides[i].edge) ++k;
      if (k == i + 1) is_open_[sides[i].triangle] = true;
      for (std::size_t n = i + 1; n < k; ++n)
        if (!is_left_out_[sides[i].triangle] && !is_left_out_[sides[n].triangle] &&
            std::abs(normals[sides[i].triangle].dot(normals[sides[n].triangle])) > one_face) {
          const auto a = root(sides[i].triangle), b = root(sides[n].triangle);
          parent_[std::max(a, b)] = std::min(a, b);
        }
      i = k;
    }
  }

  /// Those that are flat, as large as a node plate, and thin or without thickness.
  [[nodiscard]] std::vector<Face> plates() {
    std::vector<std::pair<std::uint32_t, std::uint32_t>> members;
    for (std::uint32_t t = 0; t < parent_.size(); ++t)
      if (!is_left_out_[t]) members.emplace_back(root(t), t);
    std::sort(members.begin(), members.end());
    std::vector<Face> out;
    for (std::size_t i = 0; i < members.size();) {
      Face face;
      const auto of = members[i].first;
      for (; i < members.size() && members[i].first == of; ++i) face.triangles.push_back(members[i].second);
      if (is_plate(face)) out.push_back(std::move(face));
    }
    return out;
  }

 private:
  std::uint32_t root(std::uint32_t i) {
    while (parent_[i] != i) i = parent_[i] = parent_[parent_[i]];
    return i;
  }

  bool is_plate(Face& face) const {
    const auto& mesh = p_.mesh;
    geometry::Bounds bounds;
    std::uint32_t largest = face.triangles.front();
    for (const auto t : face.triangles) {
      for (const auto v : mesh.triangles[t]) bounds.extend(mesh.vertices[v]);
      if (area_normal(mesh, t).norm() > area_normal(mesh, largest).norm()) largest = t;
    }
    const double size = (bounds.max - bounds.min).norm();
    if (size > largest_plate_m || size < least_plate_m) return false;
    Vec3 sum = Vec3::Zero(), middle = Vec3::Zero();
    double area = 0;
    for (const auto t : face.triangles) {
      const Vec3 normal = area_normal(mesh, t);
      sum += normal.dot(area_normal(mesh, largest)) < 0 ? Vec3(-normal) : normal;
      const auto& c = mesh.triangles[t];
      middle += normal.norm() * (mesh.vertices[c[0]] + mesh.vertices[c[1]] + mesh.vertices[c[2]]) / 3;
      area += normal.norm();
    }
    if (sum.norm() <= 0) return false;
    face.normal = sum.normalized(), middle /= area;
    const Vec3 u = face.normal.unitOrthogonal(), w = face.normal.cross(u);
    std::array<double, 2 * quarter> extent{};
    for (std::size_t k = 0; k < extent.size(); ++k) {
      const double angle = static_cast<double>(k) * std::numbers::pi / (2 * quarter);
      const Vec3 d = std::cos(angle) * u + std::sin(angle) * w;
      double low = 0, high = 0, off = 0;
      for (const auto t : face.triangles)
        for (const auto v : mesh.triangles[t]) {
          const Vec3 p = mesh.vertices[v] - middle;
          low = std::min(low, p.dot(d)), high = std::max(high, p.dot(d));
          off = std::max(off, std::abs(p.dot(face.normal)));
        }
      if (high - low < least_plate_m || off > bulge_m) return false;
      extent[k] = high - low;
    }
    double box = std::numeric_limits<double>::infinity();
    for (std::size_t k = 0; k < quarter; ++k) box = std::min(box, extent[k] * extent[k + quarter]);
    return area / 2 > least_filled * box && is_thin(face);
  }

  bool is_thin(const Face& face) const {
    for (const auto t : face.triangles)
      if (is_open_[t]) return true;
    std::size_t thin = 0, looked_at = 0;
    constexpr double lift_m = 1e-5;
    const std::size_t step = std::max<std::size_t>(1, face.triangles.size() / 16);
    for (std::size_t i = 0; i < face.triangles.size(); i += step) {
      const auto t = face.triangles[i];
      const auto& c = p_.mesh.triangles[t];
      const Vec3 at = (p_.mesh.vertices[c[0]] + p_.mesh.vertices[c[1]] + p_.mesh.vertices[c[2]]) / 3;
      const Vec3 inward = -area_normal(p_.mesh, t).normalized();
      ++looked_at;
      if (p_.tree.find_first_hit(at + lift_m * inward, inward, thickest_plate_m, t)) ++thin;
    }
    return 2 * thin >= looked_at;
  }

  const Prepared& p_;
  const std::vector<bool>& is_left_out_;
  std::vector<std::uint32_t> parent_;
  std::vector<bool> is_open_;  ///< of each triangle: an edge of it is no other's
};

/// Every place where a run lies in the plane of a face and touches it, by face, then run, then along it.
std::vector<Touch> touches_of(const std::vector<Run>& runs, const Prepared& prepared, const std::vector<Face>& faces) {
  std::vector<std::uint32_t> of(prepared.mesh.triangles.size(), UINT32_MAX), all;
  for (std::uint32_t f = 0; f < faces.size(); ++f)
    for (const auto t : faces[f].triangles) of[t] = f, all.push_back(t);
  const TriangleTree tree(prepared.mesh, all);
  std::vector<Touch> out;
  std::vector<std::uint32_t> near;
  for (std::size_t i = 0; i < runs.size(); ++i) {
    const auto& run = runs[i];
    if (run.line.size() < 2 || run.is_in_solid) continue;
    std::vector<Vec3> line;
    for (const auto k : simplify(run.line, 0.002)) line.push_back(run.line[k]);
    if (!run.is_ring)
      line.insert(line.begin(), line.front() + (run.r + past_end_m) * end_direction(run, 0)),
          line.push_back(line.back() + (run.r + past_end_m) * end_direction(run, 1));
    const double touch = run.r + thickest_plate_m;
    double gone = run.is_ring ? 0 : -run.r - past_end_m;
    for (std::size_t k = 0; k + 1 < line.size(); ++k) {
      const Vec3 piece = line[k + 1] - line[k];
      if (piece.norm() <= 0) continue;
      const Vec3 d = piece.normalized();
      constexpr double step_m = 0.02;
      const int steps = std::max(1, static_cast<int>(std::ceil(piece.norm() / step_m)));
      for (int n = 0; n <= steps; ++n) {
        const Vec3 p = line[k] + piece * n / steps;
        near.clear();
        tree.find_near(p, p, touch, near);
        for (const auto t : near) {
          if (std::abs(d.dot(faces[of[t]].normal)) > in_plane) continue;
          const double along = gone + piece.norm() * n / steps;
          if (!out.empty() && out.back().run == i && out.back().face == of[t] && along - out.back().along_m < 1e-9)
            continue;
          if ((geometry::closest_point(prepared.mesh, t, p) - p).norm() > touch) continue;
          out.push_back({of[t], i, along, d});
        }
      }
      gone += piece.norm();
    }
  }
  std::stable_sort(out.begin(), out.end(),
                   [](const Touch& x, const Touch& y) { return x.face != y.face ? x.face < y.face : x.run < y.run; });
  return out;
}

}  // namespace

void find_plated_members(std::vector<Run>& runs, const Prepared& prepared, const std::vector<bool>& is_bar) {
  const auto faces = Faces(prepared, is_bar).plates();
  if (faces.empty()) return;
  const auto touches = touches_of(runs, prepared, faces);
  std::vector<double> lengths;
  for (const auto& run : runs) lengths.push_back(length_of(run.line));
  const auto is_stub = [&](const Touch& touch) { return lengths[touch.run] < stub_m; };
  std::vector<bool> is_member(runs.size());
  std::vector<std::vector<double>> squares(runs.size());  // where others meet it at right angles in a plate
  for (std::size_t from = 0, to = 0; from < touches.size(); from = to) {
    while (to < touches.size() && touches[to].face == touches[from].face) ++to;
    for (std::size_t a = from; a < to; ++a)
      for (std::size_t b = from; b < to && !is_member[touches[a].run]; ++b) {
        if (touches[a].run == touches[b].run || is_stub(touches[b])) continue;
        const double cosine = std::abs(touches[a].direction.dot(touches[b].direction));
        if (cosine > parallel) continue;
        if (cosine > upright && !is_stub(touches[a]))
          is_member[touches[a].run] = true;
        else
          squares[touches[a].run].push_back(touches[a].along_m);
      }
  }
  for (std::size_t i = 0; i < runs.size(); ++i) {
    // Where it leaves a plate and comes to another.
    std::sort(squares[i].begin(), squares[i].end());
    const auto apart = std::adjacent_find(squares[i].begin(), squares[i].end(),
                                          [](double x, double y) { return y - x > same_place_m; });
    if (!is_member[i] && apart == squares[i].end()) continue;
    runs[i].is_frame = true;
    if (!is_structure(runs[i].kind)) runs[i].kind = RunKind::Truss;
  }
}

}  // namespace holdfast::rails::detail
