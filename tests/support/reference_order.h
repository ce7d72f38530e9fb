// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// The slow twin of the search over orders: tries every sequence in which tasks can be appended, in whatever order of
// time, with every end kept; and the random problems that both are asked.

#include <algorithm>
#include <map>
#include <optional>
#include <random>
#include <vector>

#include "holdfast/plan/ordering.h"
#include "ordering_instances.h"

namespace holdfast::plan::reference {

/// Legs that hang on the crew member, the state (a place and one of two grips) and what is carried, drawn from a seed.
class RandomTravel : public Travel {
 public:
  RandomTravel() = default;
  RandomTravel(unsigned seed, int tasks) : seed_(seed), tasks_(tasks) {}

  [[nodiscard]] std::optional<Arrival> arrive(int crew, int state, ItemSet held, int task) const override {
    return leg(crew, state, held, task);
  }
  [[nodiscard]] std::optional<Arrival> come_home(int crew, int state, ItemSet held) const override {
    return leg(crew, state, held, tasks_);
  }
  [[nodiscard]] std::optional<LegBound> lower_bound(int from, int to) const override {
    const int a = from == order_start ? tasks_ : from;
    const int b = to == order_home ? tasks_ : to;
    if (is_shut(a, b)) return std::nullopt;
    return LegBound{base(a, b), 1};
  }

 private:
  [[nodiscard]] std::uint64_t draw(std::uint64_t a, std::uint64_t b, std::uint64_t c, std::uint64_t d,
                                   std::uint64_t kind) const {
    std::uint64_t h = seed_ + 1;
    for (const auto x : {a, b, c, d, kind}) {
      h = (h ^ (x + 0x9E3779B97F4A7C15ull)) * 0xBF58476D1CE4E5B9ull;
      h ^= h >> 31;
    }
    return h;
  }
  [[nodiscard]] std::int64_t base(int a, int b) const {
    return 2 + static_cast<std::int64_t>(draw(u(a), u(b), 0, 0, 1) % 12);
  }
  /// Some legs do not exist, in one direction and whatever is carried.
  [[nodiscard]] bool is_shut(int a, int b) const { return a != b && draw(u(a), u(b), 0, 0, 2) % 16 == 0; }
  [[nodiscard]] std::optional<Arrival> leg(int crew, int state, ItemSet held, int b) const {
    const int a = state / 2;
    if (is_shut(a, b)) return std::nullopt;
    if (draw(u(a), u(b), held, u(state % 2), 3) % 40 == 0) return std::nullopt;  // no room with what is carried
    const auto more = static_cast<std::int64_t>(draw(u(state), u(b), held, u(crew), 4) % 5);
    const int moves = 1 + static_cast<int>(draw(u(state), u(b), held, 0, 5) % 4);
    return Arrival{base(a, b) + more, moves, 2 * b + static_cast<int>(draw(u(state), u(b), 0, 0, 6) % 2)};
  }
  static std::uint64_t u(int x) { return static_cast<std::uint64_t>(x); }

