// SPDX-License-Identifier: GPL-3.0-or-later
#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <utility>

#include "trail_impl.h"

namespace holdfast::tether::detail {

namespace {

using Triangle = std::array<Vec3, 3>;
/// What a line is passed by at one end of another: from below the hands to the body, and outward from there.
using Ray = std::array<Vec3, 3>;

/// Where the segment goes through the triangle, and in which sense; 0 where it does not.
int pierces(const Vec3& from, const Vec3& to, const Triangle& triangle, Vec3& at) {
  const Vec3 normal = (triangle[1] - triangle[0]).cross(triangle[2] - triangle[0]);
  const double before = normal.dot(from - triangle[0]), after = normal.dot(to - triangle[0]);
  if ((before < 0) == (after < 0) || before == after) return 0;
  at = from + before / (before - after) * (to - from);
  for (std::size_t k = 0; k < 3; ++k)
    if (normal.dot((triangle[(k + 1) % 3] - triangle[k]).cross(at - triangle[k])) < 0) return 0;
  return after > before ? 1 : -1;
}

/// What moves from a segment to another, as two triangles. Their normal is (way gone) x (direction of the segment).
std::array<Triangle, 2> swept(const Vec3& a0, const Vec3& a1, const Vec3& b0, const Vec3& b1) {
  return {Triangle{a0, b0, b1}, Triangle{a0, b1, a1}};
}

struct Line {
  std::size_t number = 0;  ///< of the hook
  std::vector<Vec3> points;
};
struct End {
  std::size_t line = 0;
  bool is_fixed = true;  ///< a hook; else the mover
  Ray ray;
};

/// A mover on the way through the states, with the lines of the hooks left behind.
class Walker {
 public:
  Walker(const std::vector<LineState>& states, const Vec3& shift) : states_(states) {
    for (LineState& state : states_) {
      state.hand += shift, state.body += shift, state.hook_at += shift;
      for (Vec3& point : state.line) point += shift;
    }
  }

  [[nodiscard]] std::optional<std::size_t> next() const {
    const std::size_t i = is_out_ ? reached_ + 1 : 0;
    return i < states_.size() ? std::optional(i) : std::nullopt;
  }
  [[nodiscard]] const LineState& state(std::size_t i) const { return states_[i]; }
  [[nodiscard]] bool is_out() const { return is_out_; }
  /// True where going on to the next state is hooking on: the line is laid from its hook to the body.
  [[nodiscard]] bool hooks_on_next() const {
    const auto to = next();
    return to && (!is_out_ || states_[*to].hook != states_[reached_].hook);
  }
  [[nodiscard]] double reached_s() const { return states_[reached_].at_s; }
  [[nodiscard]] double fraction() const { return fraction_; }

  void hook_on() {
    const std::size_t to = *next();
    if (is_out_) {
      const LineState& left = states_[reached_];
      left_lines_.push_back({left.hook, left.line});
      left_ends_.push_back({left.hook, true, ray_of(left.hand, left.body)});
    }
    is_out_ = true;
    go_to(to);
    left_ends_.push_back({states_[to].hook, true, hook_ray(states_[to])});
  }
  /// Part of the way to the next state. Requires: one with the same hook.
  void go_on(double fraction) {
    fraction_ = fraction;
    if (fraction_ >= 1) go_to(reached_ + 1);
  }

  [[nodiscard]] Ray ray(double fraction) const {
    const LineState& from = states_[reached_];
    if (fraction == 0) return ray_of(from.hand, from.body);
    const LineState& to = states_[reached_ + 1];
    const Ray a = ray_of(from.hand, from.body), b = ray_of(to.hand, to.body);
    Ray between;
    for (std::size_t k = 0; k < 3; ++k) between[k] = (1 - fraction) * a[k] + fraction * b[k];
    return between;
  }
  [[nodiscard]] std::vector<Vec3> line(double fraction) const {
    const auto [a, b] = side_by_side(states_[reached_].line, states_[std::min(reached_ + 1, states_.size() - 1)].line);
    std::vector<Vec3> points;
    for (std::size_t i = 0; i < a.size(); ++i) points.emplace_back((1 - fraction) * a[i] + fraction * b[i]);
    return points;
  }
  [[nodiscard]] std::size_t hook() const { return states_[reached_].hook; }
  [[nodiscard]] std::vector<Line> lines() const {
    if (!is_out_) return {};
    auto all = left_lines_;
    all.push_back({hook(), fraction_ == 0 ? states_[reached_].line : line(fraction_)});
    return all;
  }
  [[nodiscard]] std::vector<End> ends() const {
    if (!is_out_) return {};
    auto all = left_ends_;
    all.push_back({hook(), false, ray(fraction_)});
    return all;
  }
  /// At the hook of the line, as the mover would be who stands there.
  static Ray hook_ray(const LineState& state) {
    return ray_of(state.hook_at, state.line.front() + (state.body - state.hand));
  }

 private:
  static constexpr double down_m = 0.4, up_m = 4.0;  // the surface under a rail; a line hanging free beyond the body
  static Ray ray_of(const Vec3& hand, const Vec3& body) {
    const Vec3 out = (body - hand).normalized();
    return {hand - down_m * out, body, body + up_m * out};
  }
  void go_to(std::size_t i) { reached_ = i, fraction_ = 0; }

  std::vector<LineState> states_;
  bool is_out_ = false;
  std::size_t reached_ = 0;
  double fraction_ = 0;  // of the way to the next
  std::vector<Line> left_lines_;
  std::vector<End> left_ends_;
};

struct Event {
  Crossing crossing;
  /// Which end of whose line comes past which line of the other, in which band, in which sense: the same whichever of
  /// the two moves.
  bool end_of_second = false, is_fixed_end = false;
  std::size_t end_line = 0, line = 0;
  bool is_outside = false;
  int sense = 0;

