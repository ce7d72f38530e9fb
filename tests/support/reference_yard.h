// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// The slow twin of graph and route: closed-form distances sampled densely, textbook Dijkstra. Shares no code with the
// engine beyond the model's plain structs. Knows boxes, cylinders and spheres at identity poses, explicit constant
// outward directions, and sphere zones: what `random_yard` makes.
//
// Every limit is judged twice, `slack` to the safe and to the bold side, because sampling may decide a near tie either
// way.

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <numbers>
#include <optional>
#include <random>
#include <set>
#include <vector>

#include "yard_builder.h"

namespace holdfast::support {

/// Signed distances written down from their definitions; inside negative.
inline double reference_distance(const model::Shape& shape, const Vec3& p) {
  if (const auto* box = std::get_if<model::Box>(&shape)) {
    const Vec3 q = (p - box->center).cwiseAbs() - box->size / 2;
    return q.cwiseMax(0).norm() + std::min(0.0, q.maxCoeff());
  }
  if (const auto* sphere = std::get_if<model::Sphere>(&shape)) return (p - sphere->center).norm() - sphere->radius;
  const auto& cylinder = std::get<model::Cylinder>(shape);
  const Vec3 axis = cylinder.to - cylinder.from;
  const double length = axis.norm(), along = (p - cylinder.from).dot(axis) / length;
  const double across = std::sqrt(std::max(0.0, (p - cylinder.from).squaredNorm() - along * along));
  const double dx = across - cylinder.radius, dz = std::max(-along, along - length);
  if (dx <= 0 && dz <= 0) return std::max(dx, dz);
  return std::hypot(std::max(dx, 0.0), std::max(dz, 0.0));
}

class ReferenceYard {
 public:
  ReferenceYard(const model::Structure& structure, const graph::Body& body, const model::Suit& suit,
                const model::Configuration& configuration, const std::set<std::uint32_t>& closed_rails)
      : structure_(structure), body_(body), suit_(suit), configuration_(configuration), closed_(closed_rails) {
    for (std::size_t r = 0; r < structure.rails.size(); ++r) add_rail(r);
  }

  struct Grip {
    std::size_t rail;
    Vec3 hand, outward, stance;
    double clearance;
  };
  struct Move {
    std::size_t a, b;
    double seconds;
  };

  [[nodiscard]] const std::vector<Grip>& grips() const { return grips_; }
  /// True when a stance was chosen on a hair: then the yard is no fair test.
  [[nodiscard]] bool is_stance_near_limit() const { return is_stance_near_limit_; }

  /// Moves allowed when every limit is moved by `slack` (> 0: bold).
  [[nodiscard]] std::vector<Move> moves(double slack) const {
    std::vector<Move> list;
    for (std::size_t a = 0; a < grips_.size(); ++a)
      for (std::size_t b = a + 1; b < grips_.size(); ++b)
        if (is_allowed(a, b, slack)) list.push_back({a, b, seconds(grips_[a], grips_[b])});
    return list;
  }

  /// Least seconds from the grips at `from` to those at `to`, without start and stop; infinity when there is no way.
  [[nodiscard]] double least_seconds(const std::vector<Move>& moves, double slack, const model::Place& from,
                                     const model::Place& to) const {
    std::vector<double> cost(grips_.size(), std::numeric_limits<double>::infinity());
    std::vector<bool> done(grips_.size());
    std::vector<std::vector<std::pair<std::size_t, double>>> out(grips_.size());
    for (const auto& m : moves) out[m.a].push_back({m.b, m.seconds}), out[m.b].push_back({m.a, m.seconds});
    for (std::size_t g = 0; g < grips_.size(); ++g)
      if (is_at(g, from) && may_rest(g, slack)) cost[g] = 0;
    for (;;) {
      std::size_t best = grips_.size();
      for (std::size_t g = 0; g < grips_.size(); ++g)
        if (!done[g] && std::isfinite(cost[g]) && (best == grips_.size() || cost[g] < cost[best])) best = g;
      if (best == grips_.size()) return std::numeric_limits<double>::infinity();
      if (is_at(best, to) && may_rest(best, slack)) return cost[best];
      done[best] = true;
      for (const auto& [next, s] : out[best]) cost[next] = std::min(cost[next], cost[best] + s);
    }
  }

 private:
  bool is_at(std::size_t g, const model::Place& place) const {
    return (grips_[g].hand - place.at).norm() <= place.within_m + 1e-6;
  }

  double distance(const Vec3& p) const {
    double least = std::numeric_limits<double>::infinity();
    for (const auto& part : structure_.parts)
      if (part.when.holds(configuration_)) least = std::min(least, reference_distance(part.shape, p));
    return least;
  }

  static Vec3 turned(const Vec3& u, const Vec3& v, double t) {
    const double angle = std::acos(std::clamp(u.dot(v), -1.0, 1.0));
    if (angle < 1e-9) return u;
    return (std::sin((1 - t) * angle) * u + std::sin(t * angle) * v) / std::sin(angle);
  }

  Vec3 body_at(const Grip& a, const Grip& b, double t) const {
    return a.hand + t * (b.hand - a.hand) + body_.stand_off_m * turned(a.stance, b.stance, t);
  }

