// SPDX-License-Identifier: GPL-3.0-or-later
#include "bodies_impl.h"

#include <algorithm>
#include <limits>

namespace holdfast::plan::detail {

namespace {

constexpr double tolerance_m = 1e-6;  // design.md 16: exactly a diameter is allowed

/// Between two segments. Source: Ericson, Real-Time Collision Detection (2005), 5.1.9.
double distance_between(const Vec3& p1, const Vec3& q1, const Vec3& p2, const Vec3& q2) {
  const Vec3 d1 = q1 - p1, d2 = q2 - p2, r = p1 - p2;
  const double a = d1.squaredNorm(), e = d2.squaredNorm(), f = d2.dot(r);
  double s = 0, t = 0;
  constexpr double tiny = 1e-18;
  if (a <= tiny && e <= tiny) return r.norm();
  if (a <= tiny) {
    t = std::clamp(f / e, 0.0, 1.0);
  } else {
    const double c = d1.dot(r);
    if (e <= tiny) {
      s = std::clamp(-c / a, 0.0, 1.0);
    } else {
      const double b = d1.dot(d2), denominator = a * e - b * b;
      if (denominator > 1e-12 * a * e) s = std::clamp((b * f - c * e) / denominator, 0.0, 1.0);
      t = (b * s + f) / e;
      if (t < 0) {
        t = 0, s = std::clamp(-c / a, 0.0, 1.0);
      } else if (t > 1) {
        t = 1, s = std::clamp((b - c) / a, 0.0, 1.0);
      }
    }
  }
  return ((p1 + s * d1) - (p2 + t * d2)).norm();
}

double distance_between(const std::vector<Vec3>& a, const std::vector<Vec3>& b) {
  double least = std::numeric_limits<double>::infinity();
  for (std::size_t i = 0; i + (a.size() > 1 ? 1 : 0) < a.size(); ++i)
    for (std::size_t k = 0; k + (b.size() > 1 ? 1 : 0) < b.size(); ++k)
      least = std::min(
          least, distance_between(a[i], a[std::min(i + 1, a.size() - 1)], b[k], b[std::min(k + 1, b.size() - 1)]));
  return least;
}

/// Both have business at a place, all hands of one are within its radius, and one hand of the other within the radius
/// and a diameter.
bool is_exempt(const Occupied& a, const Occupied& b) {
  const double diameter_m = a.radius_m + b.radius_m;
  for (const PlaceBall& place : a.business) {
    if (std::none_of(b.business.begin(), b.business.end(), [&](const PlaceBall& o) { return o.place == place.place; }))
      continue;
    const auto all_within = [&](const Occupied& x) {
      return !x.hands.empty() && std::all_of(x.hands.begin(), x.hands.end(), [&](const Vec3& hand) {
        return (hand - place.at).norm() <= place.within_m + tolerance_m;
      });
    };
    const auto one_near = [&](const Occupied& x) {
      return std::any_of(x.hands.begin(), x.hands.end(), [&](const Vec3& hand) {
        return (hand - place.at).norm() <= place.within_m + diameter_m + tolerance_m;
      });
    };
    if ((all_within(a) && one_near(b)) || (all_within(b) && one_near(a))) return true;
  }
  return false;
}

/// How much too near, above 0; nothing where they are apart.
std::optional<double> shortfall_m(const Occupied& a, const Occupied& b, double& distance_m) {
  if (!a.moves && !b.moves) return std::nullopt;
  if (a.body.empty() || b.body.empty()) return std::nullopt;
  if (std::min(a.to_s, b.to_s) <= std::max(a.from_s, b.from_s) + 1e-9) return std::nullopt;
  distance_m = distance_between(a.body, b.body) - a.off_m - b.off_m;
  const double needed_m = a.radius_m + b.radius_m;
  if (distance_m >= needed_m - tolerance_m || is_exempt(a, b)) return std::nullopt;
  return needed_m - distance_m;
}

}  // namespace

std::optional<Near> find_nearest_pair(std::span<const Occupied> a, std::span<const Occupied> b) {
  std::optional<Near> worst;
  double most_m = 0;
  for (std::size_t i = 0; i < a.size(); ++i)
    for (std::size_t k = 0; k < b.size(); ++k) {
      double distance_m = 0;
      const auto short_m = shortfall_m(a[i], b[k], distance_m);
      if (!short_m || *short_m <= most_m) continue;
      most_m = *short_m;
      worst = Near{std::max(a[i].from_s, b[k].from_s),
                   std::max(distance_m, 0.0),
                   a[i].radius_m + b[k].radius_m,
                   a[i].body.back(),
                   i,
                   k};
    }
  return worst;
}

bool are_apart(std::span<const Occupied> a, std::span<const Occupied> b) {
  double distance_m = 0;
  for (const Occupied& x : a)
    for (const Occupied& y : b)
      if (shortfall_m(x, y, distance_m)) return false;
  return true;
}

}  // namespace holdfast::plan::detail