  [[nodiscard]] bool undoes(const Event& other) const {
    return end_of_second == other.end_of_second && is_fixed_end == other.is_fixed_end && end_line == other.end_line &&
           line == other.line && is_outside == other.is_outside && sense == -other.sense;
  }
};

/// Both movers' ways replayed in small steps, one moving at a time. Each end of a line stands for a curve from the
/// structure outward, so that what passes between the two is told exactly once, by whichever moves, and going back past
/// it is the same with the other sign.
class Replay {
 public:
  Replay(const std::vector<LineState>& first, const std::vector<LineState>& second)
      // Rails of one grid meet grip on grip: a shift far below any length that counts keeps lines off each other's
      // ends.
      : movers_{Walker(first, Vec3::Zero()), Walker(second, Vec3(1.3e-6, 2.1e-6, 1.7e-6))} {}

  std::vector<Event> run() {
    std::optional<double> now;
    while (true) {
      std::optional<double> then;
      for (const Walker& mover : movers_)
        if (const auto next = mover.next())
          then = std::min(then.value_or(mover.state(*next).at_s), mover.state(*next).at_s);
      if (!then) return std::move(events_);
      // Short enough that it does not matter who of the two goes first in each: 0.6 m at most is gone in all.
      constexpr int slices = 64;
      for (int k = 1; k <= slices && now && *then > *now; ++k)
        for (const std::size_t m : {0, 1}) advance(m, k == slices ? *then : *now + k * (*then - *now) / slices);
      for (const std::size_t m : {0, 1}) arrive(m, *then);
      now = then;
    }
  }

 private:
  /// As far as the next state, if it is on the same line.
  void advance(std::size_t m, double to_s) {
    Walker& mover = movers_[m];
    const auto next = mover.next();
    if (!next || mover.hooks_on_next()) return;
    const double from_s = mover.reached_s(), end_s = mover.state(*next).at_s;
    if (end_s <= from_s || to_s <= from_s) return;
    go(m, std::min(1.0, (to_s - from_s) / (end_s - from_s)), std::min(to_s, end_s));
  }
  /// All that is due by then.
  void arrive(std::size_t m, double now_s) {
    Walker& mover = movers_[m];
    while (const auto next = mover.next()) {
      if (mover.state(*next).at_s > now_s) return;
      if (mover.hooks_on_next())
        hook_on(m);
      else
        go(m, 1, mover.state(*next).at_s);
    }
  }

  void hook_on(std::size_t m) {
    Walker& mover = movers_[m];
    const LineState& to = mover.state(*mover.next());
    const Ray from = Walker::hook_ray(to);
    mover.hook_on();
    pass_lines(m, from, mover.ray(0), to.at_s, to.at, true);
  }

  void go(std::size_t m, double fraction, double now_s) {
    Walker& mover = movers_[m];
    const double before = mover.fraction();
    const Station at = mover.state(*mover.next()).at;
    const Ray ray_from = mover.ray(before), ray_to = mover.ray(fraction);
    const auto line_from = mover.line(before), line_to = mover.line(fraction);
    const std::size_t line = mover.hook();
    pass_lines(m, ray_from, ray_to, now_s, at, false);
    for (const End& end : movers_[1 - m].ends())
      for (std::size_t i = 1; i < line_from.size(); ++i)
        for (const auto& triangle : swept(line_from[i - 1], line_from[i], line_to[i - 1], line_to[i]))
          for (const std::size_t band : {0, 1}) {
            Vec3 point;
            const int sense = pierces(end.ray[band], end.ray[band + 1], triangle, point);
            if (sense == 0) continue;
            Event event;
            event.crossing = {now_s, m == 1, end.is_fixed ? Passing::Hook : Passing::Line, end.is_fixed || band == 1,
                              at,    point};
            event.end_of_second = m == 0, event.is_fixed_end = end.is_fixed;
            event.end_line = end.line, event.line = line;
            event.is_outside = event.crossing.is_over, event.sense = sense;
            add(std::move(event));
          }
    mover.go_on(fraction);
  }

  /// The mover itself past the other's lines. What is laid when hooking on lies over what is there already.
  void pass_lines(std::size_t m, const Ray& from, const Ray& to, double now_s, const Station& at, bool is_laid) {
    for (const Line& line : movers_[1 - m].lines())
      for (const std::size_t band : {0, 1})
        for (const auto& triangle : swept(from[band], from[band + 1], to[band], to[band + 1]))
          for (std::size_t i = 1; i < line.points.size(); ++i) {
            Vec3 point;
            const int sense = pierces(line.points[i - 1], line.points[i], triangle, point);
            if (sense == 0) continue;
            Event event;
            event.crossing = {now_s, m == 1, Passing::Mover, is_laid || band == 0, at, point};
            event.end_of_second = m == 1, event.is_fixed_end = false;
            event.end_line = movers_[m].hook(), event.line = line.number;
            event.is_outside = !event.crossing.is_over, event.sense = sense;
            add(std::move(event));
          }
  }

  /// What is gone back past is undone.
  void add(Event event) {
    if (!events_.empty() && event.undoes(events_.back()))
      events_.pop_back();
    else
      events_.push_back(std::move(event));
  }

  std::array<Walker, 2> movers_;
  std::vector<Event> events_;
};

}  // namespace

Crossings find_crossings(const std::vector<LineState>& first, const std::vector<LineState>& second) {
  Crossings crossings;
  for (auto& event : Replay(first, second).run()) crossings.events.push_back(event.crossing);
  for (std::size_t i = crossings.events.size(); i-- > 0;) crossings.undo.push_back(i);
  return crossings;
}

}  // namespace holdfast::tether::detail