  void add_rail(std::size_t r) {
    const auto& rail = structure_.rails[r];
    if (!rail.when.holds(configuration_) || !structure_.parts[rail.part.index()].when.holds(configuration_)) return;
    for (const auto& outward : rail.outward)
      for (std::size_t i = 0; i < rail.points.size(); ++i) {
        if (i == 0) add_grip(r, rail.points[0], outward[0], rail);
        if (i + 1 == rail.points.size()) break;
        const double length = (rail.points[i + 1] - rail.points[i]).norm();
        const int steps = std::max(1, int(std::ceil(length / body_.spacing_m - 1e-9)));
        for (int k = 1; k <= steps; ++k)
          add_grip(r, rail.points[i] + (rail.points[i + 1] - rail.points[i]) * (double(k) / steps), outward[0], rail);
      }
  }

  void add_grip(std::size_t r, const Vec3& hand, const Vec3& outward, const model::Rail& rail) {
    const double needed = body_.corridor_radius_m;
    // Clearance is 0 inside a solid (design.md 14), so that all stances in there are equal.
    const auto clearance_of = [&](const Vec3& stance) {
      return std::max(0.0, distance(hand + body_.stand_off_m * stance));
    };
    Grip grip{r, hand, outward, outward, clearance_of(outward)};
    note_near(grip.clearance);
    if (grip.clearance < needed && body_.lean_rad > 0) {
      Vec3 forward = rail.points.size() > 1 ? Vec3(rail.points[1] - rail.points[0]) : Vec3(Vec3::UnitX());
      forward = (forward - forward.dot(outward) * outward).normalized();
      const Vec3 side = outward.cross(forward);
      for (int ring = 1; ring <= 2 && grip.clearance < needed; ++ring)
        for (int k = 0; k < 12; ++k) {
          const double lean = body_.lean_rad * ring / 2, azimuth = std::numbers::pi / 6 * k;
          const Vec3 stance =
              std::cos(lean) * outward + std::sin(lean) * (std::cos(azimuth) * forward + std::sin(azimuth) * side);
          const double clearance =
              std::min(clearance_of(stance), body_.corridor_radius_m + graph::clearance_headroom_m);
          note_near(clearance);
          if (clearance > grip.clearance + 1e-9) grip.clearance = clearance, grip.stance = stance;
        }
    }
    grips_.push_back(grip);
  }

  void note_near(double clearance) {
    is_stance_near_limit_ = is_stance_near_limit_ || std::abs(clearance - body_.corridor_radius_m) < 1e-5;
  }

  bool zone_holds(const model::Zone& zone) const { return zone.when.holds(configuration_); }

  bool may_rest(std::size_t g, double slack) const {
    const Grip& grip = grips_[g];
    if (closed_.count(std::uint32_t(grip.rail)) || grip.clearance < body_.corridor_radius_m - slack) return false;
    return std::none_of(structure_.zones.begin(), structure_.zones.end(), [&](const model::Zone& zone) {
      if (zone.effect != model::ZoneEffect::Forbid || !zone_holds(zone)) return false;
      const auto& sphere = std::get<model::Sphere>(zone.shape);
      const double body = (grip.hand + body_.stand_off_m * grip.stance - sphere.center).norm() - sphere.radius;
      const double hand = (grip.hand - sphere.center).norm() - sphere.radius;
      return (zone.applies.body && body < body_.corridor_radius_m - slack) || (zone.applies.hands && hand < -slack);
    });
  }

  bool is_allowed(std::size_t ia, std::size_t ib, double slack) const {
    const Grip &a = grips_[ia], &b = grips_[ib];
    if (closed_.count(std::uint32_t(a.rail)) || closed_.count(std::uint32_t(b.rail))) return false;
    const double gap = (b.hand - a.hand).norm();
    if (gap > body_.reach_m + slack) return false;
    const double turn = std::acos(std::clamp(a.outward.dot(b.outward), -1.0, 1.0));
    if (turn > body_.turn_limit_rad + 2 * slack) return false;
    const int samples =
        2 + int((gap + body_.stand_off_m * std::numbers::pi) / 0.008);  // fine enough for a slack of 1 cm
    for (int i = 0; i <= samples; ++i) {
      const double t = double(i) / samples;
      const Vec3 hand = a.hand + t * (b.hand - a.hand);
      if (distance(hand + body_.glove_m * turned(a.outward, b.outward, t)) <= -slack) return false;
      const Vec3 body = body_at(a, b, t);
      if (distance(body) < body_.corridor_radius_m - slack) return false;
      for (const auto& zone : structure_.zones) {
        if (zone.effect != model::ZoneEffect::Forbid || !zone_holds(zone)) continue;
        const auto& sphere = std::get<model::Sphere>(zone.shape);
        if (zone.applies.body && (body - sphere.center).norm() - sphere.radius < body_.corridor_radius_m - slack)
          return false;
        if (zone.applies.hands && (hand - sphere.center).norm() - sphere.radius < -slack) return false;
      }
    }
    return true;
  }

