// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Is a cable long enough from connector to connector, where is it tied, and who lays it how.
//
//   const auto space = cable::prepare_cable(graph, kit, *kit.find_cable("data"), nullptr);
//   const auto answer = cable::find_cable_run(space, profile, {.from = "plug-a", .to = "plug-b"});
//   if (const auto* run = answer.run()) use(run->required_m, answer.verdict.margin_m);
//
// Requires: the graph was built with the profile's suit. Frame and units: structure frame, metres, seconds, radians.
// Lengths and times are upper bounds. Deterministic on any number of threads. Source: design.md sections 7 and 14
// (Cable).

#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "holdfast/cable/runs.h"
#include "holdfast/cable/span_store.h"
#include "holdfast/cable/spans.h"
#include "holdfast/route/route.h"

namespace holdfast::cable {

/// A cable's ties and spans in one configuration: the expensive part, for many questions. Keeps references to graph and
/// cable.
struct CableSpace {
  const graph::HandrailGraph* graph = nullptr;
  const model::Kit* kit = nullptr;
  const model::Cable* cable = nullptr;
  SpanRules rules;
  std::vector<Tie> ties;
  FoundSpans found;
  std::vector<FittedSpan> fitted;  ///< those of `found.table` on which the cable's own bends fit
};
[[nodiscard]] CableSpace prepare_cable(const graph::HandrailGraph& graph, const model::Kit& kit,
                                       const model::Cable& cable, const SpanStore* store);

/// A cable that lies there already.
struct LaidCable {
  std::string name;
  std::vector<Vec3> line;  ///< corner points; inside of each it bends
  double radius_m = 0;
  double bend_radius_m = 0;
};

struct CableRequest {
  std::string from, to;  ///< places of kind connector
  Aim aim = Aim::Length;
  std::vector<model::RailId> keep_free = {};  ///< must stay free to grip: no tie on them, no span over them
  std::vector<LaidCable> laid = {};
};

// ---- what is found ------------------------------------------------------------------------------------------------

struct RunTie {
  Tie tie;
  double at_m = 0;                 ///< mark on the cable from its end at `from`, slack, loops and allowance counted
  double turn_rad = 0;             ///< of the cable there; 0 at the connectors, which may face any way
  std::optional<double> radius_m;  ///< largest bend radius that fits there beside its neighbours; nothing: straight on
};

struct RunSpan {
  double length_m = 0;
  double slack_m = 0;
  double loop_m = 0;                   ///< for the moving joints that it crosses
  std::optional<model::PartId> joint;  ///< the moving part it crosses onto, or lies over
  std::vector<EdgeBend> edges;
};

/// A caution zone that the cable passes. Bends count by their arc or by their corner, whichever is more.
struct ZonePassed {
  model::ZoneId zone;
  double inside_m = 0;
};

struct Crossing {
  std::string laid;
  Vec3 at = Vec3::Zero();
};

struct CableRun {
  std::vector<RunTie> ties;    ///< connectors included: the first and the last
  std::vector<RunSpan> spans;  ///< ties.size() - 1
  std::vector<Vec3> line;      ///< corner points of the cable's middle; it bends inside of them with its least radius
  double way_m = 0;            ///< of all spans
  double slack_m = 0;
  double loops_m = 0;
  double ends_m = 0;      ///< allowances at both ends
  double required_m = 0;  ///< sum of these
  std::vector<ZonePassed> zones;
  std::vector<Crossing> crossings;
  std::vector<Vec3> own_crossings;  ///< where it lies on itself
};

/// Where this cable ends when it is too short, and what it could serve.
struct Reaches {
  std::size_t tie = 0;  ///< the last one of the run that it reaches with its allowance left
  double missing_m = 0;
  struct Pair {
    std::string from, to;
    double required_m = 0;
  };
  std::vector<Pair> serves;  ///< pairs of connectors that it is long enough for
};

/// What to do with what is left over: a coil of the least bend radius or a little more between two ties.
struct Stow {
  double surplus_m = 0;
  std::size_t turns = 0;  ///< whole turns of the coil; 0: less than one turn, or no place for it
  double coil_radius_m = 0;
  std::vector<Tie> ties;  ///< two that hold it; empty when none was found
  Vec3 at = Vec3::Zero();
  double from_end_m = 0;  ///< straight distance from the connector that is nearer
  std::string end;        ///< that connector
};

struct Verdict {
  double least_length_m = 0;  ///< nominal less tolerance
  double margin_m = 0;        ///< below 0: too short
  [[nodiscard]] bool is_long_enough() const { return margin_m >= 0; }
};

/// The one who lays it: from connector to connector, a leg from tie to tie, each within reach of some grip.
struct Laying {
  route::Answer way;  ///< the loads are the cable's spool; or why there is none
  double ties_s = 0;
  double connectors_s = 0;
  double time_s = 0;  ///< all together; only where there is a way
  /// Aim::Time: another run may save at most this.
  double may_save_s = 0;
};

// ---- why there is no run ------------------------------------------------------------------------------------------

enum class NoRunKind {
  NoTieNear,   ///< no tie within a span of a connector
  Gap,         ///< ties too far apart, wherever one goes
  NoSpan,      ///< near enough, but nothing to lie on, or over too much open space
  TooTight,    ///< no way bends as gently as the cable needs
  Zones,       ///< forbidding zones
  KeepFree,    ///< rails that must stay free
  Separation,  ///< a cable laid before
  Joint,       ///< moving parts that it crosses or lies over without a stated loop, or that move into it
  OutOfReach   ///< ties that nobody can reach from rails that hand moves connect
};

/// A part that comes where the cable lies when switches are set to other positions.
struct MovesInto {
  model::PartId part;
  model::Configuration changed;  ///< those switches alone
};

struct NoRunCause {
  NoRunKind kind = NoRunKind::Gap;
  std::string end;         ///< NoTieNear: the connector
  std::string tie, other;  ///< ids of the rails, clips or connectors on both sides
  Vec3 at = Vec3::Zero(), at_other = Vec3::Zero();
  double value_m = 0;  ///< the gap; NoSpan: see NoSpanKind; TooTight: the largest bend radius that has a run
  double limit_m = 0;  ///< the span; TooTight: the cable's bend radius
  NoSpanKind why = NoSpanKind::StructureBetween;
  std::vector<model::ZoneId> zones;
  std::vector<model::RailId> rails;   ///< KeepFree: those that the run would take
  std::vector<model::PartId> parts;   ///< Joint: the moving parts without a stated loop
  std::vector<MovesInto> moves_into;  ///< Joint
  bool opens_alone = false;           ///< waived alone, there is a run ...
  double then_m = 0;                  ///< ... that requires this length
};

struct NoRun {
  std::vector<NoRunCause> causes;  ///< never empty
};

struct CableAnswer {
  std::variant<CableRun, NoRun> outcome;
  std::string cable;
  CableRequest request;
  Verdict verdict;                 ///< margin only where there is a run
  std::optional<Reaches> reaches;  ///< where it is too short
  std::optional<Stow> stow;        ///< where something is left over
  std::optional<Laying> laying;    ///< where there is a run
  model::Configuration configuration;
  std::string suit;
  std::vector<route::UsedValue> used;
  std::size_t ties_considered = 0, spans_considered = 0;
  SpanSource span_source = SpanSource::Computed;
  bool is_certain = true;  ///< false: a search was cut short; what was not found may be there
  [[nodiscard]] const CableRun* run() const { return std::get_if<CableRun>(&outcome); }
  [[nodiscard]] const NoRun* no_run() const { return std::get_if<NoRun>(&outcome); }
  /// A run, long enough, and somebody can lay it.
  [[nodiscard]] bool is_feasible() const;
};

/// Several cables, or one between several pairs of connectors.
struct CableTable {
  std::vector<CableAnswer> rows;
};

/// Throws `model::InputError`: `unknown-place`, `absent-place`, `not-a-connector`, `off-structure` (a connector farther
/// from structure, or deeper in it, than `most_connector_gap_m`), `same-connector`.
[[nodiscard]] CableAnswer find_cable_run(const CableSpace& space, const route::Profile& profile,
                                         const CableRequest& request);

/// What a span of this length adds by its slack: by its sag, 8 h^2 / (3 L) (AC 43.13-1B par. 11-118; a shallow
/// parabola's arc, above the true one), or the cable's slack fraction if that is more.
[[nodiscard]] double slack_of(const model::Cable& cable, double span_m);

}  // namespace holdfast::cable
