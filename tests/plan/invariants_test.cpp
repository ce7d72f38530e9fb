// SPDX-License-Identifier: GPL-3.0-or-later
// What holds of every excursion, whatever is in it.

#include <gtest/gtest.h>

#include <random>
#include <set>

#include "holdfast/route/route.h"
#include "sites_impl.h"
#include "small_model.h"

namespace holdfast::plan {
namespace {

using sample::excursion;
using sample::line_model;
using sample::run;

constexpr const char* places[] = {"hatch", "depot", "site", "end", "side"};

/// Go, take, put, do, wait in any order, sensible or not.
std::string random_sequence(std::mt19937& random, const std::string& items, int tasks_from, int tasks_to,
                            bool has_waits) {
  const auto below = [&](int n) { return static_cast<int>(random() % static_cast<unsigned>(n)); };
  std::string text = "[";
  for (int i = tasks_from; i < tasks_to; ++i) {
    const int extra = below(4);
    for (int k = 0; k < extra; ++k) {
      const char item = items[static_cast<std::size_t>(below(static_cast<int>(items.size())))];
      switch (below(has_waits ? 5 : 4)) {
        case 0:
          text += fmt::format("{{go: {}}}, ", places[below(5)]);
          break;
        case 1:
          text += fmt::format("{{take: {}}}, ", item);
          break;
        case 2:
          text += fmt::format("{{put: {}}}, ", item);
          break;
        case 3:
          text += fmt::format("{{stow: {}, on: [main]}}, ", item);
          break;
        case 4:
          text += fmt::format("{{hold_until: {} min}}, ", below(60));
          break;
      }
    }
    text += fmt::format("{{do: t{}}}, ", i);
  }
  return text + "return]";
}

std::string random_excursion(unsigned seed, bool has_two, bool has_waits = true) {
  std::mt19937 random(seed);
  const auto below = [&](int n) { return static_cast<int>(random() % static_cast<unsigned>(n)); };
  std::string text = "limit: 10 h\ncrew:\n";
  text += fmt::format("  - {{id: A, start: hatch, sequence: {}}}\n", random_sequence(random, "bcd", 0, 3, has_waits));
  if (has_two)
    text += fmt::format("  - {{id: B, start: hatch, sequence: {}}}\n", random_sequence(random, "bcd", 3, 6, has_waits));
  text +=
      "items:\n  - {id: b, load: bag, at: hatch}\n  - {id: c, load: case, at: depot}\n  - {id: d, load: bag, in: c}\n";
  text += "tasks:\n";
  for (int i = 0; i < 6; ++i)
    text += fmt::format("  - {{id: t{}, at: {}, duration: {} s}}\n", i, places[below(5)], below(900));
  return text;
}

class Random : public testing::Test {
 protected:
  static void SetUpTestSuite() { model_ = std::make_unique<model::Model>(line_model()); }
  static void TearDownTestSuite() { model_.reset(); }
  static std::unique_ptr<model::Model> model_;
};
std::unique_ptr<model::Model> Random::model_;

TEST_F(Random, TimeIsMonotoneItemsAreConservedAndNobodyIsInTwoPlaces) {
  for (unsigned seed = 0; seed < 300; ++seed) {
    SCOPED_TRACE(seed);
    const auto e = excursion(*model_, random_excursion(seed, seed % 2 == 0));
    const auto plan = run(*model_, e, {.looks_back = false});
    EXPECT_EQ(plan.items.size(), e.items.size());
    std::set<std::string> seen;
    for (const auto& w : plan.items) {
      seen.insert(e.items[w.item.index()].id);
      const int whereabouts =
          !w.place.empty() + !w.crew.empty() + !w.rails.empty() + !w.socket.empty() + (w.is_inside && w.place.empty());
      EXPECT_EQ(whereabouts, 1) << e.items[w.item.index()].id;
    }
    EXPECT_EQ(seen.size(), e.items.size());
    std::vector<double> clock(e.crew.size(), 0);
    std::vector<std::optional<model::Vec3>> hand(e.crew.size());
    for (const auto& row : plan.rows) {
      if (!row.crew) continue;
      const std::size_t c = row.crew->index();
      EXPECT_NEAR(row.from_s, clock[c], 1e-6);
      EXPECT_GE(row.to_s, row.from_s);
      clock[c] = row.to_s;
      if (!row.path.empty()) {
        if (hand[c]) EXPECT_LT((row.path.front().hand - *hand[c]).norm(), 1e-9) << "a leg begins where the last ended";
        for (std::size_t i = 0; i < row.path.size(); ++i) {
          EXPECT_GE(row.path[i].leaves_s, row.path[i].arrives_s - 1e-9);
          if (i > 0) EXPECT_GE(row.path[i].arrives_s, row.path[i - 1].leaves_s - 1e-9);
        }
        hand[c] = row.path.back().hand;
      } else if (row.what == What::Go) {
        hand[c] = row.hand;
      }
      if (hand[c] && row.what != What::Go) EXPECT_LT((row.hand - *hand[c]).norm(), 1e-9);
    }
    for (std::size_t c = 0; c < e.crew.size(); ++c) {
      EXPECT_NEAR(clock[c], plan.totals[c].inside_at_s, 1e-6);
      double sum_s = 0;
      for (const double s : plan.totals[c].by_kind_s) sum_s += s;
      EXPECT_NEAR(sum_s, clock[c], 1e-6);
    }
  }
}

TEST_F(Random, EachLegTakesWhatRouteSays) {
  const auto configuration = model_->structure.default_configuration();
  const auto scene = geometry::build_scene(model_->structure, configuration);
  const auto graph = graph::build_handrail_graph(scene, graph::body_of(model_->kit.suits.front(), model_->kit.design));
  std::size_t compared = 0;
  for (unsigned seed = 0; seed < 300; seed += 3) {
    SCOPED_TRACE(seed);
    // One crew member, and nothing stowed: what is stowed stands in no question to `route`.
    std::string text = random_excursion(seed, false, false);
    for (std::size_t at = text.find("{stow: "); at != std::string::npos; at = text.find("{stow: "))
      text.replace(at, text.find("},", at) + 3 - at, "");
    const auto e = excursion(*model_, text);
    const auto plan = run(*model_, e, {.looks_back = false});
    std::optional<model::Vec3> from;
    for (const auto& row : plan.rows) {
      if (row.what != What::Go || row.path.empty()) continue;
      route::Profile profile{.kit = model_->kit, .suit = model_->kit.suits.front()};
      double stow_s = 0;
      bool has_contents = false;
      for (const auto& id : row.carried) {
        const auto& item = e.items[e.find_item(id)->index()];
        profile.loads.push_back(model_->kit.find_load(item.load));
        stow_s += profile.loads.back()->stow_s;
        has_contents = has_contents || id == "c";  // the case weighs more with the bag in it
      }
      const auto& hand = row.path.front().hand;
      const bool is_first = !from.has_value();
      from = row.path.back().hand;
      if (has_contents) continue;
      route::RouteRequest request{
          .from = is_first ? "hatch" : fmt::format("{:.17g},{:.17g},{:.17g}", hand.x(), hand.y(), hand.z()),
          .to = row.subject};
      request.point_radius_m = 1e-5;
      // At the very grip: the other outward directions of the hand are others.
      for (const auto grip : graph.find_grips_within(hand, 1e-6))
        if (graph.grip(grip).rail == row.path.front().rail &&
            (graph.body_point(grip) - row.path.front().body).norm() < 1e-6)
          request.start = route::Departure{grip.index()};
      const auto answer = route::find_route(graph, profile, request);
      ASSERT_NE(answer.route(), nullptr);
      EXPECT_NEAR(row.to_s - row.from_s, answer.route()->time_s - 2 * stow_s,
                  1e-4 * static_cast<double>(row.moves + 1));
      EXPECT_EQ(row.moves, answer.route()->moves);
      ++compared;
    }
  }
  EXPECT_GT(compared, 200u);
}

TEST_F(Random, ALongerTaskNeverMakesALaterMilestoneEarlier) {
  for (unsigned seed = 0; seed < 300; seed += 5) {
    SCOPED_TRACE(seed);
    const auto e = excursion(*model_, random_excursion(seed, false, false));
    const auto before = run(*model_, e, {.looks_back = false});
    const auto after = run(*model_, e, {.longer_s = {{"t1", 61}}, .looks_back = false});
    ASSERT_EQ(before.rows.size(), after.rows.size());
    for (std::size_t r = 0; r < before.rows.size(); ++r) EXPECT_GE(after.rows[r].to_s, before.rows[r].to_s - 1e-9);
    EXPECT_NEAR(after.finish_s, before.finish_s + 61, 1e-6);
  }
}

TEST_F(Random, ClosingARailNeverShortensALegByPricedTime) {
  model_->structure.zones.emplace_back();
  auto& zone = model_->structure.zones.back();
  zone.id = "warm";
  zone.shape = model::Sphere{{7, 0, 0}, 1.5};
  zone.effect = model::ZoneEffect::Caution;
  zone.price_s_per_s = 2;
  detail::Legs legs(model_->structure, model_->kit);
  const auto& site = legs.site(model_->structure.default_configuration(), model_->kit.suits.front());
  const auto& open = legs.table(site, route::Objective::Time, {});
  const auto priced = [&](const detail::FoundLeg& leg) {
    std::int64_t units = 0;
    for (const auto& move : leg.moves) units += open.costs[move.move.index()].primary();
    return units;
  };
  std::size_t compared = 0, longer = 0;
  for (unsigned seed = 0; seed < 300; ++seed) {
    SCOPED_TRACE(seed);
    std::mt19937 random(seed);
    const auto n = site.graph->grips().size();
    const detail::LegQuestion question{
        &site, {}, route::Objective::Time, {detail::GripId(random() % n)}, {detail::GripId(random() % n)}};
    const model::RailId closed(random() % model_->structure.rails.size());
    const auto& free = legs.find(question, {});
    const auto& hindered = legs.find(question, {{closed}, {}});
    ASSERT_TRUE(free.leg.has_value());
    if (!hindered.leg) continue;
    EXPECT_GE(priced(*hindered.leg), priced(*free.leg));
    longer += priced(*hindered.leg) > priced(*free.leg) ? 1 : 0;
    ++compared;
  }
  EXPECT_GT(compared, 50u);
  EXPECT_GT(longer, 5u);
  model_->structure.zones.pop_back();
}

TEST_F(Random, TwiceTheSamePlan) {
  for (unsigned seed = 0; seed < 20; ++seed) {
    const auto e = excursion(*model_, random_excursion(seed, true));
    const auto one = run(*model_, e, {.looks_back = false}), two = run(*model_, e, {.looks_back = false});
    ASSERT_EQ(one.rows.size(), two.rows.size());
    for (std::size_t r = 0; r < one.rows.size(); ++r) EXPECT_EQ(one.rows[r].to_s, two.rows[r].to_s);
  }
}

/// Where the body is at a moment: on the move, straight between the two body points; enough for arcs of one direction.
std::optional<model::Vec3> body_at(const Plan& plan, CrewId crew, double t, bool& moves) {
  std::optional<model::Vec3> at;
  moves = false;
  for (const auto& row : plan.rows) {
    if (row.crew != crew || row.from_s > t) continue;
    for (std::size_t i = 0; i < row.path.size(); ++i) {
      if (row.path[i].arrives_s <= t) at = row.path[i].body, moves = false;
      if (i + 1 < row.path.size() && row.path[i].leaves_s < t && t < row.path[i + 1].arrives_s) {
        const double f = (t - row.path[i].leaves_s) / (row.path[i + 1].arrives_s - row.path[i].leaves_s);
        at = row.path[i].body + f * (row.path[i + 1].body - row.path[i].body);
        moves = true;
        return at;
      }
    }
  }
  return at;
}

TEST_F(Random, ReplayedTheBodiesKeepADiameterOrItIsToldOrBothAreAtThePlace) {
  const double diameter_m = model_->kit.suits.front().corridor_diameter_m;
  std::size_t clean = 0;
  for (unsigned seed = 0; seed < 300; seed += 4) {
    SCOPED_TRACE(seed);
    const auto e = excursion(*model_, random_excursion(seed, true));
    const auto plan = run(*model_, e, {.looks_back = false});
    bool is_told = false;
    for (const auto& v : plan.violations)
      is_told = is_told || v.kind == ViolationKind::BodiesTooNear || v.kind == ViolationKind::NoRoute;
    if (is_told) continue;
    ++clean;
    const double both_out_s = std::min(plan.totals[0].inside_at_s, plan.totals[1].inside_at_s);
    for (double t = 0.05; t < both_out_s; t += 0.1) {
      bool a_moves = false, b_moves = false;
      const auto a = body_at(plan, CrewId(std::size_t{0}), t, a_moves),
                 b = body_at(plan, CrewId(std::size_t{1}), t, b_moves);
      if (!a || !b || (!a_moves && !b_moves)) continue;
      const double distance_m = (*a - *b).norm();
      if (distance_m >= diameter_m - 1e-6) continue;
      // Only near a place where both have business: one within its radius, the other within the radius and a diameter.
      bool is_at_place = false;
      for (const auto& place : model_->structure.places) {
        const auto off = [&](const model::Vec3& body) {
          const model::Vec3 hand = body - model::Vec3(0, 0, -0.55);  // the yard's rails face zenith
          return (hand - place.at).norm();
        };
        const double least = std::min(off(*a), off(*b)), most = std::max(off(*a), off(*b));
        is_at_place = is_at_place || (least <= place.within_m + 0.61 && most <= place.within_m + diameter_m + 0.61);
      }
      ASSERT_TRUE(is_at_place) << "at " << t << " s, " << distance_m << " m";
    }
  }
  EXPECT_GT(clean, 20u);
}

}  // namespace
}  // namespace holdfast::plan
