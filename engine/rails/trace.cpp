// SPDX-License-Identifier: GPL-3.0-or-later
#include "trace_impl.h"

#include <tbb/blocked_range.h>
#include <tbb/parallel_for.h>

#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>
#include <optional>
#include <unordered_map>

namespace holdfast::rails::detail {

Prepared::Prepared(const TriangleMesh& given, const std::vector<bool>& may_be) : tree(given, {}) {
  geometry::Bounds bounds;
  for (const auto& v : given.vertices) bounds.extend(v);
  const double size = given.vertices.empty() ? 1 : (bounds.max - bounds.min).maxCoeff();
  const auto representative = geometry::weld_vertices(given.vertices, 1e-6 * std::max(1.0, size));
  mesh.vertices = given.vertices;
  for (std::uint32_t t = 0; t < given.triangles.size(); ++t) {
    const auto& c = given.triangles[t];
    const std::array<std::uint32_t, 3> r = {representative[c[0]], representative[c[1]], representative[c[2]]};
    if (r[0] == r[1] || r[1] == r[2] || r[2] == r[0]) continue;
    mesh.triangles.push_back(r);
    source.push_back(t);
    is_searched.push_back(may_be[t]);
  }
  std::vector<std::uint32_t> parent(given.vertices.size());
  std::iota(parent.begin(), parent.end(), 0U);
  const auto root = [&](std::uint32_t i) {
    while (parent[i] != i) i = parent[i] = parent[parent[i]];
    return i;
  };
  for (const auto& c : mesh.triangles)
    for (const auto v : {c[1], c[2]}) {
      const auto a = root(c[0]), b = root(v);
      parent[std::max(a, b)] = std::min(a, b);
    }
  std::unordered_map<std::uint32_t, std::uint32_t> number;
  std::vector<Vec3> origin;
  std::vector<double> volume;
  for (const auto& c : mesh.triangles) {
    const auto [entry, is_new] = number.try_emplace(root(c[0]), static_cast<std::uint32_t>(origin.size()));
    if (is_new) origin.push_back(mesh.vertices[c[0]]), volume.push_back(0);
    const auto of = entry->second;
    piece.push_back(of);
    volume[of] += (mesh.vertices[c[0]] - origin[of])
                      .cross(mesh.vertices[c[1]] - origin[of])
                      .dot(mesh.vertices[c[2]] - origin[of]);
  }
  for (std::size_t t = 0; t < mesh.triangles.size(); ++t)
    if (volume[piece[t]] < 0) std::swap(mesh.triangles[t][1], mesh.triangles[t][2]);
  tree = TriangleTree(mesh);

  std::vector<std::pair<std::uint64_t, std::uint32_t>> edges;  // with the piece
  edges.reserve(3 * mesh.triangles.size());
  for (std::size_t t = 0; t < mesh.triangles.size(); ++t)
    for (std::size_t i = 0; i < 3; ++i) {
      const std::uint64_t a = mesh.triangles[t][i], b = mesh.triangles[t][(i + 1) % 3];
      edges.emplace_back(std::min(a, b) << 32 | std::max(a, b), piece[t]);
    }
  std::sort(edges.begin(), edges.end());
  std::vector<bool> is_piece_open(origin.size());
  for (std::size_t i = 0, k = 0; i < edges.size(); i = k) {
    while (k < edges.size() && edges[k].first == edges[i].first) ++k;
    if ((k - i) % 2 == 1) is_piece_open[edges[i].second] = true;
  }
  for (const auto of : piece) is_open.push_back(is_piece_open[of]);
}

std::vector<std::size_t> simplify(const std::vector<Vec3>& line, double tolerance_m) {
  std::vector<std::size_t> kept;
  if (line.empty()) return kept;
  std::vector<std::pair<std::size_t, std::size_t>> stack = {{0, line.size() - 1}};
  std::vector<bool> keep(line.size());
  keep.front() = keep.back() = true;
  while (!stack.empty()) {
    const auto [from, to] = stack.back();
    stack.pop_back();
    double most = tolerance_m;
    std::size_t at = from;
    for (std::size_t i = from + 1; i < to; ++i) {
      const double d = distance_to_line({line[from], line[to]}, line[i]);
      if (d > most) most = d, at = i;
    }
    if (at == from) continue;
    keep[at] = true;
    stack.emplace_back(from, at), stack.emplace_back(at, to);
  }
  for (std::size_t i = 0; i < line.size(); ++i)
    if (keep[i]) kept.push_back(i);
  return kept;
}

Foot foot_on_line(const std::vector<Vec3>& line, const Vec3& p) {
  Foot best;
  best.distance_m = std::numeric_limits<double>::infinity();
  double along = 0;
  if (line.size() == 1) return {(p - line[0]).norm(), 0, 0, line[0]};
  for (std::size_t i = 0; i + 1 < line.size(); ++i) {
    const Vec3 d = line[i + 1] - line[i];
    const double square = d.squaredNorm(), length = std::sqrt(square);
    const double t = square > 0 ? std::clamp((p - line[i]).dot(d) / square, 0.0, 1.0) : 0;
    const Vec3 q = line[i] + t * d;
    const double distance = (p - q).norm();
    if (distance < best.distance_m) best = {distance, along + t * length, i, q};
    along += length;
  }
  return best;
}

double distance_to_line(const std::vector<Vec3>& line, const Vec3& p) { return foot_on_line(line, p).distance_m; }

double length_of(const std::vector<Vec3>& line) {
  double length = 0;
  for (std::size_t i = 0; i + 1 < line.size(); ++i) length += (line[i + 1] - line[i]).norm();
  return length;
}

std::vector<Vec3> points_of(const Tube& tube) {
  std::vector<Vec3> points;
  for (const auto& sample : tube.samples) points.push_back(sample.at);
  return points;
}

namespace {

/// Triangles of the mesh that lie wholly within `radius_m` of the line.
std::vector<std::uint32_t> triangles_along(const Prepared& prepared, const std::vector<Vec3>& line, double radius_m) {
  std::vector<std::uint32_t> near;
  constexpr double longest_box_m = 0.4;  // a slanting box holds much that is not near the line
  for (std::size_t i = 0; i + 1 < line.size(); ++i) {
    const Vec3 d = line[i + 1] - line[i];
    const int steps = std::max(1, static_cast<int>(std::ceil(d.norm() / longest_box_m)));
    for (int k = 0; k < steps; ++k)
      prepared.tree.find_near(line[i] + d * k / steps, line[i] + d * (k + 1) / steps, radius_m, near);
  }
  std::sort(near.begin(), near.end());
  near.erase(std::unique(near.begin(), near.end()), near.end());
  std::unordered_map<std::uint32_t, bool> known;
  std::erase_if(near, [&](std::uint32_t t) {
    for (const auto v : prepared.mesh.triangles[t]) {
      const auto [entry, is_new] = known.try_emplace(v, false);
      if (is_new) entry->second = distance_to_line(line, prepared.mesh.vertices[v]) <= radius_m;
      if (!entry->second) return true;
    }
    return false;
  });
  return near;
}

constexpr double first_step_m = 0.012;
constexpr double least_step_m = 0.0012;  // where an end is found
constexpr double steady_step_m = 0.006;  // shorter ones do not turn the direction: their noise would
constexpr double longest_step_m = 0.04;
constexpr double careful_step_m = 0.008;   // in a bend of 50 mm that long steps ran out of
constexpr double longest_bridge_m = 0.15;  // of a joint or foot that widens the section
constexpr double most_turn_rad = 0.22;     // a step, before it is halved

/// Where tubes have been followed, to be asked by place.
class Followed {
 public:
  void add(const Vec3& at, const Vec3& along, double r, std::uint32_t tube) {
    cells_[key(at)].push_back({at, along, r, tube});
  }
  /// True where a tube other than `but` runs here along the same line.
  [[nodiscard]] bool has(const Vec3& at, const Vec3& along, std::uint32_t but) const {
    for (int n = 0; n < 27; ++n) {
      const Vec3 near = at + cell_m * Vec3(n % 3 - 1, n / 3 % 3 - 1, n / 9 - 1);
      const auto found = cells_.find(key(near));
      if (found == cells_.end()) continue;
      for (const auto& entry : found->second) {
        if (entry.tube == but || std::abs(entry.along.dot(along)) < same_line) continue;
        const Vec3 apart = at - entry.at;
        const double ahead = apart.dot(entry.along);
        if (std::abs(ahead) < 0.75 * longest_step_m && (apart - ahead * entry.along).norm() < 0.6 * entry.r)
          return true;
      }
    }
    return false;
  }

