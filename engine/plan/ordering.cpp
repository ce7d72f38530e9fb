// SPDX-License-Identifier: GPL-3.0-or-later
// Best-first search over partial orders, with a first look by beam for orders to prune with.

#include "holdfast/plan/ordering.h"

#include <algorithm>
#include <set>
#include <stdexcept>
#include <tuple>
#include <utility>

#include "ordering_impl.h"

namespace holdfast::plan {
namespace {

using detail::Compiled;
using detail::Partial;

constexpr std::uint32_t nobody = std::numeric_limits<std::uint32_t>::max();

struct Key {
  std::uint64_t done, where, states, lasts;
  bool operator==(const Key&) const = default;
};

struct KeyHash {
  std::size_t operator()(const Key& k) const {
    std::uint64_t h = 0;
    for (const std::uint64_t part : {k.done, k.where, k.states, k.lasts}) {
      h = (h ^ part) * 0x9E3779B97F4A7C15ull;
      h ^= h >> 29;
    }
    return static_cast<std::size_t>(h);
  }
};

/// `apart`: tasks of which `dominates` looks whether they are done.
Key key(const Partial& p, std::uint64_t apart) {
  return {
      p.done & ~apart, p.where,
      (static_cast<std::uint64_t>(static_cast<std::uint32_t>(p.state[0])) << 32) |
          static_cast<std::uint32_t>(p.state[1]),
      (static_cast<std::uint64_t>(static_cast<std::uint8_t>(p.last[0])) << 8) | static_cast<std::uint8_t>(p.last[1])};
}

/// Of two with the same key: whether whatever follows `b` can follow `a`, and no worse. The last starts need no look:
/// they follow from the clocks and the last tasks.
bool dominates(const Partial& a, const Partial& b) {
  return !(a.done & ~b.done) && a.clock_us[0] <= b.clock_us[0] && a.clock_us[1] <= b.clock_us[1] && a.moves <= b.moves;
}

struct Node {
  Partial partial;
  OrderValue bound;
  std::uint32_t parent = nobody, next = nobody;  ///< next of the same key
  std::uint16_t better = 0;                      ///< how many dominate it
  std::uint8_t depth = 0;
  bool open = true;
};

using Steps = std::vector<std::pair<int, CrewSet>>;  // task and who

struct Complete {
  OrderValue value;
  Steps steps;
};

}  // namespace

bool is_better(const OrderValue& a, const OrderValue& b, Goal goal) {
  if (a.gain != b.gain) return a.gain > b.gain;
  if (goal == Goal::Moves)
    return std::tie(a.moves, a.finish_us, a.finishes_us) < std::tie(b.moves, b.finish_us, b.finishes_us);
  return std::tie(a.finish_us, a.moves, a.finishes_us) < std::tie(b.finish_us, b.moves, b.finishes_us);
}

double OrderAnswer::gap() const {
  if (!best) return 1;
  const OrderValue& value = best->value;
  if (value.gain != bound.gain) return static_cast<double>(bound.gain - value.gain) / static_cast<double>(bound.gain);
  const auto part = [](std::int64_t v, std::int64_t b) {
    return v > 0 ? static_cast<double>(v - b) / static_cast<double>(v) : 0.0;
  };
  return goal == Goal::Moves ? part(value.moves, bound.moves) : part(value.finish_us, bound.finish_us);
}

class OrderCandidates::Search {
 public:
  Search(const OrderProblem& problem, const Travel& travel, std::size_t how_many, const OrderEffort& effort)
      : compiled_(problem, travel),
        how_many_(std::max<std::size_t>(how_many, 1)),
        effort_(effort),
        goal_(problem.goal) {
    beam(effort_.beam_width);
    keep(compiled_.begin(), nobody, 0);
  }

  std::optional<Order> next() {
    if (told_ >= how_many_) return std::nullopt;
    while (!used_up_) {
      drop_closed();
      if (told_ < complete_.size() &&
          (heap_.empty() || !is_better(nodes_[heap_.front()].bound, complete_[told_].value, goal_)))
        break;
      if (heap_.empty()) break;
      if (nodes_.size() >= effort_.max_nodes) {
        used_up_ = true;
        beam(20 * effort_.beam_width);
        drop_closed();
        break;
      }
      expand();
    }
    if (told_ >= complete_.size()) return std::nullopt;
    const auto& c = complete_[told_++];
    if (used_up_ && !heap_.empty() && is_better(nodes_[heap_.front()].bound, c.value, goal_)) in_order_ = false;
    return replay(c);
  }

  std::optional<OrderValue> bound() {
    drop_closed();
    std::optional<OrderValue> best;
    if (!heap_.empty()) best = nodes_[heap_.front()].bound;
    if (told_ < complete_.size() && (!best || is_better(complete_[told_].value, *best, goal_)))
      best = complete_[told_].value;
    // What was dropped for there being enough better ones is no better than the last of those.
    if (!best && complete_.size() >= how_many_) best = complete_.back().value;
    return best;
  }

