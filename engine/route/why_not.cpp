// SPDX-License-Identifier: GPL-3.0-or-later
#include "why_not_impl.h"

#include <tbb/parallel_for.h>

#include <algorithm>
#include <array>
#include <bit>
#include <boost/pending/disjoint_sets.hpp>
#include <cmath>
#include <map>
#include <numeric>
#include <optional>
#include <tuple>

#include "closed_impl.h"
#include "holdfast/geometry/point_tree.h"
#include "holdfast/route/cuts.h"
#include "holdfast/search/shortest.h"
#include "holdfast/search/widest.h"

namespace holdfast::route {
namespace detail {

using graph::GripId;
using graph::HandrailGraph;
using graph::MoveId;
using model::RailId;
using model::ZoneId;

namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();
constexpr double fine_m = 0.001;         // to which a pinch is told
constexpr double coarse_m = 0.005;       // within which the graph's own clearances are exact
constexpr std::size_t most_paired = 16;  // zones or rails of which every pair is tried

/// What is lifted while asking 'what if'; as it stands, nothing.
struct Waiver {
  double most_turn_rad = -1;            ///< moves that the turn limit closes pass up to this turn
  bool hand_line = false;               ///< structure in the hand's line is looked away from
  double least_clearance_m = infinity;  ///< moves and grips that the corridor closes pass from this clearance on
  bool every_zone = false, every_rail = false;
  std::vector<ZoneId> zones;
  std::vector<RailId> rails;

  void lift(Blocks rules) {
    if (rules & block_turn) most_turn_rad = infinity;
    if (rules & block_hand_line) hand_line = true;
    if (rules & block_body) least_clearance_m = -infinity;
    if (rules & block_zone) every_zone = true;
    if (rules & block_closure) every_rail = true;
  }
  void lift(const Waiver& other) {
    most_turn_rad = std::max(most_turn_rad, other.most_turn_rad);
    hand_line = hand_line || other.hand_line;
    least_clearance_m = std::min(least_clearance_m, other.least_clearance_m);
    every_zone = every_zone || other.every_zone, every_rail = every_rail || other.every_rail;
    for (const auto zone : other.zones) add_once(zones, zone);
    for (const auto rail : other.rails) add_once(rails, rail);
  }
};

geometry::PointTree hands_of(const std::vector<graph::Grip>& grips) {
  std::vector<Vec3> hands;
  for (const auto& grip : grips) hands.push_back(grip.hand);
  return geometry::PointTree(std::move(hands));
}

class Explainer {
 public:
  Explainer(const HandrailGraph& graph, const Profile& profile, Objective objective)
      : graph_(graph),
        profile_(profile),
        table_(compute_costs(graph, profile, objective)),
        open_costs_(compute_open_costs(graph, profile, objective)),
        closed_(touched_rails(graph, profile.closures)),
        forbids_(forbidding_zones(graph, table_)) {
    judge_everything();
  }

  std::vector<Cause> explain(const std::vector<End>& ends) {
    std::vector<GripId> reached = ends.front().grips;
    for (std::size_t leg = 0; leg + 1 < ends.size(); ++leg) {
      leg_ = {leg, &ends[leg], &ends[leg + 1], std::move(reached), ends[leg + 1].grips};
      reached = find_reached();
      if (!reached.empty()) continue;
      const bool is_opened = explain_leg(all_blocks);
      causes_.insert(causes_.end(), leg_causes_.begin(), leg_causes_.end());
      leg_causes_.clear();
      if (!is_opened) break;
      reached = find_reached();
      model::ensure(!reached.empty(), "what is named as the cause opens no path when it is lifted");
    }
    model::ensure(!causes_.empty(), "a route was not found although every leg can be made");
    return std::move(causes_);
  }

  std::vector<Cause> explain(const Cut& cut) {
    base_ = {};
    base_.lift(block_zone | block_closure);
    leg_ = {0, nullptr, nullptr, cut.from, cut.to};
    explain_leg(block_turn | block_hand_line | block_body);
    return std::exchange(leg_causes_, {});
  }

 private:
  struct FailedLeg {
    std::size_t index = 0;
    const End* from = nullptr;  // null: grips without a name
    const End* to = nullptr;
    std::vector<GripId> sources;  // grips of `from` that the legs before reach; all of its grips on the first leg
    std::vector<GripId> targets;
  };

  // ---- what is closed by what --------------------------------------------------------------------------------------

