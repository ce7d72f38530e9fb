// SPDX-License-Identifier: GPL-3.0-or-later
// Safe intervals against an exhaustive search over (grip, time) on a small yard with a second body in it.

#include "timed_impl.h"

#include <gtest/gtest.h>

#include <cmath>
#include <queue>
#include <random>
#include <set>

#include "yard_builder.h"

namespace holdfast::plan::detail {
namespace {

/// Two rails of 3 m with a rung between them at both ends.
support::World small_yard() {
  support::YardBuilder yard;
  const auto part = yard.nowhere();
  yard.rail("main", part, {{0, 0, 0}, {3, 0, 0}}, {{0, 0, -1}});
  yard.rail("near", part, {{0, 0, 0}, {0, 1.5, 0}}, {{0, 0, -1}});
  yard.rail("far", part, {{3, 0, 0}, {3, 1.5, 0}}, {{0, 0, -1}});
  yard.rail("second", part, {{0, 1.5, 0}, {3, 1.5, 0}}, {{0, 0, -1}});
  return support::World(yard.structure, {.spacing_m = 0.5});
}

class Yard {
 public:
  Yard() {
    question.first_s = 1, question.last_s = 2;
    question.move_s = [this](MoveId move, GripId) { return std::optional(graph().move(move).gap_m / 0.25 + 0.5); };
    question.resting = [this](GripId g) {
      return Occupied{0, 0, false, {graph().body_point(g)}, 0, {graph().grip(g).hand}, 0.3, {}};
    };
    question.moving = [this](MoveId move, GripId from) {
      const auto& m = graph().move(move);
      return Occupied{0,    0,
                      true, {graph().body_point(from), graph().body_point(m.other(from))},
                      0,    {graph().grip(m.a).hand, graph().grip(m.b).hand},
                      0.3,  {}};
    };
  }
  [[nodiscard]] const graph::HandrailGraph& graph() const { return world.graph; }
  support::World world = small_yard();
  TimedQuestion question;

