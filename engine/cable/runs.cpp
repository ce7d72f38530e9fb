// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/cable/runs.h"

#include <algorithm>
#include <numbers>
#include <queue>
#include <unordered_map>

#include "holdfast/geometry/fillet.h"
#include "holdfast/model/diagnostic.h"
#include "line_impl.h"

namespace holdfast::cable {

using search::Cost;

namespace {

constexpr double room_tolerance_m = 1e-6;  // limits include equality (design.md 14)
constexpr double straight_rad = 1e-6;      // no bend, however round the surface

/// A span as it leaves one of its ties.
struct Leaving {
  std::uint32_t span;
  std::uint32_t head;  // tie at the other end
};

/// Spans that leave each tie, closed ones and those to closed ties left out; in order of the span.
std::vector<std::vector<Leaving>> leaving_of(const RunProblem& p) {
  std::vector<std::vector<Leaving>> leaving(p.tie_count);
  const auto is_open = [&](std::uint32_t tie) { return tie == p.from || tie == p.to || p.is_tie_open[tie]; };
  for (std::uint32_t s = 0; s < p.spans.size(); ++s) {
    if (!p.is_open[s] || !is_open(p.spans[s].a) || !is_open(p.spans[s].b)) continue;
    leaving[p.spans[s].a].push_back({s, p.spans[s].b});
    leaving[p.spans[s].b].push_back({s, p.spans[s].a});
  }
  return leaving;
}

class Search {
 public:
  explicit Search(const RunProblem& problem) : p_(problem), leaving_(leaving_of(problem)) {}

  RunSearch find() {
    RunSearch result;
    grow_bounds();
    std::vector<std::uint32_t> critical;
    for (;;) {
      const auto end = search(critical);
      result.labels += labels_.size();
      result.is_cut_short = is_cut_short_;
      if (end == none) return result;
      Run run = trace(end);
      const auto twice = find_repeated(run.ties);
      if (twice.empty()) {
        result.run = std::move(run);
        return result;
      }
      constexpr std::size_t most_critical = 64;  // bits of a mask
      if (critical.size() + twice.size() > most_critical || result.labels > p_.most_labels) {
        result.is_cut_short = true;
        return result;
      }
      critical.insert(critical.end(), twice.begin(), twice.end());
    }
  }

 private:
  static constexpr std::uint32_t none = ~std::uint32_t{0};

  struct Label {
    Cost cost;
    double room_m;       // of the span gone along, for the bend at its head
    std::uint64_t past;  // critical ties passed
    std::uint32_t parent, span, tie, grip;
    bool is_dominated = false;
  };

  std::vector<std::uint32_t> grips_of(std::uint32_t tie) const {
    return p_.standings ? p_.standings->by_tie[tie] : std::vector<std::uint32_t>{0};
  }

  /// Of going along a span to `head`, less the way of the one who lays it.
  Cost cost_of(std::uint32_t span, std::uint32_t head) const {
    const std::int64_t tie = head == p_.to ? 0 : 1, length = p_.length[span];
    switch (p_.aim) {
      case Aim::Length:
        return Cost::of(length, tie);
      case Aim::Ties:
        return Cost::of(tie, length);
      case Aim::Time:
        return Cost::of(tie * p_.time_by_tie + p_.time_by_span, tie, length);
    }
    return {};
  }

  std::optional<std::int64_t> walk(std::uint32_t from, std::uint32_t to) const {
    if (p_.aim != Aim::Time || !p_.standings) return 0;
    return p_.standings->cost(from, to);
  }

  /// What is still to pay from each tie, bends and ties passed not looked at, each walk at its least.
  void grow_bounds() {
    onward_.assign(p_.tie_count, Cost::blocked());
    using Entry = std::pair<Cost, std::uint32_t>;
    const auto later = [](const Entry& x, const Entry& y) { return x > y; };
    std::priority_queue<Entry, std::vector<Entry>, decltype(later)> open(later);
    onward_[p_.to] = {};
    open.emplace(Cost{}, p_.to);
    while (!open.empty()) {
      const auto [cost, head] = open.top();
      open.pop();
      if (cost != onward_[head]) continue;
      for (const auto& [span, tail] : leaving_[head]) {
        const auto least = least_walk(tail, head);
        if (!least) continue;
        const Cost through = cost + cost_of(span, head) + Cost::of(*least);
        if (through >= onward_[tail]) continue;
        onward_[tail] = through;
        open.emplace(through, tail);
      }
    }
  }

  std::optional<std::int64_t> least_walk(std::uint32_t tail, std::uint32_t head) const {
    if (p_.aim != Aim::Time || !p_.standings) return 0;
    std::optional<std::int64_t> least;
    for (const auto g : p_.standings->by_tie[tail])
      for (const auto h : p_.standings->by_tie[head])
        if (const auto cost = p_.standings->cost(g, h); cost && (!least || *cost < *least)) least = cost;
    return least;
  }

  struct Open {
    Cost key;
    std::uint32_t label;
    bool operator<(const Open& other) const { return key != other.key ? key > other.key : label > other.label; }
  };

