// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/route/home.h"

#include <fmt/format.h>
#include <fmt/ranges.h>
#include <tbb/enumerable_thread_specific.h>
#include <tbb/parallel_for.h>

#include <algorithm>
#include <limits>
#include <variant>

#include "choices_impl.h"
#include "holdfast/search/tree_paths.h"
#include "home_impl.h"
#include "question_impl.h"

namespace holdfast::route {

using detail::End;
using graph::GripId;
using graph::HandrailGraph;
using graph::MoveId;
using model::PlaceId;

namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();

HomeVerdict verdict_of(double time_s, const HomeRequest& request) {
  // Limits include equality; a time that is whole in the units of costs must not be pushed over by noise.
  constexpr double noise_s = 1e-6;
  if (time_s > request.limit_s + noise_s) return HomeVerdict::Over;
  return time_s > request.warn_s + noise_s ? HomeVerdict::Near : HomeVerdict::Within;
}

/// Moves and grips that lie in a limit zone: only a path over these can break a limit.
class LimitZones {
 public:
  LimitZones(const HandrailGraph& graph, const CostTable& table)
      : graph_(graph), zones_(detail::limit_zones(graph, table, false)) {}
  [[nodiscard]] bool is_none() const { return zones_.empty(); }
  [[nodiscard]] bool holds(MoveId move) const { return is_in_any(graph_.zones(move)); }
  [[nodiscard]] bool holds(GripId grip) const { return is_in_any(graph_.zones(grip)); }
  [[nodiscard]] bool holds(const search::Path& way) const {
    return !zones_.empty() &&
           (holds(GripId(way.nodes.front())) || holds(GripId(way.nodes.back())) ||
            std::any_of(way.moves.begin(), way.moves.end(), [&](std::uint32_t m) { return holds(MoveId(m)); }));
  }

 private:
  [[nodiscard]] bool is_in_any(std::span<const graph::ZoneLabel> labels) const {
    return std::any_of(zones_.begin(), zones_.end(), [&](auto zone) { return detail::is_in(labels, zone); });
  }
  const HandrailGraph& graph_;
  std::vector<model::ZoneId> zones_;
};

/// What a leg takes besides its moves.
double ends_s(const Pace& pace) { return pace.start_s + pace.stop_s + 2 * pace.take_up_s; }

/// One move more of a leg, without the prices that it was weighed with.
void go_on(Matrix::Cell& cell, const graph::Move& move, double seconds, const Pace& pace) {
  if (cell.moves++ == 0) cell.time_s = ends_s(pace);
  cell.time_s += seconds;
  cell.distance_m += move.way_m;
}

Matrix::Cell measure(const HandrailGraph& graph, const Pace& pace, const search::Path& way) {
  Matrix::Cell cell;
  for (const auto m : way.moves) {
    const auto& move = graph.moves()[m];
    go_on(cell, move, compute_move_time(move, pace).sum_s(), pace);
  }
  return cell;
}

std::optional<Matrix::Cell> cell_of(const Answer& answer) {
  const Route* route = answer.route();
  if (!route) return std::nullopt;
  return Matrix::Cell{route->time_s, route->distance_m, route->moves};
}

/// Paths home from anywhere: one tree for all, and routes of their own where that is not enough.
class WayHome {
 public:
  /// `known` may be null. `has_times` false: only `find` is asked.
  WayHome(const HandrailGraph& graph, const Profile& profile, const HomeRequest& request,
          const detail::KnownCosts* known, bool has_times = true)
      : graph_(graph), profile_(profile), request_(request), pace_(pace_of(profile)) {
    model::ensure(!request.hatches.empty(), "home is somewhere");
    home_.text = fmt::format("{}", fmt::join(request.hatches, " or "));
    for (const auto& name : request.hatches) {
      hatches_.push_back(detail::resolve_end(graph, name, request.point_radius_m));
      home_.grips.insert(home_.grips.end(), hatches_.back().grips.begin(), hatches_.back().grips.end());
    }
    home_.at = hatches_.front().at, home_.radius_m = hatches_.front().radius_m;
    std::sort(home_.grips.begin(), home_.grips.end());
    home_.grips.erase(std::unique(home_.grips.begin(), home_.grips.end()), home_.grips.end());
    if (!known) own_table_ = compute_costs(graph, profile, Objective::Time);
    table_ = known ? &known->table : &own_table_;
    limits_.emplace(graph, *table_);
    const auto hatch_grips = detail::usable(home_.grips, *table_);
    if (known) {
      search::HierarchyQuery::sweep(known->metric, hatch_grips, swept_);
      to_home_ = swept_;
    } else {
      tree_.grow(graph.adjacency(), table_->by_move, hatch_grips);
      to_home_ = tree_.costs();
    }
    if (has_times) grow_times();
    if (!profile.loads.empty()) cache_.emplace(graph, profile.loads);
  }