  unsigned seed_ = 0;
  int tasks_ = 0;
};

struct RandomKind {
  int most_tasks = 7, least_tasks = 4;
  bool items = true;
};

struct RandomProblem {
  explicit RandomProblem(unsigned seed, const RandomKind& kind = {}) {
    std::mt19937 random(seed);
    const auto below = [&](unsigned n) { return static_cast<int>(random() % n); };
    const int n = kind.least_tasks + below(static_cast<unsigned>(kind.most_tasks - kind.least_tasks + 1));
    travel = RandomTravel(seed, n);
    problem.crew.resize(below(5) ? 2 : 1);
    const bool two = problem.crew.size() == 2;
    for (std::size_t c = 0; c < problem.crew.size(); ++c)
      problem.crew[c] = {.state = 2 * n + below(2), .ready_us = below(6)};
    problem.tasks.resize(static_cast<std::size_t>(n));
    if (below(4) == 0) problem.goal = Goal::Moves;
    const bool with_windows = below(3) == 0;
    const bool with_options = below(3) == 0;
    for (int t = 0; t < n; ++t) {
      auto& task = problem.tasks[static_cast<std::size_t>(t)];
      const int duration = below(20);  // zero too
      task.duration_us = {duration, duration + below(4)};
      if (two) {
        const int who = below(6);
        task.crew = who == 0 ? 1u : who == 1 ? 2u : 3u;
        task.together = who == 2;
      }
      for (int a = 0; a < t; ++a)
        if (below(5) == 0) task.after.push_back(a);
      if (with_windows && below(2)) {
        const int open = below(60);
        task.windows = {{open, open + 15 + below(30)}};
        if (below(2))
          task.windows.push_back({task.windows[0].close_us + below(10), task.windows[0].close_us + 40 + below(40)});
      }
      if (with_options && below(2)) {
        task.standing = Standing::Optional;
        task.gain = below(4);
      }
    }
    if (kind.items && n >= 4 && below(3) == 0) {
      // One item: the last two tasks fetch it and put it back; one to three of the others need it. Or: it is carried
      // inside.
      problem.items = {{.spot = 0, .end_spots = {}, .may_come_home = below(3) == 0}};
      auto& fetch = problem.tasks[static_cast<std::size_t>(n - 2)];
      auto& back = problem.tasks[static_cast<std::size_t>(n - 1)];
      fetch = {.duration_us = {1, 2}, .standing = Standing::Helping, .takes = {{0, 0}}};
      back = {.duration_us = {2, 1}, .standing = Standing::Helping, .puts = {{0, 0}}};
      for (int k = 1 + below(3); k > 0; --k)
        problem.tasks[static_cast<std::size_t>(below(static_cast<unsigned>(n - 2)))].needs = {0};
      if (below(3) == 0) {  // a second item in the hands of one is too much for the first crew member
        problem.items.push_back({.spot = 1, .end_spots = {}});
        fetch.takes.push_back({1, 1});
        back.puts.push_back({1, 1});
        problem.can_hold = [](int crew, ItemSet held) { return crew == 1 || held != 3; };
      }
    } else if (kind.items && n >= 5 && below(3) == 0) {
      // A restraint: set up in a socket, used there, taken down; fetched and put back at the same place without tasks
      // of its own.
      problem.items = {{.spot = 0}};
      auto& set = problem.tasks[static_cast<std::size_t>(n - 3)];
      auto& down = problem.tasks[static_cast<std::size_t>(n - 2)];
      auto& fetch = problem.tasks[static_cast<std::size_t>(n - 1)];
      problem.items[0].may_come_home = true;
      fetch = {.duration_us = {1, 1}, .standing = Standing::Helping, .takes = {{0, 0}}};
      set = {.duration_us = {3, 4}, .standing = Standing::Helping, .puts = {{0, 1}}};
      down = {.duration_us = {2, 2}, .standing = Standing::Helping, .takes = {{0, 1}}};
      for (int k = 1 + below(2); k > 0; --k)
        problem.tasks[static_cast<std::size_t>(below(static_cast<unsigned>(n - 3)))].at = {{0, 1}};
    }
    const auto n_tasks = problem.tasks.size();
    for (std::size_t t = 0; t < n_tasks; ++t)  // helping tasks wait for nobody by number, and nobody for them
      problem.tasks[t].after.erase(
          std::remove_if(
              problem.tasks[t].after.begin(), problem.tasks[t].after.end(),
              [&](int a) { return problem.tasks[static_cast<std::size_t>(a)].standing == Standing::Helping; }),
          problem.tasks[t].after.end());
    if (with_options || below(6) == 0) problem.limit_us = 30 + below(120);
  }
  OrderProblem problem;
  RandomTravel travel;
};

class Enumeration {
 public:
  Enumeration(const OrderProblem& problem, const Travel& travel) : problem_(problem), travel_(travel) {
    const std::size_t n = problem.tasks.size();
    World world;
    world.ends.assign(n, -1);
    for (std::size_t c = 0; c < problem.crew.size(); ++c) {
      world.clock[c] = problem.crew[c].ready_us;
      world.state[c] = problem.crew[c].state;
    }
    for (const auto& item : problem.items) world.where.push_back(item.spot);
    world.free_from.assign(problem.items.size(), 0);
    needed_.assign(n, false);
    for (std::size_t t = 0; t < n; ++t)
      if (problem.tasks[t].standing == Standing::Needed) need(t);
    start_ = world;
    go(world);
  }
  [[nodiscard]] std::optional<OrderValue> best() const { return best_; }
  /// Of all pairs of sequences, best first.
  [[nodiscard]] std::vector<OrderValue> values() const {
    std::vector<OrderValue> list;
    for (const auto& [sequences, value] : found_) list.push_back(value);
    std::sort(list.begin(), list.end(), [&](const auto& a, const auto& b) { return is_better(a, b, problem_.goal); });
    return list;
  }
  /// Of all orders that begin with these steps and go on in order of start, the best of each figure by itself.
  [[nodiscard]] std::optional<OrderValue> extremes(const std::vector<std::pair<int, CrewSet>>& steps) {
    World world = start_;
    world.start = std::numeric_limits<std::int64_t>::min();
    for (const auto& [task, who] : steps) {
      World next;
      if (!step(world, static_cast<std::size_t>(task), who, next)) return std::nullopt;
      world = next;
    }
    extremes_.reset();
    in_order_ = true;
    go(world);
    in_order_ = false;
    return extremes_;
  }
  /// Whether the order can be carried out with just these starts, ends and figures.
  [[nodiscard]] bool confirms(const Order& order) const {
    World world = start_;
    for (const auto& t : order.tasks) {
      World next;
      if (!step(world, static_cast<std::size_t>(t.task), t.crew, next)) return false;
      if (next.start != t.start_us || next.ends[static_cast<std::size_t>(t.task)] != t.end_us) return false;
      for (std::size_t c = 0; c < problem_.crew.size(); ++c)
        if ((t.crew & (1u << c)) && (t.arrive_us[c] > t.start_us || t.arrive_us[c] < world.clock[c])) return false;
      world = next;
    }
    const auto value = close(world);
    return value && *value == order.value;
  }

