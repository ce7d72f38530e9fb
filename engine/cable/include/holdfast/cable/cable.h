// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Is a cable long enough from connector to connector, where is it tied, and who lays it how.
//
//   const auto space = cable::prepare_cable(graph, kit, *kit.find_cable("data"), nullptr);
//   const auto answer = cable::find_cable_run(space, profile, {.from = "plug-a", .to = "plug-b"});
//   if (const auto* run = answer.run()) use(run->required_m, answer.verdict.margin_m);
//
// A cable may be laid in stages: to a place that is no connector, where the rest is coiled and tied to a rail, and from
// there on (`CableRequest::goes_on`).
//
// Requires: the graph was built with the profile's suit. Frame and units: structure frame, metres, seconds, radians.
// Lengths and times are upper bounds. Deterministic on any number of threads. Source: design.md sections 7 and 14
// (Cable).

#include <functional>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "holdfast/cable/coil.h"
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

/// A run that was laid as far as a coil, by the ties that it was given.
struct LaidRun {
  std::string name;  ///< of its result
  std::string cable;
  struct At {
    TieKind kind = TieKind::Rail;
    std::string id;
    double along_m = 0;
  };
  std::vector<At> ties;  ///< the first a connector, the last where the coil is
  double used_m = 0;     ///< mark on the cable at the coil
};

struct CableRequest {
  std::string from;  ///< a connector; going on: that too, or the place where the coil is, or empty
  std::string to;    ///< a connector, or a place, on a rail of which the rest is coiled
  Aim aim = Aim::Length;
  std::vector<model::RailId> keep_free = {};  ///< must stay free to grip: no tie on them, no span over them
  std::vector<LaidCable> laid = {};
  std::optional<LaidRun> goes_on = std::nullopt;
  /// Most from a hand to a coil that it ties; nothing: as excursions have it where their file says nothing else.
  std::optional<double> handling_reach_m = std::nullopt;
  Vec3 least_coil_m = Vec3::Zero();  ///< sides, falling, of what holds the coil: its box is never smaller
  bool tells_more = true;            ///< false: the run, its verdict and its coil alone
  /// May a coil's box of these sides stand there? Asked besides all that is known here; empty: yes.
  std::function<bool(const graph::BoxPose&, const Vec3&)> may_stand = {};
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
  double more_m = 0;      ///< what the laid part used more than its ties ask for
  double required_m = 0;  ///< sum of these
  /// Of `ties`, those of the run gone on from, the last of them where the coil was; 0: all is new.
  std::size_t laid_ties = 0;
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

/// A connector that a coil may be carried on to.
struct Onward {
  std::string connector;
  bool is_meant = false;             ///< the kit names it together with the run's own connector
  std::optional<double> required_m;  ///< of the whole cable; nothing: there is no run, or none was found
  double margin_m = 0;               ///< below 0: too short by so much
  bool is_certain = true;
};

/// What is left of a cable that was laid to a place.
struct CoilLeft {
  std::string place;
  Tie tie;            ///< on the rail that it takes
  double used_m = 0;  ///< mark on the cable there: never too small
  double left_m = 0;  ///< guaranteed length less that, its end's allowance in it: never too large
  CoilSize size;      ///< of the most that may be left: never too small
  graph::BoxPose box;
  std::vector<Onward> onward;  ///< every other connector that is there, those that are meant first
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
  double begin_s = 0;  ///< mating the connector, or taking up the coil
  double end_s = 0;    ///< mating the connector, or tying off the coil
  double connectors_s = 0;
  double coils_s = 0;  ///< together `begin_s` and `end_s`
  double time_s = 0;   ///< all together; only where there is a way
  /// Aim::Time: another run may save at most this.
  double may_save_s = 0;
};

// ---- why there is no run ------------------------------------------------------------------------------------------

enum class NoRunKind {
  NoTieNear,    ///< no tie within a span of a connector
  Gap,          ///< ties too far apart, wherever one goes
  NoSpan,       ///< near enough, but nothing to lie on, or over too much open space
  TooTight,     ///< no way bends as gently as the cable needs
  Zones,        ///< forbidding zones
  KeepFree,     ///< rails that must stay free
  Separation,   ///< a cable laid before
  Joint,        ///< moving parts that it crosses or lies over without a stated loop, or that move into it
  OutOfReach,   ///< ties that nobody can reach from rails that hand moves connect
  NoRailThere,  ///< no rail that takes cables at the place where the rest is to be coiled
  NoCoil        ///< nowhere at the place has a coil room
};

/// What hinders a coil at a tie.
enum class NoCoil { Structure, Zone, KeepFree, Laid, Standing, MovingPart, NobodyBeside };
inline constexpr std::size_t no_coil_count = 7;

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
  std::vector<NoCoil> hinders;  ///< NoCoil: each once
  Vec3 size_m = Vec3::Zero();   ///< NoCoil: of the coil's box at `tie`
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
  std::optional<CoilLeft> coil;    ///< where it is laid to a place, and long enough
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
/// from structure, or deeper in it, than `most_connector_gap_m`), `same-connector`; going on from a run,
/// `laid-elsewhere` where its ties are not there, or no spans join them, in this configuration. Laid to a place the run
/// is the best to any rail there on which the coil has room. What was laid before is not looked at again for zones and
/// rails kept free.
[[nodiscard]] CableAnswer find_cable_run(const CableSpace& space, const route::Profile& profile,
                                         const CableRequest& request);

/// What was laid before, as it lies now, with the coil at its end: no connectors to go on to, no laying. Requires:
/// `goes_on`; the rest of the request is not looked at but for `least_coil_m`. Throws `laid-elsewhere` as above.
[[nodiscard]] CableAnswer describe_laid_run(const CableSpace& space, const route::Profile& profile,
                                            const CableRequest& request);

/// Tying off a coil, or taking it up: it is held by two ties. Common practice, no source.
[[nodiscard]] inline double coil_s(const model::Cable& cable) { return 2 * cable.tie_s.value; }

/// What a span of this length adds by its slack: by its sag, 8 h^2 / (3 L) (AC 43.13-1B par. 11-118; a shallow
/// parabola's arc, above the true one), or the cable's slack fraction if that is more.
[[nodiscard]] double slack_of(const model::Cable& cable, double span_m);

}  // namespace holdfast::cable