  /// Building stops at the first rule that forbids a move; here each rule counts.
  void judge_everything() {
    blocks_ = table_.blocks;
    clearance_.resize(graph_.moves().size());
    tbb::parallel_for(std::size_t{0}, graph_.moves().size(), [&](std::size_t m) {
      const auto& move = graph_.moves()[m];
      clearance_[m] = move.clearance_lower_m;
      if (move.is_turn_allowed && move.is_hand_line_clear) return;
      const auto judged = graph_.judge(MoveId(m));
      clearance_[m] = judged.clearance_lower_m;
      if (!judged.is_hand_line_clear) blocks_[m] |= block_hand_line;
      if (!judged.is_body_clear) blocks_[m] |= block_body;
    });
  }

  template <class Labels>
  bool zones_pass(const Labels& labels, const Waiver& waiver) const {
    return waiver.every_zone || std::all_of(labels.begin(), labels.end(), [&](const auto& label) {
             return !forbids_[label.zone.index()] ||
                    std::find(waiver.zones.begin(), waiver.zones.end(), label.zone) != waiver.zones.end();
           });
  }

  bool rail_passes(RailId rail, const Waiver& waiver) const {
    return waiver.every_rail || !closed_[rail.index()] ||
           std::find(waiver.rails.begin(), waiver.rails.end(), rail) != waiver.rails.end();
  }

  bool passes(MoveId id, const Waiver& waiver) const {
    const Blocks blocks = blocks_[id.index()];
    if (blocks == 0) return true;
    const auto& move = graph_.move(id);
    if ((blocks & block_turn) && move.turn_rad > waiver.most_turn_rad) return false;
    if ((blocks & block_hand_line) && !waiver.hand_line) return false;
    if ((blocks & block_body) && clearance_[id.index()] < waiver.least_clearance_m) return false;
    if ((blocks & block_zone) && !zones_pass(graph_.zones(id), waiver)) return false;
    return !(blocks & block_closure) ||
           (rail_passes(graph_.grip(move.a).rail, waiver) && rail_passes(graph_.grip(move.b).rail, waiver));
  }

  /// Rules that close a grip all the same.
  Blocks left(GripId id, const Waiver& waiver) const {
    Blocks blocks = table_.grip_blocks[id.index()];
    const auto drop = [&](Blocks rule, bool is_lifted) {
      if (is_lifted) blocks &= static_cast<Blocks>(~rule);
    };
    drop(block_body, graph_.grip(id).clearance_lower_m >= waiver.least_clearance_m);
    drop(block_zone, zones_pass(graph_.zones(id), waiver));
    drop(block_closure, rail_passes(graph_.grip(id).rail, waiver));
    return blocks;
  }
  bool passes(GripId id, const Waiver& waiver) const { return left(id, waiver) == 0; }

  // ---- paths under a waiver ----------------------------------------------------------------------------------------

  std::vector<search::Seed> seeds(std::span<const GripId> grips, const Waiver& waiver) const {
    std::vector<search::Seed> list;
    for (const GripId grip : grips)
      if (passes(grip, waiver)) list.push_back({grip.value, {}});
    return list;
  }

  std::vector<search::Cost> costs(const Waiver& waiver) const {
    std::vector<search::Cost> costs = open_costs_;
    for (std::size_t m = 0; m < costs.size(); ++m)
      if (!passes(MoveId(m), waiver)) costs[m] = search::Cost::blocked();
    return costs;
  }

  std::optional<search::Path> find_way(const Waiver& waiver) {
    return query_.find(graph_.adjacency(), costs(waiver), seeds(leg_.sources, waiver), seeds(leg_.targets, waiver));
  }

  /// Grips at the leg's end that can be reached once all that was named for the legs before is lifted.
  std::vector<GripId> find_reached() const {
    search::ShortestTree tree;
    tree.grow(graph_.adjacency(), costs(base_), seeds(leg_.sources, base_));
    std::vector<GripId> reached;
    for (const GripId grip : leg_.targets)
      if (passes(grip, base_) && !tree.cost(grip.value).is_blocked()) reached.push_back(grip);
    return reached;
  }

  double seconds_of(const search::Path& way) const {
    const Pace pace = pace_of(profile_);
    double seconds = pace.start_s + pace.stop_s + 2 * pace.take_up_s;
    for (const auto move : way.moves) seconds += compute_move_time(graph_.moves()[move], pace).sum_s();
    return seconds;
  }

