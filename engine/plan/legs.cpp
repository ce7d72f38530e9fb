// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "holdfast/geometry/polyline.h"
#include "sites_impl.h"

namespace holdfast::plan::detail {

using graph::HandrailGraph;
using search::Cost;

GripRef ref_of(const HandrailGraph& graph, GripId grip) {
  const auto& g = graph.grip(grip);
  return {g.rail, g.direction, g.along_m};
}

std::optional<GripId> find_grip(const HandrailGraph& graph, const GripRef& ref) {
  const auto [first, last] = graph.grips_of(ref.rail);
  for (std::uint32_t g = first; g < last; ++g)
    if (graph.grips()[g].direction == ref.direction && std::abs(graph.grips()[g].along_m - ref.along_m) < 1e-6)
      return GripId(g);
  return std::nullopt;
}

std::vector<model::PlaceId> hatches_of(const model::Structure& structure, const model::Configuration& configuration) {
  std::vector<model::PlaceId> hatches;
  for (std::size_t p = 0; p < structure.places.size(); ++p)
    if (structure.places[p].kind == model::PlaceKind::Hatch && structure.is_present(structure.places[p], configuration))
      hatches.emplace_back(p);
  return hatches;
}

std::vector<GripId> grips_near(const Site& site, const model::Structure& structure,
                               const std::vector<model::PlaceId>& places) {
  std::vector<GripId> grips;
  for (const auto id : places) {
    const auto& place = structure.places[id.index()];
    const auto near = site.graph->find_grips_within(structure.position(place, site.configuration), place.within_m);
    grips.insert(grips.end(), near.begin(), near.end());
  }
  std::sort(grips.begin(), grips.end());
  grips.erase(std::unique(grips.begin(), grips.end()), grips.end());
  return grips;
}

namespace {

std::string key_of(const model::Configuration& configuration) {
  std::string key;
  for (const auto& [id, position] : configuration.positions) key += id + "=" + position + " ";
  return key;
}

std::string key_of(const model::Configuration& configuration, const model::Suit& suit) {
  return key_of(configuration) + "| " + suit.id;
}

std::string key_of(const Site& site) { return key_of(site.configuration, *site.suit); }

}  // namespace

std::string text_of(const Vec3& p) { return fmt::format("{:.17g},{:.17g},{:.17g}", p.x(), p.y(), p.z()); }

Legs::Legs(const model::Structure& structure, const model::Kit& kit, const model::Configuration& configuration,
           const geometry::Scene* first)
    : structure_(structure), kit_(kit), first_(first), first_key_(key_of(configuration)) {}

const Site& Legs::site(const model::Configuration& configuration, const model::Suit& suit) {
  auto& site = sites_[key_of(configuration, suit)];
  if (site) return *site;
  const geometry::Scene* scene = first_;
  if (!first_ || key_of(configuration) != first_key_) {
    auto& built = scenes_[key_of(configuration)];
    if (!built) built = std::make_unique<geometry::Scene>(geometry::build_scene(structure_, configuration));
    scene = built.get();
  }
  site = std::make_unique<Site>();
  site->suit = &suit;
  site->scene = scene;
  site->configuration = configuration;
  site->graph = std::make_unique<HandrailGraph>(graph::build_handrail_graph(*scene, graph::body_of(suit, kit_.design)));
  for (std::size_t r = 0; r < structure_.rails.size(); ++r) {
    const auto& rail = structure_.rails[r];
    if (!(rail.use.hands || rail.use.tether || rail.use.cable) ||
        !structure_.is_present(model::RailId(r), configuration))
      continue;
    std::vector<Vec3> line;
    for (const Vec3& point : rail.points) line.push_back(structure_.pose(rail.part, configuration) * point);
    const auto hit = geometry::find_first_touch(*scene, line);
    if (!hit) continue;
    site->buried.emplace_back(r);
    const bool is_told = std::any_of(buried_.begin(), buried_.end(), [&](const Buried& b) {
      return b.rail.index() == r && b.configuration == configuration;
    });
    if (!is_told) buried_.push_back({model::RailId(r), hit->part, hit->point, configuration});
  }
  return *site;
}

const OpenTable& Legs::bare_table(const Site& site, route::Objective by, const std::vector<model::RailId>& closed) {
  std::string key = fmt::format("{}|{}|", key_of(site), static_cast<int>(by));
  for (const auto rail : closed) key += fmt::format("{} ", rail.value);
  const auto known = bare_tables_.find(key);
  if (known != bare_tables_.end()) return known->second;
  OpenTable table;
  table.closures.rails = closed;
  for (const auto rail : site.buried)
    if (std::find(closed.begin(), closed.end(), rail) == closed.end()) table.closures.rails.push_back(rail);
  const route::Profile profile{.kit = kit_, .suit = *site.suit, .closures = {table.closures.rails}};
  auto costs = route::compute_costs(*site.graph, profile, by);
  table.costs = std::move(costs.by_move);
  table.is_open.resize(site.graph->grips().size());
  for (std::size_t g = 0; g < table.is_open.size(); ++g) table.is_open[g] = costs.grip_blocks[g] == 0;
  return bare_tables_.emplace(std::move(key), std::move(table)).first->second;
}

const OpenTable& Legs::table(const Site& site, route::Objective by, const Closings& closings) {
  if (closings.obstacles.empty()) return bare_table(site, by, closings.rails);
  std::string key = fmt::format("{}|{}|", key_of(site), static_cast<int>(by)) + closings.key();
  const auto known = tables_.find(key);
  if (known != tables_.end()) return known->second;
  OpenTable table = bare_table(site, by, closings.rails);
  for (const Obstacle& obstacle : closings.obstacles) close_by(*site.graph, obstacle, kit_.design.grip_length_m, table);
  return tables_.emplace(std::move(key), std::move(table)).first->second;
}

route::LoadCache& Legs::cache(const Site& site, const std::vector<const model::Load*>& loads,
                              const Closings& closings) {
  const std::string boxes_key = closings.obstacles.empty() ? std::string() : Closings{{}, closings.obstacles}.key();
  std::string key = key_of(site);
  for (const auto* load : loads) key += fmt::format(" {}:{:.6f}", load->id, load->mass_kg.value);
  auto& cache = caches_[key + "|" + boxes_key];
  if (cache) return *cache;
  const geometry::Scene* boxes = boxes_of(closings);
  cache = std::make_unique<route::LoadCache>(boxes ? route::load_cache_among(*site.graph, loads, *boxes)
                                                   : route::LoadCache(*site.graph, loads));
  return *cache;
}

void Legs::pull(tether::Reel& reel, const geometry::Scene& scene, std::span<const Vec3> through) {
  // Both rights of way, and orders that begin alike, pull the same lines.
  const geometry::Scene* at = &scene;
  std::string key(reinterpret_cast<const char*>(&at), sizeof at);
  const auto add = [&](std::span<const Vec3> points) {
    key.append(reinterpret_cast<const char*>(points.data()), points.size_bytes());
  };
  add(reel.line().points);
  key += '|';
  add(through);
  constexpr std::size_t most_kept = 20'000;
  const auto known = pulled_.find(key);
  if (known != pulled_.end()) {
    reel = known->second;
    return;
  }
  if (pulled_.size() >= most_kept) pulled_.clear();
  (void)reel.go(through);
  pulled_.emplace(std::move(key), reel);
}

const geometry::Scene* Legs::boxes_of(const Closings& closings) {
  if (closings.obstacles.empty()) return nullptr;
  auto& boxes = boxes_[Closings{{}, closings.obstacles}.key()];
  if (!boxes) boxes = std::make_unique<BoxScene>(closings.obstacles);
  return &boxes->scene();
}

std::optional<double> Legs::time_along(const Site& site, const std::vector<const model::Load*>& loads,
                                       const Closings& closings, const std::vector<GripId>& grips) {
  const route::Profile profile{
      .kit = kit_, .suit = *site.suit, .closures = {}, .loads = loads, .counts_handling = false};
  return route::time_along(*site.graph, profile, cache(site, loads, closings), grips);
}

const model::Load* Legs::heavier(const model::Load& load, double more_kg) {
  if (more_kg <= 0) return &load;
  auto& kept = heavier_[fmt::format("{} {:.6f}", load.id, more_kg)];
  if (!kept) {
    kept = std::make_unique<model::Load>(load);
    kept->mass_kg.value += more_kg;
  }
  return kept.get();
}

const LegOutcome& Legs::find(const LegQuestion& q, const Closings& closings) {
  std::string key = fmt::format("{}|{}|", key_of(*q.site), static_cast<int>(q.by));
  for (const auto* load : q.loads) key += fmt::format("{}:{:.6f} ", load->id, load->mass_kg.value);
  for (const GripId g : q.from) key += fmt::format("f{} ", g.value);
  for (const GripId g : q.to) key += fmt::format("t{} ", g.value);
  key += q.from_place + "|" + q.to_place + "|" + closings.key();
  const auto known = found_.find(key);
  if (known != found_.end()) return known->second;
  return found_.emplace(key, q.loads.empty() ? search_free(q, closings) : search_loaded(q, closings)).first->second;
}

LegOutcome Legs::search_free(const LegQuestion& q, const Closings& closings) {
  const HandrailGraph& graph = *q.site->graph;
  const OpenTable& open = table(*q.site, q.by, closings);
  std::vector<search::Seed> from, to;
  for (const GripId g : q.from)
    if (open.is_open[g.index()] || q.from.size() == 1) from.push_back({g.value, {}});
  for (const GripId g : q.to)
    if (open.is_open[g.index()]) to.push_back({g.value, {}});
  LegOutcome outcome;
  if (from.empty() || to.empty()) return outcome;
  const auto path = query_.find(graph.adjacency(), open.costs, from, to);
  if (!path) return outcome;
  const route::Profile profile{.kit = kit_, .suit = *q.site->suit, .closures = {closings.rails}};
  const route::Pace pace = route::pace_of(profile);
  FoundLeg leg;
  for (const auto node : path->nodes) leg.grips.emplace_back(node);
  for (const auto m : path->moves) {
    const auto& move = graph.moves()[m];
    leg.moves.push_back({MoveId(m), route::compute_move_time(move, pace).sum_s()});
    leg.distance_m += move.way_m;
  }
  if (!leg.moves.empty()) leg.moves.front().time_s += pace.start_s, leg.moves.back().time_s += pace.stop_s;
  for (const auto& move : leg.moves) leg.time_s += move.time_s;
  outcome.leg = std::move(leg);
  return outcome;
}

LegOutcome Legs::search_loaded(const LegQuestion& q, const Closings& closings) {
  const HandrailGraph& graph = *q.site->graph;
  const OpenTable& open = table(*q.site, q.by, closings);
  LegOutcome outcome;
  std::vector<GripId> from = q.from;
  if (from.size() > 1) std::erase_if(from, [&](GripId g) { return !open.is_open[g.index()]; });
  // Targets in the order in which one without loads would reach them: the first that the load reaches too is taken.
  std::vector<GripId> targets;
  LegQuestion bare = q;
  bare.loads.clear();
  bare.to_place.clear();
  std::vector<GripId> left = q.to;
  constexpr std::size_t most_targets = 3;
  while (targets.size() < most_targets && !left.empty()) {
    bare.to = left;
    const LegOutcome& plain = find(bare, closings);
    if (!plain.leg) break;
    const GripId end = plain.leg->grips.back();
    targets.push_back(end);
    std::erase(left, end);
  }
  if (targets.empty() || from.empty()) return outcome;
  route::LoadCache& cache = this->cache(*q.site, q.loads, closings);
  // A place is asked for as a whole, so that the load has its own best grip there.
  std::vector<std::string> asked;
  if (!q.to_place.empty()) asked.push_back(q.to_place);
  for (const GripId target : targets) asked.push_back(text_of(graph.grip(target).hand));
  const route::Profile profile{
      .kit = kit_, .suit = *q.site->suit, .closures = open.closures, .loads = q.loads, .counts_handling = false};
  for (const std::string& target : asked) {
    route::RouteRequest request{.from = q.from_place, .to = target, .by = q.by};
    if (from.size() == 1) {
      request.from = structure_.rails[graph.grip(from.front()).rail.index()].id;
      request.start = route::Departure{from.front().index()};
    }
    request.point_radius_m = 1e-5;
    request.load_cache = &cache;
    request.explains_loads = false;
    const auto answer = route::find_route(graph, profile, request);
    const route::Route* route = answer.route();
    if (!route) {
      if (outcome.none.causes.empty()) {
        outcome.none = {answer.no_route()->causes, answer.is_certain};
        // What is stowed closes grips: that is told by its item, not as a closed rail.
        std::erase_if(outcome.none.causes, [&](const route::Cause& cause) {
          return cause.kind == route::CauseKind::Closures &&
                 std::none_of(cause.rails.begin(), cause.rails.end(), [&](model::RailId rail) {
                   return std::find(closings.rails.begin(), closings.rails.end(), rail) != closings.rails.end();
                 });
        });
      }
      continue;
    }
    const auto& poses = route->legs.front().poses;
    FoundLeg leg;
    double at_s = 0;
    for (std::size_t i = 0; i < poses.size(); ++i) {
      const GripId grip(poses[i].grip);
      if (i > 0) {
        const auto move = graph.find_move(leg.grips.back(), grip);
        model::ensure(move.has_value(), "a route goes by moves of its graph");
        leg.moves.push_back({*move, poses[i].at_s - at_s});
        at_s = poses[i].at_s;
        leg.distance_m += graph.move(*move).way_m;
      }
      leg.grips.push_back(grip);
    }
    if (!leg.moves.empty()) leg.moves.back().time_s += route->time_s - at_s;
    for (const auto& move : leg.moves) leg.time_s += move.time_s;
    outcome.leg = std::move(leg);
    return outcome;
  }
  return outcome;
}

const std::vector<double>& Legs::home(const Site& site, const std::vector<GripId>& hatches, const Closings& closings,
                                      bool avoids_limit_zones) {
  std::string key = key_of(site) + (avoids_limit_zones ? "|" : "+") + closings.key() + "|";
  for (const GripId g : hatches) key += fmt::format("{} ", g.value);
  // Trees from anywhere but hatches are asked for in a row and then no more: few of them are kept.
  auto& kept = avoids_limit_zones ? homes_ : trees_;
  const auto known = kept.find(key);
  if (known != kept.end()) return known->second;
  constexpr std::size_t most_trees = 16;
  if (!avoids_limit_zones && kept.size() >= most_trees) kept.clear();
  const HandrailGraph& graph = *site.graph;
  const OpenTable& open = table(site, route::Objective::Time, closings);
  auto costs = open.costs;
  const auto is_limited = [&](std::span<const graph::ZoneLabel> labels) {
    return avoids_limit_zones && std::any_of(labels.begin(), labels.end(), [&](const graph::ZoneLabel& label) {
             return graph.structure().zones[label.zone.index()].effect == model::ZoneEffect::Limit;
           });
  };
  for (std::size_t m = 0; m < costs.size(); ++m)
    if (is_limited(graph.zones(MoveId(m)))) costs[m] = Cost::blocked();
  std::vector<search::Seed> seeds;
  for (const GripId g : hatches)
    if (open.is_open[g.index()] || !avoids_limit_zones) seeds.push_back({g.value, {}});
  const route::Profile profile{.kit = kit_, .suit = *site.suit, .closures = {closings.rails}};
  const route::Pace pace = route::pace_of(profile);
  // From inside of a limit zone the path out of it is taken as it comes; from elsewhere none leads through one.
  search::ShortestTree tree, tree_inside;
  tree.grow(graph.adjacency(), costs, seeds);
  if (avoids_limit_zones) tree_inside.grow(graph.adjacency(), open.costs, seeds);
  std::vector<double> times(graph.grips().size(), std::numeric_limits<double>::infinity());
  for (std::uint32_t g = 0; g < times.size(); ++g) {
    const Cost cost = is_limited(graph.zones(GripId(g))) ? tree_inside.cost(g) : tree.cost(g);
    if (cost.is_blocked()) continue;
    times[g] = cost.primary() == 0
                   ? 0
                   : static_cast<double>(cost.primary()) / search::cost_units_per_second + pace.start_s + pace.stop_s;
  }
  return kept.emplace(std::move(key), std::move(times)).first->second;
}

}  // namespace holdfast::plan::detail
