// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/tether/taut.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <optional>

#include "holdfast/model/diagnostic.h"
#include "shortest_within_impl.h"

namespace holdfast::tether {

namespace {

using detail::piece_m;
using detail::Plane;
using geometry::Scene;

// What a cut leaves beside the line; pulling may take the line down to `line_clear_m`, and the surface that a step
// sweeps to the last of these: each has room for the rounding of the one before.
constexpr double cut_clear_m = 1.1 * line_clear_m, swept_clear_m = 0.8 * line_clear_m,
                 least_clear_m = 0.25 * line_clear_m;
constexpr double rounding_left = 0.75;  // of its clearance must be left to a piece that moves
constexpr double measure_m = 1e-7;      // tolerance of the clearances compared
constexpr double contact_m = 1e-8;      // where a contact is, decides the direction it bears in
constexpr double short_piece_m = 1e-6;
constexpr double still_m = 2e-4;  // a point that goes less far has not moved

/// Shortens one line in rounds of two steps, each of which only ever moves the line where the swept surface is clear:
/// bends are cut in their own plane, then all bends slide together along what they bear on.
class Tightener {
 public:
  Tightener(const Scene& scene, std::vector<Vec3> points, const TautOptions& options)
      : scene_(scene), options_(options), points_(std::move(points)), is_dirty_(points_.size(), true) {}

  TautLine run() {
    line_.is_settled = false;
    double before = length();
    for (int round = 0, quiet = 0; round < options_.most_rounds; ++round) {
      cut_all();
      const double moved_m = pull();
      const double now = length();
      quiet = before - now < options_.settle_m ? quiet + 1 : 0;
      before = now;
      if (quiet == 2 || moved_m < still_m) {
        line_.is_settled = !is_stuck_;
        break;
      }
    }
    cut_all();
    line_.length_m = length();
    line_.least_m = line_.is_settled ? line_.length_m : (points_.back() - points_.front()).norm();
    line_.points = std::move(points_);
    return std::move(line_);
  }

 private:
  const Vec3& at(std::size_t i) const { return points_[i]; }
  double length() const {
    double sum = 0;
    for (std::size_t i = 1; i < points_.size(); ++i) sum += (at(i) - at(i - 1)).norm();
    return sum;
  }

  double clearance(std::span<const Vec3> hull) const { return scene_.hull_distance(hull, 2 * line_clear_m, measure_m); }
  bool keeps(std::span<const Vec3> hull, double clear_m) const { return clearance(hull) >= clear_m; }

  // ---- cutting bends in their plane ---------------------------------------------------------------------------------

  void cut_all() {
    for (bool again = true; again;) {
      again = false;
      for (std::size_t i = 1; i + 1 < points_.size();) {
        if (!is_dirty_[i]) {
          ++i;
          continue;
        }
        is_dirty_[i] = false;
        const std::size_t count = points_.size();
        if (cut(i)) again = true;
        if (points_.size() >= count) ++i;
      }
    }
  }

  void touch(std::size_t i) {
    if (i > 0 && i + 1 < points_.size()) is_dirty_[i] = true;
  }
  void erase(std::size_t i) {
    points_.erase(points_.begin() + static_cast<std::ptrdiff_t>(i));
    is_dirty_.erase(is_dirty_.begin() + static_cast<std::ptrdiff_t>(i));
    touch(i - 1), touch(i);
  }
  void insert(std::size_t i, const Vec3& point) {
    points_.insert(points_.begin() + static_cast<std::ptrdiff_t>(i), point);
    is_dirty_.insert(is_dirty_.begin() + static_cast<std::ptrdiff_t>(i), true);
  }

  /// The largest part of [0, 1] for which `fits` holds, as if it were a threshold, to 1/64 of what is left.
  template <class Fits>
  static double widest(Fits&& fits) {
    double good = 0, bad = 1;
    for (int halving = 0; halving < 9; ++halving) {
      const double middle = (good + bad) / 2;
      (fits(middle) ? good : bad) = middle;
      if (good > 0 && bad - good < good / 64) break;
    }
    return good;
  }

