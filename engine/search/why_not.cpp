#include "why_not_impl.h"

#include <tbb/parallel_for.h>

#include <algorithm>
#include <array>
#include <bit>
#include <boost/pending/disjoint_sets.hpp>
#include <cmath>
#include <map>
#include <nanoflann.hpp>
#include <numeric>
#include <optional>
#include <tuple>

#include "holdfast/search/shortest.h"
#include "holdfast/search/widest.h"

namespace holdfast::search::detail {

using graph::GripId;
using graph::HandrailGraph;
using graph::MoveId;
using model::RailId;
using model::ZoneId;

namespace {

/// Rules that are looked away from while asking 'what if'.
struct Waiver {
  Blocks rules = 0;           ///< turn, hand line, body; zone and closure waive all of their kind
  std::vector<ZoneId> zones;  ///< single zones
  std::vector<RailId> rails;  ///< single closed rails
};

/// Hand positions as nanoflann wants them.
struct HandCloud {
  std::span<const graph::Grip> grips;
  [[nodiscard]] std::size_t kdtree_get_point_count() const { return grips.size(); }
  [[nodiscard]] double kdtree_get_pt(std::size_t i, std::size_t axis) const {
    return grips[i].hand[static_cast<Eigen::Index>(axis)];
  }
  template <class Box>
  bool kdtree_get_bbox(Box&) const {
    return false;
  }
};
using HandTree = nanoflann::KDTreeSingleIndexAdaptor<nanoflann::L2_Simple_Adaptor<double, HandCloud>, HandCloud, 3>;

class Explainer {
 public:
  Explainer(const HandrailGraph& graph, const Profile& profile, Objective objective, const FailedLeg& leg)
      : graph_(graph),
        profile_(profile),
        leg_(leg),
        table_(compute_costs(graph, profile, objective)),
        open_costs_(compute_open_costs(graph, profile, objective)),
        closed_(graph.structure().rails.size()),
        forbids_(graph.structure().zones.size()) {
    for (const auto rail : profile.closures.rails) closed_[rail.index()] = true;
    for (const auto zone : table_.zones)
      forbids_[zone.index()] = graph.structure().zones[zone.index()].effect == model::ZoneEffect::Forbid;
  }

  std::vector<Cause> explain() {
    for (const auto* end : {&leg_.from, &leg_.to})
      if (end->grips.empty()) causes_.push_back(no_grip_near(*end));
    if (!causes_.empty()) return std::move(causes_);
    judge_everything();
    explain_ends();
    if (!find_way({.rules = all_blocks})) {
      causes_.push_back(reach_cause());
      return std::move(causes_);
    }
    explain_single_rules();
    if (std::none_of(causes_.begin(), causes_.end(), [](const Cause& cause) { return cause.opens_alone; }))
      explain_together();
    std::stable_sort(causes_.begin(), causes_.end(), [](const Cause& x, const Cause& y) { return x.kind < y.kind; });
    return std::move(causes_);
  }

 private:
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
    return std::all_of(labels.begin(), labels.end(), [&](const auto& label) {
      return !forbids_[label.zone.index()] ||
             std::find(waiver.zones.begin(), waiver.zones.end(), label.zone) != waiver.zones.end();
    });
  }

  bool rail_passes(RailId rail, const Waiver& waiver) const {
    return !closed_[rail.index()] || std::find(waiver.rails.begin(), waiver.rails.end(), rail) != waiver.rails.end();
  }

  bool passes(MoveId id, const Waiver& waiver) const {
    const Blocks left = blocks_[id.index()] & static_cast<Blocks>(~waiver.rules);
    if (left & (block_turn | block_hand_line | block_body)) return false;
    if ((left & block_zone) && !zones_pass(graph_.zones(id), waiver)) return false;
    const auto& move = graph_.move(id);
    return !(left & block_closure) ||
           (rail_passes(graph_.grip(move.a).rail, waiver) && rail_passes(graph_.grip(move.b).rail, waiver));
  }

  bool passes(GripId id, const Waiver& waiver) const {
    const Blocks left = table_.grip_blocks[id.index()] & static_cast<Blocks>(~waiver.rules);
    if (left & block_body) return false;
    if ((left & block_zone) && !zones_pass(graph_.zones(id), waiver)) return false;
    return !(left & block_closure) || rail_passes(graph_.grip(id).rail, waiver);
  }

  // ---- ways under a waiver -----------------------------------------------------------------------------------------

  std::vector<Seed> seeds(std::span<const GripId> grips, const Waiver& waiver) const {
    std::vector<Seed> list;
    for (const GripId grip : grips)
      if (passes(grip, waiver)) list.push_back({grip.value, {}});
    return list;
  }

