// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// What is in reach at a worksite: from a foot restraint in each of its settings, or from a grip by free hand.
//
//   const auto answer = reach::find_reach(graph, profile, {.sockets = {"beam-socket"}, .targets = {"beam-plug"}});
//   const auto& site = answer.sites.front();
//   if (site.best) use(site.stations[*site.best].frame);
//
// Structure frame, m, s. 'In reach' and 'fits' are never said where they are not. Same answer on any number of threads.
// Source: design.md section 17.

#include <array>
#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "holdfast/graph/handrail_graph.h"
#include "holdfast/model/kit.h"
#include "holdfast/reach/body.h"
#include "holdfast/reach/figure.h"
#include "holdfast/reach/targets.h"
#include "holdfast/route/route.h"

namespace holdfast::reach {

enum class Kind { TwoHand, OneHand, Forbidden, Blocked, FacesAway, TooNear, OutOfReach, NotThere };

/// What one station has of one target.
struct TargetReach {
  Kind kind = Kind::OutOfReach;
  std::array<bool, 2> hand_reaches = {false, false};  ///< by Hand; OneHand and TwoHand
  Hand hand = Right;                                  ///< the one with more margin; of OutOfReach the nearer one
  std::optional<int> lean =
      std::nullopt;           ///< azimuth of the leaning body, in steps of 30 deg to the left; none: upright
  double margin_lower_m = 0;  ///< OneHand, TwoHand: to the boundary of the zone, never above the true one
  double short_m = 0;         ///< OutOfReach: from the nearer hand's zone
  Obstacle obstacle = {};     ///< Blocked and FacesAway: the part; Forbidden: the zone
  std::vector<model::ZoneId> notes = {};  ///< caution and limit zones that the hand enters
  bool is_served = false;                 ///< with as many hands as the target needs