  void note_opening(Cause& cause, const Waiver& waiver) {
    const auto way = find_way(waiver);
    cause.opens_alone = way.has_value();
    if (way) cause.then_time_s = seconds_of(*way);
  }

  // ---- one leg -----------------------------------------------------------------------------------------------------

  /// False where nothing that can be lifted opens the leg; else `base_` lifts what was named, and opens it.
  bool explain_leg(Blocks rules) {
    for (const End* end : {leg_.from, leg_.to})
      if (end && end->grips.empty()) leg_causes_.push_back(no_grip_near(*end));
    if (!leg_causes_.empty()) return false;
    if (leg_.index == 0 && leg_.from) explain_end(*leg_.from);
    if (leg_.to) explain_end(*leg_.to);
    const std::size_t at_ends = leg_causes_.size();
    Waiver whole = base_;
    whole.lift(rules);
    const bool can_open = find_way(whole).has_value();
    if (can_open)
      explain_rules(rules);
    else
      leg_causes_.push_back(reach_cause());
    for (std::size_t c = 0; c < at_ends; ++c)
      if (leg_causes_[c].then_time_s == 0) note_opening(leg_causes_[c], waiver_of(leg_causes_[c]));
    std::stable_sort(leg_causes_.begin(), leg_causes_.end(),
                     [](const Cause& x, const Cause& y) { return x.kind < y.kind; });
    base_.lift(named_);
    named_ = {};
    return can_open;
  }

  /// Each rule that opens a path by itself; else a fewest rules that do together, closures and zones before what
  /// nobody can change. Each of the fewest is needed, because no fewer open a path.
  void explain_rules(Blocks rules) {
    std::array<Blocks, all_blocks> sets{};
    std::iota(sets.rbegin(), sets.rend(), Blocks{1});
    std::stable_sort(sets.begin(), sets.end(), [](Blocks x, Blocks y) { return std::popcount(x) < std::popcount(y); });
    bool is_opened = false;
    for (const Blocks set : sets) {
      if (is_opened && std::popcount(set) > 1) return;
      if ((set & ~rules) == 0 && explain_set(set)) is_opened = true;
    }
  }

  bool explain_set(Blocks set) {
    Waiver whole = base_;
    whole.lift(set);
    if (!find_way(whole)) return false;
    std::vector<Waiver> choices = {whole};
    if (set & block_zone) {
      std::vector<ZoneId> zones;
      for (const auto zone : table_.zones)
        if (forbids_[zone.index()]) zones.push_back(zone);
      choices = narrow(choices.front(), zones, &Waiver::zones, &Waiver::every_zone);
    }
    if (set & block_closure) {
      std::vector<RailId> rails;
      for (std::size_t r = 0; r < closed_.size(); ++r)
        if (closed_[r]) rails.emplace_back(r);
      choices = narrow(choices.front(), rails, &Waiver::rails, &Waiver::every_rail);
    }
    // Of several rules one choice is told, because each is named as needed together with the others.
    if (!std::has_single_bit(set)) choices.resize(1);
    for (const Waiver& choice : choices) name(choice, set);
    return true;
  }

  /// `whole` with fewer zones (or closed rails) lifted than all: each single one that opens a path; else the first pair
  /// that does; else a set of which every member is needed. Finding the smallest set is the (hard) minimum constraint
  /// removal problem.
  template <class ItemId>
  std::vector<Waiver> narrow(const Waiver& whole, const std::vector<ItemId>& items, std::vector<ItemId> Waiver::*list,
                             bool Waiver::*every) {
    const auto with = [&](const std::vector<ItemId>& set) {
      Waiver waiver = whole;
      waiver.*every = base_.*every;
      for (const ItemId item : set) add_once(waiver.*list, item);
      return waiver;
    };
    std::vector<Waiver> singles;
    for (const ItemId item : items)
      if (find_way(with({item}))) singles.push_back(with({item}));
    if (!singles.empty()) return singles;
    if (items.size() <= most_paired)
      for (std::size_t i = 0; i < items.size(); ++i)
        for (std::size_t j = i + 1; j < items.size(); ++j)
          if (find_way(with({items[i], items[j]}))) return {with({items[i], items[j]})};
    std::vector<ItemId> needed = items;
    for (const ItemId item : items) {
      std::vector<ItemId> fewer;
      std::copy_if(needed.begin(), needed.end(), std::back_inserter(fewer),
                   [&](ItemId other) { return other != item; });
      if (find_way(with(fewer))) needed = std::move(fewer);
    }
    return {with(needed)};
  }