  std::optional<Way> find_way(const Waiver& waiver) {
    std::vector<Cost> costs = open_costs_;
    for (std::size_t m = 0; m < costs.size(); ++m)
      if (!passes(MoveId(m), waiver)) costs[m] = Cost::blocked();
    return query_.find(graph_.adjacency(), costs, seeds(leg_.sources, waiver), seeds(leg_.to.grips, waiver));
  }

  double seconds_of(const Way& way) const {
    const Pace pace = pace_of(profile_);
    double seconds = pace.start_s + pace.stop_s + 2 * pace.take_up_s;
    for (const auto move : way.moves) seconds += compute_move_time(graph_.moves()[move], pace).sum_s();
    return seconds;
  }

  void note_opening(Cause& cause, const std::optional<Way>& way) const {
    cause.opens_alone = way.has_value();
    if (way) cause.then_time_s = seconds_of(*way);
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
    cause.value_m = std::numeric_limits<double>::infinity();
    if (const auto nearest = graph_.find_nearest_grip(end.at)) {
      cause.value_m = (graph_.grip(*nearest).hand - end.at).norm();
      cause.at_other = graph_.grip(*nearest).hand;
      cause.rail = graph_.grip(*nearest).rail;
    }
    return cause;
  }

  void explain_ends() {
    const std::span<const GripId> ends[] = {leg_.sources, leg_.to.grips};
    const End* names[] = {&leg_.from, &leg_.to};
    for (std::size_t e = 0; e < 2; ++e) {
      const auto grips = ends[e];
      if (std::any_of(grips.begin(), grips.end(), [&](GripId g) { return table_.grip_blocks[g.index()] == 0; }))
        continue;
      // A rule that closes every grip is the reason; else each that closes some has its share.
      Blocks every = all_blocks, some = 0;
      for (const GripId g : grips) every &= table_.grip_blocks[g.index()], some |= table_.grip_blocks[g.index()];
      const Blocks guilty = every != 0 ? every : some;
      if (guilty & block_zone) causes_.push_back(in_zone(*names[e], grips));
      if (guilty & block_closure) causes_.push_back(on_closed_rails(*names[e], grips));
      if (guilty & block_body) causes_.push_back(no_room_at(*names[e], grips));
      judged_at_ends_ |= guilty;
    }
  }

  Cause in_zone(const End& end, std::span<const GripId> grips) {
    Cause cause = cause_of(CauseKind::InZone);
    cause.place = end.text, cause.at = end.at;
    for (const GripId g : grips)
      for (const auto& label : graph_.zones(g))
        if (forbids_[label.zone.index()] &&
            std::find(cause.zones.begin(), cause.zones.end(), label.zone) == cause.zones.end())
          cause.zones.push_back(label.zone);
    note_opening(cause, find_way({.zones = cause.zones}));
    return cause;
  }

  Cause on_closed_rails(const End& end, std::span<const GripId> grips) {
    Cause cause = cause_of(CauseKind::OnClosedRails);
    cause.place = end.text, cause.at = end.at;
    for (const GripId g : grips) {
      const RailId rail = graph_.grip(g).rail;
      if (closed_[rail.index()] && std::find(cause.rails.begin(), cause.rails.end(), rail) == cause.rails.end())
        cause.rails.push_back(rail);
    }
    note_opening(cause, find_way({.rails = cause.rails}));
    return cause;
  }

  Cause no_room_at(const End& end, std::span<const GripId> grips) {
    Cause cause = cause_of(CauseKind::BodyTooTight);
    cause.place = end.text;
    cause.limit_m = 2 * graph_.body().corridor_radius_m;
    cause.value_m = -1;
    for (const GripId g : grips) {
      const double width = 2 * graph_.grip(g).clearance_lower_m;
      if (width <= cause.value_m) continue;
      cause.value_m = width;
      cause.at = graph_.body_point(g);
      cause.rail = graph_.grip(g).rail;
    }
    name_nearest_part(cause);
    note_opening(cause, find_way({.rules = block_body}));
    return cause;
  }

