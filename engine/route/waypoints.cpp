// SPDX-License-Identifier: GPL-3.0-or-later
#include "waypoints_impl.h"

#include <tbb/parallel_for.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <numbers>
#include <utility>

#include "holdfast/search/cost.h"
#include "stretches_impl.h"
#include "tethered_impl.h"

namespace holdfast::route {

Vec3 direction_of(Face face) {
  // +x forward, +y starboard, +z nadir (design.md section 3).
  static const std::array<Vec3, face_count> directions = [] {
    const Vec3 forward = Vec3::UnitX(), starboard = Vec3::UnitY(), nadir = Vec3::UnitZ();
    std::array<Vec3, face_count> all = {-nadir,
                                        nadir,
                                        -starboard,
                                        starboard,
                                        forward,
                                        -forward,
                                        -nadir - starboard,
                                        -nadir + starboard,
                                        nadir - starboard,
                                        nadir + starboard,
                                        -nadir + forward,
                                        -nadir - forward,
                                        nadir + forward,
                                        nadir - forward,
                                        forward - starboard,
                                        forward + starboard,
                                        -forward - starboard,
                                        -forward + starboard};
    for (Vec3& direction : all) direction.normalize();
    return all;
  }();
  return directions[static_cast<std::size_t>(face)];
}

Face face_of(const Vec3& outward) {
  Face best = Face::Zenith;
  for (std::size_t f = 1; f < face_count; ++f)
    if (outward.dot(direction_of(Face(f))) > outward.dot(direction_of(best)) + 1e-9) best = Face(f);
  return best;
}

namespace detail {

using graph::Grip;
using graph::GripId;
using graph::HandrailGraph;
using graph::Move;
using graph::MoveId;
using model::PartId;
using model::ZoneId;

namespace {

class Describer {
 public:
  Describer(const HandrailGraph& graph, const Profile& profile, LoadSpace* space, const WaypointOptions& options,
            const TetherRule* tether)
      : graph_(graph),
        paces_(paces_of(profile)),
        space_(space),
        options_(options),
        tether_(tether),
        zones_(zones_that_hold(graph)) {}

  Route describe(std::span<const LegWay> ways) {
    route_.clearance = {std::numeric_limits<double>::infinity(), false};
    if (space_) route_.load_clearance = LoadClearance{.clearance = {std::numeric_limits<double>::infinity(), false}};
    measure_clearances(ways);
    goes_anywhere_ = std::any_of(ways.begin(), ways.end(), [](const LegWay& way) { return !way.moves.empty(); });
    for (std::size_t i = 0; i < ways.size(); ++i) add_leg(ways[i], i == 0, i + 1 == ways.size());
    finish(ways.back().grips.back());
    return std::move(route_);
  }

 private:
  /// Of all moves, in their order, on all cores: over a mesh this takes longer than finding the path.
  void measure_clearances(std::span<const LegWay> ways) {
    std::vector<MoveId> moves;
    for (const auto& way : ways) moves.insert(moves.end(), way.moves.begin(), way.moves.end());
    clearances_.resize(moves.size());
    tbb::parallel_for(std::size_t{0}, moves.size(), [&](std::size_t i) {
      clearances_[i] = graph_.compute_clearance(moves[i], clearance_tolerance_m);
    });
  }

  const Grip& grip(GripId id) const { return graph_.grip(id); }
  PartId part_of(const Grip& g) const { return graph_.structure().rails[g.rail.index()].part; }

