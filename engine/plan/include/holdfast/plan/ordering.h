// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Who does which task, and in which order: the search that `order` and the choice of optional tasks stand on. Plain
// numbers in, plain numbers out; what a leg takes is asked of the caller.
//
//   plan::OrderProblem problem;                    // tasks, items, crew, limit
//   const plan::OrderAnswer best = plan::find_order(problem, travel);
//   if (best.best) { ... best.best->tasks, best.best->value.finish_us, best.bound.finish_us ... }
//
// Times are whole microseconds, so that equal is equal and the same question gives the same answer everywhere.
//
// Model. One or two crew members, each with a state of their own (a number of the caller's: place, grip, hooks ...). A
// task begins when its crew member has arrived, everything named in `after` has ended, the other crew member has ended
// the task that uses the same item, and the window is open; the crew member waits at the task. Nobody is in anybody's
// way, and a leg's time does not hang on the clock. Of all orders the best has the most gain, then the earliest finish
// (of the last crew member inside), then the fewest moves, then the least sum of finishes; `Goal::Moves` puts moves
// before finishes. Among orders equal in all that, smaller task numbers earlier are preferred, without a promise.
//
// Method: best-first branch and bound over sets of tasks done. An order is built by appending tasks by their start. Of
// two partial orders with the same tasks done, the same last tasks, states and items in hand, one that is nowhere later
// and has no more moves makes the other needless (dominance, after Held and Karp, J. SIAM 10, 1962, and Bellman, J. ACM
// 9, 1962). Bounds: rows and columns of the matrix of legs reduced (Little, Murty, Sweeney and Karel, Oper. Res. 11,
// 1963, a feasible dual of the assignment problem) and a least spanning tree with prices (Held and Karp, Oper. Res. 18,
// 1970), added to the work left and shared among the crew; chains of precedence; for gains the knapsack relaxed to
// fractions (Dantzig, Oper. Res. 5, 1957).
//
// Measured (bench/ordering_bench.cpp): two crew members, 12 tasks: proven in 0.2 to 4 s, with three items to fetch and
// bring back in 5 to 14 s; 20 tasks: within 2 % of the bound, with three items
// within 4 %. Constraint programming on the same instances proves 10
// tasks in 3 s and 12 not in 60 s, so it is not used.

#include <array>
#include <cstddef>
#include <cstdint>
#include <functional>
#include <limits>
#include <memory>
#include <optional>
#include <vector>

