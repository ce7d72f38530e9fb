// SPDX-License-Identifier: GPL-3.0-or-later
// How a box beside somebody at rest is told.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <string>

#include "holdfast/report/plan.h"
#include "small_model.h"

namespace holdfast::plan {
namespace {

using testing::HasSubstr;

TEST(StandingWords, NameTheItemTheCrewMemberAndTheRoomThatIsThere) {
  auto model = sample::line_model();
  for (const auto& [id, x, within_m] : {std::tuple{"west", 9.3, 0.8}, {"beside", 9.75, 0.08}}) {
    model::Place place = model.structure.places[2];
    place.id = id, place.at = {x, 0, 0}, place.within_m = within_m;
    model.structure.places.push_back(place);
  }
  const auto e = sample::excursion(model, R"(limit: 10 h
crew:
  - {id: A, start: hatch, sequence: [take: b, go: west, {stow: b, on: [main]}, return]}
  - {id: B, start: hatch, sequence: [go: beside, do: look, return]}
items: [{id: b, load: bag, at: hatch}]
tasks: [{id: look, at: beside, duration: 60 min}]
)");
  const auto plan = sample::run(model, e, {.looks_back = false, .looks_out = false});
  const report::Context context{model.structure, model.kit, model.kit.suits.front(), "line", "test"};
  std::string text = report::text(context, plan);
  std::replace(text.begin(), text.end(), '\n', ' ');
  text.erase(std::unique(text.begin(), text.end(), [](char a, char b) { return a == ' ' && b == ' '; }), text.end());
  EXPECT_THAT(text, HasSubstr("b stands 0."));
  EXPECT_THAT(text, HasSubstr("m from the body of B, who is at rest there"));
  EXPECT_THAT(text, HasSubstr("stow or set up b when B is gone, add wait_for, or do it elsewhere"));
  EXPECT_THAT(text, HasSubstr("it stands there all the same"));
}

}  // namespace
}  // namespace holdfast::plan