  void add_leg(const LegWay& way, bool is_first, bool is_last) {
    Leg leg;
    leg.from = way.from, leg.to = way.to;
    if (is_first) manner_ = route_.manner = way.manner;
    // Staying where one is costs nothing: no start, no stop, nothing taken up, no hook.
    const bool is_gone = !way.moves.empty();
    const double take_up_s = is_first && goes_anywhere_ ? pace().take_up_s : 0,
                 put_down_s = is_last && goes_anywhere_ ? pace().take_up_s : 0, start_s = is_gone ? pace().start_s : 0;
    if (space_ && is_first) {
      const auto begun = space_->start(way.grips.front(), way.manner, way.departure);
      model::ensure(begun.has_value(), "loads in hand stay as they are carried until they are changed");
      state_ = *begun;
    }
    double hook_s = 0;
    if (tether_ && is_first) {
      const Hook& anchor = tether_->anchor();
      route_.tether = TetherUse{tether_->tether().id, anchor.name, anchor.at, tether_->tether().length_m, 0, 0, {}};
      out_ = tether_->start_out(way.grips.front()).value();
      hook_s = goes_anywhere_ ? tether_->first_hook_s() : 0;
    }
    spend(hook_s, route_.time_by_cause.tether_s, leg);
    spend(take_up_s, route_.time_by_cause.load_s, leg);
    spend(start_s, route_.time_by_cause.start_stop_s, leg);
    open_row(leg, RowKind::Start, way.grips.front());
    if (space_) enter_at_start(way);
    rest_at(leg.rows.back(), way.grips.front(), hook_s + take_up_s + start_s);
    leg.rows.back().time_s = hook_s + take_up_s + start_s;
    totals(leg.rows.back());
    note_tether(leg.rows.back());
    add_pose(leg, way.grips.front());
    if (space_ && is_first)
      for (std::size_t load = 0; load < space_->loads().size(); ++load) note_carried(leg, load, way.grips.front());
    auto rehook = way.rehooks.begin();
    auto change = way.changes.begin();
    for (std::size_t i = 0; i <= way.moves.size(); ++i) {
      for (; change != way.changes.end() && change->at == i; ++change) change_manner(leg, way.grips[i], change->manner);
      for (; rehook != way.rehooks.end() && rehook->at == i; ++rehook) swap_tether(leg, way.grips[i], rehook->hook);
      if (i < way.moves.size()) add_move(leg, way.grips[i], way.grips[i + 1], way.moves[i]);
    }
    if (space_) {
      note_load(leg, space_->measure_finish(state_));
      also_enter(space_->entered_at_finish(state_));
      const auto next = space_->finish_leg(state_);
      model::ensure(next.has_value(), "a route is described only where its loads fit");
      state_ = *next;
    }
    const double stop_s = is_gone ? pace().stop_s : 0;  // in the manner in which the leg ends
    spend(stop_s, route_.time_by_cause.start_stop_s, leg);
    spend(put_down_s, route_.time_by_cause.load_s, leg);
    leg.rows.back().time_s += stop_s + put_down_s;
    rest_at(leg.rows.back(), way.grips.back(), stop_s + put_down_s);
    totals(leg.rows.back());
    route_.legs.push_back(std::move(leg));
  }

  [[nodiscard]] const Pace& pace() const { return paces_[manner_]; }

  void enter(std::vector<ZoneId> zones) {
    resting_ = std::move(zones);
    entered_ = resting_;
  }
  void also_enter(std::span<const ZoneId> zones) {
    std::vector<ZoneId> all(entered_.begin(), entered_.end());
    for (const ZoneId zone : zones)
      if (std::find(all.begin(), all.end(), zone) == all.end()) all.push_back(zone);
    enter(std::move(all));
  }
  /// What the loads enter as a leg begins: in changing manner there, and in the first move.
  void enter_at_start(const LegWay& way) {
    enter({});
    LoadSpace::State state = state_;
    for (const auto& change : way.changes) {
      if (change.at != 0) break;
      const auto step = space_->change(state, change.manner);
      also_enter(step.entered);
      state = step.to;
    }
    also_enter(way.moves.empty() ? space_->entered_at_finish(state) : space_->step(state, way.grips[1]).entered);
  }