  bool cut(std::size_t i) {
    const Vec3 a = at(i - 1), v = at(i), b = at(i + 1);
    const double to_a = (a - v).norm(), to_b = (b - v).norm();
    // Too near to a neighbour, or on the line between them: nothing lies in a triangle that is none.
    if (to_a < short_piece_m || to_b < short_piece_m || (v - nearest_on(a, b, v)).norm() < short_piece_m) {
      erase(i);
      return true;
    }
    const double gain_of_all = to_a + to_b - (b - a).norm();
    const double need = std::clamp(std::min(clearance(std::array{a, v}), clearance(std::array{v, b})) - 2 * measure_m,
                                   least_clear_m, cut_clear_m);
    if (keeps(std::array{a, v, b}, need)) {
      erase(i);
      return true;
    }
    const double slack = options_.settle_m / 8;
    if (gain_of_all < slack) return false;
    // From one neighbour straight to a point of the other side: the bend moves along that side.
    double gained = 0;
    const double s = widest([&](double part) { return keeps(std::array<Vec3, 3>{a, v, v + part * (b - v)}, need); });
    if (s > 0) {
      const Vec3 moved = v + s * (b - v);
      const double gain = to_a + s * to_b - (moved - a).norm();
      if (gain > slack) move(i, moved), gained += gain;
    }
    const Vec3 w = at(i);
    const double t = widest([&](double part) { return keeps(std::array<Vec3, 3>{b, w, w + part * (a - w)}, need); });
    if (t > 0) {
      const Vec3 moved = w + t * (a - w);
      const double gain = (b - w).norm() + (moved - w).norm() - (moved - b).norm();
      if (gain > slack) move(i, moved), gained += gain;
    }
    if (gained > slack) {
      is_dirty_[i] = true;
      return true;
    }
    // Both sides bear: the corner is cut off as far from it as is clear, by as much on either side.
    const Vec3 x = at(i);
    const Vec3 from_a = a - x, from_b = b - x;
    const double reach = std::min(from_a.norm(), from_b.norm());
    const Vec3 ua = from_a.normalized(), ub = from_b.normalized();
    const double c = widest([&](double part) {
      return keeps(std::array<Vec3, 3>{x, x + part * reach * ua, x + part * reach * ub}, need);
    });
    const Vec3 p = x + c * reach * ua, q = x + c * reach * ub;
    if (2 * c * reach - (p - q).norm() <= slack) return false;
    move(i, p);
    insert(i + 1, q);
    touch(i), touch(i + 2);
    return true;
  }

  void move(std::size_t i, const Vec3& to) {
    points_[i] = to;
    touch(i - 1), touch(i + 1);
  }

  // ---- pulling all bends at once ------------------------------------------------------------------------------------

  /// The shortest line whose pieces all stay outside a plane that touches what they are next to. What is convex cannot
  /// be crossed by that; for the rest the surface swept is looked at, and a plane is added where something is in the
  /// way.
  double pull() {  // the farthest that a point went
    divide();
    if (points_.size() < 3) return 0;
    lift();
    const std::size_t pieces = points_.size() - 1;
    std::vector<std::vector<Plane>> planes(pieces);
    for (std::size_t i = 0; i < pieces; ++i)
      if (auto plane = plane_beside(i)) planes[i].push_back(*plane);
    std::vector<char> is_held(points_.size(), 0);
    std::vector<Vec3> to;
    constexpr int most_tries = 24;
    constexpr std::size_t most_planes = 5;
    bool is_free = false;
    for (int tries = 0; tries < most_tries && !is_free; ++tries) {
      to = shorten_within(points_, planes, is_held);
      is_free = true;
      for (std::size_t i = 0; i < pieces; ++i) {
        if (is_clear_to(i, to)) continue;
        is_free = false;
        const auto plane = planes[i].size() < most_planes ? plane_of_hit(i, to) : std::nullopt;
        if (plane)
          planes[i].push_back(*plane);
        else
          is_held[i] = is_held[i + 1] = 1;
      }
    }
    const double part = is_free ? 1 : free_part(to);
    is_stuck_ = !is_free || std::find(is_held.begin(), is_held.end(), 1) != is_held.end();
    double farthest = 0;
    for (std::size_t i = 1; i < pieces; ++i) {
      const Vec3 by = part * (to[i] - at(i));
      points_[i] += by;
      const double moved = by.norm();
      farthest = std::max(farthest, moved);
      if (moved > still_m) is_dirty_[i - 1] = is_dirty_[i] = is_dirty_[i + 1] = true;
    }
    return farthest;
  }

