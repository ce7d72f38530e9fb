// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>
#include <fmt/ranges.h>
#include <tbb/parallel_for.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <numeric>

#include "holdfast/geometry/fillet.h"
#include "line_impl.h"
#include "query_impl.h"

namespace holdfast::cable::detail {

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

Query::Query(const CableSpace& s, const route::Profile& p, const CableRequest& r)
    : space(s), profile(p), request(r), fitted(s.fitted), motion_(s.graph->scene(), s.rules) {
  if (request.goes_on)
    resolve_laid();
  else
    from = resolve(request.from);
  resolve_ends();
  const std::uint32_t begins_at = laid_run ? laid_run->ties.front() : from;
  if (!to_place && begins_at == to)
    throw model::InputError({{{},
                              "",
                              "same-connector",
                              fmt::format("a cable from \"{}\" to itself", tie(begins_at).id),
                              tie(begins_at).id,
                              "name two connectors"}});
  moves = route::compute_costs(*space.graph, profile, route::Objective::Time);
  find_islands();
  find_rules();
  close_ties();
  if (to_place) {
    has_rail_there = !end_ties.empty();
    std::erase_if(end_ties, [&](std::uint32_t t) { return tie_closed[t] != 0 || grips[t].empty(); });
    const auto& place = space.graph->structure().places[to_place->index()];
    const Vec3 at = space.graph->structure().position(place, space.graph->scene().configuration());
    const auto off_m = [&](std::uint32_t t) { return (tie(t).at - at).norm(); };
    if (!end_ties.empty())
      to = *std::min_element(end_ties.begin(), end_ties.end(),
                             [&](std::uint32_t x, std::uint32_t y) { return off_m(x) < off_m(y); });
  }
  close_spans();
}

void Query::resolve_ends() {
  if (request.to.empty() && laid_run) {  // what was laid is described, no more
    to = from;
    return;
  }
  const auto& structure = space.graph->structure();
  const auto& configuration = space.graph->scene().configuration();
  const auto found = structure.find_place(request.to);
  if (!found || structure.places[found->index()].kind == model::PlaceKind::Connector) {
    to = resolve(request.to);
    end_ties = {to};
    return;
  }
  to_place = found;
  const auto& place = structure.places[found->index()];
  if (!structure.is_present(place, configuration))
    throw model::InputError(
        {{place.mark, "", "absent-place", fmt::format("place \"{}\" is not there in this configuration", place.id),
          place.id, "set the switches that its `when`, or its part's, asks for (--state SWITCH=POSITION)"}});
  const Vec3 at = structure.position(place, configuration);
  double nearest_m = std::numeric_limits<double>::infinity();
  to = from;
  for (std::uint32_t t = 0; t < space.ties.size(); ++t) {
    const bool is_laid = t == from || (laid_run && std::count(laid_run->ties.begin(), laid_run->ties.end(), t) > 0);
    if (tie(t).kind != TieKind::Rail || is_laid) continue;
    const double off_m = (tie(t).at - at).norm();
    if (off_m < nearest_m) nearest_m = off_m, to = t;
    if (off_m <= place.within_m + graph::length_tolerance_m) end_ties.push_back(t);
  }
}

void Query::resolve_laid() {
  const auto& laid = *request.goes_on;
  const auto refuse = [&](std::string problem, std::string remedy) {
    throw model::InputError(
        {{{laid.name, 0, 0}, "", "laid-elsewhere", std::move(problem), laid.cable, std::move(remedy)}});
  };
  const auto words = [](const LaidRun::At& at) {
    return at.kind == TieKind::Rail ? fmt::format("rail \"{}\" at {:.2f} m", at.id, at.along_m)
                                    : fmt::format("\"{}\"", at.id);
  };
  Run run;
  for (const auto& at : laid.ties) {
    constexpr double same_m = 1e-5;  // of the numbers printed
    std::uint32_t t = 0;
    while (t < space.ties.size() &&
           (tie(t).kind != at.kind || tie(t).id != at.id || std::abs(tie(t).along_m - at.along_m) > same_m))
      ++t;
    if (t == space.ties.size())
      refuse(fmt::format("the run laid before is tied at {}, which takes no tie in this configuration", words(at)),
             "ask in the configuration in which it was laid (--state SWITCH=POSITION)");
    if (!run.ties.empty()) {
      const auto low = std::min(t, run.ties.back()), high = std::max(t, run.ties.back());
      std::uint32_t s = 0;
      while (s < fitted.size() && (fitted[s].a != low || fitted[s].b != high)) ++s;
      if (s == fitted.size())
        refuse(fmt::format("no span reaches {} from the tie before it in this configuration", words(at)),
               "ask in the configuration in which it was laid (--state SWITCH=POSITION)");
      run.spans.push_back(s);
    }
    run.ties.push_back(t);
  }
  if (run.ties.size() < 2 || tie(run.ties.front()).kind != TieKind::Connector)
    refuse("the run laid before does not lead from a connector to a coil",
           "give what `holdfast cable --from CONNECTOR --to PLACE --json` printed");
  from = run.ties.back();
  laid_run = std::move(run);
  if (request.from.empty() || request.from == tie(laid_run->ties.front()).id) return;
  const auto& structure = space.graph->structure();
  const auto place = structure.find_place(request.from);
  if (!place)
    throw model::InputError({{{},
                              "",
                              "unknown-place",
                              fmt::format("place \"{}\" is not in this model", request.from),
                              request.from,
                              fmt::format("the cable goes on from {}", words(laid.ties.back()))}});
  const auto& p = structure.places[place->index()];
  const Vec3 at = structure.position(p, space.graph->scene().configuration());
  if ((tie(from).at - at).norm() > p.within_m + graph::length_tolerance_m)
    refuse(fmt::format("the coil of cable {} is on {}, which is not at \"{}\"", laid.cable, words(laid.ties.back()),
                       request.from),
           "leave out --from, or name the place where the coil is");
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
    refuse("not-a-connector", fmt::format("place \"{}\" is no connector", id),
           fmt::format("a cable begins at a connector, or goes on from its coil (--laid RESULT.json); {}", known),
           place.mark);
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

void Query::find_rules() {
  const auto& structure = space.graph->structure();
  const auto& configuration = space.graph->scene().configuration();
  for (std::size_t z = 0; z < structure.zones.size(); ++z) {
    const auto& zone = structure.zones[z];
    // A cable stays longer than any limit of seconds.
    if (zone.applies.cable && zone.effect != ZoneEffect::Caution && zone.when.holds(configuration))
      forbidding_.emplace_back(z);
  }
  for (const auto rail : request.keep_free) {
    if (!structure.is_present(rail, configuration)) continue;
    const auto& r = structure.rails[rail.index()];
    Course course;
    for (const auto& point : r.points) course.line.emplace_back(structure.pose(r.part, configuration) * point);
    kept_free_.emplace_back(rail, std::move(course));
  }
  for (const auto& laid : request.laid) laid_.push_back(cable::course_of(laid.line, laid.bend_radius_m));
}

namespace {

/// A laid cable of one point is a coil: nothing passes through it, whatever the separation.
bool is_coil(const Course& laid) { return laid.line.size() == 1; }

}  // namespace

void Query::close_ties() {
  const auto& graph = *space.graph;
  const double reach_m = profile.suit.reach_m + graph::length_tolerance_m;
  const double separation = space.cable->separation_m;
  tie_closed.assign(space.ties.size(), 0);
  grips.resize(space.ties.size());
  free_m_.assign(space.ties.size(), std::numeric_limits<double>::infinity());
  for (std::size_t t = 0; t < space.ties.size(); ++t) {
    const Tie& tie = space.ties[t];
    for (const auto grip : graph.find_grips_within(tie.at, reach_m))
      if (moves.grip_blocks[grip.index()] == 0) grips[t].push_back(grip.value);
    // Connectors that are not the ends of this cable are no ties.
    if (tie.kind == TieKind::Connector) tie_closed[t] = every_rule;
    if (tie.rail && std::find(request.keep_free.begin(), request.keep_free.end(), *tie.rail) != request.keep_free.end())
      tie_closed[t] |= by_keep_free;
    for (const auto zone : forbidding_)
      free_m_[t] = std::min(free_m_[t], space.graph->scene().zone_distance(zone, tie.way) - space.rules.radius_m);
    const Course point{{tie.way}, {}};
    for (const auto& [rail, course] : kept_free_)
      free_m_[t] =
          std::min(free_m_[t], gap_between(point, course).distance_m - profile.suit.glove_m - space.rules.radius_m);
    for (std::size_t i = 0; i < laid_.size(); ++i) {
      if (separation <= 0 && !is_coil(laid_[i])) continue;
      const double gap = gap_between(point, laid_[i]).distance_m - request.laid[i].radius_m - space.rules.radius_m;
      free_m_[t] = std::min(free_m_[t], gap - separation);
      if (gap < separation) tie_closed[t] |= by_separation;
    }
  }
}

namespace {

/// The cable's direction away from one of the span's ties.
const Vec3& leaves(const FittedSpan& span, std::uint32_t tie) { return span.a == tie ? span.leaves_a : span.leaves_b; }

constexpr double touch_m = 1e-6;        // touching is allowed
constexpr double zone_margin_m = 0.01;  // beyond what decides

}  // namespace

bool Query::is_in_zone(const Fillet& bend, ZoneId zone) const {
  const auto& scene = space.graph->scene();
  const double radius = space.rules.radius_m;
  if (scene.zone_distance(zone, bend.corner) - bend.tangent_m() >= radius) return false;
  for (std::size_t i = 0; i < bend.triangle_count(); ++i)
    if (scene.zone_hull_distance(zone, bend.triangle(i), radius + zone_margin_m) < radius - touch_m) return true;
  return false;
}

bool Query::is_in_zone(const Course& course, ZoneId zone) const {
  const double radius = space.rules.radius_m;
  for (std::size_t i = 1; i < course.line.size(); ++i) {
    const Vec3 ends[] = {course.line[i - 1], course.line[i]};
    if (space.graph->scene().zone_hull_distance(zone, ends, radius + zone_margin_m) < radius - touch_m) return true;
  }
  return std::any_of(course.bends.begin(), course.bends.end(),
                     [&](const auto& bend) { return is_in_zone(bend, zone); });
}

bool Query::covers(const Course& course, model::RailId rail) const {
  const auto kept =
      std::find_if(kept_free_.begin(), kept_free_.end(), [&](const auto& known) { return known.first == rail; });
  return kept != kept_free_.end() &&
         gap_between(course, kept->second).distance_m < profile.suit.glove_m + space.rules.radius_m;
}

bool Query::covers(const FittedSpan& span, double bend_radius_m, model::RailId rail) const {
  // A connector that stands under the rail is there whatever is plugged into it.
  for (const auto end : {span.a, span.b})
    if (tie(end).kind == TieKind::Connector && covers(Course{{tie(end).way}, {}}, rail)) return false;
  return covers(course_of(span, bend_radius_m), rail);
}

Closed Query::closed_by(const FittedSpan& span, double bend_radius_m) const {
  Closed closed = 0;
  const Course course = course_of(span, bend_radius_m);
  for (const auto zone : forbidding_)
    if (is_in_zone(course, zone)) closed |= by_zone;
  for (const auto& [rail, line] : kept_free_)
    if (covers(span, bend_radius_m, rail)) closed |= by_keep_free;
  for (std::size_t i = 0; i < laid_.size(); ++i)
    if (is_coil(laid_[i]) && gap_between(course, laid_[i]).distance_m <
                                 request.laid[i].radius_m + space.rules.radius_m + space.cable->separation_m)
      closed |= by_separation;
  return closed;
}

Closed Query::closed_by(const Course& course) const {
  Closed closed = 0;
  for (const auto zone : forbidding_)
    if (is_in_zone(course, zone)) closed |= by_zone;
  for (const auto& [rail, line] : kept_free_)
    if (covers(course, rail)) closed |= by_keep_free;
  for (std::size_t i = 0; i < laid_.size(); ++i)
    if (gap_between(course, laid_[i]).distance_m - request.laid[i].radius_m - space.rules.radius_m <
        space.cable->separation_m)
      closed |= by_separation;
  return closed;
}

Closed Query::closed_by(std::uint32_t at, const Fillet& bend) const {
  Closed closed = 0;
  if (bend.tangent_m() <= free_m_[at]) return closed;
  for (const auto zone : forbidding_)
    if (is_in_zone(bend, zone)) closed |= by_zone;
  const Course course{{bend.corner}, {bend}};
  for (const auto& [rail, line] : kept_free_)
    if (covers(course, rail)) closed |= by_keep_free;
  // Where the spans themselves cross a laid cable, that is a crossing, and counted; a bend that leans towards it is too
  // near.
  const std::vector<Vec3> corner = {bend.arc.front(), bend.corner, bend.arc.back()};
  for (std::size_t i = 0; i < laid_.size(); ++i) {
    if (space.cable->separation_m <= 0 && !is_coil(laid_[i])) continue;
    const double least = request.laid[i].radius_m + space.rules.radius_m + space.cable->separation_m;
    if (gap_between(bend, laid_[i]).distance_m < least && gap_between(Course{corner, {}}, laid_[i]).distance_m >= least)
      closed |= by_separation;
  }
  return closed;
}

std::vector<Fillet> Query::bends_at(std::uint32_t at, const FittedSpan& before, const FittedSpan& after,
                                    double bend_radius_m) const {
  constexpr double straight_rad = 1e-6, fold_rad = std::numbers::pi - 1e-6;
  const double radius = side_radius_m(bend_radius_m, before, after);
  const auto &in = leaves(before, at), &out = leaves(after, at);
  const double turn = std::numbers::pi - angle_between(in, out);
  if (turn < straight_rad || turn > fold_rad || radius <= 0 || !std::isfinite(radius)) return {};
  std::vector<Fillet> bends = {fillet_at(tie(at).way, in, out, radius)};
  const double tangent = bends.front().tangent_m();
  for (const auto* span : {&before, &after}) {
    if (!span->lies_on || (span == &after && before.lies_on == after.lies_on)) continue;
    constexpr double chord_rise_m = 5e-4;
    const auto& scene = space.graph->scene();
    Fillet laid = bends.front();
    for (Vec3& p : laid.arc) {
      const auto nearest = scene.find_nearest_on_part(*span->lies_on, p, tangent + space.rules.lies_within_m);
      const double height = space.rules.clear_m() + chord_rise_m;
      if (nearest && nearest->distance_m > height)
        p = nearest->point + (p - nearest->point) * (height / nearest->distance_m);
    }
    bends.push_back(std::move(laid));
  }
  return bends;
}

void Query::close_spans() {
  span_closed.assign(fitted.size(), 0);
  joints.resize(fitted.size());
  tbb::parallel_for(std::size_t{0}, fitted.size(), [&](std::size_t i) {
    joints[i] = joint_of(fitted[i]);
    span_closed[i] = closed_by(fitted[i], space.cable->bend_radius_m());
    if (!joints[i].is_open()) span_closed[i] |= by_joint;
  });
}

JointCrossed Query::joint_of(const FittedSpan& span) const {
  if (!motion_.has_moving_parts()) return {};
  Held held{tie(span.a).part, tie(span.b).part, span.line, {}};
  for (const auto part : span.touches) held.on.emplace_back(part);
  return motion_.find_joint(held);
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
    const Closed closed =
        is_own ? span_closed[i] : closed_by(spans[i], bend_radius_m) | (joint.is_open() ? 0 : by_joint);
    p.is_open.push_back((closed & ~waived) == 0);
    p.length.push_back(
        route::cost_of_metres(spans[i].length_m + slack_of(*space.cable, spans[i].length_m) + joint.loop_m));
  }
  p.is_bend_clear = [this, &spans, bend_radius_m, waived](std::uint32_t at, std::uint32_t before, std::uint32_t after) {
    const auto bends = bends_at(at, spans[before], spans[after], bend_radius_m);
    return std::all_of(bends.begin(), bends.end(), [&](const Fillet& bend) {
      return is_arc_clear(space.graph->scene(), bend, space.rules.clear_m()) && (closed_by(at, bend) & ~waived) == 0;
    });
  };
  for (std::size_t t = 0; t < tie_closed.size(); ++t)
    p.is_tie_open.push_back(tie(static_cast<std::uint32_t>(t)).kind != TieKind::Connector &&
                            (tie_closed[t] & ~waived) == 0);
  return p;
}

RunSearch Query::find(Aim aim, Closed waived, std::uint32_t from_tie, std::uint32_t to_tie,
                      std::int64_t most_length) const {
  return find(aim, waived, nullptr, from_tie, to_tie, most_length);
}

RunSearch Query::find(Aim aim, Closed waived) const {
  constexpr auto any = std::numeric_limits<std::int64_t>::max();
  const Run* laid = laid_run ? &*laid_run : nullptr;
  if (waived != 0 || !to_place) return find(aim, waived, laid, from, to, any);
  RunSearch best;
  for (const auto end : end_ties) {
    auto search = find(aim, waived, laid, from, end, any);
    best.is_cut_short |= search.is_cut_short;
    if (search.run && (!best.run || search.run->cost < best.run->cost)) best.run = std::move(search.run);
  }
  return best;
}

RunSearch Query::find_on(Aim aim, Closed waived, const Run& laid, std::uint32_t to_tie) const {
  return find(aim, waived, &laid, laid.ties.back(), to_tie, std::numeric_limits<std::int64_t>::max());
}

ComesIn Query::comes_in(const Run& laid) const {
  // As at any tie of a run, with the bend before it taken off where both are on one stretch.
  const std::size_t n = laid.spans.size();
  const auto& last = fitted[laid.spans.back()];
  double room_m = last.a == laid.ties.back() ? last.room_a_m : last.room_b_m;
  if (n >= 2 && last.is_one_stretch()) {
    const auto& before_it = fitted[laid.spans[n - 2]];
    const double turn =
        std::numbers::pi - angle_between(leaves(before_it, laid.ties[n - 1]), leaves(last, laid.ties[n - 1]));
    constexpr double straight_rad = 1e-6;
    if (turn >= straight_rad)
      room_m -= geometry::fillet_tangent_m(side_radius_m(space.cable->bend_radius_m(), before_it, last), turn);
  }
  return {laid.spans.back(), room_m};
}

RunSearch Query::find(Aim aim, Closed waived, const Run* laid, std::uint32_t from_tie, std::uint32_t to_tie,
                      std::int64_t most_length) const {
  RunProblem p = problem(fitted, space.cable->bend_radius_m(), waived);
  p.from = from_tie, p.to = to_tie;
  if (laid) {
    p.comes_in = comes_in(*laid);
    for (const auto t : laid->ties) p.is_tie_open[t] = false;
  }
  p.aim = aim;
  p.most_length = most_length;
  const auto pace = route::pace_of(profile);
  p.time_by_tie = route::cost_of_seconds(space.cable->tie_s);
  p.time_by_span = route::cost_of_seconds(pace.start_s) + route::cost_of_seconds(pace.stop_s);
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
  for (std::size_t i = 1; i + 1 < n; ++i) {
    const auto& in = leaves(spans[run.spans[i - 1]], run.ties[i]);
    const auto &before = spans[run.spans[i - 1]], &after = spans[run.spans[i]];
    bends[i].turn_rad = std::max(0.0, std::numbers::pi - angle_between(in, leaves(after, run.ties[i])));
    bends[i].curvature_1_m = std::max(before.curvature_1_m, after.curvature_1_m);
    constexpr double straight_rad = 1e-6;
    if (bends[i].turn_rad >= straight_rad)
      tangent[i] = geometry::fillet_tangent_m(side_radius_m(radius_m, before, after), bends[i].turn_rad);
  }
  for (std::size_t i = 1; i + 1 < n; ++i) {
    const auto room = [&](std::size_t span, double other) {
      const auto& s = spans[run.spans[span]];
      const double own = s.a == run.ties[i] ? s.room_a_m : s.room_b_m;
      return s.is_one_stretch() ? own - other : own;
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
