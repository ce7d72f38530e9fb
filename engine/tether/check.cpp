// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "follower_impl.h"
#include "trail_impl.h"

namespace holdfast::tether {

using detail::Follower;
using detail::Step;
using graph::HandrailGraph;
using model::PartId;
using route::Hook;

namespace {

/// Does a straight line from the hook reach the part? Looked for on points of its surface, 0.25 m apart at most.
bool is_in_sight(const geometry::Scene& scene, const Vec3& eye, PartId part, double within_m) {
  const auto sees = [&](const Vec3& p) {
    const double distance = (p - eye).norm();
    if (distance > within_m) return false;
    if (distance < line_clear_m) return true;
    const auto hit = scene.find_first_hit(eye, (p - eye) / distance, distance - 1e-4);
    return !hit || hit->part == part;
  };
  if (const auto near = scene.find_nearest_on_part(part, eye, within_m); near && sees(near->point)) return true;
  const auto mesh = scene.part_mesh(part);
  constexpr double spacing_m = 0.25;
  for (const auto& triangle : mesh.triangles) {
    const Vec3 a = mesh.vertices[triangle[0]], ab = mesh.vertices[triangle[1]] - a, ac = mesh.vertices[triangle[2]] - a;
    const double longest = std::max({ab.norm(), ac.norm(), (ab - ac).norm()});
    const int n = std::clamp(static_cast<int>(std::ceil(longest / spacing_m)), 1, 64);
    for (int i = 0; i <= n; ++i)
      for (int k = 0; k + i <= n; ++k)
        if (sees(a + (static_cast<double>(i) / n) * ab + (static_cast<double>(k) / n) * ac)) return true;
  }
  return false;
}

std::vector<SwingItem> find_swing(const HandrailGraph& graph, const Follower& follower) {
  std::vector<SwingItem> items;
  const auto& structure = graph.structure();
  for (const auto& stay : follower.stays())
    for (std::size_t p = 0; p < structure.parts.size(); ++p) {
      const auto& part = structure.parts[p];
      if (!(part.fragile || part.no_touch) || !structure.is_present(PartId(p), graph.scene().configuration())) continue;
      const double distance = graph.scene().distance_to_part(PartId(p), stay.hook.line_end, stay.most_m + 1);
      if (distance > stay.most_m) continue;
      SwingItem item{PartId(p), stay.hook.name, distance, false, stay.first_mark, part.fragile, part.no_touch};
      item.is_in_sight = is_in_sight(graph.scene(), stay.hook.line_end, PartId(p), stay.most_m);
      while (item.from_mark + 1 < follower.marks.size() && follower.marks[item.from_mark].most_m < distance)
        ++item.from_mark;
      items.push_back(std::move(item));
    }
  std::stable_sort(items.begin(), items.end(),
                   [](const SwingItem& x, const SwingItem& y) { return x.distance_m < y.distance_m; });
  return items;
}

/// The legs of ways before a station: the way out of ways that come back.
std::vector<route::GivenWay> legs_before(std::vector<route::GivenWay> ways, const Station& at) {
  ways.resize(at.leg > 0 ? at.way + 1 : at.way);
  if (at.leg > 0) ways.back().legs.resize(at.leg);
  return ways;
}

}  // namespace

TetherCheck check_tether(const HandrailGraph& graph, const route::Profile& profile, const TetherQuestion& question) {
  model::ensure(question.tether && !question.ways.empty(), "a tether is checked along a way");
  TetherCheck check;
  route::RouteRequest asked;
  asked.from = question.ways.front().legs.front().from, asked.to = question.ways.back().legs.back().to;
  check.head = route::begin_answer(graph, profile, asked);
  check.head.request.tether = question.tether->id, check.head.request.anchor = question.anchor;
  check.head.used.push_back({"length of tether " + question.tether->id, "m", question.tether->length_m});
  check.tether = question.tether;
  for (const auto& way : question.ways) check.ways.push_back(way.name);
  for (const auto& way : question.other_ways) check.other_ways.push_back(way.name);

  check.routes = detail::follow(graph, profile, question.ways);
  const auto steps = detail::steps_of(graph, check.routes, question.ways, profile.suit);
  check.anchor = detail::hook_at_start(graph, *question.tether, question.anchor, steps.front());
  Follower follower(graph, *question.tether, check.anchor);
  follower.follow(steps);
  check.swing = find_swing(graph, follower);
  check.marks = std::move(follower.marks);
  check.zones = std::move(follower.zones);
  for (std::size_t m = 0; m < check.marks.size(); ++m) {
    check.most_m = std::max(check.most_m, check.marks[m].most_m);
    if (check.marks[m].is_within) continue;
    auto& first = check.marks[m].least_m > question.tether->length_m ? check.fails_at : check.unsettled_at;
    if (!first) first = m;
  }
  const bool has_swaps = std::any_of(steps.begin(), steps.end(), [](const Step& s) { return !s.swaps.empty(); });
  const std::size_t turn = detail::turn_of(steps);
  const bool is_same_place = asked.from == asked.to;
  const auto closing = has_swaps ? std::nullopt : detail::closing_of(graph, check.anchor, steps, is_same_place);
  if (closing) check.loop = detail::close_loop(graph, *closing, steps, turn);
  check.is_left_open = is_same_place && !has_swaps && !closing;
  if (question.wants_clean_return) {
    const auto out = closing || is_same_place ? legs_before(question.ways, steps[turn].at) : question.ways;
    check.clean_return =
        detail::find_clean_return(graph, profile, check.anchor, out, detail::follow(graph, profile, out));
  }
  if (question.other_tether) {
    check.head.used.push_back({"length of tether " + question.other_tether->id, "m", question.other_tether->length_m});
    check.other_routes = detail::follow(graph, profile, question.other_ways);
    const auto other_steps = detail::steps_of(graph, check.other_routes, question.other_ways, profile.suit);
    Follower other(graph, *question.other_tether,
                   detail::hook_at_start(graph, *question.other_tether, question.other_anchor, other_steps.front()));
    other.follow(other_steps);
    check.crossings = detail::find_crossings(follower.states, other.states);
  }
  return check;
}

}  // namespace holdfast::tether