 private:
  struct World {
    std::vector<std::int64_t> ends;  ///< -1: not done
    std::array<std::int64_t, 2> clock{};
    std::array<int, 2> state{};
    std::vector<int> where;               ///< spot, or 100 + crew member
    std::vector<std::int64_t> free_from;  ///< of items
    std::int64_t gain = 0, moves = 0, start = 0;
    std::array<std::vector<int>, 2> sequence;
  };

  void need(std::size_t t) {
    if (needed_[t]) return;
    needed_[t] = true;
    for (const int a : problem_.tasks[t].after) need(static_cast<std::size_t>(a));
  }

  [[nodiscard]] ItemSet held(const World& w, int c) const {
    ItemSet set = 0;
    for (std::size_t i = 0; i < w.where.size(); ++i)
      if (w.where[i] == 100 + c) set |= 1u << i;
    return set;
  }

  [[nodiscard]] bool step(const World& w, std::size_t t, CrewSet who, World& out) const {
    const auto& task = problem_.tasks[t];
    if (w.ends[t] >= 0) return false;
    std::int64_t start = 0, duration = 0;
    out = w;
    ItemSet hands = 0;
    for (int c = 0; c < 2; ++c)
      if (who & (1u << c)) hands |= held(w, c);
    for (const int i : task.needs)
      if (!(hands & (1u << i))) return false;
    for (const int a : task.after) {
      if (w.ends[static_cast<std::size_t>(a)] < 0) return false;
      start = std::max(start, w.ends[static_cast<std::size_t>(a)]);
    }
    for (const auto* list : {&task.at, &task.takes})
      for (const auto& a : *list)
        if (w.where[static_cast<std::size_t>(a.item)] != a.spot) return false;
    for (const auto& a : task.puts)
      if (!(hands & (1u << a.item))) return false;
    for (const auto* list : {&task.at, &task.takes, &task.puts})
      for (const auto& a : *list) start = std::max(start, w.free_from[static_cast<std::size_t>(a.item)]);
    if (task.standing == Standing::Helping && !task.takes.empty()) {
      // Asked for: by a task left that needs it in hand or set up, or by its having to come home.
      bool asked = false;
      const auto& item = problem_.items[static_cast<std::size_t>(task.takes[0].item)];
      if (task.takes[0].spot != item.spot &&
          std::find(item.end_spots.begin(), item.end_spots.end(), task.takes[0].spot) == item.end_spots.end())
        asked = true;
      for (std::size_t u = 0; u < problem_.tasks.size(); ++u) {
        if (u == t || w.ends[u] >= 0) continue;
        for (const auto& taken : task.takes) {
          const auto& other = problem_.tasks[u];
          if (std::find(other.needs.begin(), other.needs.end(), taken.item) != other.needs.end()) asked = true;
          for (const auto& a : other.at)
            if (a.item == taken.item && a.spot != taken.spot) asked = true;
        }
      }
      if (!asked) return false;
    }
    if (task.standing == Standing::Helping && !task.puts.empty() &&
        task.puts[0].spot != problem_.items[static_cast<std::size_t>(task.puts[0].item)].spot) {
      bool asked = false;
      for (std::size_t u = 0; u < problem_.tasks.size(); ++u)
        if (w.ends[u] < 0)
          for (const auto& a : problem_.tasks[u].at)
            if (a.item == task.puts[0].item && a.spot == task.puts[0].spot) asked = true;
      if (!asked) return false;
    }
    for (int c = 0; c < 2; ++c) {
      if (!(who & (1u << c))) continue;
      const auto k = static_cast<std::size_t>(c);
      const auto leg = travel_.arrive(c, w.state[k], held(w, c), static_cast<int>(t));
      if (!leg) return false;
      start = std::max(start, w.clock[k] + leg->time_us);
      duration = std::max(duration, task.duration_us[k]);
      out.state[k] = leg->state;
      out.moves += leg->moves;
      out.sequence[k].push_back(static_cast<int>(t));
    }
    if (!task.windows.empty()) {
      // The earliest moment at which every instant of the task is in a window (whole numbers: look at each).
      const std::int64_t last = task.windows.back().close_us;
      const auto inside = [&](std::int64_t from, std::int64_t to) {  // of one unit, or a moment
        return std::any_of(task.windows.begin(), task.windows.end(),
                           [&](const OrderWindow& x) { return x.open_us <= from && to <= x.close_us; });
      };
      bool fits = false;
      for (; start <= last && !fits; ++start) {
        fits = inside(start, start);
        for (std::int64_t k = start; k < start + duration && fits; ++k) fits = inside(k, k + 1);
      }
      if (!fits) return false;
      --start;
    }
    for (const auto& a : task.puts) out.where[static_cast<std::size_t>(a.item)] = a.spot;
    for (const auto& a : task.takes) out.where[static_cast<std::size_t>(a.item)] = who == 2 ? 101 : 100;
    if (!task.takes.empty() && problem_.can_hold && !problem_.can_hold(who == 2 ? 1 : 0, held(out, who == 2 ? 1 : 0)))
      return false;
    const std::int64_t end = start + duration;
    for (int c = 0; c < 2; ++c)
      if (who & (1u << c)) out.clock[static_cast<std::size_t>(c)] = end;
    for (const auto* list : {&task.at, &task.takes, &task.puts})
      for (const auto& a : *list) out.free_from[static_cast<std::size_t>(a.item)] = end;
    out.ends[t] = end;
    out.start = start;
    if (task.standing == Standing::Optional) out.gain += task.gain;
    return true;
  }

