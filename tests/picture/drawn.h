// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Pictures for the tests: of small structures by hand, and of the demo yard with answers of the engine on it.

#include <memory>
#include <string>
#include <vector>

#include "holdfast/geometry/scene.h"
#include "holdfast/graph/handrail_graph.h"
#include "holdfast/model/read.h"
#include "holdfast/picture/write.h"
#include "holdfast/route/choices.h"
#include "holdfast/route/home.h"
#include "yard_builder.h"

namespace holdfast::picture {

using model::Vec3;

/// A structure with its kit and scene, kept together so that references stay good.
struct Drawn {
  explicit Drawn(model::Structure made, std::vector<std::string> states = {}) : structure_(std::move(made)) {
    kit_.suits.push_back(model::default_suit());
    kit_.suits.front().id = "standard";
    kit_.design = model::default_design_values();
    build(states);
  }
  explicit Drawn(model::Model made, std::vector<std::string> states = {})
      : structure_(std::move(made.structure)), kit_(std::move(made.kit)) {
    build(states);
  }
  Drawn(const Drawn&) = delete;
  Drawn& operator=(const Drawn&) = delete;

  void build(const std::vector<std::string>& states) {
    scene_ = std::make_unique<geometry::Scene>(
        geometry::build_scene(structure_, model::configure(structure_, states), {.chord_error_m = 0.004}));
    context_ =
        std::make_unique<report::Context>(report::Context{structure_, kit_, kit_.suits.front(), "here", "9.8.7"});
  }
  /// Searches are asked for on this.
  const graph::HandrailGraph& graph() {
    if (!graph_)
      graph_ = std::make_unique<graph::HandrailGraph>(
          graph::build_handrail_graph(*scene_, graph::body_of(kit_.suits.front(), kit_.design)));
    return *graph_;
  }
  route::Profile profile(const std::vector<std::string>& loads = {}) {
    route::Profile made{.kit = kit_, .suit = kit_.suits.front()};
    for (const auto& load : loads) made.loads.push_back(kit_.find_load(load));
    return made;
  }
  route::Answer route(const std::string& from, const std::string& to, const std::vector<std::string>& loads = {}) {
    return route::find_route(graph(), profile(loads), {.from = from, .to = to});
  }
  /// The picture with results on it, each through its JSON, as the command does it.
  Picture picture(const std::vector<std::string>& documents = {}) {
    Picture made = draw_structure(*context_, *scene_);
    for (const auto& document : documents)
      add_result(made, *context_, *scene_, report::read_result("result.json", document, structure_, context_->kit));
    return made;
  }
  template <class Result>
  std::string json(const Result& result) const {
    return report::json(*context_, result);
  }

  model::Structure structure_;
  model::Kit kit_;
  std::unique_ptr<geometry::Scene> scene_;
  std::unique_ptr<report::Context> context_;
  std::unique_ptr<graph::HandrailGraph> graph_;
};

inline Drawn& demo_yard() {
  static Drawn yard(model::read_model(std::string(HOLDFAST_SOURCE_DIR) + "/models/yard"));
  return yard;
}

/// A box of 4 x 2 x 1 m about the origin with a rail on its zenith side, one on its nadir side and places on both.
inline model::Structure brick() {
  support::YardBuilder yard;
  const auto part = yard.part("brick", model::Box{.center = {0, 0, 0}, .size = {4, 2, 1}});
  yard.rail("top", part, {{-1.5, 0.3, -0.57}, {1.5, 0.3, -0.57}}, {-Vec3::UnitZ()});
  yard.rail("below", part, {{-1, 0, 0.57}, {1, 0, 0.57}}, {Vec3::UnitZ()});
  yard.place("start", {-1.5, 0.3, -0.57}, 0.2);
  yard.place("end", {1.5, 0.3, -0.57}, 0.2);
  yard.zone("veil", model::Sphere{.center = {0, 0, -3}, .radius = 0.5});
  return yard.structure;
}

}  // namespace holdfast::picture