namespace holdfast::plan {

inline constexpr std::int64_t no_time_limit_us = std::numeric_limits<std::int64_t>::max() / 16;
inline constexpr int order_start = -1;  ///< where a crew member is at first, as an end of a leg
inline constexpr int order_home = -2;   ///< inside

/// Items in hand: bit i for item i.
using ItemSet = std::uint32_t;

/// Bits of crew members: 1 the first, 2 the second, 3 both.
using CrewSet = unsigned;

struct OrderWindow {
  std::int64_t open_us = 0, close_us = 0;  ///< a task lies within it from start to end; touching is within
};

/// An item at a spot. Spots are numbers of the caller's, 0 to 13: where the item is at first, a socket, a hatch.
struct ItemAt {
  int item = 0, spot = 0;
};

enum class Standing {
  Needed,    ///< in every order
  Optional,  ///< chosen if it fits, for its gain
  Helping    ///< fetching, bringing back, setting up: done only where something else asks for it
};

struct OrderTask {
  std::array<std::int64_t, 2> duration_us{};  ///< by crew member; a task for both takes the longer
  CrewSet crew = 3;                           ///< who may do it
  bool together = false;                      ///< both at once; then `crew` is 3 and nothing is taken
  Standing standing = Standing::Needed;
  std::int64_t gain = 0;                  ///< of an optional task, not negative
  std::vector<int> after = {};            ///< tasks that must be done, and have ended, before this one begins
  std::vector<OrderWindow> windows = {};  ///< none: at any time. In order, not overlapping.
  std::vector<int> needs = {};            ///< items in hand of one who does it
  std::vector<ItemAt> at = {};            ///< items that must be at their spot, and that this task keeps in use
  std::vector<ItemAt> takes = {};         ///< from the spot into the hands
  std::vector<ItemAt> puts = {};          ///< out of the hands onto the spot
};

struct OrderItem {
  int spot = 0;                   ///< at first
  std::vector<int> end_spots{0};  ///< where it may be at the end; besides, an item never taken may stay
  bool may_come_home = false;     ///< it may be in the hands of one who comes inside
};

struct OrderCrew {
  int state = 0;
  std::int64_t ready_us = 0;
};

enum class Goal { Finish, Moves };

struct OrderProblem {
  std::vector<OrderTask> tasks;              ///< at most 64
  std::vector<OrderItem> items;              ///< at most 16
  std::vector<OrderCrew> crew;               ///< one or two
  std::int64_t limit_us = no_time_limit_us;  ///< everybody is inside by then
  /// Whether one can carry these items at once. Empty: always.
  std::function<bool(int crew, ItemSet held)> can_hold = {};
  Goal goal = Goal::Finish;
};

struct Arrival {
  std::int64_t time_us = 0;
  int moves = 0;
  int state = 0;  ///< after the task (for what is asked of next)
};

struct LegBound {
  std::int64_t time_us = 0;
  int moves = 0;
};

/// What legs take. Asked once for each question; answers must not change.
class Travel {
 public:
  virtual ~Travel() = default;
  /// From `state`, with `held` in hand, to where `task` is done. Nothing: there is no route. Not negative.
  [[nodiscard]] virtual std::optional<Arrival> arrive(int crew, int state, ItemSet held, int task) const = 0;
  /// From `state` to inside, with all that follows the last task.
  [[nodiscard]] virtual std::optional<Arrival> come_home(int crew, int state, ItemSet held) const = 0;
  /// Never above what `arrive` or `come_home` says after the task `from` (or `order_start`) to the task `to` (or
  /// `order_home`), whoever goes, with whatever in hand, in whatever state `from` can leave them. Nothing: never
  /// one right after the other. Zeros are allowed, but then the search proves little.
  [[nodiscard]] virtual std::optional<LegBound> lower_bound(int from, int to) const = 0;
};

struct OrderedTask {
  int task = 0;
  CrewSet crew = 1;
  std::array<std::int64_t, 2> arrive_us{};  ///< of those who do it, else 0
  std::int64_t start_us = 0, end_us = 0;
};

/// Figures of an order, or a bound on them. The finish bound holds for all orders where the gains are one and the same.
struct OrderValue {
  std::int64_t gain = 0;
  std::int64_t finish_us = 0;
  std::int64_t moves = 0;
  std::int64_t finishes_us = 0;  ///< sum over the crew
  friend bool operator==(const OrderValue&, const OrderValue&) = default;
};

/// Whether `a` is better than `b`.
[[nodiscard]] bool is_better(const OrderValue& a, const OrderValue& b, Goal goal);

struct Order {
  std::vector<OrderedTask> tasks;  ///< by start
  std::array<std::int64_t, 2> finish_us{};
  OrderValue value;
};

struct OrderEffort {
  std::size_t max_nodes =
      1'000'000;  ///< partial orders kept, about 200 bytes each; no clock, so the answer is always the same
  std::size_t beam_width = 200;  ///< of the first look for a good order; 20 times as wide when `max_nodes` is reached
};

enum class OrderOutcome {
  Best,      ///< proven
  Found,     ///< the effort was used up: `best` is an order, `bound` is proven
  None,      ///< proven that there is no order
  NotFound,  ///< the effort was used up without one
};

struct OrderAnswer {
  OrderOutcome outcome = OrderOutcome::None;
  std::optional<Order> best = std::nullopt;
  OrderValue bound;  ///< no order `is_better` than this; equals the value of the best where proven
  std::size_t nodes = 0;
  Goal goal = Goal::Finish;
  /// How far the best may be from the bound, as a part, in the first figure where they differ: the gain, then by `goal`
  /// (value - bound) / value. 0 where proven, 1 without an order.
  [[nodiscard]] double gap() const;
};

/// The best order. Throws std::invalid_argument where the problem breaks what is said above (too many tasks, indices
/// out of range, negative durations ...). A circle of `after` is no fault: there is no order then. At worst exponential
/// in the number of tasks; `effort` ends it.
[[nodiscard]] OrderAnswer find_order(const OrderProblem& problem, const Travel& travel, const OrderEffort& effort = {});

/// Orders from the best on, for those who judge each by figures of their own (interactions that are never to anyone's
/// good, so that the figures here are bounds): take the next until `bound()` is no better than the best of one's own.
/// Keeps references; problem and travel must outlive it.
class OrderCandidates {
 public:
  /// The best `how_many` can be told; the more, the longer the first takes.
  OrderCandidates(const OrderProblem& problem, const Travel& travel, std::size_t how_many,
                  const OrderEffort& effort = {});
  ~OrderCandidates();
  OrderCandidates(OrderCandidates&&) noexcept;
  OrderCandidates& operator=(OrderCandidates&&) noexcept;

