// SPDX-License-Identifier: GPL-3.0-or-later
// Getting back at every moment: against routes asked one by one, and in closed form on a line.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

#include "holdfast/route/route.h"
#include "small_model.h"

namespace holdfast::plan {
namespace {

using sample::excursion;
using sample::kinds;
using sample::line_model;
using sample::run;

const char* const two_out =
    "limit: 5 h\negress: 10 min\ningress: 5 min\n"
    "crew: [{id: A, start: hatch, sequence: [{go: end}, {do: far}]},\n"
    "       {id: B, start: hatch, sequence: [{hold_until: 20 min}, {go: side}, {do: near}]}]\n"
    "tasks: [{id: far, at: end, duration: 20 min}, {id: near, at: side, duration: 25 min}]\n";

TEST(Back, OfAnIncapacitatedCrewMemberIsLookedAtAtEveryMomentOfEither) {
  const model::Model model = line_model();
  const auto e = excursion(model, two_out);
  const auto plan = run(model, e);
  EXPECT_THAT(kinds(plan), testing::IsEmpty());
  std::size_t waypoints = 0;
  for (const auto& row : plan.rows) waypoints += row.path.size();
  EXPECT_GT(plan.back.size(), waypoints);
  for (const auto& back : plan.back) {
    EXPECT_TRUE(back.is_incapacitated_proven) << back.at_s;
    EXPECT_TRUE(back.incapacitated_s.has_value()) << back.at_s;
  }
  // Of the one who works at rest, the time falls and rises as the other, who would help, comes and goes.
  double least_s = INFINITY, most_s = 0;
  for (const auto& back : plan.back)
    if (back.crew.index() == 0 && plan.rows[back.row].what == What::Do && back.incapacitated_s) {
      least_s = std::min(least_s, *back.incapacitated_s), most_s = std::max(most_s, *back.incapacitated_s);
    }
  EXPECT_GT(most_s, least_s + 20);
}

/// Where each crew member is: the last stop at or before a moment, or where a row ended.
struct At {
  Vec3 hand = Vec3::Zero();
  model::RailId rail;
  bool moves = false;
};
std::optional<At> where(const Plan& plan, std::size_t crew, double t) {
  std::optional<At> at;
  for (const auto& row : plan.rows) {
    if (!row.crew || row.crew->index() != crew) continue;
    for (std::size_t i = 0; i < row.path.size(); ++i)
      if (row.path[i].arrives_s <= t + 1e-6)
        at = At{row.path[i].hand, row.path[i].rail, i + 1 < row.path.size() && row.path[i].leaves_s <= t + 1e-6};
  }
  return at;
}

TEST(Back, IsNeverUnderReported) {
  const model::Model model = line_model();
  const auto e = excursion(model, two_out);
  const auto plan = run(model, e);
  const auto scene = geometry::build_scene(model.structure, model.structure.default_configuration());
  const auto graph = graph::build_handrail_graph(scene, graph::body_of(model.kit.suits.front(), model.kit.design));
  const auto time_of = [&](const Vec3& from, const std::string& to, std::vector<const model::Load*> loads) {
    route::Profile profile{.kit = model.kit, .suit = model.kit.suits.front(), .loads = std::move(loads)};
    profile.counts_handling = false;
    route::RouteRequest request{.from = fmt::format("{:.17g},{:.17g},{:.17g}", from.x(), from.y(), from.z()), .to = to};
    request.point_radius_m = 1e-5;
    const auto answer = route::find_route(graph, profile, request);
    return answer.route() ? answer.route()->time_s : INFINITY;
  };
  std::size_t compared = 0;
  for (std::size_t i = 0; i < plan.back.size(); i += 7) {
    const auto& back = plan.back[i];
    const auto victim = where(plan, back.crew.index(), back.at_s),
               helper = where(plan, 1 - back.crew.index(), back.at_s);
    if (!victim || !back.incapacitated_s || plan.totals[1 - back.crew.index()].inside_at_s <= back.at_s) continue;
    const Vec3 from = helper ? helper->hand : Vec3::Zero();
    const double come_s =
        helper
            ? time_of(from,
                      fmt::format("{:.17g},{:.17g},{:.17g}", victim->hand.x(), victim->hand.y(), victim->hand.z()), {})
            : 0;
    const double home_s = time_of(victim->hand, "hatch", {model.kit.find_load("victim")});
    const double alone_s = time_of(victim->hand, "hatch", {});
    // Nobody is back sooner than the best routes take; a leg of no moves takes nothing.
    const double none_s = 10 + 1e-6;
    EXPECT_GE(*back.incapacitated_s, std::max(0.0, come_s - none_s) + std::max(0.0, home_s - none_s) + 300)
        << back.at_s;
    EXPECT_GE(back.alone_s, std::max(0.0, alone_s - none_s) + 300 - 1e-6) << back.at_s;
    // ... and not much later: twice the bound would hide a margin.
    EXPECT_LE(*back.incapacitated_s, come_s + 1.3 * home_s + 300 + 200) << back.at_s;
    ++compared;
  }
  EXPECT_GT(compared, 10u);
}

TEST(Back, FromAHatchThatIsOpenAlreadyTakesNoEgress) {
  const model::Model model = line_model();
  const auto e = excursion(model,
                           "limit: 5 h\negress: 40 min\n"
                           "crew: [{id: A, start: hatch, sequence: [{go: depot}]}, {id: B, start: hatch, sequence: "
                           "[{hold_until: 1 h}]}]\n");
  const auto plan = run(model, e);
  for (const auto& v : plan.violations) EXPECT_NE(v.kind, ViolationKind::ReturnTooLate);
  for (const auto& back : plan.back)
    if (back.crew.index() == 0 && back.incapacitated_s && back.at_s < 3600) EXPECT_LT(*back.incapacitated_s, 40 * 60);
}

TEST(Back, WaitsForAThrowToEnd) {
  const model::Model model = line_model();
  const std::string text =
      "limit: 5 h\ncrew: [{id: A, start: hatch, sequence: [{do: look}]}]\n"
      "tasks: [{id: look, at: site, duration: 30 min}]\n";
  const auto still = excursion(model, text);
  const auto thrown =
      excursion(model, text + "events: [{id: track, throw: {dish: tracking}, at: 10 min, takes: 4 min}]\n");
  const auto at = [](const Plan& plan, double t) {
    double alone_s = 0;
    for (const auto& back : plan.back)
      if (back.at_s <= t + 1e-6) alone_s = back.alone_s;
    return alone_s;
  };
  const auto one = run(model, still), two = run(model, thrown);
  EXPECT_NEAR(at(two, 600), at(one, 600) + 240, 1e-6);
  EXPECT_NEAR(at(two, 840), at(one, 840), 1e-6);
}

TEST(Swaps, AreDerivedOnAnyLegThatTheTetherDoesNotReachAlong) {
  model::Model model = line_model();
  model::Anchor middle;
  middle.id = "middle";
  middle.at = {5, 0, -0.05};
  model.structure.anchors.push_back(middle);
  const auto plan_of = [&](const std::string& tethers) {
    static std::vector<std::unique_ptr<model::Excursion>> kept;
    kept.push_back(std::make_unique<model::Excursion>(
        excursion(model, "crew: [{id: A, start: hatch, tethers: " + tethers +
                             ", anchor: hook, sequence: [{go: site}, {do: look}, {go: depot}]}]\n"
                             "tasks: [{id: look, duration: 5 min}]\n")));
    return run(model, *kept.back(), {.looks_back = false});
  };
  const auto one = plan_of("[short]");
  EXPECT_THAT(kinds(one), testing::Contains(ViolationKind::Tether));
  const auto two = plan_of("[short, reel]");
  EXPECT_THAT(kinds(two), testing::IsEmpty());
  std::vector<What> swaps;
  for (const auto& row : two.rows)
    if (row.what == What::Swap || row.what == What::Unhook) {
      swaps.push_back(row.what);
      EXPECT_TRUE(row.is_derived);
      EXPECT_EQ(row.subject, "middle");
    }
  EXPECT_THAT(swaps, testing::ElementsAre(What::Swap, What::Unhook));
  // No leg has more out than its tether is long.
  for (const auto& row : two.rows)
    if (row.what == What::Go) EXPECT_LE(row.tether_out_m, 30.0);
}

}  // namespace
}  // namespace holdfast::plan
