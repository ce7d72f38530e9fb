// SPDX-License-Identifier: GPL-3.0-or-later
#include <algorithm>
#include <map>

#include "closed_impl.h"

namespace holdfast::route::detail {

using graph::GripId;
using graph::HandrailGraph;
using graph::MoveId;
using model::RailId;

namespace {

constexpr double fine_m = 0.001;  // to which a pinch is told

class Along {
 public:
  Along(const HandrailGraph& graph, const Profile& profile, const CostTable& table, Blocks rules)
      : graph_(graph),
        table_(table),
        rules_(rules),
        forbids_(forbidding_zones(graph, table)),
        closed_(touched_rails(graph, profile.closures)) {}

  std::vector<Cause> follow(std::span<const LegWay> legs) {
    for (leg_ = 0; leg_ < legs.size(); ++leg_) {
      const LegWay& leg = legs[leg_];
      rest_at(leg.grips.front());
      for (const MoveId move : leg.moves) step(move);
      rest_at(leg.grips.back());
    }
    std::vector<Cause> causes;
    for (auto& [kind, cause] : found_) {
      if (kind == CauseKind::BodyTooTight)
        if (const auto nearest = graph_.scene().find_nearest(cause.at, cause.limit_m)) cause.part = nearest->part;
      causes.push_back(std::move(cause));
    }
    return causes;
  }

 private:
  void rest_at(GripId id) {
    const Blocks blocks = table_.grip_blocks[id.index()] & rules_;
    const auto& grip = graph_.grip(id);
    if (blocks & block_body) narrow(2 * grip.clearance_lower_m, graph_.body_point(id), grip.rail, grip.rail);
    if (blocks & block_zone) enter(graph_.zones(id), grip.hand, grip.rail, grip.rail);
    if (blocks & block_closure) hold({grip.rail}, grip.hand, grip.rail, grip.rail);
  }

  void step(MoveId id) {
    Blocks blocks = table_.blocks[id.index()];
    if (blocks == 0) return;
    const auto& move = graph_.move(id);
    const auto& a = graph_.grip(move.a);
    const auto& b = graph_.grip(move.b);
    const Vec3 middle = (a.hand + b.hand) / 2;
    double clearance_m = move.clearance_lower_m;
    if (blocks & (block_turn | block_hand_line)) {  // the table stops at the first of the three that forbids
      const auto judged = graph_.judge(id);
      clearance_m = judged.clearance_lower_m;
      if (!judged.is_hand_line_clear) blocks |= block_hand_line;
      if (!judged.is_body_clear) blocks |= block_body;
    }
    blocks &= rules_;
    if (blocks & block_turn) turn(move.turn_rad, middle, a.rail, b.rail);
    if (blocks & block_hand_line) block_hand(a, b);
    if (blocks & block_body) {
      const auto least = graph_.compute_clearance(id, fine_m);
      narrow(2 * std::max(clearance_m, least.lower_m), graph_.body_at(id, least.t), a.rail, b.rail);
    }
    if (blocks & block_zone) enter(graph_.zones(id), middle, a.rail, b.rail);
    if (blocks & block_closure) hold({a.rail, b.rail}, middle, a.rail, b.rail);
  }

  /// The cause of a kind; `is_new` where this place is the first.
  struct Entry {
    Cause& cause;
    bool is_new;
  };
  Entry entry(CauseKind kind) {
    const auto [at, is_new] = found_.try_emplace(kind);
    if (is_new) at->second.kind = kind;
    return {at->second, is_new};
  }
  void place(Cause& cause, const Vec3& at, RailId a, RailId b) const {
    cause.leg = leg_, cause.at = at, cause.rail = a, cause.rail_other = b;
  }

  void turn(double rad, const Vec3& at, RailId a, RailId b) {
    const auto [cause, is_new] = entry(CauseKind::TurnLimit);
    if (!is_new && rad <= cause.value_rad) return;
    cause.value_rad = rad, cause.limit_rad = graph_.body().turn_limit_rad;
    place(cause, at, a, b);
  }

  void narrow(double width_m, const Vec3& at, RailId a, RailId b) {
    const auto [cause, is_new] = entry(CauseKind::BodyTooTight);
    if (!is_new && width_m >= cause.value_m) return;
    cause.value_m = std::max(0.0, width_m), cause.limit_m = 2 * graph_.body().corridor_radius_m;
    place(cause, at, a, b);
  }

  void block_hand(const graph::Grip& a, const graph::Grip& b) {
    const auto [cause, is_new] = entry(CauseKind::HandLineBlocked);
    if (!is_new) return;
    place(cause, (a.hand + b.hand) / 2, a.rail, b.rail);
    const Vec3 from = a.hand + graph_.body().glove_m * a.outward, to = b.hand + graph_.body().glove_m * b.outward;
    const double length = (to - from).norm();
    if (length <= 0) return;
    if (const auto hit = graph_.scene().find_first_hit(from, (to - from) / length, length))
      cause.part = hit->part, cause.at = hit->point;
  }

  void enter(std::span<const graph::ZoneLabel> labels, const Vec3& at, RailId a, RailId b) {
    const auto [cause, is_new] = entry(CauseKind::Zones);
    if (is_new) place(cause, at, a, b);
    for (const auto& label : labels)
      if (forbids_[label.zone.index()]) add_once(cause.zones, label.zone);
  }

  void hold(std::initializer_list<RailId> rails, const Vec3& at, RailId a, RailId b) {
    const auto [cause, is_new] = entry(CauseKind::Closures);
    if (is_new) place(cause, at, a, b);
    for (const RailId rail : rails)
      if (closed_[rail.index()]) add_once(cause.rails, rail);
  }

  const HandrailGraph& graph_;
  const CostTable& table_;
  const Blocks rules_;
  const std::vector<bool> forbids_;
  const std::vector<bool> closed_;  // by rail
  std::map<CauseKind, Cause> found_;
  std::size_t leg_ = 0;
};

}  // namespace

std::vector<Cause> causes_along(const HandrailGraph& graph, const Profile& profile, const CostTable& table,
                                std::span<const LegWay> legs, Blocks rules) {
  return Along(graph, profile, table, rules).follow(legs);
}

std::vector<bool> forbidding_zones(const HandrailGraph& graph, const CostTable& table) {
  std::vector<bool> forbids(graph.structure().zones.size());
  for (const auto zone : table.zones)
    forbids[zone.index()] = graph.structure().zones[zone.index()].effect == model::ZoneEffect::Forbid;
  return forbids;
}

}  // namespace holdfast::route::detail