  [[nodiscard]] const CostTable& table() const { return *table_; }
  [[nodiscard]] const Pace& pace() const { return pace_; }
  [[nodiscard]] double time_s(std::uint32_t grip) const { return time_s_[grip]; }
  [[nodiscard]] bool needs_route(std::uint32_t grip) const { return needs_route_[grip]; }

  [[nodiscard]] std::string hatch_at(std::size_t grip) const {
    for (const End& hatch : hatches_)
      if (std::find(hatch.grips.begin(), hatch.grips.end(), GripId(grip)) != hatch.grips.end()) return hatch.text;
    return {};
  }

  struct Found {
    std::optional<Matrix::Cell> cell;
    std::string hatch;
    std::optional<double> may_save_s;
    bool is_certain = true;
    std::vector<Cause> causes;
  };
  /// As `route` has it, from the grip of `from` that is best to leave from.
  [[nodiscard]] Found find(const End& from) const {
    Found found;
    const auto sources = detail::usable(from.grips, *table_);
    if (profile_.loads.empty()) {
      const auto way = search::path_down(graph_.adjacency(), table_->by_move, to_home_, sources);
      if (way && !limits_->holds(*way)) {
        found.cell = measure(graph_, pace_, *way);
        found.hatch = hatch_at(way->nodes.back());
        return found;
      }
    }
    RouteRequest question{.from = from.text, .to = home_.text, .point_radius_m = request_.point_radius_m};
    question.load_cache = cache_ ? &*cache_ : nullptr;
    question.explains_loads = false;
    const Answer answer = detail::route_between(graph_, profile_, question, {from, home_}, *table_);
    found.cell = cell_of(answer);
    found.may_save_s = answer.may_save;
    found.is_certain = answer.is_certain;
    if (const Route* route = answer.route())
      found.hatch = hatch_at(route->legs.back().poses.back().grip);
    else
      found.causes = answer.no_route()->causes;
    return found;
  }

  /// From the worst of these grips; infinity where one has no path. Without a look at loads' room.
  [[nodiscard]] double longest_s(std::span<const GripId> grips) const {
    double longest_s = 0;
    for (const GripId grip : grips) {
      if (!needs_route_[grip.index()]) {
        longest_s = std::max(longest_s, time_s_[grip.index()]);
        continue;
      }
      const auto found = find(end_of(grip));
      longest_s = std::max(longest_s, found.cell ? found.cell->time_s : infinity);
    }
    return longest_s;
  }

  [[nodiscard]] End end_of(GripId grip) const {
    const auto& g = graph_.grip(grip);
    return {graph_.structure().rails[g.rail.index()].id, g.hand, 0, {grip}};
  }