  void name_nearest_part(Cause& cause) const {
    if (const auto nearest = graph_.scene().find_nearest(cause.at, cause.limit_m)) cause.part = nearest->part;
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
    for (const GripId g : leg_.to.grips) is_target[islands.find_set(g.value)] = true;
    std::vector<GripId> targets;
    std::vector<graph::Grip> source_grips;
    std::vector<GripId> sources;
    for (std::uint32_t g = 0; g < n; ++g) {
      if (is_source[islands.find_set(g)]) sources.emplace_back(g), source_grips.push_back(graph_.grips()[g]);
      if (is_target[islands.find_set(g)]) targets.emplace_back(g);
    }
    Cause cause = cause_of(CauseKind::Reach);
    cause.limit_m = graph_.body().reach_m;
    const HandCloud source_cloud{source_grips};
    const HandTree tree(3, source_cloud);
    double best = std::numeric_limits<double>::infinity();
    for (const GripId target : targets) {
      std::uint32_t index = 0;
      double squared = 0;
      nanoflann::KNNResultSet<double, std::uint32_t> nearest(1);
      nearest.init(&index, &squared);
      tree.findNeighbors(nearest, graph_.grip(target).hand.data(), nanoflann::SearchParams());
      if (squared >= best) continue;
      best = squared;
      cause.at = source_grips[index].hand, cause.rail = source_grips[index].rail;
      cause.at_other = graph_.grip(target).hand, cause.rail_other = graph_.grip(target).rail;
    }
    cause.value_m = std::sqrt(best);
    cause.unavoidable_m = unavoidable_gap(islands, sources.front(), targets.front(), cause.value_m);
    return cause;
  }

  /// Least over all ways of hopping between islands of the widest gap hopped: Prim's order from the source's island.
  /// When it takes an edge of w, nothing shorter leaves the set that does not hold the target yet, so no way avoids a
  /// gap of w.
  template <class Sets>
  double unavoidable_gap(Sets islands, GripId from, GripId to, double direct_m) const {
    struct Island {
      std::vector<graph::Grip> grips;
      geometry::Bounds bounds;
      double gap_m;  ///< to the set so far
      bool is_taken = false;
    };
    std::map<std::uint32_t, Island> list;
    for (std::uint32_t g = 0; g < graph_.grips().size(); ++g) {
      auto& island = list[islands.find_set(g)];
      island.grips.push_back(graph_.grips()[g]);
      island.bounds.extend(graph_.grips()[g].hand);
      island.gap_m = direct_m;  // a wider hop is never needed: the direct one is there
    }
    const Island* const target = &list.at(islands.find_set(to.value));
    Island* taken = &list.at(islands.find_set(from.value));
    double widest = 0;
    while (taken != target) {
      taken->is_taken = true;
      for (auto& [root, island] : list)
        if (!island.is_taken && box_gap(taken->bounds, island.bounds) < island.gap_m)
          island.gap_m = std::min(island.gap_m, gap_between(taken->grips, island.grips));
      Island* next = nullptr;
      for (auto& [root, island] : list)
        if (!island.is_taken &&
            (!next || island.gap_m < next->gap_m || (island.gap_m == next->gap_m && &island == target)))
          next = &island;
      widest = std::max(widest, next->gap_m);
      taken = next;
    }
    return widest;
  }

  static double box_gap(const geometry::Bounds& a, const geometry::Bounds& b) {
    return (a.min - b.max).cwiseMax(b.min - a.max).cwiseMax(0).norm();
  }

  static double gap_between(const std::vector<graph::Grip>& a, const std::vector<graph::Grip>& b) {
    const auto& [few, many] = a.size() < b.size() ? std::tie(a, b) : std::tie(b, a);
    const HandCloud cloud{many};
    const HandTree tree(3, cloud);
    double best = std::numeric_limits<double>::infinity();
    for (const auto& grip : few) {
      std::uint32_t index = 0;
      double squared = 0;
      nanoflann::KNNResultSet<double, std::uint32_t> nearest(1);
      nearest.init(&index, &squared);
      tree.findNeighbors(nearest, grip.hand.data(), nanoflann::SearchParams());
      best = std::min(best, squared);
    }
    return std::sqrt(best);
  }

  // ---- one rule at a time ------------------------------------------------------------------------------------------

  void explain_single_rules() {
    for (const Blocks rule : {block_turn, block_hand_line})
      if (const auto way = find_way({.rules = rule})) {
        causes_.push_back(rule_cause(rule, {.rules = rule}, *way));
        note_opening(causes_.back(), way);
      }
    if (!(judged_at_ends_ & block_body))
      if (const auto way = find_way({.rules = block_body})) {
        causes_.push_back(rule_cause(block_body, {.rules = block_body}, *way));
        note_opening(causes_.back(), way);
      }
    if (!(judged_at_ends_ & block_zone)) explain_zones();
    if (!(judged_at_ends_ & block_closure)) explain_closures();
  }

