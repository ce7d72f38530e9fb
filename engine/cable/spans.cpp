// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/cable/spans.h"

#include <tbb/parallel_for.h>

#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <mutex>
#include <numbers>

#include "holdfast/geometry/fillet.h"
#include "holdfast/geometry/point_tree.h"
#include "holdfast/geometry/surface_way.h"
#include "line_impl.h"

namespace holdfast::cable {

using geometry::Scene;
using model::PartId;

namespace {

constexpr double length_tolerance_m = 1e-6;  // limits include equality (design.md 14)

geometry::PointTree points_of(const std::vector<Tie>& ties) {
  std::vector<Vec3> points;
  for (const Tie& tie : ties) points.push_back(tie.way);
  return geometry::PointTree(std::move(points));
}

/// Longest stretch of the line that may be farther from structure than `lies_within_m`; rounded up.
double longest_open_stretch(const Scene& scene, const std::vector<Vec3>& line, double lies_within_m) {
  constexpr double step = 0.02;
  double longest = 0, open = 0;
  for (std::size_t i = 1; i < line.size(); ++i) {
    const double length = (line[i] - line[i - 1]).norm();
    const int steps = std::max(1, static_cast<int>(std::ceil(length / step)));
    for (int k = 0; k < steps; ++k) {
      const Vec3 middle = line[i - 1] + (line[i] - line[i - 1]) * ((k + 0.5) / steps);
      // No point of the step is farther than its middle and half the step.
      const bool lies = scene.distance(middle, lies_within_m + step) + length / steps / 2 <= lies_within_m;
      open = lies ? 0 : open + length / steps;
      longest = std::max(longest, open);
    }
  }
  return longest;
}

/// Surfaces of the parts, made when first asked for by any of several threads.
class Surfaces {
 public:
  explicit Surfaces(const Scene& scene) : scene_(scene), once_(scene.structure().parts.size()), made_(once_.size()) {}
  const geometry::Surface& of(PartId part) {
    std::call_once(once_[part.index()], [&] { made_[part.index()].emplace(scene_.part_mesh(part), 0.001); });
    return *made_[part.index()];
  }

 private:
  const Scene& scene_;
  std::vector<std::once_flag> once_;
  std::vector<std::optional<geometry::Surface>> made_;
};

/// Parts that the cable's tube would touch on the straight line, in order of their number.
std::vector<PartId> parts_between(const Scene& scene, const Vec3& a, const Vec3& b, double clear_m) {
  constexpr double step = 0.02;
  std::vector<PartId> parts;
  const auto take = [&](PartId part) {
    if (std::find(parts.begin(), parts.end(), part) == parts.end()) parts.push_back(part);
  };
  const int steps = std::max(1, static_cast<int>(std::ceil((b - a).norm() / step)));
  for (int k = 0; k <= steps; ++k)
    if (const auto nearest = scene.find_nearest(a + (b - a) * (static_cast<double>(k) / steps), clear_m + step / 2))
      take(nearest->part);
  const Vec3 ends[] = {a, b};
  if (const auto nearest = scene.find_nearest_to_hull(ends, clear_m)) take(nearest->part);
  std::sort(parts.begin(), parts.end());
  return parts;
}

/// The shortest line from a to b through some of the points, all of its pieces clear; nothing when there is none within
/// `most_m`. Dijkstra's method on what sees each other.
std::optional<std::vector<OverPoint>> find_clear_line(const Scene& scene, const Vec3& a, const Vec3& b,
                                                      const std::vector<OverPoint>& over, double clear_m,
                                                      double most_m) {
  const std::size_t n = over.size() + 2;
  const auto at = [&](std::size_t i) -> const Vec3& { return i == 0 ? a : i == n - 1 ? b : over[i - 1].at; };
  std::vector<double> length(n, std::numeric_limits<double>::infinity());
  std::vector<std::size_t> from(n, n);
  std::vector<bool> is_done(n, false);
  length[0] = 0;
  for (;;) {
    std::size_t i = n;
    for (std::size_t k = 0; k < n; ++k)
      if (!is_done[k] && std::isfinite(length[k]) && (i == n || length[k] < length[i])) i = k;
    if (i == n) return std::nullopt;
    if (i == n - 1) break;
    is_done[i] = true;
    for (std::size_t k = 1; k < n; ++k) {
      if (is_done[k] || (i == 0 && k == n - 1)) continue;  // the straight line is known to be blocked
      const double through = length[i] + (at(k) - at(i)).norm();
      if (through >= length[k] || through + (b - at(k)).norm() > most_m) continue;
      if (!is_piece_clear(scene, at(i), at(k), clear_m)) continue;
      length[k] = through, from[k] = i;
    }
  }
  std::vector<OverPoint> line;
  for (std::size_t i = from[n - 1]; i != 0; i = from[i]) line.push_back(over[i - 1]);
  std::reverse(line.begin(), line.end());
  return line;
}

class SpanBuilder {
 public:
  SpanBuilder(const Scene& scene, const std::vector<Tie>& ties, const SpanRules& rules)
      : scene_(scene), ties_(ties), rules_(rules), surfaces_(scene), tree_(points_of(ties)) {}