  /// Somebody who walks and stands as chance has it.
  std::vector<Occupied> somebody(std::mt19937& random) const {
    std::vector<Occupied> out;
    double t = static_cast<double>(random() % 40) / 8;
    GripId at(random() % graph().grips().size());
    if (t > 0) out.push_back({0, t, false, {graph().body_point(at)}, 0, {graph().grip(at).hand}, 0.3, {}});
    for (int i = 0; i < 8; ++i) {
      const auto arcs = graph().adjacency().out(at.value);
      const auto& arc = arcs[random() % arcs.size()];
      const double move_s = 1 + static_cast<double>(random() % 32) / 8;
      out.push_back({t,
                     t + move_s,
                     true,
                     {graph().body_point(at), graph().body_point(GripId(arc.head))},
                     0,
                     {graph().grip(at).hand, graph().grip(GripId(arc.head)).hand},
                     0.3,
                     {}});
      t += move_s;
      at = GripId(arc.head);
      const double rest_s = static_cast<double>(random() % 24) / 8;
      out.push_back({t, t + rest_s, false, {graph().body_point(at)}, 0, {graph().grip(at).hand}, 0.3, {}});
      t += rest_s;
    }
    out.push_back({t, INFINITY, false, {graph().body_point(at)}, 0, {graph().grip(at).hand}, 0.3, {}});
    return out;
  }
};

/// Earliest arrival of all paths whose waits end when the other begins or ends something, or when a move would end
/// then: an earliest arrival needs no other. Nothing is dominated; states are told apart by their time.
std::optional<double> earliest(const Yard& yard, const std::vector<Occupied>& others) {
  const auto& q = yard.question;
  const auto& graph = yard.graph();
  std::set<double> events;
  for (const Occupied& o : others)
    for (const double t : {o.from_s, o.to_s})
      if (std::isfinite(t)) events.insert(t);
  const double last_s = events.empty() ? 0 : *events.rbegin();
  const auto is_clear = [&](Occupied mine, double from_s, double to_s) {
    mine.from_s = from_s, mine.to_s = to_s;
    return are_apart(std::span(&mine, 1), others);
  };
  using State = std::tuple<double, std::uint32_t, bool>;
  std::priority_queue<State, std::vector<State>, std::greater<>> open;
  std::set<std::pair<std::uint32_t, long>> seen;
  for (const GripId g : q.from) open.emplace(q.start_s, g.value, true);
  double best = INFINITY;
  while (!open.empty()) {
    const auto [t, at, is_first] = open.top();
    open.pop();
    if (t >= best) break;
    // Once nothing more happens, an earlier arrival is never worse.
    const double told_s = std::min(t, last_s + 1);
    if (!seen.emplace(at, std::lround(told_s * 1e4) * 2 + (is_first ? 1 : 0)).second) continue;
    for (const auto& arc : graph.adjacency().out(at)) {
      const MoveId move(arc.move);
      const double plain_s = *q.move_s(move, GripId(at)) + (is_first ? q.first_s : 0);
      for (const bool is_end : {false, true}) {
        if (is_end && std::find(q.to.begin(), q.to.end(), GripId(arc.head)) == q.to.end()) continue;
        const double move_s = plain_s + (is_end ? q.last_s : 0);
        std::set<double> departures = {t};
        for (const double e : events) {
          if (e > t) departures.insert(e);
          if (e - move_s > t) departures.insert(e - move_s);
        }
        for (const double d : departures) {
          if (!is_clear(q.resting(GripId(at)), t, d)) break;
          if (!is_clear(q.moving(move, GripId(at)), d, d + move_s)) continue;
          if (!is_end)
            open.emplace(d + move_s, arc.head, false);
          else if (is_clear(q.resting(GripId(arc.head)), d + move_s, INFINITY))
            best = std::min(best, d + move_s);
        }
      }
    }
  }
  return std::isfinite(best) ? std::optional(best) : std::nullopt;
}

TEST(TimedLeg, ArrivesAsEarlyAsAnyPathInTime) {
  Yard yard;
  std::size_t found_count = 0, delayed = 0;
  for (unsigned seed = 0; seed < 24; ++seed) {
    SCOPED_TRACE(seed);
    std::mt19937 random(seed);
    const auto others = yard.somebody(random);
    auto& q = yard.question;
    const auto n = yard.graph().grips().size();
    q.from = {GripId(random() % n)};
    q.to = {GripId(random() % n), GripId(random() % n)};
    std::erase(q.to, q.from.front());
    if (q.to.empty()) continue;
    const auto expected = earliest(yard, others);
    const auto found = find_timed_leg(yard.graph(), q, others);
    ASSERT_EQ(found.has_value(), expected.has_value());
    if (!found) continue;
    ++found_count;
    EXPECT_NEAR(found->arrives_s, *expected, 1e-6);
    const auto alone = find_timed_leg(yard.graph(), q, {});
    delayed += found->arrives_s > alone->arrives_s + 1e-6 ? 1 : 0;
    // Replayed, it keeps apart.
    std::vector<Occupied> mine;
    double free_s = q.start_s;
    for (std::size_t i = 0; i < found->moves.size(); ++i) {
      auto rest = q.resting(found->grips[i]);
      rest.from_s = free_s, rest.to_s = found->starts_s[i];
      auto move = q.moving(found->moves[i], found->grips[i]);
      move.from_s = found->starts_s[i], move.to_s = free_s = found->starts_s[i] + found->times_s[i];
      EXPECT_GE(rest.to_s, rest.from_s - 1e-9);
      mine.push_back(rest), mine.push_back(move);
    }
    EXPECT_TRUE(are_apart(mine, others));
  }
  EXPECT_GT(found_count, 8u);
  EXPECT_GT(delayed, 2u);
}

TEST(TimedLeg, HoldsStillWhereItMust) {
  Yard yard;
  auto& q = yard.question;
  q.from = {GripId(std::size_t{0})};
  q.to = {GripId(yard.graph().grips().size() - 1)};
  const auto alone = find_timed_leg(yard.graph(), q, {});
  q.still = {{3, 10}};
  const auto held = find_timed_leg(yard.graph(), q, {});
  ASSERT_TRUE(alone && held);
  EXPECT_GT(held->arrives_s, alone->arrives_s);
  for (std::size_t i = 0; i < held->moves.size(); ++i)
    EXPECT_TRUE(held->starts_s[i] >= 10 || held->starts_s[i] + held->times_s[i] <= 3 + 1e-9);
}

}  // namespace
}  // namespace holdfast::plan::detail
