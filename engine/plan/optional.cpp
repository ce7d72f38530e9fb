// Which optional tasks fit: sets are tried from the best downward, and the first that fits is kept.

#include <fmt/format.h>

#include <algorithm>
#include <set>

#include "back_impl.h"

namespace holdfast::plan {

namespace {

/// Sets looked at before the rest is left unseen, which is said. 8 tasks have 256 sets.
constexpr std::size_t most_sets = 256;
constexpr std::size_t most_tasks = 12;

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

Plan simulate_best(detail::Legs& legs, const model::Model& model, const model::Configuration& configuration,
                   const model::Excursion& excursion, const PlanOptions& options) {
  const auto run = [&](const std::vector<TaskId>& dropped) {
    PlanOptions with = options;
    with.dropped.insert(with.dropped.end(), dropped.begin(), dropped.end());
    return detail::simulate_with(legs, model, configuration, excursion, with);
  };
  Plan all = run({});
  std::vector<TaskId> optional;
  for (std::size_t t = 0; t < excursion.tasks.size(); ++t) {
    const bool is_dropped =
        std::find(options.dropped.begin(), options.dropped.end(), TaskId(t)) != options.dropped.end();
    const bool is_planned = std::any_of(excursion.crew.begin(), excursion.crew.end(), [&](const auto& member) {
      return std::any_of(member.actions.begin(), member.actions.end(), [&](const auto& action) {
        return action.kind == model::ActionKind::Do && action.task == TaskId(t);
      });
    });
    if (excursion.tasks[t].optional && !is_dropped && is_planned) optional.emplace_back(t);
  }
  if (optional.empty() || all.is_clean()) return all;
  Plan none = run(optional);
  const auto allowed = faults_of(none);
  if (fits(all, allowed)) return all;
  // The best first: by rank, or by score.
  const auto& worth = [&](TaskId task) -> const model::Worth& { return *excursion.tasks[task.index()].optional; };
  const bool is_ranked = worth(optional.front()).priority.has_value();
  if (is_ranked)
    std::stable_sort(optional.begin(), optional.end(),
                     [&](TaskId x, TaskId y) { return *worth(x).priority < *worth(y).priority; });
  const std::size_t n = optional.size();
  none.is_choice_exact = n <= most_tasks;
  if (n > most_tasks) return none;
  std::vector<std::size_t> sets;  // bit n - 1 is the first task
  for (std::size_t set = (std::size_t{1} << n) - 1; set > 0; --set) sets.push_back(set);
  if (!is_ranked) {
    const auto score = [&](std::size_t set) {
      double sum = 0;
      for (std::size_t i = 0; i < n; ++i)
        if (set >> (n - 1 - i) & 1) sum += *worth(optional[i]).score;
      return sum;
    };
    std::stable_sort(sets.begin(), sets.end(), [&](std::size_t x, std::size_t y) { return score(x) > score(y); });
  }
  for (std::size_t tried = 1; tried < sets.size(); ++tried) {  // the first is all of them
    if (tried > most_sets) {
      none.is_choice_exact = false;
      break;
    }
    std::vector<TaskId> dropped;
    for (std::size_t i = 0; i < n; ++i)
      if (!(sets[tried] >> (n - 1 - i) & 1)) dropped.push_back(optional[i]);
    Plan plan = run(dropped);
    if (fits(plan, allowed)) return plan;
  }
  return none;
}

}  // namespace

Plan simulate(const model::Model& model, const model::Configuration& configuration, const model::Excursion& excursion,
              const PlanOptions& options) {
  detail::Legs legs(model.structure, model.kit);
  Plan plan = simulate_best(legs, model, configuration, excursion, options);
  detail::follow_items(model, plan);
  if (options.describes_legs) detail::describe_legs(legs, model, plan);
  return plan;
}

}  // namespace holdfast::plan
