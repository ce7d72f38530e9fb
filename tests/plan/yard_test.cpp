// SPDX-License-Identifier: GPL-3.0-or-later
// The demo yard's excursions: the whole one, and its broken twin, whose every violation stands here.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "small_model.h"

namespace holdfast::plan {
namespace {

const std::string yard = std::string(HOLDFAST_SOURCE_DIR) + "/models/yard";

const model::Model& yard_model() {
  static const model::Model model = model::read_model(yard);
  return model;
}

struct Done {
  model::Excursion excursion;
  Plan plan;
};
const Done& done(const std::string& name) {
  static std::map<std::string, std::unique_ptr<Done>> kept;
  auto& entry = kept[name];
  if (!entry) {
    entry = std::make_unique<Done>();
    entry->excursion = model::read_excursion(yard + "/" + name, yard_model());
    entry->plan =
        simulate(yard_model(), yard_model().structure.default_configuration(), entry->excursion, {.looks_back = false});
  }
  return *entry;
}

std::string shown(const Plan& plan) {
  std::string out;
  for (const auto& v : plan.violations)
    out += fmt::format("{} {} {} {} {}\n", static_cast<int>(v.kind), std::lround(v.at_s),
                       v.crew ? plan.excursion->crew[v.crew->index()].id : "-", v.subject, v.other);
  return out;
}

TEST(DemoExcursion, HasNoViolation) {
  const auto& e = done("excursion.yaml").excursion;
  const auto plan = simulate(yard_model(), yard_model().structure.default_configuration(), e);
  EXPECT_EQ(shown(plan), "");
  EXPECT_TRUE(plan.dropped.empty());
  // Getting back is looked at for both at every moment, with a margin; the whole leaves one too.
  std::size_t stops = 0;
  for (const auto& row : plan.rows) stops += row.path.size();
  EXPECT_GT(plan.back.size(), stops);
  for (const auto& back : plan.back) {
    EXPECT_TRUE(back.incapacitated_s.has_value()) << back.at_s;
    EXPECT_LT(back.longest_s(), 25 * 60) << back.at_s;
  }
  EXPECT_LT(plan.finish_s, e.limit_s - 3600);
  // As a flown one: 38 min to get out, 45 min to clean up and get in.
  EXPECT_EQ(e.egress_s, 38 * 60);
  EXPECT_EQ(e.tasks[e.find_task("clean-up")->index()].duration_s + e.ingress_s, 45 * 60);
}

TEST(DemoExcursion, IsAsLargeAsAsked) {
  const auto& e = done("excursion.yaml").excursion;
  std::size_t actions = 0, optional = 0, throws = 0, holds = 0, restraints = 0;
  for (const auto& member : e.crew) actions += member.actions.size();
  for (const auto& task : e.tasks) optional += task.optional ? 1 : 0;
  for (const auto& event : e.events) (event.is_throw() ? throws : holds) += 1;
  for (const auto& item : e.items) restraints += item.restraint.empty() ? 0 : 1;
  EXPECT_GE(actions, 40u);
  EXPECT_EQ(optional, 3u);
  EXPECT_EQ(throws, 3u);
  EXPECT_EQ(holds, 2u);
  EXPECT_EQ(restraints, 2u);
  EXPECT_EQ(e.items.size(), 6u) << "five, and the link cable in its bag";
}

TEST(DemoExcursion, LaysACableInTwoStages) {
  const auto& plan = done("excursion.yaml").plan;
  ASSERT_EQ(plan.cables.size(), 1u);
  const auto& cable = plan.cables[0];
  EXPECT_TRUE(cable.is_connected);
  EXPECT_EQ(cable.from, "stores-plug");
  EXPECT_EQ(cable.to, "hub-plug");
  EXPECT_GE(cable.left_m, 0);
  std::vector<std::size_t> crew;  // who mates, coils, takes up and mates
  for (const auto& row : plan.rows)
    if (row.what == What::Mate || row.what == What::Coil || row.what == What::TakeUp) crew.push_back(row.crew->index());
  EXPECT_EQ(crew, (std::vector<std::size_t>{0, 0, 1, 1}));
}

TEST(BrokenTwin, TellsEachViolation) {
  // Kind, second, crew member, what, and what else.
  EXPECT_EQ(shown(done("excursion-broken.yaml").plan),
            "10 60 EV1 still \n"
            "1 330 EV1 spare-tools \n"
            "0 390 EV1 restraint with EV2\n"
            "6 556 EV1 pole port-window\n"
            "2 897 EV2 mast-socket restraint\n"
            "17 897 EV2 a-part \n"
            "16 897 EV2 a-part wait\n"
            "7 1156 EV1 port-socket gauge\n"
            "28 1197 EV2 power at lock-hatch\n"
            "8 1804 EV1 tank-valves \n"
            "12 2015 EV1 tank-room \n"
            "16 2735 EV1 follow-up first-look\n"
            "8 2975 EV1 battery-bay \n"
            "13 5365 EV1 wing-check \n"
            "15 5665 EV1 night-shot \n"
            "14 6600 EV2 track \n"
            "14 6600 - track restraint\n"
            "8 6865 EV1 outpost-panel \n"
            "8 7200 EV2 EV1 \n"
            "21 7200 EV1 EV1 \n"
            "21 7200 EV2 EV2 \n"
            "8 7396 EV1 lock-hatch \n"
            "8 7396 EV2 lock-hatch \n"
            "20 7944 EV1 EV1 \n"
            "22 7944 - tools stowed on port-line-a-1\n");
}

}  // namespace
}  // namespace holdfast::plan