  /// The label that reaches the end, or none.
  std::uint32_t search(const std::vector<std::uint32_t>& critical) {
    labels_.clear(), at_.clear(), open_ = {};
    is_cut_short_ = false;
    bit_.assign(p_.tie_count, 0);
    for (std::size_t i = 0; i < critical.size(); ++i) bit_[critical[i]] = std::uint64_t{1} << i;
    for (const auto grip : grips_of(p_.from)) {
      const auto& in = p_.comes_in;
      labels_.push_back({{}, in ? in->room_m : 0, bit_[p_.from], none, in ? in->span : none, p_.from, grip});
      open_.push({onward_[p_.from], static_cast<std::uint32_t>(labels_.size() - 1)});
    }
    while (!open_.empty()) {
      if (labels_.size() > p_.most_labels) {
        is_cut_short_ = true;
        return none;
      }
      const Open top = open_.top();
      open_.pop();
      if (top.key.is_blocked()) return none;
      if (labels_[top.label].is_dominated) continue;
      if (labels_[top.label].tie == p_.to) return top.label;
      for (const auto& next : leaving_[labels_[top.label].tie]) extend(top.label, next);
    }
    return none;
  }

  void extend(std::uint32_t from, const Leaving& next) {
    const Label label = labels_[from];
    if (next.head == p_.from || (label.past & bit_[next.head]) != 0 || onward_[next.head].is_blocked()) return;
    if (label.span == next.span) return;
    const FittedSpan& span = p_.spans[next.span];
    const bool is_forward = span.a == label.tie;
    double room = is_forward ? span.room_a_m : span.room_b_m;
    if (label.span != none) {
      const FittedSpan& before = p_.spans[label.span];
      const Vec3& back = before.b == label.tie ? before.leaves_b : before.leaves_a;
      const Vec3& on = is_forward ? span.leaves_a : span.leaves_b;
      const double turn = std::numbers::pi - angle_between(back, on);
      const double radius = side_radius_m(p_.bend_radius_m, before, span);
      const double tangent = turn < straight_rad ? 0 : geometry::fillet_tangent_m(radius, turn);
      if (tangent > label.room_m + room_tolerance_m || tangent > room + room_tolerance_m) return;
      if (p_.is_bend_clear && !p_.is_bend_clear(label.tie, label.span, next.span)) return;
      if (span.is_one_stretch()) room -= tangent;
    }
    if (!span.is_one_stretch()) room = is_forward ? span.room_b_m : span.room_a_m;
    const Cost cost = label.cost + cost_of(next.span, next.head);
    for (const auto grip : grips_of(next.head)) {
      const auto walked = walk(label.grip, grip);
      if (!walked) continue;
      offer({cost + Cost::of(*walked), room, label.past | bit_[next.head], from, next.span, next.head, grip},
            is_forward);
    }
  }

  void offer(const Label& label, bool is_forward) {
    const Cost key = label.cost + onward_[label.tie];
    if (p_.aim == Aim::Length && key.primary() > p_.most_length) return;
    const std::uint64_t cell = (std::uint64_t{label.span} * 2 + (is_forward ? 1 : 0)) << 32 | label.grip;
    auto& here = at_[cell];
    for (const auto i : here) {
      const Label& other = labels_[i];
      if (other.cost <= label.cost && other.room_m >= label.room_m && (other.past & ~label.past) == 0) return;
    }
    std::erase_if(here, [&](std::uint32_t i) {
      Label& other = labels_[i];
      if (label.cost > other.cost || label.room_m < other.room_m || (label.past & ~other.past) != 0) return false;
      return other.is_dominated = true;
    });
    const auto index = static_cast<std::uint32_t>(labels_.size());
    here.push_back(index);
    labels_.push_back(label);
    open_.push({key, index});
  }

  Run trace(std::uint32_t end) const {
    Run run;
    run.cost = labels_[end].cost;
    for (std::uint32_t i = end; i != none; i = labels_[i].parent) {
      run.ties.push_back(labels_[i].tie);
      if (labels_[i].parent != none) run.spans.push_back(labels_[i].span);
      if (p_.standings) run.grips.push_back(labels_[i].grip);
    }
    std::reverse(run.ties.begin(), run.ties.end());
    std::reverse(run.spans.begin(), run.spans.end());
    std::reverse(run.grips.begin(), run.grips.end());
    return run;
  }

  static std::vector<std::uint32_t> find_repeated(std::vector<std::uint32_t> ties) {
    std::sort(ties.begin(), ties.end());
    std::vector<std::uint32_t> twice;
    for (std::size_t i = 1; i < ties.size(); ++i)
      if (ties[i] == ties[i - 1] && (twice.empty() || twice.back() != ties[i])) twice.push_back(ties[i]);
    return twice;
  }

  const RunProblem& p_;
  const std::vector<std::vector<Leaving>> leaving_;
  std::vector<Cost> onward_;
  std::vector<Label> labels_;
  std::unordered_map<std::uint64_t, std::vector<std::uint32_t>> at_;
  std::priority_queue<Open> open_;
  std::vector<std::uint64_t> bit_;
  bool is_cut_short_ = false;
};

}  // namespace

RunSearch find_run(const RunProblem& problem) {
  model::ensure(problem.from != problem.to, "a run has two ends");
  return Search(problem).find();
}

}  // namespace holdfast::cable