  void note_carried(const Leg& leg, std::size_t load, GripId at) {
    const model::Load& carried = space_->carried(manner_)[load];
    const bool is_towed = carried.how == model::CarriedHow::InTow;
    route_.carried.push_back({carried.id, carried.how, is_towed ? 0 : carried.offset_m.y(), route_.legs.size(),
                              leg_row_, leg.poses.size() - 1, grip(at).hand, route_.time_s});
  }

  void change_manner(Leg& leg, GripId at, std::size_t manner) {
    Row& row = leg.rows.back();
    const model::Load* const load = space_->changed_load(manner_, manner);
    note_load(leg, space_->measure_change(state_, manner));
    const auto step = space_->change(state_, manner);
    model::ensure(load && step.fits, "a route is described only where its loads fit");
    also_enter(step.entered);
    state_ = step.to, manner_ = manner;
    spend(load->change_s, route_.time_by_cause.load_s, leg);
    row.time_s += load->change_s;
    rest_at(row, at, load->change_s);
    totals(row);
    const auto& loads = space_->loads();
    note_carried(leg, static_cast<std::size_t>(std::find(loads.begin(), loads.end(), load) - loads.begin()), at);
  }

  void spend(double seconds, double& cause, Leg& leg) {
    cause += seconds;
    leg.time_s += seconds;
    route_.time_s += seconds;
  }

  void totals(Row& row) const {
    row.total_distance_m = route_.distance_m;
    row.total_moves = route_.moves;
    row.total_time_s = route_.time_s;
  }

  void open_row(Leg& leg, RowKind kind, GripId at) {
    const Grip& g = grip(at);
    Row row;
    row.kind = kind;
    row.part = part_of(g), row.rail = g.rail;
    row.face_from = row.face = side_at(at);
    row.along_from_m = row.along_to_m = g.along_m;
    row.clearance = {std::numeric_limits<double>::infinity(), false};
    row.hand = g.hand, row.body = graph_.body_point(at), row.outward = g.outward;
    leg_row_ = leg.rows.size();
    leg.rows.push_back(std::move(row));
  }

  /// Where the body is, seen from the part that the rail belongs to. The rail's outward direction says so, except where
  /// a rail stands on a bracket and points elsewhere than away from its part. Between the bars of a truss the nearest
  /// bar says nothing.
  [[nodiscard]] Face side_at(GripId at) const {
    const Grip& g = grip(at);
    const PartId part = part_of(g);
    if (std::holds_alternative<model::Truss>(graph_.structure().parts[part.index()].shape)) return face_of(g.outward);
    const Vec3 body = graph_.body_point(at);
    constexpr double bracket_m = 5;
    const auto nearest = graph_.scene().find_nearest_on_part(part, body, bracket_m);
    if (!nearest || nearest->distance_m <= 0) return face_of(g.outward);
    const Vec3 away = (body - nearest->point).normalized();
    return face_of(away.dot(g.outward) < std::numbers::sqrt2 / 2 ? away : g.outward);
  }

  /// On the rail that the row is on: is it told in a row of its own from this move on?
  [[nodiscard]] bool is_cut(const Row& row, GripId to, const Move& move) const {
    if (is_swapped_ || zones_inside_ != zones_before_) return true;
    if (row.distance_m + move.way_m > most_row_m + graph::length_tolerance_m) return true;
    const Face side = side_at(to);
    if (side == row.face) return false;
    return row.distance_m >= least_bent_row_m || direction_of(side).dot(direction_of(row.face_from)) < 1e-6;
  }

  RowKind kind_of(const Grip& a, const Grip& b, const Move& move, bool is_first_rail) const {
    if (part_of(a) != part_of(b)) return RowKind::PartChange;
    if (move.turn_rad >= edge_turn_rad && (a.rail != b.rail || a.direction != b.direction)) return RowKind::Edge;
    if (a.rail != b.rail || a.direction != b.direction) return RowKind::Gap;
    return is_first_rail ? RowKind::Along : RowKind::Gap;
  }

