// SPDX-License-Identifier: GPL-3.0-or-later
// Orders of tasks, through the same search that `order` uses: published instances, closed forms, and a plain
// enumeration of everything on random problems of two crew members.

#include "holdfast/plan/ordering.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <map>
#include <random>
#include <set>
#include <sstream>
#include <string>
#include <tuple>
#include <vector>

#include "ordering_impl.h"
#include "ordering_instances.h"
#include "reference_order.h"

namespace holdfast::plan {
namespace {

using instances::Instance;
using reference::Enumeration;
using reference::RandomProblem;

std::string data(const std::string& file) { return HOLDFAST_SOURCE_DIR "/tests/data/ordering/" + file; }

/// file -> optimum, of `optima.csv`.
std::map<std::string, std::int64_t> optima() {
  auto in = instances::open_instance(data("optima.csv"));
  std::map<std::string, std::int64_t> values;
  std::string line;
  std::getline(in, line);
  while (std::getline(in, line)) {
    const auto comma = line.find(',');
    values[line.substr(0, comma)] = std::stoll(line.substr(comma + 1));
  }
  return values;
}

Instance read(const std::string& file) {
  const auto folder = file.substr(0, file.find('/'));
  if (folder == "sop") return instances::read_tsplib(data(file), false);
  if (folder == "atsp") return instances::read_tsplib(data(file), true);
  if (folder == "tsptw") return instances::read_windows(data(file));
  return instances::read_orienteering(data(file), folder == "top");
}

std::string print(const OrderValue& v) {
  std::ostringstream out;
  out << "gain " << v.gain << ", finish " << v.finish_us << ", moves " << v.moves << ", finishes " << v.finishes_us;
  return out.str();
}

std::string print(const Order& order) {
  std::ostringstream out;
  for (const auto& t : order.tasks) out << t.task << "/" << t.crew << " " << t.start_us << "-" << t.end_us << "; ";
  return out.str() + print(order.value);
}

/// One crew member, n tasks in a row, one unit from each to the next.
struct Row : Travel {
  [[nodiscard]] std::optional<Arrival> arrive(int, int state, ItemSet, int task) const override {
    return Arrival{std::abs(state - (task + 1)), 1, task + 1};
  }
  [[nodiscard]] std::optional<Arrival> come_home(int, int state, ItemSet) const override {
    return Arrival{state, 1, 0};
  }
  [[nodiscard]] std::optional<LegBound> lower_bound(int from, int to) const override {
    return LegBound{std::abs((from == order_start ? 0 : from + 1) - (to == order_home ? 0 : to + 1)), 1};
  }
};

OrderProblem row_of(int tasks, std::int64_t duration, int crew = 1) {
  OrderProblem problem;
  problem.tasks.assign(static_cast<std::size_t>(tasks), {.duration_us = {duration, duration}});
  problem.crew.resize(static_cast<std::size_t>(crew));
  return problem;
}

TEST(Ordering, NothingToDoIsAnOrderOfNoTasks) {
  const auto problem = row_of(0, 0, 2);
  const auto answer = find_order(problem, Row{});
  ASSERT_EQ(answer.outcome, OrderOutcome::Best);
  EXPECT_TRUE(answer.best->tasks.empty());
  EXPECT_EQ(answer.best->value, (OrderValue{.moves = 2}));
}

TEST(Ordering, OneAloneGoesDownTheRowAndBack) {
  const auto answer = find_order(row_of(8, 10), Row{});
  ASSERT_EQ(answer.outcome, OrderOutcome::Best);
  EXPECT_EQ(answer.best->value, (OrderValue{.finish_us = 8 * 10 + 2 * 8, .moves = 9, .finishes_us = 96}));
  EXPECT_EQ(answer.bound, answer.best->value);
  EXPECT_EQ(answer.gap(), 0);
}

TEST(Ordering, ACircleOfPrecedenceHasNoOrder) {
  auto problem = row_of(3, 1, 2);
  problem.tasks[0].after = {2};
  problem.tasks[2].after = {1};
  problem.tasks[1].after = {0};
  EXPECT_EQ(find_order(problem, Row{}).outcome, OrderOutcome::None);
  for (auto& task : problem.tasks) task.standing = Standing::Optional;
  const auto answer = find_order(problem, Row{});
  ASSERT_EQ(answer.outcome, OrderOutcome::Best);
  EXPECT_TRUE(answer.best->tasks.empty());
}

TEST(Ordering, TheOtherWaitsForWhatPrecedenceNames) {
  auto problem = row_of(2, 10, 2);
  problem.tasks[1].after = {0};
  problem.tasks[0].crew = 1;
  problem.tasks[1].crew = 2;
  const auto answer = find_order(problem, Row{});
  ASSERT_TRUE(answer.best);
  EXPECT_EQ(answer.best->tasks[1].arrive_us[1], 2);
  EXPECT_EQ(answer.best->tasks[1].start_us, 11);
  EXPECT_EQ(answer.best->value.finish_us, 11 + 10 + 2);
}

TEST(Ordering, ATaskForBothStartsWhenTheLaterIsThereAndTakesTheSlowersTime) {
  auto problem = row_of(1, 0, 2);
  problem.tasks[0].together = true;
  problem.tasks[0].duration_us = {10, 14};
  problem.crew[1].ready_us = 5;
  const auto answer = find_order(problem, Row{});
  ASSERT_TRUE(answer.best);
  EXPECT_EQ(answer.best->tasks[0].start_us, 6);
  EXPECT_EQ(answer.best->tasks[0].end_us, 20);
  EXPECT_EQ(answer.best->finish_us, (std::array<std::int64_t, 2>{21, 21}));
}

TEST(Ordering, AbuttingWindowsAreOneAndTouchingIsWithin) {
  auto problem = row_of(1, 10);
  problem.tasks[0].windows = {{.open_us = 4, .close_us = 8}, {.open_us = 8, .close_us = 14}};
  EXPECT_EQ(find_order(problem, Row{}).best->tasks[0].start_us, 4);
  problem.tasks[0].windows = {{.open_us = 4, .close_us = 8}, {.open_us = 9, .close_us = 18}};
  EXPECT_EQ(find_order(problem, Row{}).outcome, OrderOutcome::None);
  problem.tasks[0].windows.back().close_us = 19;
  EXPECT_EQ(find_order(problem, Row{}).best->tasks[0].start_us, 9);
}

TEST(Ordering, WhatEndedLongAgoStillDecidesWhichWindowIsTheFirst) {
  // Task 1 is after 0, whose end shuts out the first window of 1; meanwhile the other goes on to 2 and 3.
  auto problem = row_of(4, 10, 2);
  problem.tasks[0].crew = problem.tasks[2].crew = problem.tasks[3].crew = 1;
  problem.tasks[1].crew = 2;
  problem.tasks[1].after = {0};
  problem.tasks[2].after = {0};
  problem.tasks[3].after = {2};
  problem.tasks[1].windows = {{.open_us = 2, .close_us = 15}, {.open_us = 30, .close_us = 100}};
  const auto answer = find_order(problem, Row{});
  ASSERT_TRUE(answer.best);
  EXPECT_EQ(answer.best->value, (OrderValue{.finish_us = 42, .moves = 6, .finishes_us = 80})) << print(*answer.best);
}

TEST(Ordering, EqualToTheLimitIsWithin) {
  auto problem = row_of(3, 10);
  problem.limit_us = 36;
  EXPECT_EQ(find_order(problem, Row{}).outcome, OrderOutcome::Best);
  problem.limit_us = 35;
  EXPECT_EQ(find_order(problem, Row{}).outcome, OrderOutcome::None);
}

TEST(Ordering, AnItemIsFetchedOnceAndBroughtBackWhereItWas) {
  // Tasks 0 and 1 need the item, which is at the end of the row (fetched by 2, put back by 3).
  auto problem = row_of(4, 10);
  problem.items = {{.spot = 0}};
  problem.tasks[0].needs = problem.tasks[1].needs = {0};
  problem.tasks[2].standing = problem.tasks[3].standing = Standing::Helping;
  problem.tasks[2].takes = {{0, 0}};
  problem.tasks[3].puts = {{0, 0}};
  const auto answer = find_order(problem, Row{});
  ASSERT_TRUE(answer.best);
  ASSERT_EQ(answer.best->tasks.size(), 4u) << print(*answer.best);
  EXPECT_EQ(answer.best->tasks.front().task, 2);
  EXPECT_EQ(answer.best->tasks.back().task, 3);
  problem.can_hold = [](int, ItemSet held) { return held == 0; };
  EXPECT_EQ(find_order(problem, Row{}).outcome, OrderOutcome::None);
}

TEST(Ordering, ARestraintIsSetUpBeforeAndTakenDownAfterTheLastTaskInItsSocket) {
  // 0, 1: work in the socket (spot 1); 2 fetch, 3 set up, 4 take down, 5 put back.
  auto problem = row_of(6, 10);
  problem.items = {{.spot = 0}};
  problem.tasks[0].at = problem.tasks[1].at = {{0, 1}};
  for (int t = 2; t < 6; ++t) problem.tasks[static_cast<std::size_t>(t)].standing = Standing::Helping;
  problem.tasks[2].takes = {{0, 0}};
  problem.tasks[3].puts = {{0, 1}};
  problem.tasks[4].takes = {{0, 1}};
  problem.tasks[5].puts = {{0, 0}};
  const auto answer = find_order(problem, Row{});
  ASSERT_TRUE(answer.best);
  std::vector<int> order;
  for (const auto& t : answer.best->tasks) order.push_back(t.task);
  EXPECT_EQ(order.size(), 6u);
  EXPECT_EQ((std::vector<int>{order[0], order[1], order[4], order[5]}), (std::vector<int>{2, 3, 4, 5}))
      << print(*answer.best);
  // Not asked for: nothing of it is done.
  problem.tasks[0].standing = problem.tasks[1].standing = Standing::Optional;
  problem.limit_us = 40;
  EXPECT_TRUE(find_order(problem, Row{}).best->tasks.empty());
}

TEST(Ordering, RanksOutweighAllLaterRanks) {
  const auto gains = gains_of_ranks({2, 1, 3, 2});
  ASSERT_TRUE(gains);
  const auto& g = *gains;
  EXPECT_GT(g[1], g[0] + g[2] + g[3]);
  EXPECT_EQ(g[0], g[3]);
  EXPECT_GT(g[0], g[2]);
  EXPECT_TRUE(gains_of_ranks(std::vector<int>{}));
  std::vector<int> many;
  for (int i = 0; i < 61; ++i) many.push_back(i);
  EXPECT_TRUE(gains_of_ranks(many));
  for (int i = 61; i < 64; ++i) many.push_back(i);
  EXPECT_FALSE(gains_of_ranks(many));
}

TEST(Ordering, WhatBreaksTheDescriptionIsRefused) {
  const auto refused = [](auto change) {
    auto problem = row_of(2, 1, 2);
    problem.items.resize(1);
    change(problem);
    EXPECT_THROW((void)find_order(problem, Row{}), std::invalid_argument);
  };
  refused([](auto& p) { p.tasks.resize(65); });
  refused([](auto& p) { p.items.resize(17); });
  refused([](auto& p) { p.crew.resize(3); });
  refused([](auto& p) { p.crew.clear(); });
  refused([](auto& p) { p.tasks[0].duration_us[1] = -1; });
  refused([](auto& p) { p.tasks[0].duration_us[1] = no_time_limit_us; });
  refused([](auto& p) { p.tasks[0].after = {2}; });
  refused([](auto& p) { p.tasks[0].needs = {1}; });
  refused([](auto& p) { p.tasks[0].puts = {{0, 14}}; });
  refused([](auto& p) { p.tasks[0].gain = -1; });
  refused([](auto& p) { p.tasks[0].windows = {{5, 9}, {8, 12}}; });
  refused([](auto& p) { p.limit_us = -1; });
  refused([](auto& p) {
    p.tasks[0].together = true;
    p.crew.resize(1);
  });
}

// ---- published instances (tests/data/ordering/LICENCE.txt says whose) ----

TEST(PublishedOrders, SequentialOrderingAndTourLengthsArePublishedOnes) {
  for (const auto& [file, optimum] : optima()) {
    if (file.rfind("sop/", 0) != 0 && file.rfind("atsp/", 0) != 0) continue;
    const auto instance = read(file);
    const auto answer = find_order(instance.problem, instance.travel);
    ASSERT_EQ(answer.outcome, OrderOutcome::Best) << file;
    EXPECT_EQ(answer.best->value.finish_us, optimum) << file;
  }
}

TEST(PublishedOrders, ToursWithWindowsArePublishedOnes) {
  // Earliest end of a tour: computed before by another program (optima.csv).
  const std::map<std::string, std::int64_t> ends{
      {"tsptw/rbg010a.tw", 3840}, {"tsptw/rbg016a.tw", 2596}, {"tsptw/rbg017.2.tw", 2351}};
  const auto published = optima();
  for (const auto& [file, end] : ends) {
    auto instance = read(file);
    const auto least_travel = find_order(instance.problem, instance.travel);
    ASSERT_EQ(least_travel.outcome, OrderOutcome::Best) << file;
    EXPECT_EQ(least_travel.best->value.moves, published.at(file)) << file;
    instance.problem.goal = Goal::Finish;
    const auto earliest = find_order(instance.problem, instance.travel);
    ASSERT_EQ(earliest.outcome, OrderOutcome::Best) << file;
    EXPECT_EQ(earliest.best->value.finish_us, end) << file;
  }
}

TEST(PublishedOrders, OrienteeringScoresAreTheBestKnown) {
  // With few nodes: proven up to a budget of 30, and for four of the teams; else both sides of the gap are checked.
  const std::set<std::string> proven{"op/tsiligirides_problem_1_budget_05.txt",
                                     "op/tsiligirides_problem_1_budget_10.txt",
                                     "op/tsiligirides_problem_1_budget_15.txt",
                                     "op/tsiligirides_problem_1_budget_20.txt",
                                     "op/tsiligirides_problem_1_budget_25.txt",
                                     "op/tsiligirides_problem_1_budget_30.txt",
                                     "top/p1.2.f.txt",
                                     "top/p2.2.d.txt",
                                     "top/p3.2.c.txt"};
  int files = 0;
  for (const auto& [file, optimum] : optima()) {
    if (file.rfind("op/", 0) != 0 && file.rfind("top/", 0) != 0) continue;
    ++files;
    const auto instance = read(file);
    const bool is_proven = proven.count(file) != 0;
    const auto answer = find_order(instance.problem, instance.travel,
                                   is_proven ? OrderEffort{.max_nodes = 20'000, .beam_width = 50}
                                             : OrderEffort{.max_nodes = 500, .beam_width = 6});
    ASSERT_TRUE(answer.best) << file;
    EXPECT_EQ(answer.outcome == OrderOutcome::Best, is_proven) << file;
    EXPECT_LE(answer.best->value.gain, optimum) << file;
    EXPECT_GE(answer.bound.gain, optimum) << file;
    if (is_proven) EXPECT_EQ(answer.best->value.gain, optimum) << file;
    // Measured: the worst is within 12 % of the best known.
    EXPECT_GE(static_cast<double>(answer.best->value.gain), 0.85 * static_cast<double>(optimum)) << file;
  }
  EXPECT_EQ(files, 24);
}

// ---- the enumeration ----

TEST(RandomOrders, EqualPlainEnumeration) {
  int with_order = 0, with_items = 0, with_gain = 0;
  for (unsigned seed = 1; seed <= 200; ++seed) {
    const RandomProblem random(seed);
    Enumeration all(random.problem, random.travel);
    const auto best = all.best();
    const auto answer = find_order(random.problem, random.travel);
    with_items += !random.problem.items.empty();
    if (!best) {
      EXPECT_EQ(answer.outcome, OrderOutcome::None) << "seed " << seed << ": " << print(*answer.best);
      continue;
    }
    ++with_order;
    with_gain += best->gain > 0;
    ASSERT_EQ(answer.outcome, OrderOutcome::Best) << "seed " << seed << ", enumerated " << print(*best);
    EXPECT_EQ(answer.best->value, *best) << "seed " << seed << "\n"
                                         << print(answer.best->value) << "\n"
                                         << print(*best);
    EXPECT_TRUE(all.confirms(*answer.best)) << "seed " << seed << ": " << print(*answer.best);
    // Cut short, neither side passes the optimum.
    for (const std::size_t nodes : {1, 4, 16, 64}) {
      const auto early = find_order(random.problem, random.travel, {.max_nodes = nodes, .beam_width = 1});
      EXPECT_FALSE(is_better(*best, early.bound, random.problem.goal) && early.outcome != OrderOutcome::None)
          << "seed " << seed << ", " << nodes << " nodes: bound " << print(early.bound) << ", optimum " << print(*best);
      EXPECT_NE(early.outcome, OrderOutcome::None) << "seed " << seed;
      if (early.best) EXPECT_FALSE(is_better(early.best->value, *best, random.problem.goal)) << "seed " << seed;
    }
  }
  // The problems are not all alike.
  EXPECT_GT(with_order, 120);
  EXPECT_LT(with_order, 200);
  EXPECT_GT(with_items, 40);
  EXPECT_GT(with_gain, 30);
}

TEST(RandomOrders, ManySmallOnesEqualPlainEnumeration) {
  for (unsigned seed = 10'001; seed <= 12'000; ++seed) {
    const RandomProblem random(seed, {.most_tasks = 6});
    Enumeration all(random.problem, random.travel);
    const auto best = all.best();
    const auto answer = find_order(random.problem, random.travel);
    ASSERT_EQ(answer.outcome, best ? OrderOutcome::Best : OrderOutcome::None) << "seed " << seed;
    if (!best) continue;
    EXPECT_EQ(answer.best->value, *best) << "seed " << seed << "\n" << print(*answer.best) << "\n" << print(*best);
    EXPECT_TRUE(all.confirms(*answer.best)) << "seed " << seed << ": " << print(*answer.best);
  }
}

TEST(RandomOrders, BoundsHoldForEveryWayOnFromEveryBeginning) {
  int looked_at = 0, tight = 0;
  for (unsigned seed = 2001; seed <= 2600; ++seed) {
    const RandomProblem random(seed, {.most_tasks = 6});
    Enumeration all(random.problem, random.travel);
    detail::Compiled compiled(random.problem, random.travel);
    std::mt19937 draw(seed);
    detail::Partial partial = compiled.begin();
    std::vector<std::pair<int, CrewSet>> steps;
    for (;;) {
      const auto best = all.extremes(steps);
      const auto bound = compiled.bound(partial);
      if (best) {
        ++looked_at;
        ASSERT_TRUE(bound) << "seed " << seed << ", after " << steps.size() << " tasks: " << print(*best);
        EXPECT_GE(bound->gain, best->gain) << "seed " << seed << ", after " << steps.size() << " tasks";
        EXPECT_LE(bound->finish_us, best->finish_us) << "seed " << seed << ", after " << steps.size() << " tasks";
        EXPECT_LE(bound->moves, best->moves) << "seed " << seed << ", after " << steps.size() << " tasks";
        EXPECT_LE(bound->finishes_us, best->finishes_us) << "seed " << seed << ", after " << steps.size() << " tasks";
        tight += bound->finish_us == best->finish_us;
      }
      std::vector<detail::Partial> next;
      compiled.append_each(partial, [&](const detail::Partial& p) { next.push_back(p); });
      if (next.empty()) break;
      partial = next[draw() % next.size()];
      steps.emplace_back(partial.task, partial.crew);
    }
  }
  EXPECT_GT(looked_at, 1000);
  EXPECT_GT(tight, 30);  // legs take up to 4 more than their bound here, so few are met exactly
}

TEST(RandomOrders, CandidatesComeInTheOrderOfPlainEnumeration) {
  constexpr std::size_t many = 12;
  std::size_t told = 0;
  for (unsigned seed = 1001; seed <= 1060; ++seed) {
    const RandomProblem random(seed, {.most_tasks = 5, .items = false});
    Enumeration all(random.problem, random.travel);
    const auto values = all.values();
    OrderCandidates candidates(random.problem, random.travel, many);
    for (std::size_t k = 0; k < std::min(many, values.size()); ++k) {
      const auto bound = candidates.bound();
      ASSERT_TRUE(bound) << "seed " << seed;
      EXPECT_FALSE(is_better(values[k], *bound, random.problem.goal)) << "seed " << seed << ", candidate " << k;
      const auto order = candidates.next();
      ASSERT_TRUE(order) << "seed " << seed << ", candidate " << k << " of " << values.size();
      EXPECT_EQ(order->value, values[k]) << "seed " << seed << ", candidate " << k << ": " << print(*order) << "\n"
                                         << print(values[k]);
      EXPECT_TRUE(candidates.is_in_order());
      ++told;
    }
    EXPECT_FALSE(candidates.next()) << "seed " << seed;
    if (values.size() <= many)
      EXPECT_FALSE(candidates.bound() && is_better(*candidates.bound(), values.back(), random.problem.goal))
          << "seed " << seed;
  }
  EXPECT_GT(told, 300u);
}

TEST(RandomOrders, WhatIsCutOffIsNotTold) {
  for (unsigned seed = 1001; seed <= 1060; ++seed) {
    const RandomProblem random(seed, {.most_tasks = 5, .items = false});
    Enumeration all(random.problem, random.travel);
    const auto values = all.values();
    OrderCandidates candidates(random.problem, random.travel, 12);
    if (values.size() < 8 || !candidates.next()) continue;
    candidates.cut_off(values[5]);
    std::size_t told = 1;
    while (const auto order = candidates.next()) {
      EXPECT_TRUE(is_better(order->value, values[5], random.problem.goal)) << "seed " << seed;
      ++told;
    }
    EXPECT_EQ(told, std::max<std::size_t>(
                        1, static_cast<std::size_t>(std::count_if(
                               values.begin(), values.end(),
                               [&](const auto& v) { return is_better(v, values[5], random.problem.goal); }))))
        << "seed " << seed;
    EXPECT_FALSE(candidates.bound() && is_better(*candidates.bound(), values[5], random.problem.goal))
        << "seed " << seed;
  }
}

TEST(RandomOrders, SameQuestionSameAnswer) {
  const RandomProblem random(7, {.most_tasks = 7, .least_tasks = 7, .items = true});
  const auto first = find_order(random.problem, random.travel, {.max_nodes = 40, .beam_width = 3});
  const auto second = find_order(random.problem, random.travel, {.max_nodes = 40, .beam_width = 3});
  ASSERT_EQ(first.best.has_value(), second.best.has_value());
  EXPECT_EQ(first.bound, second.bound);
  if (first.best) EXPECT_EQ(print(*first.best), print(*second.best));
}

TEST(RandomOrders, TwentyTasksOfTwoCrewMembersComeWithinFivePercentOfTheBound) {
  // Durations and legs as of excursions: 10 to 40 min, and 1 to 5 min apart.
  for (unsigned seed = 1; seed <= 3; ++seed) {
    const auto instance = reference::excursion(20, seed);
    const auto answer = find_order(instance.problem, instance.travel, {.max_nodes = 3'000, .beam_width = 20});
    ASSERT_TRUE(answer.best) << seed;
    EXPECT_LE(answer.gap(), 0.05) << "seed " << seed << ": " << print(answer.best->value) << "; bound "
                                  << print(answer.bound);
    EXPECT_FALSE(is_better(answer.best->value, answer.bound, Goal::Finish)) << seed;
  }
}

// ---- sets ----

TEST(OptionalSets, AreTheBestOfAllSets) {
  for (unsigned seed = 1; seed <= 200; ++seed) {
    std::mt19937 random(seed);
    const std::size_t n = 1 + random() % 8;
    std::vector<std::int64_t> gains(n), weights(n);
    for (std::size_t i = 0; i < n; ++i) {
      gains[i] = static_cast<std::int64_t>(random() % 5);
      weights[i] = 1 + static_cast<std::int64_t>(random() % 9);
    }
    const std::int64_t room = static_cast<std::int64_t>(random() % 25);
    const bool is_monotone = random() % 2;
    const unsigned odd =
        static_cast<unsigned>(random() % 8);  // a set that fits by itself alone but is refused for another reason
    const auto judge = [&](std::uint64_t set) -> SetJudgement {
      std::int64_t weight = 0;
      for (std::size_t i = 0; i < n; ++i)
        if (set & (1u << i)) weight += weights[i];
      if (weight > room) return {.verdict = is_monotone ? SetVerdict::NoSetWithTheseFits : SetVerdict::DoesNotFit};
      if ((set & 7) == odd && odd) return {};
      return {.verdict = SetVerdict::Fits, .finish_us = weight, .moves = static_cast<std::int64_t>(set % 3)};
    };
    using Figures = std::tuple<std::int64_t, int, std::int64_t, std::int64_t, std::vector<int>>;
    std::optional<std::pair<Figures, std::uint64_t>> best;
    for (std::uint64_t set = 0; set < (1u << n); ++set) {
      const auto judgement = judge(set);
      if (judgement.verdict != SetVerdict::Fits) continue;
      Figures figures{0, 0, judgement.finish_us, judgement.moves, {}};
      for (std::size_t i = 0; i < n; ++i) {
        const bool is_in = set & (1u << i);
        if (is_in) std::get<0>(figures) -= gains[i], --std::get<1>(figures);
        std::get<4>(figures).push_back(is_in ? 0 : 1);
      }
      if (!best || figures < best->first) best = {figures, set};
    }
    const auto choice = choose_set(gains, judge);
    EXPECT_TRUE(choice.is_proven);
    ASSERT_EQ(choice.best.has_value(), best.has_value()) << "seed " << seed;
    if (best) {
      EXPECT_EQ(*choice.best, best->second) << "seed " << seed;
      EXPECT_EQ(choice.gain, -std::get<0>(best->first));
      EXPECT_EQ(choice.gain_bound, choice.gain);
    }
  }
}

TEST(OptionalSets, AboveTwelveAreBoundedAndSaidSo) {
  // 20 tasks of gain 10 and weight 10 with one unit too little for the tenth: nothing tells the sets of nine apart.
  const std::vector<std::int64_t> gains(20, 10);
  const auto judge = [](std::uint64_t set) -> SetJudgement {
    const auto weight = 10 * static_cast<std::int64_t>(__builtin_popcountll(set));
    if (weight > 99) return {.verdict = SetVerdict::DoesNotFit};
    return {.verdict = SetVerdict::Fits, .finish_us = weight};
  };
  const auto choice = choose_set(gains, judge, 500);
  ASSERT_TRUE(choice.best);
  EXPECT_FALSE(choice.is_proven);
  EXPECT_EQ(choice.judged, 500u);
  EXPECT_EQ(choice.gain, 90);
  EXPECT_GE(choice.gain_bound, 90);
  EXPECT_EQ(*choice.best, 0x1FFu);  // the first nine of the list
  EXPECT_THROW((void)choose_set(std::vector<std::int64_t>(63, 0), judge), std::invalid_argument);
  EXPECT_FALSE(choose_set({1}, [](std::uint64_t) { return SetJudgement{}; }).best);
}

}  // namespace
}  // namespace holdfast::plan
