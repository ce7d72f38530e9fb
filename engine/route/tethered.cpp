// SPDX-License-Identifier: GPL-3.0-or-later
#include <algorithm>
#include <cmath>
#include <limits>

#include "holdfast/route/costs.h"
#include "tethered_impl.h"

namespace holdfast::route::detail {

using graph::GripId;
using graph::HandrailGraph;
using graph::MoveId;

namespace {

std::int64_t units(double metres) { return cost_of_metres(metres); }

}  // namespace

TetherRule::TetherRule(const HandrailGraph& graph, const Profile& profile, const TetherRequest& request,
                       const std::vector<GripId>& starts)
    : graph_(graph),
      tether_(request.tether),
      hook_s_(profile.suit.tether_hook_s),
      is_hooked_(request.out_m.has_value()),
      limit_(static_cast<std::int64_t>(std::floor(request.tether->length_m * search::cost_units_per_metre))) {
  const Vec3 near = starts.empty() ? Vec3(Vec3::Zero()) : graph.body_point(starts.front());
  anchor_ = find_hook(graph, request.anchor, near);
  std::optional<Vec3> nearest;
  for (const GripId grip : starts) {
    if (is_hooked_) {
      starts_.emplace_back(grip.value, units(*request.out_m));
      continue;
    }
    const Vec3 body = graph.body_point(grip);
    const double out = (body - anchor_.line_end).norm();
    if (!nearest || out < (*nearest - anchor_.line_end).norm()) nearest = body;
    if (out <= tether_->length_m && is_line_clear(graph.scene(), anchor_.line_end, body))
      starts_.emplace_back(grip.value, units(out));
  }
  std::sort(starts_.begin(), starts_.end());
  if (starts_.empty() && nearest) check_first_line(graph, *tether_, anchor_, *nearest);

  lengths_.reserve(graph.moves().size());
  for (const auto& move : graph.moves()) lengths_.push_back(units(move.way_m));
  anchors_ = find_anchors(graph);
  rehooks_.resize(graph.grips().size());
  const auto offer = [&](GripId grip, Rehook rehook) {
    auto& best = rehooks_[grip.index()];
    if (!best || rehook.out < best->out) best = rehook;
  };
  for (std::size_t a = 0; a < anchors_.size(); ++a)
    for (const GripId grip : graph.find_grips_within(anchors_[a].at, graph.body().reach_m)) {
      const Vec3 body = graph.body_point(grip);
      if (is_line_clear(graph.scene(), anchors_[a].line_end, body))
        offer(grip, {units((body - anchors_[a].line_end).norm()), a, {}});
    }
  for (std::uint32_t g = 0; g < graph.grips().size(); ++g) {
    const auto& grip = graph.grip(GripId(g));
    if (graph.structure().rails[grip.rail.index()].use.tether)
      offer(GripId(g), {units((graph.body_point(GripId(g)) - grip.hand).norm()), 0, grip.rail});
  }
}

std::optional<std::int64_t> TetherRule::start_out(GripId grip) const {
  const auto found = std::lower_bound(starts_.begin(), starts_.end(), std::pair(grip.value, std::int64_t{0}));
  if (found == starts_.end() || found->first != grip.value) return std::nullopt;
  return found->second;
}

Hook TetherRule::hook_of(const Rehook& rehook, GripId at) const {
  if (!rehook.rail) return anchors_[rehook.anchor];
  const auto& grip = graph_.grip(at);
  return {graph_.structure().rails[rehook.rail->index()].id, grip.hand, grip.hand, rehook.rail};
}

bool TetherRule::is_enough(std::int64_t limit, const std::vector<search::Cost>& by_move,
                           const std::vector<std::vector<search::Seed>>& stops) const {
  // Least length out at each grip, leg by leg: a tether swap costs nothing here, so less out is never worse.
  constexpr std::int64_t never = std::numeric_limits<std::int64_t>::max();
  std::vector<std::int64_t> out(graph_.grips().size(), never);
  std::vector<std::uint32_t> open;
  const auto offer = [&](std::uint32_t grip, std::int64_t length) {
    if (const auto& rehook = rehooks_[grip]; rehook && rehook->out < length) length = rehook->out;
    if (length > limit || length >= out[grip]) return;
    out[grip] = length;
    open.push_back(grip);
  };
  for (const search::Seed& seed : stops.front())
    if (const auto length = start_out(GripId(seed.node)); length && *length <= limit) offer(seed.node, *length);
  for (std::size_t leg = 0; leg + 1 < stops.size(); ++leg) {
    for (std::size_t next = 0; next < open.size(); ++next) {
      const std::uint32_t grip = open[next];
      for (const auto& arc : graph_.adjacency().out(grip))
        if (!by_move[arc.move].is_blocked()) offer(arc.head, out[grip] + lengths_[arc.move]);
    }
    std::vector<std::pair<std::uint32_t, std::int64_t>> reached;
    for (const search::Seed& seed : stops[leg + 1])
      if (out[seed.node] != never) reached.emplace_back(seed.node, out[seed.node]);
    if (reached.empty()) return false;
    std::fill(out.begin(), out.end(), never);
    open.clear();
    for (const auto& [grip, length] : reached) offer(grip, length);
  }
  return true;
}

double TetherRule::least_length_m(const std::vector<search::Cost>& by_move,
                                  const std::vector<std::vector<search::Seed>>& stops) const {
  std::int64_t too_short = 0, enough = limit_;
  constexpr std::int64_t longest = std::int64_t{10'000} * static_cast<std::int64_t>(search::cost_units_per_metre);
  while (!is_enough(enough, by_move, stops)) {
    if (enough >= longest) return std::numeric_limits<double>::infinity();
    too_short = enough, enough = std::min(longest, 2 * enough + 1);
  }
  while (enough - too_short > static_cast<std::int64_t>(search::cost_units_per_metre / 1000)) {
    const std::int64_t middle = (enough + too_short) / 2;
    (is_enough(middle, by_move, stops) ? enough : too_short) = middle;
  }
  return static_cast<double>(enough) / search::cost_units_per_metre;
}

TetheredGraph add_rehooks(const HandrailGraph& graph, const TetherRule& rule, const CostTable& table, Objective by) {
  TetheredGraph result;
  const auto& plain = graph.adjacency();
  result.by_move = table.by_move;
  const auto cost_at = [&](GripId grip) {
    double price = 1;
    for (const auto& label : graph.zones(grip)) {
      const auto& zone = graph.structure().zones[label.zone.index()];
      if (zone.effect == model::ZoneEffect::Caution &&
          std::find(table.zones.begin(), table.zones.end(), label.zone) != table.zones.end())
        price += zone.price_s_per_s;
    }
    return cost_of_pause(by, cost_of_seconds(price * rule.rehook_s()));
  };
  for (std::uint32_t g = 0; g < graph.grips().size(); ++g) {
    result.adjacency.first.push_back(static_cast<std::uint32_t>(result.adjacency.arcs.size()));
    // One rests there to hook on: where no leg may end, nobody stops for it either.
    if (rule.rehook(GripId(g)) && table.grip_blocks[g] == 0) {
      result.adjacency.arcs.push_back({g, static_cast<std::uint32_t>(result.by_move.size())});
      result.by_move.push_back(cost_at(GripId(g)));
    }
    const auto out = plain.out(g);
    result.adjacency.arcs.insert(result.adjacency.arcs.end(), out.begin(), out.end());
  }
  result.adjacency.first.push_back(static_cast<std::uint32_t>(result.adjacency.arcs.size()));
  return result;
}

void take_out_rehooks(const HandrailGraph& graph, const TetherRule& rule, std::vector<LegWay>& legs) {
  for (LegWay& leg : legs) {
    LegWay plain{leg.from, leg.to, {leg.grips.front()}, {}};
    plain.departure = leg.departure;
    for (std::size_t i = 0; i < leg.moves.size(); ++i) {
      if (leg.moves[i].index() >= graph.moves().size()) {
        const GripId at = leg.grips[i];
        plain.rehooks.push_back({plain.moves.size(), rule.hook_of(*rule.rehook(at), at)});
      } else {
        plain.moves.push_back(leg.moves[i]);
        plain.grips.push_back(leg.grips[i + 1]);
      }
    }
    leg = std::move(plain);
  }
}

bool place_rehooks(const TetherRule& rule, const std::vector<Blocks>& grip_blocks, std::vector<LegWay>& legs) {
  struct Stop {
    std::size_t leg, at;
    GripId grip;
    std::int64_t along;  ///< from the start
  };
  std::vector<Stop> stops;
  std::int64_t along = 0;
  for (std::size_t leg = 0; leg < legs.size(); ++leg)
    for (std::size_t i = 0; i < legs[leg].grips.size(); ++i) {
      if (i > 0) along += rule.length(legs[leg].moves[i - 1]);
      stops.push_back({leg, i, legs[leg].grips[i], along});
    }
  const auto start = rule.start_out(stops.front().grip);
  if (!start || *start > rule.limit()) return false;
  // Fewest tether swaps up to each stop; the first stands for the start.
  constexpr std::size_t never = std::numeric_limits<std::size_t>::max();
  std::vector<std::size_t> fewest(stops.size(), never), from(stops.size(), 0);
  const auto reach = [&](std::size_t i) {
    const std::int64_t out = i == 0 ? *start : rule.rehook(stops[i].grip)->out;
    return rule.limit() - out + stops[i].along;
  };
  fewest[0] = 0;
  std::size_t best = never;
  for (std::size_t i = 0; i < stops.size(); ++i) {
    if (fewest[i] == never) continue;
    if (reach(i) >= stops.back().along && (best == never || fewest[i] < fewest[best])) best = i;
    for (std::size_t k = i + 1; k < stops.size() && stops[k].along <= reach(i); ++k) {
      const auto& rehook = rule.rehook(stops[k].grip);
      if (!rehook || rehook->out > rule.limit() || grip_blocks[stops[k].grip.index()] != 0) continue;
      if (fewest[i] + 1 < fewest[k]) fewest[k] = fewest[i] + 1, from[k] = i;
    }
  }
  if (best == never) return false;
  for (std::size_t i = best; i != 0; i = from[i])
    legs[stops[i].leg].rehooks.push_back({stops[i].at, rule.hook_of(*rule.rehook(stops[i].grip), stops[i].grip)});
  for (LegWay& leg : legs) std::reverse(leg.rehooks.begin(), leg.rehooks.end());
  return true;
}

bool is_within_reach(const TetherRule& rule, std::span<const LegWay> legs) {
  const auto start = rule.start_out(legs.front().grips.front());
  if (!start) return false;
  std::int64_t out = *start;
  for (const LegWay& leg : legs)
    for (const MoveId move : leg.moves) out += rule.length(move);
  return out <= rule.limit();
}

}  // namespace holdfast::route::detail