  /// The best not told yet. Nothing: none left, `how_many` were told, or the effort is used up (then, first, those
  /// found so far, the best first, with `is_in_order()` false).
  [[nodiscard]] std::optional<Order> next();
  /// Nothing that was not told yet is better than this. Nothing: nothing is left.
  [[nodiscard]] std::optional<OrderValue> bound() const;
  [[nodiscard]] bool is_in_order() const;  ///< each one told so far was the best of those left
  [[nodiscard]] std::size_t nodes() const;
  /// Orders no better than this are of no more interest.
  void cut_off(const OrderValue& value);

 private:
  class Search;
  std::unique_ptr<Search> search_;
};

// ---- which of the optional tasks, where the sequence of all of them is given ----

enum class SetVerdict { Fits, DoesNotFit, NoSetWithTheseFits };

struct SetJudgement {
  SetVerdict verdict = SetVerdict::DoesNotFit;
  std::int64_t finish_us = 0;  ///< where it fits, these decide between sets of equal worth
  std::int64_t moves = 0;
};

struct SetChoice {
  std::optional<std::uint64_t> best = std::nullopt;  ///< bit i: the task i is in. Nothing: not even the empty set fits.
  bool is_proven = true;
  std::int64_t gain = 0;
  std::int64_t gain_bound = 0;  ///< no set that fits has more
  std::size_t judged = 0;
};

/// Gains that make a sum of one task of a rank outweigh all tasks of later ranks together, so that the sums compare
/// sets as ranks do: the better holds more at the first rank at which they differ. Rank 1 first. Nothing: the sums do
/// not fit into 62 bits.
[[nodiscard]] std::optional<std::vector<std::int64_t>> gains_of_ranks(const std::vector<int>& ranks);

/// The set with the most gain that fits; of equal ones that with more tasks, then the earlier finish, then fewer moves,
/// then the tasks earlier in the list. Sets grow task by task, from the most gain down; of those that cannot come to
/// the gain of the best so far, and of those larger than one of which `judge` said `NoSetWithTheseFits` (which must
/// hold for every larger set), none is judged. At worst all 2^n, for up to 12 tasks; above that at most `max_judged`,
/// and `is_proven` and `gain_bound` say what is left open. At most 62 tasks, gains not negative, else
/// std::invalid_argument.
[[nodiscard]] SetChoice choose_set(const std::vector<std::int64_t>& gains,
                                   const std::function<SetJudgement(std::uint64_t)>& judge,
                                   std::size_t max_judged = 4096);

}  // namespace holdfast::plan