 private:
  static constexpr double cell_m = 0.05;
  static constexpr double same_line = 0.91;  // cos 24 deg: a brace that crosses is another line
  struct Entry {
    Vec3 at, along;
    double r;
    std::uint32_t tube;
  };
  static std::uint64_t key(const Vec3& p) {
    const auto c = [](double x) {
      return static_cast<std::uint64_t>(static_cast<std::int64_t>(std::floor(x / cell_m)));
    };
    return c(p.x()) * 73856093ULL ^ c(p.y()) * 19349663ULL ^ c(p.z()) * 83492791ULL;
  }
  std::unordered_map<std::uint64_t, std::vector<Entry>> cells_;
};

struct Seed {
  std::uint32_t triangle = 0;
  Vec3 middle = Vec3::Zero();
  double thickness = 0;
};

class Tracer {
 public:
  Tracer(const Prepared& prepared, const TraceLimits& limits)
      : p_(prepared), r_most_(limits.thickest_m / 2 * 1.45), limits_(limits), slicer_(prepared.mesh, prepared.tree) {}

  std::vector<Tube> run() {
    std::vector<bool> is_claimed(p_.mesh.triangles.size());
    for (const auto& seed : find_seeds()) {
      if (is_claimed[seed.triangle]) continue;
      const auto start = settle(seed);
      if (!start || followed_.has(start->at, along_, UINT32_MAX)) continue;
      auto tube = follow(*start);
      if (!tube) continue;
      std::vector<Vec3> points = points_of(*tube), line;
      for (const auto i : simplify(points, 0.001)) line.push_back(points[i]);
      // Past the ends: what a mitre or a slanting cap draws out belongs to the tube.
      if (!tube->is_ring) {
        const double past = 2.5 * tube->r;
        line.front() += past * (line.front() - line[1]).normalized();
        line.back() += past * (line.back() - line[line.size() - 2]).normalized();
      }
      tube->triangles = triangles_along(p_, line, 1.25 * tube->r + 0.005);
      for (const auto t : tube->triangles) is_claimed[t] = true;
      tubes_.push_back(std::move(*tube));
    }
    return std::move(tubes_);
  }

