// SPDX-License-Identifier: GPL-3.0-or-later
// What holds of excursions on every yard, whatever it is. A failure is cut down to the smallest yard that shows it.

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>

#include "drawn_yard.h"
#include "holdfast/model/excursion.h"
#include "holdfast/plan/plan.h"

namespace holdfast::properties {
namespace {

using support::World;

// The same yards on every run, unless others are asked for.
const int fixed = ::setenv("RC_PARAMS", "seed=20261127 max_success=40", 0);

constexpr double rounding = 1e-4;  // costs are whole steps of 10 microseconds, a step a move

struct Drawn {
  model::Model model;
  std::string sequence;      ///< places, with a task at each
  std::vector<int> seconds;  ///< of tasks
};

/// A crew member who goes from place to place and works there; rail 0 is at the hatch.
Drawn draw() {
  Drawn drawn;
  const auto yard = *any_yard();
  auto builder = build(yard);
  builder.structure.places[builder.structure.find_place("p0")->index()].kind = model::PlaceKind::Hatch;
  drawn.model.structure = builder.structure;
  drawn.model.kit.design = model::default_design_values();
  drawn.model.kit.suits.push_back(model::default_suit());
  drawn.model.kit.suits.front().id = "suit";
  RC_LOG() << yard;
  for (int stops = *rc::gen::inRange(1, 4); stops > 0; --stops) {
    const auto place = *rc::gen::inRange<std::size_t>(0, yard.rails.size());
    drawn.sequence += fmt::format("{{go: p{}}}, {{do: t{}}}, ", place, drawn.seconds.size());
    drawn.seconds.push_back(*rc::gen::inRange(0, 900));
  }
  drawn.sequence += "return";
  RC_LOG() << "; " << drawn.sequence << '\n';
  return drawn;
}

model::Excursion excursion_of(const Drawn& drawn, int more_of_first_s = 0) {
  std::string text =
      fmt::format("holdfast: excursion/1\nname: Drawn\nlimit: 20 h\ncrew:\n  - {{id: A, start: p0, sequence: [{}]}}\n",
                  drawn.sequence);
  text += "tasks:\n";
  for (std::size_t t = 0; t < drawn.seconds.size(); ++t)
    text += fmt::format("  - {{id: t{}, duration: {} s}}\n", t, drawn.seconds[t] + (t == 0 ? more_of_first_s : 0));
  return model::read_excursion_text(text, drawn.model);
}

plan::Plan run(const Drawn& drawn, const model::Excursion& excursion) {
  plan::PlanOptions options;
  options.looks_back = options.looks_out = false;
  return plan::simulate(drawn.model, drawn.model.structure.default_configuration(), excursion, options);
}

bool has(const plan::Plan& plan, plan::ViolationKind kind) {
  return std::any_of(plan.violations.begin(), plan.violations.end(), [&](const auto& v) { return v.kind == kind; });
}

#define PROPERTY(name)                                                 \
  void holds_##name();                                                 \
  TEST(PlanProperties, name) { EXPECT_TRUE(rc::check(holds_##name)); } \
  void holds_##name()

PROPERTY(ALegIsNeverShorterThanTheRouteAndAllTimesAddUp) {
  const auto drawn = draw();
  const World world(drawn.model.structure);
  const auto excursion = excursion_of(drawn);
  const auto plan = run(drawn, excursion);
  double clock_s = 0;
  std::string at = "p0";
  bool is_lost = false;
  for (const auto& row : plan.rows) {
    if (!row.crew) continue;
    RC_ASSERT(std::abs(row.from_s - clock_s) <= rounding);
    RC_ASSERT(row.to_s >= row.from_s);
    clock_s = row.to_s;
    if (row.what != plan::What::Go) continue;
    const std::string to = row.subject;
    const auto answer = world.route(at, to);
    RC_CLASSIFY(answer.route() != nullptr, "with a route");
    if (!row.path.empty() && !is_lost) {
      RC_ASSERT(answer.route() != nullptr);
      RC_ASSERT(row.to_s - row.from_s + rounding * static_cast<double>(row.moves + 1) >= answer.route()->time_s);
    } else if (answer.route() == nullptr) {
      RC_ASSERT(has(plan, plan::ViolationKind::NoRoute));
      is_lost = true;  // where they are then is the plan's assumption
    }
    at = to;
  }
  RC_ASSERT(std::abs(clock_s - plan.finish_s) <= rounding);
}

PROPERTY(ALongerTaskDelaysTheEndOfOneCrewMemberByAsMuch) {
  const auto drawn = draw();
  const double before_s = run(drawn, excursion_of(drawn)).finish_s;
  const double after_s = run(drawn, excursion_of(drawn, 61)).finish_s;
  RC_ASSERT(std::abs(after_s - before_s - 61) <= rounding);
}

}  // namespace
}  // namespace holdfast::properties