  [[nodiscard]] bool is_reached() const { return kind == Kind::TwoHand || kind == Kind::OneHand; }
};

/// How the station is got into and out of: a grip from which a hand is held.
struct WayIn {
  graph::GripId grip;
  model::RailId rail;
  double along_m = 0;  ///< of the grip, from the rail's first point
  Hand hand = Right;
  double distance_m = 0;  ///< between the chest at the grip and in the station
};

/// Holding on with one hand while the other works.
struct FreeHold {
  graph::GripId grip;
  model::RailId rail;
  double along_m = 0;  ///< of the grip, from the rail's first point
  int azimuth = 0;     ///< of the body axis about the stance, in steps of 30 deg from the rail's direction
  Hand holds = Right;
};

/// One posture's worth of answers: a setting of a restraint, or a free hold.
struct Station {
  std::optional<Setting> setting;  ///< either this ...
  std::optional<FreeHold> hold;    ///< ... or this
  bool can_hold = true;            ///< of a free hold: the hand that holds has the grip in reach, its arm clear
  BodyFrame frame;
  BodyClearance clearance;
  std::vector<TargetReach> targets;  ///< as asked; empty where it does not fit or hold
  std::optional<WayIn> way_in;       ///< of settings that fit; none: no way in
  std::vector<model::ZoneId> notes;  ///< caution and limit zones that the body is in
  [[nodiscard]] bool fits() const { return clearance.fits(); }
  /// Served by it in a plan: it fits and there is a way in (a free hold needs none).
  [[nodiscard]] bool is_usable() const { return fits() && (hold ? can_hold : way_in.has_value()); }
  [[nodiscard]] std::size_t served() const;
  [[nodiscard]] std::size_t count(Kind kind) const;
};

/// Where every setting collides: the one that does so least.
struct LeastDepth {
  std::size_t station = 0;
  Depth depth;
};

/// How a socket stands in a scene: nothing may take a foot restraint where the point `socket_near_m` off it along its
/// axis lies in a solid or on one; without a surface as near as that its position is doubtful.
inline constexpr double socket_near_m = 0.15;
enum class SocketStanding { Sound, OffStructure, InSolid };
/// Requires: a socket that is there.
[[nodiscard]] SocketStanding standing_of(const geometry::Scene& scene, const model::Socket& socket);

/// All stations of one socket, or of the grips of one place.
struct SiteReach {
  std::string site;                       ///< socket or place, as asked
  std::optional<model::SocketId> socket;  ///< none: by free hand
  bool is_there = true;                   ///< in this configuration
  bool is_off_structure = false;          ///< a socket without a surface within `socket_near_m`
  std::vector<Station> stations;          ///< in the order of settings; of grips, azimuths, hands
  std::optional<std::size_t> best;        ///< into `stations`; none where none fits
  std::optional<LeastDepth> least_depth;  ///< only where no setting fits
  double axis_distance_m = 0;             ///< of the best: body axis to structure, at most `most_clearance_m`
  std::array<bool, 2> handhold_beside = {false,
                                         false};  ///< of the best: within the kit's distance of the chest, by Hand
  [[nodiscard]] std::size_t fitting() const;
};

/// The fewest stations that serve all targets that any serves.
struct StationSet {
  struct Member {
    std::size_t site = 0, station = 0;
    std::vector<std::size_t> serves;  ///< targets
  };
  std::vector<Member> members;
  std::vector<std::size_t> unserved;  ///< targets that no usable station serves
  bool is_smallest = true;            ///< false: the search was cut short
  std::size_t at_least = 0;           ///< no set is smaller than this
};
/// Set cover over all usable stations; a target may be served twice. Ties: fewest sites, most two-handed, greatest
/// least clearance (to 0.01 m), order. Exact up to `most_nodes` search steps.
[[nodiscard]] StationSet find_smallest_set(const std::vector<SiteReach>& sites, std::size_t targets,
                                           std::size_t most_nodes = 1'000'000);

struct ReachRequest {
  std::vector<std::string> sockets;                 ///< either these ...
  std::string at;                                   ///< ... or a place whose grips are held by one hand
  std::vector<std::string> targets;                 ///< none: all connectors and worksites
  const model::FootRestraint* restraint = nullptr;  ///< null: the kit's first
  std::string from;                                 ///< where the route to the best station starts; empty: none
};

struct ReachAnswer {
  route::Answer head;  ///< the constants, and the route to the way in where one was asked for
  std::string restraint;
  std::vector<Target> targets;
  std::vector<SiteReach> sites;
  StationSet smallest;
  bool has_route = false;  ///< `head` holds the route to the best station of the first site, or why there is none
  std::optional<double> arrive_s;  ///< with it: route, then into the restraint
};

/// Throws `model::InputError`: `unknown-socket`, as `find_target`, `unknown-kit` where the kit has no restraint for a
/// socket, `in-solid` where a socket lies inside structure in the default configuration.
[[nodiscard]] ReachAnswer find_reach(const graph::HandrailGraph& graph, const route::Profile& profile,
                                     const ReachRequest& request);

// ---- for stages that build on it ------------------------------------------------------------------------------------

/// Every setting of a socket, and the best of them. Of a socket that is not there: `is_there` false and nothing else.
[[nodiscard]] SiteReach evaluate_socket(const graph::HandrailGraph& graph, const route::Profile& profile,
                                        const model::FootRestraint& restraint, model::SocketId socket,
                                        const std::vector<Target>& targets);
/// One setting of it. Requires: a socket that is there.
[[nodiscard]] Station evaluate_setting(const graph::HandrailGraph& graph, const route::Profile& profile,
                                       const model::FootRestraint& restraint, model::SocketId socket,
                                       const Setting& setting, const std::vector<Target>& targets);
/// Every free hold at these grips, and the best of them.
[[nodiscard]] SiteReach evaluate_grips(const graph::HandrailGraph& graph, const route::Profile& profile,
                                       const std::vector<graph::GripId>& grips, const std::vector<Target>& targets);
/// Grips from which the figure in the frame is got into and out of, nearest first, at most `most`.
[[nodiscard]] std::vector<WayIn> find_ways_in(const graph::HandrailGraph& graph, const route::Profile& profile,
                                              const BodyFrame& frame, std::size_t most);

}  // namespace holdfast::reach
