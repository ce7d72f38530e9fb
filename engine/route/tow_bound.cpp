// SPDX-License-Identifier: GPL-3.0-or-later
#include "tow_bound_impl.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <numbers>
#include <queue>
#include <unordered_map>
#include <utility>

#include "holdfast/graph/load_sweep.h"

namespace holdfast::route::detail {

using graph::GripId;
using graph::HandrailGraph;
using graph::MoveId;
using model::Vec3;

namespace {

/// Directions are looked at in cells of this edge; two neighbouring points of a way are seen no farther apart.
constexpr double cell_rad = 1.0 / 64;
/// From any direction in a cell, and from between two points seen, to the cell's middle: half a cube's diagonal, what
/// bringing that to unit length adds, and half the distance between points.
constexpr double within_rad = cell_rad * (0.87 + 0.13 + 0.5);
/// A distance of 0 is reported up to this far off.
constexpr double hull_tolerance_m = 1e-4;

}  // namespace

/// One place of the load's middle on a move, and the directions that its long side can have there.
class TowBound::Look {
 public:
  Look(const TowBound& bound, MoveId move, bool from_a, double t)
      : bound_(bound), move_(move), from_a_(from_a), t_(t), middle_(on_move(t)) {}

  /// Is there a direction in which the box may be clear?
  bool may_fit() {
    // However it is turned, it holds the ball round its middle. A dish's surface may be off by its chord error.
    const double ball_m = std::min(bound_.half_length_m_, bound_.radius_m_) - 3 * graph::load_margin_m;
    if (ball_m > 0 && bound_.graph_.scene().distance(middle_, ball_m) < ball_m) return false;
    // Straight on, as nearly all do.
    if (see(on_move(1)) || see(on_move(std::min(1.0, t_ + 0.1)))) return true;
    if (see_way([&](double u) { return on_move(t_ + u * (1 - t_)); })) return true;
    // Drawn in, and the move is the last: along it, from where the load was or from its beginning.
    if (see_way([&](double u) { return Vec3(middle_ + on_move(1) - on_move(u * t_)); })) return true;
    // Wherever the body can be when the tow is out, to and fro if need be.
    const auto& graph = bound_.graph_;
    using Open = std::pair<double, std::uint32_t>;
    std::priority_queue<Open, std::vector<Open>, std::greater<>> open;
    std::unordered_map<std::uint32_t, double> least;
    const auto& move = graph.move(move_);
    const auto add = [&](std::uint32_t grip, double along_m) {
      if (along_m > bound_.tow_m_ + graph::length_tolerance_m) return;
      const auto [found, is_new] = least.try_emplace(grip, along_m);
      if (!is_new && found->second <= along_m) return;
      found->second = along_m;
      open.emplace(along_m, grip);
    };
    add((from_a_ ? move.b : move.a).value, (on_move(1) - middle_).norm());
    while (!open.empty()) {
      const auto [along_m, grip] = open.top();
      open.pop();
      if (along_m > least.at(grip)) continue;
      for (const auto& arc : graph.adjacency().out(grip)) {
        const MoveId next(arc.move);
        const auto& ahead = graph.move(next);
        if (!ahead.is_open()) continue;
        const bool forward = ahead.a.value == grip;
        if (see_way([&](double u) { return graph.body_at(next, forward ? u : 1 - u); })) return true;
        add(arc.head, along_m + (graph.body_point(GripId(arc.head)) - graph.body_point(GripId(grip))).norm());
      }
    }
    return false;
  }

 private:
  [[nodiscard]] Vec3 on_move(double t) const { return bound_.graph_.body_at(move_, from_a_ ? t : 1 - t); }

  /// The body there: may the box be clear? Never where the tow is not as long.
  bool see(const Vec3& body) {
    const Vec3 chord = body - middle_;
    const double length_m = chord.norm();
    if (length_m < least_chord_m || length_m > bound_.tow_m_ + graph::length_tolerance_m) return false;
    return may_lie_along(chord / length_m);
  }