  SpanTable build() {
    std::vector<SpanTable> rows(ties_.size());
    tbb::parallel_for(std::size_t{0}, ties_.size(), [&](std::size_t a) { find_from(a, rows[a]); });
    SpanTable table;
    for (auto& row : rows) {
      std::move(row.spans.begin(), row.spans.end(), std::back_inserter(table.spans));
      table.missing.insert(table.missing.end(), row.missing.begin(), row.missing.end());
    }
    return table;
  }

 private:
  struct Blocked {
    std::uint32_t b;
    std::vector<PartId> parts;
    std::vector<OverPoint> over;
  };

  void find_from(std::size_t index, SpanTable& row) {
    const auto a = static_cast<std::uint32_t>(index);
    const Vec3& from = ties_[a].way;
    const double radius = rules_.span_m + length_tolerance_m;
    std::vector<Blocked> blocked;
    for (const std::size_t near : tree_.find_within(from, radius)) {
      const auto b = static_cast<std::uint32_t>(near);
      if (b <= a) continue;
      if (is_piece_clear(scene_, from, ties_[b].way, rules_.clear_m()))
        keep(row, {a, b, {}});
      else
        blocked.push_back({b, parts_between(scene_, from, ties_[b].way, rules_.clear_m()), {}});
    }
    add_surface_points(a, blocked);
    for (auto& pair : blocked) {
      constexpr double longer = 2;  // what is looked at beyond the limit, to be able to say how long the way would be
      auto over = find_clear_line(scene_, from, ties_[pair.b].way, pair.over, rules_.clear_m(), longer * rules_.span_m);
      if (over)
        keep(row, {a, pair.b, std::move(*over)});
      else
        row.missing.push_back({a, pair.b, NoSpanKind::StructureBetween, 0});
    }
    const auto by_b = [](const auto& x, const auto& y) { return x.b < y.b; };
    std::sort(row.spans.begin(), row.spans.end(), by_b);
    std::sort(row.missing.begin(), row.missing.end(), by_b);
  }

  /// For every pair the points of the shortest way over each part in between, lifted off it.
  void add_surface_points(std::uint32_t a, std::vector<Blocked>& blocked) {
    std::map<PartId, std::vector<std::size_t>> by_part;
    for (std::size_t i = 0; i < blocked.size(); ++i)
      for (const auto part : blocked[i].parts) by_part[part].push_back(i);
    for (const auto& [part, pairs] : by_part) {
      const auto patch = geometry::cut_patch(surfaces_.of(part), {ties_[a].way, rules_.span_m + lift_m()});
      std::vector<Vec3> targets;
      for (const auto i : pairs) targets.push_back(ties_[blocked[i].b].way);
      const auto ways = geometry::find_shortest_ways(patch, ties_[a].way, targets, {.most_gap_m = rules_.span_m});
      for (std::size_t k = 0; k < pairs.size(); ++k) {
        const auto* way = std::get_if<geometry::SurfaceWay>(&ways[k]);
        if (!way) continue;
        // An open shell's normals may point either way: out is where the tie is.
        const Vec3 off = ties_[a].way - way->points.front();
        const double side = off.dot(way->lift.front()) < 0 ? -1 : 1;
        for (std::size_t p = 0; p < way->points.size(); ++p)
          blocked[pairs[k]].over.push_back({way->points[p] + side * lift_m() * way->lift[p], way->fold_rad[p], part});
      }
    }
  }
  /// The mesh may be a chord error inside of the solid, and a lift is measured from the mesh.
  double lift_m() const { return rules_.clear_m() + 0.0015; }

