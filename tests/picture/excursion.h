// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Excursions for pictures and hand-outs, each through its JSON as the command does it.

#include <map>
#include <memory>
#include <string>

#include "../plan/small_model.h"
#include "drawn.h"
#include "holdfast/picture/plan_handout.h"
#include "holdfast/plan/plan.h"
#include "holdfast/report/plan.h"

namespace holdfast::picture::sample {

/// What a command says of an excursion, and what is read from that.
struct Trip {
  Trip(const model::Model& model, model::Excursion file, const plan::PlanOptions& options)
      : excursion(std::move(file)),
        plan(plan::simulate(model, model.structure.default_configuration(), excursion, options)),
        context{model.structure, model.kit, model.kit.suits.front(), "here", "9.8.7"},
        json(report::json(context, plan)),
        read(report::read_result("plan.json", json, model.structure, model.kit)) {}
  Trip(const Trip&) = delete;
  Trip& operator=(const Trip&) = delete;
  [[nodiscard]] Handout handout() const { return handout_of(context, *read.plan); }
  [[nodiscard]] Picture picture() const {
    const auto scene = geometry::build_scene(context.structure, plan.configuration, {.chord_error_m = 0.004});
    Picture picture = draw_structure(context, scene);
    add_result(picture, context, scene, read);
    return picture;
  }
  model::Excursion excursion;
  plan::Plan plan;
  report::Context context;
  std::string json;
  report::ReadResult read;
};

/// The short excursion of the demo yard.
inline const Trip& short_trip() {
  static const model::Model model{demo_yard().structure_, demo_yard().kit_};
  static const Trip trip(
      model, model::read_excursion(std::string(HOLDFAST_SOURCE_DIR) + "/models/yard/excursion-short.yaml", model),
      {.describes_legs = true});
  return trip;
}

/// Two crew members, tether swaps, a hand-over, a bag in a bag, a throw, a hold, a night, and several violations.
inline constexpr const char* busy_text = R"(holdfast: excursion/1
name: "Busy <b>day</b> & night"
limit: 3 h
egress: 10 min
ingress: 5 min
crew:
  - id: EV1
    name: first <crew> member
    start: lock-hatch
    tethers: [reel-26, reel-15]
    anchor: hatch-anchor-1
    sequence:
      - take: outer
      - go: dish-service
      - {do: feed, not_before: 0:30:00}
      - go: radiator-valve-aft
      - swap: stores-anchor
      - go: hub-nadir
      - swap: stores-anchor
      - return
  - id: EV2
    start: lock-hatch
    tethers: [reel-26]
    anchor: hatch-anchor-2
    sequence:
      - go: port-window
      - do: look
      - take: nothing-there
      - go: hub-top
      - return
items:
  - {id: outer, name: "outer </script> bag", load: tool-bag, at: lock-hatch}
  - {id: inner, name: inner bag, load: tool-bag, in: outer}
  - {id: nothing-there, load: bulky-bag, in: inner}
tasks:
  - {id: feed, name: "clean the <feed>", at: dish-service, duration: 10 min, needs: {items: [outer]}}
  - {id: look, at: port-window, duration: 12 min}
events:
  - {id: aim, throw: {dish: tracking}, at: 0:50:00, takes: 2 min}
  - {id: quiet, hold: [EV1, EV2], at: 0:20:00, for: 4 min, work: false}
orbit: {period: 90 min, night: 30 min, first_sunset: 20 min}
)";
inline const Trip& busy_trip() {
  static const model::Model model = [] {
    model::Model read{demo_yard().structure_, demo_yard().kit_};
    read.kit.design.kick_band_m.value = 1.5;  // so that paths come near what must not be touched
    return read;
  }();
  static const Trip trip(model, model::read_excursion_text(busy_text, model),
                         {.looks_back = false, .describes_legs = true});
  return trip;
}

}  // namespace holdfast::picture::sample