  void cut_off(const OrderValue& value) {
    if (!cut_ || is_better(value, *cut_, goal_)) cut_ = value;
    while (complete_.size() > told_ && !is_better(complete_.back().value, *cut_, goal_)) {
      complete_.pop_back();
    }
  }

  [[nodiscard]] bool is_used_up() const { return used_up_; }
  [[nodiscard]] bool is_in_order() const { return in_order_; }
  [[nodiscard]] std::size_t nodes() const { return nodes_.size(); }

 private:
  [[nodiscard]] bool is_of_interest(const OrderValue& bound) const {
    if (cut_ && !is_better(bound, *cut_, goal_)) return false;
    return complete_.size() < how_many_ || is_better(bound, complete_.back().value, goal_);
  }

  [[nodiscard]] bool comes_before(std::uint32_t a, std::uint32_t b) const {
    const Node &x = nodes_[a], &y = nodes_[b];
    if (is_better(x.bound, y.bound, goal_)) return true;
    if (is_better(y.bound, x.bound, goal_)) return false;
    if (x.depth != y.depth) return x.depth > y.depth;
    return a < b;
  }
  [[nodiscard]] auto heap_order() const {
    return [this](std::uint32_t a, std::uint32_t b) { return comes_before(b, a); };
  }

  void drop_closed() {
    while (!heap_.empty() && (!nodes_[heap_.front()].open || !is_of_interest(nodes_[heap_.front()].bound))) {
      nodes_[heap_.front()].open = false;
      std::pop_heap(heap_.begin(), heap_.end(), heap_order());
      heap_.pop_back();
    }
  }

  void keep(const Partial& p, std::uint32_t parent, std::uint8_t depth) {
    const auto index = static_cast<std::uint32_t>(nodes_.size());
    const auto [head, is_new] = by_key_.try_emplace(key(p, compiled_.apart()), index);
    std::size_t better = 0;
    if (!is_new)
      for (std::uint32_t other = head->second; other != nobody && better < how_many_; other = nodes_[other].next)
        better += dominates(nodes_[other].partial, p);
    if (better >= how_many_) return;
    const auto bound = compiled_.bound(p);
    if (!bound || !is_of_interest(*bound)) {
      if (is_new) by_key_.erase(head);
      return;
    }
    Node node{p, *bound, parent, nobody, static_cast<std::uint16_t>(better), depth, true};
    // A bound holds for what follows too.
    if (parent != nobody && is_better(node.bound, nodes_[parent].bound, goal_)) node.bound = nodes_[parent].bound;
    if (!is_new) {
      // Those that enough others dominate leave the list: whatever they dominate, the others do.
      std::uint32_t* link = &head->second;
      while (*link != nobody) {
        Node& other = nodes_[*link];
        if (dominates(p, other.partial) && ++other.better >= how_many_) {
          other.open = false;
          *link = other.next;
        } else {
          link = &other.next;
        }
      }
      node.next = head->second;
      head->second = index;
    }
    nodes_.push_back(node);
    heap_.push_back(index);
    std::push_heap(heap_.begin(), heap_.end(), heap_order());
  }

  void expand() {
    const std::uint32_t index = heap_.front();
    std::pop_heap(heap_.begin(), heap_.end(), heap_order());
    heap_.pop_back();
    nodes_[index].open = false;
    const Partial p = nodes_[index].partial;  // copied: the nodes move when more are kept
    const auto depth = static_cast<std::uint8_t>(nodes_[index].depth + 1);
    if (const auto closed = compiled_.close(p)) {
      Steps steps;
      for (std::uint32_t k = index; k != nobody; k = nodes_[k].parent)
        if (nodes_[k].partial.task >= 0) steps.emplace_back(nodes_[k].partial.task, nodes_[k].partial.crew);
      std::reverse(steps.begin(), steps.end());
      add({closed->first, std::move(steps)});
    }
    compiled_.append_each(p, [&](const Partial& q) { keep(q, index, depth); });
  }

  void add(Complete c) {
    if (cut_ && !is_better(c.value, *cut_, goal_)) return;
    const auto before = [&](const Complete& a, const Complete& b) {
      if (is_better(a.value, b.value, goal_)) return true;
      if (is_better(b.value, a.value, goal_)) return false;
      return a.steps < b.steps;
    };
    const auto place =
        std::lower_bound(complete_.begin() + static_cast<std::ptrdiff_t>(told_), complete_.end(), c, before);
    if (place != complete_.end() && place->value == c.value && place->steps == c.steps) return;
    for (std::size_t k = 0; k < told_; ++k)
      if (complete_[k].value == c.value && complete_[k].steps == c.steps) return;
    complete_.insert(place, std::move(c));
    if (complete_.size() > how_many_) complete_.pop_back();
  }

