// SPDX-License-Identifier: GPL-3.0-or-later
#include "order_travel_impl.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "holdfast/route/costs.h"
#include "holdfast/search/shortest.h"
#include "worksites_impl.h"

namespace holdfast::plan::detail {

std::int64_t to_us(double seconds) { return static_cast<std::int64_t>(std::llround(seconds * 1e6)); }

JobTravel::JobTravel(const model::Model& model, const model::Configuration& configuration,
                     const model::Excursion& excursion, const PlanOptions& options, Legs& legs, std::vector<Job> jobs,
                     std::map<std::size_t, ItemId> restraint_of_socket, std::vector<Fixed> fixed)
    : model_(model),
      structure_(model.structure),
      configuration_(configuration),
      excursion_(excursion),
      options_(options),
      legs_(legs),
      jobs_(std::move(jobs)),
      restraint_of_socket_(std::move(restraint_of_socket)),
      fixed_(std::move(fixed)) {
  for (const auto& member : excursion.crew) factors_.push_back(factor_of(options, member));
  (void)number_of({});  // the start is state 0
  do_begins();
  compute_bounds();
}

int JobTravel::number_of(const State& state) const {
  const auto [known, is_new] = numbers_.try_emplace(state, static_cast<int>(states_.size()));
  if (is_new) states_.push_back(state);
  return known->second;
}

const Site& JobTravel::site(int crew) const {
  const auto& member = excursion_.crew[static_cast<std::size_t>(crew)];
  return legs_.site(configuration_, *model_.kit.find_suit(member.suit));
}

const model::Load& JobTravel::load_of(ItemId item) const {
  return load_of_item(model_.kit, excursion_, options_, item);
}

double JobTravel::content_kg(ItemId container) const {
  double mass_kg = 0;
  std::vector<ItemId> open = {container};
  while (!open.empty()) {
    const ItemId at = open.back();
    open.pop_back();
    for (std::size_t i = 0; i < excursion_.items.size(); ++i)
      if (excursion_.items[i].in == at) {
        mass_kg += load_of(ItemId(i)).mass_kg;
        open.emplace_back(i);
      }
  }
  return mass_kg;
}

std::vector<const model::Load*> JobTravel::loads_of_items(const std::vector<ItemId>& carried) const {
  std::vector<const model::Load*> loads;
  for (const ItemId item : carried) loads.push_back(legs_.heavier(load_of(item), content_kg(item)));
  return loads;
}

std::vector<const model::Load*> JobTravel::loads_of(int crew, ItemSet held) const {
  std::vector<ItemId> carried = fixed_[static_cast<std::size_t>(crew)].held;
  for (std::size_t i = 0; i < items.size(); ++i)
    if (held & (ItemSet{1} << i)) carried.push_back(items[i]);
  return loads_of_items(carried);
}

Obstacle JobTravel::obstacle(SocketId socket) const {
  return obstacle_in_socket(structure_, structure_.sockets[socket.index()], configuration_,
                            load_of(restraint_of_socket_.at(socket.index())).size_m);
}

Closings JobTravel::closings(const State& state, std::optional<SocketId> more) const {
  Closings closings;
  closings.rails = options_.closed;
  if (state.beside) closings.obstacles.push_back(obstacle(*state.beside));
  if (more && more != state.beside) closings.obstacles.push_back(obstacle(*more));
  return closings;
}

std::vector<GripId> JobTravel::grips_of(const Site& site, PlaceId id) const {
  const auto& place = structure_.places[id.index()];
  if (!structure_.is_present(place, configuration_)) return {};
  return site.graph->find_grips_within(structure_.position(place, configuration_), place.within_m);
}

std::vector<GripId> JobTravel::grips_of(const Site& site, const Job& job) const {
  if (job.socket)
    return grips_to_handle(site, structure_, model_.kit, excursion_.values.handling_reach_m, obstacle(*job.socket),
                           job.place);
  return job.place ? grips_of(site, *job.place) : std::vector<GripId>();
}

std::vector<PlaceId> JobTravel::hatches() const { return hatches_of(structure_, configuration_); }

bool JobTravel::walk(Walk& w, std::vector<GripId> to, const std::string& place, const Closings& closings) const {
  const auto& member = excursion_.crew[static_cast<std::size_t>(w.crew)];
  LegQuestion question;
  question.site = &site(w.crew);
  question.loads = w.loads;
  question.by = objective_of(member.by.value_or(excursion_.by.value_or(model::LegAim::Time)));
  question.to_place = place;
  const OpenTable& open = legs_.table(*question.site, question.by, closings);
  if (w.state.grip) {
    question.from = {*w.state.grip};
    if (open.is_open[w.state.grip->index()] && std::find(to.begin(), to.end(), *w.state.grip) != to.end()) return true;
  } else {
    question.from_place = structure_.places[member.start.index()].id;
    question.from = grips_of(*question.site, member.start);
  }
  std::erase_if(to, [&](GripId g) { return !open.is_open[g.index()]; });
  if (to.empty()) return false;
  question.to = std::move(to);
  const LegOutcome& outcome = legs_.find(question, closings);
  if (!outcome.leg) {
    w.none = outcome.none;
    return false;
  }
  w.state.grip = outcome.leg->grips.back();
  w.state.beside.reset();
  w.time_s += outcome.leg->time_s * factor(w.crew);
  w.moves += outcome.leg->moves.size();
  return true;
}

bool JobTravel::walk_to(Walk& w, PlaceId place, std::optional<SocketId> standing) const {
  return walk(w, grips_of(site(w.crew), place), structure_.places[place.index()].id, closings(w.state, standing));
}

bool JobTravel::walk_to_handle(Walk& w, const Job& job, bool is_standing) const {
  return walk(w, grips_of(site(w.crew), job), "", closings(w.state, is_standing ? job.socket : std::nullopt));
}

void JobTravel::leave(Walk& w) const {
  if (!w.state.restraint) return;
  w.time_s += excursion_.values.restraint_leave_s * factor(w.crew);
  w.state.beside = w.state.restraint;
  w.state.restraint.reset();
}

bool JobTravel::do_job(Walk& w, const Job& job) const {
  switch (job.kind) {
    case Job::Kind::Task:
      if (!job.socket) {
        leave(w);
        const auto& task = excursion_.tasks[job.task.index()];
        const auto now = closings(w.state, std::nullopt);
        if (const auto grip = choose_work_grip(legs_, structure_, site(w.crew), task, w.state.grip, now))
          return walk(w, {*grip}, "", now);
        return !job.place || walk_to(w, *job.place);
      }
      if (w.state.restraint == job.socket) return true;
      leave(w);
      if (!walk_to_handle(w, job, true)) return false;
      w.time_s += excursion_.values.restraint_enter_s * factor(w.crew);
      w.state.restraint = job.socket;
      w.state.beside.reset();
      return true;
    case Job::Kind::Take:
    case Job::Kind::Put:
      leave(w);
      return walk_to(w, *job.place);
    case Job::Kind::SetUp:
      leave(w);
      if (!walk_to(w, *job.place) || !walk_to_handle(w, job, false)) return false;
      w.state.beside = job.socket;
      return true;
    case Job::Kind::TakeDown:
      leave(w);
      if (!walk_to_handle(w, job, true)) return false;
      w.state.beside.reset();
      return true;
  }
  return false;
}

std::optional<Arrival> JobTravel::arrival(const Walk& w) const {
  return Arrival{to_us(w.time_s), static_cast<int>(w.moves), number_of(w.state)};
}

std::optional<Arrival> JobTravel::arrive(int crew, int state, ItemSet held, int task) const {
  Walk w{crew, states_[static_cast<std::size_t>(state)], 0, 0, loads_of(crew, held), {}};
  if (!do_job(w, jobs_[static_cast<std::size_t>(task)])) return std::nullopt;
  return arrival(w);
}

std::optional<NoLeg> JobTravel::why_not_from_start(int crew, ItemSet held, const std::vector<int>& fetched,
                                                   int job) const {
  Walk w{crew, states_[static_cast<std::size_t>(begun(crew).state)], 0, 0, loads_of(crew, 0), {}};
  // With bare hands to where things are fetched, which is told by itself where it fails; then with all of them: those
  // are legs that the search asks too.
  for (const int take : fetched)
    if (!do_job(w, jobs_[static_cast<std::size_t>(take)])) return std::nullopt;
  w.loads = loads_of(crew, held);
  if (do_job(w, jobs_[static_cast<std::size_t>(job)])) return std::nullopt;
  return w.none;
}

std::optional<Arrival> JobTravel::come_home(int crew, int state, ItemSet held) const {
  Walk w{crew, states_[static_cast<std::size_t>(state)], 0, 0, loads_of(crew, held), {}};
  const auto& member = excursion_.crew[static_cast<std::size_t>(crew)];
  if (member.ends > 0) {
    Doing d{std::move(w), fixed_[static_cast<std::size_t>(crew)].held, {}, {}};
    for (std::size_t i = 0; i < items.size(); ++i)
      if (held & (ItemSet{1} << i)) d.carried.push_back(items[i]);
    d.lies = fixed_[static_cast<std::size_t>(crew)].lies;
    for (std::size_t a = member.actions.size() - member.ends; a < member.actions.size(); ++a)
      if (!do_action(d, member.actions[a])) return std::nullopt;
    d.walk.loads = loads_of_items(d.carried);
    w = std::move(d.walk);
  }
  leave(w);
  if (w.state.grip) {
    auto inside = hatches();
    if (inside.empty()) inside.push_back(excursion_.crew[static_cast<std::size_t>(crew)].start);
    if (!walk(w, grips_near(site(crew), structure_, inside), "", closings(w.state, std::nullopt))) return std::nullopt;
  }
  w.time_s += excursion_.ingress_s;
  return arrival(w);
}

// The least times without loads, prices and what is set up, from any grip where the one job may end to any where the
// next may be done.
void JobTravel::compute_bounds() {
  const std::size_t n = jobs_.size();
  bounds_.assign((n + 1) * (n + 1), std::nullopt);
  const double factor_s = *std::min_element(factors_.begin(), factors_.end());
  // Work of `end`, whatever its legs are.
  double end_s = std::numeric_limits<double>::infinity();
  for (std::size_t c = 0; c < excursion_.crew.size(); ++c) end_s = std::min(end_s, least_end_s(static_cast<int>(c)));
  const auto& values = excursion_.values;
  std::vector<std::string> suits;
  for (std::size_t c = 0; c < excursion_.crew.size(); ++c) {
    const auto& member = excursion_.crew[c];
    if (std::find(suits.begin(), suits.end(), member.suit) != suits.end()) continue;
    suits.push_back(member.suit);
    const Site& at = site(static_cast<int>(c));
    const graph::HandrailGraph& graph = *at.graph;
    const route::Profile profile{
        .kit = model_.kit, .suit = *at.suit, .closures = {options_.closed}, .prices_caution = false};
    std::array<std::vector<search::Cost>, 2> costs;
    costs[0] = route::compute_costs(graph, profile, route::Objective::Time).by_move;
    costs[1] = route::compute_costs(graph, profile, route::Objective::Moves).by_move;
    std::vector<std::vector<GripId>> ends(n + 1);
    for (std::size_t j = 0; j < n; ++j) ends[j] = grips_of(at, jobs_[j]);
    for (std::size_t k = 0; k < excursion_.crew.size(); ++k) {
      for (const GripId g : grips_of(at, excursion_.crew[k].start)) ends[n].push_back(g);
      // After `begin`; graphs of other suits number their grips otherwise.
      if (const auto& grip = states_[static_cast<std::size_t>(begun_[k].state)].grip)
        if (const auto same = find_grip(graph, ref_of(*site(static_cast<int>(k)).graph, *grip)))
          ends[n].push_back(*same);
    }
    const auto is_anywhere = [&](std::size_t j) { return j < n && !jobs_[j].place && !jobs_[j].socket; };
    for (std::size_t to = 0; to <= n; ++to) {
      auto inside = hatches();
      if (inside.empty()) inside.push_back(member.start);
      std::vector<search::Seed> seeds;
      for (const GripId g : to < n ? ends[to] : grips_near(at, structure_, inside)) seeds.push_back({g.value, {}});
      std::array<search::ShortestTree, 2> trees;
      if (!is_anywhere(to))
        for (std::size_t k = 0; k < 2; ++k) trees[k].grow(graph.adjacency(), costs[k], seeds);
      for (std::size_t from = 0; from <= n; ++from) {
        if (from == to && from < n) continue;
        const bool is_free = is_anywhere(from) || is_anywhere(to) || (from == n && to == n);
        search::Cost time = is_free ? search::Cost() : search::Cost::blocked(), moves = time;
        if (!is_free)
          for (const GripId g : ends[from]) {
            time = std::min(time, trees[0].cost(g.value));
            moves = std::min(moves, trees[1].cost(g.value));
          }
        if (time.is_blocked() || moves.is_blocked()) continue;
        double time_s = 0;
        if (time.primary() > 0)  // each move was rounded up by a unit at most
          time_s = static_cast<double>(time.primary() - time.second()) / search::cost_units_per_second +
                   at.suit->start_s + at.suit->stop_s;
        const auto restraint_of = [&](std::size_t j) {
          return j < n && jobs_[j].kind == Job::Kind::Task ? jobs_[j].socket : std::nullopt;
        };
        const auto left = restraint_of(from), entered = restraint_of(to);
        if (left && left == entered) {
          time_s = 0;  // without leaving it
          moves = search::Cost();
        } else {
          time_s += (left ? values.restraint_leave_s.value : 0) + (entered ? values.restraint_enter_s.value : 0);
        }
        LegBound bound{static_cast<std::int64_t>(std::floor(time_s * factor_s * 1e6)),
                       static_cast<int>(moves.primary())};
        if (to == n) bound.time_us += static_cast<std::int64_t>(std::floor((excursion_.ingress_s + end_s) * 1e6));
        auto& best = bounds_[from * (n + 1) + to];
        if (!best) {
          best = bound;
        } else {
          best->time_us = std::min(best->time_us, bound.time_us);
          best->moves = std::min(best->moves, bound.moves);
        }
      }
    }
  }
}

std::optional<LegBound> JobTravel::lower_bound(int from, int to) const {
  const std::size_t n = jobs_.size();
  const std::size_t row = from == order_start ? n : static_cast<std::size_t>(from);
  const std::size_t column = to == order_home ? n : static_cast<std::size_t>(to);
  return bounds_[row * (n + 1) + column];
}

}  // namespace holdfast::plan::detail