  void keep(SpanTable& row, Span span) const {
    std::vector<Vec3> line = {ties_[span.a].way};
    for (const auto& point : span.over) line.push_back(point.at);
    line.push_back(ties_[span.b].way);
    const double length = length_of(line);
    if (length > rules_.span_m + length_tolerance_m) {
      row.missing.push_back({span.a, span.b, NoSpanKind::TooLong, length});
      return;
    }
    if (length > rules_.free_span_m + length_tolerance_m)
      if (const double open = longest_open_stretch(scene_, line, rules_.lies_within_m);
          open > rules_.free_span_m + length_tolerance_m) {
        row.missing.push_back({span.a, span.b, NoSpanKind::OpenSpace, open});
        return;
      }
    row.spans.push_back(std::move(span));
  }

  const Scene& scene_;
  const std::vector<Tie>& ties_;
  const SpanRules rules_;
  Surfaces surfaces_;
  geometry::PointTree tree_;
};

/// Moves what touches structure outward so that a bend of this radius passes outside of it: of an edge by `gap_m`.
std::vector<Vec3> stand_off(const std::vector<Vec3>& line, const std::vector<OverPoint>& over, double bend_radius_m,
                            double gap_m) {
  std::vector<Vec3> moved = line;
  for (std::size_t i = 1; i + 1 < line.size(); ++i) {
    const Vec3 in = (line[i] - line[i - 1]).normalized(), out = (line[i + 1] - line[i]).normalized();
    const double turn = angle_between(in, out);
    if (turn < 1e-9) continue;
    // The arc between tangents that turn by theta passes R (1 / cos(theta / 2) - 1) inside of their corner.
    const double gap = over[i - 1].fold_rad >= edge_fold_rad ? gap_m : 0;
    moved[i] += (in - out).normalized() * (bend_radius_m * (1 / std::cos(turn / 2) - 1) + gap);
  }
  return moved;
}

bool is_round(const model::Shape& shape) {
  return std::holds_alternative<model::Cylinder>(shape) || std::holds_alternative<model::Cone>(shape) ||
         std::holds_alternative<model::Sphere>(shape);
}

/// The one round part that the span lies on from tie to tie, if it does; edges of it are none of its roundness.
std::optional<PartId> round_part_of(const Scene& scene, const Span& span) {
  if (span.over.empty()) return std::nullopt;
  const PartId part = span.over.front().part;
  const bool is_one = std::all_of(span.over.begin(), span.over.end(), [&](const OverPoint& point) {
    return point.part == part && point.fold_rad < edge_fold_rad;
  });
  return is_one && is_round(scene.structure().parts[part.index()].shape) ? std::optional(part) : std::nullopt;
}

/// The span as it lies on a round part: its way over the part's mesh laid on to the exact solid. Nothing where a tie
/// stands off the part, or where it is not clear, or bends more than the cable may.
std::optional<FittedSpan> lay_on(const Scene& scene, const SpanRules& rules, const std::vector<Tie>& ties,
                                 const Span& span, PartId part, double bend_radius_m) {
  constexpr double on_it_m = 0.003;      // beyond the cable's clearance: a tie that stands on the part
  constexpr double chord_rise_m = 1e-4;  // of inner points, for the chords between them
  const auto normal_at = [&](const Vec3& p) -> std::optional<std::pair<Vec3, double>> {
    const auto nearest = scene.find_nearest_on_part(part, p, rules.lies_within_m + 1);
    if (!nearest || nearest->distance_m < 1e-6) return std::nullopt;
    return std::pair<Vec3, double>((p - nearest->point) / nearest->distance_m, nearest->distance_m);
  };
  const Vec3 &a = ties[span.a].way, &b = ties[span.b].way;
  const auto out_a = normal_at(a), out_b = normal_at(b);
  const double highest = rules.clear_m() + on_it_m;
  if (!out_a || !out_b || out_a->second > highest || out_b->second > highest) return std::nullopt;
  const double height = std::max({out_a->second, out_b->second, rules.clear_m() + chord_rise_m}) + chord_rise_m;
  std::vector<Vec3> way = {a};
  for (const auto& point : span.over) way.push_back(point.at);
  way.push_back(b);
  const double along = length_of(way);
  for (const double step : {0.02, 0.01, 0.005}) {
    FittedSpan fitted;
    fitted.a = span.a, fitted.b = span.b, fitted.lies_on = part;
    const int steps = std::max(2, static_cast<int>(std::ceil(along / step)));
    fitted.line = {a};
    std::size_t piece = 1;
    double before = 0;
    for (int k = 1; k < steps; ++k) {
      const double want = along * k / steps;
      while (piece + 1 < way.size() && before + (way[piece] - way[piece - 1]).norm() < want) {
        before += (way[piece] - way[piece - 1]).norm();
        ++piece;
      }
      const Vec3 along_piece = way[piece] - way[piece - 1];
      const Vec3 p = way[piece - 1] + along_piece * ((want - before) / std::max(1e-12, along_piece.norm()));
      const auto out = normal_at(p);
      if (!out) return std::nullopt;
      fitted.line.emplace_back(p + (height - out->second) * out->first);
    }
    fitted.line.push_back(b);
    const auto& line = fitted.line;
    const std::size_t n = line.size();
    constexpr std::size_t fewest = 6;  // points that curvature is measured over
    bool is_clear = n >= fewest;
    for (std::size_t i = 1; i < n && is_clear; ++i)
      is_clear = is_piece_clear(scene, line[i - 1], line[i], rules.clear_m());
    if (!is_clear) continue;
    // The rise of the first and last points is none of the surface's bending.
    for (std::size_t i = 2; i + 2 < n; ++i) {
      const Vec3 in = line[i] - line[i - 1], out = line[i + 1] - line[i];
      const double turn = angle_between(in.normalized(), out.normalized());
      fitted.curvature_1_m = std::max(fitted.curvature_1_m, 2 * turn / (in.norm() + out.norm()));
    }
    constexpr double rounding = 0.02;  // of the curvature: what laying the mesh's way on to the solid bends it
    if (bend_radius_m * fitted.curvature_1_m > 1 + rounding) return std::nullopt;
    fitted.curvature_1_m = bend_radius_m > 0 ? std::min(fitted.curvature_1_m, 1 / bend_radius_m) : fitted.curvature_1_m;
    fitted.length_m = length_of(line);
    if (fitted.length_m > rules.span_m + length_tolerance_m) return std::nullopt;
    const auto leaves = [&](const Vec3& from, const Vec3& to, const Vec3& out) {
      const Vec3 d = to - from;
      return Vec3((d - d.dot(out) * out).normalized());
    };
    fitted.leaves_a = leaves(line[0], line[1], out_a->first);
    fitted.leaves_b = leaves(line[n - 1], line[n - 2], out_b->first);
    // Less by what the line is longer for lying higher than the cable may, and for rising to there at both ends.
    const double rise = height - rules.clear_m();
    fitted.room_a_m = fitted.room_b_m = fitted.length_m * (1 - std::min(1.0, fitted.curvature_1_m * rise)) - 2 * rise;
    fitted.touches.assign(n - 2, part);
    return fitted;
  }
  return std::nullopt;
}

}  // namespace

SpanTable build_spans(const Scene& scene, const std::vector<Tie>& ties, const SpanRules& rules) {
  if (ties.empty()) return {};
  return SpanBuilder(scene, ties, rules).build();
}

double side_radius_m(double bend_radius_m, double curvature_1_m) {
  const double taken = bend_radius_m * curvature_1_m;
  if (taken >= 1) return std::numeric_limits<double>::infinity();
  return bend_radius_m / std::sqrt(1 - taken * taken);
}

double whole_radius_m(double side_radius_m, double curvature_1_m) {
  return 1 / std::hypot(1 / side_radius_m, curvature_1_m);
}

bool is_bend_clear(const Scene& scene, const Vec3& corner, const Vec3& to_before, const Vec3& to_after,
                   double bend_radius_m, double clear_m) {
  const double turn = std::numbers::pi - angle_between(to_before, to_after);
  if (turn < 1e-6) return true;
  if (turn > std::numbers::pi - 1e-6) return bend_radius_m <= 0;
  const double inside = bend_radius_m * (1 / std::cos(turn / 2) - 1);
  if (scene.distance(corner, inside + clear_m) >= inside + clear_m) return true;
  return is_arc_clear(scene, fillet_at(corner, to_before, to_after, bend_radius_m), clear_m);
}

std::optional<FittedSpan> fit_span(const Scene& scene, const SpanRules& rules, const std::vector<Tie>& ties,
                                   const Span& span, double bend_radius_m) {
  if (const auto part = round_part_of(scene, span))
    if (auto laid = lay_on(scene, rules, ties, span, *part, bend_radius_m)) return laid;
  FittedSpan fitted;
  fitted.a = span.a, fitted.b = span.b;
  std::vector<Vec3> line = {ties[span.a].way};
  for (const auto& point : span.over) line.push_back(point.at);
  line.push_back(ties[span.b].way);
  for (const auto& point : span.over) fitted.touches.push_back(point.part);
  const auto settle = [&] {
    fitted.length_m = length_of(fitted.line);
    const std::size_t n = fitted.line.size();
    fitted.leaves_a = (fitted.line[1] - fitted.line[0]).normalized();
    fitted.leaves_b = (fitted.line[n - 2] - fitted.line[n - 1]).normalized();
    fitted.room_a_m = (fitted.line[1] - fitted.line[0]).norm();
    fitted.room_b_m = (fitted.line[n - 2] - fitted.line[n - 1]).norm();
  };
  if (line.size() == 2) {
    fitted.line = std::move(line);
    settle();
    return fitted;
  }
  for (const double gap : {edge_gap_m, 0.0}) {
    fitted.line = stand_off(line, span.over, bend_radius_m, gap);
    fitted.edges.clear();
    settle();
    if (fitted.length_m > rules.span_m + length_tolerance_m) continue;
    const auto& p = fitted.line;
    bool fits = true;
    double tangent_before = 0;
    for (std::size_t i = 1; i < p.size() && fits; ++i) {
      const double piece = (p[i] - p[i - 1]).norm();
      double tangent = 0;
      if (i + 1 < p.size()) {
        const Vec3 before = (p[i - 1] - p[i]).normalized(), after = (p[i + 1] - p[i]).normalized();
        const double turn = std::numbers::pi - angle_between(before, after);
        tangent = geometry::fillet_tangent_m(bend_radius_m, turn);
        const auto& over = span.over[i - 1];
        if (over.fold_rad >= edge_fold_rad)
          fitted.edges.push_back({over.at, over.part, turn, gap > 0 ? EdgeKind::StandsOff : EdgeKind::Padded});
        fits = is_bend_clear(scene, p[i], before, after, bend_radius_m, rules.clear_m());
      }
      fits = fits && tangent_before + tangent <= piece + length_tolerance_m &&
             is_piece_clear(scene, p[i - 1], p[i], rules.clear_m());
      if (i == 1) fitted.room_a_m = piece - tangent;
      if (i + 1 == p.size()) fitted.room_b_m = piece - tangent_before;
      tangent_before = tangent;
    }
    if (fits) return fitted;
  }
  return std::nullopt;
}

}  // namespace holdfast::cable
