#pragma once
// How long it takes to be back inside, from everywhere; and from every place to every other.
//
//   const auto home = search::compute_home(graph, profile, {.hatch = "lock-hatch"});
//   home.places.front();                                     // the worst
//
// Both look for the quickest way: what a caution zone adds to the price of a way in `route` is not counted here.

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "holdfast/search/route.h"

namespace holdfast::search {

struct HomeRequest {
  std::string hatch;            ///< place, rail or x,y,z
  double limit_s = 1800;        ///< back inside within; `model::DesignValues::emergency_return_s`
  double warn_s = 1200;         ///< `model::DesignValues::emergency_warn_s`
  double point_radius_m = 0.8;  ///< as in RouteRequest
};

enum class HomeVerdict { Within, Near, Over, NoWay };  ///< Near: above `warn_s`

struct HomePlace {
  model::PlaceId place;
  HomeVerdict verdict = HomeVerdict::NoWay;
  double time_s = 0;  ///< with start, stop and load handling; from the grip of the place from which it takes longest,
                      ///< with loads from the best one
  double distance_m = 0;
  std::size_t moves = 0;
  bool is_certain = true;  ///< false: NoWay was not proven (a load's search was cut short)
};

struct HomeGrip {
  std::size_t grip = 0;
  model::RailId rail;
  Vec3 hand = Vec3::Zero();
  double time_s = 0;
};

struct Home {
  Answer head;  ///< configuration, suit, loads and constants; without an outcome
  HomeRequest request;
  std::vector<HomePlace> places;       ///< worst first; all places but those with no grip at all
  std::vector<HomeGrip> worst;         ///< of each part, the grip farthest from home; worst first
  std::vector<double> time_by_grip_s;  ///< infinity where there is no way; what loads need of room is not looked at
  std::size_t grips_over = 0, grips_near = 0, grips_without_way = 0;
};

/// One backward search for all grips. With loads each place is searched by itself, so that they fit; the grips' times
/// then count their weight and handling alone, and are lower bounds. Throws as `route`.
[[nodiscard]] Home compute_home(const graph::HandrailGraph& graph, const Profile& profile, const HomeRequest& request);

struct Matrix {
  Answer head;  ///< configuration and constants; without an outcome
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

/// One search a place, on all cores; the same on any number. Loads and limit zones are not looked at.
[[nodiscard]] Matrix compute_matrix(const graph::HandrailGraph& graph, const Profile& profile, Objective by);

}  // namespace holdfast::search
