// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// What the search over orders reads: the problem in the form of masks and matrices, and the bounds on a partial order.

#include <algorithm>
#include <array>
#include <cstdint>
#include <limits>
#include <optional>
#include <unordered_map>
#include <utility>
#include <vector>

#include "holdfast/plan/ordering.h"

namespace holdfast::plan::detail {

inline constexpr std::int64_t never_us = std::numeric_limits<std::int64_t>::max() / 8;
inline constexpr std::uint64_t bit(int i) { return std::uint64_t{1} << i; }

inline constexpr std::uint32_t no_history = std::numeric_limits<std::uint32_t>::max();

/// A partial order: what is done, and where everybody and everything is.
struct Partial {
  std::uint64_t done = 0;
  std::uint64_t where = 0;  ///< four bits an item: a spot, or in the hands of a crew member
  std::array<std::int64_t, 2> clock_us{};
  std::int64_t last_start_us = -never_us;
  std::int64_t gain = 0;
  std::int64_t moves = 0;
  std::array<std::int32_t, 2> state{};
  std::array<std::int8_t, 2> last{-1, -1};  ///< task
  std::uint32_t history = no_history;       ///< of what was appended before the last, in Compiled
  std::int8_t task = -1;                    ///< the one appended last
  std::uint8_t crew = 0;                    ///< ... and who does it
};

class Compiled {
 public:
  Compiled(const OrderProblem& problem, const Travel& travel);

  static constexpr int in_hand(int crew) { return 14 + crew; }
  static int where(const Partial& p, int item) { return static_cast<int>((p.where >> (4 * item)) & 15); }
  static void put(Partial& p, int item, int spot) {
    p.where = (p.where & ~(std::uint64_t{15} << (4 * item))) | (static_cast<std::uint64_t>(spot) << (4 * item));
  }
  [[nodiscard]] ItemSet held(const Partial& p, int crew) const;

  [[nodiscard]] Partial begin() const;
  /// Appends every task that can come next: calls `next(Partial)`.
  template <class Next>
  void append_each(const Partial& p, const Next& next);
  /// The value when everybody goes inside now; nothing if something is left to do or does not come home in time.
  [[nodiscard]] std::optional<std::pair<OrderValue, std::array<std::int64_t, 2>>> close(const Partial& p);
  /// When crew member `c` comes to where `task` is done, if they go now and there is a route.
  [[nodiscard]] std::int64_t arrives(const Partial& p, int c, int task) {
    const auto leg = ask(c, p.state[static_cast<std::size_t>(c)], held(p, c), task);
    return p.clock_us[static_cast<std::size_t>(c)] + (leg ? leg->time_us : 0);
  }
  /// Bounds on all orders that begin so; nothing: there is none within the limit.
  [[nodiscard]] std::optional<OrderValue> bound(const Partial& p);

  /// Helping tasks that do nothing but move one item: what was fetched and is back is as if it had never been fetched,
  /// but that it cannot be fetched so again.
  [[nodiscard]] std::uint64_t apart() const { return apart_; }

  const OrderProblem& problem;
  int tasks = 0, crew = 0;

 private:
  struct Question {
    std::int64_t who_and_state;
    std::int64_t what;
    bool operator==(const Question&) const = default;
  };
  struct QuestionHash {
    std::size_t operator()(const Question& q) const {
      return static_cast<std::size_t>(q.who_and_state * 0x9E3779B97F4A7C15ull ^
                                      (static_cast<std::uint64_t>(q.what) * 0xC2B2AE3D27D4EB4Full));
    }
  };
  void check() const;
  void compile();
  std::optional<Arrival> ask(int c, int state, ItemSet held, int task);
  [[nodiscard]] bool can_hold(int c, ItemSet held);
  [[nodiscard]] bool is_asked_for(const Partial& p, int task) const;
  [[nodiscard]] bool ends_well(int item, int place) const;
  [[nodiscard]] std::int64_t opens(int task, std::int64_t from_us, std::int64_t duration_us) const;
  /// `history`: with the last of `p`.
  [[nodiscard]] bool append(const Partial& p, std::uint32_t history, int task, CrewSet who, Partial& out);
  struct Help {
    std::int64_t with_legs_us = 0, work_us = 0;
  };
  /// What fetching and bringing back take at least: with the legs to it, by the duals, and without.
  [[nodiscard]] Help helping(const Partial& p, std::uint64_t may);
  /// Least spanning tree with prices. `something_more`: nobody goes straight home. Counts the legs that meet at each
  /// task, where asked. Reads `earliest_`.
  [[nodiscard]] std::int64_t tree(const Partial& p, std::uint64_t must, const std::array<int, 2>& from,
                                  bool something_more, std::vector<int>* degrees = nullptr);
  void find_prices();
  [[nodiscard]] std::int64_t hop(int a, int b) const { return hops_[static_cast<std::size_t>(a * vertices_ + b)]; }
  std::int64_t& leg(int a, int b) { return legs_[static_cast<std::size_t>(a * (tasks + 1) + b)]; }
  [[nodiscard]] std::int64_t leg(int a, int b) const { return legs_[static_cast<std::size_t>(a * (tasks + 1) + b)]; }
  [[nodiscard]] std::int64_t leg_moves(int a, int b) const {
    return legs_moves_[static_cast<std::size_t>(a * (tasks + 1) + b)];
  }
  [[nodiscard]] std::int64_t path(int a, int b) const { return paths_[static_cast<std::size_t>(a * (tasks + 1) + b)]; }

