// SPDX-License-Identifier: GPL-3.0-or-later
#include "timed_impl.h"

#include <algorithm>
#include <limits>
#include <map>
#include <queue>

namespace holdfast::plan::detail {

namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();

/// What is left of all time from `start_s` on outside of `closed`.
std::vector<TimeSpan> free_of(std::vector<TimeSpan> closed, double start_s) {
  std::sort(closed.begin(), closed.end(), [](const TimeSpan& x, const TimeSpan& y) { return x.from_s < y.from_s; });
  std::vector<TimeSpan> open;
  double t = start_s;
  for (const TimeSpan& span : closed) {
    if (span.to_s <= t) continue;
    if (span.from_s >= t) open.push_back({t, span.from_s});
    t = std::max(t, span.to_s);
  }
  if (t < infinity) open.push_back({t, infinity});
  return open;
}

class Search {
 public:
  Search(const graph::HandrailGraph& graph, const TimedQuestion& question, std::span<const Occupied> others)
      : graph_(graph), q_(question), others_(others) {
    for (const Occupied& other : others) extents_m_.push_back(extent_m(other));
  }

  std::optional<TimedLeg> run() {
    for (const GripId grip : q_.from) {
      const auto& open = rest_of(grip);
      if (open.empty() || open.front().from_s > q_.start_s) continue;  // one cannot even stand there now
      push({grip, 0, false}, q_.start_s, none, MoveId(), q_.start_s, 0);
    }
    while (!queue_.empty()) {
      const auto [arrives_s, index] = queue_.top();
      queue_.pop();
      const Label label = labels_[index];
      if (arrives_s > best_.at(label.state)) continue;
      if (label.state.is_end) return unwind(index);
      const double until_s = rest_of(label.state.grip)[label.state.interval].to_s;
      for (const auto& arc : graph_.adjacency().out(label.state.grip.value)) {
        const MoveId move(arc.move);
        const auto plain_s = q_.move_s(move, label.state.grip);
        if (!plain_s) continue;
        const GripId head(arc.head);
        const double move_s = *plain_s + (label.from == none ? q_.first_s : 0);
        go(index, arrives_s, until_s, move, head, move_s, false);
        if (std::find(q_.to.begin(), q_.to.end(), head) != q_.to.end())
          go(index, arrives_s, until_s, move, head, move_s + q_.last_s, true);
      }
    }
    return std::nullopt;
  }

 private:
  static constexpr std::size_t none = ~std::size_t{0};
  struct State {
    GripId grip;
    std::size_t interval = 0;
    bool is_end = false;
    friend auto operator<=>(const State&, const State&) = default;
  };
  struct Label {
    State state;
    std::size_t from = none;
    MoveId move;
    double starts_s = 0, time_s = 0, arrives_s = 0;
  };

  /// When one may rest at a grip.
  const std::vector<TimeSpan>& rest_of(GripId grip) {
    auto [entry, is_new] = rests_.try_emplace(grip);
    if (is_new) entry->second = free_of(conflicts(q_.resting(grip)), q_.start_s);
    return entry->second;
  }
  /// When one may be in a move; the same in both directions but for what trails behind.
  const std::vector<TimeSpan>& move_of(MoveId move, GripId from) {
    auto [entry, is_new] = moves_.try_emplace({move, from});
    if (is_new) {
      auto closed = conflicts(q_.moving(move, from));
      closed.insert(closed.end(), q_.still.begin(), q_.still.end());
      entry->second = free_of(std::move(closed), q_.start_s);
    }
    return entry->second;
  }
  std::vector<TimeSpan> conflicts(Occupied mine) const {
    std::vector<TimeSpan> closed;
    const double mine_m = extent_m(mine);
    for (std::size_t i = 0; i < others_.size(); ++i) {
      const Occupied& other = others_[i];
      if (other.to_s <= q_.start_s || other.body.empty()) continue;
      if ((mine.body.front() - other.body.front()).norm() >
          mine_m + extents_m_[i] + mine.radius_m + other.radius_m + mine.off_m + other.off_m)
        continue;
      mine.from_s = other.from_s, mine.to_s = other.to_s;
      if (!are_apart(std::span(&mine, 1), std::span(&other, 1))) closed.push_back({other.from_s, other.to_s});
    }
    return closed;
  }

  /// All of the body lies within this of its first point.
  static double extent_m(const Occupied& o) {
    double extent_m = 0;
    for (const Vec3& p : o.body) extent_m = std::max(extent_m, (p - o.body.front()).norm());
    return extent_m;
  }

  /// Every interval of the head that the move can end in, each as early as can be.
  void go(std::size_t index, double ready_s, double until_s, MoveId move, GripId head, double move_s, bool is_end) {
    const auto& rests = rest_of(head);
    for (const TimeSpan& gap : move_of(move, labels_[index].state.grip)) {
      if (gap.to_s - gap.from_s < move_s - 1e-9) continue;
      for (std::size_t j = 0; j < rests.size(); ++j) {
        if (is_end && rests[j].to_s < infinity) continue;
        const double starts_s = std::max({ready_s, gap.from_s, rests[j].from_s - move_s});
        if (starts_s > until_s || starts_s + move_s > gap.to_s + 1e-9 || starts_s + move_s > rests[j].to_s) continue;
        push({head, j, is_end}, starts_s + move_s, index, move, starts_s, move_s);
      }
    }
  }

  void push(State state, double arrives_s, std::size_t from, MoveId move, double starts_s, double time_s) {
    const auto [entry, is_new] = best_.try_emplace(state, arrives_s);
    if (!is_new && entry->second <= arrives_s) return;
    entry->second = arrives_s;
    labels_.push_back({state, from, move, starts_s, time_s, arrives_s});
    queue_.emplace(arrives_s, labels_.size() - 1);
  }

  TimedLeg unwind(std::size_t index) const {
    TimedLeg leg;
    leg.arrives_s = labels_[index].arrives_s;
    for (; index != none; index = labels_[index].from) {
      leg.grips.push_back(labels_[index].state.grip);
      if (labels_[index].from == none) break;
      leg.moves.push_back(labels_[index].move);
      leg.starts_s.push_back(labels_[index].starts_s);
      leg.times_s.push_back(labels_[index].time_s);
    }
    for (auto* list : {&leg.starts_s, &leg.times_s}) std::reverse(list->begin(), list->end());
    std::reverse(leg.grips.begin(), leg.grips.end());
    std::reverse(leg.moves.begin(), leg.moves.end());
    return leg;
  }

  const graph::HandrailGraph& graph_;
  const TimedQuestion& q_;
  const std::span<const Occupied> others_;
  std::vector<double> extents_m_;
  std::map<GripId, std::vector<TimeSpan>> rests_;
  std::map<std::pair<MoveId, GripId>, std::vector<TimeSpan>> moves_;
  std::map<State, double> best_;
  std::vector<Label> labels_;
  using Entry = std::pair<double, std::size_t>;
  std::priority_queue<Entry, std::vector<Entry>, std::greater<>> queue_;
};

}  // namespace

std::optional<TimedLeg> find_timed_leg(const graph::HandrailGraph& graph, const TimedQuestion& question,
                                       std::span<const Occupied> others) {
  return Search(graph, question, others).run();
}

}  // namespace holdfast::plan::detail
