// SPDX-License-Identifier: GPL-3.0-or-later
// What holds of every excursion, whatever is in it.

#include <gtest/gtest.h>

#include <array>
#include <map>
#include <random>
#include <set>

#include "back_impl.h"
#include "holdfast/plan/planner.h"
#include "holdfast/route/route.h"
#include "small_model.h"

namespace holdfast::plan {
namespace {

using sample::excursion;
using sample::line_model;

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

constexpr unsigned excursions = 300;

/// Simulations over one set of legs: those of another excursion are asked no second time, and graphs are built once.
class Random : public testing::Test {
 protected:
  static void SetUpTestSuite() {
    model_ = std::make_unique<model::Model>(line_model());
    legs_ = std::make_unique<detail::Legs>(model_->structure, model_->kit);
  }
  static void TearDownTestSuite() { legs_.reset(), model_.reset(); }
  static Plan run(const model::Model& model, const model::Excursion& e, PlanOptions options = {}) {
    options.looks_back = options.looks_out = false;
    return detail::simulate_with(*legs_, model, model.structure.default_configuration(), e, options);
  }
  static std::unique_ptr<model::Model> model_;
  static std::unique_ptr<detail::Legs> legs_;
};
std::unique_ptr<model::Model> Random::model_;
std::unique_ptr<detail::Legs> Random::legs_;

TEST_F(Random, TimeIsMonotoneItemsAreConservedAndNobodyIsInTwoPlaces) {
  for (unsigned seed = 0; seed < excursions; ++seed) {
    SCOPED_TRACE(seed);
    const auto e = excursion(*model_, random_excursion(seed, seed % 2 == 0));
    const auto plan = run(*model_, e);
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
  std::map<std::vector<const model::Load*>, std::unique_ptr<route::LoadCache>> sweeps;
  for (unsigned seed = 0; seed < excursions; ++seed) {
    SCOPED_TRACE(seed);
    // One crew member, and nothing stowed: what is stowed stands in no question to `route`.
    std::string text = random_excursion(seed, false, false);
    for (std::size_t at = text.find("{stow: "); at != std::string::npos; at = text.find("{stow: "))
      text.replace(at, text.find("},", at) + 3 - at, "");
    const auto e = excursion(*model_, text);
    const auto plan = run(*model_, e);
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
      if (!profile.loads.empty()) {
        auto& known = sweeps[profile.loads];
        if (!known) known = std::make_unique<route::LoadCache>(graph, profile.loads);
        request.load_cache = known.get();
      }
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
  EXPECT_GT(compared, 600u);
}

TEST_F(Random, ALongerTaskNeverMakesALaterMilestoneEarlier) {
  for (unsigned seed = 0; seed < excursions; ++seed) {
    SCOPED_TRACE(seed);
    const auto e = excursion(*model_, random_excursion(seed, false, false));
    const auto before = run(*model_, e);
    const auto after = run(*model_, e, {.longer_s = {{"t1", 61}}});
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
  for (unsigned seed = 0; seed < excursions; ++seed) {
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
    const auto one = run(*model_, e), two = run(*model_, e);
    ASSERT_EQ(one.rows.size(), two.rows.size());
    for (std::size_t r = 0; r < one.rows.size(); ++r) EXPECT_EQ(one.rows[r].to_s, two.rows[r].to_s);
  }
}

TEST_F(Random, APlannerThatIsAskedAgainAnswersAsIfItWereNew) {
  const auto configuration = model_->structure.default_configuration();
  Planner planner(*model_, configuration);
  for (unsigned seed = 0; seed < 30; ++seed) {
    SCOPED_TRACE(seed);
    const auto e = excursion(*model_, random_excursion(seed, seed % 3 != 0));
    PlanOptions what_if;
    if (seed % 2) what_if.longer_s["t1"] = 61;
    if (seed % 5 == 0) what_if.slower["A"] = 1.5;
    if (seed % 7 == 0) what_if.closed = {*model_->structure.find_rail("near-rung")};
    const auto kept = planner.simulate(e, what_if), afresh = simulate(*model_, configuration, e, what_if);
    ASSERT_EQ(kept.rows.size(), afresh.rows.size());
    for (std::size_t r = 0; r < kept.rows.size(); ++r) EXPECT_EQ(kept.rows[r].to_s, afresh.rows[r].to_s);
    ASSERT_EQ(kept.back.size(), afresh.back.size());
    for (std::size_t b = 0; b < kept.back.size(); ++b) {
      EXPECT_EQ(kept.back[b].alone_s, afresh.back[b].alone_s);
      EXPECT_EQ(kept.back[b].incapacitated_s, afresh.back[b].incapacitated_s);
    }
    ASSERT_EQ(kept.violations.size(), afresh.violations.size());
    for (std::size_t v = 0; v < kept.violations.size(); ++v)
      EXPECT_EQ(kept.violations[v].value, afresh.violations[v].value);
    EXPECT_EQ(kept.out_of_sight.size(), afresh.out_of_sight.size());
  }
}

/// The body's axis point over a stretch of time: from `a` to `b`, straight between the two body points, which is enough
/// for arcs of one direction.
struct Stretch {
  double from_s = 0, to_s = 0;
  model::Vec3 a, b;
  bool moves = false;
};

/// Everywhere one crew member is, in time, from the first leg on until inside.
std::vector<Stretch> stretches_of(const Plan& plan, CrewId crew) {
  std::vector<Stretch> all;
  for (const auto& row : plan.rows) {
    if (row.crew != crew) continue;
    for (std::size_t i = 0; i < row.path.size(); ++i) {
      const auto& stop = row.path[i];
      if (!all.empty()) all.back().to_s = stop.arrives_s;
      all.push_back({stop.arrives_s, stop.leaves_s, stop.body, stop.body, false});
      if (i + 1 < row.path.size())
        all.push_back({stop.leaves_s, row.path[i + 1].arrives_s, stop.body, row.path[i + 1].body, true});
    }
  }
  if (!all.empty()) all.back().to_s = plan.totals[crew.index()].inside_at_s;
  return all;
}

TEST_F(Random, ReplayedTheBodiesKeepADiameterOrItIsToldOrBothAreAtThePlace) {
  const double diameter_m = model_->kit.suits.front().corridor_diameter_m;
  std::size_t clean = 0, near = 0;
  for (unsigned seed = 0; seed < 2 * excursions; seed += 2) {  // even seeds have two crew members
    SCOPED_TRACE(seed);
    const auto e = excursion(*model_, random_excursion(seed, true));
    const auto plan = run(*model_, e);
    const bool is_told = std::any_of(plan.violations.begin(), plan.violations.end(), [](const Violation& v) {
      return v.kind == ViolationKind::BodiesTooNear || v.kind == ViolationKind::NoRoute;
    });
    if (is_told) continue;
    ++clean;
    const std::array tracks = {stretches_of(plan, CrewId(std::size_t{0})), stretches_of(plan, CrewId(std::size_t{1}))};
    if (tracks[0].empty() || tracks[1].empty()) continue;
    std::array<std::size_t, 2> at{};
    const double until_s = std::min(tracks[0].back().to_s, tracks[1].back().to_s);
    for (double t = std::max(tracks[0].front().from_s, tracks[1].front().from_s) + 0.05; t < until_s; t += 0.1) {
      std::array<model::Vec3, 2> body;
      bool moves = false;
      for (std::size_t c = 0; c < 2; ++c) {
        while (at[c] + 1 < tracks[c].size() && tracks[c][at[c]].to_s <= t) ++at[c];
        const Stretch& now = tracks[c][at[c]];
        const double f = now.moves ? (t - now.from_s) / (now.to_s - now.from_s) : 0;
        body[c] = now.a + f * (now.b - now.a);
        moves = moves || now.moves;
      }
      const double distance_m = (body[0] - body[1]).norm();
      if (!moves || distance_m >= diameter_m - 1e-6) continue;
      ++near;
      // Only near a place where both have business: one within its radius, the other within the radius and a diameter.
      const bool is_at_place =
          std::any_of(model_->structure.places.begin(), model_->structure.places.end(), [&](const auto& place) {
            const auto off = [&](const model::Vec3& at_body) {
              const model::Vec3 hand = at_body - model::Vec3(0, 0, -0.55);  // the yard's rails face zenith
              return (hand - place.at).norm();
            };
            const double least = std::min(off(body[0]), off(body[1])), most = std::max(off(body[0]), off(body[1]));
            return least <= place.within_m + 0.61 && most <= place.within_m + diameter_m + 0.61;
          });
      ASSERT_TRUE(is_at_place) << "at " << t << " s, " << distance_m << " m";
    }
  }
  EXPECT_GT(clean, 100u);
  EXPECT_GT(near, 100u) << "the check was put to use";
}

}  // namespace
}  // namespace holdfast::plan