  /// Adds the causes of `set`. The corridor and the turn are lifted only as far as the numbers told, so that these hold
  /// together on one path, and its time is that path's.
  void name(Waiver choice, Blocks set) {
    if (set & block_body) choice.least_clearance_m = std::min(base_.least_clearance_m, find_widest(choice));
    if (set & block_turn) choice.most_turn_rad = std::max(base_.most_turn_rad, find_least_turn(choice));
    const auto way = find_way(choice);
    model::ensure(way.has_value(), "what is named as the cause opens no path when it is lifted");
    LegWay leg;
    for (const auto node : way->nodes) leg.grips.emplace_back(node);
    for (const auto move : way->moves) leg.moves.emplace_back(move);
    for (Cause& cause : causes_along(graph_, profile_, table_, {&leg, 1}, set)) {
      cause.leg = leg_.index;
      cause.opens_alone = std::has_single_bit(set);
      cause.then_time_s = seconds_of(*way);
      if (!tell_at_ends(cause)) leg_causes_.push_back(std::move(cause));
    }
    named_.lift(choice);
  }

  /// The bottleneck over all paths under the waiver: a clearance that one of them keeps everywhere.
  double find_widest(const Waiver& waiver) {
    double standing_m = -1;  // a route of no moves: where it stands
    for (const GripId grip : leg_.sources)
      if (passes(grip, waiver) && std::find(leg_.targets.begin(), leg_.targets.end(), grip) != leg_.targets.end())
        standing_m = std::max(standing_m, graph_.grip(grip).clearance_lower_m);
    Waiver wider = waiver;
    if (standing_m >= 0) wider.least_clearance_m = std::nextafter(standing_m, infinity);
    // Above the corridor radius everything is wide enough; only what is below is told apart.
    const auto width = [&](std::size_t m) { return std::min(clearance_[m], graph_.body().corridor_radius_m); };
    std::vector<double> widths(graph_.moves().size(), -infinity);
    for (std::size_t m = 0; m < widths.size(); ++m)
      if (passes(MoveId(m), wider)) widths[m] = width(m);
    const auto widest =
        search::find_widest_path(graph_.adjacency(), widths, seeds(leg_.sources, wider), seeds(leg_.targets, wider));
    if (!widest || !widest->pinch) return standing_m;
    double least_m = infinity;
    for (const auto end : {widest->nodes.front(), widest->nodes.back()})
      least_m = std::min(least_m, graph_.grip(GripId(end)).clearance_lower_m);
    for (const auto m : widest->moves) {
      // Of two certified lower bounds the greater holds; no other path is wider than this one was before.
      if (clearance_[m] < widest->width + coarse_m)
        clearance_[m] = std::max(clearance_[m], graph_.compute_clearance(MoveId(m), fine_m).lower_m);
      least_m = std::min(least_m, width(m));
    }
    return std::max(standing_m, least_m);
  }

  /// The least of all paths' largest turns under the waiver.
  double find_least_turn(const Waiver& waiver) const {
    std::vector<double> widths(graph_.moves().size(), -infinity);
    for (std::size_t m = 0; m < widths.size(); ++m)
      if (passes(MoveId(m), waiver)) widths[m] = -graph_.moves()[m].turn_rad;
    const auto flattest =
        search::find_widest_path(graph_.adjacency(), widths, seeds(leg_.sources, waiver), seeds(leg_.targets, waiver));
    return flattest && flattest->pinch ? graph_.moves()[*flattest->pinch].turn_rad : 0;
  }

  // ---- the ends ----------------------------------------------------------------------------------------------------

  Cause cause_of(CauseKind kind) const {
    Cause cause;
    cause.kind = kind;
    cause.leg = leg_.index;
    return cause;
  }

  Cause no_grip_near(const End& end) const {
    Cause cause = cause_of(CauseKind::NoGripNear);
    cause.place = end.text;
    cause.at = end.at;
    cause.limit_m = end.radius_m;
    cause.value_m = infinity;
    if (const auto nearest = graph_.find_nearest_grip(end.at)) {
      cause.value_m = (graph_.grip(*nearest).hand - end.at).norm();
      cause.at_other = graph_.grip(*nearest).hand;
      cause.rail = graph_.grip(*nearest).rail;
    }
    return cause;
  }

