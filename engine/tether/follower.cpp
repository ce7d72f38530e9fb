// SPDX-License-Identifier: GPL-3.0-or-later
#include "follower_impl.h"

#include <algorithm>
#include <array>

namespace holdfast::tether::detail {

using graph::HandrailGraph;
using route::Hook;

namespace {

template <class T>
void add_once(std::vector<T>& list, const T& item) {
  if (std::find(list.begin(), list.end(), item) == list.end()) list.push_back(item);
}

/// Is the zone entered by a line that goes from one course to another? Looked at is the hull of each pair of opposite
/// pieces, which holds all that lies between them.
bool sweeps_into(const geometry::Scene& scene, model::ZoneId zone, const std::vector<Vec3>& from,
                 const std::vector<Vec3>& to) {
  constexpr double near_m = 0.01;
  const auto [a, b] = side_by_side(from, to);
  for (std::size_t i = 1; i < a.size(); ++i)
    if (scene.zone_hull_distance(zone, std::array{a[i - 1], a[i], b[i - 1], b[i]}, near_m) <= 0) return true;
  return false;
}

}  // namespace

std::vector<model::ZoneId> tether_zones(const HandrailGraph& graph) {
  std::vector<model::ZoneId> zones;
  const auto& list = graph.structure().zones;
  for (std::size_t z = 0; z < list.size(); ++z)
    if (list[z].applies.tether && list[z].when.holds(graph.scene().configuration())) zones.emplace_back(z);
  return zones;
}

Follower::Follower(const HandrailGraph& graph, const model::Tether& tether, Hook anchor)
    : graph_(graph),
      tether_(tether),
      hook_(std::move(anchor)),
      reel_(graph.scene(), hook_.line_end),
      tether_zones_(tether_zones(graph)) {}

void Follower::follow(const std::vector<Step>& steps) {
  double last_s = 0;
  for (step_ = 0; step_ < steps.size(); ++step_) {
    const Step& step = steps[step_];
    gone_ += states.empty() ? (step.body - hook_.line_end).norm() : step.way_m;
    // Point by point: over a corner the body, and its line, is farther out on the way than at either grip.
    if (step.through.empty()) look(step.at_s - last_s);
    for (std::size_t i = 0; i < step.through.size(); ++i) {
      reel_.go(std::array{step.through[i]});
      look((step.at_s - last_s) / static_cast<double>(step.through.size()));
    }
    last_s = step.at_s;
    states.push_back({step.at, step.hand, step.body, step.at_s, hooks_, hook_.at, last_line_});
    for (const auto& name : step.swaps) {
      mark(step);
      swap_to(name, step);
      states.push_back({step.at, step.hand, step.body, step.at_s, hooks_, hook_.at, last_line_});
    }
    if (step.ends_row || !step.swaps.empty()) mark(step);
  }
}

std::vector<Follower::Stay> Follower::stays() const {
  auto all = stays_;
  all.push_back({hook_, stay_most_, stay_first_});
  return all;
}

void Follower::swap_to(const std::string& name, const Step& step) {
  stays_.push_back({hook_, stay_most_, stay_first_});
  hook_ = hook_at_start(graph_, tether_, name, step);
  ++hooks_;
  reel_ = Reel(graph_.scene(), hook_.line_end);
  reel_.go(std::array{step.body});
  gone_ = (step.body - hook_.line_end).norm();
  stay_most_ = 0, stay_first_ = marks.size();
  last_line_.clear();
  look(0);
}

void Follower::look(double since_s) {
  const TautLine& line = reel_.line();
  row_.most_m = std::max(row_.most_m, line.length_m);
  row_.least_m = std::max(row_.least_m, line.least_m);
  for (const auto part : bearings_of(graph_.scene(), line)) add_once(row_.bears_on, part);
  auto now = line.points;
  if (last_line_.empty()) last_line_ = now;
  for (const auto zone : tether_zones_) {
    if (!sweeps_into(graph_.scene(), zone, last_line_, now)) continue;
    add_once(row_.zones, zone);
    enter(zone, since_s);
  }
  last_line_ = std::move(now);
}

void Follower::enter(model::ZoneId id, double seconds) {
  auto stay = std::find_if(zones.begin(), zones.end(), [&](const ZoneStay& s) { return s.zone >= id; });
  if (stay == zones.end() || stay->zone != id) stay = zones.insert(stay, ZoneStay{id, 0, marks.size(), true});
  stay->inside_s += seconds;
  const auto& zone = graph_.structure().zones[id.index()];
  stay->is_allowed = zone.effect == model::ZoneEffect::Caution ||
                     (zone.effect == model::ZoneEffect::Limit && stay->inside_s <= zone.limit_s);
  if (!stay->is_allowed && !breach_) breach_ = {step_, gone_};
}

void Follower::mark(const Step& step) {
  LineMark mark;
  const TautLine& line = reel_.line();
  mark.at = step.at;
  mark.rail = step.rail, mark.hand = step.hand, mark.at_s = step.at_s;
  mark.hook = hook_.name;
  mark.gone_m = gone_;
  mark.taut_m = line.length_m;
  mark.most_m = std::max(row_.most_m, line.length_m);
  mark.least_m = std::max(row_.least_m, line.least_m);
  mark.is_within = mark.most_m <= tether_.length_m;
  mark.line = line.points;
  mark.bears_on = bearings_of(graph_.scene(), line);
  for (const auto part : row_.bears_on) add_once(mark.bears_on, part);
  mark.zones = row_.zones;
  std::sort(mark.zones.begin(), mark.zones.end());
  stay_most_ = std::max(stay_most_, mark.most_m);
  marks.push_back(std::move(mark));
  row_ = {};
}

}  // namespace holdfast::tether::detail
