// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/cable/cable.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "coil_impl.h"
#include "line_impl.h"
#include "query_impl.h"

namespace holdfast::cable {

using detail::Query;

namespace {

std::vector<route::UsedValue> used_values(const model::Cable& cable) {
  return {{"cable diameter", "m", cable.diameter_m},
          {"least bend radius in diameters", "", cable.bend_multiple},
          {"cable length", "m", cable.length_m},
          {"cable length tolerance", "m", cable.length_tolerance_m},
          {"span between ties", "m", cable.span_m},
          {"span through open space", "m", cable.free_span_m},
          {"nearer than this is not open space", "m", cable.lies_within_m},
          {"separation from a laid cable", "m", cable.separation_m},
          {"sag of a span", "m", cable.sag_m},
          {"least slack, as a fraction", "", cable.slack_fraction},
          {"allowance at each end", "m", cable.end_allowance_m},
          {"making a tie", "s", cable.tie_s},
          {"mating a connector", "s", cable.connector_s}};
}

/// Length of the line inside the zone's solid grown by the cable's radius; whole steps are counted.
double length_inside(const geometry::Scene& scene, model::ZoneId zone, const std::vector<Vec3>& line, double radius_m) {
  constexpr double step = 0.02;
  double inside = 0;
  for (std::size_t i = 1; i < line.size(); ++i) {
    const double length = (line[i] - line[i - 1]).norm();
    const int steps = std::max(1, static_cast<int>(std::ceil(length / step)));
    for (int k = 0; k < steps; ++k) {
      const Vec3 middle = line[i - 1] + (line[i] - line[i - 1]) * ((k + 0.5) / steps);
      if (scene.zone_distance(zone, middle) < radius_m + length / steps / 2) inside += length / steps;
    }
  }
  return inside;
}

/// Its span and the bends on it, and the bends at its ties.
std::vector<Course> courses_of(const Query& query, const Run& run) {
  const double radius = query.space.cable->bend_radius_m();
  std::vector<Course> courses;
  for (const auto s : run.spans) courses.push_back(detail::course_of(query.fitted[s], radius));
  for (std::size_t i = 1; i < run.spans.size(); ++i)
    for (auto& bend : query.bends_at(run.ties[i], query.fitted[run.spans[i - 1]], query.fitted[run.spans[i]], radius))
      courses[i].bends.push_back(std::move(bend));
  return courses;
}

double length_inside(const Query& query, model::ZoneId zone, const std::vector<Course>& courses) {
  const auto& scene = query.space.graph->scene();
  const double radius = query.space.rules.radius_m;
  double inside = 0;
  for (const auto& course : courses) {
    inside += length_inside(scene, zone, course.line, radius);
    for (const auto& bend : course.bends) {
      if (!query.is_in_zone(bend, zone)) continue;
      // The arc is passed instead of its corner, and never counts for less.
      const double corner = length_inside(scene, zone, {bend.arc.front(), bend.corner, bend.arc.back()}, radius);
      inside += std::max(0.0, length_inside(scene, zone, bend.arc, radius) - corner);
    }
  }
  return inside;
}

/// Where the cable lies on itself: once a place, spans next to each other not looked at.
std::vector<Vec3> find_own_crossings(const Query& query, const std::vector<Course>& courses) {
  std::vector<Vec3> crossings;
  const double touch = 2 * query.space.rules.radius_m;
  for (std::size_t i = 0; i + 2 < courses.size(); ++i)
    for (std::size_t k = i + 2; k < courses.size(); ++k) {
      const auto gap = gap_between(courses[i], courses[k]);
      const bool is_new = std::none_of(crossings.begin(), crossings.end(), [&](const Vec3& known) {
        return (known - gap.at).norm() <= query.space.rules.span_m;
      });
      if (gap.distance_m < touch && is_new) crossings.push_back(gap.at);
    }
  return crossings;
}

CableRun describe(const Query& query, const Run& run) {
  const auto& space = query.space;
  const auto& cable = *space.cable;
  const auto& scene = space.graph->scene();
  const auto& structure = scene.structure();
  CableRun out;
  const auto bends = Query::bends_of(run, query.fitted, cable.bend_radius_m());
  const auto courses = courses_of(query, run);
  double at = cable.end_allowance_m;
  if (query.laid_run) out.laid_ties = query.laid_run->ties.size();
  for (std::size_t i = 0; i < run.ties.size(); ++i) {
    if (i + 1 == out.laid_ties) {
      out.more_m = std::max(0.0, query.request.goes_on->used_m - at);
      at += out.more_m;
    }
    RunTie tie{.tie = query.tie(run.ties[i]), .at_m = at, .turn_rad = bends[i].turn_rad};
    constexpr double straight_rad = 1e-6;
    if (bends[i].turn_rad > straight_rad) tie.radius_m = bends[i].radius_m();
    out.ties.push_back(std::move(tie));
    if (i == run.spans.size()) break;
    const auto& fitted = query.fitted[run.spans[i]];
    const auto& joint = query.joints[run.spans[i]];
    RunSpan span{.length_m = fitted.length_m,
                 .slack_m = slack_of(cable, fitted.length_m),
                 .loop_m = joint.loop_m,
                 .edges = fitted.edges};
    if (!joint.parts.empty()) span.joint = joint.parts.front();
    auto line = fitted.line;
    if (fitted.a != run.ties[i]) {
      std::reverse(line.begin(), line.end());
      std::reverse(span.edges.begin(), span.edges.end());
    }
    out.line.insert(out.line.end(), line.begin() + (i == 0 ? 0 : 1), line.end());
    at += span.length_m + span.slack_m + span.loop_m;
    out.way_m += span.length_m, out.slack_m += span.slack_m, out.loops_m += span.loop_m;
    // A crossing is where a laid cable passes between two ties that both keep away from it.
    for (std::size_t k = 0; k < query.request.laid.size(); ++k) {
      const auto& laid = query.request.laid[k];
      const auto& there = query.laid()[k];
      const double touch = laid.radius_m + space.rules.radius_m + cable.separation_m;
      const auto is_away = [&](const Vec3& end) { return gap_between(Course{{end}, {}}, there).distance_m >= touch; };
      const auto gap = gap_between(courses[i], there);
      if (gap.distance_m < touch && is_away(line.front()) && is_away(line.back()))
        out.crossings.push_back({laid.name, gap.at});
    }
    out.spans.push_back(std::move(span));
  }
  out.own_crossings = find_own_crossings(query, courses);
  out.ends_m = 2 * cable.end_allowance_m;
  out.required_m = out.way_m + out.slack_m + out.loops_m + out.ends_m + out.more_m;
  for (std::size_t z = 0; z < structure.zones.size(); ++z) {
    const auto& zone = structure.zones[z];
    if (!zone.applies.cable || zone.effect != model::ZoneEffect::Caution || !zone.when.holds(scene.configuration()))
      continue;
    if (const double inside = length_inside(query, model::ZoneId(z), courses); inside > 0)
      out.zones.push_back({model::ZoneId(z), inside});
  }
  return out;
}

/// What was laid, with the run that goes on from it.
Run joined(const Run& laid, const Run& on) {
  Run whole = laid;
  whole.ties.insert(whole.ties.end(), on.ties.begin() + 1, on.ties.end());
  whole.spans.insert(whole.spans.end(), on.spans.begin(), on.spans.end());
  whole.cost = on.cost;
  return whole;
}

/// Every other connector, from the end of a run.
std::vector<Onward> find_onward(const Query& query, const Run& laid) {
  const auto& cable = *query.space.cable;
  const std::string& begins_at = query.tie(laid.ties.front()).id;
  std::vector<Onward> all;
  for (std::uint32_t t = 0; t < query.space.ties.size(); ++t) {
    if (query.tie(t).kind != TieKind::Connector || t == laid.ties.front()) continue;
    Onward onward;
    onward.connector = query.tie(t).id;
    onward.is_meant = std::any_of(cable.connects.begin(), cable.connects.end(), [&](const auto& pair) {
      return pair == std::pair(begins_at, onward.connector) || pair == std::pair(onward.connector, begins_at);
    });
    const auto found = query.find_on(Aim::Length, 0, laid, t);
    onward.is_certain = !found.is_cut_short;
    if (found.run) {
      onward.required_m = describe(query, joined(laid, *found.run)).required_m;
      onward.margin_m = cable.least_length_m() - *onward.required_m;
    }
    all.push_back(std::move(onward));
  }
  std::stable_sort(all.begin(), all.end(), [](const Onward& x, const Onward& y) { return x.is_meant > y.is_meant; });
  return all;
}

/// The most that may be left at the end of a run: no cable is shorter than straight from tie to tie.
double most_left_m(const Query& query, const CableRun& run) {
  const auto& cable = *query.space.cable;
  double left_m = cable.length_m + cable.length_tolerance_m;
  for (std::size_t i = 1; i < run.ties.size(); ++i) left_m -= (run.ties[i].tie.way - run.ties[i - 1].tie.way).norm();
  return left_m;
}

/// At the last tie of a run, whatever is in its way.
CoilLeft coil_of(const Query& query, const CableRun& run) {
  const auto& cable = *query.space.cable;
  CoilLeft coil;
  coil.tie = run.ties.back().tie;
  coil.size = coil_size(most_left_m(query, run), cable.bend_radius_m(), cable.diameter_m);
  coil.size.size_m = coil.size.size_m.cwiseMax(query.request.least_coil_m);
  const auto box = detail::box_at(query, coil.tie, coil.size.size_m);
  model::ensure(box.has_value(), "a tie on a rail is where the rail is sampled");
  coil.box = *box;
  coil.used_m = run.ties.back().at_m;
  coil.left_m = cable.least_length_m() - coil.used_m;
  return coil;
}

/// To a place: the best run to a tie there at which the coil has room; where none is long enough, the best.
struct Coiled {
  std::optional<Run> whole;
  CableRun run;
  std::optional<CoilLeft> coil;
  NoRunCause hindered{.kind = NoRunKind::NoCoil};
  bool is_certain = true;
};
Coiled find_coiled(const Query& query) {
  const auto& cable = *query.space.cable;
  Coiled answer;
  std::vector<Run> runs;
  for (const auto end : query.end_ties) {
    auto found = query.laid_run
                     ? query.find_on(query.request.aim, 0, *query.laid_run, end)
                     : query.find(query.request.aim, 0, query.from, end, std::numeric_limits<std::int64_t>::max());
    if (found.is_cut_short) answer.is_certain = false;
    if (found.run) runs.push_back(query.laid_run ? joined(*query.laid_run, *found.run) : std::move(*found.run));
  }
  std::stable_sort(runs.begin(), runs.end(), [](const Run& x, const Run& y) { return x.cost < y.cost; });
  for (const auto& whole : runs) {
    CableRun run = describe(query, whole);
    if (run.required_m > cable.least_length_m()) {
      if (!answer.whole && answer.hindered.hinders.empty()) answer.whole = whole, answer.run = std::move(run);
      continue;
    }
    CoilLeft coil = coil_of(query, run);
    if (const auto hindrance = detail::what_hinders(query, coil.tie, coil.box, coil.size.size_m)) {
      auto& cause = answer.hindered;
      if (cause.hinders.empty()) {
        cause.tie = coil.tie.id, cause.at = coil.tie.at;
        cause.size_m = coil.size.size_m;
      }
      if (std::find(cause.hinders.begin(), cause.hinders.end(), *hindrance) == cause.hinders.end())
        cause.hinders.push_back(*hindrance);
      continue;
    }
    coil.place = query.request.to;
    if (query.request.tells_more) coil.onward = find_onward(query, whole);
    answer.whole = whole, answer.run = std::move(run), answer.coil = std::move(coil);
    return answer;
  }
  // Room is what lacks wherever the cable is long enough.
  if (!answer.hindered.hinders.empty()) answer.whole.reset();
  return answer;
}

Reaches find_reach(const Query& query, const CableRun& run, double least_length_m) {
  Reaches reaches;
  const auto& cable = *query.space.cable;
  reaches.missing_m = run.required_m - least_length_m;
  for (std::size_t i = 0; i < run.ties.size(); ++i)
    if (run.ties[i].at_m + cable.end_allowance_m <= least_length_m) reaches.tie = i;
  if (query.laid_run) {
    // What lies there already begins at its own connector.
    for (const auto& onward : find_onward(query, *query.laid_run))
      if (onward.required_m && onward.margin_m >= 0)
        reaches.serves.push_back({run.ties.front().tie.id, onward.connector, *onward.required_m});
    return reaches;
  }
  std::vector<std::uint32_t> connectors;
  for (std::uint32_t t = 0; t < query.space.ties.size(); ++t)
    if (query.tie(t).kind == TieKind::Connector) connectors.push_back(t);
  const std::int64_t most = route::cost_of_metres(std::max(0.0, least_length_m - 2 * cable.end_allowance_m));
  for (std::size_t i = 0; i < connectors.size(); ++i)
    for (std::size_t k = i + 1; k < connectors.size(); ++k) {
      const auto found = query.find(Aim::Length, 0, connectors[i], connectors[k], most);
      if (!found.run) continue;
      const double required =
          static_cast<double>(found.run->cost.primary()) / search::cost_units_per_metre + 2 * cable.end_allowance_m;
      if (required <= least_length_m)
        reaches.serves.push_back({query.tie(connectors[i]).id, query.tie(connectors[k]).id, required});
    }
  return reaches;
}

/// A coil round the middle of two ties, flat on what they stand on; nothing where it would touch structure.
std::optional<Stow> coil_between(const Query& query, const Tie& p, const Tie& q, double surplus_m) {
  const double gap = (p.way - q.way).norm(), radius = std::max(query.space.cable->bend_radius_m(), gap / 2);
  Stow stow;
  stow.coil_radius_m = radius;
  stow.turns = static_cast<std::size_t>(surplus_m / (2 * std::numbers::pi * radius));
  if (stow.turns == 0) return std::nullopt;
  stow.at = (p.way + q.way) / 2;
  const auto& scene = query.space.graph->scene();
  const auto nearest = scene.find_nearest(stow.at, 2 * radius);
  if (!nearest || nearest->distance_m < 1e-9) return std::nullopt;
  const Vec3 out = (stow.at - nearest->point).normalized();
  Vec3 along = q.way - p.way;
  along = (along - along.dot(out) * out).normalized();
  const Vec3 across = out.cross(along);
  constexpr int chords = 24;
  // Round the circle, so that the chords are outside of the coil.
  const double outside = radius / std::cos(std::numbers::pi / chords);
  const auto corner = [&](int k) {
    const double angle = 2 * std::numbers::pi * k / chords;
    return Vec3(stow.at + outside * (std::cos(angle) * along + std::sin(angle) * across));
  };
  Course coil;
  for (int k = 0; k <= chords; ++k) coil.line.push_back(corner(k));
  for (int k = 0; k < chords; ++k)
    if (!is_piece_clear(scene, corner(k), corner(k + 1), query.space.rules.clear_m())) return std::nullopt;
  if (query.closed_by(coil) != 0) return std::nullopt;
  const std::vector<std::optional<model::PartId>> on(coil.line.size() - 2, p.part);
  const auto joint = query.motion().find_joint({p.part, p.part, coil.line, on});
  if (!joint.parts.empty() || !joint.moves_into.empty()) return std::nullopt;
  stow.ties = {p, q};
  return stow;
}

Stow find_stow(const Query& query, const CableRun& run, double surplus_m) {
  const auto& ties = query.space.ties;
  const double radius = query.space.cable->bend_radius_m();
  struct Candidate {
    double from_end;
    std::uint32_t end, tie;
  };
  std::vector<Candidate> near;
  const auto is_used = [&](const Tie& tie) {
    return std::any_of(run.ties.begin(), run.ties.end(), [&](const RunTie& used) {
      return used.tie.kind == tie.kind && used.tie.id == tie.id && used.tie.along_m == tie.along_m;
    });
  };
  for (std::uint32_t t = 0; t < ties.size(); ++t) {
    if (query.tie_closed[t] != 0 || query.grips[t].empty() || is_used(ties[t])) continue;
    for (const auto end : {query.to, query.from}) near.push_back({(ties[t].way - ties[end].way).norm(), end, t});
  }
  std::stable_sort(near.begin(), near.end(), [](const auto& x, const auto& y) { return x.from_end < y.from_end; });
  constexpr double near_end_m = 3, widest_coil_m = 0.3;
  if (surplus_m >= 2 * std::numbers::pi * radius)
    for (const auto& c : near) {
      if (c.from_end > near_end_m) break;
      std::optional<Stow> best;
      for (std::uint32_t other = 0; other < ties.size(); ++other) {
        const auto& p = ties[c.tie];
        const auto& q = ties[other];
        const double gap = (p.way - q.way).norm();
        if (other == c.tie || q.part != p.part || gap < radius || gap > std::max(2 * radius, widest_coil_m) ||
            query.tie_closed[other] != 0 || query.grips[other].empty() || is_used(q))
          continue;
        const bool is_smaller = !best || std::max(radius, gap / 2) < best->coil_radius_m;
        if (auto stow = is_smaller ? coil_between(query, p, q, surplus_m) : std::nullopt) best = std::move(stow);
      }
      if (!best) continue;
      best->surplus_m = surplus_m;
      best->from_end_m = c.from_end;
      best->end = ties[c.end].id;
      return *best;
    }
  Stow stow;
  stow.surplus_m = surplus_m;
  return stow;
}

}  // namespace

double slack_of(const model::Cable& cable, double span_m) {
  if (span_m <= 0) return 0;
  return std::max(cable.slack_fraction * span_m, 8 * cable.sag_m * cable.sag_m / (3 * span_m));
}

CableSpace prepare_cable(const graph::HandrailGraph& graph, const model::Kit& kit, const model::Cable& cable,
                         const SpanStore* store) {
  CableSpace space;
  space.graph = &graph, space.kit = &kit, space.cable = &cable;
  space.rules = span_rules_of(cable);
  space.ties = find_ties(graph.scene(), space.rules, graph.body().spacing_m);
  space.found = find_spans(graph.scene(), space.ties, space.rules, store);
  space.fitted = detail::fit_spans(space, cable.bend_radius_m());
  return space;
}

bool CableAnswer::is_feasible() const {
  return run() && verdict.is_long_enough() && laying && laying->way.route() != nullptr;
}

CableAnswer find_cable_run(const CableSpace& space, const route::Profile& profile, const CableRequest& request) {
  route::Profile with_spool = profile;
  if (with_spool.loads.empty()) with_spool.loads = detail::spool_of(space);
  const Query query(space, with_spool, request);
  const auto& cable = *space.cable;
  CableAnswer answer;
  answer.cable = cable.id;
  answer.request = request;
  answer.configuration = space.graph->scene().configuration();
  answer.suit = profile.suit.id;
  answer.used = used_values(cable);
  answer.ties_considered = static_cast<std::size_t>(std::count_if(
      space.ties.begin(), space.ties.end(), [](const Tie& tie) { return tie.kind != TieKind::Connector; }));
  answer.spans_considered = space.fitted.size();
  answer.span_source = space.found.source;
  answer.verdict.least_length_m = cable.least_length_m();

  if (query.laid_run) answer.request.from = query.tie(query.laid_run->ties.front()).id;
  std::optional<Run> found;
  CableRun run;
  if (query.to_place) {
    auto coiled = find_coiled(query);
    answer.is_certain = coiled.is_certain;
    found = std::move(coiled.whole);
    if (!found && !coiled.hindered.hinders.empty()) {
      coiled.hindered.end = request.to;
      answer.outcome = NoRun{{std::move(coiled.hindered)}};
      return answer;
    }
    run = std::move(coiled.run);
    answer.coil = std::move(coiled.coil);
  } else {
    auto search = query.find(request.aim, 0);
    answer.is_certain = !search.is_cut_short;
    if (search.run) {
      found = query.laid_run ? joined(*query.laid_run, *search.run) : std::move(*search.run);
      run = describe(query, *found);
    }
  }
  if (!found) {
    answer.outcome = detail::explain(query, answer.is_certain);
    return answer;
  }
  answer.verdict.margin_m = answer.verdict.least_length_m - run.required_m;
  if (!request.tells_more) {
    answer.outcome = std::move(run);
    return answer;
  }
  if (answer.verdict.is_long_enough()) {
    if (answer.verdict.margin_m > 0 && !answer.coil) answer.stow = find_stow(query, run, answer.verdict.margin_m);
  } else {
    answer.reaches = find_reach(query, run, answer.verdict.least_length_m);
  }
  answer.laying = detail::lay(query, run);
  if (const auto* way = answer.laying->way.route(); way && request.aim == Aim::Time) {
    // The search looked at each step between ties by itself, the box of a spool not swept.
    const auto pace = route::pace_of(with_spool);
    const double searched = static_cast<double>(found->cost.primary()) / search::cost_units_per_second +
                            2 * pace.take_up_s +
                            (query.to_place ? cable.tie_s.value : 0);  // the search counts no tie at its end
    answer.laying->may_save_s = std::max(0.0, way->time_s + answer.laying->ties_s - searched);
    constexpr double rounding_s = 0.01;  // of the search's units, over all moves
    if (answer.laying->may_save_s < rounding_s) answer.laying->may_save_s = 0;
  }
  answer.outcome = std::move(run);
  return answer;
}

CableAnswer describe_laid_run(const CableSpace& space, const route::Profile& profile, const CableRequest& request) {
  model::ensure(request.goes_on.has_value(), "a run that was laid before is described");
  CableRequest asked;
  asked.goes_on = request.goes_on;
  asked.least_coil_m = request.least_coil_m;
  route::Profile with_spool = profile;
  if (with_spool.loads.empty()) with_spool.loads = detail::spool_of(space);
  const Query query(space, with_spool, asked);
  CableAnswer answer;
  answer.cable = space.cable->id;
  answer.request = asked;
  answer.request.from = query.tie(query.laid_run->ties.front()).id;
  answer.configuration = space.graph->scene().configuration();
  answer.suit = profile.suit.id;
  CableRun run = describe(query, *query.laid_run);
  answer.verdict.least_length_m = space.cable->least_length_m();
  answer.verdict.margin_m = answer.verdict.least_length_m - run.required_m;
  if (query.tie(query.from).kind == TieKind::Rail) answer.coil = coil_of(query, run);
  answer.outcome = std::move(run);
  return answer;
}

}  // namespace holdfast::cable
