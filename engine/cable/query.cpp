#include <fmt/format.h>
#include <fmt/ranges.h>
#include <tbb/parallel_for.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <numbers>
#include <numeric>

#include "holdfast/geometry/fillet.h"
#include "line_impl.h"
#include "query_impl.h"

namespace holdfast::cable::detail {

using model::Configuration;
using model::PartId;
using model::ZoneEffect;
using model::ZoneId;

std::vector<FittedSpan> fit_spans(const CableSpace& space, double bend_radius_m) {
  const auto& spans = space.found.table.spans;
  std::vector<std::optional<FittedSpan>> all(spans.size());
  tbb::parallel_for(std::size_t{0}, spans.size(), [&](std::size_t i) {
    all[i] = fit_span(space.graph->scene(), space.rules, space.ties, spans[i], bend_radius_m);
  });
  std::vector<FittedSpan> fitted;
  for (auto& span : all)
    if (span) fitted.push_back(std::move(*span));
  return fitted;
}

Query::Query(const CableSpace& s, const search::Profile& p, const CableRequest& r)
    : space(s), profile(p), request(r), fitted(s.fitted) {
  from = resolve(request.from), to = resolve(request.to);
  if (from == to)
    throw model::InputError({{{},
                              "",
                              "same-connector",
                              fmt::format("a cable from \"{}\" to itself", request.from),
                              request.from,
                              "name two connectors"}});
  moves = search::compute_costs(*space.graph, profile, search::Objective::Time);
  find_islands();
  close_ties();
  close_spans();
}

std::uint32_t Query::resolve(const std::string& id) const {
  const auto& structure = space.graph->structure();
  const auto refuse = [&](std::string code, std::string problem, std::string remedy, model::Mark mark = {}) {
    throw model::InputError({{std::move(mark), "", std::move(code), std::move(problem), id, std::move(remedy)}});
  };
  std::vector<std::string> connectors;
  for (const auto& place : structure.places)
    if (place.kind == model::PlaceKind::Connector) connectors.push_back(place.id);
  const std::string known = connectors.empty() ? "this model has no places of kind connector"
                                               : fmt::format("its connectors: {}", fmt::join(connectors, ", "));
  const auto found = structure.find_place(id);
  if (!found) {
    const auto near = model::nearest_names(id, connectors);
    refuse("unknown-place", fmt::format("connector \"{}\" is not in this model", id),
           near.empty() ? known : fmt::format("did you mean {}?", fmt::join(near, ", ")));
  }
  const auto& place = structure.places[found->index()];
  if (place.kind != model::PlaceKind::Connector)
    refuse("not-a-connector", fmt::format("place \"{}\" is no connector", id), known, place.mark);
  for (std::uint32_t t = 0; t < space.ties.size(); ++t)
    if (space.ties[t].kind == TieKind::Connector && space.ties[t].id == id) return t;
  const auto& configuration = space.graph->scene().configuration();
  if (!place.when.holds(configuration) || (place.part && !structure.is_present(*place.part, configuration)))
    refuse("absent-place", fmt::format("connector \"{}\" is not there in this configuration", id),
           "set the switches that its `when`, or its part's, asks for (--state SWITCH=POSITION)", place.mark);
  const Vec3 at = place.part ? Vec3(structure.pose(*place.part, configuration) * place.at) : place.at;
  const auto nearest = space.graph->scene().find_nearest(at, std::numeric_limits<double>::infinity());
  if (!nearest)
    refuse("off-structure", fmt::format("connector \"{}\" is not on structure: there is none", id),
           "add the part it stands on", place.mark);
  if (nearest->distance_m > 0)
    refuse("off-structure",
           fmt::format("connector \"{}\" is {:.2f} m off the structure, nearest to part \"{}\"", id,
                       nearest->distance_m, structure.parts[nearest->part.index()].id),
           fmt::format("put it within {} m of the part it stands on", most_connector_gap_m), place.mark);
  refuse("off-structure",
         fmt::format("connector \"{}\" is inside part \"{}\", and no cable comes out within {} m", id,
                     structure.parts[nearest->part.index()].id, most_connector_gap_m),
         "put it on the surface", place.mark);
  return 0;
}

void Query::find_islands() {
  const auto& graph = *space.graph;
  island.resize(graph.grips().size());
  std::iota(island.begin(), island.end(), 0u);
  const auto root = [&](std::uint32_t g) {
    while (island[g] != g) g = island[g] = island[island[g]];
    return g;
  };
  for (std::uint32_t m = 0; m < graph.moves().size(); ++m) {
    if (moves.by_move[m].is_blocked()) continue;
    const auto a = root(graph.moves()[m].a.value), b = root(graph.moves()[m].b.value);
    island[std::max(a, b)] = std::min(a, b);
  }
  for (std::uint32_t g = 0; g < island.size(); ++g) island[g] = root(g);
}

void Query::close_ties() {
  const auto& graph = *space.graph;
  const double reach_m = profile.suit.reach_m + graph::length_tolerance_m;
  tie_closed.assign(space.ties.size(), 0);
  grips.resize(space.ties.size());
  for (std::size_t t = 0; t < space.ties.size(); ++t) {
    const Tie& tie = space.ties[t];
    for (const auto grip : graph.find_grips_within(tie.at, reach_m))
      if (moves.grip_blocks[grip.index()] == 0) grips[t].push_back(grip.value);
    // Connectors that are not the ends of this cable are no ties.
    if (tie.kind == TieKind::Connector) tie_closed[t] = every_rule;
    if (tie.rail && std::find(request.keep_free.begin(), request.keep_free.end(), *tie.rail) != request.keep_free.end())
      tie_closed[t] |= by_keep_free;
    const double separation = space.cable->separation_m;
    if (separation <= 0) continue;
    for (const auto& laid : request.laid)
      if (gap_between({tie.way}, laid.line).distance_m - laid.radius_m - space.rules.radius_m < separation)
        tie_closed[t] |= by_separation;
  }
}

Closed Query::closed_by(const FittedSpan& span) const {
  const auto& scene = space.graph->scene();
  const auto& structure = scene.structure();
  Closed closed = 0;
  constexpr double touch_m = 1e-6;
  for (std::size_t z = 0; z < structure.zones.size(); ++z) {
    const auto& zone = structure.zones[z];
    // A cable stays longer than any limit of seconds.
    if (!zone.applies.cable || zone.effect == ZoneEffect::Caution || !zone.when.holds(scene.configuration())) continue;
    for (std::size_t i = 1; i < span.line.size(); ++i) {
      const Vec3 ends[] = {span.line[i - 1], span.line[i]};
      if (scene.zone_hull_distance(ZoneId(z), ends, space.rules.radius_m + 1) < space.rules.radius_m - touch_m)
        closed |= by_zone;
    }
  }
  for (const auto rail : request.keep_free)
    if (covers(span, rail)) closed |= by_keep_free;
  return closed;
}

bool Query::covers(const FittedSpan& span, model::RailId rail) const {
  const auto& structure = space.graph->structure();
  const auto& configuration = space.graph->scene().configuration();
  if (!structure.is_present(rail, configuration)) return false;
  const auto& r = structure.rails[rail.index()];
  std::vector<Vec3> line;
  for (const auto& point : r.points) line.emplace_back(structure.pose(r.part, configuration) * point);
  const double least = profile.suit.glove_m + space.rules.radius_m;
  // A connector that stands under the rail is there whatever is plugged into it.
  for (const auto end : {span.a, span.b})
    if (tie(end).kind == TieKind::Connector && gap_between({tie(end).way}, line).distance_m < least) return false;
  return gap_between(span.line, line).distance_m < least;
}

void Query::close_spans() {
  span_closed.assign(fitted.size(), 0);
  joints.resize(fitted.size());
  tbb::parallel_for(std::size_t{0}, fitted.size(), [&](std::size_t i) {
    joints[i] = joint_of(fitted[i]);
    span_closed[i] = closed_by(fitted[i]);
    if (!joints[i].is_stated) span_closed[i] |= by_joint;
  });
}

JointCrossed Query::joint_of(const FittedSpan& span) const {
  const auto& structure = space.graph->structure();
  const Tie &a = tie(span.a), &b = tie(span.b);
  JointCrossed joint;
  if (a.part == b.part) return joint;
  std::map<std::string, std::vector<std::string>> switches;
  std::vector<PartId> moving;
  for (const auto& part : {a.part, b.part}) {
    if (!part) continue;
    const auto& p = structure.parts[part->index()];
    if (p.articulated_by.empty()) continue;
    moving.push_back(*part);
    auto& positions = switches[p.articulated_by];
    positions.clear();
    for (const auto& [position, pose] : p.poses) positions.push_back(position);
  }
  if (moving.empty()) return joint;
  // How far the two ties are apart in every position: joined rigidly where that never changes.
  const Configuration now = space.graph->scene().configuration();
  const auto moved = [&](const Tie& t, const Configuration& configuration) {
    return t.part ? Vec3(structure.pose(*t.part, configuration) * structure.pose(*t.part, now).inverse() * t.way)
                  : t.way;
  };
  double farthest = 0;
  bool is_rigid = true;
  const auto look = [&](const Configuration& configuration) {
    const Vec3 pa = moved(a, configuration), pb = moved(b, configuration);
    farthest = std::max(farthest, (pa - pb).norm());
    const auto relative = [&](const Configuration& c) {
      const auto pose = [&](const Tie& t) { return t.part ? structure.pose(*t.part, c) : model::Pose::Identity(); };
      return model::Pose(pose(a).inverse() * pose(b));
    };
    is_rigid = is_rigid && relative(configuration).matrix().isApprox(relative(now).matrix(), 1e-9);
  };
  const auto first = switches.begin(), second = std::next(first);
  for (const auto& position : first->second) {
    Configuration other = now;
    other.positions[first->first] = position;
    if (second == switches.end()) {
      look(other);
      continue;
    }
    for (const auto& other_position : second->second) {
      other.positions[second->first] = other_position;
      look(other);
    }
  }
  if (is_rigid) return joint;
  joint.parts = moving;
  for (const auto part : moving) {
    const auto& loop = structure.parts[part.index()].cable_loop_m;
    joint.is_stated = joint.is_stated && loop.has_value();
    joint.loop_m += loop.value_or(0);
  }
  joint.loop_m = std::max(joint.loop_m, farthest - span.length_m);  // never less than its motion asks for
  return joint;
}

RunProblem Query::problem(const std::vector<FittedSpan>& spans, double bend_radius_m, Closed waived) const {
  RunProblem p;
  p.tie_count = space.ties.size();
  p.spans = spans;
  p.bend_radius_m = bend_radius_m;
  p.from = from, p.to = to;
  const bool is_own = &spans == &fitted;
  for (std::size_t i = 0; i < spans.size(); ++i) {
    const auto joint = is_own ? joints[i] : joint_of(spans[i]);
    const Closed closed = is_own ? span_closed[i] : closed_by(spans[i]) | (joint.is_stated ? 0 : by_joint);
    p.is_open.push_back((closed & ~waived) == 0);
    p.length.push_back(
        search::cost_of_metres(spans[i].length_m + slack_of(*space.cable, spans[i].length_m) + joint.loop_m));
  }
  p.is_bend_clear = [this, &spans, bend_radius_m](std::uint32_t at, std::uint32_t before, std::uint32_t after) {
    const auto leaves = [&](std::uint32_t span) -> const Vec3& {
      return spans[span].a == at ? spans[span].leaves_a : spans[span].leaves_b;
    };
    return is_bend_clear(space.graph->scene(), tie(at).way, leaves(before), leaves(after), bend_radius_m,
                         space.rules.clear_m());
  };
  for (std::size_t t = 0; t < tie_closed.size(); ++t)
    p.is_tie_open.push_back(tie(static_cast<std::uint32_t>(t)).kind != TieKind::Connector &&
                            (tie_closed[t] & ~waived) == 0);
  return p;
}

RunSearch Query::find(Aim aim, Closed waived, std::uint32_t from_tie, std::uint32_t to_tie,
                      std::int64_t most_length) const {
  RunProblem p = problem(fitted, space.cable->bend_radius_m(), waived);
  p.from = from_tie, p.to = to_tie;
  p.aim = aim;
  p.most_length = most_length;
  const auto pace = search::pace_of(profile);
  p.time_by_tie = search::cost_of_seconds(space.cable->tie_s);
  p.time_by_span = search::cost_of_seconds(pace.start_s) + search::cost_of_seconds(pace.stop_s);
  if ((waived & by_reach) != 0) return find_run(p);

  std::vector<std::uint32_t> islands;
  for (const auto grip : grips[from_tie])
    if (std::find(islands.begin(), islands.end(), island[grip]) == islands.end()) islands.push_back(island[grip]);
  std::erase_if(islands, [&](std::uint32_t i) {
    return std::none_of(grips[to_tie].begin(), grips[to_tie].end(), [&](auto grip) { return island[grip] == i; });
  });
  RunSearch best;
  Walks walks(*this);
  const auto is_tie_open = p.is_tie_open;
  for (const auto i : islands) {
    Standings standings;
    standings.cost = [&](std::uint32_t g, std::uint32_t h) { return walks.cost(g, h); };
    standings.by_tie.resize(space.ties.size());
    for (std::size_t t = 0; t < space.ties.size(); ++t) {
      for (const auto grip : grips[t])
        if (island[grip] == i) standings.by_tie[t].push_back(grip);
      p.is_tie_open[t] = is_tie_open[t] && !standings.by_tie[t].empty();
    }
    p.standings = aim == Aim::Time ? &standings : nullptr;
    auto search = find_run(p);
    best.is_cut_short |= search.is_cut_short;
    if (!search.run || (best.run && best.run->cost <= search.run->cost)) continue;
    best.run = std::move(search.run);
  }
  return best;
}

std::vector<Query::Bend> Query::bends_of(const Run& run, const std::vector<FittedSpan>& spans, double radius_m) {
  const std::size_t n = run.ties.size();
  std::vector<Bend> bends(n);
  std::vector<double> tangent(n, 0);
  const auto leaves = [&](std::size_t span, std::uint32_t tie) -> const Vec3& {
    const auto& s = spans[run.spans[span]];
    return s.a == tie ? s.leaves_a : s.leaves_b;
  };
  for (std::size_t i = 1; i + 1 < n; ++i) {
    bends[i].turn_rad =
        std::max(0.0, std::numbers::pi - angle_between(leaves(i - 1, run.ties[i]), leaves(i, run.ties[i])));
    tangent[i] = geometry::fillet_tangent_m(radius_m, bends[i].turn_rad);
  }
  for (std::size_t i = 1; i + 1 < n; ++i) {
    const auto room = [&](std::size_t span, double other) {
      const auto& s = spans[run.spans[span]];
      const double own = s.a == run.ties[i] ? s.room_a_m : s.room_b_m;
      return s.is_straight() ? own - other : own;
    };
    bends[i].before_m = room(i - 1, tangent[i - 1]);
    bends[i].after_m = room(i, tangent[i + 1]);
  }
  return bends;
}

Query::Widest Query::find_widest() const {
  // Runs without the rule that somebody must reach the ties: how gently the structure lets the cable bend.
  constexpr int steps = 8;
  Widest widest;
  double low = 0, high = space.cable->bend_radius_m();
  for (int step = 0; step <= steps; ++step) {
    const double radius = step == 0 ? 0 : (low + high) / 2;
    auto spans = fit_spans(space, radius);
    RunProblem p = problem(spans, radius, by_reach);
    auto found = find_run(p);
    if (!found.run) {
      if (step == 0) return widest;
      high = radius;
      continue;
    }
    low = radius;
    widest = {radius, std::move(found.run), std::move(spans)};
  }
  return widest;
}

}  // namespace holdfast::cable::detail
