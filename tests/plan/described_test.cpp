// SPDX-License-Identifier: GPL-3.0-or-later
// What legs and items of a finished plan are told with, beside what the geometry and the rows say themselves.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "holdfast/geometry/scene.h"
#include "holdfast/graph/handrail_graph.h"
#include "holdfast/route/costs.h"
#include "holdfast/route/described.h"
#include "holdfast/route/route.h"
#include "small_model.h"

namespace holdfast::plan {
namespace {

const std::string yard_folder = std::string(HOLDFAST_SOURCE_DIR) + "/models/yard";
const model::Model& yard() {
  static const model::Model model = [] {
    auto read = model::read_model(yard_folder);
    read.kit.design.kick_band_m.value = 1.5;  // so that paths come near what must not be touched
    return read;
  }();
  return model;
}
const PlanOptions told{.looks_back = false, .describes_legs = true};

/// Legs of two crew members past what must not be touched and through zones, with and without a bag, a dish thrown.
const model::Excursion& rounds() {
  static const model::Excursion excursion = sample::excursion(yard(), R"(
crew:
  - {id: EV1, start: lock-hatch, sequence: [{go: dish-service}, {go: battery-bay}, {go: hub-nadir}, {go: radiator-valve-aft}]}
  - {id: EV2, start: lock-hatch, sequence: [{take: bag}, {go: port-window}, {wait_for: aim}, {go: collar-bag-stow}, {hold_until: 0:30:00}]}
items:
  - {id: bag, load: tool-bag, at: lock-hatch}
events:
  - {id: aim, throw: {dish: tracking}, at: 0:08:00, takes: 1 min}
)");
  return excursion;
}

Plan simulated(const PlanOptions& options) {
  return simulate(yard(), yard().structure.default_configuration(), rounds(), options);
}

struct Yard {
  explicit Yard(const model::Configuration& configuration, const model::Suit& suit)
      : scene(geometry::build_scene(yard().structure, configuration)),
        graph(graph::build_handrail_graph(scene, graph::body_of(suit, yard().kit.design))) {}
  geometry::Scene scene;
  graph::HandrailGraph graph;
};

/// The move of a leg from one stop to the next.
graph::MoveId move_between(const graph::HandrailGraph& graph, const Stop& a, const Stop& b) {
  const auto grip = [&](const Stop& stop) {
    const auto [first, last] = graph.grips_of(stop.rail);
    for (auto g = first; g < last; ++g)
      if ((graph.grips()[g].hand - stop.hand).norm() < 1e-6 &&
          (graph.body_point(graph::GripId(g)) - stop.body).norm() < 1e-6)
        return graph::GripId(g);
    throw std::runtime_error("no such grip");
  };
  return graph.find_move(grip(a), grip(b)).value();
}

TEST(DescribedLegs, AreThoseWithAPathAndAddUpToTheirRows) {
  const auto plan = simulated(told);
  std::size_t legs = 0;
  for (std::size_t r = 0; r < plan.rows.size(); ++r) {
    const auto& row = plan.rows[r];
    if (row.what != What::Go) continue;
    ++legs;
    ASSERT_TRUE(plan.legs.count(r)) << r;
    const auto& leg = plan.legs.at(r);
    EXPECT_TRUE(leg.has_loads);
    ASSERT_EQ(leg.route.legs.size(), 1u);
    const auto& rows = leg.route.legs.front().rows;
    EXPECT_EQ(leg.route.legs.front().poses.size(), row.path.size());
    EXPECT_EQ(rows.back().total_moves, row.moves);
    EXPECT_NEAR(rows.back().total_distance_m, row.distance_m, 1e-6);
    EXPECT_NEAR(rows.back().total_time_s, row.to_s - row.from_s, 1e-6);
    double sum_s = 0;
    for (const auto& told_row : rows) {
      sum_s += told_row.time_s;
      EXPECT_NEAR(told_row.total_time_s, row.path[told_row.total_moves].arrives_s - row.from_s, 1e-9);
      EXPECT_EQ(told_row.rail, row.path[told_row.total_moves].rail);
      EXPECT_NEAR((told_row.hand - row.path[told_row.total_moves].hand).norm(), 0, 1e-9);
    }
    EXPECT_NEAR(sum_s, row.to_s - row.from_s, 1e-6);
  }
  EXPECT_GT(legs, 7u);
  EXPECT_EQ(plan.legs.size(), legs);
}

TEST(DescribedLegs, ChangeNothingElseOfThePlan) {
  const auto plan = simulated(told), bare = simulated({.looks_back = false});
  EXPECT_TRUE(bare.legs.empty());
  ASSERT_EQ(plan.rows.size(), bare.rows.size());
  for (std::size_t r = 0; r < plan.rows.size(); ++r) EXPECT_EQ(plan.rows[r].to_s, bare.rows[r].to_s);
}

// Every part that must not be touched within the kick band of a body or a hand, and every zone that a corridor enters,
// is told: dense sampling of the path says which.
TEST(DescribedLegs, MissNoPartInTheKickBandAndNoZone) {
  const auto plan = simulated(told);
  const auto& structure = yard().structure;
  const auto& suit = *yard().kit.find_suit(rounds().crew[0].suit);
  std::map<std::string, std::unique_ptr<Yard>> yards;
  std::size_t near_parts = 0, entered = 0;
  for (const auto& [r, leg] : plan.legs) {
    const auto& row = plan.rows[r];
    const auto configuration = configuration_at(plan, row.from_s);
    auto& here = yards[configuration.positions.at("dish")];
    if (!here) here = std::make_unique<Yard>(configuration, suit);
    constexpr int samples = 12;
    std::map<std::size_t, double> part_m, zone_s;
    for (std::size_t i = 0; i + 1 < row.path.size(); ++i) {
      const auto move = move_between(here->graph, row.path[i], row.path[i + 1]);
      for (int k = 0; k <= samples; ++k) {
        const double t = static_cast<double>(k) / samples;
        const Vec3 body = here->graph.body_at(move, t);
        for (std::size_t p = 0; p < structure.parts.size(); ++p) {
          if (!structure.parts[p].no_touch && !structure.parts[p].fragile) continue;
          const double d = here->scene.distance_to_part(model::PartId(p), body, 2);
          auto& least = part_m.try_emplace(p, d).first->second;
          least = std::min(least, d);
        }
        for (std::size_t z = 0; z < structure.zones.size(); ++z) {
          const auto& zone = structure.zones[z];
          if (!zone.when.holds(configuration) || !zone.applies.body) continue;
          if (here->scene.zone_distance(model::ZoneId(z), body) < suit.corridor_radius_m() - 1e-6)
            zone_s[z] = std::max(zone_s[z], row.path[i + 1].arrives_s - row.path[i].leaves_s);
        }
      }
    }
    for (const auto& [p, d] : part_m) {
      if (d > yard().kit.design.kick_band_m) continue;
      ++near_parts;
      const auto found = std::find_if(leg.route.band.begin(), leg.route.band.end(),
                                      [&, part = p](const auto& item) { return item.part.index() == part; });
      ASSERT_NE(found, leg.route.band.end()) << row.subject << " " << structure.parts[p].id;
      EXPECT_LE(found->distance_m, d + 1e-6);
    }
    for (const auto& [z, seconds] : zone_s) {
      ++entered;
      const auto found = std::find_if(leg.route.zones.begin(), leg.route.zones.end(),
                                      [&, zone = z](const auto& contact) { return contact.zone.index() == zone; });
      ASSERT_NE(found, leg.route.zones.end()) << row.subject << " " << structure.zones[z].id;
      EXPECT_GE(found->inside_s, seconds - 1e-6) << structure.zones[z].id;
    }
  }
  EXPECT_GT(near_parts, 0u);
  EXPECT_GT(entered, 0u);
}

TEST(DescribedLegs, StaysOfASlowerCrewMemberAreNoShorter) {
  auto slower = told;
  slower.slower["EV1"] = 2;
  const auto plan = simulated(told), slow = simulated(slower);
  std::size_t compared = 0;
  for (const auto& [r, leg] : plan.legs) {
    if (plan.rows[r].crew->index() != 0) continue;
    for (const auto& [k, other] : slow.legs) {
      if (slow.rows[k].crew->index() != 0 || slow.rows[k].subject != plan.rows[r].subject ||
          slow.rows[k].moves != plan.rows[r].moves)
        continue;
      for (std::size_t z = 0; z < std::min(leg.route.zones.size(), other.route.zones.size()); ++z)
        if (leg.route.zones[z].zone == other.route.zones[z].zone) {
          EXPECT_GE(other.route.zones[z].inside_s, 2 * leg.route.zones[z].inside_s - 1e-6);
          compared += leg.route.zones[z].inside_s > 0;
        }
    }
  }
  EXPECT_GT(compared, 0u);
}

// The same as `find_route` tells of the same path: rows, zones and the loads' poses.
TEST(DescribedPath, IsWhatARouteSaysOfItself) {
  const auto& suit = yard().kit.suits.front();
  const Yard here(yard().structure.default_configuration(), suit);
  for (const bool is_loaded : {false, true}) {
    route::Profile profile{.kit = yard().kit, .suit = suit};
    profile.counts_handling = false;
    if (is_loaded) profile.loads = {yard().kit.find_load("bulky-bag")};
    const auto answer = route::find_route(here.graph, profile, {.from = "lock-hatch", .to = "battery-bay"});
    ASSERT_TRUE(answer.route());
    const auto& route = *answer.route();
    route::GivenPath path{"lock-hatch", "battery-bay", {}};
    for (const auto& pose : route.legs.front().poses) path.grips.emplace_back(pose.grip);
    const auto again = route::describe_path(here.graph, profile, path);
    EXPECT_TRUE(again.has_loads);
    EXPECT_NEAR(again.route.time_s, route.time_s, 1e-9);
    EXPECT_EQ(again.route.clearance.value_m, route.clearance.value_m);
    ASSERT_EQ(again.route.legs.front().rows.size(), route.legs.front().rows.size());
    ASSERT_EQ(again.route.band.size(), route.band.size());
    ASSERT_EQ(again.route.zones.size(), route.zones.size());
    for (std::size_t z = 0; z < route.zones.size(); ++z)
      EXPECT_EQ(again.route.zones[z].inside_s, route.zones[z].inside_s);
    for (std::size_t i = 0; i < route.legs.front().poses.size(); ++i) {
      const auto &a = again.route.legs.front().poses[i], &b = route.legs.front().poses[i];
      ASSERT_EQ(a.loads.size(), b.loads.size());
      for (std::size_t k = 0; k < a.loads.size(); ++k) EXPECT_EQ(a.loads[k].middle, b.loads[k].middle);
    }
  }
}

TEST(DescribedPath, SaysWhereLoadsDoNotPass) {
  const auto& suit = yard().kit.suits.front();
  const Yard here(yard().structure.default_configuration(), suit);
  const auto bare =
      route::find_route(here.graph, {.kit = yard().kit, .suit = suit}, {.from = "lock-hatch", .to = "battery-bay"});
  model::Load huge = *yard().kit.find_load("bulky-bag");
  huge.size_m = Vec3::Constant(6);
  const route::Profile profile{.kit = yard().kit, .suit = suit, .loads = {&huge}};
  route::GivenPath path{"a", "b", {}};
  for (const auto& pose : bare.route()->legs.front().poses) path.grips.emplace_back(pose.grip);
  const auto described = route::describe_path(here.graph, profile, path);
  EXPECT_FALSE(described.has_loads);
  EXPECT_TRUE(described.route.legs.front().poses.front().loads.empty());
  EXPECT_FALSE(described.route.load_clearance);
}

// ---- items ----

const char* const errands = R"(
limit: 2 h
ingress: 1 min
crew:
  - id: A
    start: hatch
    tethers: [reel]
    anchor: hook
    sequence: [{take: b}, {put: c, into: b}, {go: site}, {stow: b, on: [main]}, {go: depot}, {take: f}, {hand_over: f, to: B}, {take: b}, return]
  - id: B
    start: hatch
    sequence: [{go: depot}, {receive: f, from: A}, {set_up: f, in: socket}, {do: look}, {take_down: f}, {go: depot}, {put: f}, return]
items:
  - {id: b, load: bag, at: hatch}
  - {id: c, load: case, in: b}
  - {id: f, load: frame, restraint: portable, at: depot, home: depot}
tasks:
  - {id: look, at: site, duration: 2 min, needs: {restraint_in: socket}}
)";

/// The same as the plan's own end, and as what each row says is carried.
void expect_items_follow(const Plan& plan) {
  const auto& e = *plan.excursion;
  std::vector<std::vector<const ItemStay*>> of(e.items.size());
  for (const auto& stay : plan.stays) of[stay.where.item.index()].push_back(&stay);
  for (std::size_t i = 0; i < of.size(); ++i) {
    ASSERT_FALSE(of[i].empty());
    EXPECT_EQ(of[i].front()->from_s, 0);
    for (std::size_t k = 1; k < of[i].size(); ++k) EXPECT_GE(of[i][k]->from_s, of[i][k - 1]->from_s);
    const auto& last = of[i].back()->where;
    const auto& end = plan.items[i];
    EXPECT_EQ(last.container, end.container);
    if (!end.container.empty()) continue;
    EXPECT_EQ(last.place, end.place);
    EXPECT_EQ(last.socket, end.socket);
    EXPECT_EQ(last.rails, end.rails);
    EXPECT_EQ(last.is_inside, end.is_inside);
  }
  for (const auto& row : plan.rows) {
    if (!row.crew || row.kind == RowKind::Handling || row.to_s <= row.from_s) continue;
    const double at_s = (row.from_s + row.to_s) / 2;
    for (std::size_t i = 0; i < of.size(); ++i) {
      const ItemStay* now = nullptr;
      for (const auto* stay : of[i])
        if (stay->from_s <= at_s) now = stay;
      const bool is_carried = std::find(row.carried.begin(), row.carried.end(), e.items[i].id) != row.carried.end();
      EXPECT_EQ(is_carried, now->where.crew == e.crew[row.crew->index()].id)
          << e.items[i].id << " at " << at_s << " " << now->where.place;
    }
  }
}

TEST(Items, AreWhereTheRowsTakeThem) {
  const auto model = sample::line_model();
  const auto excursion = sample::excursion(model, errands);
  const auto plan = sample::run(model, excursion, told);
  expect_items_follow(plan);
  std::size_t boxes = 0;
  for (const auto& stay : plan.stays) {
    EXPECT_EQ(stay.box.has_value(), !stay.where.socket.empty() || !stay.where.rails.empty());
    boxes += stay.box.has_value();
  }
  EXPECT_EQ(boxes, 2u);
}

TEST(Items, OfTheYardsExcursionsAreWhereTheRowsTakeThem) {
  for (const char* name : {"/excursion-short.yaml", "/excursion-broken.yaml"}) {
    const auto excursion = model::read_excursion(yard_folder + name, yard());
    expect_items_follow(simulate(yard(), yard().structure.default_configuration(), excursion, {.looks_back = false}));
  }
}

}  // namespace
}  // namespace holdfast::plan
