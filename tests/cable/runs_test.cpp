// SPDX-License-Identifier: GPL-3.0-or-later
// Runs against all runs there are, against an independent library, and against the bend rules worked out by hand.

#include "holdfast/cable/runs.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <random>
#include <set>

#include "holdfast/geometry/fillet.h"
#include "holdfast/route/costs.h"
#include "lemon_dijkstra.h"

namespace holdfast::cable {
namespace {

constexpr double pi = std::numbers::pi;

/// Ties in space and straight spans between them, as the search sees them.
struct Net {
  std::vector<Vec3> at;
  std::vector<FittedSpan> spans;
  RunProblem problem;

  void join(std::uint32_t a, std::uint32_t b, const std::vector<Vec3>& over = {}, double radius = 0) {
    FittedSpan span;
    span.a = std::min(a, b), span.b = std::max(a, b);
    span.line = {at[span.a]};
    span.line.insert(span.line.end(), over.begin(), over.end());
    span.line.push_back(at[span.b]);
    const auto& p = span.line;
    for (std::size_t i = 1; i < p.size(); ++i) span.length_m += (p[i] - p[i - 1]).norm();
    span.leaves_a = (p[1] - p[0]).normalized(), span.leaves_b = (p[p.size() - 2] - p.back()).normalized();
    span.room_a_m = (p[1] - p[0]).norm(), span.room_b_m = (p[p.size() - 2] - p.back()).norm();
    if (p.size() > 2) {
      const auto turn = [&](std::size_t i) {
        return std::acos(std::clamp((p[i] - p[i - 1]).normalized().dot((p[i + 1] - p[i]).normalized()), -1.0, 1.0));
      };
      span.room_a_m -= geometry::fillet_tangent_m(radius, turn(1));
      span.room_b_m -= geometry::fillet_tangent_m(radius, turn(p.size() - 2));
    }
    spans.push_back(std::move(span));
  }
  RunProblem& ready(std::uint32_t from, std::uint32_t to, double bend_radius_m, Aim aim = Aim::Length) {
    problem.tie_count = at.size();
    problem.spans = spans;
    problem.length.clear();
    for (const auto& span : spans) problem.length.push_back(route::cost_of_metres(span.length_m));
    problem.is_open.assign(spans.size(), true);
    problem.is_tie_open.assign(at.size(), true);
    problem.bend_radius_m = bend_radius_m;
    problem.from = from, problem.to = to;
    problem.aim = aim;
    return problem;
  }
};

/// Every sequence of ties, each once, whose bends fit: written from the rule alone.
class AllRuns {
 public:
  explicit AllRuns(const RunProblem& problem) : p_(problem) {}

  std::optional<search::Cost> best() {
    visit({p_.from}, {});
    return best_;
  }
  std::size_t count = 0;

