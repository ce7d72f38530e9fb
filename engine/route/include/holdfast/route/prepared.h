// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Where many questions follow with the same suit, loads and objective on the same graph: the pass over all moves is
// made once, and a question touches only what it visits.
//
//   route::PreparedProfile prepared(graph, {.kit = kit, .suit = kit.suits.front()});
//   const auto outline = prepared.find({.from = "a", .to = "b"});               // time, distance, moves, grips
//   const auto answer = prepared.route({.from = "a", .to = "b"}, {.rails = {rail}});   // as route::route

#include <cstddef>
#include <memory>
#include <optional>
#include <vector>

#include "holdfast/route/home.h"
#include "holdfast/route/route.h"

namespace holdfast::route {

/// A route without its description: the path, and the numbers that need no measuring.
struct Outline {
  struct Leg {
    std::vector<graph::GripId> grips;  ///< moves.size() + 1
    std::vector<graph::MoveId> moves;
  };
  std::vector<Leg> legs;
  double time_s = 0;  ///< as Route::time_s
  double distance_m = 0;
  std::size_t moves = 0;
  Departure end;
  bool is_proven_best = true;
};

/// Keeps references to the graph and to what the profile refers to; all must outlive it. Not for several threads at
/// once.
class PreparedProfile {
 public:
  /// One pass over all moves, and a hierarchy over the graph (at 100,000 grips some second). Throws as `check_loads`.
  PreparedProfile(const graph::HandrailGraph& graph, const Profile& profile, Objective by = Objective::Time);
  /// Another profile or objective on the graph of `other`: its costs alone are new. Throws as `check_loads`.
  PreparedProfile(const PreparedProfile& other, const Profile& profile, Objective by = Objective::Time);
  ~PreparedProfile();
  PreparedProfile(PreparedProfile&&) noexcept;
  PreparedProfile& operator=(PreparedProfile&&) noexcept;

  /// The answer that `route::route` gives with the closures added to the profile's; `request.by` and
  /// `load_cache` are set by this, and `landmarks` are not needed. Throws as `route::route`.
  [[nodiscard]] Answer route(const RouteRequest& request, const Closures& closures = {});
  /// The same route without its description; nothing where there is none (ask `route` why). Without loads, tether and
  /// limit zones on the path no label, clearance or zone is looked at; else this is as slow as `route`.
  [[nodiscard]] std::optional<Outline> find(const RouteRequest& request, const Closures& closures = {});

  /// As `compute_home`. Quicker where prepared by time.
  [[nodiscard]] Home home(const HomeRequest& request);
  /// As `compute_matrix`, by what this was prepared for.
  [[nodiscard]] Matrix matrix();

  [[nodiscard]] const graph::HandrailGraph& graph() const;
  [[nodiscard]] const Profile& profile() const;  ///< without the closures of a question
  [[nodiscard]] Objective by() const;

 private:
  class State;
  std::unique_ptr<State> state_;
};

}  // namespace holdfast::route