  /// Where no grip of an end is free: the rules that close every one of them; else each rule with its share.
  void explain_end(const End& end) {
    Blocks every = all_blocks, some = 0;
    for (const GripId g : end.grips) {
      const Blocks blocks = left(g, base_);
      if (blocks == 0) return;
      every &= blocks, some |= blocks;
    }
    const Blocks guilty = every != 0 ? every : some;
    for (const Blocks rule : {block_zone, block_closure, block_body})
      if (guilty & rule) leg_causes_.push_back(end_cause(end, rule));
  }

  Cause end_cause(const End& end, Blocks rule) const {
    Cause cause = cause_of(rule == block_zone      ? CauseKind::InZone
                           : rule == block_closure ? CauseKind::OnClosedRails
                                                   : CauseKind::BodyTooTight);
    cause.place = end.text, cause.at = end.at;
    cause.grips_of = end.grips.size();
    double widest_m = -1;
    for (const GripId g : end.grips) {
      if (!(left(g, base_) & rule)) continue;
      ++cause.grips;
      if (rule == block_closure) add_once(cause.rails, graph_.grip(g).rail);
      if (rule == block_zone)
        for (const auto& label : graph_.zones(g))
          if (forbids_[label.zone.index()]) add_once(cause.zones, label.zone);
      if (rule == block_body && graph_.grip(g).clearance_lower_m > widest_m) {
        widest_m = graph_.grip(g).clearance_lower_m;
        cause.value_m = 2 * widest_m;
        cause.at = graph_.body_point(g), cause.rail = graph_.grip(g).rail;
      }
    }
    if (rule == block_body) {
      cause.limit_m = 2 * graph_.body().corridor_radius_m;
      if (const auto nearest = graph_.scene().find_nearest(cause.at, cause.limit_m)) cause.part = nearest->part;
    }
    return cause;
  }

  /// What a cause at an end says to lift.
  Waiver waiver_of(const Cause& cause) const {
    Waiver waiver = base_;
    for (const auto zone : cause.zones) add_once(waiver.zones, zone);
    for (const auto rail : cause.rails) add_once(waiver.rails, rail);
    if (cause.kind == CauseKind::BodyTooTight)
      waiver.least_clearance_m = std::min(waiver.least_clearance_m, cause.value_m / 2);
    return waiver;
  }

  /// True where an end's cause says the same already: then that one tells what is open without it.
  bool tell_at_ends(const Cause& cause) {
    const auto same = [](auto x, auto y) {
      std::sort(x.begin(), x.end()), std::sort(y.begin(), y.end());
      return x == y;
    };
    bool is_told = false;
    for (Cause& end : leg_causes_) {
      if (end.grips_of == 0) continue;
      if (end.kind == CauseKind::BodyTooTight
              ? cause.kind != end.kind || cause.value_m < end.value_m - fine_m
              : cause.kind != (end.kind == CauseKind::InZone ? CauseKind::Zones : CauseKind::Closures) ||
                    !same(end.zones, cause.zones) || !same(end.rails, cause.rails))
        continue;
      end.value_m = std::min(end.value_m, cause.value_m);
      end.opens_alone = cause.opens_alone, end.then_time_s = cause.then_time_s;
      is_told = true;
    }
    return is_told;
  }

  // ---- reach -------------------------------------------------------------------------------------------------------

  /// With every rule waived only the reach is left: source and target lie on different islands.
  Cause reach_cause() const {
    const std::size_t n = graph_.grips().size();
    std::vector<std::uint32_t> rank(n), parent(n);
    boost::disjoint_sets<std::uint32_t*, std::uint32_t*> islands(rank.data(), parent.data());
    for (std::uint32_t g = 0; g < n; ++g) islands.make_set(g);
    for (const auto& move : graph_.moves()) islands.union_set(move.a.value, move.b.value);

    std::vector<bool> is_source(n), is_target(n);
    for (const GripId g : leg_.sources) is_source[islands.find_set(g.value)] = true;
    for (const GripId g : leg_.targets) is_target[islands.find_set(g.value)] = true;
    std::vector<GripId> targets;
    std::vector<graph::Grip> source_grips;
    std::vector<GripId> sources;
    for (std::uint32_t g = 0; g < n; ++g) {
      if (is_source[islands.find_set(g)]) sources.emplace_back(g), source_grips.push_back(graph_.grips()[g]);
      if (is_target[islands.find_set(g)]) targets.emplace_back(g);
    }
    Cause cause = cause_of(CauseKind::Reach);
    cause.limit_m = graph_.body().reach_m;
    const auto source_hands = hands_of(source_grips);
    double best_m = std::numeric_limits<double>::infinity();
    for (const GripId target : targets) {
      const auto nearest = source_hands.find_nearest(graph_.grip(target).hand);
      if (!nearest || nearest->distance_m >= best_m) continue;
      best_m = nearest->distance_m;
      cause.at = source_grips[nearest->index].hand, cause.rail = source_grips[nearest->index].rail;
      cause.at_other = graph_.grip(target).hand, cause.rail_other = graph_.grip(target).rail;
    }
    cause.value_m = best_m;
    cause.unavoidable_m = unavoidable_gap(islands, is_source, is_target, cause.value_m);
    return cause;
  }

