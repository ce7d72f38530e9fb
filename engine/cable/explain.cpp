// SPDX-License-Identifier: GPL-3.0-or-later
#include <algorithm>
#include <limits>
#include <numeric>

#include "line_impl.h"
#include "query_impl.h"

namespace holdfast::cable::detail {

namespace {

/// The pair of ties that cannot be avoided: the largest hop on the way from one end to the other whose largest hop is
/// least, where hops along spans are free. Prim's method over all ties.
struct Hop {
  std::uint32_t a = 0, b = 0;
  double gap_m = 0;
};
Hop find_widest_hop(const Query& query, const std::vector<std::uint32_t>& island) {
  const std::size_t n = query.space.ties.size();
  std::vector<double> gap(n, std::numeric_limits<double>::infinity());
  std::vector<Hop> widest(n), hop(n);
  std::vector<bool> is_done(n, false);
  const auto is_usable = [&](std::uint32_t t) {
    return query.tie(t).kind != TieKind::Connector || t == query.from || t == query.to;
  };
  gap[query.from] = 0;
  for (;;) {
    std::uint32_t i = static_cast<std::uint32_t>(n);
    for (std::uint32_t k = 0; k < n; ++k)
      if (!is_done[k] && std::isfinite(gap[k]) && (i == n || gap[k] < gap[i])) i = k;
    model::ensure(i != n, "ties are a finite way apart");
    if (i == query.to) return widest[i];
    is_done[i] = true;
    for (std::uint32_t k = 0; k < n; ++k) {
      if (is_done[k] || !is_usable(k)) continue;
      const double d = island[i] == island[k] ? 0 : (query.tie(i).way - query.tie(k).way).norm();
      if (d >= gap[k]) continue;
      gap[k] = d;
      widest[k] = d > widest[i].gap_m ? Hop{i, k, d} : widest[i];
    }
  }
}

/// Ties that spans join, whatever closes them: the least tie of each set.
std::vector<std::uint32_t> islands_of(const Query& query) {
  std::vector<std::uint32_t> island(query.space.ties.size());
  std::iota(island.begin(), island.end(), 0u);
  const auto root = [&](std::uint32_t t) {
    while (island[t] != t) t = island[t] = island[island[t]];
    return t;
  };
  const auto is_passed = [&](std::uint32_t t) {
    return query.tie(t).kind != TieKind::Connector || t == query.from || t == query.to;
  };
  for (const auto& span : query.space.found.table.spans) {
    if (!is_passed(span.a) || !is_passed(span.b)) continue;
    const auto a = root(span.a), b = root(span.b);
    island[std::max(a, b)] = std::min(a, b);
  }
  for (std::uint32_t t = 0; t < island.size(); ++t) island[t] = root(t);
  return island;
}

NoRunCause between(const Query& query, NoRunKind kind, std::uint32_t a, std::uint32_t b) {
  NoRunCause cause;
  cause.kind = kind;
  cause.tie = query.tie(a).id, cause.other = query.tie(b).id;
  cause.at = query.tie(a).at, cause.at_other = query.tie(b).at;
  cause.value_m = (query.tie(a).way - query.tie(b).way).norm();
  cause.limit_m = query.space.rules.span_m;
  return cause;
}

std::optional<NoRunCause> no_tie_near(const Query& query, std::uint32_t end) {
  std::optional<std::uint32_t> nearest;
  double gap = std::numeric_limits<double>::infinity();
  for (std::uint32_t t = 0; t < query.space.ties.size(); ++t) {
    const bool is_other_end = t != end && (t == query.from || t == query.to);
    if (query.tie(t).kind == TieKind::Connector && !is_other_end) continue;
    const double d = (query.tie(t).way - query.tie(end).way).norm();
    if (d < gap) gap = d, nearest = t;
  }
  if (gap <= query.space.rules.span_m) return std::nullopt;
  NoRunCause cause;
  if (nearest) cause = between(query, NoRunKind::NoTieNear, end, *nearest);
  cause.kind = NoRunKind::NoTieNear;
  cause.end = query.tie(end).id;
  cause.value_m = gap;
  cause.at = query.tie(end).at;
  cause.limit_m = query.space.rules.span_m;
  return cause;
}

/// The bends of a run at its ties, where they are.
std::vector<std::vector<Fillet>> bends_at_ties(const Query& query, const Run& run) {
  std::vector<std::vector<Fillet>> bends(run.ties.size());
  for (std::size_t i = 1; i + 1 < run.ties.size(); ++i)
    bends[i] = query.bends_at(run.ties[i], query.fitted[run.spans[i - 1]], query.fitted[run.spans[i]],
                              query.space.cable->bend_radius_m());
  return bends;
}

/// What of the structure's rules a cause of this kind is about.
void name_culprits(const Query& query, NoRunCause& cause, const Run& run) {
  const auto& structure = query.space.graph->scene().structure();
  const double radius = query.space.cable->bend_radius_m();
  const auto note = [](auto& known, const auto& id) {
    if (std::find(known.begin(), known.end(), id) == known.end()) known.push_back(id);
  };
  const auto bends = bends_at_ties(query, run);
  const auto is_any_bend = [&](const auto& is_so) {
    return std::any_of(bends.begin(), bends.end(),
                       [&](const auto& at_tie) { return std::any_of(at_tie.begin(), at_tie.end(), is_so); });
  };
  if (cause.kind == NoRunKind::KeepFree) {
    const auto& kept = query.request.keep_free;
    for (const auto t : run.ties)
      if (const auto& rail = query.tie(t).rail; rail && std::find(kept.begin(), kept.end(), *rail) != kept.end())
        note(cause.rails, *rail);
    for (const auto rail : kept)
      if (std::any_of(run.spans.begin(), run.spans.end(),
                      [&](auto s) { return query.covers(query.fitted[s], radius, rail); }) ||
          is_any_bend([&](const Fillet& bend) {
            return query.covers(Course{{bend.corner}, {bend}}, rail);
          }))
        note(cause.rails, rail);
  }
  if (cause.kind == NoRunKind::Zones)
    for (const auto zone : query.forbidding())
      if (std::any_of(run.spans.begin(), run.spans.end(),
                      [&](auto s) { return query.is_in_zone(course_of(query.fitted[s], radius), zone); }) ||
          is_any_bend([&](const Fillet& bend) { return query.is_in_zone(bend, zone); }))
        note(cause.zones, zone);
  if (cause.kind != NoRunKind::Joint) return;
  for (const auto s : run.spans) {
    const auto& joint = query.joints[s];
    for (const auto part : joint.parts)
      if (!structure.parts[part.index()].cable_loop_m) note(cause.parts, part);
    for (const auto& into : joint.moves_into)
      if (std::none_of(cause.moves_into.begin(), cause.moves_into.end(),
                       [&](const MovesInto& known) { return known.part == into.part; }))
        cause.moves_into.push_back(into);
  }
}

/// The first tie, span or bend of a run that the waived rule would have closed.
void place_at(const Query& query, NoRunCause& cause, const Run& run, Closed rule) {
  const auto bends = bends_at_ties(query, run);
  const auto is_bend_closed = [&](std::size_t i) {
    return std::any_of(bends[i].begin(), bends[i].end(),
                       [&](const Fillet& bend) { return (query.closed_by(run.ties[i], bend) & rule) != 0; });
  };
  for (std::size_t i = 0; i < run.ties.size(); ++i) {
    const auto t = run.ties[i];
    const bool is_inner = i > 0 && i + 1 < run.ties.size();
    const bool is_closed = rule == by_reach ? query.grips[t].empty() : is_inner && (query.tie_closed[t] & rule) != 0;
    if (is_closed || is_bend_closed(i) || (i < run.spans.size() && (query.span_closed[run.spans[i]] & rule) != 0)) {
      cause.tie = query.tie(t).id;
      cause.at = query.tie(t).at;
      return;
    }
  }
}

/// Why no run can end at the place: no rail for cables, or what closes the nearest of them.
NoRunCause no_end_at(const Query& query) {
  const auto& structure = query.space.graph->structure();
  const auto& place = structure.places[query.to_place->index()];
  NoRunCause cause;
  cause.end = place.id;
  cause.at_other = structure.position(place, query.space.graph->scene().configuration());
  const bool has_tie = query.tie(query.to).kind == TieKind::Rail && query.to != query.from;
  if (has_tie) cause.tie = query.tie(query.to).id, cause.at = query.tie(query.to).at;
  if (!query.has_rail_there) {
    cause.kind = NoRunKind::NoRailThere;
    cause.value_m = has_tie ? (cause.at - cause.at_other).norm() : std::numeric_limits<double>::infinity();
    cause.limit_m = place.within_m;
  } else if ((query.tie_closed[query.to] & by_keep_free) != 0) {
    cause.kind = NoRunKind::KeepFree;
    cause.rails = {*query.tie(query.to).rail};
  } else if ((query.tie_closed[query.to] & by_separation) != 0) {
    cause.kind = NoRunKind::Separation;
    cause.limit_m = query.space.cable->separation_m;
  } else {
    cause.kind = NoRunKind::OutOfReach;
    cause.limit_m = query.profile.suit.reach_m;
  }
  return cause;
}

}  // namespace

NoRun explain(const Query& query, bool& is_certain) {
  NoRun refusal;
  if (query.to_place && query.end_ties.empty()) {
    refusal.causes.push_back(no_end_at(query));
    return refusal;
  }
  for (const auto end : {query.from, query.to})
    if (auto cause = no_tie_near(query, end)) refusal.causes.push_back(std::move(*cause));
  if (!refusal.causes.empty()) return refusal;

  const auto island = islands_of(query);
  if (island[query.from] != island[query.to]) {
    const Hop hop = find_widest_hop(query, island);
    auto cause = between(query, NoRunKind::Gap, hop.a, hop.b);
    if (hop.gap_m <= query.space.rules.span_m) {
      cause.kind = NoRunKind::NoSpan;
      const auto& missing = query.space.found.table.missing;
      const auto found = std::find_if(missing.begin(), missing.end(), [&](const NoSpan& pair) {
        return pair.a == std::min(hop.a, hop.b) && pair.b == std::max(hop.a, hop.b);
      });
      if (found != missing.end()) cause.why = found->kind, cause.value_m = found->value_m;
    }
    refusal.causes.push_back(std::move(cause));
    return refusal;
  }

  const auto try_waiving = [&](NoRunKind kind, Closed rule) {
    const auto found = query.find(Aim::Length, rule);
    is_certain = is_certain && !found.is_cut_short;
    if (!found.run) return;
    NoRunCause cause;
    cause.kind = kind;
    cause.opens_alone = true;
    cause.limit_m = rule == by_reach ? query.profile.suit.reach_m.value : query.space.cable->separation_m.value;
    cause.then_m = static_cast<double>(found.run->cost.primary()) / search::cost_units_per_metre +
                   2 * query.space.cable->end_allowance_m;
    name_culprits(query, cause, *found.run);
    place_at(query, cause, *found.run, rule);
    refusal.causes.push_back(std::move(cause));
  };
  const std::pair<NoRunKind, Closed> rules[] = {{NoRunKind::Zones, by_zone},
                                                {NoRunKind::KeepFree, by_keep_free},
                                                {NoRunKind::Separation, by_separation},
                                                {NoRunKind::Joint, by_joint},
                                                {NoRunKind::OutOfReach, by_reach}};
  for (const auto& [kind, rule] : rules) try_waiving(kind, rule);
  if (!refusal.causes.empty()) return refusal;

  const auto widest = query.find_widest();
  if (widest.run) {
    NoRunCause cause;
    cause.kind = NoRunKind::TooTight;
    cause.value_m = widest.radius_m;
    cause.limit_m = query.space.cable->bend_radius_m();
    cause.opens_alone = true;
    cause.then_m = static_cast<double>(widest.run->cost.primary()) / search::cost_units_per_metre +
                   2 * query.space.cable->end_allowance_m;
    // The bend that leaves the least over.
    double least = std::numeric_limits<double>::infinity();
    const auto bends = Query::bends_of(*widest.run, widest.fitted, widest.radius_m);
    for (std::size_t i = 1; i + 1 < bends.size(); ++i) {
      const double radius = bends[i].radius_m();
      if (!(radius < least)) continue;
      least = radius;
      cause.tie = query.tie(widest.run->ties[i]).id;
      cause.at = query.tie(widest.run->ties[i]).at;
    }
    refusal.causes.push_back(std::move(cause));
    return refusal;
  }
  // Only several rules waived together open a run: each of them that is in the way is named.
  const auto all = query.find(Aim::Length, every_rule);
  for (const auto& [kind, rule] : rules) {
    if (!all.run) break;
    NoRunCause cause;
    cause.kind = kind;
    name_culprits(query, cause, *all.run);
    place_at(query, cause, *all.run, rule);
    if (!cause.tie.empty()) refusal.causes.push_back(std::move(cause));
  }
  if (!refusal.causes.empty()) return refusal;
  // Rules and bends together: the bend is named, as what the cable itself cannot do.
  NoRunCause cause;
  cause.kind = NoRunKind::TooTight;
  cause.limit_m = query.space.cable->bend_radius_m();
  cause.tie = query.tie(query.from).id;
  cause.at = query.tie(query.from).at;
  refusal.causes.push_back(std::move(cause));
  return refusal;
}

}  // namespace holdfast::cable::detail
