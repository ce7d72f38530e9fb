// SPDX-License-Identifier: GPL-3.0-or-later
#include <algorithm>
#include <cmath>
#include <limits>

#include "holdfast/tether/slide.h"
#include "trail_impl.h"

namespace holdfast::tether::detail {

using graph::HandrailGraph;
using model::PartId;
using route::Hook;

namespace {

constexpr double same_place_m = 0.3;

/// Through all that the steps pass and what closes it, both ends at the last point of that.
std::vector<Vec3> loop_points(const std::vector<Vec3>& closing, std::span<const Step> steps) {
  std::vector<Vec3> points = {closing.back()};
  for (const Step& step : steps) points.insert(points.end(), step.through.begin(), step.through.end());
  points.insert(points.end(), closing.begin(), closing.end());
  return points;
}

/// How far a tight loop must go, straight across itself, to be off the part, and what else is in its way.
HookedPart slide_off(const HandrailGraph& graph, const std::vector<Vec3>& line, PartId part, const Vec3& at) {
  HookedPart hooked{part, at, {}, {}};
  // The loop is nearly flat round the part: across it is along its area vector.
  Vec3 middle = Vec3::Zero(), across = Vec3::Zero();
  for (const Vec3& p : line) middle += p / static_cast<double>(line.size());
  for (std::size_t i = 1; i < line.size(); ++i) across += (line[i - 1] - middle).cross(line[i] - middle);
  if (across.norm() < 1e-9) return hooked;
  across.normalize();
  double low = 0, high = 0;  // of the loop, across itself
  for (const Vec3& p : line) low = std::min(low, across.dot(p - at)), high = std::max(high, across.dot(p - at));
  const auto mesh = graph.scene().part_mesh(part);
  std::optional<PartId> in_the_way;
  for (const double sense : {1.0, -1.0}) {
    double beyond = 0;
    for (const Vec3& v : mesh.vertices) beyond = std::max(beyond, sense * across.dot(v - at));
    const double slide = beyond + (sense > 0 ? -low : high) + line_clear_m;
    if (hooked.slide_m && slide >= *hooked.slide_m) continue;
    // Every few centimetres of the loop: does it meet something else on its way?
    std::optional<PartId> met;
    constexpr double spacing_m = 0.02;
    for (std::size_t i = 1; i < line.size() && !met; ++i) {
      const int n = std::max(1, static_cast<int>(std::ceil((line[i] - line[i - 1]).norm() / spacing_m)));
      for (int k = 0; k <= n && !met; ++k) {
        const Vec3 from = line[i - 1] + (static_cast<double>(k) / n) * (line[i] - line[i - 1]);
        const auto hit = graph.scene().find_first_hit(from, sense * across, slide);
        if (hit && hit->part != part) met = hit->part;
      }
    }
    if (met)
      in_the_way = in_the_way ? in_the_way : met;
    else
      hooked.slide_m = slide;
  }
  if (!hooked.slide_m) hooked.held_by = in_the_way;
  return hooked;
}

Loop tighten(const HandrailGraph& graph, const std::vector<Vec3>& closing, std::span<const Step> steps) {
  Loop loop;
  const auto way = loop_points(closing, steps);
  loop.gone_m = length_of(way);
  const TautLine line = pull_taut(graph.scene(), way);
  loop.taut_m = line.length_m;
  loop.line = line.points;
  loop.is_settled = line.is_settled;
  if (loop.taut_m < clean_loop_m) {  // it comes in: does it have to be slid for that?
    const LoopSlide slide = find_slide(graph.scene(), way);
    loop.is_slide_known = !slide.is_apart || slide.most_m.has_value();
    loop.slid_m = slide.most_m.value_or(0);
    if (slide.most_m) loop.slid_on = slide.between.front();
    loop.is_clean = loop.is_slide_known && loop.slid_m <= clean_loop_m;
    if (!loop.is_clean)
      for (const PartId part : slide.between) loop.hooked.push_back({part, slide.at, slide.most_m, {}});
    return loop;
  }
  for (std::size_t i = 1; i + 1 < line.points.size(); ++i) {
    const Vec3 before = (line.points[i] - line.points[i - 1]).normalized();
    const Vec3 after = (line.points[i + 1] - line.points[i]).normalized();
    constexpr double bend = 0.996;  // 5 deg
    if (before.dot(after) > bend && line.points.size() < 20) continue;
    const auto near = graph.scene().find_nearest(line.points[i], 0.1);
    if (!near ||
        std::any_of(loop.hooked.begin(), loop.hooked.end(), [&](const auto& h) { return h.part == near->part; }))
      continue;
    loop.hooked.push_back(slide_off(graph, loop.line, near->part, line.points[i]));
  }
  return loop;
}

/// Pairs of steps of the way out (falling) and the way back (rising) at the same place.
std::vector<std::pair<std::size_t, std::size_t>> meetings(const HandrailGraph& graph, const std::vector<Step>& steps,
                                                          std::size_t turn) {
  std::vector<std::pair<std::size_t, std::size_t>> pairs = {{turn - 1, turn}};
  for (std::size_t back = turn; back < steps.size(); ++back)
    for (std::size_t out = pairs.back().first + 1; out-- > 0;) {
      if ((steps[out].body - steps[back].body).norm() > same_place_m) continue;
      if (!is_line_clear(graph.scene(), steps[out].body, steps[back].body)) continue;
      pairs.emplace_back(out, back);
      break;
    }
  return pairs;
}

std::vector<Step> reversed(std::span<const Step> steps) {
  std::vector<Step> back;
  for (std::size_t i = steps.size(); i-- > 0;) {
    Step step = steps[i];
    step.through.clear();
    if (i + 1 < steps.size()) {
      const auto& through = steps[i + 1].through;
      if (through.size() > 1) step.through.assign(through.rbegin() + 1, through.rend());
      step.through.push_back(step.body);
    } else {
      step.through = {step.body};
    }
    back.push_back(std::move(step));
  }
  return back;
}

}  // namespace

std::optional<std::vector<Vec3>> closing_of(const HandrailGraph& graph, const Hook& hook,
                                            const std::vector<Step>& steps, bool is_same_place) {
  constexpr double near_m = 1.5;
  const Vec3& end = steps.back().body;
  const Vec3& start = steps.front().body;
  if (steps.size() < 3 || (!is_same_place && (end - start).norm() > near_m)) return std::nullopt;
  if (is_line_clear(graph.scene(), end, hook.line_end)) return std::vector<Vec3>{hook.line_end};
  if (is_line_clear(graph.scene(), end, start)) return std::vector<Vec3>{start, hook.line_end};
  return std::nullopt;
}

std::size_t turn_of(const std::vector<Step>& steps) {
  std::size_t turn = steps.size() - 1;
  double farthest = -1;
  for (std::size_t i = 1; i < steps.size(); ++i) {
    const bool begins_leg = steps[i].at.way != steps[i - 1].at.way || steps[i].at.leg != steps[i - 1].at.leg;
    const double distance = (steps[i].body - steps.front().body).norm();
    if (begins_leg && distance > farthest) farthest = distance, turn = i;
  }
  return turn;
}

Loop close_loop(const HandrailGraph& graph, const std::vector<Vec3>& closing, const std::vector<Step>& steps,
                std::size_t turn) {
  Loop loop = tighten(graph, closing, steps);
  if (loop.is_clean || turn == 0) return loop;
  // Where the two ways meet, the loop falls into smaller ones; the way back is mended where these are not clean.
  std::vector<Step> mended(steps.begin(), steps.begin() + static_cast<std::ptrdiff_t>(turn));
  const auto pairs = meetings(graph, steps, turn);
  std::vector<Loop::Turn> turns;
  // One small loop: out from `out_to` on, back up to `back_to`, closed through `ends`.
  const auto look_at = [&](std::size_t out_from, std::size_t out_to, std::size_t back_from, std::size_t back_to,
                           const std::vector<Vec3>& ends) {
    const std::span<const Step> out(steps.data() + out_to, out_from + 1 - out_to);
    std::vector<Step> back(steps.begin() + static_cast<std::ptrdiff_t>(back_from),
                           steps.begin() + static_cast<std::ptrdiff_t>(back_to) + 1);
    back.front().through = {back.front().body};
    std::vector<Step> ring(out.begin(), out.end());
    ring.front().through = {ring.front().body};
    ring.insert(ring.end(), back.begin(), back.end());
    if (tighten(graph, ends, ring).is_clean) {
      mended.insert(mended.end(), back.begin(), back.end());
    } else {
      turns.push_back({steps[back_from].at, steps[back_to].at});
      const auto as_out = reversed(out);
      mended.insert(mended.end(), as_out.begin(), as_out.end());
    }
  };
  for (std::size_t p = 0; p + 1 < pairs.size(); ++p)
    look_at(pairs[p].first, pairs[p + 1].first, pairs[p].second, pairs[p + 1].second, {steps[pairs[p + 1].first].body});
  if (pairs.back().second + 1 < steps.size())
    look_at(pairs.back().first, 0, pairs.back().second, steps.size() - 1, closing);
  if (!turns.empty() && tighten(graph, closing, mended).is_clean) loop.turns = std::move(turns);
  return loop;
}

CleanReturn find_clean_return(const HandrailGraph& graph, const route::Profile& profile, const Hook& hook,
                              const std::vector<route::GivenWay>& out_ways,
                              const std::vector<route::Route>& out_routes) {
  CleanReturn result;
  route::RouteRequest request;
  request.from = out_ways.back().legs.back().to, request.to = out_ways.front().legs.front().from;
  const auto choices = route::find_alternative_routes(graph, profile, request, {.most = 8, .stretch = 2.0});
  result.answer = choices.answer;
  // The way out, gone backward, is clean for certain: it is the last resort, and the best where it is quickest.
  route::GivenWay back;
  back.name = "the way out";
  for (std::size_t w = out_ways.size(); w-- > 0;)
    for (std::size_t l = out_ways[w].legs.size(); l-- > 0;) {
      auto leg = out_ways[w].legs[l];
      std::swap(leg.from, leg.to);
      std::reverse(leg.grips.begin(), leg.grips.end());
      back.legs.push_back(std::move(leg));
    }
  struct Candidate {
    route::Route route;
    bool is_way_out;
  };
  std::vector<Candidate> candidates;
  for (const auto& choice : choices.ways) candidates.push_back({choice.route, false});
  candidates.push_back({follow(graph, profile, {back}).front(), true});
  std::stable_sort(candidates.begin(), candidates.end(),
                   [](const Candidate& x, const Candidate& y) { return x.route.time_s < y.route.time_s; });
  const auto out = steps_of(graph, out_routes, out_ways, profile.suit);
  for (auto& candidate : candidates) {
    ++result.tried;
    const auto home = steps_of(graph, {&candidate.route, 1}, {}, profile.suit);
    // From where the way out ended to where this one begins.
    if ((home.front().body - out.back().body).norm() > 2 * graph.body().reach_m ||
        !is_line_clear(graph.scene(), out.back().body, home.front().body))
      continue;
    auto steps = out;
    steps.insert(steps.end(), home.begin(), home.end());
    const auto closing = closing_of(graph, hook, steps, true);
    if (!closing) continue;
    Loop loop = close_loop(graph, *closing, steps, out.size());
    if (!loop.is_clean) continue;
    result.is_way_out = candidate.is_way_out;
    result.answer.outcome = std::move(candidate.route);
    result.loop = std::move(loop);
    return result;
  }
  return result;
}

}  // namespace holdfast::tether::detail