  /// Each zone that opens a way by itself; else a smallest set that does.
  void explain_zones() {
    if (!find_way({.rules = block_zone})) return;
    std::vector<ZoneId> forbidding;
    for (const auto zone : table_.zones)
      if (forbids_[zone.index()]) forbidding.push_back(zone);
    add_smallest_sets<ZoneId>(forbidding, block_zone, CauseKind::Zones, &Waiver::zones, &Cause::zones);
  }

  void explain_closures() {
    if (!find_way({.rules = block_closure})) return;
    std::vector<RailId> rails;
    for (std::size_t r = 0; r < closed_.size(); ++r)
      if (closed_[r]) rails.emplace_back(r);
    add_smallest_sets<RailId>(rails, block_closure, CauseKind::Closures, &Waiver::rails, &Cause::rails);
  }

  template <class ItemId>
  void add_smallest_sets(const std::vector<ItemId>& items, Blocks rule, CauseKind kind,
                         std::vector<ItemId> Waiver::*waived, std::vector<ItemId> Cause::*named) {
    bool found = false;
    const auto try_set = [&](const std::vector<ItemId>& set) {
      Waiver waiver;
      waiver.*waived = set;
      const auto way = find_way(waiver);
      if (!way) return false;
      Cause cause = cause_of(kind);
      cause.*named = set;
      locate(cause, *way, rule);
      note_opening(cause, way);
      causes_.push_back(std::move(cause));
      return true;
    };
    for (const auto& item : items) found = try_set({item}) || found;
    if (found) return;
    for (std::size_t i = 0; i < items.size(); ++i)
      for (std::size_t j = i + 1; j < items.size(); ++j)
        if (try_set({items[i], items[j]})) return;
    // Three or more: take all away and put back, one after the other, those that are not needed. What is left is a set
    // of which every member is needed; finding the smallest such set is the (hard) minimum constraint removal problem.
    std::vector<ItemId> needed = items;
    for (const auto& item : items) {
      std::vector<ItemId> fewer;
      std::copy_if(needed.begin(), needed.end(), std::back_inserter(fewer),
                   [&](ItemId other) { return other != item; });
      Waiver waiver;
      waiver.*waived = fewer;
      if (find_way(waiver)) needed = std::move(fewer);
    }
    try_set(needed);
  }

  /// Where the way meets the first move that the rule closes.
  void locate(Cause& cause, const Way& way, Blocks rule) const {
    for (const auto m : way.moves) {
      if (!(blocks_[m] & rule)) continue;
      const auto& move = graph_.moves()[m];
      cause.at = (graph_.grip(move.a).hand + graph_.grip(move.b).hand) / 2;
      cause.rail = graph_.grip(move.a).rail;
      cause.rail_other = graph_.grip(move.b).rail;
      return;
    }
  }

  Cause rule_cause(Blocks rule, const Waiver& waiver, const Way& way) const {
    switch (rule) {
      case block_turn:
        return turn_cause(waiver, way);
      case block_hand_line:
        return hand_line_cause(way);
      default:
        return body_cause(waiver, way);
    }
  }

  /// The bottleneck over all ways under the waiver.
  std::optional<WidestWay> find_widest(const Waiver& waiver, const std::vector<double>& width) const {
    std::vector<double> widths = width;
    for (std::size_t m = 0; m < widths.size(); ++m)
      if (!passes(MoveId(m), waiver)) widths[m] = -std::numeric_limits<double>::infinity();
    return find_widest_way(graph_.adjacency(), widths, seeds(leg_.sources, waiver), seeds(leg_.to.grips, waiver));
  }

  Cause turn_cause(const Waiver& waiver, const Way& way) const {
    Cause cause = cause_of(CauseKind::TurnLimit);
    cause.limit_rad = graph_.body().turn_limit_rad;
    std::vector<double> width(graph_.moves().size());
    for (std::size_t m = 0; m < width.size(); ++m) width[m] = -graph_.moves()[m].turn_rad;
    locate(cause, way, block_turn);
    if (const auto widest = find_widest(waiver, width); widest && widest->pinch) {
      const auto& move = graph_.moves()[*widest->pinch];
      cause.value_rad = move.turn_rad;
      cause.at = (graph_.grip(move.a).hand + graph_.grip(move.b).hand) / 2;
      cause.rail = graph_.grip(move.a).rail;
      cause.rail_other = graph_.grip(move.b).rail;
    }
    return cause;
  }

