// SPDX-License-Identifier: GPL-3.0-or-later
// Orders against all sequences: of one crew member counted leg by leg, of two simulated one by one.

#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <limits>
#include <map>
#include <numeric>
#include <random>

#include "back_impl.h"
#include "holdfast/plan/order.h"
#include "small_model.h"

namespace holdfast::plan {
namespace {

using detail::GripId;
using sample::excursion;

constexpr double infinity = std::numeric_limits<double>::infinity();

// So that shards run side by side.
constexpr int shards = 4, excursions = 200, excursions_of_two = 60;

/// The earliest finish of one crew member over all permutations: legs and windows reckoned here, one after the other,
/// by nothing but the legs between grips. A permutation is grown task by task, so that those that begin alike share
/// that.
class AllSequences {
 public:
  AllSequences(detail::Legs& legs, const model::Model& model, const model::Excursion& e)
      : legs_(legs),
        structure_(model.structure),
        e_(e),
        site_(legs.site(model.structure.default_configuration(), model.kit.suits.front())) {}

  double earliest_s() {
    sequence_.clear(), best_.clear();
    best_s_ = infinity;
    grow(std::nullopt, e_.egress_s, 0);
    return best_s_;
  }
  [[nodiscard]] const std::vector<std::size_t>& best() const { return best_; }

 private:
  using Grip = std::optional<GripId>;

  std::vector<GripId> grips_of(model::PlaceId place) const {
    const auto& p = structure_.places[place.index()];
    return site_.graph->find_grips_within(p.at, p.within_m);
  }

  /// Seconds, and where it ends.
  std::pair<double, Grip> leg(const Grip& from, model::PlaceId to) {
    const auto [known, is_new] = legs_known_.try_emplace({from, to});
    if (!is_new) return known->second;
    detail::LegQuestion question{&site_, {}, route::Objective::Time, {}, grips_of(to)};
    question.from = from ? std::vector<GripId>{*from} : grips_of(e_.crew.front().start);
    if (from && std::find(question.to.begin(), question.to.end(), *from) != question.to.end())
      return known->second = {0.0, from};
    const auto& found = legs_.find(question, {});
    return known->second =
               found.leg ? std::pair(found.leg->time_s, Grip(found.leg->grips.back())) : std::pair(infinity, Grip());
  }

  double begins_s(const model::Task& task, double there_s) const {
    if (task.windows.empty()) return there_s;
    double earliest_s = infinity;
    for (const auto& w : e_.windows)
      if (const double t = std::max(there_s, w.from_s); t + task.duration_s <= w.to_s)
        earliest_s = std::min(earliest_s, t);
    return earliest_s;
  }

  void grow(const Grip& at, double now_s, unsigned done) {
    if (done + 1 == 1u << e_.tasks.size()) {
      const double inside_s = now_s + (at ? leg(at, e_.crew.front().start).first : 0) + e_.ingress_s;
      if (inside_s < best_s_) best_s_ = inside_s, best_ = sequence_;
      return;
    }
    for (std::size_t t = 0; t < e_.tasks.size(); ++t) {
      const auto& task = e_.tasks[t];
      const bool can_come = !(done >> t & 1) && std::all_of(task.after.begin(), task.after.end(),
                                                            [&](TaskId before) { return done >> before.index() & 1; });
      if (!can_come) continue;
      const auto [time_s, there] = leg(at, *task.at);
      const double start_s = begins_s(task, now_s + time_s);
      if (start_s == infinity) continue;
      sequence_.push_back(t);
      grow(there, start_s + task.duration_s, done | 1u << t);
      sequence_.pop_back();
    }
  }