 private:
  /// Along the tree's ways, from home outward: each grip once.
  void grow_times() {
    const std::size_t n = graph_.grips().size();
    time_s_.assign(n, infinity);
    needs_route_.assign(n, false);
    toward_home_.assign(n, nullptr);
    // What most paths were weighed with is their time.
    std::vector<std::int64_t> units(n, -1);
    const auto is_turned = profile_.loads.empty() ? find_turned() : std::vector<bool>(n, true);
    for (std::uint32_t g = 0; g < n; ++g)
      if (!is_turned[g] && !to_home_[g].is_blocked()) units[g] = to_home_[g].primary();
    std::vector<std::pair<std::uint32_t, const graph::Arc*>> open;
    for (std::uint32_t g = 0; g < n; ++g) {
      if (to_home_[g].is_blocked()) continue;
      std::uint32_t at = g;
      while (units[at] < 0) {
        const graph::Arc* arc = toward_home(at);
        if (!arc) {
          units[at] = 0;
          needs_route_[at] = limits_->holds(GripId(at));
          break;
        }
        open.emplace_back(at, arc);
        at = arc->head;
      }
      for (; !open.empty(); open.pop_back()) {
        const auto [from, arc] = open.back();
        units[from] = units[arc->head] + cost_of_seconds(compute_move_time(graph_.moves()[arc->move], pace_).sum_s());
        needs_route_[from] =
            needs_route_[arc->head] || limits_->holds(MoveId(arc->move)) || limits_->holds(GripId(from));
      }
      if (table_->grip_blocks[g] == 0) time_s_[g] = time_of(units[g]);
    }
  }
  /// Grips whose path home passes a move or grip in a zone that is priced or limited: its time, or whether it keeps the
  /// limit, is another question.
  [[nodiscard]] std::vector<bool> find_turned() {
    const auto& zones = graph_.structure().zones;
    const auto is_of_note = [&](std::span<const graph::ZoneLabel> labels) {
      return std::any_of(labels.begin(), labels.end(), [&](const graph::ZoneLabel& label) {
        const auto& zone = zones[label.zone.index()];
        return zone.effect == model::ZoneEffect::Limit ||
               (zone.effect == model::ZoneEffect::Caution && profile_.prices_caution && zone.price_s_per_s > 0);
      });
    };
    std::vector<bool> is_turned(graph_.grips().size());
    std::vector<std::uint32_t> open;
    const auto turn = [&](std::uint32_t grip) {
      if (!is_turned[grip] && !to_home_[grip].is_blocked()) is_turned[grip] = true, open.push_back(grip);
    };
    for (std::uint32_t g = 0; g < is_turned.size(); ++g)
      if (is_of_note(graph_.zones(GripId(g)))) turn(g);
    for (std::uint32_t m = 0; m < table_->by_move.size(); ++m) {
      if (!is_of_note(graph_.zones(MoveId(m))) || table_->by_move[m].is_blocked()) continue;
      for (const auto end : {graph_.moves()[m].a.value, graph_.moves()[m].b.value})
        if (const auto* arc = toward_home(end); arc && arc->move == m) turn(end);
    }
    while (!open.empty()) {
      const auto grip = open.back();
      open.pop_back();
      for (const auto& arc : graph_.adjacency().out(grip)) {
        if (is_turned[arc.head] || to_home_[grip] + table_->by_move[arc.move] != to_home_[arc.head]) continue;
        if (const auto* on = toward_home(arc.head); on && on->move == arc.move) turn(arc.head);
      }
    }
    return is_turned;
  }
  /// The first move of a grip's path home, looked for once.
  [[nodiscard]] const graph::Arc* toward_home(std::uint32_t grip) {
    auto& known = toward_home_[grip];
    if (!known) known = search::next_down(graph_.adjacency(), table_->by_move, to_home_, grip);
    return known;
  }
  [[nodiscard]] double time_of(std::int64_t units) const {
    return units == 0 ? 0 : static_cast<double>(units) / search::cost_units_per_second + ends_s(pace_);
  }