  const Travel& travel_;
  // Rows: tasks, then the start; columns: tasks, then home. `paths_`: least time from leaving a to reaching b, other
  // tasks in between allowed and their durations counted.
  std::vector<std::int64_t> legs_, legs_moves_, paths_, hops_;
  std::vector<std::uint64_t> after_, all_before_, item_tasks_;
  std::vector<std::array<std::int64_t, 2>> duration_;
  std::vector<std::int64_t> load_, least_, tail_;
  std::vector<std::int64_t> prices_;  ///< of tasks and home, for the tree
  std::vector<CrewSet> who_;
  std::vector<int> mult_, by_precedence_;
  std::vector<std::uint32_t> touches_;  ///< items a task takes, puts or keeps in use
  std::uint64_t needed_ = 0, optional_ = 0, helping_ = 0, gainful_ = 0;
  std::uint64_t apart_ = 0;
  // By item: tasks that use it for themselves; helping tasks that do nothing but move it.
  std::vector<std::uint64_t> users_, helpers_;
  struct MovesOf {
    std::array<std::uint64_t, 14> takes{}, puts{};  ///< by spot
    std::uint64_t puts_well = 0;                    ///< where it may be at the end
    std::uint64_t needed_by = 0, kept_by = 0;       ///< in hand, at a spot
  };
  std::vector<MovesOf> moves_of_;
  std::vector<std::uint32_t> needs_;
  /// Vertices of the tree: tasks, home, and for each item fetching and returning, whichever task does it.
  int vertices_ = 0;
  std::uint32_t implied_ = 0;  ///< bits 2 i and 2 i + 1: item i must yet be fetched, returned; as `helping` saw it last
  bool circular_ = false;
  std::unordered_map<Question, std::optional<Arrival>, QuestionHash> asked_;
  std::array<std::unordered_map<ItemSet, bool>, 2> hold_;
  struct Event {
    std::uint32_t before;
    std::int8_t task;
    std::int64_t end_us;
  };
  std::vector<Event> history_;
  // Scratch of `bound`.
  std::vector<std::int64_t> row_, column_, costs_, earliest_;
};

inline std::int64_t Compiled::opens(int task, std::int64_t from_us, std::int64_t duration_us) const {
  const auto& windows = problem.tasks[static_cast<std::size_t>(task)].windows;
  if (windows.empty()) return from_us;
  for (std::size_t i = 0; i < windows.size(); ++i) {
    std::int64_t close = windows[i].close_us;
    const std::int64_t open = windows[i].open_us;
    while (i + 1 < windows.size() && windows[i + 1].open_us == close) close = windows[++i].close_us;  // abutting: one
    const std::int64_t start = std::max(from_us, open);
    if (start <= close && duration_us <= close - start) return start;
  }
  return never_us;
}

template <class Next>
void Compiled::append_each(const Partial& p, const Next& next) {
  Partial out;
  std::uint32_t history = p.history;
  if (p.task >= 0) {
    history = static_cast<std::uint32_t>(history_.size());
    history_.push_back({p.history, p.task, p.clock_us[p.crew == 2 ? 1 : 0]});
  }
  for (int t = 0; t < tasks; ++t) {
    const auto i = static_cast<std::size_t>(t);
    if ((p.done & bit(t)) || (after_[i] & ~p.done)) continue;
    if ((helping_ & bit(t)) && !is_asked_for(p, t)) continue;
    if (problem.tasks[i].together) {
      if (append(p, history, t, 3, out)) next(out);
    } else {
      for (int c = 0; c < crew; ++c)
        if ((who_[i] & (1u << c)) && append(p, history, t, 1u << c, out)) next(out);
    }
  }
}

}  // namespace holdfast::plan::detail
