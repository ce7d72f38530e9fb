// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "trail_impl.h"

namespace holdfast::tether::detail {

using graph::GripId;
using graph::HandrailGraph;

namespace {

[[noreturn]] void refuse(const std::string& name, std::string problem, std::string remedy) {
  throw model::InputError({{{}, "", "wrong-result", fmt::format("{}: {}", name, problem), name, std::move(remedy)}});
}

/// The body's way over a move as points with clear lines between them.
std::vector<Vec3> through_move(const HandrailGraph& graph, GripId from, GripId to, double& way_m) {
  const auto id = graph.find_move(from, to);
  model::ensure(id.has_value(), "a route goes by moves of its graph");
  way_m = graph.move(*id).way_m;
  const bool is_forward = graph.move(*id).a == from;
  std::vector<Vec3> points;
  for (int pieces = 1; pieces <= 64; pieces *= 2) {
    points.clear();
    Vec3 last = graph.body_point(from);
    bool is_clear = true;
    for (int k = 1; k <= pieces; ++k) {
      const double t = static_cast<double>(k) / pieces;
      const Vec3 next = k == pieces ? graph.body_point(to) : graph.body_at(*id, is_forward ? t : 1 - t);
      is_clear = is_clear && is_line_clear(graph.scene(), last, next);
      points.push_back(next);
      last = next;
    }
    if (is_clear) break;
  }
  return points;
}

}  // namespace

std::vector<Step> steps_of(const HandrailGraph& graph, std::span<const route::Route> routes,
                           std::span<const route::GivenWay> ways, const model::Suit& suit) {
  std::vector<Step> steps;
  double begun_s = 0;
  std::optional<GripId> last;
  for (std::size_t w = 0; w < routes.size(); ++w) {
    for (std::size_t l = 0; l < routes[w].legs.size(); ++l) {
      const auto& leg = routes[w].legs[l];
      // Rows and poses tell the same moves: row r ends after its moves.
      std::size_t row = 0, left = leg.rows.front().moves;
      for (std::size_t p = 0; p < leg.poses.size(); ++p) {
        const auto& pose = leg.poses[p];
        while (p > 0 && left == 0) left = leg.rows[++row].moves;
        if (p > 0) --left;
        Step step;
        step.at = {w, l, row};
        step.ends_row = p == 0 || left == 0;
        step.rail = pose.rail;
        step.hand = pose.hand, step.body = pose.body, step.outward = pose.outward;
        step.at_s = begun_s + (ways.empty() ? pose.at_s : ways[w].legs[l].grips[p].at_s);
        const GripId grip(pose.grip);
        if (!ways.empty())
          for (const auto& swap : ways[w].swaps)
            if (swap.leg == l && swap.grip == p) step.swaps.push_back(swap.hook);
        if (last && *last != grip) {
          if (p > 0) {
            step.through = through_move(graph, *last, grip, step.way_m);
          } else {
            // Another grip of the same place: one more move, or a step that is as short.
            step.way_m = (step.body - steps.back().body).norm();
            step.through = {step.body};
            if (step.way_m > 2 * graph.body().reach_m || !is_line_clear(graph.scene(), steps.back().body, step.body))
              refuse(ways.empty() ? std::string("the way back") : ways[w].name,
                     "it does not begin where the path before it ends",
                     "compute both as one route: holdfast route ... --via PLACE");
          }
        } else if (!last) {
          step.through = {step.body};
        }
        last = grip;
        steps.push_back(std::move(step));
      }
    }
    begun_s = steps.back().at_s + suit.stop_s;
  }
  return steps;
}

std::vector<route::Route> follow(const HandrailGraph& graph, const route::Profile& profile,
                                 const std::vector<route::GivenWay>& ways) {
  const auto comparison = route::compare_ways(graph, profile, {}, ways, {{}});
  std::vector<route::Route> routes;
  for (std::size_t w = 0; w < ways.size(); ++w) {
    const auto* route = comparison.rows[w].answer.route();
    if (!route)
      refuse(ways[w].name, "the route is closed in this configuration",
             "give the switches that it was computed with (--state SWITCH=POSITION)");
    routes.push_back(*route);
  }
  return routes;
}

route::Hook hook_at_start(const HandrailGraph& graph, const model::Tether& tether, const std::string& anchor,
                          const Step& start) {
  auto hook = route::find_hook(graph, anchor, start.body);
  route::check_first_line(graph, tether, hook, start.body);
  return hook;
}

std::vector<model::PartId> bearings_of(const geometry::Scene& scene, const TautLine& line) {
  std::vector<model::PartId> parts;
  for (std::size_t i = 1; i + 1 < line.points.size(); ++i) {
    const auto near = scene.find_nearest(line.points[i], 0.1);
    if (near && std::find(parts.begin(), parts.end(), near->part) == parts.end()) parts.push_back(near->part);
  }
  return parts;
}

std::pair<std::vector<Vec3>, std::vector<Vec3>> side_by_side(const std::vector<Vec3>& a, const std::vector<Vec3>& b) {
  const auto shares_of = [](const std::vector<Vec3>& line) {
    const double whole = length_of(line);
    std::vector<double> shares = {0};
    for (std::size_t i = 1; i < line.size(); ++i)
      shares.push_back(shares.back() + (whole > 0 ? (line[i] - line[i - 1]).norm() / whole : 0));
    if (whole > 0) shares.back() = 1;
    return shares;
  };
  const auto shares_a = shares_of(a), shares_b = shares_of(b);
  std::vector<double> shares = shares_a;
  shares.insert(shares.end(), shares_b.begin(), shares_b.end());
  shares.push_back(1);
  std::sort(shares.begin(), shares.end());
  shares.erase(std::unique(shares.begin(), shares.end()), shares.end());
  const auto spread = [&](const std::vector<Vec3>& line, const std::vector<double>& own) {
    std::vector<Vec3> points;
    std::size_t i = 0;
    for (const double share : shares) {
      while (i + 2 < own.size() && own[i + 1] < share) ++i;
      const double width = i + 1 < own.size() ? own[i + 1] - own[i] : 0;
      const double t = width > 0 ? std::clamp((share - own[i]) / width, 0.0, 1.0) : 0;
      points.push_back(i + 1 < line.size() ? Vec3((1 - t) * line[i] + t * line[i + 1]) : line[i]);
    }
    return points;
  };
  return {spread(a, shares_a), spread(b, shares_b)};
}

}  // namespace holdfast::tether::detail
