// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// What is wrong or risky in a model, ranked, with numbers against the design values of the kit.
//
//   for (const auto& finding : check::check_model(graph, kit, suit)) ...

#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "holdfast/graph/handrail_graph.h"
#include "holdfast/model/kit.h"
#include "holdfast/route/answer.h"

namespace holdfast::check {

enum class Severity { Error, Warning, Note };

enum class FindingKind {
  UnreachableRail,  ///< no open move joins it to the hatch's island
  Island,           ///< a group of rails cut off from the largest one
  RailBehindZone,   ///< every path to it from a hatch enters a keep-out zone that holds
  Gap,              ///< neighbouring rails farther apart than the design value, or than the reach
  RailTooClose,     ///< less clear gap under a rail than a gloved hand needs
  RailInSolid,      ///< part of a rail lies inside a solid
  ShortRail,        ///< shorter than a hand's grip
  RailLoad,         ///< load limit below the design value
  NarrowCorridor,   ///< a stance or move that misses the corridor
  PlaceWithoutGrip,
  PlaceTooTight,  ///< grips, but no stance at any of them has room for the suit
  ZoneSwallowsPlace,
  WorksiteHandholds,   ///< no handhold within the design distance of a worksite
  WorksiteRoom,        ///< clear cylinder at a worksite too narrow
  SocketInSolid,       ///< no foot restraint can stand in it
  SocketOffStructure,  ///< no surface near it
  RestraintCollides,   ///< a socket in which every setting of every foot restraint collides
  ViewInSolid,         ///< its eye lies in a solid
  MeshDefect,          ///< what importing found
  IgnoredColumn        ///< of a table, that is not read
};

struct Finding {
  FindingKind kind = FindingKind::Gap;
  Severity severity = Severity::Warning;
  std::string subject;    ///< id of the rail, place, part or zone
  std::string other;      ///< the second one, where there is
  double value = 0;       ///< measured; metres unless the kind says otherwise (RailLoad: N; RailInSolid: metres inside)
  double limit = 0;       ///< design value
  std::size_t count = 1;  ///< how many alike were merged into this one (grips of a rail, rails of an island)
  std::optional<model::Quantity> design;  ///< where the limit comes from
  model::Vec3 at = model::Vec3::Zero();
  model::Mark mark;    ///< where the subject stands in the files
  std::string remark;  ///< MeshDefect, IgnoredColumn: the reader's sentence; RestraintCollides: the foot restraint
  /// RestraintCollides: `value` is the least depth and may be more.
  bool is_at_least = false;
  /// UnreachableRail, Island: what cuts them off, as for a route; zones and closures are looked away from. Reach:
  /// `value` is the gap to the nearest rail outside, `limit` the reach. Else both are of the first cause: corridor
  /// diameters, turns in degrees, or the room of the hand's line.
  std::vector<route::Cause> causes = {};
  std::size_t pieces = 1;   ///< ... into how many pieces they fall, between which no move is open either
  std::size_t partial = 0;  ///< ... of `count` rails, those of which only a part is cut off
  /// ... where one rail is, in part: the first and the last grip that are [m along it].
  std::optional<std::pair<double, double>> along_m = std::nullopt;
};

struct CheckSummary {
  std::size_t parts = 0, rails = 0, grips = 0, moves = 0, open_moves = 0, places = 0, zones = 0, islands = 0,
              primitives = 0;
  double rail_length_m = 0;
};

struct CheckResult {
  model::Configuration configuration;
  std::vector<Finding> findings;  ///< errors first, then by kind, then by how far the value misses the limit
  CheckSummary summary;
};

/// A rail whose line runs into a solid in this configuration: it cannot be right, so nobody may be sent over it.
struct BuriedRail {
  model::RailId rail;
  model::PartId part;  ///< what it runs into
  model::Vec3 at = model::Vec3::Zero();
};
/// Rails, of whatever use, whose line touches a solid, each with the place where it first does; in the order of the
/// files. Empty when there are none. Exact for solids and triangles (dishes: within their chord error), no sampling.
[[nodiscard]] std::vector<BuriedRail> find_buried_rails(const geometry::Scene& scene);

/// Checks the model in the graph's configuration. `notes`: what reading the model left out, told with the rest. A
/// finding is an error, unless its verdict rests on a design value of `Confidence::Memory` alone: then it is a warning.
/// Values that meet a limit within 1e-6 pass. Rails are followed in steps of at most 5 mm where they come near their
/// limit, so that no narrower trespass is seen; those that run into a solid are found exactly
/// (`find_buried_rails`), and are errors whether the graph has grips on them or not. Corridors are judged where
/// the graph has grips and moves. Requires: the graph was built with the suit's body. Cost: about one distance query a
/// grip and one a centimetre of rail that stands close. Sources of the limits: `model::DesignValues`.
[[nodiscard]] CheckResult check_model(const graph::HandrailGraph& graph, const model::Kit& kit, const model::Suit& suit,
                                      const std::vector<model::Diagnostic>& notes = {});

}  // namespace holdfast::check