  /// Least over all paths that hop between islands of the widest gap hopped: Prim's order from all of the source's
  /// islands. When it takes an edge of w, nothing shorter leaves the set, which holds no target yet, so no path avoids
  /// a gap of w.
  template <class Sets>
  double unavoidable_gap(Sets islands, const std::vector<bool>& is_source, const std::vector<bool>& is_target,
                         double direct_m) const {
    struct Island {
      std::vector<graph::Grip> grips;
      geometry::Bounds bounds;
      double gap_m;  ///< to the set so far
      bool is_goal;
      bool is_taken = false;
    };
    std::map<std::uint32_t, Island> list;
    std::vector<Island*> taken;
    for (std::uint32_t g = 0; g < graph_.grips().size(); ++g) {
      const auto root = islands.find_set(g);
      const auto [at, is_new] = list.try_emplace(root);
      Island& island = at->second;
      island.grips.push_back(graph_.grips()[g]);
      island.bounds.extend(graph_.grips()[g].hand);
      if (!is_new) continue;
      island.gap_m = direct_m;  // a wider hop is never needed: the direct one is there
      island.is_goal = is_target[root];
      if (is_source[root]) taken.push_back(&island), island.is_taken = true;
    }
    double widest = 0;
    for (;;) {
      for (const Island* from : taken)
        for (auto& [root, island] : list)
          if (!island.is_taken && box_gap(from->bounds, island.bounds) < island.gap_m)
            island.gap_m = std::min(island.gap_m, gap_between(from->grips, island.grips));
      Island* next = nullptr;
      for (auto& [root, island] : list)
        if (!island.is_taken &&
            (!next || island.gap_m < next->gap_m || (island.gap_m == next->gap_m && island.is_goal && !next->is_goal)))
          next = &island;
      widest = std::max(widest, next->gap_m);
      if (next->is_goal) return widest;
      next->is_taken = true;
      taken = {next};
    }
  }

  static double box_gap(const geometry::Bounds& a, const geometry::Bounds& b) {
    return (a.min - b.max).cwiseMax(b.min - a.max).cwiseMax(0).norm();
  }

  static double gap_between(const std::vector<graph::Grip>& a, const std::vector<graph::Grip>& b) {
    const auto& [few, many] = a.size() < b.size() ? std::tie(a, b) : std::tie(b, a);
    const auto hands = hands_of(many);
    double best_m = std::numeric_limits<double>::infinity();
    for (const auto& grip : few)
      if (const auto nearest = hands.find_nearest(grip.hand)) best_m = std::min(best_m, nearest->distance_m);
    return best_m;
  }

  const HandrailGraph& graph_;
  const Profile& profile_;
  const CostTable table_;
  const std::vector<search::Cost> open_costs_;
  std::vector<bool> closed_;         // by rail
  const std::vector<bool> forbids_;  // by zone
  std::vector<Blocks> blocks_;       // by move, every rule judged
  std::vector<double> clearance_;    // by move, judged
  FailedLeg leg_;
  Waiver base_;   // what is named for the legs before
  Waiver named_;  // ... and for this one
  std::vector<Cause> leg_causes_, causes_;
  search::RouteQuery query_;
};

}  // namespace

std::vector<Cause> explain(const HandrailGraph& graph, const Profile& profile, Objective objective,
                           const std::vector<End>& ends) {
  return Explainer(graph, profile, objective).explain(ends);
}

}  // namespace detail

std::vector<std::vector<Cause>> explain_cuts(const graph::HandrailGraph& graph, const Profile& profile,
                                             std::span<const Cut> cuts) {
  std::vector<std::vector<Cause>> causes;
  if (cuts.empty()) return causes;
  detail::Explainer explainer(graph, profile, Objective::Time);
  for (const Cut& cut : cuts) causes.push_back(explainer.explain(cut));
  return causes;
}

}  // namespace holdfast::route
