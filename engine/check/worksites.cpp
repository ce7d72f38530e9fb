// SPDX-License-Identifier: GPL-3.0-or-later
#include "worksites_impl.h"

#include <optional>

#include "holdfast/reach/reach.h"
#include "holdfast/reach/sight.h"

namespace holdfast::check {

namespace {

Finding make(FindingKind kind, Severity severity, const std::string& subject, const model::Mark& mark) {
  Finding finding;
  finding.kind = kind, finding.severity = severity, finding.subject = subject, finding.mark = mark;
  return finding;
}

/// Of all foot restraints the one that collides least, where none fits.
std::optional<Finding> find_collision(const graph::HandrailGraph& graph, const model::Kit& kit, const model::Suit& suit,
                                      model::SocketId id) {
  const auto& structure = graph.structure();
  const auto& socket = structure.sockets[id.index()];
  std::optional<Finding> least;
  for (const auto& restraint : kit.foot_restraints) {
    const auto site = reach::evaluate_socket(graph, {.kit = kit, .suit = suit}, restraint, id, {});
    if (!site.least_depth) return std::nullopt;
    const auto& depth = site.least_depth->depth;
    if (least && least->value <= depth.value_m) continue;
    const auto& station = site.stations[site.least_depth->station];
    // What room a body takes is from memory: a warning at most.
    Finding finding = make(FindingKind::RestraintCollides, Severity::Warning, socket.id, socket.mark);
    finding.value = depth.value_m, finding.count = site.stations.size();
    if (const auto part = station.clearance.nearest.part) finding.other = structure.parts[part->index()].id;
    if (const auto zone = station.clearance.nearest.zone) finding.other = structure.zones[zone->index()].id;
    finding.at = station.frame.soles, finding.remark = restraint.id;
    finding.is_at_least = depth.is_at_least;
    least = finding;
  }
  return least;
}

}  // namespace

std::vector<Finding> detail::find_worksite_faults(const graph::HandrailGraph& graph, const model::Kit& kit,
                                                  const model::Suit& suit) {
  const auto& structure = graph.structure();
  const auto& scene = graph.scene();
  std::vector<Finding> findings;
  for (std::size_t s = 0; s < structure.sockets.size(); ++s) {
    const auto& socket = structure.sockets[s];
    if (!structure.is_present(socket, scene.configuration())) continue;
    const auto place = reach::place_of(structure, socket, scene.configuration());
    const auto standing = reach::standing_of(scene, socket);
    if (standing != reach::SocketStanding::Sound) {
      const bool is_in = standing == reach::SocketStanding::InSolid;
      Finding finding = make(is_in ? FindingKind::SocketInSolid : FindingKind::SocketOffStructure,
                             is_in ? Severity::Error : Severity::Warning, socket.id, socket.mark);
      finding.limit = reach::socket_near_m, finding.at = place.at;
      if (const auto held = scene.find_nearest(place.at + reach::socket_near_m * place.axis, 1e-3); is_in && held)
        finding.other = structure.parts[held->part.index()].id;
      findings.push_back(std::move(finding));
    }
    if (standing == reach::SocketStanding::InSolid) continue;
    if (auto collision = find_collision(graph, kit, suit, model::SocketId(s)))
      findings.push_back(std::move(*collision));
  }
  for (const auto& view : structure.views) {
    if (!structure.is_present(view, scene.configuration())) continue;
    const model::Vec3 eye = reach::eye_point(scene, view);
    const auto held = scene.find_nearest(eye, 1e-3);
    if (!held || held->distance_m > 0) continue;
    Finding finding = make(FindingKind::ViewInSolid, Severity::Error, view.id, view.mark);
    finding.limit = reach::eye_off_m, finding.at = eye;
    finding.other = structure.parts[held->part.index()].id;
    findings.push_back(std::move(finding));
  }
  return findings;
}

}  // namespace holdfast::check
