#pragma once
// Scene and graph of every configuration that an excursion goes through, with what is stowed there as obstacles; and
// the legs of crew members between grips.

#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "holdfast/graph/handrail_graph.h"
#include "holdfast/graph/load_sweep.h"
#include "holdfast/model/excursion.h"
#include "holdfast/route/loads.h"
#include "holdfast/route/route.h"
#include "holdfast/search/shortest.h"

namespace holdfast::plan::detail {

using graph::GripId;
using graph::MoveId;
using model::Vec3;

/// A grip whatever the graph: rails keep theirs from configuration to configuration, graphs number them each by
/// themselves.
struct GripRef {
  model::RailId rail;
  std::uint32_t direction = 0;
  double along_m = 0;
  friend auto operator<=>(const GripRef&, const GripRef&) = default;
};
[[nodiscard]] GripRef ref_of(const graph::HandrailGraph& graph, GripId grip);
/// Nothing where the rail is not there, or has other grips.
[[nodiscard]] std::optional<GripId> find_grip(const graph::HandrailGraph& graph, const GripRef& ref);

/// Hatches that are there.
[[nodiscard]] std::vector<model::PlaceId> hatches_of(const model::Structure& structure,
                                                     const model::Configuration& configuration);

/// A box that stands on the structure: a stowed item, a foot restraint in its socket.
struct Obstacle {
  graph::BoxPose box;
  Vec3 size_m = Vec3::Ones();
  std::vector<model::RailId> tied_to;  ///< rails of which it takes the grips near it; empty: a restraint
};
[[nodiscard]] double distance_to_box(const graph::BoxPose& box, const Vec3& size_m, const Vec3& p);
/// A point as `route::RouteRequest` takes it, to the last bit.
[[nodiscard]] std::string text_of(const Vec3& p);

/// Rails closed and obstacles standing: what closes grips and moves besides the labels.
struct Closings {
  std::vector<model::RailId> rails;
  std::vector<Obstacle> obstacles;
  [[nodiscard]] std::string key() const;
};

/// What is open in one configuration to one suit, without loads.
struct OpenTable {
  std::vector<search::Cost> costs;  ///< by move
  std::vector<bool> is_open;        ///< by grip: one may rest there
  route::Closures closures;         ///< the rails closed, and the grips and moves that obstacles close
};

/// One configuration and suit.
struct Site {
  const model::Suit* suit = nullptr;
  const geometry::Scene* scene = nullptr;
  std::unique_ptr<graph::HandrailGraph> graph;
  model::Configuration configuration;
};

/// Grips of any of the places in the site's configuration, each once, in order.
[[nodiscard]] std::vector<GripId> grips_near(const Site& site, const model::Structure& structure,
                                             const std::vector<model::PlaceId>& places);

struct TimedMove {
  MoveId move;
  double time_s = 0;  ///< with start of the first and stop of the last
};

/// From grip to grip. No moves: one is there already.
struct FoundLeg {
  std::vector<GripId> grips;  ///< moves + 1
  std::vector<TimedMove> moves;
  double time_s = 0;
  double distance_m = 0;
};
struct NoLeg {
  std::vector<route::Cause> causes;  ///< empty: only what is stowed, or the search's bounds, stands in the way
  bool is_certain = true;
};
struct LegOutcome {
  std::optional<FoundLeg> leg;
  NoLeg none;
};

struct LegQuestion {
  const Site* site = nullptr;
  std::vector<const model::Load*> loads;
  route::Objective by = route::Objective::Time;
  std::vector<GripId> from;  ///< one, or where the excursion begins all grips of the place
  std::vector<GripId> to;
  std::string to_place = {};    ///< where `to` are all grips of a place: its id; else empty
  std::string from_place = {};  ///< where `from` are all grips of a place: its id
};

/// Asks for legs, each question once. Without loads it searches the open table from the very grip. With loads it asks
/// `route::find_route`, which starts at the very grip and keeps off the grips and moves that obstacles close. The tow
/// pays out again at each leg.
class Legs {
 public:
  Legs(const model::Structure& structure, const model::Kit& kit) : structure_(structure), kit_(kit) {}

  [[nodiscard]] const Site& site(const model::Configuration& configuration, const model::Suit& suit);
  [[nodiscard]] const OpenTable& table(const Site& site, route::Objective by, const Closings& closings);
  [[nodiscard]] const LegOutcome& find(const LegQuestion& question, const Closings& closings);
  /// Time [s] to the nearest of `hatches` from every grip without loads, start and stop included, limit zones avoided:
  /// never below the least time. Infinity where there is none.
  [[nodiscard]] const std::vector<double>& home(const Site& site, const std::vector<GripId>& hatches,
                                                const Closings& closings);
  /// A load with so much more in it.
  [[nodiscard]] const model::Load* heavier(const model::Load& load, double more_kg);
  [[nodiscard]] const model::Kit& kit() const { return kit_; }

 private:
  LegOutcome search_free(const LegQuestion& question, const Closings& closings);
  LegOutcome search_loaded(const LegQuestion& question, const Closings& closings);

  const model::Structure& structure_;
  const model::Kit& kit_;
  std::map<std::string, std::unique_ptr<geometry::Scene>> scenes_;
  std::map<std::string, std::unique_ptr<Site>> sites_;
  std::map<std::string, OpenTable> tables_;
  std::map<std::string, LegOutcome> found_;
  std::map<std::string, std::vector<double>> homes_;
  std::map<std::string, std::unique_ptr<route::LoadCache>> caches_;
  std::map<std::string, std::unique_ptr<model::Load>> heavier_;
  search::RouteQuery query_;
};

}  // namespace holdfast::plan::detail