  /// Away from what a piece is nearer to than pulling leaves it: rounding would use up what room is left, and a line
  /// without room sticks.
  void lift() {
    for (std::size_t i = 0; i + 1 < points_.size(); ++i) {
      const auto near = scene_.find_nearest_to_hull(std::array{at(i), at(i + 1)}, swept_clear_m, contact_m);
      if (!near || near->distance_m <= 0) continue;
      const Vec3 away = (nearest_on(at(i), at(i + 1), near->point) - near->point).normalized();
      std::vector<Vec3> to = points_;
      for (const std::size_t k : {i, i + 1})
        if (k > 0 && k + 1 < points_.size()) to[k] += (line_clear_m - near->distance_m) * away;
      bool is_clear = true;
      for (std::size_t piece = i > 0 ? i - 1 : 0; piece <= i + 1 && piece + 1 < points_.size(); ++piece)
        is_clear = is_clear && is_clear_to(piece, to);
      if (!is_clear) continue;
      points_ = std::move(to);
      for (std::size_t k = i > 0 ? i - 1 : 0; k <= i + 2; ++k)
        if (k < points_.size()) touch(k);
    }
  }

  /// Points along the line, so that it can bend where it has to.
  void divide() {
    std::vector<Vec3> points = {points_.front()};
    std::vector<char> is_dirty = {false};
    for (std::size_t i = 1; i < points_.size(); ++i) {
      const auto count = static_cast<int>(std::ceil((at(i) - at(i - 1)).norm() / piece_m));
      for (int k = 1; k < count; ++k) {
        const double t = static_cast<double>(k) / count;
        points.emplace_back((1 - t) * at(i - 1) + t * at(i));
        is_dirty.push_back(true);  // it goes again where it is of no use
      }
      points.push_back(points_[i]);
      is_dirty.push_back(is_dirty_[i]);
    }
    points_ = std::move(points);
    is_dirty_ = std::move(is_dirty);
  }

  static Vec3 nearest_on(const Vec3& a, const Vec3& b, const Vec3& p) {
    const Vec3 ab = b - a;
    const double squared = ab.squaredNorm();
    return squared == 0 ? a : Vec3(a + std::clamp((p - a).dot(ab) / squared, 0.0, 1.0) * ab);
  }

  /// Through `contact`, square to the line from there to `seen_from`. Nothing where the piece does not lie beyond it.
  std::optional<Plane> plane_between(std::size_t i, const Vec3& seen_from, const Vec3& contact) const {
    const double distance = (seen_from - contact).norm();
    if (distance < 1e-7) return std::nullopt;
    Plane plane{(seen_from - contact) / distance, 0};
    const double room = std::min(plane.normal.dot(at(i)), plane.normal.dot(at(i + 1))) - plane.normal.dot(contact);
    if (room <= 0) return std::nullopt;
    plane.offset = plane.normal.dot(contact) + std::min(line_clear_m, 0.999 * room);
    return plane;
  }

  /// The plane that touches a convex part where it is nearest to the piece: all of the part lies behind it.
  std::optional<Plane> plane_beside_convex(std::size_t i, model::PartId part) const {
    const Vec3 a = at(i), b = at(i + 1);
    // The distance is convex along the piece: its slope changes sign once.
    double low = 0, high = 1;
    std::optional<geometry::Nearest> near;
    Vec3 q = a;
    for (int halving = 0; halving < 45; ++halving) {
      const double t = halving == 0 ? 0 : halving == 1 ? 1 : (low + high) / 2;
      q = a + t * (b - a);
      near = scene_.find_nearest_on_part(part, q, std::numeric_limits<double>::infinity());
      if (!near || near->distance_m <= 0) return std::nullopt;
      const double slope = (q - near->point).dot(b - a);
      if (halving == 0 && slope >= 0) break;
      if (halving == 1 && slope <= 0) break;
      if (halving > 1) (slope < 0 ? low : high) = t;
    }
    return plane_between(i, q, near->point);
  }