  void add_move(Leg& leg, GripId from, GripId to, MoveId id) {
    const Grip& a = grip(from);
    const Grip& b = grip(to);
    const Move& move = graph_.move(id);
    const bool is_same_rail = a.rail == b.rail && a.direction == b.direction;
    zones_before_ = std::exchange(zones_inside_, find_zones_inside(id, to));
    if (leg.rows.back().kind == RowKind::Start || !is_same_rail || is_cut(leg.rows.back(), to, move)) {
      open_row(leg, kind_of(a, b, move, is_same_rail), to);
      Row& row = leg.rows.back();
      if (is_same_rail) {
        row.face_from = side_at(from);
        row.along_from_m = a.along_m;
      } else {
        row.gap_m = move.gap_m;
      }
      row.turn_rad = move.turn_rad;
      is_swapped_ = false;
    } else {
      Row& row = leg.rows.back();
      (row.kind == RowKind::Along ? row.turn_rad : row.along_turn_rad) += move.turn_rad;
    }
    const MoveTime time = compute_move_time(move, pace());
    spend(time.regrip_s, route_.time_by_cause.regrip_s, leg);
    spend(time.translate_s, route_.time_by_cause.translate_s, leg);
    spend(time.turn_s, route_.time_by_cause.turn_s, leg);
    spend(time.rail_change_s, route_.time_by_cause.rail_change_s, leg);
    spend(time.one_hand_s, route_.time_by_cause.load_s, leg);
    leg.distance_m += move.way_m, route_.distance_m += move.way_m;
    if (tether_) out_ += tether_->length(id);
    ++leg.moves, ++route_.moves;

    Row& row = leg.rows.back();
    row.distance_m += move.way_m;
    ++row.moves;
    row.time_s += time.sum_s();
    row.along_to_m = b.along_m;
    row.face = side_at(to);
    row.hand = b.hand, row.body = graph_.body_point(to), row.outward = b.outward;
    totals(row);
    note_tether(row);
    if (space_) {
      note_load(leg, space_->measure(state_, to));
      const auto step = space_->step(state_, to);
      model::ensure(step.fits, "a route is described only where its loads fit");
      entered_ = step.entered;
      state_ = step.to;
    }
    add_pose(leg, to);
    note_clearance(row, id);
    note_zones(row, id, time.sum_s());
    note_price(id, time.sum_s());
    note_band(id);
  }

  /// What the search added to a move for caution zones that the body, the hands or a load enter.
  void note_price(MoveId id, double seconds) {
    if (!pace().prices_caution) return;
    for (std::size_t z = 0; z < graph_.structure().zones.size(); ++z) {
      const auto& zone = graph_.structure().zones[z];
      if (zone.effect != model::ZoneEffect::Caution) continue;
      const bool is_body =
          is_inside(graph_.zones(id), ZoneId(z)) && std::find(zones_.begin(), zones_.end(), ZoneId(z)) != zones_.end();
      if (is_body || is_entered(ZoneId(z))) route_.price_s += zone.price_s_per_s * seconds;
    }
  }

  /// What is out at the row's end, and at most so far.
  void note_tether(Row& row) {
    if (!tether_) return;
    row.tether_m = static_cast<double>(out_) / search::cost_units_per_metre;
    route_.tether->most_m = std::max(route_.tether->most_m, *row.tether_m);
  }

  void swap_tether(Leg& leg, GripId at, const Hook& hook) {
    Row& row = leg.rows.back();
    spend(tether_->rehook_s(), route_.time_by_cause.tether_s, leg);
    row.time_s += tether_->rehook_s();
    rest_at(row, at, tether_->rehook_s());
    route_.tether->swaps.push_back({route_.legs.size(), leg_row_, leg.poses.size() - 1, hook.name, hook.at,
                                    static_cast<double>(out_) / search::cost_units_per_metre, route_.time_s});
    out_ = tether_->rehook(at)->out;
    totals(row);
    note_tether(row);
    is_swapped_ = true;
  }

