// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/reach/targets.h"

#include <fmt/format.h>

#include <cmath>
#include <limits>

#include "holdfast/geometry/triangle_tree.h"
#include "holdfast/route/route.h"

namespace holdfast::reach {

namespace {

/// What is lifted off the surface, or left where it is.
void settle(const geometry::Scene& scene, Target& target, const std::optional<model::PartId>& own,
            const std::optional<Vec3>& outward, const model::Mark& mark) {
  target.test = target.at;
  std::optional<model::PartId> part = own;
  if (!part) {
    const auto nearest = scene.find_nearest(target.at, on_surface_m);
    if (!nearest) return;
    part = nearest->part;
  }
  // A dish is met up to its chord error before its surface; what lies that near stands on it all the same.
  const bool is_inside = scene.distance_to_part(*part, target.at, on_surface_m) <= 0;
  const auto surface = find_surface(scene, *part, target.at);
  if (!surface) return;
  if (!is_inside && surface->distance_m >= on_surface_m) return;
  if (is_inside && surface->distance_m > most_depth_m)
    throw model::InputError(
        {{mark, "", "in-solid",
          fmt::format("\"{}\" lies {:.2f} m inside part \"{}\"", target.text, surface->distance_m,
                      scene.structure().parts[part->index()].id),
          target.text, fmt::format("put it on the surface, or at most {} m under it", most_depth_m)}});
  target.part = part;
  target.outward = outward ? *outward : surface->normal;
  target.test = surface->point + on_surface_m * *target.outward;
}

Target target_of(const graph::HandrailGraph& graph, const model::Place& place) {
  const auto& structure = graph.structure();
  const auto& configuration = graph.scene().configuration();
  Target target;
  target.text = place.id;
  target.hands_needed = place.hands_needed();
  target.is_there = structure.is_present(place, configuration);
  if (!target.is_there) return target;
  const model::Pose pose = structure.frame_of(place.part, configuration);
  target.at = pose * place.at;
  settle(graph.scene(), target, place.part,
         place.outward ? std::optional<Vec3>(pose.linear() * *place.outward) : std::nullopt, place.mark);
  return target;
}

}  // namespace

std::optional<SurfacePoint> find_surface(const geometry::Scene& scene, model::PartId part, const Vec3& p) {
  const auto mesh = scene.part_mesh(part);
  SurfacePoint found;
  found.distance_m = std::numeric_limits<double>::infinity();
  for (std::uint32_t t = 0; t < mesh.triangles.size(); ++t) {
    const Vec3 q = geometry::closest_point(mesh, t, p);
    if (const double d = (p - q).norm(); d < found.distance_m) found.distance_m = d, found.point = q;
  }
  if (!std::isfinite(found.distance_m)) return std::nullopt;
  Vec3 sum = Vec3::Zero();
  for (std::uint32_t t = 0; t < mesh.triangles.size(); ++t) {
    const auto& c = mesh.triangles[t];
    const Vec3& a = mesh.vertices[c[0]];
    if ((geometry::closest_point(mesh, t, found.point) - found.point).norm() <= 1e-9)
      sum += (mesh.vertices[c[1]] - a).cross(mesh.vertices[c[2]] - a);
  }
  // Two sheets back to back cancel: then away from the surface, or the first of them.
  if (sum.norm() < 1e-15) sum = found.distance_m > 0 ? Vec3(p - found.point) : Vec3(Vec3::UnitZ());
  found.normal = sum.normalized();
  return found;
}

Target find_target(const graph::HandrailGraph& graph, const std::string& text) {
  const auto& structure = graph.structure();
  Target target;
  target.text = text;
  target.at = route::find_point(graph, text);  // throws where there is none
  if (const auto place = structure.find_place(text)) return target_of(graph, structure.places[place->index()]);
  if (const auto socket = structure.find_socket(text)) {
    const auto& named = structure.sockets[socket->index()];
    settle(graph.scene(), target, named.part, std::nullopt, named.mark);
  } else {
    settle(graph.scene(), target, std::nullopt, std::nullopt, {});
  }
  return target;
}

std::vector<Target> find_all_targets(const graph::HandrailGraph& graph) {
  std::vector<Target> targets;
  for (const auto& place : graph.structure().places)
    if (place.kind == model::PlaceKind::Connector || place.kind == model::PlaceKind::Worksite)
      targets.push_back(target_of(graph, place));
  return targets;
}

}  // namespace holdfast::reach