  detail::Legs& legs_;
  const model::Structure& structure_;
  const model::Excursion& e_;
  const detail::Site& site_;
  std::map<std::pair<Grip, model::PlaceId>, std::pair<double, Grip>> legs_known_;
  std::vector<std::size_t> sequence_, best_;
  double best_s_ = infinity;
};

model::Excursion sequenced(const model::Excursion& e, const std::vector<std::size_t>& sequence, std::size_t split) {
  model::Excursion one = e;
  for (std::size_t k = 0; k < sequence.size(); ++k) {
    model::Action action;
    action.kind = model::ActionKind::Do;
    action.task = TaskId(sequence[k]);
    auto& member = one.crew[k < split ? 0 : 1];
    member.actions.insert(member.actions.end() - static_cast<std::ptrdiff_t>(member.ends), action);
  }
  return one;
}

class Shard : public testing::TestWithParam<int> {};

// Every permutation of up to seven tasks, with windows and precedence: the order found finishes with the best of them.
TEST_P(Shard, OfOneIsTheBestOfAllSequences) {
  const auto model = sample::line_model();
  const auto configuration = model.structure.default_configuration();
  detail::Legs legs(model.structure, model.kit);
  const char* places[] = {"depot", "site", "end", "side"};
  for (int run = GetParam(); run < excursions; run += shards) {
    std::mt19937 random(static_cast<unsigned>(run));
    const int n = 1 + run % 7;
    std::string text = "limit: 6 h\ncrew: [{id: A, start: hatch}]\ningress: 2 min\ntasks:\n";
    for (int t = 0; t < n; ++t) {
      text += fmt::format("  - {{id: t{}, at: {}, duration: {} s", t, places[random() % 4], 10 + random() % 600);
      if (t > 0 && random() % 3 == 0) text += fmt::format(", after: [t{}]", random() % static_cast<unsigned>(t));
      if (random() % 4 == 0) text += ", needs: {windows: [w]}";
      text += "}\n";
    }
    text += "windows: [{id: w, from: 5 min, to: 25 min}, {id: w, from: 30 min, to: 5 h}]\n";
    SCOPED_TRACE(fmt::format("seed {}\n{}", run, text));
    const auto given = excursion(model, text);
    const auto answer = order(model, configuration, given, {.what_if = {.looks_back = false}});
    ASSERT_TRUE(answer.ordered);
    EXPECT_TRUE(answer.is_clean());
    EXPECT_TRUE(answer.is_proven);
    AllSequences all(legs, model, given);
    const double best_s = all.earliest_s();
    EXPECT_NEAR(answer.plan.finish_s, best_s, 1e-3);
    // The reckoning here is the simulation's.
    const auto simulated = detail::simulate_with(legs, model, configuration, sequenced(given, all.best(), 9),
                                                 {.looks_back = false, .looks_out = false});
    EXPECT_TRUE(simulated.is_clean());
    EXPECT_NEAR(simulated.finish_s, best_s, 1e-3);
  }
}

/// The earliest clean finish of two crew members over all permutations and splits, each simulated.
double best_of_two_s(detail::Legs& legs, const model::Model& model, const model::Excursion& given,
                     std::vector<std::size_t> sequence) {
  double best_s = infinity;
  do {
    for (std::size_t split = 0; split <= sequence.size(); ++split) {
      const auto plan =
          detail::simulate_with(legs, model, model.structure.default_configuration(), sequenced(given, sequence, split),
                                {.looks_back = false, .looks_out = false});
      if (plan.is_clean()) best_s = std::min(best_s, plan.finish_s);
    }
  } while (std::next_permutation(sequence.begin(), sequence.end()));
  return best_s;
}

/// Two rails away from the hatch, to port and to starboard, with three places on each.
model::Model fork_model() {
  support::YardBuilder yard;
  const auto part = yard.nowhere();
  yard.rail("port", part, {{0, 0, 0}, {0, -15, 0}}, {{0, 0, -1}});
  yard.rail("starboard", part, {{0, 0, 0}, {0, 15, 0}}, {{0, 0, -1}});
  yard.place("hatch", {0, 0, 0}, 0.4, model::PlaceKind::Hatch);
  for (int k = 1; k <= 3; ++k) {
    yard.place(fmt::format("p{}", k), {0, -5.0 * k, 0}, 0.4, model::PlaceKind::Worksite);
    yard.place(fmt::format("s{}", k), {0, 5.0 * k, 0}, 0.4, model::PlaceKind::Worksite);
  }
  model::Model model;
  model.structure = yard.structure;
  model.kit = model::read_kit_text(sample::kit_text);
  return model;
}

// All splits and orders of two; the bound is below every one of them, and what is proven is the best.
TEST_P(Shard, OfTwoIsBoundedByTheBestOfAllSequences) {
  const auto model = fork_model();
  const auto configuration = model.structure.default_configuration();
  detail::Legs legs(model.structure, model.kit);
  const char* places[] = {"p1", "p2", "p3", "s1", "s2", "s3"};
  int proven = 0, best_found = 0;
  int runs = 0;
  for (int run = GetParam(); run < excursions_of_two; run += shards, ++runs) {
    std::mt19937 random(4711u + static_cast<unsigned>(run));
    const int n = 2 + static_cast<int>(random() % 3);
    std::string text = "limit: 6 h\ncrew: [{id: A, start: hatch}, {id: B, start: hatch}]\ntasks:\n";
    for (int t = 0; t < n; ++t) {
      text += fmt::format("  - {{id: t{}, at: {}, duration: {} s", t, places[random() % 6], 10 + random() % 900);
      if (t > 0 && random() % 3 == 0) text += fmt::format(", after: [t{}]", random() % static_cast<unsigned>(t));
      text += "}\n";
    }
    SCOPED_TRACE(fmt::format("seed {}\n{}", 4711 + run, text));
    const auto given = excursion(model, text);
    const auto answer = order(model, configuration, given, {.what_if = {.looks_back = false}, .most_simulated = 15});
    ASSERT_TRUE(answer.ordered);
    std::vector<std::size_t> sequence(static_cast<std::size_t>(n));
    std::iota(sequence.begin(), sequence.end(), 0);
    const double best_s = best_of_two_s(legs, model, given, std::move(sequence));
    EXPECT_LE(answer.bound_s, best_s + 1e-3);
    EXPECT_GE(answer.plan.finish_s, best_s - 1e-3);
    best_found += answer.plan.finish_s < best_s + 1e-3;
    if (answer.is_proven) {
      EXPECT_NEAR(answer.plan.finish_s, best_s, 1e-3);
      ++proven;
    }
  }
  EXPECT_GE(proven, runs * 8 / 10) << "of " << runs;
  EXPECT_GE(best_found, runs * 9 / 10) << "of " << runs;
}

/// Is the short list at the front, or at the back, of the long one?
void expect_kept(const std::vector<model::Action>& given, const std::vector<model::Action>& ordered, std::size_t begins,
                 std::size_t ends) {
  const auto same = [](const model::Action& a, const model::Action& b) {
    return a.kind == b.kind && a.item == b.item && a.task == b.task && a.place == b.place;
  };
  ASSERT_GE(ordered.size(), begins + ends);
  EXPECT_TRUE(std::equal(given.begin(), given.begin() + static_cast<std::ptrdiff_t>(begins), ordered.begin(), same));
  EXPECT_TRUE(std::equal(given.end() - static_cast<std::ptrdiff_t>(ends), given.end(),
                         ordered.end() - static_cast<std::ptrdiff_t>(ends), same));
}

// What stands under begin and end stays first and last, and between them the order is the best of all.
TEST(OrderBetween, BeginAndEndIsTheBestOfAllSequences) {
  const auto model = sample::line_model();
  const auto configuration = model.structure.default_configuration();
  detail::Legs legs(model.structure, model.kit);
  const char* places[] = {"depot", "site", "end", "side"};
  for (int run = 0; run < 60; ++run) {
    std::mt19937 random(77u + static_cast<unsigned>(run));
    const int n = 1 + run % 4;
    std::string text = fmt::format(
        "limit: 6 h\negress: 3 min\ncrew: [{{id: A, start: hatch, begin: [{{take: tool}}, {{do: first}}], "
        "end: [{{do: last}}, {{go: depot}}, {{put: tool}}, return]}}]\n"
        "items: [{{id: tool, load: bag, at: depot, home: depot}}]\ntasks:\n"
        "  - {{id: first, at: {}, duration: {} s}}\n  - {{id: last, at: {}, duration: {} s}}\n",
        places[random() % 4], 10 + random() % 600, places[random() % 4], 10 + random() % 600);
    for (int t = 0; t < n; ++t) {
      text += fmt::format("  - {{id: t{}, at: {}, duration: {} s", t, places[random() % 4], 10 + random() % 600);
      if (random() % 3 == 0) text += ", needs: {items: [tool]}";
      if (random() % 4 == 0) text += ", after: [first]";
      text += "}\n";
    }
    SCOPED_TRACE(fmt::format("seed {}\n{}", 77 + run, text));
    const auto given = excursion(model, text);
    const auto answer = order(model, configuration, given, {.what_if = {.looks_back = false}});
    ASSERT_TRUE(answer.ordered);
    EXPECT_TRUE(answer.is_clean());
    EXPECT_TRUE(answer.is_proven);
    EXPECT_EQ(answer.ordered->crew[0].actions.size(), given.crew[0].actions.size() + static_cast<std::size_t>(n));
    expect_kept(given.crew[0].actions, answer.ordered->crew[0].actions, 2, 4);
    std::vector<std::size_t> sequence(static_cast<std::size_t>(n));
    std::iota(sequence.begin(), sequence.end(), 2);
    double best_s = infinity;
    do {
      const auto plan = detail::simulate_with(legs, model, configuration, sequenced(given, sequence, sequence.size()),
                                              {.looks_back = false, .looks_out = false});
      if (plan.is_clean()) best_s = std::min(best_s, plan.finish_s);
    } while (std::next_permutation(sequence.begin(), sequence.end()));
    EXPECT_NEAR(answer.plan.finish_s, best_s, 1e-3);
  }
}

// The same of two, of whom each has something in hand that the other's tasks must do without.
TEST(OrderBetween, BeginAndEndOfTwoIsBoundedByTheBestOfAllSequences) {
  const auto model = fork_model();
  const auto configuration = model.structure.default_configuration();
  detail::Legs legs(model.structure, model.kit);
  const char* places[] = {"p1", "p2", "p3", "s1", "s2", "s3"};
  int best_found = 0;
  constexpr int runs = 30;
  for (int run = 0; run < runs; ++run) {
    std::mt19937 random(177u + static_cast<unsigned>(run));
    const int n = 2 + run % 2;
    std::string text = fmt::format(
        "limit: 6 h\ncrew: [{{id: A, start: hatch, begin: [{{take: tool}}], end: [{{do: last}}]}}, "
        "{{id: B, start: hatch, begin: [{{do: first}}]}}]\n"
        "items: [{{id: tool, load: bag, at: hatch}}]\ntasks:\n"
        "  - {{id: first, at: {}, duration: {} s}}\n  - {{id: last, at: {}, duration: {} s}}\n",
        places[random() % 6], 10 + random() % 600, places[random() % 6], 10 + random() % 600);
    for (int t = 0; t < n; ++t)
      text += fmt::format("  - {{id: t{}, at: {}, duration: {} s{}}}\n", t, places[random() % 6], 10 + random() % 900,
                          random() % 3 == 0 ? ", needs: {items: [tool]}" : "");
    SCOPED_TRACE(fmt::format("seed {}\n{}", 177 + run, text));
    const auto given = excursion(model, text);
    const auto answer = order(model, configuration, given, {.what_if = {.looks_back = false}, .most_simulated = 15});
    ASSERT_TRUE(answer.ordered);
    expect_kept(given.crew[0].actions, answer.ordered->crew[0].actions, 1, 0);
    expect_kept(given.crew[1].actions, answer.ordered->crew[1].actions, 1, 0);
    EXPECT_EQ(answer.ordered->crew[0].ends, 2u) << "the return is the last of end";
    std::vector<std::size_t> sequence(static_cast<std::size_t>(n));
    std::iota(sequence.begin(), sequence.end(), 2);
    const double best_s = best_of_two_s(legs, model, given, std::move(sequence));
    EXPECT_LE(answer.bound_s, best_s + 1e-3);
    EXPECT_GE(answer.plan.finish_s, best_s - 1e-3);
    best_found += answer.plan.finish_s < best_s + 1e-3;
  }
  EXPECT_GE(best_found, runs * 9 / 10) << "of " << runs;
}

// A photograph is taken from a grip of its own, which the order counts as the plan does.
TEST(OrderBetween, PhotographsIsTheBestOfAllSequences) {
  const auto model = model::read_model(std::string(HOLDFAST_SOURCE_DIR) + "/models/yard");
  const auto configuration = model.structure.default_configuration();
  detail::Legs legs(model.structure, model.kit);
  const auto given = excursion(model,
                               "limit: 6 h\ncrew: [{id: A, start: lock-hatch}]\ntasks:\n"
                               "  - {id: photo, duration: 3 min, needs: {photograph: tank-valve-face}}\n"
                               "  - {id: mast, at: mast-foot, duration: 4 min}\n"
                               "  - {id: window, at: port-window, duration: 5 min}\n"
                               "  - {id: hinge, at: port-end, duration: 2 min}\n");
  const auto answer = order(model, configuration, given, {.what_if = {.looks_back = false}});
  ASSERT_TRUE(answer.ordered);
  EXPECT_TRUE(answer.is_proven);
  std::vector<std::size_t> sequence = {0, 1, 2, 3};
  double best_s = infinity;
  do {
    const auto plan = detail::simulate_with(legs, model, configuration, sequenced(given, sequence, 4),
                                            {.looks_back = false, .looks_out = false});
    EXPECT_TRUE(plan.is_clean());
    best_s = std::min(best_s, plan.finish_s);
  } while (std::next_permutation(sequence.begin(), sequence.end()));
  EXPECT_NEAR(answer.plan.finish_s, best_s, 1e-3);
}

INSTANTIATE_TEST_SUITE_P(Orders, Shard, testing::Range(0, shards));

}  // namespace
}  // namespace holdfast::plan
