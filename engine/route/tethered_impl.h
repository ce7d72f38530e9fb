// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Routes on which a safety tether of a given length is enough, with tether swaps where these help.

#include <optional>
#include <span>
#include <variant>
#include <vector>

#include "holdfast/route/hooks.h"
#include "holdfast/route/route.h"
#include "holdfast/search/labels.h"
#include "question_impl.h"
#include "waypoints_impl.h"

namespace holdfast::route::detail {

/// What the length of one tether means on a graph: how much is out where one starts, and how much is left of that where
/// the tether is swapped. Lengths are 1e-5 m, rounded up.
class TetherRule {
 public:
  /// `starts`: grips where the route may begin. Throws `model::InputError` as `find_hook`, `tether-short` where none of
  /// them is within the tether's length of the anchor, `no-free-line` where structure is in between.
  TetherRule(const graph::HandrailGraph& graph, const Profile& profile, const TetherRequest& request,
             const std::vector<graph::GripId>& starts);

  struct Rehook {
    std::int64_t out = 0;    ///< length out right after it
    std::size_t anchor = 0;  ///< into `anchors`, when there is no rail
    std::optional<model::RailId> rail;
  };
  [[nodiscard]] std::int64_t limit() const { return limit_; }
  /// Length out when the route starts at the grip; nothing where it cannot.
  [[nodiscard]] std::optional<std::int64_t> start_out(graph::GripId grip) const;
  /// The tether swap at the grip, to what leaves most of the tether; nothing where there is nothing to hook on to.
  [[nodiscard]] const std::optional<Rehook>& rehook(graph::GripId grip) const { return rehooks_[grip.index()]; }
  [[nodiscard]] std::int64_t length(graph::MoveId move) const { return lengths_[move.index()]; }
  [[nodiscard]] Hook hook_of(const Rehook& rehook, graph::GripId at) const;
  [[nodiscard]] const Hook& anchor() const { return anchor_; }
  /// The new hook is on before the old one comes off: two operations.
  [[nodiscard]] double rehook_s() const { return 2 * hook_s_; }
  /// Of hooking on at the start; nothing where that was done before.
  [[nodiscard]] double first_hook_s() const { return is_hooked_ ? 0 : hook_s_; }
  [[nodiscard]] const model::Tether& tether() const { return *tether_; }

  /// The least length with which the stops can be visited, however often the tether is swapped; infinity where they
  /// cannot.
  [[nodiscard]] double least_length_m(const std::vector<search::Cost>& by_move,
                                      const std::vector<std::vector<search::Seed>>& stops) const;

 private:
  [[nodiscard]] bool is_enough(std::int64_t limit, const std::vector<search::Cost>& by_move,
                               const std::vector<std::vector<search::Seed>>& stops) const;
  const graph::HandrailGraph& graph_;
  const model::Tether* tether_;
  double hook_s_;
  bool is_hooked_;  // at the start, already
  std::int64_t limit_;
  Hook anchor_;
  std::vector<Hook> anchors_;
  std::vector<std::pair<std::uint32_t, std::int64_t>> starts_;  // by grip
  std::vector<std::optional<Rehook>> rehooks_;                  // by grip
  std::vector<std::int64_t> lengths_;                           // by move
};

/// States of a mover with a tether over those of another space, which says what its starts and stops use up. The
/// tether's length out is the last resource; a move beyond those of the graph is a tether swap where one is.
template <class Inner>
class TetheredSpace {
 public:
  using State = typename Inner::State;
  /// `limited`: zones whose limits are the resources before the last.
  TetheredSpace(Inner& inner, const TetherRule& rule, const graph::HandrailGraph& graph,
                const std::vector<model::ZoneId>& limited)
      : inner_(inner), rule_(rule), graph_(graph), limited_(limited) {}
  State start(std::uint32_t node) { return inner_.start(node); }
  [[nodiscard]] bool begin(std::uint32_t node, std::span<std::int64_t> uses) {
    const auto out = rule_.start_out(graph::GripId(node));
    if (!out || *out > rule_.limit()) return false;
    uses.back() = *out;
    return inner_.begin(node, uses.first(uses.size() - 1));
  }
  [[nodiscard]] std::uint32_t node(State state) const { return inner_.node(state); }
  std::optional<State> finish_leg(State state, std::size_t layer, std::span<std::int64_t> uses) {
    return inner_.finish_leg(state, layer, uses.first(uses.size() - 1));
  }
  std::optional<State> step(State state, const graph::Arc& arc, search::Cost& extra, std::span<std::int64_t> uses) {
    if (arc.move >= graph_.moves().size()) {
      const auto& rehook = rule_.rehook(graph::GripId(arc.head));
      if (!rehook || rehook->out >= uses.back() || rehook->out > rule_.limit()) return std::nullopt;
      uses.back() = rehook->out;
      for (std::size_t r = 0; r < limited_.size(); ++r)
        if (is_in(graph_.zones(graph::GripId(arc.head)), limited_[r])) uses[r] += cost_of_seconds(rule_.rehook_s());
      return state;
    }
    uses.back() += rule_.length(graph::MoveId(arc.move));
    if (uses.back() > rule_.limit()) return std::nullopt;
    return inner_.step(state, arc, extra, uses.first(uses.size() - 1));
  }

 private:
  Inner& inner_;
  const TetherRule& rule_;
  const graph::HandrailGraph& graph_;
  const std::vector<model::ZoneId>& limited_;
};

/// The graph's adjacency with one more arc at each grip where the tether may be swapped, from the grip to itself, and
/// costs to match.
struct TetheredGraph {
  graph::Adjacency adjacency;
  std::vector<search::Cost> by_move;
};
[[nodiscard]] TetheredGraph add_rehooks(const graph::HandrailGraph& graph, const TetherRule& rule,
                                        const CostTable& table, Objective by);

/// Takes tether swaps out of legs that have them as moves, and writes them beside these.
void take_out_rehooks(const graph::HandrailGraph& graph, const TetherRule& rule, std::vector<LegWay>& legs);

/// Swaps the tether along legs that are given, as seldom as can be. False, and nothing done, where that is not enough.
[[nodiscard]] bool place_rehooks(const TetherRule& rule, const std::vector<Blocks>& grip_blocks,
                                 std::vector<LegWay>& legs);

/// True where the tether is long enough without a tether swap.
[[nodiscard]] bool is_within_reach(const TetherRule& rule, std::span<const LegWay> legs);

}  // namespace holdfast::route::detail
