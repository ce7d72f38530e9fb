// SPDX-License-Identifier: GPL-3.0-or-later
// Stays in caution zones over a whole excursion.

#include <gtest/gtest.h>

#include <random>

#include "small_model.h"

namespace holdfast::plan {
namespace {

using sample::excursion;

model::Model model_with_zone(const model::Vec3& middle, double radius_m) {
  auto model = sample::line_model();
  model::Zone zone;
  zone.id = "warm";
  zone.shape = model::Sphere{middle, radius_m};
  zone.effect = model::ZoneEffect::Caution;
  zone.applies.body = zone.applies.hands = true;
  model.structure.zones.push_back(zone);
  return model;
}

double stay_of(const Plan& plan, std::size_t crew) {
  double stay_s = 0;
  for (const auto& stay : plan.cautions)
    if (stay.crew == CrewId(crew)) stay_s += stay.stay_s;
  return stay_s;
}

TEST(Cautions, CountWorkAndWaitsInTheZone) {
  const auto model = model_with_zone({10, 0, 0}, 1.5);
  const auto e =
      excursion(model,
                "limit: 6 h\ncrew: [{id: A, start: hatch, sequence: [{do: work}, {hold_until: 1:00:00}]}, "
                "{id: B, start: hatch, sequence: [{do: near}]}]\n"
                "tasks: [{id: work, at: site, duration: 10 min}, {id: near, at: depot, duration: 10 min}]\n");
  const auto plan = sample::run(model, e, {.looks_back = false});
  double arrives_s = 0;
  for (const auto& row : plan.rows)
    if (row.crew == CrewId(std::size_t{0}) && row.what == What::Do) arrives_s = row.from_s;
  EXPECT_GE(stay_of(plan, 0), 3600 - arrives_s) << "from the arrival to the end of the hold, and the moves beside it";
  EXPECT_LE(stay_of(plan, 0), 3600 - arrives_s + 120);
  EXPECT_EQ(stay_of(plan, 1), 0) << "the depot is 5 m off";
}

// Never less than a replay in small steps finds of body and hand in the zone, and of legs what `route` counts.
TEST(Cautions, AreNeverLessThanAReplayFinds) {
  std::size_t inside = 0;
  for (unsigned seed = 0; seed < 60; ++seed) {
    SCOPED_TRACE(seed);
    std::mt19937 random(seed);
    const auto below = [&](int n) { return static_cast<int>(random() % static_cast<unsigned>(n)); };
    const model::Vec3 middle(2 + below(17), below(2) * 3, 0);
    const double radius_m = 0.4 + 0.2 * below(6);
    const auto model = model_with_zone(middle, radius_m);
    const char* places[] = {"depot", "site", "end", "side"};
    const auto e = excursion(
        model, fmt::format("limit: 6 h\ncrew: [{{id: A, start: hatch, sequence: [{{do: a}}, {{do: b}}]}}]\ntasks: "
                           "[{{id: a, at: {}, duration: {} s}}, {{id: b, at: {}, duration: {} s}}]\n",
                           places[below(4)], below(300), places[below(4)], below(300)));
    const auto plan = sample::run(model, e, {.looks_back = false, .looks_out = false, .describes_legs = true});
    double replayed_s = 0, legs_s = 0;
    constexpr double step_s = 0.1;
    for (const auto& row : plan.rows) {
      for (std::size_t i = 0; i + 1 < row.path.size(); ++i) {
        const auto &from = row.path[i], &to = row.path[i + 1];
        for (double t = from.leaves_s + step_s / 2; t < to.arrives_s; t += step_s) {
          const double f = (t - from.leaves_s) / (to.arrives_s - from.leaves_s);
          const model::Vec3 body = from.body + f * (to.body - from.body);
          if ((body - middle).norm() < radius_m) replayed_s += step_s;
        }
      }
      if (row.path.empty() && (row.hand - middle).norm() < radius_m) replayed_s += row.to_s - row.from_s;
    }
    for (const auto& [row, leg] : plan.legs)
      for (const auto& contact : leg.route.zones) legs_s += contact.inside_s;
    EXPECT_GE(stay_of(plan, 0), replayed_s - 1);
    EXPECT_GE(stay_of(plan, 0), legs_s - 1e-3);
    inside += replayed_s > 0;
  }
  EXPECT_GT(inside, 15u);
}

}  // namespace
}  // namespace holdfast::plan