 private:
  /// Middles of the thin places under each triangle: under its centre, and all along one that is long and narrow,
  /// because a tube of few triangles may be lost at a joint and go on behind it. The order does not hang on that of the
  /// triangles.
  std::vector<Seed> find_seeds() const {
    constexpr double seed_every_m = 0.4;
    std::vector<Seed> seeds;
    std::vector<Vec3> inward;
    for (std::uint32_t t = 0; t < p_.mesh.triangles.size(); ++t) {
      if (!p_.is_searched[t]) continue;
      auto corner = p_.mesh.triangles[t];
      const auto at = [&](std::size_t i) -> const Vec3& { return p_.mesh.vertices[corner[i % 3]]; };
      const Vec3 normal = (at(1) - at(0)).cross(at(2) - at(0));
      if (normal.norm() <= 0) continue;
      const auto add = [&](const Vec3& p) { seeds.push_back({t, p, 0}), inward.emplace_back(-normal.normalized()); };
      add((at(0) + at(1) + at(2)) / 3);
      std::size_t longest = 0;
      for (std::size_t i = 1; i < 3; ++i)
        if ((at(i + 1) - at(i)).norm() > (at(longest + 1) - at(longest)).norm()) longest = i;
      const Vec3 &a = at(longest), &b = at(longest + 1), &c = at(longest + 2), along = b - a;
      const double length = along.norm();
      if (length < 2 * seed_every_m || normal.norm() / length > 2 * limits_.thickest_m) continue;
      const double apex = std::clamp((c - a).dot(along) / (length * length), 1e-6, 1 - 1e-6);
      const int count = static_cast<int>(std::ceil(length / seed_every_m));
      for (int k = 0; k < count; ++k) {
        const double s = (k + 0.5) / count;
        const Vec3 far = s < apex ? Vec3(a + s / apex * (c - a)) : Vec3(b + (1 - s) / (1 - apex) * (c - b));
        add((a + s * along + far) / 2);
      }
    }
    tbb::parallel_for(tbb::blocked_range<std::size_t>(0, seeds.size(), 256), [&](const auto& range) {
      constexpr double lift_m = 1e-5;
      for (auto i = range.begin(); i != range.end(); ++i) {
        auto& seed = seeds[i];
        const auto hit =
            p_.tree.find_first_hit(seed.middle + lift_m * inward[i], inward[i], limits_.thickest_m, seed.triangle);
        if (!hit) continue;
        seed.middle += inward[i] * (hit->distance_m + lift_m) / 2, seed.thickness = hit->distance_m;
      }
    });
    std::erase_if(seeds, [](const Seed& seed) { return seed.thickness <= 0; });
    std::sort(seeds.begin(), seeds.end(), [](const Seed& x, const Seed& y) {
      return std::lexicographical_compare(x.middle.data(), x.middle.data() + 3, y.middle.data(), y.middle.data() + 3);
    });
    return seeds;
  }