 private:
  void visit(const std::vector<std::uint32_t>& ties, const std::vector<std::uint32_t>& spans) {
    if (ties.back() == p_.to) {
      if (bends_fit(ties, spans)) offer(ties, spans);
      return;
    }
    for (std::uint32_t s = 0; s < p_.spans.size(); ++s) {
      const auto& span = p_.spans[s];
      if (span.a != ties.back() && span.b != ties.back()) continue;
      const auto head = span.a == ties.back() ? span.b : span.a;
      if (std::find(ties.begin(), ties.end(), head) != ties.end() || !p_.is_open[s]) continue;
      if (head != p_.to && !p_.is_tie_open[head]) continue;
      auto more_ties = ties;
      auto more_spans = spans;
      more_ties.push_back(head), more_spans.push_back(s);
      visit(more_ties, more_spans);
    }
  }
  bool bends_fit(const std::vector<std::uint32_t>& ties, const std::vector<std::uint32_t>& spans) const {
    std::vector<double> tangent(ties.size(), 0);
    for (std::size_t i = 1; i + 1 < ties.size(); ++i) {
      const auto direction = [&](std::uint32_t s, bool into) {
        auto line = p_.spans[s].line;
        const bool ends_here = p_.spans[s].b == ties[i];
        if (ends_here != into) std::reverse(line.begin(), line.end());
        return into ? Vec3((line.back() - line[line.size() - 2]).normalized()) : Vec3((line[1] - line[0]).normalized());
      };
      const double cosine = direction(spans[i - 1], true).dot(direction(spans[i], false));
      const double turn = std::acos(std::clamp(cosine, -1.0, 1.0));
      tangent[i] = turn > pi - 1e-7 ? 1e9 : p_.bend_radius_m * std::tan(turn / 2);
    }
    for (std::size_t i = 0; i < spans.size(); ++i) {
      const auto& s = p_.spans[spans[i]];
      const double at_a = s.a == ties[i] ? tangent[i] : tangent[i + 1],
                   at_b = s.a == ties[i] ? tangent[i + 1] : tangent[i];
      if (s.line.size() == 2 ? at_a + at_b > s.length_m + 2e-6 : at_a > s.room_a_m + 1e-6 || at_b > s.room_b_m + 1e-6)
        return false;
    }
    return true;
  }
  void offer(const std::vector<std::uint32_t>& ties, const std::vector<std::uint32_t>& spans) {
    ++count;
    const auto inner = static_cast<std::int64_t>(ties.size()) - 2;
    std::int64_t length = 0;
    for (const auto s : spans) length += p_.length[s];
    std::optional<search::Cost> cost;
    if (p_.aim == Aim::Length) cost = search::Cost::of(length, inner);
    if (p_.aim == Aim::Ties) cost = search::Cost::of(inner, length);
    if (p_.aim == Aim::Time) {
      const auto walk = least_walk(ties, 0, std::nullopt);
      if (!walk) return;
      cost = search::Cost::of(
          *walk + inner * p_.time_by_tie + static_cast<std::int64_t>(spans.size()) * p_.time_by_span, inner, length);
    }
    if (!best_ || *cost < *best_) best_ = cost;
  }
  /// Over every choice of a grip for every tie.
  std::optional<std::int64_t> least_walk(const std::vector<std::uint32_t>& ties, std::size_t i,
                                         std::optional<std::uint32_t> last) const {
    if (i == ties.size()) return 0;
    std::optional<std::int64_t> least;
    for (const auto grip : p_.standings->by_tie[ties[i]]) {
      const auto step = last ? p_.standings->cost(*last, grip) : std::optional<std::int64_t>(0);
      const auto rest = least_walk(ties, i + 1, grip);
      if (step && rest && (!least || *step + *rest < *least)) least = *step + *rest;
    }
    return least;
  }