  [[nodiscard]] std::optional<OrderValue> close(const World& w) const {
    for (std::size_t t = 0; t < needed_.size(); ++t)
      if (needed_[t] && w.ends[t] < 0) return std::nullopt;
    for (std::size_t i = 0; i < w.where.size(); ++i) {
      const auto& item = problem_.items[i];
      const bool well = w.where[i] >= 100
                            ? item.may_come_home
                            : w.where[i] == item.spot || std::find(item.end_spots.begin(), item.end_spots.end(),
                                                                   w.where[i]) != item.end_spots.end();
      if (!well) return std::nullopt;
    }
    OrderValue value{.gain = w.gain, .moves = w.moves};
    for (std::size_t c = 0; c < problem_.crew.size(); ++c) {
      const auto leg = travel_.come_home(static_cast<int>(c), w.state[c], held(w, static_cast<int>(c)));
      if (!leg || w.clock[c] + leg->time_us > problem_.limit_us) return std::nullopt;
      value.finish_us = std::max(value.finish_us, w.clock[c] + leg->time_us);
      value.finishes_us += w.clock[c] + leg->time_us;
      value.moves += leg->moves;
    }
    return value;
  }

  void go(const World& w) {
    if (const auto value = close(w)) {
      if (!best_ || is_better(*value, *best_, problem_.goal)) best_ = value;
      if (!in_order_ && problem_.items.empty()) found_.emplace(w.sequence, *value);
      if (!extremes_) extremes_ = value;
      extremes_->gain = std::max(extremes_->gain, value->gain);
      extremes_->finish_us = std::min(extremes_->finish_us, value->finish_us);
      extremes_->moves = std::min(extremes_->moves, value->moves);
      extremes_->finishes_us = std::min(extremes_->finishes_us, value->finishes_us);
    }
    World next;
    for (std::size_t t = 0; t < problem_.tasks.size(); ++t) {
      const auto& task = problem_.tasks[t];
      for (CrewSet who = 1; who <= 3; ++who) {
        if (task.together ? who != 3 : who == 3) continue;
        if ((who & ~task.crew) || (who >> problem_.crew.size())) continue;
        if (step(w, t, who, next) && (!in_order_ || next.start >= w.start)) go(next);
      }
    }
  }

