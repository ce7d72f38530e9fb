// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// The body's way along routes, grip by grip, as a line that a tether can follow.

#include <utility>
#include <vector>

#include "holdfast/graph/handrail_graph.h"
#include "holdfast/tether/tether.h"

namespace holdfast::tether::detail {

struct Step {
  Station at;
  bool ends_row = false;
  model::RailId rail;
  Vec3 hand = Vec3::Zero(), body = Vec3::Zero(), outward = Vec3::UnitZ();
  double at_s = 0;
  std::vector<Vec3> through;       ///< from the step before to `body`, which is the last of them; each piece is clear
  double way_m = 0;                ///< of the body from the step before
  std::vector<std::string> swaps;  ///< hooks to hook on to, standing here
};

/// The grips of routes that are gone one after another. `ways`: the same routes as they were given, with their times;
/// empty for routes that were found here. Throws `model::InputError` (`wrong-result`) where one does not begin where
/// the one before ended, or within one more move in the clear.
[[nodiscard]] std::vector<Step> steps_of(const graph::HandrailGraph& graph, std::span<const route::Route> routes,
                                         std::span<const route::GivenWay> ways, const model::Suit& suit);

/// The ways' routes. Throws `wrong-result` where one is not open in this configuration.
[[nodiscard]] std::vector<route::Route> follow(const graph::HandrailGraph& graph, const route::Profile& profile,
                                               const std::vector<route::GivenWay>& ways);

/// `hook`, and that its line to the first body is clear and within the length of the tether.
[[nodiscard]] route::Hook hook_at_start(const graph::HandrailGraph& graph, const model::Tether& tether,
                                        const std::string& anchor, const Step& start);

/// The parts that a line bears on where it bends, in its order, each once.
[[nodiscard]] std::vector<model::PartId> bearings_of(const geometry::Scene& scene, const TautLine& line);

// ---- loops (loop.cpp)
// -------------------------------------------------------------------------------------------------

/// The loop of a way that ends where it began, both ends at a hook, closed through `closing`. `turn`: the first step of
/// the way back.
[[nodiscard]] Loop close_loop(const graph::HandrailGraph& graph, const std::vector<Vec3>& closing,
                              const std::vector<Step>& steps, std::size_t turn);
/// From where the way ends to the hook, by where it began, if that is the same place and all of it is clear.
[[nodiscard]] std::optional<std::vector<Vec3>> closing_of(const graph::HandrailGraph& graph, const route::Hook& hook,
                                                          const std::vector<Step>& steps, bool is_same_place);
/// Where the way back begins: the end of a leg farthest from the start.
[[nodiscard]] std::size_t turn_of(const std::vector<Step>& steps);
[[nodiscard]] CleanReturn find_clean_return(const graph::HandrailGraph& graph, const route::Profile& profile,
                                            const route::Hook& hook, const std::vector<route::GivenWay>& out_ways,
                                            const std::vector<route::Route>& out_routes);

// ---- two movers (crossings.cpp)
// ---------------------------------------------------------------------------------------

/// A mover at a grip with the line to the hook as it is then.
struct LineState {
  Station at;
  Vec3 hand = Vec3::Zero(), body = Vec3::Zero();
  double at_s = 0;
  std::size_t hook = 0;  ///< rises with each tether swap
  Vec3 hook_at = Vec3::Zero();
  std::vector<Vec3> line;  ///< from the hook to the body
};
/// How the lines of two movers come across each other while both go. Requires: at least one state each, in time.
[[nodiscard]] Crossings find_crossings(const std::vector<LineState>& first, const std::vector<LineState>& second);

/// Two lines with as many points each, so that points of one number are at the same share of their lengths.
[[nodiscard]] std::pair<std::vector<Vec3>, std::vector<Vec3>> side_by_side(const std::vector<Vec3>& a,
                                                                           const std::vector<Vec3>& b);

}  // namespace holdfast::tether::detail
