// SPDX-License-Identifier: GPL-3.0-or-later
#include "label_placer_impl.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

namespace holdfast::picture {

namespace {

constexpr std::array<double, 14> rings_mm = {0.9, 1.6, 2.5, 3.5, 5, 7, 9.5, 12.5, 16, 20, 26, 34, 44, 60};
constexpr int directions = 16;
constexpr double beside_mm = 1.7;  // nearer than this a label needs no leader
constexpr double air_mm = 0.3;     // round each label

Rect grown(const Rect& r, double by) { return {r.x0 - by, r.y0 - by, r.x1 + by, r.y1 + by}; }

}  // namespace

// Liang and Barsky, 'A new concept and method for line clipping', 1984.
bool meets(const Segment& segment, const Rect& rect) {
  const Vec2 d = segment.second - segment.first;
  double from = 0, to = 1;
  const auto clip = [&](double along, double room) {
    if (along == 0) return room > 0;
    const double t = room / along;
    if (along < 0)
      from = std::max(from, t);
    else
      to = std::min(to, t);
    return from < to;
  };
  return clip(-d.x(), segment.first.x() - rect.x0) && clip(d.x(), rect.x1 - segment.first.x()) &&
         clip(-d.y(), segment.first.y() - rect.y0) && clip(d.y(), rect.y1 - segment.first.y());
}

bool cross(const Segment& a, const Segment& b) {
  const auto side = [](const Segment& s, const Vec2& p) {
    const Vec2 d = s.second - s.first, e = p - s.first;
    return d.x() * e.y() - d.y() * e.x();
  };
  const double a0 = side(a, b.first), a1 = side(a, b.second), b0 = side(b, a.first), b1 = side(b, a.second);
  if (a0 == 0 && a1 == 0) {  // on one line
    const auto apart = [](double p, double q, double r, double s) {
      return std::max(p, q) < std::min(r, s) || std::max(r, s) < std::min(p, q);
    };
    return !apart(a.first.x(), a.second.x(), b.first.x(), b.second.x()) &&
           !apart(a.first.y(), a.second.y(), b.first.y(), b.second.y());
  }
  return a0 * a1 <= 0 && b0 * b1 <= 0;
}

bool LabelPlacer::is_free(const Placed& candidate) const {
  if (!area_.holds(candidate.rect)) return false;
  const Rect room = grown(candidate.rect, air_mm);
  return std::none_of(placed_.begin(), placed_.end(), [&](const Placed& other) {
    return other.rect.overlaps(room) || (other.leader && meets(*other.leader, room)) ||
           (candidate.leader && (meets(*candidate.leader, grown(other.rect, air_mm)) ||
                                 (other.leader && cross(*candidate.leader, *other.leader))));
  });
}

std::optional<LabelPlacer::Placed> LabelPlacer::place(const Vec2& at, double width, double height, double farthest) {
  std::optional<Placed> best;
  double least = 0;
  for (const double ring : rings_mm) {
    if (ring > farthest || (best && ring >= least)) break;
    for (int k = 0; k < directions; ++k) {
      // Up and to the right first, where one looks for it.
      const double angle = 2 * std::numbers::pi * (k + 2) / directions;
      const double right = std::cos(angle), down = -std::sin(angle);
      const Vec2 middle(at.x() + ring * right + std::clamp(1.6 * right, -1.0, 1.0) * width / 2,
                        at.y() + ring * down + std::clamp(1.6 * down, -1.0, 1.0) * height / 2);
      Placed candidate{
          {middle.x() - width / 2, middle.y() - height / 2, middle.x() + width / 2, middle.y() + height / 2}, {}};
      const Vec2 nearest(std::clamp(at.x(), candidate.rect.x0, candidate.rect.x1),
                         std::clamp(at.y(), candidate.rect.y0, candidate.rect.y1));
      if ((nearest - at).norm() > beside_mm) candidate.leader = Segment(at, nearest);
      if (!is_free(candidate)) continue;
      double cost = ring + 0.01 * k;
      for (const auto& spared : spared_) {
        const auto& r = candidate.rect;
        if (spared.at.x() > r.x0 && spared.at.x() < r.x1 && spared.at.y() > r.y0 && spared.at.y() < r.y1)
          cost += spared.weight;
      }
      if (!best || cost < least) best = candidate, least = cost;
    }
  }
  if (best) placed_.push_back(*best);
  return best;
}

}  // namespace holdfast::picture