  const HandrailGraph& graph_;
  const Profile& profile_;
  const HomeRequest& request_;
  const Pace pace_;
  std::vector<End> hatches_;
  End home_;  // all of them
  CostTable own_table_;
  const CostTable* table_ = nullptr;
  std::optional<LimitZones> limits_;
  search::ShortestTree tree_;
  std::vector<search::Cost> swept_;
  std::span<const search::Cost> to_home_;       // by grip
  std::vector<const graph::Arc*> toward_home_;  // by grip, where it was asked for
  std::vector<double> time_s_;
  std::vector<bool> needs_route_;
  mutable std::optional<LoadCache> cache_;
};

HomePlace place_row(const HandrailGraph& graph, const Profile& profile, const HomeRequest& request, const WayHome& ways,
                    PlaceId place) {
  HomePlace row;
  row.place = place;
  const End from = detail::resolve_end(graph, graph.structure().places[place.index()].id, 0);
  auto found = ways.find(from);
  row.may_save_s = found.may_save_s, row.is_certain = found.is_certain;
  row.causes = std::move(found.causes);
  std::vector<GripId> grips;
  for (const search::Seed& seed : detail::usable(from.grips, ways.table())) {
    grips.emplace_back(seed.node);
    row.stranded_grips += std::isinf(ways.time_s(seed.node)) ? 1 : 0;
  }
  if (!found.cell) return row;
  row.has_route = true;
  row.time_s = row.most_s = found.cell->time_s;
  row.distance_m = found.cell->distance_m, row.moves = found.cell->moves;
  row.hatch = std::move(found.hatch);
  if (profile.loads.empty()) {
    row.most_s = std::max(row.time_s, ways.longest_s(grips));
    if (std::isinf(row.most_s)) {
      row.most_s = row.time_s;
      return row;
    }
  } else if (row.stranded_grips > 0) {
    return row;
  }
  row.verdict = verdict_of(row.most_s, request);
  return row;
}

Home compute(const HandrailGraph& graph, const Profile& profile, const HomeRequest& request,
             const detail::KnownCosts* known) {
  Home home;
  home.request = request;
  const WayHome ways(graph, profile, request, known);
  home.head = begin_answer(graph, profile, {.from = "", .to = request.hatches.front()});

  home.time_by_grip_s.resize(graph.grips().size(), infinity);
  std::vector<std::optional<HomeGrip>> worst(graph.structure().parts.size());
  for (std::uint32_t g = 0; g < graph.grips().size(); ++g) {
    const double time_s = home.time_by_grip_s[g] = ways.time_s(g);
    if (std::isinf(time_s)) {
      ++home.grips_without_way;
      continue;
    }
    const auto verdict = verdict_of(time_s, request);
    home.grips_over += verdict == HomeVerdict::Over ? 1 : 0;
    home.grips_near += verdict == HomeVerdict::Near ? 1 : 0;
    const auto& grip = graph.grips()[g];
    auto& of_part = worst[graph.structure().rails[grip.rail.index()].part.index()];
    if (!of_part || time_s > of_part->time_s) of_part = {g, grip.rail, grip.hand, time_s};
  }
  for (const auto& grip : worst)
    if (grip) home.worst.push_back(*grip);
  std::stable_sort(home.worst.begin(), home.worst.end(),
                   [](const HomeGrip& x, const HomeGrip& y) { return x.time_s > y.time_s; });

  const auto places = detail::find_present_places(graph, ways.table());
  home.places.resize(places.size());
  const auto fill = [&](std::size_t i) { home.places[i] = place_row(graph, profile, request, ways, places[i].place); };
  if (profile.loads.empty()) {
    tbb::parallel_for(std::size_t{0}, places.size(), fill);
  } else {
    for (std::size_t i = 0; i < places.size(); ++i) fill(i);  // one cache of sweeps serves all
  }
  if (profile.loads.empty() && home.head.is_priced) {
    Profile quick = profile;
    quick.prices_caution = false;
    const WayHome quicker(graph, quick, request, known ? known->unpriced : nullptr, false);
    for (std::size_t i = 0; i < places.size(); ++i) {
      if (!home.places[i].has_route) continue;
      const auto found = quicker.find(
          detail::resolve_end(graph, graph.structure().places[places[i].place.index()].id, request.point_radius_m));
      constexpr double least_s = 0.01;  // rounding of costs stays below this
      if (!found.cell || found.cell->time_s > home.places[i].time_s - least_s) continue;
      ++home.priced_places;
      home.priced_s = std::max(home.priced_s, home.places[i].time_s - found.cell->time_s);
    }
    home.head.is_priced = home.priced_places > 0;
  }
  std::stable_sort(home.places.begin(), home.places.end(), [](const HomePlace& x, const HomePlace& y) {
    if (x.verdict != y.verdict) return x.verdict > y.verdict;
    return x.has_route != y.has_route ? y.has_route : x.most_s > y.most_s;
  });
  return home;
}

}  // namespace

Home compute_home(const HandrailGraph& graph, const Profile& profile, const HomeRequest& request) {
  return compute(graph, profile, request, nullptr);
}
Home detail::compute_home(const HandrailGraph& graph, const Profile& profile, const HomeRequest& request,
                          const KnownCosts& known) {
  return compute(graph, profile, request, &known);
}

HomeAlong compute_home_along(const HandrailGraph& graph, const Profile& profile, const HomeRequest& request,
                             const GivenWay& given) {
  HomeAlong along;
  along.request = request;
  along.route = given.name;
  const auto legs = detail::find_given(graph, given);
  const WayHome ways(graph, profile, request, nullptr);
  along.head = begin_answer(graph, profile, {.from = legs.front().from, .to = request.hatches.front()});
  Profile bare = profile;
  bare.loads.clear();
  const Route route = detail::describe(graph, bare, nullptr, legs, {});
  for (std::size_t leg = 0; leg < legs.size(); ++leg) {
    std::size_t reached = 0;
    for (std::size_t r = 0; r < route.legs[leg].rows.size(); ++r) {
      const Row& row = route.legs[leg].rows[r];
      const std::size_t before = reached;
      reached += row.moves;
      HomeWaypoint point;
      point.leg = leg, point.row = r;
      point.rail = row.rail, point.part = row.part;
      const GripId grip = legs[leg].grips[reached];
      point.hand = graph.grip(grip).hand;
      point.at_s = given.legs[leg].grips[reached].at_s;
      auto found = ways.find(ways.end_of(grip));
      point.may_save_s = found.may_save_s, point.is_certain = found.is_certain;
      point.causes = std::move(found.causes);
      if (found.cell) {
        point.has_way = true;
        point.time_s = point.most_s = found.cell->time_s;
        point.moves = found.cell->moves, point.distance_m = found.cell->distance_m;
        point.hatch = std::move(found.hatch);
        if (profile.loads.empty()) {
          const auto first = legs[leg].grips.begin() + static_cast<std::ptrdiff_t>(r == 0 ? reached : before + 1);
          point.most_s = std::max(
              point.most_s,
              ways.longest_s(std::vector(first, legs[leg].grips.begin() + static_cast<std::ptrdiff_t>(reached) + 1)));
        }
        point.verdict = std::isinf(point.most_s) ? HomeVerdict::NoWay : verdict_of(point.most_s, request);
      }
      along.waypoints.push_back(std::move(point));
      const auto rank = [&](std::size_t i) {
        const auto& p = along.waypoints[i];
        return std::pair(p.verdict == HomeVerdict::NoWay, p.most_s);
      };
      if (const std::size_t last = along.waypoints.size() - 1; rank(last) > rank(along.worst)) along.worst = last;
    }
  }
  return along;
}