  void add_pose(Leg& leg, GripId at) const {
    const Grip& g = grip(at);
    leg.poses.push_back({at.index(), g.rail, g.hand, graph_.body_point(at), g.outward, g.stance, route_.time_s, {}});
    if (!space_) return;
    const auto poses = space_->poses(state_);
    for (std::size_t load = 0; load < poses.size(); ++load)
      if (poses[load]) leg.poses.back().loads.push_back({load, poses[load]->middle, poses[load]->axes});
  }

  /// The least room of the loads, of the row being filled and of the route.
  void note_load(Leg& leg, const LoadSpace::Measure& least) {
    Row& row = leg.rows.back();
    const LowerBound clearance{least.least_m, least.is_at_least};
    if (!row.load_clearance || clearance.value_m < row.load_clearance->value_m) row.load_clearance = clearance;
    auto& whole = *route_.load_clearance;
    if (clearance.value_m >= whole.clearance.value_m) return;
    whole.clearance = clearance;
    whole.leg = route_.legs.size(), whole.row = leg_row_;
    if (!least.load) return;
    whole.load = least.load->id;
    const auto corners = graph::corners_of(least.pose, least.size_m);
    if (const auto nearest = graph_.scene().find_nearest_to_hull(corners, 2 * graph::clearance_headroom_m))
      whole.part = nearest->part, whole.at = nearest->point;
  }

  /// Standing still at a leg's start or end: clearance, zones and band of the grip itself.
  void rest_at(Row& row, GripId at, double seconds) {
    const double cutoff = graph_.body().corridor_radius_m + graph::clearance_headroom_m;
    const Vec3 body = graph_.body_point(at);
    const auto nearest = graph_.scene().find_nearest(body, cutoff);
    take_least(row, {grip(at).clearance_lower_m, !nearest.has_value()},
               nearest ? std::optional(nearest->part) : std::nullopt, body);
    bool in_caution = false;
    for (const ZoneId zone : zones_) {
      const bool inside = is_inside(graph_.zones(at), zone) || is_entered(zone);
      const auto& applies = graph_.structure().zones[zone.index()].applies;
      double nearest_m = std::numeric_limits<double>::infinity();
      if (applies.body) nearest_m = graph_.scene().zone_distance(zone, body) - graph_.body().corridor_radius_m;
      if (applies.hands) nearest_m = std::min(nearest_m, graph_.scene().zone_distance(zone, grip(at).hand));
      nearest_m = std::max(0.0, nearest_m);
      if (inside || nearest_m < options_.zone_report_m)
        note_zone(row, zone, inside ? 0 : nearest_m, inside ? seconds : 0);
      in_caution = in_caution || (inside && is_caution(zone));
    }
    in_caution = note_load_zones(row, seconds) || in_caution;
    if (in_caution) route_.caution_s += seconds;
    for_each_delicate([&](PartId part) {
      const double d = std::min(graph_.scene().distance_to_part(part, body, band_cutoff()),
                                graph_.scene().distance_to_part(part, grip(at).hand, band_cutoff()));
      note_band_item(part, d, leg_row_);
    });
  }

  /// Zones that the body, the hands or a load are in over a move, in the order of the file.
  std::vector<ZoneId> find_zones_inside(MoveId id, GripId to) const {
    std::vector<ZoneId> inside;
    for (const ZoneId zone : zones_)
      if (is_inside(graph_.zones(id), zone)) inside.push_back(zone);
    if (space_) {
      const auto entered = space_->step(state_, to).entered;
      inside.insert(inside.end(), entered.begin(), entered.end());
      std::sort(inside.begin(), inside.end());
      inside.erase(std::unique(inside.begin(), inside.end()), inside.end());
    }
    return inside;
  }

