// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/route/hooks.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

namespace holdfast::route {

using graph::HandrailGraph;

bool is_line_clear(const geometry::Scene& scene, const Vec3& a, const Vec3& b) {
  return scene.hull_distance(std::array{a, b}, 2 * line_clear_m, line_clear_m / 100) >= line_clear_m;
}

std::optional<Vec3> lift_off(const geometry::Scene& scene, const Vec3& at) {
  constexpr double room_m = 2 * line_clear_m;
  if (scene.distance(at, room_m) >= room_m) return at;
  for (const double lift_m : {0.005, 0.01, 0.02, 0.05, 0.1}) {
    std::optional<Vec3> best;
    double most = room_m;
    for (int x = -1; x <= 1; ++x)
      for (int y = -1; y <= 1; ++y)
        for (int z = -1; z <= 1; ++z) {
          if (x == 0 && y == 0 && z == 0) continue;
          const Vec3 candidate = at + lift_m * Vec3(x, y, z).normalized();
          if (const double room = scene.distance(candidate, 2 * lift_m); room >= most)
            most = room + 1e-6, best = candidate;
        }
    if (best) return best;
  }
  return std::nullopt;
}

namespace {

[[noreturn]] void refuse(std::string code, std::string problem, const std::string& value, std::string remedy,
                         model::Mark mark = {}) {
  throw model::InputError({{std::move(mark), "", std::move(code), std::move(problem), value, std::move(remedy)}});
}

bool is_present(const HandrailGraph& graph, const model::Anchor& anchor) {
  const auto& configuration = graph.scene().configuration();
  return anchor.when.holds(configuration) &&
         (!anchor.part || graph.structure().is_present(*anchor.part, configuration));
}

Vec3 place_of(const HandrailGraph& graph, const model::Anchor& anchor) {
  return anchor.part ? graph.structure().pose(*anchor.part, graph.scene().configuration()) * anchor.at : anchor.at;
}

constexpr const char* switch_remedy =
    "set the switches that its `when`, or its part's, asks for (--state SWITCH=POSITION)";

Hook hook_on_rail(const HandrailGraph& graph, model::RailId id, const Vec3& near) {
  const auto& structure = graph.structure();
  const auto& rail = structure.rails[id.index()];
  const auto pose = structure.pose(rail.part, graph.scene().configuration());
  Hook hook{rail.id, pose * rail.points.front(), {}, id};
  double least = (hook.at - near).norm();
  for (std::size_t i = 1; i < rail.points.size(); ++i) {
    const Vec3 a = pose * rail.points[i - 1], ab = pose * rail.points[i] - a;
    const Vec3 point = a + std::clamp((near - a).dot(ab) / ab.squaredNorm(), 0.0, 1.0) * ab;
    if ((point - near).norm() < least) least = (point - near).norm(), hook.at = point;
  }
  return hook;
}

}  // namespace

Hook find_hook(const HandrailGraph& graph, const std::string& name, const Vec3& near) {
  const auto& structure = graph.structure();
  Hook hook;
  model::Mark mark;
  if (const auto id = structure.find_anchor(name)) {
    const auto& anchor = structure.anchors[id->index()];
    mark = anchor.mark;
    if (!is_present(graph, anchor))
      refuse("absent-place", fmt::format("anchor \"{}\" is not there in this configuration", name), name, switch_remedy,
             mark);
    hook = {name, place_of(graph, anchor), {}, {}};
  } else if (const auto rail_id = structure.find_rail(name)) {
    const auto& rail = structure.rails[rail_id->index()];
    mark = rail.mark;
    if (!structure.is_present(*rail_id, graph.scene().configuration()))
      refuse("absent-place", fmt::format("rail \"{}\" is not there in this configuration", name), name, switch_remedy,
             mark);
    if (!rail.use.hands && !rail.use.tether && !rail.use.cable)
      refuse("not-for-tethers", fmt::format("rail \"{}\" takes no hand, hook or tie", name), name,
             "name another; `holdfast check` says whether it is set aside because it runs into a part", mark);
    if (!rail.use.tether)
      refuse("not-for-tethers", fmt::format("rail \"{}\" may not take a tether hook", name), name,
             "name an anchor, or a rail whose `for:` lists tether", mark);
    hook = hook_on_rail(graph, *rail_id, near);
  } else {
    std::vector<std::string> names;
    for (const auto& anchor : structure.anchors) names.push_back(anchor.id);
    for (const auto& rail : structure.rails)
      if (rail.use.tether) names.push_back(rail.id);
    const auto likely = model::nearest_names(name, names);
    refuse("unknown-anchor", fmt::format("anchor \"{}\" is not in this model", name), name,
           likely.empty() ? "give " + hook_choices(graph)
                          : fmt::format("did you mean {}? Else give {}", fmt::join(likely, ", "), hook_choices(graph)));
  }
  const auto end = lift_off(graph.scene(), hook.at);
  if (!end)
    refuse("not-for-tethers",
           fmt::format("\"{}\" lies inside {}", name,
                       structure.parts[graph.scene().find_nearest(hook.at, 1.0)->part.index()].id),
           name, "move it onto the surface", mark);
  hook.line_end = *end;
  return hook;
}

void check_first_line(const HandrailGraph& graph, const model::Tether& tether, const Hook& hook, const Vec3& body) {
  const Vec3 line = body - hook.line_end;
  if (line.norm() > tether.length_m)
    refuse("tether-short",
           fmt::format("tether \"{}\" is {:.2f} m long, and from {} to where the route begins it takes {:.2f} m",
                       tether.id, tether.length_m.value, hook.name, std::ceil(line.norm() * 100) / 100),
           tether.id, "take an anchor nearer to the start, or a longer tether");
  if (is_line_clear(graph.scene(), hook.line_end, body)) return;
  const auto hit = graph.scene().find_first_hit(hook.line_end, line.normalized(), line.norm());
  refuse("no-free-line",
         fmt::format("from {} to where the route begins the line runs {}", hook.name,
                     hit ? "into " + graph.structure().parts[hit->part.index()].id : "too close to structure"),
         hook.name, "take an anchor in sight of the start");
}

std::string hook_choices(const HandrailGraph& graph) {
  std::vector<std::string> ids;
  for (const auto& anchor : graph.structure().anchors)
    if (is_present(graph, anchor)) ids.push_back(anchor.id);
  const std::string rail = "a rail whose `for:` lists tether";
  return ids.empty() ? rail : fmt::format("one of the anchors {}, or {}", fmt::join(ids, ", "), rail);
}

std::vector<Hook> find_anchors(const HandrailGraph& graph) {
  std::vector<Hook> hooks;
  for (const auto& anchor : graph.structure().anchors) {
    if (!is_present(graph, anchor)) continue;
    const Vec3 at = place_of(graph, anchor);
    if (const auto end = lift_off(graph.scene(), at)) hooks.push_back({anchor.id, at, *end, {}});
  }
  return hooks;
}

}  // namespace holdfast::route