  Cause hand_line_cause(const Way& way) const {
    Cause cause = cause_of(CauseKind::HandLineBlocked);
    locate(cause, way, block_hand_line);
    for (const auto m : way.moves) {
      if (!(blocks_[m] & block_hand_line)) continue;
      const auto& a = graph_.grip(graph_.moves()[m].a);
      const auto& b = graph_.grip(graph_.moves()[m].b);
      const Vec3 lift_a = a.hand + graph_.body().glove_m * a.outward,
                 lift_b = b.hand + graph_.body().glove_m * b.outward;
      const double length = (lift_b - lift_a).norm();
      if (length > 0)
        if (const auto hit = graph_.scene().find_first_hit(lift_a, (lift_b - lift_a) / length, length)) {
          cause.part = hit->part;
          cause.at = hit->point;
        }
      break;
    }
    return cause;
  }

  Cause body_cause(const Waiver& waiver, const Way& way) const {
    Cause cause = cause_of(CauseKind::BodyTooTight);
    cause.limit_m = 2 * graph_.body().corridor_radius_m;
    // Above the corridor radius everything is wide enough; only what is below is told apart.
    std::vector<double> width(graph_.moves().size());
    for (std::size_t m = 0; m < width.size(); ++m) width[m] = std::min(clearance_[m], graph_.body().corridor_radius_m);
    const auto widest = find_widest(waiver, width);
    locate(cause, way, block_body);
    if (widest && widest->pinch) {
      const MoveId pinch(*widest->pinch);
      const auto least = graph_.compute_clearance(pinch, 0.001);
      cause.value_m = 2 * std::max(0.0, least.lower_m);
      cause.at = graph_.body_at(pinch, least.t);
      cause.rail = graph_.grip(graph_.move(pinch).a).rail;
      cause.rail_other = graph_.grip(graph_.move(pinch).b).rail;
    }
    name_nearest_part(cause);
    return cause;
  }

  // ---- several rules at once ---------------------------------------------------------------------------------------

  /// No rule waived alone opens a way: the smallest set of rules that does, in the order of the rules.
  void explain_together() {
    std::array<Blocks, 31> sets{};
    std::iota(sets.begin(), sets.end(), Blocks{1});
    std::stable_sort(sets.begin(), sets.end(), [](Blocks x, Blocks y) { return std::popcount(x) < std::popcount(y); });
    for (const Blocks set : sets) {
      if (std::popcount(set) < 2) continue;
      const Waiver waiver{.rules = set};
      const auto way = find_way(waiver);
      if (!way) continue;
      for (const Blocks rule : {block_turn, block_hand_line, block_body})
        if ((set & rule) && !(judged_at_ends_ & rule)) add_together(rule_cause(rule, waiver, *way), *way);
      if ((set & block_zone) && !(judged_at_ends_ & block_zone)) {
        Cause cause = cause_of(CauseKind::Zones);
        for (const auto m : way->moves)
          for (const auto& label : graph_.zones(MoveId(m)))
            if (forbids_[label.zone.index()] &&
                std::find(cause.zones.begin(), cause.zones.end(), label.zone) == cause.zones.end())
              cause.zones.push_back(label.zone);
        locate(cause, *way, block_zone);
        add_together(std::move(cause), *way);
      }
      if ((set & block_closure) && !(judged_at_ends_ & block_closure)) {
        Cause cause = cause_of(CauseKind::Closures);
        for (const auto node : way->nodes) {
          const RailId rail = graph_.grips()[node].rail;
          if (closed_[rail.index()] && std::find(cause.rails.begin(), cause.rails.end(), rail) == cause.rails.end())
            cause.rails.push_back(rail);
        }
        locate(cause, *way, block_closure);
        add_together(std::move(cause), *way);
      }
      return;
    }
  }

  void add_together(Cause cause, const Way& way) {
    cause.opens_alone = false;
    cause.then_time_s = seconds_of(way);
    causes_.push_back(std::move(cause));
  }

  const HandrailGraph& graph_;
  const Profile& profile_;
  const FailedLeg& leg_;
  const CostTable table_;
  const std::vector<Cost> open_costs_;
  std::vector<bool> closed_;       // by rail
  std::vector<bool> forbids_;      // by zone
  std::vector<Blocks> blocks_;     // by move, every rule judged
  std::vector<double> clearance_;  // by move, judged
  Blocks judged_at_ends_ = 0;      // rules that already explain an end
  std::vector<Cause> causes_;
  RouteQuery query_;
};

}  // namespace

std::vector<Cause> explain(const HandrailGraph& graph, const Profile& profile, Objective objective,
                           const FailedLeg& leg) {
  return Explainer(graph, profile, objective, leg).explain();
}

}  // namespace holdfast::search::detail