namespace {

/// `cells_to(to, places, cells)` measures the paths from all places to one, and leaves out those that lie in a limit
/// zone: these are routes of their own.
struct LimitedCell {};
using FoundCell = std::variant<std::monostate, Matrix::Cell, LimitedCell>;

template <class CellsTo>
Matrix compute(const HandrailGraph& graph, const Profile& profile, Objective by, const CostTable& table,
               const CellsTo& cells_to) {
  Matrix matrix;
  matrix.by = by;
  matrix.head = begin_answer(graph, profile, {.from = "", .to = "", .by = by});
  const LimitZones limits(graph, table);
  const auto places = detail::find_present_places(graph, table);
  const std::size_t n = places.size();
  for (const auto& place : places) matrix.places.push_back(place.place);
  matrix.cells.resize(n * n);
  const auto& named = graph.structure().places;
  tbb::parallel_for(std::size_t{0}, n, [&](std::size_t to) {
    // All paths first: a route below may let this core begin with another place, over the same scratch.
    std::vector<FoundCell> found(n);
    cells_to(limits, places, to, found);
    for (std::size_t from = 0; from < n; ++from) {
      auto& cell = matrix.cells[from * n + to];
      if (const auto* measured = std::get_if<Matrix::Cell>(&found[from]))
        cell = *measured;
      else if (std::holds_alternative<LimitedCell>(found[from]))
        cell = cell_of(find_route(
            graph, profile,
            {.from = named[places[from].place.index()].id, .to = named[places[to].place.index()].id, .by = by}));
    }
  });
  return matrix;
}

}  // namespace

Matrix compute_matrix(const HandrailGraph& graph, const Profile& profile, Objective by) {
  const CostTable table = compute_costs(graph, profile, by);
  const Pace pace = pace_of(profile);
  tbb::enumerable_thread_specific<search::ShortestTree> trees;
  return compute(graph, profile, by, table,
                 [&](const LimitZones& limits, const auto& places, std::size_t to, std::vector<FoundCell>& found) {
                   search::ShortestTree& tree = trees.local();
                   tree.grow(graph.adjacency(), table.by_move, places[to].grips);
                   for (std::size_t from = 0; from < places.size(); ++from) {
                     const auto way = tree.way_from(graph.adjacency(), table.by_move, places[from].grips);
                     if (!way) continue;
                     if (limits.holds(*way))
                       found[from] = LimitedCell{};
                     else
                       found[from] = measure(graph, pace, *way);
                   }
                 });
}

Matrix detail::compute_matrix(const HandrailGraph& graph, const Profile& profile, Objective by,
                              const KnownCosts& known) {
  const Pace pace = pace_of(profile);
  tbb::enumerable_thread_specific<search::HierarchyQuery> queries;
  return compute(graph, profile, by, known.table,
                 [&](const LimitZones& limits, const auto& places, std::size_t to, std::vector<FoundCell>& found) {
                   search::HierarchyQuery& query = queries.local();
                   query.aim(known.metric, places[to].grips);
                   for (std::size_t from = 0; from < places.size(); ++from) {
                     const auto start = query.start(places[from].grips);
                     if (!start) continue;
                     // Without keeping the path.
                     Matrix::Cell cell;
                     auto node = start->node;
                     bool is_limited = limits.holds(GripId(node));
                     while (const auto* arc = query.next(graph.adjacency(), known.table.by_move, node)) {
                       go_on(cell, graph.moves()[arc->move], known.seconds_by_move[arc->move], pace);
                       if (!limits.is_none()) is_limited = is_limited || limits.holds(MoveId(arc->move));
                       node = arc->head;
                     }
                     if (is_limited || limits.holds(GripId(node)))
                       found[from] = LimitedCell{};
                     else
                       found[from] = cell;
                   }
                 });
}

}  // namespace holdfast::route