  std::optional<Plane> plane_of_contact(std::size_t i, const geometry::Nearest& contact) const {
    if (is_convex(contact.part)) return plane_beside_convex(i, contact.part);
    // What is in the way may not be what is nearest of a part that is not convex: the plane goes through the contact.
    return plane_between(i, nearest_on(at(i), at(i + 1), contact.point), contact.point);
  }

  std::optional<Plane> plane_beside(std::size_t i) const {
    constexpr double range_m = 0.6;
    const auto near = scene_.find_nearest_to_hull(std::array{at(i), at(i + 1)}, range_m, contact_m);
    return near ? plane_of_contact(i, *near) : std::nullopt;
  }

  bool is_convex(model::PartId part) const {
    const auto& shape = scene_.structure().parts[part.index()].shape;
    return std::holds_alternative<model::Box>(shape) || std::holds_alternative<model::Cylinder>(shape) ||
           std::holds_alternative<model::Cone>(shape) || std::holds_alternative<model::Sphere>(shape) ||
           std::holds_alternative<model::Panel>(shape);
  }

  std::array<Vec3, 4> swept(std::size_t i, const std::vector<Vec3>& to, double part) const {
    return {at(i), at(i + 1), at(i) + part * (to[i] - at(i)), at(i + 1) + part * (to[i + 1] - at(i + 1))};
  }
  double need(std::size_t i) const {
    return std::clamp(rounding_left * clearance(std::array{at(i), at(i + 1)}), least_clear_m, swept_clear_m);
  }
  bool is_clear_to(std::size_t i, const std::vector<Vec3>& to) const {
    if ((to[i] - at(i)).norm() + (to[i + 1] - at(i + 1)).norm() < 1e-9) return true;
    return keeps(swept(i, to, 1), need(i));
  }

  /// What the piece meets on its way, seen from where it is.
  std::optional<Plane> plane_of_hit(std::size_t i, const std::vector<Vec3>& to) const {
    const double need_m = need(i);
    double good = 0, bad = 1;
    for (int halving = 0; halving < 10; ++halving) {
      const double middle = (good + bad) / 2;
      (keeps(swept(i, to, middle), need_m) ? good : bad) = middle;
    }
    const auto near = scene_.find_nearest_to_hull(swept(i, to, good), 2.0, contact_m);
    if (!near) return std::nullopt;
    return plane_of_contact(i, *near);
  }

  /// As far as every piece can go toward `to`.
  double free_part(const std::vector<Vec3>& to) const {
    for (double part = 1; part > 1e-3; part /= 2) {
      bool is_free = true;
      for (std::size_t i = 0; i + 1 < points_.size() && is_free; ++i) is_free = keeps(swept(i, to, part), need(i));
      if (is_free) return part;
    }
    return 0;
  }

  const Scene& scene_;
  const TautOptions options_;
  std::vector<Vec3> points_;
  std::vector<char> is_dirty_;
  bool is_stuck_ = false;  // the last pull left out points that it could not move
  TautLine line_;          // what comes out
};

}  // namespace

double length_of(std::span<const Vec3> way) {
  double sum = 0;
  for (std::size_t i = 1; i < way.size(); ++i) sum += (way[i] - way[i - 1]).norm();
  return sum;
}

TautLine pull_taut(const Scene& scene, std::span<const Vec3> way, const TautOptions& options) {
  model::ensure(way.size() >= 2, "a line has two ends");
  return Tightener(scene, {way.begin(), way.end()}, options).run();
}

Reel::Reel(const Scene& scene, const Vec3& anchor, const TautOptions& options) : scene_(&scene), options_(options) {
  line_.points = {anchor};
}

const TautLine& Reel::go(std::span<const Vec3> through) {
  std::vector<Vec3> points = std::move(line_.points);
  points.insert(points.end(), through.begin(), through.end());
  line_ = Tightener(*scene_, std::move(points), options_).run();
  return line_;
}

}  // namespace holdfast::tether