  const OrderProblem& problem_;
  const Travel& travel_;
  World start_;
  std::vector<bool> needed_;
  std::optional<OrderValue> best_, extremes_;
  bool in_order_ = false;
  std::map<std::array<std::vector<int>, 2>, OrderValue> found_;
};

/// Tasks of 10 to 40 min, places in a box of 20 m by 8 m by 8 m, 6 m a minute and half a minute for start and stop;
/// some precedence, some tasks for one or both; the figures are ours, of the size of excursions. In milliseconds.
/// `items`: each is needed by some of the tasks, fetched from a place of its own, at most two at a time, and put back
/// there; every second one is at the hatch, and comes inside with who has it.
inline instances::Instance excursion(int tasks, unsigned seed, int items = 0) {
  std::mt19937 random(seed);
  const auto below = [&](unsigned n) { return static_cast<int>(random() % n); };
  instances::Instance instance;
  std::vector<std::array<double, 3>> places{{0, 0, 0}};
  instance.problem.crew.resize(2);
  for (int t = 0; t < tasks; ++t) {
    places.push_back({below(2000) / 100.0, below(800) / 100.0, below(800) / 100.0});
    instance.travel.node_of.push_back(t + 1);
    OrderTask task;
    const std::int64_t duration = 60'000 * (10 + below(31));
    task.duration_us = {duration, duration};
    const int who = below(10);
    if (who == 0) task.crew = 1;
    if (who == 1) task.crew = 2;
    task.together = who == 2;
    for (int a = 0; a < t; ++a)
      if (below(static_cast<unsigned>(3 * tasks)) == 0) task.after.push_back(a);
    instance.problem.tasks.push_back(task);
  }
  for (int i = 0; i < items; ++i) {
    const bool at_hatch = i % 2 == 1;
    instance.problem.items.push_back({.spot = i, .end_spots = {}, .may_come_home = at_hatch});
    for (int k = 1 + below(3); k > 0; --k)
      instance.problem.tasks[static_cast<std::size_t>(below(static_cast<unsigned>(tasks)))].needs.push_back(i);
    if (!at_hatch) places.push_back({below(2000) / 100.0, below(800) / 100.0, below(800) / 100.0});
    const int place = at_hatch ? 0 : static_cast<int>(places.size()) - 1;
    for (CrewSet who = 1; who <= 2; ++who) {
      instance.problem.tasks.push_back(
          {.duration_us = {60'000, 60'000}, .crew = who, .standing = Standing::Helping, .takes = {{i, i}}});
      instance.travel.node_of.push_back(place);
      if (at_hatch) continue;
      instance.problem.tasks.push_back(
          {.duration_us = {60'000, 60'000}, .crew = who, .standing = Standing::Helping, .puts = {{i, i}}});
      instance.travel.node_of.push_back(place);
    }
  }
  if (items) instance.problem.can_hold = [](int, ItemSet held) { return __builtin_popcount(held) <= 2; };
  for (const auto& a : places) {
    instance.travel.cost.emplace_back();
    for (const auto& b : places) {
      const double length = std::hypot(a[0] - b[0], a[1] - b[1], a[2] - b[2]);
      instance.travel.cost.back().push_back(length > 0 ? 30'000 + std::llround(10'000 * length) : 0);
    }
  }
  return instance;
}

}  // namespace holdfast::plan::reference