  static bool is_inside(std::span<const graph::ZoneLabel> labels, ZoneId zone) {
    return std::any_of(labels.begin(), labels.end(), [&](const auto& label) { return label.zone == zone; });
  }
  bool is_caution(ZoneId zone) const {
    return graph_.structure().zones[zone.index()].effect == model::ZoneEffect::Caution;
  }

  void note_clearance(Row& row, MoveId id) {
    const double cutoff = graph_.body().corridor_radius_m + graph::clearance_headroom_m;
    const auto& least = clearances_[next_clearance_++];
    // Two certified lower bounds: the finer one holds.
    const double lower_m = std::max(least.lower_m, graph_.move(id).clearance_lower_m);
    const LowerBound clearance{lower_m, lower_m >= cutoff};
    if (!(clearance.value_m < row.clearance.value_m)) return;
    const Vec3 at = graph_.body_at(id, least.t);
    const auto nearest = graph_.scene().find_nearest(at, cutoff + clearance_tolerance_m);
    take_least(row, clearance, nearest ? std::optional(nearest->part) : std::nullopt, at);
  }

  void take_least(Row& row, const LowerBound& clearance, const std::optional<PartId>& part, const Vec3& at) {
    if (clearance.value_m < row.clearance.value_m) row.clearance = clearance, row.clearance_part = part;
    if (clearance.value_m < route_.clearance.value_m)
      route_.clearance = clearance, route_.clearance_part = part, route_.clearance_at = at;
  }

  void note_zones(Row& row, MoveId id, double seconds) {
    bool in_caution = false;
    for (const ZoneId zone : zones_) {
      const bool inside = is_inside(graph_.zones(id), zone) || is_entered(zone);
      double nearest_m = 0;
      if (!inside) {
        nearest_m = zone_distance(id, zone);
        if (nearest_m >= options_.zone_report_m) continue;
      }
      note_zone(row, zone, nearest_m, inside ? seconds : 0);
      in_caution = in_caution || (inside && is_caution(zone));
    }
    in_caution = note_load_zones(row, seconds) || in_caution;
    if (in_caution) route_.caution_s += seconds;
  }

  [[nodiscard]] bool is_entered(ZoneId zone) const {
    return std::find(entered_.begin(), entered_.end(), zone) != entered_.end();
  }

  /// Zones for loads alone: told where a load enters them. True where one of them is a caution zone.
  bool note_load_zones(Row& row, double seconds) {
    bool in_caution = false;
    for (const ZoneId zone : entered_) {
      if (std::find(zones_.begin(), zones_.end(), zone) != zones_.end()) continue;
      note_zone(row, zone, 0, seconds);
      in_caution = in_caution || is_caution(zone);
    }
    return in_caution;
  }

  /// From what the zone keeps out, corridor tube or hands, to the zone; a lower bound. The report distance where it is
  /// farther.
  double zone_distance(MoveId id, ZoneId zone) const {
    const auto& applies = graph_.structure().zones[zone.index()].applies;
    const double radius = graph_.body().corridor_radius_m, cutoff = options_.zone_report_m;
    const auto& a = grip(graph_.move(id).a);
    const auto& b = grip(graph_.move(id).b);
    double nearest_m = cutoff;
    // Far off at the middle of the move: no nearer than the report distance anywhere on it.
    const double rough = graph_.scene().zone_distance(zone, graph_.body_at(id, 0.5)) - graph_.move(id).way_m - radius;
    if (rough - graph_.body().stand_off_m > cutoff) return cutoff;
    if (applies.body) nearest_m = std::min(nearest_m, graph_.compute_zone_distance(id, zone, 0.005).lower_m - radius);
    if (applies.hands) {
      const auto hand_distance = [&](double t) {
        return graph_.scene().zone_distance(zone, a.hand + t * (b.hand - a.hand));
      };
      const auto least = geometry::certified_minimum(hand_distance, (b.hand - a.hand).norm(), {.tolerance_m = 0.005});
      nearest_m = std::min(nearest_m, least.lower_m);
    }
    return std::max(0.0, nearest_m);
  }