  /// Direction at right angles to the surface's normals round the seed; nothing on a plate or in a corner.
  std::optional<Vec3> axis_of(const Seed& seed) {
    const double radius = std::max(seed.thickness, 0.008);
    near_.clear();
    p_.tree.find_near(seed.middle, seed.middle, radius, near_);
    Eigen::Matrix3d spread = Eigen::Matrix3d::Zero();
    for (const auto t : near_) {
      if ((geometry::closest_point(p_.mesh, t, seed.middle) - seed.middle).norm() > radius) continue;
      const auto& c = p_.mesh.triangles[t];
      const Vec3 normal =
          (p_.mesh.vertices[c[1]] - p_.mesh.vertices[c[0]]).cross(p_.mesh.vertices[c[2]] - p_.mesh.vertices[c[0]]);
      const double area = normal.norm();
      if (area <= 0) continue;
      spread += std::min(area, radius * radius) / (area * area) * normal * normal.transpose();
    }
    if (spread.trace() <= 0) return std::nullopt;
    const Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> eigen(spread / spread.trace());
    if (eigen.eigenvalues()[1] < 0.02 || eigen.eigenvalues()[0] > 0.25) return std::nullopt;
    return Vec3(eigen.eigenvectors().col(0));
  }

  /// The tube's middle at the seed, with `along_` its direction; nothing where there is no tube.
  std::optional<Sample> settle(const Seed& seed) {
    const auto axis = axis_of(seed);
    if (!axis) return std::nullopt;
    Vec3 d = *axis;
    auto here = slicer_.cut({seed.middle, d, 0, r_most_, r_most_});
    if (here.met != Met::Tube) return std::nullopt;
    for (int round = 0; round < 3; ++round) {
      const Section at = here.section;
      const double step = std::max(0.005, 0.35 * at.r_max);
      const Aim aim{at.centre + step * d, d, at.r_max, r_most_, 0.8 * at.r_max};
      Aim back = aim;
      back.at = at.centre - step * d;
      const auto ahead = slicer_.cut(aim), behind = slicer_.cut(back);
      if (!is_like(ahead, at.r_max) && !is_like(behind, at.r_max)) return std::nullopt;
      const Vec3 from = is_like(behind, at.r_max) ? behind.section.centre : at.centre;
      const Vec3 to = is_like(ahead, at.r_max) ? ahead.section.centre : at.centre;
      if ((to - from).norm() < 0.3 * step) return std::nullopt;
      d = (to - from).normalized();
      here = slicer_.cut({at.centre, d, at.r_max, r_most_, 0.8 * at.r_max});
      if (!is_like(here, at.r_max)) return std::nullopt;
    }
    along_ = d;
    return Sample{here.section.centre, here.section.r_max};
  }

  static bool is_like(const Cut& cut, double r) {
    return cut.met == Met::Tube && cut.section.r_max < 1.6 * r && cut.section.r_max > 0.55 * r;
  }

  struct Arm {
    std::vector<Sample> samples;
    EndKind end = EndKind::Free;
    bool is_ring = false;
  };