  double seconds(const Grip& a, const Grip& b) const {
    double way = 0;
    constexpr int chords = 400;
    for (int i = 0; i < chords; ++i)
      way += (body_at(a, b, double(i + 1) / chords) - body_at(a, b, double(i) / chords)).norm();
    const double rate =
        std::min(suit_.rate_free_m_s.value,
                 std::sqrt(2 * suit_.stop_force_n.value * suit_.stop_distance_m.value / suit_.mass_kg.value));
    const double turn = std::acos(std::clamp(a.outward.dot(b.outward), -1.0, 1.0));
    const bool is_other_part = structure_.rails[a.rail].part != structure_.rails[b.rail].part;
    const bool is_change = a.rail != b.rail && ((b.hand - a.hand).norm() > 0.05 || is_other_part);
    return std::max(suit_.regrip_s.value, way / rate) + turn / suit_.turn_rate_rad_s.value +
           (is_change ? suit_.rail_change_s.value : 0.0);
  }

  const model::Structure& structure_;
  const graph::Body body_;
  const model::Suit& suit_;
  const model::Configuration configuration_;
  const std::set<std::uint32_t> closed_;
  std::vector<Grip> grips_;
  bool is_stance_near_limit_ = false;
};

/// A few bodies on a deck, rails on them (lengthwise and across), two places, zones, one switch. Everything invented.
inline model::Structure random_yard(std::mt19937_64& random) {
  const auto uniform = [&](double low, double high) {
    return std::uniform_real_distribution<double>(low, high)(random);
  };
  const auto pick = [&](int n) { return std::uniform_int_distribution<int>(0, n - 1)(random); };
  YardBuilder yard;
  yard.structure.switches.push_back({"s", {"one", "two"}, "one", {}});
  const auto deck = yard.part("deck", model::Box{.center = {0, 0, 0.5}, .size = {8, 8, 1}});
  // A grid of rails on the deck with random gaps.
  int n = 0;
  for (int row = 0; row < 4; ++row)
    for (double x = -3; x < 3;) {
      const double length = uniform(0.3, 1.6), y = -1.5 + row * uniform(0.85, 1.1);
      yard.rail("deck-" + std::to_string(n++), deck, {{x, y, -0.07}, {x + length, y, -0.07}}, {-Vec3::UnitZ()});
      x += length + uniform(0.2, 0.75);
    }
  for (int k = 0; k < 3; ++k) {  // cross rails
    const double x = uniform(-3, 3), y = uniform(-1.5, 1);
    yard.rail("cross-" + std::to_string(k), deck, {{x, y, -0.07}, {x, y + uniform(0.6, 1.8), -0.07}}, {-Vec3::UnitZ()});
  }
  for (int k = 0; k < 3; ++k) {  // bodies in the way, some over head height
    const Vec3 at(uniform(-2.5, 2.5), uniform(-1.5, 1.5), uniform(-2.2, -0.2));
    const std::string id = "body-" + std::to_string(k);
    switch (pick(3)) {
      case 0:
        yard.part(id, model::Box{.center = at, .size = {uniform(0.2, 1), uniform(0.2, 1), uniform(0.2, 1)}});
        break;
      case 1:
        yard.part(id, model::Sphere{.center = at, .radius = uniform(0.1, 0.5)});
        break;
      default:
        yard.part(id,
                  model::Cylinder{
                      .from = at, .to = at + Vec3(uniform(-1, 1), uniform(-1, 1), 1.2), .radius = uniform(0.1, 0.4)});
    }
    if (pick(2) == 0) yard.structure.parts.back().when.any_of["s"] = {"two"};
  }
  // A block with rails on its top and a side, reached round its edge.
  const auto block = yard.part("block", model::Box{.center = {3.2, 0, -0.6}, .size = {1, 3, 1.2}});
  yard.rail("block-top", block, {{3.2, -1.2, -1.27}, {3.2, 1.2, -1.27}}, {-Vec3::UnitZ()});
  yard.rail("block-top-cross", block, {{2.75, 0.1, -1.27}, {3.5, 0.1, -1.27}}, {-Vec3::UnitZ()});
  yard.rail("block-side", block, {{2.63, 0.1, -1.15}, {2.63, 0.1, -0.35}}, {-Vec3::UnitX()});
  yard.rail("approach", deck, {{0.5, 0.1, -0.07}, {2.35, 0.1, -0.07}}, {-Vec3::UnitZ()});
  for (int k = 0; k < 2; ++k) {
    const auto id = yard.zone(
        "z" + std::to_string(k),
        model::Sphere{.center = {uniform(-3, 3), uniform(-1.5, 1.5), uniform(-1.5, 0)}, .radius = uniform(0.1, 0.6)},
        model::ZoneEffect::Forbid, {.body = pick(2) == 0, .hands = true});
    if (pick(2) == 0) yard.structure.zones[id.index()].when.any_of["s"] = {"one"};
  }
  yard.place("start", {-2.8, -1.5, -0.07}, 0.8);
  yard.place("goal", {3.2, 1, -1.27}, 0.6);
  yard.place("middle", {0, uniform(-1, 1), -0.07}, 0.8);
  return yard.structure;
}

}  // namespace holdfast::support