  /// Keeps at each depth the best `width` by bound: orders soon, proofs never.
  void beam(std::size_t width) {
    struct Entry {
      Partial partial;
      OrderValue bound;
      std::size_t parent;
    };
    std::vector<Entry> entries;
    const Partial root = compiled_.begin();
    const auto root_bound = compiled_.bound(root);
    if (!root_bound) return;
    entries.push_back({root, *root_bound, 0});
    std::size_t first = 0;
    while (first < entries.size()) {
      const std::size_t last = entries.size();
      std::vector<Entry> layer;
      std::unordered_map<Key, std::vector<std::size_t>, KeyHash> seen;
      for (std::size_t e = first; e < last; ++e) {
        const Partial p = entries[e].partial;
        if (const auto closed = compiled_.close(p)) {
          Steps steps;
          for (std::size_t k = e; k != 0; k = entries[k].parent)
            steps.emplace_back(entries[k].partial.task, entries[k].partial.crew);
          std::reverse(steps.begin(), steps.end());
          add({closed->first, std::move(steps)});
        }
        compiled_.append_each(p, [&](const Partial& q) {
          auto& same = seen[key(q, compiled_.apart())];
          for (const std::size_t s : same)
            if (dominates(layer[s].partial, q)) return;
          const auto bound = compiled_.bound(q);
          if (!bound || !is_of_interest(*bound)) return;
          same.push_back(layer.size());
          layer.push_back({q, *bound, e});
        });
      }
      std::vector<std::size_t> order(layer.size());
      for (std::size_t k = 0; k < order.size(); ++k) order[k] = k;
      const std::size_t kept = std::min(width, order.size());
      std::partial_sort(order.begin(), order.begin() + static_cast<std::ptrdiff_t>(kept), order.end(),
                        [&](std::size_t a, std::size_t b) {
                          if (is_better(layer[a].bound, layer[b].bound, goal_)) return true;
                          if (is_better(layer[b].bound, layer[a].bound, goal_)) return false;
                          return a < b;
                        });
      for (std::size_t k = 0; k < kept; ++k) entries.push_back(layer[order[k]]);
      first = last;
    }
  }

  Order replay(const Complete& c) {
    Order order;
    Partial p = compiled_.begin();
    for (const auto& [task, who] : c.steps) {
      std::optional<Partial> after;
      compiled_.append_each(p, [&](const Partial& q) {
        if (q.task == task && q.crew == who) after = q;
      });
      if (!after) throw std::logic_error("order: an order found cannot be replayed");
      OrderedTask done{
          .task = task, .crew = who, .start_us = after->last_start_us, .end_us = after->clock_us[who == 2 ? 1 : 0]};
      for (int k = 0; k < compiled_.crew; ++k)
        if (who & (1u << k)) done.arrive_us[static_cast<std::size_t>(k)] = compiled_.arrives(p, k, task);
      order.tasks.push_back(done);
      p = *after;
    }
    const auto closed = compiled_.close(p);
    if (!closed || closed->first != c.value)
      throw std::logic_error("order: an order found has another value when replayed");
    order.value = closed->first;
    order.finish_us = closed->second;
    return order;
  }