  std::optional<Tube> follow(const Sample& start) {
    const auto number = static_cast<std::uint32_t>(tubes_.size());
    const Vec3 along = along_;
    const Arm ahead = follow_arm(start, along, number);
    Tube tube;
    tube.is_ring = ahead.is_ring;
    tube.ends[1] = ahead.end;
    if (!ahead.is_ring) {
      Arm behind = follow_arm(start, -along, number);
      tube.ends[0] = behind.end;
      std::reverse(behind.samples.begin(), behind.samples.end());
      tube.samples = std::move(behind.samples);
    }
    tube.samples.push_back(start);
    tube.samples.insert(tube.samples.end(), ahead.samples.begin(), ahead.samples.end());
    std::vector<double> radii;
    for (const auto& sample : tube.samples) radii.push_back(sample.r_max);
    std::nth_element(radii.begin(), radii.begin() + static_cast<std::ptrdiff_t>(radii.size() / 2), radii.end());
    tube.r = radii[radii.size() / 2];
    if (!tube.is_ring) {
      straighten_end(tube);
      std::reverse(tube.samples.begin(), tube.samples.end());
      straighten_end(tube);
      std::reverse(tube.samples.begin(), tube.samples.end());
    }
    // Shorter than it is thick by far: a block, not a tube.
    if (length_of(points_of(tube)) < 2.4 * tube.r) return std::nullopt;
    for (std::size_t i = 0; i < tube.samples.size(); ++i) {
      const Vec3& from = tube.samples[i > 0 ? i - 1 : 0].at;
      const Vec3& to = tube.samples[std::min(i + 1, tube.samples.size() - 1)].at;
      if ((to - from).norm() > 0)
        followed_.add(tube.samples[i].at, (to - from).normalized(), tube.samples[i].r_max, number);
    }
    return tube;
  }

  /// Near a slanting cap or a joint the middle of the section runs off to a side: the last places where the section is
  /// as elsewhere are drawn on as far as the tube goes.
  static void straighten_end(Tube& tube) {
    constexpr double base_m = 0.02;
    auto& samples = tube.samples;
    const double differs_m = std::max(0.08 * tube.r, 0.0012);
    std::size_t good = samples.size() - 1;
    while (good > 0 && std::abs(samples[good].r_max - tube.r) > differs_m) --good;
    if (good + 1 == samples.size() || good < 2) return;
    std::size_t from = good;
    while (from > 0 && (samples[good].at - samples[from].at).norm() < base_m) --from;
    const Vec3 last = samples.back().at, d = (samples[good].at - samples[from].at).normalized();
    const double ahead = (last - samples[good].at).dot(d);
    if (ahead > 5 * tube.r) return;
    samples.resize(good + 1);
    if (ahead > 0.001) samples.push_back({samples[good].at + ahead * d, tube.r});
  }

