// SPDX-License-Identifier: GPL-3.0-or-later
#include "behind_zones_impl.h"

#include <algorithm>
#include <boost/graph/adjacency_list.hpp>
#include <boost/graph/connected_components.hpp>
#include <map>
#include <set>

#include "holdfast/route/boost_graph.h"
#include "holdfast/route/costs.h"

namespace holdfast::check::detail {

using graph::GripId;
using graph::HandrailGraph;
using graph::MoveId;

std::vector<Finding> find_rails_behind_zones(const HandrailGraph& graph, const model::Kit& kit, const model::Suit& suit,
                                             const std::vector<int>& island) {
  const auto& structure = graph.structure();
  const auto& configuration = graph.scene().configuration();
  const auto table = route::compute_costs(graph, {.kit = kit, .suit = suit}, route::Objective::Time);
  const auto is_forbidding = [&](model::ZoneId zone) {
    return structure.zones[zone.index()].effect == model::ZoneEffect::Forbid;
  };
  if (std::none_of(table.zones.begin(), table.zones.end(), is_forbidding)) return {};
  const std::size_t count = graph.grips().size();
  std::vector<int> piece(count);  // of each grip, what is joined outside the zones
  const route::OpenMoves around(graph, table);
  boost::connected_components(around,
                              boost::make_iterator_property_map(piece.begin(), get(boost::vertex_index, around)));
  std::vector<GripId> anywhere;   // at the hatches: all grips that one can be at
  std::set<int> islands, pieces;  // that hatches are on, with the zones lifted and with them holding
  for (const auto& place : structure.places) {
    if (place.kind != model::PlaceKind::Hatch || !structure.is_present(place, configuration)) continue;
    for (const GripId grip : graph.find_grips_within(structure.position(place, configuration), place.within_m)) {
      const auto blocks = table.grip_blocks[grip.index()];
      if ((blocks & static_cast<route::Blocks>(~route::block_zone)) != 0) continue;
      anywhere.push_back(grip);
      islands.insert(island[grip.index()]);
      if (blocks == 0) pieces.insert(piece[grip.index()]);
    }
  }
  std::vector<bool> with(count);
  for (std::size_t g = 0; g < count; ++g) with[g] = pieces.count(piece[g]) > 0;

  // What is joined by open moves lies behind one cut, whatever zones lie between.
  boost::adjacency_list<boost::vecS, boost::vecS, boost::undirectedS> joined(graph.grips().size());
  for (const auto& move : graph.moves())
    if (move.is_open() && !with[move.a.index()] && !with[move.b.index()])
      boost::add_edge(move.a.value, move.b.value, joined);
  std::vector<int> group(graph.grips().size());
  if (!group.empty()) boost::connected_components(joined, group.data());

  std::map<int, std::vector<GripId>> behind;
  for (std::uint32_t g = 0; g < group.size(); ++g)
    if (islands.count(island[g]) > 0 && !with[g] && table.grip_blocks[g] == 0) behind[group[g]].emplace_back(g);
  std::map<int, std::set<model::ZoneId>> zones;
  const auto holds = [&](model::ZoneId zone) {
    return std::find(table.zones.begin(), table.zones.end(), zone) != table.zones.end();
  };
  const auto note = [&](int of, auto&& labels) {
    for (const auto& label : labels)
      if (holds(label.zone) && is_forbidding(label.zone)) zones[of].insert(label.zone);
  };
  for (std::uint32_t m = 0; m < graph.moves().size(); ++m) {
    const auto& move = graph.moves()[m];
    if (!move.is_open() || with[move.a.index()] == with[move.b.index()]) continue;
    note(group[(with[move.a.index()] ? move.b : move.a).index()], graph.zones(MoveId(m)));
  }
  // Where the hatch itself lies in a zone there is no move across.
  for (const GripId grip : anywhere)
    if (!with[grip.index()]) note(group[grip.index()], graph.zones(grip));

  std::vector<Finding> findings;
  for (const auto& [of, grips] : behind) {
    std::set<model::RailId> rails;
    for (const GripId grip : grips) rails.insert(graph.grip(grip).rail);
    const auto& rail = structure.rails[graph.grip(grips.front()).rail.index()];
    Finding finding;
    finding.kind = FindingKind::RailBehindZone;
    finding.severity = Severity::Warning;
    finding.subject = rail.id, finding.mark = rail.mark;
    finding.at = graph.grip(grips.front()).hand;
    finding.count = rails.size();
    for (const model::ZoneId zone : zones[of])
      finding.other += (finding.other.empty() ? "" : ", ") + structure.zones[zone.index()].id;
    findings.push_back(std::move(finding));
  }
  return findings;
}

}  // namespace holdfast::check::detail
