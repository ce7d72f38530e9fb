// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>

#include <charconv>
#include <cmath>
#include <optional>

#include "ends_impl.h"

namespace holdfast::route::detail {

using graph::GripId;
using graph::HandrailGraph;
using model::Diagnostic;
using model::InputError;

namespace {

/// `x,y,z` as three finite numbers, or nothing.
std::optional<Vec3> parse_point(const std::string& text) {
  Vec3 point;
  const char* at = text.data();
  const char* const end = text.data() + text.size();
  for (int axis = 0; axis < 3; ++axis) {
    while (at != end && *at == ' ') ++at;
    const auto [next, error] = std::from_chars(at, end, point[axis]);
    if (error != std::errc{} || !std::isfinite(point[axis])) return std::nullopt;
    at = next;
    while (at != end && *at == ' ') ++at;
    if (axis < 2 && (at == end || *at++ != ',')) return std::nullopt;
  }
  return at == end ? std::optional(point) : std::nullopt;
}

[[noreturn]] void refuse(std::string code, std::string problem, const std::string& value, std::string remedy,
                         model::Mark mark = {}) {
  throw InputError({Diagnostic{std::move(mark), "", std::move(code), std::move(problem), value, std::move(remedy)}});
}

std::string remedy_for(const model::Structure& structure, const std::string& text) {
  std::vector<std::string> names;
  for (const auto& place : structure.places) names.push_back(place.id);
  for (const auto& socket : structure.sockets) names.push_back(socket.id);
  for (const auto& rail : structure.rails) names.push_back(rail.id);
  const auto near = model::nearest_names(text, names);
  if (near.empty()) return "give the id of a place or a rail of this model, or a point as x,y,z in metres";
  return fmt::format("did you mean {}? A place may also be a rail id or x,y,z in metres", fmt::join(near, ", "));
}

}  // namespace

End resolve_end(const HandrailGraph& graph, const std::string& text, double point_radius_m) {
  const auto& structure = graph.structure();
  const auto& configuration = graph.scene().configuration();
  if (const auto id = structure.find_place(text)) {
    const auto& place = structure.places[id->index()];
    if (!structure.is_present(place, configuration))
      refuse("absent-place", fmt::format("place \"{}\" is not there in this configuration", text), text,
             "set the switches that its `when`, or its part's, asks for (--state SWITCH=POSITION)", place.mark);
    const Vec3 at = structure.position(place, configuration);
    return {text, at, place.within_m, graph.find_grips_within(at, place.within_m)};
  }
  if (const auto id = structure.find_socket(text)) {
    const auto& socket = structure.sockets[id->index()];
    if (!structure.is_present(socket, configuration))
      refuse("absent-place", fmt::format("socket \"{}\" is not there in this configuration", text), text,
             "set the switches that its `when`, or its part's, asks for (--state SWITCH=POSITION)", socket.mark);
    const Vec3 at = structure.frame_of(socket.part, configuration) * socket.at;
    return {text, at, model::Socket::within_m, graph.find_grips_within(at, model::Socket::within_m)};
  }
  if (const auto id = structure.find_rail(text)) {
    const auto& rail = structure.rails[id->index()];
    if (!structure.is_present(*id, configuration))
      refuse("absent-place", fmt::format("rail \"{}\" is not there in this configuration", text), text,
             "set the switches that its `when`, or its part's, asks for (--state SWITCH=POSITION)", rail.mark);
    if (!rail.use.hands && !rail.use.tether && !rail.use.cable)
      refuse("absent-place", fmt::format("rail \"{}\" takes no hand, hook or tie", text), text,
             "name another; `holdfast check` says whether it is set aside because it runs into a part", rail.mark);
    if (!rail.use.hands)
      refuse("absent-place", fmt::format("rail \"{}\" is not for hands, so no route can end there", text), text,
             "name a rail whose `for:` lists hands", rail.mark);
    const auto [first, last] = graph.grips_of(*id);
    End end{text, graph.grip(GripId((first + last - 1) / 2)).hand, 0, {}};
    for (std::uint32_t g = first; g < last; ++g) end.grips.emplace_back(g);
    return end;
  }
  constexpr double farthest_m = 1e4;  // of model files too
  if (const auto point = parse_point(text); point && point->cwiseAbs().maxCoeff() > farthest_m)
    refuse("out-of-range", fmt::format("point {} is more than {} m from the origin", text, farthest_m), text,
           "write x,y,z in metres, in the structure's frame");
  else if (point)
    return {text, *point, point_radius_m, graph.find_grips_within(*point, point_radius_m)};
  refuse("unknown-place", fmt::format("place \"{}\" is not in this model", text), text, remedy_for(structure, text));
}

}  // namespace holdfast::route::detail
