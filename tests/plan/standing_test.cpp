// SPDX-License-Identifier: GPL-3.0-or-later
// What stands beside the other crew member at rest is told: from rows alone, on random excursions.

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <random>
#include <set>
#include <utility>

#include "small_model.h"

namespace holdfast::plan {
namespace {

using sample::excursion;
using sample::run;

double distance_to(const PlacedBox& box, const Vec3& p) {
  const Vec3 inside = box.axes.transpose() * (p - box.middle);
  return (inside.cwiseAbs() - box.size_m / 2).cwiseMax(0).norm();
}

struct Rest {
  double from_s, to_s;
  Vec3 body;
};
/// Where a crew member's body is at rest, from where they first come to until they are inside.
std::vector<Rest> rests_of(const Plan& plan, CrewId crew) {
  std::vector<Rest> rests;
  for (const auto& row : plan.rows) {
    if (row.crew != crew || row.path.empty()) continue;
    if (!rests.empty()) rests.back().to_s = row.path.front().leaves_s;
    for (const auto& stop : row.path) rests.push_back({stop.arrives_s, stop.leaves_s, stop.body});
    rests.back().to_s = plan.totals[crew.index()].inside_at_s;
  }
  return rests;
}

TEST(Standing, IsToldWhereTheOtherRestsBesideItAndNowhereElse) {
  constexpr const char* places[] = {"depot", "site", "end", "side", "beside", "between"};
  auto model = sample::line_model();
  for (const auto& [id, x] : {std::pair{"beside", 10.7}, {"between", 5.8}}) {
    model::Place place = model.structure.places[2];
    place.id = id, place.at = {x, 0, 0}, place.within_m = 0.15;
    model.structure.places.push_back(place);
  }
  const double corridor_m = model.kit.suits.front().corridor_radius_m();
  int boxes = 0, beside = 0;
  for (unsigned seed = 0; seed < 120; ++seed) {
    SCOPED_TRACE(seed);
    std::mt19937 random(seed);
    std::string sequences[2], tasks = "tasks:\n";
    for (int c = 0; c < 2; ++c) {
      sequences[c] = fmt::format("take: {}, ", c == 0 ? "b" : "c");
      for (int k = 0; k < 4; ++k) {
        const char* place = places[random() % std::size(places)];
        sequences[c] += fmt::format("go: {}, do: t{}-{}, ", place, c, k);
        tasks += fmt::format("  - {{id: t{}-{}, at: {}, duration: {} min}}\n", c, k, place, 1 + random() % 20);
        if (k == 1) sequences[c] += fmt::format("{{stow: {}, on: [main]}}, ", c == 0 ? "b" : "c");
      }
      sequences[c] += "return";
    }
    const auto e = excursion(
        model, fmt::format("limit: 10 h\ncrew:\n  - {{id: A, start: hatch, sequence: [{}]}}\n"
                           "  - {{id: B, start: hatch, sequence: [{}]}}\nitems: [{{id: b, load: case, at: hatch}}, "
                           "{{id: c, load: bag, at: hatch}}]\n{}",
                           sequences[0], sequences[1], tasks));
    const auto plan = run(model, e, {.looks_back = false, .looks_out = false});
    // Where there is no route somebody is taken to be there all the same: rows do not say where.
    if (std::any_of(plan.violations.begin(), plan.violations.end(),
                    [](const Violation& v) { return v.kind == ViolationKind::NoRoute; }))
      continue;
    std::multiset<std::string> told, seen;
    for (const auto& v : plan.violations)
      if (v.kind == ViolationKind::BodiesTooNear && !v.names.empty()) told.insert(v.subject);
    for (const auto& row : plan.rows) {
      if (row.what != What::Stow || !row.box) continue;
      ++boxes;
      const auto rests = rests_of(plan, CrewId(1 - row.crew->index()));
      const bool is_beside = std::any_of(rests.begin(), rests.end(), [&](const Rest& rest) {  // it stands to the end
        return rest.to_s > row.to_s + 1e-6 && rest.to_s > rest.from_s + 1e-6 &&
               distance_to(*row.box, rest.body) < corridor_m - 1e-6;
      });
      if (is_beside) seen.insert(row.subject);
    }
    EXPECT_EQ(told, seen);
    beside += static_cast<int>(seen.size());
  }
  EXPECT_GT(boxes, 40);
  EXPECT_GT(beside, 0) << "some go up beside somebody";
}

}  // namespace
}  // namespace holdfast::plan