  Compiled compiled_;
  std::size_t how_many_;
  OrderEffort effort_;
  Goal goal_;
  std::vector<Node> nodes_;
  std::vector<std::uint32_t> heap_;
  std::unordered_map<Key, std::uint32_t, KeyHash> by_key_;
  std::vector<Complete> complete_;  ///< the best known, in order, those told first
  std::size_t told_ = 0;
  std::optional<OrderValue> cut_;
  bool used_up_ = false, in_order_ = true;
};

OrderCandidates::OrderCandidates(const OrderProblem& problem, const Travel& travel, std::size_t how_many,
                                 const OrderEffort& effort)
    : search_(std::make_unique<Search>(problem, travel, how_many, effort)) {}
OrderCandidates::~OrderCandidates() = default;
OrderCandidates::OrderCandidates(OrderCandidates&&) noexcept = default;
OrderCandidates& OrderCandidates::operator=(OrderCandidates&&) noexcept = default;
std::optional<Order> OrderCandidates::next() { return search_->next(); }
std::optional<OrderValue> OrderCandidates::bound() const { return search_->bound(); }
bool OrderCandidates::is_in_order() const { return search_->is_in_order(); }
std::size_t OrderCandidates::nodes() const { return search_->nodes(); }
void OrderCandidates::cut_off(const OrderValue& value) { search_->cut_off(value); }

OrderAnswer find_order(const OrderProblem& problem, const Travel& travel, const OrderEffort& effort) {
  OrderCandidates candidates(problem, travel, 1, effort);
  OrderAnswer answer;
  answer.goal = problem.goal;
  answer.best = candidates.next();
  const auto left = candidates.bound();
  answer.nodes = candidates.nodes();
  if (answer.best) {
    const bool is_proven = !left || !is_better(*left, answer.best->value, problem.goal);
    answer.outcome = is_proven ? OrderOutcome::Best : OrderOutcome::Found;
    answer.bound = is_proven ? answer.best->value : *left;
  } else {
    answer.outcome = left ? OrderOutcome::NotFound : OrderOutcome::None;
    if (left) answer.bound = *left;
  }
  return answer;
}

std::optional<std::vector<std::int64_t>> gains_of_ranks(const std::vector<int>& ranks) {
  std::set<int> levels(ranks.begin(), ranks.end());
  std::vector<std::int64_t> gains(ranks.size(), 0);
  std::int64_t all = 0;  // of every task of the ranks after
  for (auto level = levels.rbegin(); level != levels.rend(); ++level) {
    const std::int64_t gain = all + 1;
    for (std::size_t i = 0; i < ranks.size(); ++i) {
      if (ranks[i] != *level) continue;
      gains[i] = gain;
      if (gain > (std::int64_t{1} << 62) - all) return std::nullopt;
      all += gain;
    }
  }
  return gains;
}

SetChoice choose_set(const std::vector<std::int64_t>& gains, const std::function<SetJudgement(std::uint64_t)>& judge,
                     std::size_t max_judged) {
  const std::size_t n = gains.size();
  if (n > 62) throw std::invalid_argument("choose_set: more than 62 tasks");
  std::int64_t total = 0;
  for (const auto g : gains) {
    if (g < 0 || g > std::numeric_limits<std::int64_t>::max() - total)
      throw std::invalid_argument("choose_set: gain out of range");
    total += g;
  }
  const std::size_t most = n <= 12 ? std::numeric_limits<std::size_t>::max() : max_judged;
  std::vector<std::size_t> by_gain(n);
  for (std::size_t i = 0; i < n; ++i) by_gain[i] = i;
  std::stable_sort(by_gain.begin(), by_gain.end(), [&](std::size_t a, std::size_t b) { return gains[a] > gains[b]; });
  std::vector<std::int64_t> rest(n + 1, 0);  // gains from there on
  for (std::size_t k = n; k-- > 0;) rest[k] = rest[k + 1] + gains[by_gain[k]];

  SetChoice choice;
  using Worth = std::tuple<std::int64_t, std::size_t>;  // gain, tasks
  Worth best_worth;
  std::tuple<std::int64_t, std::int64_t, std::uint64_t> best_figures;
  // Of two sets the one that holds the first task of the list at which they differ has the smaller number.
  const auto by_list = [&](std::uint64_t set) {
    std::uint64_t turned = 0;
    for (std::size_t i = 0; i < n; ++i)
      if (set & (std::uint64_t{1} << i)) turned |= std::uint64_t{1} << (61 - i);
    return ~turned;
  };
  const auto look_at = [&](std::uint64_t set, const Worth& worth) {
    ++choice.judged;
    const SetJudgement judgement = judge(set);
    if (judgement.verdict == SetVerdict::Fits) {
      const std::tuple figures{judgement.finish_us, judgement.moves, by_list(set)};
      if (!choice.best || worth > best_worth || (worth == best_worth && figures < best_figures)) {
        choice.best = set;
        best_worth = worth;
        best_figures = figures;
      }
    }
    return judgement.verdict != SetVerdict::NoSetWithTheseFits;
  };
  // Depth first, with the next task before without it: the greedy set comes first and prunes the rest.
  std::int64_t given_up = -1;
  const std::function<void(std::size_t, std::uint64_t, std::int64_t, std::size_t)> grow =
      [&](std::size_t k, std::uint64_t set, std::int64_t gain, std::size_t many) {
        if (k == n || (choice.best && Worth{gain + rest[k], many + n - k} < best_worth)) return;
        if (choice.judged >= most) {
          given_up = std::max(given_up, gain + rest[k]);
          return;
        }
        const std::uint64_t with = set | (std::uint64_t{1} << by_gain[k]);
        const std::int64_t its = gains[by_gain[k]];
        if (look_at(with, {gain + its, many + 1})) grow(k + 1, with, gain + its, many + 1);
        grow(k + 1, set, gain, many);
      };
  if (look_at(0, {0, 0})) grow(0, 0, 0, 0);
  if (choice.best) choice.gain = std::get<0>(best_worth);
  choice.is_proven = given_up < 0;
  choice.gain_bound = std::max(choice.gain, given_up);
  return choice;
}

}  // namespace holdfast::plan
