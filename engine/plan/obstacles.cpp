// SPDX-License-Identifier: GPL-3.0-or-later
// Boxes that stand on the structure for a while: stowed items, foot restraints in their sockets.

#include <Eigen/Geometry>
#include <algorithm>
#include <cstring>

#include "sites_impl.h"

namespace holdfast::plan::detail {

using graph::HandrailGraph;
using search::Cost;

double distance_to_box(const graph::BoxPose& box, const Vec3& size_m, const Vec3& p) {
  const Vec3 local = (box.axes.transpose() * (p - box.middle)).cwiseAbs() - size_m / 2;
  return local.cwiseMax(0).norm();
}

namespace {

/// Does `distance` fall below `near_m` somewhere on [0, 1]? It is 1-Lipschitz in the length gone, so a piece of length
/// L keeps at least (d0 + d1 - L) / 2; halved until decided, and at `least_piece_m` taken as near.
template <class Distance>
bool comes_near(const Distance& distance, double length_m, double near_m, double least_piece_m) {
  struct Piece {
    double t0, d0, t1, d1;
  };
  std::vector<Piece> open = {{0, distance(0.0), 1, distance(1.0)}};
  while (!open.empty()) {
    const Piece piece = open.back();
    open.pop_back();
    if (std::min(piece.d0, piece.d1) < near_m) return true;
    const double piece_m = (piece.t1 - piece.t0) * length_m;
    if ((piece.d0 + piece.d1 - piece_m) / 2 >= near_m) continue;
    if (piece_m < least_piece_m) return true;
    const double middle = (piece.t0 + piece.t1) / 2, d = distance(middle);
    open.push_back({piece.t0, piece.d0, middle, d});
    open.push_back({middle, d, piece.t1, piece.d1});
  }
  return false;
}

bool is_move_near_box(const HandrailGraph& graph, MoveId id, const Obstacle& obstacle) {
  constexpr double least_piece_m = 0.005;
  return comes_near([&](double t) { return distance_to_box(obstacle.box, obstacle.size_m, graph.body_at(id, t)); },
                    graph.move(id).way_m, graph.body().corridor_radius_m - graph::length_tolerance_m, least_piece_m);
}

}  // namespace

bool is_segment_near_box(const Obstacle& obstacle, const Vec3& a, const Vec3& b, double near_m) {
  constexpr double least_piece_m = 0.001;
  return comes_near([&](double t) { return distance_to_box(obstacle.box, obstacle.size_m, a + t * (b - a)); },
                    (b - a).norm(), near_m, least_piece_m);
}

bool do_boxes_overlap(const Obstacle& a, const Obstacle& b) {
  std::vector<Vec3> axes;
  for (int i = 0; i < 3; ++i) axes.emplace_back(a.box.axes.col(i)), axes.emplace_back(b.box.axes.col(i));
  for (int i = 0; i < 3; ++i)
    for (int k = 0; k < 3; ++k)
      if (const Vec3 cross = a.box.axes.col(i).cross(b.box.axes.col(k)); cross.norm() > 1e-9)
        axes.push_back(cross.normalized());
  const auto half_along = [](const Obstacle& o, const Vec3& axis) {
    return (o.box.axes.transpose() * axis).cwiseAbs().dot(o.size_m / 2);
  };
  return std::all_of(axes.begin(), axes.end(), [&](const Vec3& axis) {
    return std::abs(axis.dot(a.box.middle - b.box.middle)) < half_along(a, axis) + half_along(b, axis) - 1e-9;
  });
}

std::string Closings::key() const {
  std::string key;
  const auto put = [&](const auto& value) {
    char bytes[sizeof value];
    std::memcpy(bytes, &value, sizeof value);
    key.append(bytes, sizeof value);
  };
  put(rails.size());
  for (const auto rail : rails) put(rail.value);
  for (const auto& o : obstacles) {
    for (int i = 0; i < 3; ++i) put(o.box.middle[i]), put(o.size_m[i]);
    for (int i = 0; i < 9; ++i) put(o.box.axes(i));
    put(o.tied_to.size());
    for (const auto rail : o.tied_to) put(rail.value);
  }
  return key;
}

BoxScene::BoxScene(const std::vector<Obstacle>& obstacles) {
  structure_.name = "boxes";
  for (const Obstacle& o : obstacles) {
    model::Part part;
    part.id = part.name = "box-" + std::to_string(structure_.parts.size());
    part.shape = model::Box{Vec3::Zero(), o.size_m};
    part.at = model::Pose::Identity();
    part.at.linear() = o.box.axes;
    part.at.translation() = o.box.middle;
    structure_.parts.push_back(std::move(part));
  }
  scene_.emplace(geometry::build_scene(structure_, structure_.default_configuration()));
}

void close_by(const HandrailGraph& graph, const Obstacle& obstacle, double grip_length_m, OpenTable& table) {
  const graph::Body& body = graph.body();
  const double near_m = obstacle.size_m.norm() / 2 + body.corridor_radius_m + body.stand_off_m + 2 * body.reach_m;
  const auto near = graph.find_grips_within(obstacle.box.middle, near_m);
  std::vector<bool> is_taken(graph.grips().size(), false);  // by grip: the obstacle is tied over it
  for (const GripId grip : near) {
    const auto& g = graph.grip(grip);
    const double hand_m = distance_to_box(obstacle.box, obstacle.size_m, g.hand);
    const bool is_tied = std::find(obstacle.tied_to.begin(), obstacle.tied_to.end(), g.rail) != obstacle.tied_to.end();
    is_taken[grip.index()] = hand_m <= 0 || (is_tied && hand_m <= grip_length_m);
    if (!is_taken[grip.index()] && distance_to_box(obstacle.box, obstacle.size_m, graph.body_point(grip)) >=
                                       body.corridor_radius_m - graph::length_tolerance_m)
      continue;
    if (!table.is_open[grip.index()]) continue;
    table.is_open[grip.index()] = false;
    table.closures.grips.push_back(grip);
  }
  for (const GripId grip : near)
    for (const auto& arc : graph.adjacency().out(grip.value)) {
      auto& cost = table.costs[arc.move];
      if (cost.is_blocked()) continue;
      const auto& move = graph.moves()[arc.move];
      const bool is_hand_in =
          is_segment_near_box(obstacle, graph.grip(move.a).hand + body.glove_m * graph.grip(move.a).outward,
                              graph.grip(move.b).hand + body.glove_m * graph.grip(move.b).outward, 1e-9);
      if (!is_taken[grip.index()] && !is_hand_in && !is_move_near_box(graph, MoveId(arc.move), obstacle)) continue;
      cost = Cost::blocked();
      table.closures.moves.emplace_back(arc.move);
    }
}

}  // namespace holdfast::plan::detail
