// SPDX-License-Identifier: GPL-3.0-or-later
#include "section_impl.h"

#include <algorithm>
#include <limits>
#include <numbers>

namespace holdfast::rails::detail {

namespace {

double cross(const Vec2& a, const Vec2& b) { return a.x() * b.y() - a.y() * b.x(); }

double distance_to_piece(const Vec2& a, const Vec2& b) {  // from the origin
  const Vec2 d = b - a;
  const double square = d.squaredNorm();
  const double t = square > 0 ? std::clamp(-a.dot(d) / square, 0.0, 1.0) : 0;
  return (a + t * d).norm();
}

}  // namespace

Cut Slicer::cut(const Aim& aim, Outline* outline) {
  const double radius = 1.05 * aim.r_most + aim.most_aside_m;
  triangles_.clear(), pieces_.clear(), ends_.clear();
  tree_.find_crossing(aim.at, aim.along, radius, triangles_);
  const Vec3 u = aim.along.unitOrthogonal(), v = aim.along.cross(u);
  for (const auto t : triangles_) {
    const auto& c = mesh_.triangles[t];
    std::array<double, 3> height{};
    for (std::size_t i = 0; i < 3; ++i) height[i] = (mesh_.vertices[c[i]] - aim.at).dot(aim.along);
    Piece piece{};
    int found = 0;
    for (std::size_t i = 0; i < 3 && found < 2; ++i) {
      const std::size_t k = (i + 1) % 3;
      if ((height[i] >= 0) == (height[k] >= 0)) continue;
      // Always from the smaller vertex to the larger: both triangles at the edge get the same point.
      const auto low = std::min(c[i], c[k]), high = std::max(c[i], c[k]);
      const double h_low = c[i] == low ? height[i] : height[k], h_high = c[i] == low ? height[k] : height[i];
      const Vec3 p =
          mesh_.vertices[low] + h_low / (h_low - h_high) * (mesh_.vertices[high] - mesh_.vertices[low]) - aim.at;
      const Vec2 q(p.dot(u), p.dot(v));
      const std::uint64_t edge = (static_cast<std::uint64_t>(low) << 32) | high;
      (found == 0 ? piece.a : piece.b) = q;
      (found == 0 ? piece.edge_a : piece.edge_b) = edge;
      ++found;
    }
    if (found < 2) continue;
    const Vec3 normal =
        (mesh_.vertices[c[1]] - mesh_.vertices[c[0]]).cross(mesh_.vertices[c[2]] - mesh_.vertices[c[0]]);
    const Vec3 ahead = aim.along.cross(normal);
    if ((piece.b - piece.a).dot(Vec2(ahead.dot(u), ahead.dot(v))) < 0) {
      std::swap(piece.a, piece.b), std::swap(piece.edge_a, piece.edge_b);
    }
    if (distance_to_piece(piece.a, piece.b) > radius) continue;
    const auto index = static_cast<std::uint32_t>(pieces_.size());
    ends_.emplace_back(piece.edge_a, index), ends_.emplace_back(piece.edge_b, index);
    pieces_.push_back(piece);
  }
  if (pieces_.empty()) return {};

  parent_.resize(pieces_.size());
  for (std::uint32_t i = 0; i < parent_.size(); ++i) parent_[i] = i;
  const auto root = [&](std::uint32_t i) {
    while (parent_[i] != i) i = parent_[i] = parent_[parent_[i]];
    return i;
  };
  std::sort(ends_.begin(), ends_.end());
  for (std::size_t i = 1; i < ends_.size(); ++i)
    if (ends_[i].first == ends_[i - 1].first) {
      const auto a = root(ends_[i].second), b = root(ends_[i - 1].second);
      parent_[std::max(a, b)] = std::min(a, b);
    }
  for (std::uint32_t i = 0; i < pieces_.size(); ++i) pieces_[i].group = root(i);
  std::sort(pieces_.begin(), pieces_.end(), [](const Piece& x, const Piece& y) {
    if (x.group != y.group) return x.group < y.group;
    return std::tie(x.edge_a, x.edge_b) < std::tie(y.edge_a, y.edge_b);
  });

  Cut best;
  double best_score = std::numeric_limits<double>::infinity();
  std::size_t best_begin = 0, best_end = 0;
  for (std::size_t begin = 0, end = 0; begin < pieces_.size(); begin = end) {
    for (end = begin; end < pieces_.size() && pieces_[end].group == pieces_[begin].group; ++end) {
    }
    double length = 0, area = 0, nearest = std::numeric_limits<double>::infinity();
    Vec2 middle = Vec2::Zero(), first = Vec2::Zero();
    ends_.clear();
    for (std::size_t i = begin; i < end; ++i) {
      const auto& piece = pieces_[i];
      const double l = (piece.b - piece.a).norm(), a = cross(piece.a, piece.b) / 2;
      length += l, middle += l * (piece.a + piece.b) / 2;
      area += a, first += a * (piece.a + piece.b) / 3;
      nearest = std::min(nearest, distance_to_piece(piece.a, piece.b));
      ends_.emplace_back(piece.edge_a, static_cast<std::uint32_t>(2 * i));
      ends_.emplace_back(piece.edge_b, static_cast<std::uint32_t>(2 * i + 1));
    }
    if (length <= 0) continue;
    // Ends that no other piece shares: none of a closed outline, two where a face is missing.
    std::sort(ends_.begin(), ends_.end());
    loose_.clear();
    std::array<bool, 2> is_begin{};
    for (std::size_t i = 0; i < ends_.size();) {
      std::size_t k = i;
      while (k < ends_.size() && ends_[k].first == ends_[i].first) ++k;
      if ((k - i) % 2 == 1) {
        const auto& piece = pieces_[ends_[i].second / 2];
        const bool at_begin = ends_[i].second % 2 == 0;
        if (loose_.size() < 2) is_begin[loose_.size()] = at_begin;
        loose_.push_back(at_begin ? piece.a : piece.b);
      }
      i = k;
    }
    const bool is_closed = loose_.empty();
    if (loose_.size() == 2 && is_begin[0] != is_begin[1]) {
      const Vec2 &from = is_begin[0] ? loose_[1] : loose_[0], &to = is_begin[0] ? loose_[0] : loose_[1];
      const double a = cross(from, to) / 2;
      area += a, first += a * (from + to) / 3;
    }
    Vec2 centre = middle / length;
    const bool has_area = (is_closed || loose_.size() == 2) && std::abs(area) > 0.01 * length * length;
    if (has_area) centre = first / area;
    double r_max = 0;
    for (std::size_t i = begin; i < end; ++i)
      r_max = std::max({r_max, (pieces_[i].a - centre).norm(), (pieces_[i].b - centre).norm()});
    const bool is_wide = r_max > aim.r_most || !has_area;
    const double aside = centre.norm();
    if (is_wide || aside > aim.most_aside_m) {
      const double reach = aim.r_expected > 0 ? 1.3 * aim.r_expected : aim.most_aside_m;
      if (best.met == Met::Nothing && nearest <= reach) best.met = Met::Wide;
      continue;
    }
    // Of two round the same middle (a hollow tube) the outer one; else the one of the size expected, then the nearest.
    const double unlike = aim.r_expected > 0 ? std::abs(std::log(r_max / aim.r_expected)) : -r_max / aim.r_most * 0.5;
    const double score = aside / std::max(r_max, 1e-3) + unlike;
    if (score >= best_score) continue;
    best_score = score;
    best = {Met::Tube, {aim.at + centre.x() * u + centre.y() * v, r_max, std::abs(area), is_closed}};
    best_begin = begin, best_end = end;
  }
  if (best.met == Met::Tube && outline) {
    const Vec3 shift = best.section.centre - aim.at;
    const Vec2 centre(shift.dot(u), shift.dot(v));
    *outline = {{}, u, v};
    for (std::size_t i = best_begin; i < best_end; ++i) {
      outline->points.push_back(pieces_[i].a - centre);
      outline->points.push_back(pieces_[i].b - centre);
    }
  }
  return best;
}

}  // namespace holdfast::rails::detail
