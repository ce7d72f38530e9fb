// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Small structures written in a test: parts, rails, places and zones by hand, without files.

#include <string>
#include <utility>
#include <vector>

#include "holdfast/geometry/scene.h"
#include "holdfast/graph/handrail_graph.h"
#include "holdfast/model/kit.h"
#include "holdfast/model/structure.h"
#include "holdfast/route/route.h"

namespace holdfast::support {

using model::PartId;
using model::PlaceId;
using model::RailId;
using model::Vec3;
using model::ZoneId;

class YardBuilder {
 public:
  PartId part(std::string id, model::Shape shape, model::Pose at = model::Pose::Identity()) {
    model::Part p;
    p.id = p.name = std::move(id);
    p.shape = std::move(shape);
    p.at = at;
    structure.parts.push_back(std::move(p));
    return PartId(structure.parts.size() - 1);
  }
  /// A part that carries rails far from any surface that could be in the way: a pebble 900 m off.
  PartId nowhere() { return part("pebble", model::Sphere{.center = {900, 0, 0}, .radius = 0.01}); }

  RailId rail(std::string id, PartId on, std::vector<Vec3> points, std::vector<Vec3> outward = {}) {
    model::Rail r;
    r.id = std::move(id);
    r.part = on;
    r.points = std::move(points);
    for (const auto& direction : outward) r.outward.push_back({direction.normalized()});
    structure.rails.push_back(std::move(r));
    return RailId(structure.rails.size() - 1);
  }
  PlaceId place(std::string id, Vec3 at, double within_m = 0.1, model::PlaceKind kind = model::PlaceKind::Other) {
    model::Place p;
    p.id = p.name = std::move(id);
    p.at = at;
    p.within_m = within_m;
    p.kind = kind;
    structure.places.push_back(std::move(p));
    return PlaceId(structure.places.size() - 1);
  }
  ZoneId zone(std::string id, model::ZoneShape shape, model::ZoneEffect effect = model::ZoneEffect::Forbid,
              model::ZoneApplies applies = {.body = true}) {
    model::Zone z;
    z.id = std::move(id);
    z.shape = std::move(shape);
    z.effect = effect;
    z.applies = applies;
    z.reason = "test";
    structure.zones.push_back(std::move(z));
    return ZoneId(structure.zones.size() - 1);
  }

  model::Structure structure;
};

/// Structure, scene, kit and graph kept together, so that references stay good.
class World {
 public:
  explicit World(model::Structure built, graph::Body body = {}, const model::Configuration* configuration = nullptr)
      : structure(std::move(built)),
        scene(geometry::build_scene(structure, configuration ? *configuration : structure.default_configuration())),
        graph(graph::build_handrail_graph(scene, body)) {
    kit.design = model::default_design_values();
    kit.suits.push_back(model::default_suit());
    kit.suits.front().id = "suit";
  }
  World(const World&) = delete;
  World& operator=(const World&) = delete;

  [[nodiscard]] route::Answer route(const std::string& from, const std::string& to,
                                    route::Objective by = route::Objective::Time, std::vector<RailId> closed = {},
                                    std::vector<std::string> via = {}) const {
    return route::find_route(graph, {.kit = kit, .suit = kit.suits.front(), .closures = {std::move(closed)}},
                             {.from = from, .to = to, .via = std::move(via), .by = by});
  }

  const model::Structure structure;
  const geometry::Scene scene;
  const graph::HandrailGraph graph;
  model::Kit kit;
};

/// Ids of the rails that a route's rows visit, in order.
inline std::vector<std::string> rails_of(const model::Structure& structure, const route::Route& route) {
  std::vector<std::string> ids;
  for (const auto& leg : route.legs)
    for (const auto& row : leg.rows)
      if (ids.empty() || ids.back() != structure.rails[row.rail.index()].id)
        ids.push_back(structure.rails[row.rail.index()].id);
  return ids;
}

}  // namespace holdfast::support
