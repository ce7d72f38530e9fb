// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Scene and graph of every configuration that an excursion goes through, with what is stowed there as obstacles; and
// the legs of crew members between grips.

#include <map>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <unordered_map>
#include <vector>

#include "holdfast/graph/handrail_graph.h"
#include "holdfast/graph/load_sweep.h"
#include "holdfast/model/excursion.h"
#include "holdfast/reach/reach.h"
#include "holdfast/reach/sight.h"
#include "holdfast/route/load_paths.h"
#include "holdfast/route/loads.h"
#include "holdfast/route/route.h"
#include "holdfast/search/shortest.h"
#include "holdfast/tether/taut.h"

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
/// Does the straight line come within `near_m` of the box? The distance is 1-Lipschitz along it, so the line is halved
/// until decided; at 1 mm it is taken as near.
[[nodiscard]] bool is_segment_near_box(const Obstacle& obstacle, const Vec3& a, const Vec3& b, double near_m);
/// Do two boxes overlap? Touching is no overlap. Exact (separating axes).
[[nodiscard]] bool do_boxes_overlap(const Obstacle& a, const Obstacle& b);
/// A point as `route::RouteRequest` takes it, to the last bit.
[[nodiscard]] std::string text_of(const Vec3& p);

/// Rails closed and obstacles standing: what closes grips and moves besides the labels.
struct Closings {
  std::vector<model::RailId> rails;
  std::vector<Obstacle> obstacles;
  [[nodiscard]] std::string key() const;  ///< the same for the same rails and boxes, and for them alone
};

/// Boxes as solids of their own, which loads keep off as they keep off structure.
class BoxScene {
 public:
  explicit BoxScene(const std::vector<Obstacle>& obstacles);
  BoxScene(const BoxScene&) = delete;
  BoxScene& operator=(const BoxScene&) = delete;
  [[nodiscard]] const geometry::Scene& scene() const { return *scene_; }

 private:
  model::Structure structure_;
  std::optional<geometry::Scene> scene_;
};

/// What is open in one configuration to one suit, without loads.
struct OpenTable {
  std::vector<search::Cost> costs;  ///< by move
  std::vector<bool> is_open;        ///< by grip: one may rest there
  route::Closures closures;         ///< the rails closed, and the grips and moves that obstacles close
};
/// Closes what the obstacle closes to bodies and hands: grips that it is tied over or that it leaves no stance at, and
/// moves on which the body's corridor or a hand would touch it.
void close_by(const graph::HandrailGraph& graph, const Obstacle& obstacle, double grip_length_m, OpenTable& table);

/// One configuration and suit.
struct Site {
  const model::Suit* suit = nullptr;
  const geometry::Scene* scene = nullptr;
  std::unique_ptr<graph::HandrailGraph> graph;
  model::Configuration configuration;
  std::vector<model::RailId> buried;  ///< their line runs into a solid in this configuration: they take no hand
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

class Cables;

/// Asks for legs, each question once. Without loads it searches the open table from the very grip. With loads it asks
/// `route::find_route`, which starts at the very grip and keeps off the grips and moves that obstacles close, and the
/// loads off the obstacles themselves. The tow pays out again at each leg.
class Legs {
 public:
  /// `first`: the scene of a configuration where it is built already; it must outlive this.
  Legs(const model::Structure& structure, const model::Kit& kit) : structure_(structure), kit_(kit) {}
  Legs(const model::Structure& structure, const model::Kit& kit, const model::Configuration& configuration,
       const geometry::Scene* first);

  /// Runs of cables; made when first asked for.
  [[nodiscard]] Cables& cables();

  [[nodiscard]] const Site& site(const model::Configuration& configuration, const model::Suit& suit);
  [[nodiscard]] const OpenTable& table(const Site& site, route::Objective by, const Closings& closings);
  [[nodiscard]] const LegOutcome& find(const LegQuestion& question, const Closings& closings);
  /// Time [s] to the nearest of `hatches` from every grip without loads, start and stop included, limit zones avoided:
  /// never below the least time. Infinity where there is none. From any grips in place of hatches, there and back take
  /// as long; that reference holds until the next call.
  [[nodiscard]] const std::vector<double>& home(const Site& site, const std::vector<GripId>& hatches,
                                                const Closings& closings, bool avoids_limit_zones = true);
  /// Seconds of a path that is open to the body, with loads in one manner throughout; nothing where they do not pass.
  [[nodiscard]] std::optional<double> time_along(const Site& site, const std::vector<const model::Load*>& loads,
                                                 const Closings& closings, const std::vector<GripId>& grips);
  /// Sweeps of these loads in this site, among the obstacles; kept.
  [[nodiscard]] route::LoadCache& cache(const Site& site, const std::vector<const model::Load*>& loads,
                                        const Closings& closings);
  /// What `reel.go(through)` does to a reel of this scene, asked once.
  void pull(tether::Reel& reel, const geometry::Scene& scene, std::span<const Vec3> through);
  /// The obstacles as solids; null where there are none.
  [[nodiscard]] const geometry::Scene* boxes_of(const Closings& closings);
  // worksites.cpp; each asked once
  [[nodiscard]] const reach::SiteReach& reach_from(const Site& site, const model::FootRestraint& restraint,
                                                   model::SocketId socket, const std::vector<std::string>& targets);
  [[nodiscard]] const reach::SiteReach& reach_at(const Site& site, const std::vector<GripId>& grips,
                                                 const std::vector<std::string>& targets);
  /// `only`: grips that count; empty: all.
  [[nodiscard]] const reach::GripRanking& photograph_from(const Site& site, model::PatchId patch,
                                                          const std::string& camera, const std::vector<GripId>& only);
  /// Rails that run into solids in a configuration that was gone through, with where they do.
  struct Buried {
    model::RailId rail;
    model::PartId part;
    Vec3 at = Vec3::Zero();
    model::Configuration configuration;
  };
  [[nodiscard]] const std::vector<Buried>& buried() const { return buried_; }
  /// A load with so much more in it.
  [[nodiscard]] const model::Load* heavier(const model::Load& load, double more_kg);
  [[nodiscard]] const model::Kit& kit() const { return kit_; }

 private:
  LegOutcome search_free(const LegQuestion& question, const Closings& closings);
  LegOutcome search_loaded(const LegQuestion& question, const Closings& closings);
  /// Without obstacles, which are few and change.
  const OpenTable& bare_table(const Site& site, route::Objective by, const std::vector<model::RailId>& closed);

  const model::Structure& structure_;
  const model::Kit& kit_;
  const geometry::Scene* first_ = nullptr;
  std::string first_key_;
  std::map<std::string, std::unique_ptr<geometry::Scene>> scenes_;
  std::unordered_map<std::string, tether::Reel> pulled_;  // by the bytes of the points
  std::map<std::string, std::unique_ptr<Site>> sites_;
  std::map<std::string, OpenTable> tables_;
  std::map<std::string, LegOutcome> found_;
  std::map<std::string, std::vector<double>> homes_, trees_;
  std::map<std::string, OpenTable> bare_tables_;
  std::map<std::string, std::unique_ptr<BoxScene>> boxes_;
  std::map<std::string, std::unique_ptr<route::LoadCache>> caches_;
  std::vector<Buried> buried_;
  std::shared_ptr<Cables> cables_;
  [[nodiscard]] route::Profile profile_of(const Site& site) const;
  std::map<std::string, reach::SiteReach> reaches_;
  std::map<std::string, reach::GripRanking> rankings_;
  std::map<std::string, std::unique_ptr<model::Load>> heavier_;
  search::RouteQuery query_;
};

}  // namespace holdfast::plan::detail
