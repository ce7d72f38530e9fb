// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// How long it takes to be back inside, from everywhere or along a route; and from every place to every other.
//
//   const auto home = route::compute_home(graph, profile, {.hatches = {"lock-hatch"}});
//   home.places.front();                                     // the worst
//
// A place's numbers are those of the route that `route` gives for the same question, prices of caution zones and limit
// zones included; times are plain: what a price adds is never in them.

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "holdfast/route/choices.h"
#include "holdfast/route/route.h"

namespace holdfast::route {

struct HomeRequest {
  std::vector<std::string> hatches;  ///< places, rails or x,y,z; the nearest counts. Not empty.
  double limit_s = 1800;             ///< back inside within; `model::DesignValues::emergency_return_s`
  double warn_s = 1200;              ///< `model::DesignValues::emergency_warn_s`
  double point_radius_m = 0.8;       ///< as in RouteRequest
};

enum class HomeVerdict { Within, Near, Over, NoWay };  ///< Near: above `warn_s`

struct HomePlace {
  model::PlaceId place;
  HomeVerdict verdict = HomeVerdict::NoWay;  ///< of `most_s`; NoWay also where some grip there has no way
  bool has_route = false;                    ///< from one of its grips; else the numbers are 0
  double time_s = 0;                         ///< of the route, with start, stop and load handling
  double distance_m = 0;
  std::size_t moves = 0;
  std::string hatch;               ///< where the route ends
  double most_s = 0;               ///< without loads from the grip there from which it takes longest; else `time_s`
  std::size_t stranded_grips = 0;  ///< of its grips, those with no way home; loads' room is not looked at
  std::optional<double> may_save_s = std::nullopt;  ///< as `Answer::may_save`; nothing: proven the best
  bool is_certain = true;                           ///< false: that there is no route was not proven
  std::vector<Cause> causes = {};                   ///< without a route: why, and how far a load gets
};

struct HomeGrip {
  std::size_t grip = 0;
  model::RailId rail;
  Vec3 hand = Vec3::Zero();
  double time_s = 0;
};

struct Home {
  AnswerHead head;
  HomeRequest request;
  std::vector<HomePlace> places;  ///< worst first; all places of the configuration
  std::vector<HomeGrip> worst;    ///< of each part, the grip farthest from home; worst first
  /// Infinity where there is no way. Limit zones and what loads need of room are not looked at.
  std::vector<double> time_by_grip_s;
  std::size_t grips_over = 0, grips_near = 0, grips_without_way = 0;
  std::size_t priced_places = 0;  ///< that a quicker path through a caution zone would serve; only without loads
  double priced_s = 0;            ///< ... and by how much at most
};

/// One backward search for all grips and, without loads, for all places. With loads each place is a question of its
/// own, over one cache of sweeps; the grips' times then count their weight and handling alone, and are lower bounds.
/// Throws as `route`.
[[nodiscard]] Home compute_home(const graph::HandrailGraph& graph, const Profile& profile, const HomeRequest& request);

/// The way home from a waypoint of a route.
struct HomeWaypoint {
  std::size_t leg = 0, row = 0;
  model::RailId rail;
  model::PartId part;
  Vec3 hand = Vec3::Zero();
  double at_s = 0;       ///< when it is passed on the route, as the route's result has it
  bool has_way = false;  ///< from the waypoint; else the numbers are 0
  double time_s = 0;     ///< home from the waypoint
  std::size_t moves = 0;
  double distance_m = 0;
  std::string hatch;
  double most_s = 0;  ///< from any grip since the waypoint before, this one included; with loads `time_s`
  HomeVerdict verdict = HomeVerdict::NoWay;         ///< of `most_s`
  std::optional<double> may_save_s = std::nullopt;  ///< as in HomePlace ...
  bool is_certain = true;
  std::vector<Cause> causes = {};
};

struct HomeAlong {
  AnswerHead head;
  HomeRequest request;
  std::string route;  ///< name of what was followed
  std::vector<HomeWaypoint> waypoints;
  std::size_t worst = 0;  ///< the waypoint with the least margin
};

/// Time home at each waypoint of a route that is given, to the nearest hatch. The profile's loads are what is brought
/// home, taken up at the waypoint; what the route itself carried is left there. Throws as `route`, and
/// `wrong-result` for a route that is not one of this graph.
[[nodiscard]] HomeAlong compute_home_along(const graph::HandrailGraph& graph, const Profile& profile,
                                           const HomeRequest& request, const GivenWay& given);

struct Matrix {
  AnswerHead head;
  Objective by = Objective::Time;
  std::vector<model::PlaceId> places;  ///< those of the configuration, in the order of the file
  struct Cell {
    double time_s = 0, distance_m = 0;
    std::size_t moves = 0;
  };
  std::vector<std::optional<Cell>> cells;  ///< row by row; nothing where there is no way
  [[nodiscard]] const std::optional<Cell>& at(std::size_t from, std::size_t to) const {
    return cells[from * places.size() + to];
  }
};

/// The numbers of the routes that `route` gives, without loads. One search a place, and a route where a limit zone is
/// in the way, on all cores; the same on any number.
[[nodiscard]] Matrix compute_matrix(const graph::HandrailGraph& graph, const Profile& profile, Objective by);

}  // namespace holdfast::route
