// SPDX-License-Identifier: GPL-3.0-or-later
// Which optional tasks fit: of the sets that do, the one that is worth most is kept.

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "back_impl.h"
#include "holdfast/plan/ordering.h"
#include "holdfast/plan/planner.h"
#include "pieces_impl.h"

namespace holdfast::plan {

namespace {

constexpr std::size_t most_tasks = 62;  // of `choose_set`
constexpr std::size_t most_sets = 512;  // looked at where there are more than 12 tasks
constexpr double score_parts = 1e6;     // scores as whole numbers

/// Violations told apart by what they are about, not by their moment: that moves with what is left out.
std::multiset<std::string> faults_of(const Plan& plan) {
  std::multiset<std::string> faults;
  for (const auto& v : plan.violations)
    if (!v.follows)
      faults.insert(
          fmt::format("{} {} {} {}", static_cast<int>(v.kind), v.crew ? v.crew->value + 1 : 0, v.subject, v.other));
  return faults;
}

bool fits(const Plan& plan, const std::multiset<std::string>& allowed) {
  const auto faults = faults_of(plan);
  return std::includes(allowed.begin(), allowed.end(), faults.begin(), faults.end());
}

/// Optional tasks that a sequence has, the first of most worth; those that are left out already are none.
std::vector<TaskId> choosable(const model::Excursion& excursion, const PlanOptions& options) {
  std::vector<TaskId> tasks;
  for (std::size_t t = 0; t < excursion.tasks.size(); ++t) {
    const bool is_dropped =
        std::find(options.dropped.begin(), options.dropped.end(), TaskId(t)) != options.dropped.end();
    const bool is_planned = std::any_of(excursion.crew.begin(), excursion.crew.end(), [&](const auto& member) {
      return std::any_of(member.actions.begin(), member.actions.end(), [&](const auto& action) {
        return action.kind == model::ActionKind::Do && action.task == TaskId(t);
      });
    });
    if (excursion.tasks[t].optional && !is_dropped && is_planned) tasks.emplace_back(t);
  }
  const auto worth = [&](TaskId task) -> const model::Worth& { return *excursion.tasks[task.index()].optional; };
  std::stable_sort(tasks.begin(), tasks.end(), [&](TaskId x, TaskId y) {
    return worth(x).priority ? *worth(x).priority < *worth(y).priority : *worth(x).score > *worth(y).score;
  });
  return tasks;
}

/// Is the work of one crew member alone, without a leg, longer than the limit? Then so it is with more tasks.
bool is_too_much_work(const model::Excursion& excursion, const PlanOptions& options,
                      const std::vector<TaskId>& dropped) {
  return std::any_of(excursion.crew.begin(), excursion.crew.end(), [&](const auto& member) {
    const double factor = detail::factor_of(options, member);
    double work_s = excursion.egress_s + excursion.ingress_s;
    for (const auto& action : member.actions)
      if (action.kind == model::ActionKind::Do && action.task &&
          std::find(dropped.begin(), dropped.end(), *action.task) == dropped.end() &&
          std::find(options.dropped.begin(), options.dropped.end(), *action.task) == options.dropped.end())
        work_s += excursion.tasks[action.task->index()].duration_s * factor;
    return work_s > excursion.limit_s + 1e-3;
  });
}

/// The first priority of which a set within the bound may hold more tasks than the one kept.
std::optional<int> open_priority(const std::vector<int>& ranks, const std::vector<std::int64_t>& gains,
                                 std::int64_t kept, std::int64_t bound) {
  std::map<int, std::pair<std::int64_t, std::int64_t>> levels;  // rank -> gain of one task, tasks
  for (std::size_t i = 0; i < ranks.size(); ++i) {
    levels[ranks[i]].first = gains[i];
    ++levels[ranks[i]].second;
  }
  for (const auto& [rank, level] : levels) {
    const auto held = [&, gain = level.first, most = level.second](std::int64_t& left) {
      const std::int64_t many = std::min(most, left / gain);
      left -= many * gain;
      return many;
    };
    if (held(kept) < held(bound)) return rank;
  }
  return std::nullopt;
}

Plan simulate_best(detail::Legs& legs, const model::Model& model, const model::Configuration& configuration,
                   const model::Excursion& excursion, const PlanOptions& options) {
  // Who sees whom is looked at in what is kept alone.
  const auto run = [&](const std::vector<TaskId>& dropped, bool looks_out = false) {
    PlanOptions with = options;
    with.looks_out = looks_out && options.looks_out;
    with.dropped.insert(with.dropped.end(), dropped.begin(), dropped.end());
    Plan plan = detail::simulate_with(legs, model, configuration, excursion, with);
    plan.options.looks_out = options.looks_out;
    return plan;
  };
  auto optional = choosable(excursion, options);
  if (optional.empty()) return run({}, true);
  const Plan all = run({});
  if (all.is_clean()) return run({}, true);
  const Plan none = run(optional);
  const auto allowed = faults_of(none);
  if (fits(all, allowed)) return run({}, true);
  std::vector<TaskId> beyond;  // never looked at, and left out
  const auto worth = [&](TaskId task) -> const model::Worth& { return *excursion.tasks[task.index()].optional; };
  const bool is_ranked = worth(optional.front()).priority.has_value();
  std::vector<int> ranks;
  std::vector<std::int64_t> gains;
  const auto weigh = [&] {
    ranks.clear(), gains.clear();
    for (const TaskId task : optional) {
      if (is_ranked)
        ranks.push_back(*worth(task).priority);
      else
        gains.push_back(std::llround(*worth(task).score * score_parts));
    }
    if (!is_ranked) return true;
    const auto by_rank = gains_of_ranks(ranks);
    if (by_rank) gains = *by_rank;
    return by_rank.has_value();
  };
  const auto leave_last = [&] {
    beyond.push_back(optional.back());
    optional.pop_back();
  };
  while (optional.size() > most_tasks) leave_last();
  while (!weigh()) leave_last();
  const auto dropped_of = [&](std::uint64_t set) {
    std::vector<TaskId> dropped = beyond;
    for (std::size_t i = 0; i < optional.size(); ++i)
      if (!(set >> i & 1)) dropped.push_back(optional[i]);
    return dropped;
  };
  const bool may_be_late = std::any_of(none.violations.begin(), none.violations.end(),
                                       [](const Violation& v) { return v.kind == ViolationKind::LimitExceeded; });
  const auto choice = choose_set(
      gains,
      [&](std::uint64_t set) {
        const auto dropped = dropped_of(set);
        if (!may_be_late && is_too_much_work(excursion, options, dropped))
          return SetJudgement{.verdict = SetVerdict::NoSetWithTheseFits};
        const Plan plan = set == 0 ? none : run(dropped);
        SetJudgement judgement;
        // A task that follows one left out goes with it, and earns nothing.
        const bool is_whole = plan.dropped.size() == dropped.size() + options.dropped.size();
        judgement.verdict = is_whole && fits(plan, allowed) ? SetVerdict::Fits : SetVerdict::DoesNotFit;
        judgement.finish_us = std::llround(plan.finish_s * 1e6);
        for (const auto& total : plan.totals) judgement.moves += static_cast<std::int64_t>(total.moves);
        return judgement;
      },
      most_sets);
  model::ensure(choice.best.has_value(), "the plan without optional tasks fits what it allows itself");
  Plan best = run(dropped_of(*choice.best), true);
  best.is_choice_exact = choice.is_proven && beyond.empty();
  best.sets_tried = choice.judged;
  if (!best.is_choice_exact && is_ranked)
    best.open_priority =
        choice.is_proven ? *worth(beyond.back()).priority : open_priority(ranks, gains, choice.gain, choice.gain_bound);
  if (!is_ranked) {
    double beyond_score = 0;
    for (const TaskId task : beyond) beyond_score += *worth(task).score;
    best.score = static_cast<double>(choice.gain) / score_parts;
    best.score_bound = static_cast<double>(choice.gain_bound) / score_parts + beyond_score;
  }
  return best;
}

}  // namespace

struct Planner::Kept {
  const model::Model& model;
  const model::Configuration configuration;
  detail::Legs legs;
};

Planner::Planner(const model::Model& model, const model::Configuration& configuration, const geometry::Scene* first)
    : kept_(new Kept{model, configuration, {model.structure, model.kit, configuration, first}}) {}
Planner::~Planner() = default;
Planner::Planner(Planner&&) noexcept = default;

Plan Planner::simulate(const model::Excursion& excursion, const PlanOptions& options) {
  const model::Model& model = kept_->model;
  Plan plan = simulate_best(kept_->legs, model, kept_->configuration, excursion, options);
  detail::follow_items(model, plan);
  if (options.describes_legs) detail::describe_legs(kept_->legs, model, plan);
  return plan;
}

Plan simulate(const model::Model& model, const model::Configuration& configuration, const model::Excursion& excursion,
              const PlanOptions& options, const geometry::Scene* first) {
  return Planner(model, configuration, first).simulate(excursion, options);
}

}  // namespace holdfast::plan