  template <class At>
  bool see_way(At&& at) {
    constexpr int pieces = 8;
    Vec3 from = at(0.0);
    for (int k = 0; k < pieces; ++k) {
      const double u0 = static_cast<double>(k) / pieces, u1 = static_cast<double>(k + 1) / pieces;
      const Vec3 to = at(u1);
      if (see_between(at, u0, u1, from, to, 0)) return true;
      from = to;
    }
    return see(from);
  }
  template <class At>
  bool see_between(At& at, double u0, double u1, const Vec3& p0, const Vec3& p1, int depth) {
    const Vec3 a = p0 - middle_, b = p1 - middle_;
    const double reach_m = bound_.tow_m_ + 2 * (b - a).norm();  // a way bulges between its points
    if (a.norm() > reach_m && b.norm() > reach_m) return false;
    // At 2^-20 of a way the chord is as short as no sweep can follow.
    constexpr int deepest = 20;
    const bool is_fine = a.cross(b).norm() <= cell_rad * a.norm() * b.norm() && a.dot(b) > 0;
    if (is_fine || depth == deepest) return see(p0);
    const double u = (u0 + u1) / 2;
    const Vec3 p = at(u);
    return see_between(at, u0, u, p0, p, depth + 1) || see_between(at, u, u1, p, p1, depth + 1);
  }

  bool may_lie_along(Vec3 direction) {
    // The box looks the same from either end.
    Eigen::Index largest = 0;
    direction.cwiseAbs().maxCoeff(&largest);
    if (direction[largest] < 0) direction = -direction;
    std::array<int, 3> cell{};
    Vec3 middle;
    for (int k = 0; k < 3; ++k) {
      cell[static_cast<std::size_t>(k)] = static_cast<int>(std::floor(direction[k] / cell_rad));
      middle[k] = (cell[static_cast<std::size_t>(k)] + 0.5) * cell_rad;
    }
    const auto [found, is_new] = known_.try_emplace(cell, false);
    if (is_new) found->second = may_be_clear(middle.normalized());
    return found->second;
  }

  /// What lies in the box in every direction that is as near as `within_rad`, and however it is rolled.
  [[nodiscard]] bool may_be_clear(const Vec3& forward) const {
    const double off_m = std::hypot(bound_.half_length_m_, bound_.radius_m_) * within_rad + 3 * hull_tolerance_m;
    const double radius_m = bound_.radius_m_ - off_m, half_m = bound_.half_length_m_ - off_m;
    if (radius_m <= 0 || half_m <= 0) return true;
    const Vec3 side = forward.unitOrthogonal(), up = forward.cross(side);
    constexpr std::size_t corners = 10;
    std::array<Vec3, 2 * corners> hull;
    for (std::size_t k = 0; k < corners; ++k) {
      const double angle = 2 * std::numbers::pi * static_cast<double>(k) / corners;
      const Vec3 out = radius_m * (std::cos(angle) * side + std::sin(angle) * up);
      hull[k] = middle_ + out + half_m * forward;
      hull[corners + k] = middle_ + out - half_m * forward;
    }
    return bound_.graph_.scene().hull_distance(hull, 10 * hull_tolerance_m, hull_tolerance_m) > 0;
  }

  static constexpr double least_chord_m = 1e-9;
  const TowBound& bound_;
  const MoveId move_;
  const bool from_a_;
  const double t_;
  const Vec3 middle_;
  std::map<std::array<int, 3>, bool> known_;  // by cell of direction
};

TowBound::TowBound(const HandrailGraph& graph, const model::Load& load)
    : graph_(graph),
      half_length_m_(load.size_m.x() / 2),
      radius_m_(std::min(load.size_m.y(), load.size_m.z()) / 2),
      tow_m_(load.tow_length_m),
      known_(graph.moves().size(), Verdict::Unknown) {}

bool TowBound::may_pass(MoveId move) {
  Verdict& known = known_[move.index()];
  if (known == Verdict::Unknown) {
    constexpr std::array places = {0.5, 0.25, 0.75, 0.02, 0.98};
    known = Verdict::Fails;
    for (const bool from_a : {true, false})
      if (std::all_of(places.begin(), places.end(), [&](double t) { return Look(*this, move, from_a, t).may_fit(); })) {
        known = Verdict::Passes;
        break;
      }
  }
  return known == Verdict::Passes;
}

}  // namespace holdfast::route::detail
