// SPDX-License-Identifier: GPL-3.0-or-later
// The problem as masks and matrices, one step of the search, and the bounds.

#include <algorithm>
#include <stdexcept>
#include <string>

#include "ordering_impl.h"

namespace holdfast::plan::detail {
namespace {

__extension__ using Wide = __int128;  // products of gains and times

std::size_t at(int i) { return static_cast<std::size_t>(i); }

constexpr std::int64_t most_us = no_time_limit_us / 1024;  // so that no sum of theirs overflows

[[noreturn]] void refuse(const std::string& what) { throw std::invalid_argument("order: " + what); }

std::int64_t add(std::int64_t a, std::int64_t b) { return a >= never_us || b >= never_us ? never_us : a + b; }

}  // namespace

Compiled::Compiled(const OrderProblem& given, const Travel& travel) : problem(given), travel_(travel) {
  tasks = static_cast<int>(problem.tasks.size());
  crew = static_cast<int>(problem.crew.size());
  check();
  compile();
}

void Compiled::check() const {
  if (problem.tasks.size() > 64) refuse("more than 64 tasks");
  if (problem.items.size() > 16) refuse("more than 16 items");
  if (crew < 1 || crew > 2) refuse("one or two crew members");
  if (problem.limit_us < 0 || problem.limit_us > no_time_limit_us) refuse("limit out of range");
  const auto items = static_cast<int>(problem.items.size());
  const auto is_item = [&](int i) { return i >= 0 && i < items; };
  const auto is_at = [&](const ItemAt& a) { return is_item(a.item) && a.spot >= 0 && a.spot <= 13; };
  for (const auto& item : problem.items)
    if (!is_at({0, item.spot}) || !std::all_of(item.end_spots.begin(), item.end_spots.end(), [&](int s) {
          return is_at({0, s});
        }))
      refuse("a spot out of range");
  std::int64_t gains = 0;
  for (const auto& task : problem.tasks) {
    for (const auto d : task.duration_us)
      if (d < 0 || d > most_us) refuse("duration out of range");
    if (task.gain < 0 || task.gain > std::numeric_limits<std::int64_t>::max() - gains) refuse("gain out of range");
    gains += task.gain;
    if (task.together && (task.crew != 3 || crew != 2 || !task.takes.empty())) refuse("a task for both");
    for (const int a : task.after)
      if (a < 0 || a >= tasks) refuse("a task to be after out of range");
    for (const int i : task.needs)
      if (!is_item(i)) refuse("an item out of range");
    for (const auto* list : {&task.at, &task.takes, &task.puts})
      for (const auto& a : *list)
        if (!is_at(a)) refuse("an item or spot out of range");
    for (std::size_t w = 0; w < task.windows.size(); ++w)
      if (task.windows[w].close_us < task.windows[w].open_us ||
          (w && task.windows[w].open_us < task.windows[w - 1].close_us))
        refuse("windows overlap or are not in order");
  }
}

void Compiled::compile() {
  const int n = tasks;
  after_.resize(at(n));
  all_before_.resize(at(n));
  duration_.resize(at(n));
  load_.resize(at(n));
  least_.resize(at(n));
  tail_.resize(at(n));
  who_.resize(at(n));
  mult_.resize(at(n));
  touches_.resize(at(n));
  const CrewSet everybody = crew == 2 ? 3 : 1;
  for (int t = 0; t < n; ++t) {
    const auto& task = problem.tasks[at(t)];
    (task.standing == Standing::Needed     ? needed_
     : task.standing == Standing::Optional ? optional_
                                           : helping_) |= bit(t);
    for (const int a : task.after) after_[at(t)] |= bit(a);
    who_[at(t)] = task.crew & everybody;
    duration_[at(t)] = task.duration_us;
    if (task.together) duration_[at(t)].fill(std::max(task.duration_us[0], task.duration_us[1]));
    std::int64_t least = never_us;
    for (int c = 0; c < crew; ++c)
      if (who_[at(t)] & (1u << c)) least = std::min(least, duration_[at(t)][at(c)]);
    least_[at(t)] = least;
    mult_[at(t)] = task.together ? 2 : 1;
    load_[at(t)] = least >= never_us ? never_us : least * mult_[at(t)];
    for (const auto* list : {&task.at, &task.takes, &task.puts})
      for (const auto& a : *list) touches_[at(t)] |= 1u << a.item;
  }
  const auto items = problem.items.size();
  users_.assign(items, 0);
  helpers_.assign(items, 0);
  needs_.assign(at(n), 0);
  moves_of_.assign(items, {});
  std::uint64_t waited_for = 0;
  for (const auto a : after_) waited_for |= a;
  for (int t = 0; t < n; ++t) {
    const auto& task = problem.tasks[at(t)];
    for (const int i : task.needs) {
      users_[at(i)] |= bit(t);
      needs_[at(t)] |= 1u << i;
      moves_of_[at(i)].needed_by |= bit(t);
    }
    for (const auto& a : task.at) {
      users_[at(a.item)] |= bit(t);
      moves_of_[at(a.item)].kept_by |= bit(t);
    }
    for (const auto& a : task.takes) moves_of_[at(a.item)].takes[at(a.spot)] |= bit(t);
    for (const auto& a : task.puts) {
      moves_of_[at(a.item)].puts[at(a.spot)] |= bit(t);
      if (ends_well(a.item, a.spot)) moves_of_[at(a.item)].puts_well |= bit(t);
    }
    for (const auto* list : {&task.takes, &task.puts})
      for (const auto& a : *list) {
        const bool is_alone = task.standing == Standing::Helping && task.takes.size() + task.puts.size() == 1;
        if (!is_alone || (waited_for & bit(t))) {
          users_[at(a.item)] |= bit(t);
          continue;
        }
        helpers_[at(a.item)] |= bit(t);
        apart_ |= bit(t);
      }
  }
  // What a needed task waits for is needed.
  for (bool grows = true; grows;) {
    grows = false;
    for (int t = 0; t < n; ++t)
      if ((needed_ & bit(t)) && (after_[at(t)] & ~needed_)) {
        needed_ |= after_[at(t)];
        grows = true;
      }
  }
  gainful_ = optional_;
  optional_ &= ~needed_;
  helping_ &= ~needed_;
  // By precedence, smaller numbers first.
  std::uint64_t placed = 0;
  while (by_precedence_.size() < at(n)) {
    const auto before = by_precedence_.size();
    for (int t = 0; t < n; ++t)
      if (!(placed & bit(t)) && !(after_[at(t)] & ~placed)) {
        placed |= bit(t);
        by_precedence_.push_back(t);
        all_before_[at(t)] = after_[at(t)];
        for (int a = 0; a < n; ++a)
          if (after_[at(t)] & bit(a)) all_before_[at(t)] |= all_before_[at(a)];
      }
    if (by_precedence_.size() == before) break;
  }
  circular_ = by_precedence_.size() < at(n) && (needed_ & ~placed);

  legs_.assign(at((n + 1) * (n + 1)), never_us);
  legs_moves_ = legs_;
  for (int a = 0; a <= n; ++a)
    for (int b = 0; b <= n; ++b) {
      if (a == b && a < n) continue;
      if (a < n && b < n) {
        if (!(who_[at(a)] & who_[at(b)]) || (all_before_[at(a)] & bit(b))) continue;
        // One alone cannot do b right after a where something needed has to come between.
        if (crew == 1 && (all_before_[at(b)] & bit(a))) {
          bool between = false;
          for (int k = 0; k < n && !between; ++k)
            between = (all_before_[at(b)] & bit(k)) && (all_before_[at(k)] & bit(a));
          if (between) continue;
        }
      }
      const auto bound = travel_.lower_bound(a < n ? a : order_start, b < n ? b : order_home);
      if (!bound) continue;
      if (bound->time_us < 0 || bound->moves < 0 || bound->time_us > most_us) refuse("a bound on a leg out of range");
      leg(a, b) = bound->time_us;
      legs_moves_[at(a * (n + 1) + b)] = bound->moves;
    }
  paths_ = legs_;
  for (int k = 0; k < n; ++k)
    for (int a = 0; a <= n; ++a) {
      const std::int64_t to = add(paths_[at(a * (n + 1) + k)], least_[at(k)]);
      if (to >= never_us) continue;
      for (int b = 0; b <= n; ++b) {
        auto& p = paths_[at(a * (n + 1) + b)];
        p = std::min(p, add(to, paths_[at(k * (n + 1) + b)]));
      }
    }
  for (auto t = by_precedence_.rbegin(); t != by_precedence_.rend(); ++t) {
    std::int64_t tail = path(*t, n);
    for (int s = 0; s < n; ++s)
      if ((needed_ & bit(s)) && (after_[at(s)] & bit(*t))) tail = std::max(tail, add(least_[at(s)], tail_[at(s)]));
    tail_[at(*t)] = tail;
  }
  // Legs that may lead over tasks that need not be done, whose time is not counted; and for each item those to and from
  // where it can be fetched, and where it can be put at last.
  std::vector<std::int64_t> over = legs_;
  for (int k = 0; k < n; ++k) {
    if (needed_ & bit(k)) continue;
    for (int a = 0; a <= n; ++a)
      for (int b = 0; b <= n; ++b) {
        auto& h = over[at(a * (n + 1) + b)];
        h = std::min(h, add(over[at(a * (n + 1) + k)], over[at(k * (n + 1) + b)]));
      }
  }
  vertices_ = n + 1 + 2 * static_cast<int>(items);
  hops_.assign(at(vertices_ * vertices_), never_us);
  std::vector<std::vector<int>> members(at(vertices_));
  for (int v = 0; v < vertices_; ++v) {
    if (v <= n) {
      members[at(v)] = {v};
      continue;
    }
    const int i = (v - n - 1) / 2;
    const auto& moved = moves_of_[at(i)];
    for (std::uint64_t rest = (v - n - 1) % 2 ? moved.puts_well : moved.takes[at(problem.items[at(i)].spot)]; rest;
         rest &= rest - 1)
      members[at(v)].push_back(__builtin_ctzll(rest));
  }
  for (int v = 0; v < vertices_; ++v)
    for (int w = 0; w < vertices_; ++w)
      for (const int a : members[at(v)])
        for (const int b : members[at(w)]) {
          auto& h = hops_[at(v * vertices_ + w)];
          h = std::min(h, over[at(a * (n + 1) + b)]);
        }
  costs_.resize(at(n + 1));
  row_.resize(at(n + 2));
  column_.resize(at(n + 1));
  earliest_.resize(at(n));
  find_prices();
}

std::optional<Arrival> Compiled::ask(int c, int state, ItemSet held, int task) {
  const Question question{(static_cast<std::int64_t>(state) << 1) | c,
                          (static_cast<std::int64_t>(held) << 8) | (task & 255)};
  if (const auto found = asked_.find(question); found != asked_.end()) return found->second;
  auto answer = task == order_home ? travel_.come_home(c, state, held) : travel_.arrive(c, state, held, task);
  if (answer && (answer->time_us < 0 || answer->moves < 0 || answer->time_us > most_us)) refuse("a leg out of range");
  return asked_.emplace(question, answer).first->second;
}

bool Compiled::can_hold(int c, ItemSet held) {
  if (!problem.can_hold) return true;
  const auto [found, is_new] = hold_[at(c)].try_emplace(held, false);
  if (is_new) found->second = problem.can_hold(c, held);
  return found->second;
}

ItemSet Compiled::held(const Partial& p, int c) const {
  ItemSet set = 0;
  for (int i = 0; i < static_cast<int>(problem.items.size()); ++i)
    if (where(p, i) == in_hand(c)) set |= 1u << i;
  return set;
}

bool Compiled::ends_well(int item, int place) const {
  const auto& it = problem.items[at(item)];
  if (place >= in_hand(0)) return it.may_come_home;
  return place == it.spot || std::find(it.end_spots.begin(), it.end_spots.end(), place) != it.end_spots.end();
}

Partial Compiled::begin() const {
  Partial p;
  for (int c = 0; c < crew; ++c) {
    p.clock_us[at(c)] = problem.crew[at(c)].ready_us;
    p.state[at(c)] = problem.crew[at(c)].state;
  }
  for (int i = 0; i < static_cast<int>(problem.items.size()); ++i) put(p, i, problem.items[at(i)].spot);
  return p;
}

bool Compiled::is_asked_for(const Partial& p, int t) const {
  const auto& task = problem.tasks[at(t)];
  const std::uint64_t left = ~p.done & ~bit(t);
  for (int u = 0; u < tasks; ++u)
    if ((left & bit(u)) && (after_[at(u)] & bit(t))) return true;
  const auto wanted_at = [&](const ItemAt& a) {  // by a task of its own right
    for (int u = 0; u < tasks; ++u)
      if (left & bit(u))
        for (const auto& k : problem.tasks[at(u)].at)
          if (k.item == a.item && k.spot == a.spot) return true;
    return false;
  };
  for (const auto& taken : task.takes) {
    if (!ends_well(taken.item, taken.spot)) return true;
    for (int u = 0; u < tasks; ++u) {
      if (!(left & bit(u))) continue;
      const auto& other = problem.tasks[at(u)];
      if (std::find(other.needs.begin(), other.needs.end(), taken.item) != other.needs.end()) return true;
      for (const auto& a : other.puts)
        if (a.item == taken.item && a.spot != taken.spot && (!(helping_ & bit(u)) || wanted_at(a))) return true;
    }
  }
  for (const auto& a : task.puts)
    if (ends_well(a.item, a.spot) || wanted_at(a)) return true;
  return false;
}

bool Compiled::append(const Partial& p, std::uint32_t history, int t, CrewSet who, Partial& out) {
  const auto& task = problem.tasks[at(t)];
  std::array<ItemSet, 2> hands{held(p, 0), crew == 2 ? held(p, 1) : 0};
  ItemSet in_reach = 0;
  for (int c = 0; c < crew; ++c)
    if (who & (1u << c)) in_reach |= hands[at(c)];
  for (const int i : task.needs)
    if (!(in_reach & (1u << i))) return false;
  for (const auto& a : task.at)
    if (where(p, a.item) != a.spot) return false;
  for (const auto& a : task.takes)
    if (where(p, a.item) != a.spot) return false;
  for (const auto& a : task.puts)
    if (!(in_reach & (1u << a.item))) return false;

  std::int64_t start = p.last_start_us;
  std::int64_t natural = std::numeric_limits<std::int64_t>::min();
  std::int64_t duration = 0;
  out = p;
  out.history = history;
  bool is_bound_to_other = false;
  for (int c = 0; c < crew; ++c) {
    if (who & (1u << c)) {
      const auto leg = ask(c, p.state[at(c)], hands[at(c)], t);
      if (!leg) return false;
      natural = std::max(natural, p.clock_us[at(c)] + leg->time_us);
      duration = std::max(duration, duration_[at(t)][at(c)]);
      out.moves += leg->moves;
      out.state[at(c)] = leg->state;
      out.last[at(c)] = static_cast<std::int8_t>(t);
    } else if (const int last = p.last[at(c)];
               last >= 0 && ((after_[at(t)] & bit(last)) || (touches_[at(t)] & touches_[at(last)]))) {
      // Of what the other did only the last task can end after the last start, so earlier ones need no look.
      natural = std::max(natural, p.clock_us[at(c)]);
      is_bound_to_other = true;
    }
  }
  std::int64_t opening = opens(t, natural, duration);
  // Earlier tasks have ended by the last start, so they decide nothing but whether this one could have come before it.
  if (opening <= start && (after_[at(t)] || touches_[at(t)])) {
    for (std::uint32_t e = history; e != no_history; e = history_[e].before) {
      const int done = history_[e].task;
      if ((after_[at(t)] & bit(done)) || (touches_[at(t)] & touches_[at(done)]))
        natural = std::max(natural, history_[e].end_us);
    }
    opening = opens(t, natural, duration);
  }
  natural = opening;
  if (natural >= never_us) return false;
  // It could have been appended before the last one: that partial order has the same tasks, ends nothing later and this
  // crew member's last one earlier, so this one is needless. At the same moment the crew's order decides.
  if (natural < start) return false;
  if (natural == start && p.task >= 0 && who < p.crew && !(who & p.crew) && !is_bound_to_other) return false;
  start = natural;
  for (const auto& a : task.puts) put(out, a.item, a.spot);
  if (!task.takes.empty()) {
    const int c = who == 1 ? 0 : 1;
    for (const auto& a : task.takes) put(out, a.item, in_hand(c));
    if (!can_hold(c, held(out, c))) return false;
  }
  for (int c = 0; c < crew; ++c)
    if (who & (1u << c)) out.clock_us[at(c)] = start + duration;
  out.done |= bit(t);
  // Helping tasks that nothing can ask for any more count as done, so that it makes no difference who had fetched.
  for (std::uint32_t rest = touches_[at(t)] | needs_[at(t)]; rest; rest &= rest - 1) {
    const int i = __builtin_ctz(rest);
    if (where(out, i) < in_hand(0) && ends_well(i, where(out, i)) && !(users_[at(i)] & ~out.done))
      out.done |= helpers_[at(i)];
  }
  out.last_start_us = start;
  if (task.standing == Standing::Optional) out.gain += task.gain;
  out.task = static_cast<std::int8_t>(t);
  out.crew = static_cast<std::uint8_t>(who);
  return true;
}

std::optional<std::pair<OrderValue, std::array<std::int64_t, 2>>> Compiled::close(const Partial& p) {
  if (needed_ & ~p.done) return std::nullopt;
  for (int i = 0; i < static_cast<int>(problem.items.size()); ++i)
    if (!ends_well(i, where(p, i))) return std::nullopt;
  OrderValue value;
  std::array<std::int64_t, 2> finish{};
  value.gain = p.gain;
  value.moves = p.moves;
  for (int c = 0; c < crew; ++c) {
    const auto leg = ask(c, p.state[at(c)], held(p, c), order_home);
    if (!leg) return std::nullopt;
    finish[at(c)] = p.clock_us[at(c)] + leg->time_us;
    if (finish[at(c)] > problem.limit_us) return std::nullopt;
    value.moves += leg->moves;
    value.finish_us = std::max(value.finish_us, finish[at(c)]);
    value.finishes_us += finish[at(c)];
  }
  return std::pair{value, finish};
}

Compiled::Help Compiled::helping(const Partial& p, std::uint64_t may) {
  implied_ = 0;
  Help help;
  const std::uint64_t must = needed_ & ~p.done;
  // Counts the cheapest of the tasks that can do it; whether all of them do nothing else.
  const auto count = [&](std::uint64_t those) {
    those &= may;
    if ((those & needed_) || (those & ~apart_)) return false;  // counted already, or it may serve two ends
    Help least{never_us, never_us};
    for (; those; those &= those - 1) {
      const int t = __builtin_ctzll(those);
      const std::int64_t legs = add(row_[at(t)], column_[at(t)]);
      if (legs < never_us) least.with_legs_us = std::min(least.with_legs_us, load_[at(t)] + mult_[at(t)] * legs);
      least.work_us = std::min(least.work_us, load_[at(t)]);
    }
    help.with_legs_us = add(help.with_legs_us, least.with_legs_us);
    help.work_us = add(help.work_us, least.work_us);
    return true;
  };
  for (int i = 0; i < static_cast<int>(problem.items.size()); ++i) {
    const auto& moved = moves_of_[at(i)];
    const int place = where(p, i);
    const bool in_hands = place >= in_hand(0);
    bool in_hand_needed = must & moved.needed_by;
    int spot = -1;  // where it must be for a task
    for (std::uint64_t rest = must & moved.kept_by; rest; rest &= rest - 1)
      for (const auto& a : problem.tasks[at(__builtin_ctzll(rest))].at)
        if (a.item == i) spot = a.spot;
    const bool set_up = spot >= 0 && spot != place;
    if (set_up) count(moved.puts[at(spot)]);
    in_hand_needed = in_hand_needed || set_up;
    const bool is_taken = !in_hands && (in_hand_needed || !ends_well(i, place));
    if (is_taken && count(moved.takes[at(place)]) && place == problem.items[at(i)].spot) implied_ |= 1u << (2 * i);
    if (set_up && !ends_well(i, spot)) count(moved.takes[at(spot)]);
    if ((in_hands || is_taken || set_up) && !problem.items[at(i)].may_come_home && !(spot >= 0 && ends_well(i, spot)) &&
        count(moved.puts_well))
      implied_ |= 2u << (2 * i);
  }
  return help;
}

// The paths of all crew members, joined at home, are a tree over the tasks left (once for each who does them), home and
// where each is now. So a least spanning tree bounds them, and still does with a price on each node, less the price
// times the number of legs that meet there (Held and Karp, Oper. Res. 18, 1970). Legs may lead over tasks that need not
// be done.
std::int64_t Compiled::tree(const Partial& p, std::uint64_t must, const std::array<int, 2>& from, bool something_more,
                            std::vector<int>* degrees) {
  const int n = tasks;
  struct Vertex {
    int task;       // or n: home
    CrewSet who;    // who comes by
    int starts;     // crew member whose start it is, or -1
    int best_from;  // in the tree so far
    std::int64_t price, key;
  };
  std::array<Vertex, 163> v;
  int count = 0;
  std::int64_t sum = -crew * prices_[at(n)];
  v[at(count++)] = {n, 3, -1, -1, prices_[at(n)], 0};
  for (int c = 0; c < crew; ++c) v[at(count++)] = {from[at(c)], 1u << c, c, -1, 0, never_us};
  for (std::uint64_t rest = must; rest; rest &= rest - 1) {
    const int t = __builtin_ctzll(rest);
    const std::int64_t price = prices_[at(t)];
    sum -= 2 * mult_[at(t)] * price;
    if (problem.tasks[at(t)].together) {
      v[at(count++)] = {t, 1, -1, -1, price, never_us};
      v[at(count++)] = {t, 2, -1, -1, price, never_us};
    } else {
      v[at(count++)] = {t, who_[at(t)], -1, -1, price, never_us};
    }
  }
  for (std::uint32_t rest = implied_; rest; rest &= rest - 1) {
    const int vertex = n + 1 + __builtin_ctz(rest);
    sum -= 2 * prices_[at(vertex)];
    v[at(count++)] = {vertex, 3, -1, -1, prices_[at(vertex)], never_us};
  }
  const auto edge = [&](const Vertex& a, const Vertex& b) -> std::int64_t {
    if (!(a.who & b.who) || (a.starts >= 0 && b.starts >= 0)) return never_us;
    if (a.starts >= 0 || b.starts >= 0) {
      const Vertex& s = a.starts >= 0 ? a : b;
      const Vertex& t = a.starts >= 0 ? b : a;
      const std::int64_t hop_us = hop(s.task, t.task);
      if (t.task == n && something_more) return never_us;
      if (hop_us >= never_us || (t.task == n && !must)) return hop_us;
      // Whatever comes first does not start before the last start.
      if (t.task >= n || !problem.items.empty()) return std::max(hop_us, p.last_start_us - p.clock_us[at(s.starts)]);
      return std::max(hop_us, earliest_[at(t.task)] - p.clock_us[at(s.starts)]);
    }
    if (a.task == b.task) return never_us;
    if (a.task == n) return hop(b.task, n);
    if (b.task == n) return hop(a.task, n);
    return std::min(hop(a.task, b.task), hop(b.task, a.task));
  };
  // Prim: the vertices from `done` on are not in the tree yet.
  for (int done = 0; done < count; ++done) {
    int next = done;
    for (int k = done + 1; k < count; ++k)
      if (v[at(k)].key < v[at(next)].key) next = k;
    if (v[at(next)].key >= never_us) return never_us;
    std::swap(v[at(done)], v[at(next)]);
    const Vertex& now = v[at(done)];
    sum += now.key;
    if (degrees && done > 0)
      for (const int t : {now.starts >= 0 ? -1 : now.task, now.best_from})
        if (t >= 0) ++(*degrees)[at(t)];
    for (int k = done + 1; k < count; ++k) {
      const std::int64_t edge_us = edge(now, v[at(k)]);
      if (edge_us >= never_us) continue;
      const std::int64_t key = edge_us + now.price + v[at(k)].price;
      if (key < v[at(k)].key) {
        v[at(k)].key = key;
        v[at(k)].best_from = now.starts >= 0 ? -1 : now.task;
      }
    }
  }
  return std::max<std::int64_t>(sum, 0);
}

void Compiled::find_prices() {
  prices_.assign(at(vertices_), 0);
  const Partial root = begin();
  if (circular_ || !bound(root)) return;  // also finds when tasks can begin
  const std::array<int, 2> from{tasks, tasks};
  std::vector<std::int64_t> best = prices_;
  std::int64_t highest = tree(root, needed_, from, false);
  std::int64_t longest = 0;
  for (const auto l : legs_)
    if (l < never_us) longest = std::max(longest, l);
  // Steps of the subgradient method, smaller and smaller; what comes of it is a bound whatever the steps were.
  for (int round = 0; round < 300; ++round) {
    std::vector<int> degrees(at(vertices_), 0);
    const std::int64_t now = tree(root, needed_, from, false, &degrees);
    if (now >= never_us) break;
    if (now > highest) {
      highest = now;
      best = prices_;
    }
    const std::int64_t step = longest / (4 + round);
    bool is_a_path = true;
    for (int t = 0; t < vertices_; ++t) {
      if (t < tasks ? !(needed_ & bit(t)) : t > tasks && !(implied_ & (1u << (t - tasks - 1)))) continue;
      const int excess = degrees[at(t)] - (t == tasks ? crew : t > tasks ? 2 : 2 * mult_[at(t)]);
      is_a_path = is_a_path && excess == 0;
      prices_[at(t)] += excess * step;
    }
    if (is_a_path) break;
  }
  prices_ = best;
}

std::optional<OrderValue> Compiled::bound(const Partial& p) {
  if (circular_) return std::nullopt;
  const int n = tasks;
  const std::uint64_t must = needed_ & ~p.done;
  const std::uint64_t all = (n == 64 ? ~std::uint64_t{0} : bit(n) - 1) & ~p.done;
  std::array<int, 2> from{n, n};
  for (int c = 0; c < crew; ++c)
    if (p.last[at(c)] >= 0) from[at(c)] = p.last[at(c)];

  OrderValue value;
  value.moves = p.moves;

  // Chains: a task begins no earlier than its crew can be there, than what it waits for has ended, than it opens.
  std::int64_t finish = 0;
  std::uint64_t may = must;  // tasks that some order may still hold
  for (const int t : by_precedence_) {
    if (!(all & bit(t))) continue;
    if (after_[at(t)] & ~p.done & ~may) {
      if (must & bit(t)) return std::nullopt;
      continue;
    }
    std::int64_t begins = problem.tasks[at(t)].together ? 0 : never_us;
    for (int c = 0; c < crew; ++c) {
      if (!(who_[at(t)] & (1u << c))) continue;
      const std::int64_t there = add(p.clock_us[at(c)], path(from[at(c)], t));
      begins = problem.tasks[at(t)].together ? std::max(begins, there) : std::min(begins, there);
    }
    begins = std::max(begins, p.last_start_us);
    for (std::uint64_t before = after_[at(t)] & ~p.done; before; before &= before - 1) {
      const int b = __builtin_ctzll(before);
      begins = std::max(begins, add(earliest_[at(b)], least_[at(b)]));
    }
    if (begins < never_us) begins = opens(t, begins, least_[at(t)]);
    earliest_[at(t)] = begins;
    const std::int64_t ends = add(begins, add(least_[at(t)], tail_[at(t)]));
    const bool fits = ends < never_us && ends <= problem.limit_us;
    if (must & bit(t)) {
      if (!fits) return std::nullopt;
      finish = std::max(finish, ends);
    } else if (fits) {
      may |= bit(t);
    }
  }

  // Rows, then columns, of the legs that are left: a feasible dual of the assignment problem. The first leg of each
  // crew member takes the wait until the task can begin too.
  std::array<int, 65> list{};
  int count = 0;
  for (std::uint64_t rest = may; rest; rest &= rest - 1) list[at(count++)] = __builtin_ctzll(rest);
  const auto reduce = [&](const auto& cost, const auto& first_cost, std::array<std::int64_t, 2>& ends_row) {
    for (int k = 0; k < count; ++k) column_[at(list[at(k)])] = never_us;
    std::int64_t home = never_us;
    const auto do_row = [&](int a, CrewSet who, const auto& its_cost) {
      std::int64_t least = its_cost(n);
      for (int k = 0; k < count; ++k) {
        const int b = list[at(k)];
        costs_[at(k)] = (who_[at(b)] & who) && b != a ? its_cost(b) : never_us;
        least = std::min(least, costs_[at(k)]);
      }
      if (least >= never_us) return least;
      if (its_cost(n) < never_us) home = std::min(home, its_cost(n) - least);
      for (int k = 0; k < count; ++k) {
        auto& column = column_[at(list[at(k)])];
        if (costs_[at(k)] < never_us) column = std::min(column, costs_[at(k)] - least);
      }
      return least;
    };
    for (int k = 0; k < count; ++k) {
      const int a = list[at(k)];
      row_[at(a)] = do_row(a, who_[at(a)], [&](int b) { return cost(a, b); });
    }
    for (int c = 0; c < crew; ++c)
      ends_row[at(c)] = do_row(from[at(c)], 1u << c, [&](int b) { return first_cost(c, b); });
    return home;
  };
  const auto with_wait = [&](int c, int b) {
    const std::int64_t direct = leg(from[at(c)], b);
    if (b == n) return must ? never_us : direct;
    return direct >= never_us ? direct : std::max(direct, earliest_[at(b)] - p.clock_us[at(c)]);
  };
  std::array<std::int64_t, 2> first{};
  const auto total = [&](std::int64_t home, bool with_work) {
    std::int64_t sum = 0;
    for (int c = 0; c < crew; ++c) sum = add(sum, add(first[at(c)], home));
    for (std::uint64_t rest = must; rest; rest &= rest - 1) {
      const int t = __builtin_ctzll(rest);
      const std::int64_t legs = add(row_[at(t)], column_[at(t)]);
      sum = add(sum, legs >= never_us ? never_us : mult_[at(t)] * legs);
      if (with_work) sum = add(sum, load_[at(t)]);
    }
    return sum;
  };

  if (problem.goal == Goal::Moves) {
    const std::int64_t home = reduce([&](int a, int b) { return leg_moves(a, b); },
                                     [&](int c, int b) { return leg_moves(from[at(c)], b); }, first);
    const std::int64_t moves = total(home, false);
    if (moves >= never_us) return std::nullopt;
    value.moves += moves;
  } else {
    for (std::uint64_t rest = must; rest; rest &= rest - 1) {
      const int t = __builtin_ctzll(rest);
      std::int64_t least = never_us;
      for (int k = 0; k < count; ++k)
        if (list[at(k)] != t) least = std::min(least, leg_moves(list[at(k)], t));
      for (int c = 0; c < crew; ++c)
        if (who_[at(t)] & (1u << c)) least = std::min(least, leg_moves(from[at(c)], t));
      if (least >= never_us) return std::nullopt;
      value.moves += mult_[at(t)] * least;
    }
    std::int64_t least = never_us;
    for (int k = 0; k < count; ++k) least = std::min(least, leg_moves(list[at(k)], n));
    for (int c = 0; c < crew; ++c) least = std::min(least, leg_moves(from[at(c)], n));
    if (least >= never_us) return std::nullopt;
    value.moves += crew * least;
  }

  // While something needed is left, nobody goes straight home in these duals; who does is looked at after.
  const std::int64_t home = reduce([&](int a, int b) { return leg(a, b); }, with_wait, first);
  std::array<std::int64_t, 2> straight{};
  std::int64_t clocks = 0;
  CrewSet forced = 0;
  for (std::uint64_t rest = must; rest; rest &= rest - 1) {
    const int t = __builtin_ctzll(rest);
    if (problem.tasks[at(t)].together)
      forced = 3;
    else if (who_[at(t)] != 3)
      forced |= who_[at(t)];
  }
  for (int c = 0; c < crew; ++c) {
    clocks += p.clock_us[at(c)];
    straight[at(c)] = path(from[at(c)], n);
    finish = std::max(finish, add(p.clock_us[at(c)], straight[at(c)]));
    if (!(forced & (1u << c))) continue;
    std::int64_t own = add(p.clock_us[at(c)], add(first[at(c)], home));
    for (std::uint64_t rest = must; rest && own < never_us; rest &= rest - 1) {
      const int t = __builtin_ctzll(rest);
      if (problem.tasks[at(t)].together || who_[at(t)] == (1u << c))
        own = add(own, add(duration_[at(t)][at(c)], add(row_[at(t)], column_[at(t)])));
    }
    if (own >= never_us) return std::nullopt;
    finish = std::max(finish, own);
  }
  const Help help = helping(p, may);
  std::int64_t with_all =
      add(total(home, true), help.with_legs_us);  // time taken if each crew member does something more
  std::int64_t by_tree = tree(p, must, from, must && may == must);  // else what is done may be none of the needed
  for (std::uint64_t rest = must; rest; rest &= rest - 1) by_tree = add(by_tree, load_[at(__builtin_ctzll(rest))]);
  by_tree = add(by_tree, help.work_us);
  std::int64_t room = with_all >= never_us ? -1 : crew * problem.limit_us - clocks - with_all;
  with_all = std::max(with_all, by_tree);
  std::int64_t sum = add(with_all, clocks);
  std::int64_t shared = sum >= never_us ? never_us : (sum + crew - 1) / crew;
  if (crew == 2 && must && forced != 3) {
    for (int c = 0; c < 2; ++c) {
      if (forced & (1u << c)) continue;
      // This one goes home now and the other does all that is left.
      const auto other = at(1 - c);
      std::int64_t alone = add(p.clock_us[other], add(first[other], add(home, help.with_legs_us)));
      for (std::uint64_t rest = must; rest; rest &= rest - 1) {
        const int t = __builtin_ctzll(rest);
        alone = add(alone, add(duration_[at(t)][other], add(row_[at(t)], column_[at(t)])));
      }
      if (alone >= never_us) continue;
      shared = std::min(shared, alone);
      sum = std::min(sum, add(alone, add(p.clock_us[at(c)], straight[at(c)])));
      room = std::max(room, problem.limit_us - alone);
    }
  }
  if (shared >= never_us) return std::nullopt;
  finish = std::max(finish, shared);
  if (finish > problem.limit_us) return std::nullopt;
  room = std::max<std::int64_t>(room, 0);
  value.finish_us = finish;
  value.finishes_us = std::max(sum, finish);

  // Gains: what still fits, whole tasks let go for fractions where the time of all crew members together is short.
  value.gain = p.gain;
  for (std::uint64_t rest = must & gainful_; rest; rest &= rest - 1)
    value.gain += problem.tasks[at(__builtin_ctzll(rest))].gain;
  struct Worth {
    std::int64_t gain, weight;
  };
  std::array<Worth, 64> worth;
  std::size_t many = 0;
  std::int64_t gains = 0, weights = 0;
  for (std::uint64_t rest = may & optional_; rest; rest &= rest - 1) {
    const int t = __builtin_ctzll(rest);
    const std::int64_t legs = add(row_[at(t)], column_[at(t)]);
    if (legs >= never_us) continue;
    const std::int64_t weight = load_[at(t)] + mult_[at(t)] * legs;
    if (weight == 0) {
      value.gain += problem.tasks[at(t)].gain;
      continue;
    }
    worth[many++] = {problem.tasks[at(t)].gain, weight};
    gains += problem.tasks[at(t)].gain;
    weights += weight;
  }
  if (problem.limit_us >= no_time_limit_us || weights <= room) {
    value.gain += gains;
    return value;
  }
  std::sort(worth.begin(), worth.begin() + static_cast<std::ptrdiff_t>(many), [](const Worth& a, const Worth& b) {
    return static_cast<Wide>(a.gain) * b.weight > static_cast<Wide>(b.gain) * a.weight;
  });
  for (std::size_t k = 0; k < many; ++k) {
    if (worth[k].weight > room) {
      value.gain += static_cast<std::int64_t>(static_cast<Wide>(worth[k].gain) * room / worth[k].weight);
      break;
    }
    value.gain += worth[k].gain;
    room -= worth[k].weight;
  }
  return value;
}

}  // namespace holdfast::plan::detail