  void note_zone(Row& row, ZoneId zone, double nearest_m, double inside_s) {
    const auto effect = graph_.structure().zones[zone.index()].effect;
    for (auto* list : {&row.zones, &route_.zones}) {
      const auto found = std::find_if(list->begin(), list->end(), [&](const auto& c) { return c.zone == zone; });
      if (found == list->end()) {
        list->push_back({zone, effect, inside_s, nearest_m});
      } else {
        found->inside_s += inside_s;
        found->nearest_m = std::min(found->nearest_m, nearest_m);
      }
    }
  }

  double band_cutoff() const { return options_.band_m + 0.01; }

  template <class Visit>
  void for_each_delicate(Visit&& visit) const {
    const auto& parts = graph_.structure().parts;
    for (std::size_t p = 0; p < parts.size(); ++p)
      if ((parts[p].fragile || parts[p].no_touch) &&
          graph_.structure().is_present(PartId(p), graph_.scene().configuration()))
        visit(PartId(p));
  }

  void note_band(MoveId id) {
    for_each_delicate(
        [&](PartId part) { note_band_item(part, graph_.compute_part_distance(id, part, band_cutoff()), leg_row_); });
  }

  void note_band_item(PartId part, double distance_m, std::size_t row) {
    if (distance_m > options_.band_m + graph::length_tolerance_m) return;
    const auto& p = graph_.structure().parts[part.index()];
    const auto [entry, is_new] = band_.try_emplace(part);
    if (is_new || distance_m < entry->second.distance_m)
      entry->second = {part, distance_m, route_.legs.size(), row, p.fragile, p.no_touch};
  }

  void finish(GripId at) {
    route_.end.grip = at.index();
    if (space_) {
      route_.end = space_->departure(state_);
    }
    if (route_.tether) route_.tether->end_m = static_cast<double>(out_) / search::cost_units_per_metre;
    for (const auto& [part, item] : band_) route_.band.push_back(item);
    std::stable_sort(route_.band.begin(), route_.band.end(),
                     [](const BandItem& x, const BandItem& y) { return x.distance_m < y.distance_m; });
    const auto by_zone = [](const ZoneContact& x, const ZoneContact& y) { return x.zone < y.zone; };
    std::sort(route_.zones.begin(), route_.zones.end(), by_zone);
    for (auto& leg : route_.legs)
      for (auto& row : leg.rows) std::sort(row.zones.begin(), row.zones.end(), by_zone);
    route_.stretches = find_stretches(graph_, route_);
  }

  const HandrailGraph& graph_;
  const std::vector<Pace> paces_;  // by manner
  LoadSpace* const space_;
  const WaypointOptions& options_;
  const TetherRule* const tether_;
  const std::vector<ZoneId> zones_;
  std::vector<geometry::CertifiedMinimum> clearances_;  // of all moves, in their order
  std::size_t next_clearance_ = 0;
  Route route_;
  std::map<PartId, BandItem> band_;
  std::size_t leg_row_ = 0;  // the row being filled
  bool goes_anywhere_ = true;
  LoadSpace::State state_ = 0;
  std::size_t manner_ = 0;                           // of carrying the loads
  std::int64_t out_ = 0;                             // of the tether, in units of a cost
  std::span<const ZoneId> entered_;                  // by a load, in the move being told ...
  std::vector<ZoneId> resting_;                      // ... in the last move of a leg and when drawn in at its end
  std::vector<ZoneId> zones_inside_, zones_before_;  // of the move being told, and of the one before
  bool is_swapped_ = false;                          // the tether, since the last move
};

}  // namespace

Route describe(const HandrailGraph& graph, const Profile& profile, LoadSpace* space, std::span<const LegWay> legs,
               const WaypointOptions& options, const TetherRule* tether) {
  return Describer(graph, profile, space, options, tether).describe(legs);
}

}  // namespace detail
}  // namespace holdfast::route