  Arm follow_arm(const Sample& start, const Vec3& along, std::uint32_t number) {
    Arm arm;
    Vec3 at = start.at, d = along;
    double r = start.r_max, step = first_step_m, gone = 0;
    double careful_to = -1;  // in short steps to here: where long ones ran out of a bend
    constexpr std::size_t most_samples = 200000;
    // Where this arm has been, but for its last stretch: one that comes back to itself elsewhere than at its start
    // would go round for ever; at its start it is a ring.
    constexpr double near_start_m = 0.15;
    Followed own;
    std::size_t noted = 0;
    double noted_to = 0;
    while (arm.samples.size() < most_samples) {
      noted = std::min(noted, arm.samples.size());
      while (noted + 1 < arm.samples.size() && noted_to < gone - std::max(0.3, 8 * r)) {
        const Vec3 piece = arm.samples[noted + 1].at - arm.samples[noted].at;
        if (piece.norm() > 0 && noted_to > near_start_m)
          own.add(arm.samples[noted].at, piece.normalized(), arm.samples[noted].r_max, number);
        noted_to += piece.norm(), ++noted;
      }
      const auto cut = slicer_.cut({at + step * d, d, r, std::min(r_most_, 1.7 * r + 0.002), 0.5 * r + 0.3 * step});
      const Vec3 chord = cut.met == Met::Tube ? Vec3(cut.section.centre - at) : d;
      const double turn = std::acos(std::clamp(chord.normalized().dot(d), -1.0, 1.0));
      const bool is_good = is_like(cut, r) && chord.norm() > 0.3 * step && turn < 0.75;
      if (is_good && turn > most_turn_rad && step > steady_step_m) {
        step /= 2;
        continue;
      }
      if (!is_good) {
        step /= 2;
        if (step >= least_step_m) continue;
        step = first_step_m;
        if (gone > careful_to) {
          careful_to = gone + 0.05;
          const Vec3 lost = at;
          while (!arm.samples.empty() && (arm.samples.back().at - lost).norm() < std::max(0.05, 2 * r)) {
            const Vec3 last = arm.samples.back().at;
            arm.samples.pop_back();
            // By as much as it came on, not as the crow flies: an arm that winds would be lost in one place for ever.
            gone -= (last - (arm.samples.empty() ? start.at : arm.samples.back().at)).norm();
          }
          const Vec3 before = arm.samples.size() >= 2 ? arm.samples[arm.samples.size() - 2].at : start.at;
          at = arm.samples.empty() ? start.at : arm.samples.back().at;
          d = (at - before).norm() > 0 ? Vec3((at - before).normalized()) : along;
          r = arm.samples.empty() ? start.r_max : arm.samples.back().r_max;
          step = careful_step_m;
          continue;
        }
        if (const auto over = bridge(at, d, r, arm.end)) {
          gone += (over->at - at).norm();
          if (followed_.has(over->at, d, number)) {
            arm.end = EndKind::Widens;
            break;
          }
          at = over->at;
          arm.samples.push_back(*over);
          continue;
        }
        break;
      }
      const Vec3 next = cut.section.centre;
      if (gone > 8 * start.r_max && chord.dot(along) > 0) {
        const double t = std::clamp((start.at - at).dot(chord) / chord.squaredNorm(), 0.0, 1.0);
        if ((at + t * chord - start.at).norm() < 0.4 * start.r_max && chord.normalized().dot(along) > 0.7) {
          arm.samples.push_back(start);
          arm.is_ring = true;
          break;
        }
      }
      if (followed_.has(next, d, number) || own.has(next, d, UINT32_MAX)) {
        arm.end = EndKind::Widens;
        break;
      }
      gone += chord.norm();
      if (step >= steady_step_m) d = (1.5 * chord.normalized() - 0.5 * d).normalized();
      at = next;
      r = 0.8 * r + 0.2 * cut.section.r_max;
      arm.samples.push_back({at, cut.section.r_max});
      if (turn < most_turn_rad / 3) step = std::min(step * 1.6, gone > careful_to ? longest_step_m : careful_step_m);
    }
    return arm;
  }

  /// Over a joint: straight on, as long as something is there, to where the section is as it was.
  std::optional<Sample> bridge(const Vec3& at, const Vec3& d, double r, EndKind& end) {
    constexpr double stride_m = 0.006;
    end = EndKind::Free;
    for (double ahead = 0.003; ahead < longest_bridge_m; ahead += stride_m) {
      const auto cut = slicer_.cut({at + ahead * d, d, r, std::min(r_most_, 1.7 * r + 0.002), 0.4 * r + 0.05 * ahead});
      if (cut.met == Met::Nothing) return std::nullopt;
      end = EndKind::Widens;
      if (!is_like(cut, r) || cut.section.r_max > 1.25 * r || cut.section.r_max < 0.8 * r) continue;
      // Once more a little farther: the far side of the joint, not a chance likeness in it.
      const auto beyond =
          slicer_.cut({at + (ahead + stride_m) * d, d, r, std::min(r_most_, 1.7 * r + 0.002), 0.4 * r + 0.05 * ahead});
      if (is_like(beyond, r)) return Sample{beyond.section.centre, beyond.section.r_max};
    }
    return std::nullopt;
  }

  const Prepared& p_;
  double r_most_;
  TraceLimits limits_;
  Slicer slicer_;
  Followed followed_;
  std::vector<Tube> tubes_;
  std::vector<std::uint32_t> near_;
  Vec3 along_ = Vec3::UnitX();
};

}  // namespace

std::vector<Tube> trace_tubes(const Prepared& prepared, const TraceLimits& limits) {
  return Tracer(prepared, limits).run();
}

}  // namespace holdfast::rails::detail