  const RunProblem& p_;
  std::optional<search::Cost> best_;
};

/// Seven ties near each other with most of the spans between them; some go over a point in between.
Net random_net(std::uint64_t seed, std::size_t ties, double bend_radius_m) {
  std::mt19937_64 engine(seed);
  const auto unit = [&] { return std::uniform_real_distribution<double>(0, 1)(engine); };
  Net net;
  for (std::size_t i = 0; i < ties; ++i) net.at.emplace_back(unit(), unit(), 0.4 * unit());
  for (std::uint32_t a = 0; a < ties; ++a)
    for (std::uint32_t b = a + 1; b < ties; ++b) {
      if (unit() < 0.35 || (a == 0 && b == 1)) continue;
      if (unit() < 0.2)
        net.join(a, b, {(net.at[a] + net.at[b]) / 2 + Vec3(0, 0, 0.1 * unit())}, bend_radius_m);
      else
        net.join(a, b);
    }
  return net;
}

class RunsOnRandomNets : public testing::TestWithParam<int> {};
INSTANTIATE_TEST_SUITE_P(Seeds, RunsOnRandomNets, testing::Range(1, 41));

TEST_P(RunsOnRandomNets, AreTheBestOfAllRunsForEachAim) {
  const auto seed = static_cast<std::uint64_t>(GetParam());
  SCOPED_TRACE(seed);
  for (const double radius : {0.0, 0.05, 0.15, 0.3, 0.6}) {
    SCOPED_TRACE(radius);
    Net net = random_net(seed, 8, radius);
    std::mt19937_64 engine(seed + 1000);
    Standings standings;
    std::vector<std::vector<std::int64_t>> walk(12, std::vector<std::int64_t>(12));
    for (std::size_t g = 0; g < 12; ++g)
      for (std::size_t h = 0; h < 12; ++h)
        walk[g][h] = g == h ? 0 : static_cast<std::int64_t>(engine() % 9 + 1) * 100'000;
    standings.cost = [&](std::uint32_t g, std::uint32_t h) {
      const auto cost = walk[std::min(g, h)][std::max(g, h)];
      return cost == 900'000 ? std::nullopt : std::optional(cost);
    };
    for (std::size_t t = 0; t < 8; ++t) {
      std::set<std::uint32_t> grips;
      for (int k = 0; k < 3; ++k) grips.insert(static_cast<std::uint32_t>(engine() % 12));
      standings.by_tie.emplace_back(grips.begin(), grips.end());
    }
    for (const Aim aim : {Aim::Length, Aim::Ties, Aim::Time}) {
      auto& problem = net.ready(0, 1, radius, aim);
      problem.time_by_tie = 300'000, problem.time_by_span = 100'000;
      problem.standings = aim == Aim::Time ? &standings : nullptr;
      AllRuns all(problem);
      const auto best = all.best();
      const auto found = find_run(problem);
      EXPECT_FALSE(found.is_cut_short);
      ASSERT_EQ(found.run.has_value(), best.has_value());
      if (!best) continue;
      EXPECT_EQ(found.run->cost, *best) << "seed " << seed << " radius " << radius << " aim " << static_cast<int>(aim);
      EXPECT_EQ(std::set<std::uint32_t>(found.run->ties.begin(), found.run->ties.end()).size(), found.run->ties.size())
          << "each tie once";
    }
  }
}

TEST_P(RunsOnRandomNets, WithoutBendsAreTheShortestPathsOfAnIndependentLibrary) {
  // LEMON's Dijkstra on the span graph.
  Net net = random_net(static_cast<std::uint64_t>(GetParam()), 40, 0);
  const auto& problem = net.ready(0, 1, 0);
  std::vector<support::LemonDijkstra::Edge> edges;
  for (std::size_t s = 0; s < net.spans.size(); ++s)
    edges.push_back({net.spans[s].a, net.spans[s].b, problem.length[s]});
  const auto found = find_run(problem);
  ASSERT_TRUE(found.run.has_value());
  EXPECT_EQ(found.run->cost.primary(), support::LemonDijkstra(40, edges).cost(0, 1));
}

TEST_P(RunsOnRandomNets, GetNoShorterAsBendsGetWider) {
  search::Cost last;
  for (const double radius : {0.0, 0.02, 0.1, 0.2, 0.4, 0.8}) {
    Net net = random_net(static_cast<std::uint64_t>(GetParam()), 12, 0);
    const auto found = find_run(net.ready(0, 1, radius));
    if (!found.run) break;
    EXPECT_GE(found.run->cost, last);
    last = found.run->cost;
  }
}

// ---- the bend rule ------------------------------------------------------------------------------------------------

/// A square corner between spans of these lengths.
bool takes_corner(double before, double after, double radius) {
  Net net;
  net.at = {{0, 0, 0}, {before, after, 0}, {before, 0, 0}};
  net.join(0, 2), net.join(2, 1);
  return find_run(net.ready(0, 1, radius)).run.has_value();
}

TEST(BendRule, ASquareCornerTakesTheRadiusOfEachSpan) {
  // Standards table 8c: R 0.1 m at 90 degrees takes 0.1 m of either side.
  EXPECT_TRUE(takes_corner(0.1, 0.1, 0.1));
  EXPECT_FALSE(takes_corner(0.0999, 1, 0.1));
  EXPECT_FALSE(takes_corner(1, 0.0999, 0.1));
}

TEST(BendRule, TwoBendsShareTheSpanBetweenThem) {
  // Standards table 8c: two 90 degree corners need a span of 2 R.
  const auto takes = [](double span, double radius) {
    Net net;
    net.at = {{0, -1, 0}, {span, 1, 0}, {0, 0, 0}, {span, 0, 0}};
    net.join(0, 2), net.join(2, 3), net.join(3, 1);
    return find_run(net.ready(0, 1, radius)).run.has_value();
  };
  EXPECT_TRUE(takes(0.2, 0.1));
  EXPECT_FALSE(takes(0.1999, 0.1));
}

TEST(BendRule, BendsAtEitherEndOfASpanOverAnEdgeHaveRoomOfTheirOwn) {
  // Up 0.3 m, over a corner, 0.3 m on: 0.1 m of each piece is the corner's, what is left is for the ends.
  const auto takes = [](double radius) {
    Net net;
    net.at = {{-1, 0, 0}, {0.3, 1, 0.3}, {0, 0, 0}, {0.3, 0, 0.3}};
    net.join(0, 2), net.join(2, 3, {{0, 0, 0.3}}, radius), net.join(3, 1);
    return find_run(net.ready(0, 1, radius)).run.has_value();
  };
  EXPECT_TRUE(takes(0.15)) << "0.15 for the tie and 0.15 for the corner are 0.3";
  EXPECT_FALSE(takes(0.151));
}

TEST(BendRule, AUTurnOfTwoSquareCornersIsDubinsHalfCircle) {
  // Dubins (1957): opposite heading, lateral offset 2 R: pi R. Two square corners on a span of 2 R leave nothing
  // straight.
  const double radius = 0.5;
  Net net;
  net.at = {{-2, 0, 0}, {-2, 2 * radius, 0}, {0, 0, 0}, {0, 2 * radius, 0}};
  net.join(0, 2), net.join(2, 3), net.join(3, 1);
  ASSERT_TRUE(find_run(net.ready(0, 1, radius)).run.has_value());
  EXPECT_FALSE(find_run(net.ready(0, 1, radius + 1e-4)).run.has_value());
  const double arcs = 2 * geometry::fillet_arc_m(radius, pi / 2);
  EXPECT_NEAR(arcs, 3.141593 * radius, 1e-6);
  EXPECT_NEAR(4 * radius - 2 * geometry::fillet_saving_m(radius, pi / 2), arcs, 1e-12);
}

TEST(BendRule, ComingBackOnItselfIsNoBend) {
  Net net;
  net.at = {{0, 0, 0}, {0.2, 0, 0}, {0.5, 0, 0}};
  net.join(0, 2), net.join(2, 1);
  EXPECT_FALSE(find_run(net.ready(0, 1, 1e-4)).run.has_value());
  EXPECT_TRUE(find_run(net.ready(0, 1, 0)).run.has_value()) << "what has no radius may fold";
}

TEST(BendRule, TakesALongerWayWhereTheShortOneIsTooTight) {
  // A square corner 0.1 m before the end, or a detour that turns by 70 degrees in the middle.
  Net net;
  net.at = {{0, 0, 0}, {1, 0.1, 0}, {1, 0, 0}, {0.5, -0.3, 0}};
  net.join(0, 2), net.join(2, 1), net.join(0, 3), net.join(3, 1);
  EXPECT_EQ(find_run(net.ready(0, 1, 0.1)).run->ties, (std::vector<std::uint32_t>{0, 2, 1}));
  EXPECT_EQ(find_run(net.ready(0, 1, 0.11)).run->ties, (std::vector<std::uint32_t>{0, 3, 1}));
}

TEST(BendRule, ATieIsPassedOnce) {
  // A loop through tie 2 and back would turn gently; passed once, the sharp turn at 2 is all there is.
  Net net;
  net.at = {{0, 0, 0}, {0.2, 1, 0}, {1, 0, 0}, {2, 0.5, 0}, {2, -0.5, 0}};
  net.join(0, 2), net.join(2, 4), net.join(4, 3), net.join(3, 2), net.join(2, 1);
  const auto found = find_run(net.ready(0, 1, 0.45));
  AllRuns all(net.problem);
  EXPECT_EQ(found.run.has_value(), all.best().has_value());
}

TEST(Runs, SayWhenTheyAreCutShort) {
  Net net = random_net(3, 30, 0);
  auto& problem = net.ready(0, 1, 0.1);
  problem.most_labels = 3;
  const auto found = find_run(problem);
  EXPECT_TRUE(found.is_cut_short);
  EXPECT_FALSE(found.run.has_value());
}

TEST(Runs, KeepToOpenSpansAndTies) {
  Net net;
  net.at = {{0, 0, 0}, {1, 0, 0}, {0.5, 0, 0}, {0.5, 0.3, 0}};
  net.join(0, 2), net.join(2, 1), net.join(0, 3), net.join(3, 1);
  auto& problem = net.ready(0, 1, 0);
  problem.is_tie_open[2] = false;
  EXPECT_EQ(find_run(problem).run->ties[1], 3u);
  problem.is_open[3] = false;
  EXPECT_FALSE(find_run(problem).run.has_value());
}

}  // namespace
}  // namespace holdfast::cable
