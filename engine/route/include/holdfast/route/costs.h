// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// What a move costs a profile, or which rules close it: one linear pass over the labels of a graph.
//
//   const auto table = route::compute_costs(graph, profile, route::Objective::Time);
//   table.by_move[move.index()].is_blocked();

#include <cstdint>
#include <span>
#include <string_view>
#include <vector>

#include "holdfast/graph/handrail_graph.h"
#include "holdfast/model/kit.h"
#include "holdfast/route/answer.h"
#include "holdfast/search/cost.h"

namespace holdfast::route {

struct Closures {
  std::vector<model::RailId> rails;       ///< take no hand; stay as structure
  std::vector<graph::GripId> grips = {};  ///< ... single grips alike
  std::vector<graph::MoveId> moves = {};  ///< nobody makes these
};
/// By rail: closed as a whole, or in part by a grip or move of it.
[[nodiscard]] std::vector<bool> touched_rails(const graph::HandrailGraph& graph, const Closures& closures);

/// Who moves, in what suit, carrying what, and what is closed. Keeps references to the kit, the suit and the loads,
/// which must outlive it. Requires: loads that `check_loads` lets pass.
struct Profile {
  const model::Kit& kit;
  const model::Suit& suit;
  Closures closures = {};
  std::vector<const model::Load*> loads = {};
  bool prices_caution =
      true;  ///< false: time in caution zones costs no more than elsewhere; it is counted all the same
  /// False: taking the loads up where a route begins and putting them down where it ends is no part of it.
  bool counts_handling = true;
};

/// Throws `model::InputError` (`loads-clash`) where nobody could carry these at once in any manner: both hands taken,
/// two in tow, the same one twice, or boxes that overlap beside the body.
void check_loads(const std::vector<const model::Load*>& loads);

/// One manner in which several loads are carried at once.
struct Manner {
  std::vector<model::Load> loads;          ///< as carried, in the order given, each with one manner of carrying
  std::vector<std::size_t> carrying = {};  ///< by load: which of its own, as `model::Load::carried`
};
/// Every one that a mover can do; earlier in the kit comes first. One empty manner without loads. Throws as
/// `check_loads`.
[[nodiscard]] std::vector<Manner> find_manners(const std::vector<const model::Load*>& loads);

/// Rules that close a move or a grip, as a bit set.
using Blocks = std::uint8_t;
inline constexpr Blocks block_turn = 1;       ///< turn limit
inline constexpr Blocks block_hand_line = 2;  ///< structure in the hand's line
inline constexpr Blocks block_body = 4;       ///< corridor
inline constexpr Blocks block_zone = 8;       ///< a forbidding zone that holds
inline constexpr Blocks block_closure = 16;   ///< a closed rail
inline constexpr Blocks all_blocks = 31;

/// Seconds of one move by cause. Source: design.md section 5, Time of a move; constants from the suit.
struct MoveTime {
  double regrip_s = 0;     ///< the least re-grip time, where it decides; else 0
  double translate_s = 0;  ///< way / rate, where that decides; else 0
  double turn_s = 0;
  double rail_change_s = 0;
  double one_hand_s = 0;  ///< more where a load occupies the other hand
  [[nodiscard]] double sum_s() const { return regrip_s + translate_s + turn_s + rail_change_s + one_hand_s; }
};

/// The rate that a mover of `mass_kg` keeps: at most what the way of carrying allows, and at most what can be stopped
/// within the suit's distance by its force, v = sqrt(2 F s / m) (elementary; standards table, section 3).
[[nodiscard]] double translation_rate_m_s(const model::Suit& suit, double allowed_m_s, double mass_kg);

/// What a suit and its loads make of times: everything that `compute_move_time` needs.
struct Pace {
  double mass_kg = 0;  ///< mover and loads
  double rate_m_s = 0;
  double regrip_s = 0;
  double turn_rate_rad_s = 0;
  double rail_change_s = 0;
  double one_hand_s = 0;  ///< 0 unless a load occupies a hand
  double start_s = 0;     ///< per leg; never less than the stopping force needs to bring the mass to the rate, m v / F
  double stop_s = 0;
  double take_up_s = 0;        ///< all loads, once, where the route begins; and as long to put them down where it ends
  bool prices_caution = true;  ///< as in Profile
};
[[nodiscard]] Pace pace_of(const model::Suit& suit, std::span<const model::Load> carried);
[[nodiscard]] std::vector<Pace> paces_of(const Profile& profile);  ///< by manner, as `find_manners`
[[nodiscard]] Pace pace_of(const Profile& profile);                ///< of the first manner

[[nodiscard]] MoveTime compute_move_time(const graph::Move& move, const Pace& pace);

/// `seconds` and `metres` in the units of a `Cost`, rounded up.
[[nodiscard]] std::int64_t cost_of_seconds(double seconds);
[[nodiscard]] std::int64_t cost_of_metres(double metres);

struct CostTable {
  std::vector<search::Cost> by_move;  ///< blocked where `blocks` is not empty
  std::vector<Blocks> blocks;        ///< by move; of turn, hand line and body only the first that forbids is judged (an
                                     ///< explanation judges the rest)
  std::vector<Blocks> grip_blocks;   ///< by grip: a leg may start, end or rest there only where empty
  std::vector<model::ZoneId> zones;  ///< those that hold in the configuration and concern body or hands
};

/// Costs and blocks of every move for this profile and objective, the least in any manner of carrying its loads. A
/// caution zone's price is added to the time it is weighed with.
[[nodiscard]] CostTable compute_costs(const graph::HandrailGraph& graph, const Profile& profile, Objective objective);

/// True where the price of a caution zone may turn the profile's quickest path aside.
[[nodiscard]] bool has_caution_prices(const graph::HandrailGraph& graph, const Profile& profile);

/// By move, what it would cost if nothing blocked it: the least in any manner of carrying the profile's loads.
[[nodiscard]] std::vector<search::Cost> compute_open_costs(const graph::HandrailGraph& graph, const Profile& profile,
                                                           Objective objective);
[[nodiscard]] std::vector<search::Cost> compute_open_costs(const graph::HandrailGraph& graph, const Pace& pace,
                                                           Objective objective);

/// What a move of so many units costs: the objective's part first, then the ties of design.md 14.
[[nodiscard]] search::Cost cost_of_move(Objective objective, std::int64_t time, std::int64_t metres);

/// What it costs to spend so many units of time without moving.
[[nodiscard]] search::Cost cost_of_pause(Objective objective, std::int64_t time);

/// The costs of `table`'s open moves without the prices of caution zones: all three parts are what they say.
[[nodiscard]] std::vector<search::Cost> compute_unpriced_costs(const graph::HandrailGraph& graph,
                                                               const CostTable& table, const Pace& pace,
                                                               Objective objective);

/// Zones of the structure that hold in the graph's configuration and keep out body or hands.
[[nodiscard]] std::vector<model::ZoneId> zones_that_hold(const graph::HandrailGraph& graph);
/// ... and those that keep out loads.
[[nodiscard]] std::vector<model::ZoneId> load_zones_that_hold(const graph::HandrailGraph& graph);

}  // namespace holdfast::route
