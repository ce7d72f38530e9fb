// SPDX-License-Identifier: GPL-3.0-or-later
// Tether swaps that nobody wrote down: on any leg that the tether in use does not reach along.

#include <algorithm>
#include <limits>

#include "holdfast/route/hooks.h"
#include "simulator_impl.h"

namespace holdfast::plan::detail {

std::vector<double> Simulator::pay_out(LineOut& line, const Site& site, const FoundLeg& leg, double length_m) const {
  const graph::HandrailGraph& graph = *site.graph;
  std::vector<double> out_m = {line.out_upper_m};
  for (std::size_t i = 0; i < leg.moves.size(); ++i) {
    double off_m = 0;
    const auto path = path_of(graph, leg.moves[i].move, leg.grips[i], off_m);
    line.slack.insert(line.slack.end(), path.begin() + 1, path.end());
    line.out_upper_m += graph.move(leg.moves[i].move).way_m;
    // A line is as long as the path gone, at most: it is pulled tight only where that is more than the tether has.
    if (line.out_upper_m > length_m && line.reel) {
      legs_.pull(*line.reel, *site.scene, line.slack);
      line.out_upper_m = line.reel->line().length_m;
      line.slack.clear();
    }
    out_m.push_back(line.out_upper_m);
  }
  return out_m;
}

std::vector<double> Simulator::out_along(const Mover& m, const Site& site, const FoundLeg& leg) const {
  const TetherOn& on = m.tethers.back();
  LineOut line;
  line.out_upper_m = m.line.out_upper_m;
  if (m.line.reel && m.reel_scene == site.scene) {
    line = m.line;
  } else if (!m.line.reel) {
    try {
      const Vec3 body = site.graph->body_point(leg.grips.front());
      const auto hook = route::find_hook(*site.graph, structure_.anchors[on.anchor].id, body);
      if (!route::is_line_clear(*site.scene, hook.line_end, body)) return {};
      line.reel.emplace(*site.scene, hook.line_end);
      line.out_upper_m = line.reel->go(std::vector<Vec3>{body}).length_m;
    } catch (const model::InputError&) {
      return {};  // told where the line is followed
    }
  }
  return pay_out(line, site, leg, on.tether->length_m);
}

std::optional<Simulator::Step> Simulator::swap_on_the_way(Mover& m, const Site& site, const FoundLeg& leg,
                                                          std::optional<model::LegAim> by) {
  // Somebody who swaps to and fro for one action gets no farther by it.
  const std::size_t most_swaps = 2 * m.file->tethers.size();
  if (m.is_swapping || m.tethers.empty() || !m.has_line || leg.moves.empty() || m.swaps >= most_swaps ||
      m.file->tethers.size() < 2)
    return std::nullopt;
  const auto out_m = out_along(m, site, leg);
  const double length_m = m.tethers.back().tether->length_m;
  const auto exceeds = std::find_if(out_m.begin(), out_m.end(), [&](double out) { return out > length_m; });
  if (exceeds == out_m.end()) return std::nullopt;
  const auto last = static_cast<std::size_t>(exceeds - out_m.begin());  // never 0: there one is already
  const auto configuration = site.configuration;
  const double reach_m = excursion_.values.handling_reach_m;
  const auto anchor_at = [&](std::size_t a) {
    const auto& anchor = structure_.anchors[a];
    return anchor.part ? Vec3(structure_.pose(*anchor.part, configuration) * anchor.at) : anchor.at;
  };
  std::vector<double> left_m(leg.grips.size(), 0);  // of the path, from each grip on
  for (std::size_t i = leg.moves.size(); i-- > 0;)
    left_m[i] = left_m[i + 1] + site.graph->move(leg.moves[i].move).way_m;

  std::optional<std::size_t> chosen;
  bool is_back = false;
  if (m.tethers.size() > 1) {
    // Back on the tether before, where that reaches: its anchor is on this side of what is too far.
    const TetherOn& before = m.tethers[m.tethers.size() - 2];
    const Vec3 at = anchor_at(m.tethers.back().anchor);
    const double held_m = before.left ? before.left->line().length_m : std::numeric_limits<double>::infinity();
    const auto straight_m = (site.graph->body_point(leg.grips.back()) - at).norm();
    if (held_m + straight_m <= before.tether->length_m) chosen = m.tethers.back().anchor, is_back = true;
  }
  if (!chosen && m.tethers.size() < m.file->tethers.size()) {
    // The anchor farthest along from which the next tether reaches the end; where none does, the farthest.
    const auto* next = model_.kit.find_tether(m.file->tethers[m.tethers.size()]);
    std::size_t best_at = 0;
    bool best_reaches = false;
    for (std::size_t a = 0; a < structure_.anchors.size(); ++a) {
      const auto& anchor = structure_.anchors[a];
      if (!anchor.when.holds(configuration) || (anchor.part && !structure_.is_present(*anchor.part, configuration)))
        continue;
      const bool is_in_use =
          std::any_of(m.tethers.begin(), m.tethers.end(), [&](const auto& t) { return t.anchor == a; });
      if (is_in_use) continue;
      for (std::size_t i = 0; i < last; ++i) {
        const double hand_m = (site.graph->grip(leg.grips[i]).hand - anchor_at(a)).norm();
        if (hand_m > reach_m) continue;
        const bool reaches = next && left_m[i] + reach_m + site.graph->body().stand_off_m <= next->length_m;
        if (chosen && std::pair(reaches, i) <= std::pair(best_reaches, best_at)) continue;
        chosen = a, best_at = i, best_reaches = reaches;
      }
    }
  }
  if (!chosen) return std::nullopt;
  m.is_swapping = true;
  const Step step = go_to_anchor(m, structure_.anchors[*chosen], by);
  m.is_swapping = false;
  if (step != Step::There) return step;
  ++m.swaps;
  swap_at(m, *chosen, is_back);
  return Step::Moved;
}

void Simulator::swap_at(Mover& m, std::size_t anchor, bool is_back) {
  const double duration_s = 2 * m.suit->tether_hook_s * m.factor;
  wait_for_holds(m, duration_s);
  act(m, RowKind::Handling, is_back ? What::Unhook : What::Swap, duration_s, structure_.anchors[anchor].id);
  if (is_back) return unhook(m);
  pull_tight(m);
  m.tethers.back().left = std::move(m.line.reel);
  m.tethers.back().left_in = m.reel_scene;
  m.tethers.push_back({model_.kit.find_tether(m.file->tethers[m.tethers.size()]), anchor, std::nullopt, nullptr});
  m.line = {};
  m.has_line = true;
}

}  // namespace holdfast::plan::detail
