// SPDX-License-Identifier: GPL-3.0-or-later
#include "back_impl.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>

#include "holdfast/route/some_path.h"
#include "pieces_impl.h"

namespace holdfast::plan::detail {

namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();
constexpr double noise_s = 1e-6;

double stow_all_s(const std::vector<const model::Load*>& loads) {
  double seconds = 0;
  for (const auto* load : loads) seconds += load->stow_s;
  return seconds;
}

/// The path of a crew member with the other in tow, from any grip to a hatch: proven ones, found as they are asked for.
/// Paths known from other grips are tried first, for they cost little; a search of its own is the last that is tried.
class CarriedHome {
 public:
  CarriedHome(Legs& legs, const model::Load& crew_load) : legs_(legs), loads_{&crew_load} {}

  struct Answer {
    double time_s = infinity;
    bool is_certain = true;  ///< of no path: that there is none is proven
    std::vector<route::Cause> causes = {};
  };
  /// `may_search`: with false what would need a search is not known.
  const Answer& from(const Site& site, const std::string& key, const Closings& closings,
                     const std::vector<GripId>& hatches, GripId grip, bool may_search) {
    Known &known = known_[key], &elsewhere = of_site_[&site];
    for (Known* paths : {&known, &elsewhere})
      if (paths->path_at.empty()) paths->path_at.resize(site.graph->grips().size());
    const auto [entry, is_new] = known.answers.try_emplace(grip.value);
    Entry& at = entry->second;
    if (!is_new && (at.is_final || !may_search)) return at.answer;
    if (try_known(site, closings, hatches, known, elsewhere, grip, at)) return at.answer;
    if (!may_search) {
      at.answer.is_certain = false;
      return at.answer;
    }
    at.is_final = true;
    // To the hatch grip where one without a load would end, else to any.
    const auto& plain = legs_.find({&site, {}, route::Objective::Time, {grip}, hatches}, closings);
    if (!plain.leg) {
      at.answer = {infinity, false, {}};
      return at.answer;
    }
    const route::Profile profile{.kit = legs_.kit(),
                                 .suit = *site.suit,
                                 .closures = legs_.table(site, route::Objective::Time, closings).closures,
                                 .loads = loads_,
                                 .counts_handling = false};
    const std::vector<GripId> nearest = {plain.leg->grips.back()};
    for (const auto* to : {&nearest, &hatches}) {
      auto found = route::find_some_path(*site.graph, profile, legs_.cache(site, loads_, closings), grip, *to);
      if (!found.grips.empty()) {
        at.answer = {found.time_s, true, {}};
        keep(known, found.grips), keep(elsewhere, found.grips);
        break;
      }
      at.answer = {infinity, found.is_certain && !found.causes.empty(), std::move(found.causes)};
      if (to == &nearest && hatches.size() == 1) break;
    }
    return at.answer;
  }

 private:
  struct Place {
    std::size_t path, index;
  };
  struct Entry {
    Answer answer;
    bool is_final = false;
  };
  struct Known {
    std::vector<std::vector<GripId>> paths;
    std::vector<std::optional<Place>> path_at;  // by grip
    std::map<std::uint32_t, Entry> answers;
  };

  static void keep(Known& known, const std::vector<GripId>& grips) {
    for (std::size_t i = 0; i < grips.size(); ++i)
      if (auto& at = known.path_at[grips[i].index()]; !at) at = Place{known.paths.size(), i};
    known.paths.push_back(grips);
  }

  bool try_known(const Site& site, const Closings& closings, const std::vector<GripId>& hatches, Known& known,
                 Known& elsewhere, GripId grip, Entry& at) {
    const auto passes = [&](std::vector<GripId> grips) {
      const auto time_s = legs_.time_along(site, loads_, closings, grips);
      if (!time_s) return false;
      at.answer = {*time_s, true, {}};
      at.is_final = true;
      keep(known, grips), keep(elsewhere, grips);
      return true;
    };
    const auto rest_of = [](const Known& paths, const Place& place) {
      const auto& path = paths.paths[place.path];
      return std::vector<GripId>(path.begin() + static_cast<std::ptrdiff_t>(place.index), path.end());
    };
    if (const auto& place = known.path_at[grip.index()]; place && passes(rest_of(known, *place))) return true;
    const OpenTable& open = legs_.table(site, route::Objective::Time, closings);
    // One that was found while something else stood: open to the body still, and to the load by its sweeps.
    if (const auto& place = elsewhere.path_at[grip.index()]) {
      auto grips = rest_of(elsewhere, *place);
      bool is_open = true;
      for (std::size_t i = 0; i + 1 < grips.size() && is_open; ++i) {
        const auto move = site.graph->find_move(grips[i], grips[i + 1]);
        is_open = move && !open.costs[move->index()].is_blocked();
      }
      if (is_open && open.is_open[grips.back().index()] && passes(std::move(grips))) return true;
    }
    // On to a grip beside it from which a path is known, the quickest first.
    std::vector<std::pair<double, GripId>> beside;
    for (const auto& arc : site.graph->adjacency().out(grip.value)) {
      if (open.costs[arc.move].is_blocked() || !known.path_at[arc.head]) continue;
      const auto answer = known.answers.find(arc.head);
      const auto& place = *known.path_at[arc.head];
      beside.emplace_back(answer != known.answers.end() && std::isfinite(answer->second.answer.time_s)
                              ? answer->second.answer.time_s
                              : static_cast<double>(known.paths[place.path].size() - place.index),
                          GripId(arc.head));
    }
    std::sort(beside.begin(), beside.end());
    constexpr std::size_t most_beside = 3;
    if (beside.size() > most_beside) beside.resize(most_beside);
    for (const auto& [rank, head] : beside) {
      std::vector<GripId> grips = {grip};
      const auto rest = rest_of(known, *known.path_at[head.index()]);
      grips.insert(grips.end(), rest.begin(), rest.end());
      if (passes(std::move(grips))) return true;
    }
    // As somebody without a load would go.
    const auto& plain = legs_.find({&site, {}, route::Objective::Time, {grip}, hatches}, closings);
    return plain.leg && open.is_open[grip.index()] && passes(plain.leg->grips);
  }

  Legs& legs_;
  const std::vector<const model::Load*> loads_;
  std::map<std::string, Known> known_;    // by configuration, suit and closings
  std::map<const Site*, Known> of_site_;  // whatever stood there
};

class BackFrom {
 public:
  BackFrom(const model::Model& model, const model::Excursion& excursion, Legs& legs, const History& history,
           const PlanOptions& options)
      : model_(model), excursion_(excursion), legs_(legs), history_(history), options_(options) {
    for (const auto& load : model.kit.loads)
      if (load.is_crew && !crew_load_) crew_load_ = &load;
    if (crew_load_) carried_home_.emplace(legs, *crew_load_);
  }
  [[nodiscard]] bool has_crew_load() const { return crew_load_ != nullptr; }

  /// By oneself. An upper bound: what is carried is tied down at once, but what is kept is carried all the way.
  [[nodiscard]] double alone_s(const Moment& m) {
    const auto& suit = suit_of(m.crew);
    const double factor = factor_of(m.crew);
    const Site& site = legs_.site(m.configuration, suit);
    const auto hatches = hatch_grips(site);
    const double before_s = m.wait_s + m.move_s + (m.in_restraint ? excursion_.values.restraint_leave_s * factor : 0) +
                            2 * suit.tether_hook_s * factor * static_cast<double>(m.tethers_left) +
                            excursion_.ingress_s;
    const auto from = [&](const GripRef& ref) -> double {
      const auto grip = find_grip(*site.graph, ref);
      if (!grip) return infinity;
      if (m.kept.empty()) {
        const double free_s = legs_.home(site, hatches, closings_of(m))[grip->index()];
        return free_s == 0 ? 0 : free_s * factor + stow_all_s(m.carried) * factor;
      }
      const auto& outcome = legs_.find({&site, m.kept, route::Objective::Time, {*grip}, hatches}, closings_of(m));
      const double down_s = stow_all_s(m.carried) - stow_all_s(m.kept);
      return outcome.leg ? (outcome.leg->time_s + down_s) * factor : infinity;
    };
    double longest_s = from(m.grip);
    if (m.next) longest_s = std::max(longest_s, from(*m.next));
    return before_s + longest_s;
  }

  /// What closes at a moment, by the clock: a wait that ends when somebody else is done is simulated after what they
  /// leave standing meanwhile. Into what `Moment::closings` counts here.
  [[nodiscard]] std::size_t closings_at(double at_s) {
    std::vector<const Stood*> standing;
    for (const Stood& stood : history_.stood)
      if (stood.from_s <= at_s + 1e-9 && at_s < stood.to_s - 1e-9) standing.push_back(&stood);
    std::stable_sort(standing.begin(), standing.end(),
                     [](const Stood* x, const Stood* y) { return x->item < y->item; });
    Closings now;
    now.rails = options_.closed;
    for (const Stood* stood : standing) now.obstacles.push_back(stood->obstacle);
    const std::string key = now.key();
    const auto [known, is_new] = closings_by_key_.try_emplace(key, closings_.size());
    if (is_new) closings_.push_back(std::move(now));
    return known->second;
  }

  struct Carried {
    double time_s = infinity;
    bool is_certain = true;
    bool cannot_come = false;  ///< the helper has no path to the victim
    std::vector<route::Cause> causes = {};
  };
  enum class HelperAt { Out, Hatch, Inside };
  /// The victim stays, at the worse end of a move that was under way; the helper ends theirs, ties down what both
  /// carry, comes, takes them, and both return. An upper bound.
  [[nodiscard]] Carried carried_s(const Moment& victim, const Moment& helper, HelperAt helper_at) {
    const auto& suit = suit_of(helper.crew);
    const double factor = factor_of(helper.crew);
    const Site& site = legs_.site(victim.configuration, suit);
    const auto hatches = hatch_grips(site);
    const Closings& closings = closings_of(victim);
    double come_s = helper_at == HelperAt::Inside ? excursion_.egress_s : 0;
    std::vector<std::vector<GripId>> starts = {hatches};
    if (helper_at == HelperAt::Out) {
      come_s = helper.move_s + (helper.in_restraint ? excursion_.values.restraint_leave_s * factor : 0);
      starts.clear();
      for (const auto& ref : {std::optional(helper.grip), helper.next})
        if (ref) {
          const auto grip = find_grip(*site.graph, *ref);
          starts.push_back(grip ? std::vector<GripId>{*grip} : std::vector<GripId>{});
        }
    }
    const std::string key = key_of(victim, suit);
    Carried carried;
    double longest_s = 0;
    for (const auto& ref : {std::optional(victim.grip), victim.next}) {
      if (!ref) continue;
      const auto at = find_grip(*site.graph, *ref);
      if (!at) return carried;
      // From the worse end of the helper's move.
      double leg_s = 0;
      for (const auto& from : starts)
        leg_s = std::max(leg_s, from.empty() ? infinity : legs_.home(site, from, closings, false)[at->index()]);
      if (std::isinf(leg_s)) {
        carried.cannot_come = true;
        carried.is_certain = false;
        return carried;
      }
      // Between stops a search is made only where the last one found a path: where none is, none is told at once.
      const bool may_search = victim.is_stop || !has_failed_[key];
      const auto& home = carried_home_->from(site, key, closings, hatches, *at, may_search);
      if (may_search || std::isfinite(home.time_s)) has_failed_[key] = std::isinf(home.time_s);
      if (std::isinf(home.time_s)) {
        carried.is_certain = home.is_certain;
        carried.causes = home.causes;
        return carried;
      }
      longest_s = std::max(longest_s, leg_s + home.time_s);
    }
    const double hooks_s =
        2 * suit.tether_hook_s *
        static_cast<double>(victim.tethers_left + (helper_at == HelperAt::Out ? helper.tethers_left : 0));
    carried.time_s = victim.wait_s + come_s +
                     factor * (longest_s + stow_all_s(helper.carried) + stow_all_s(victim.carried) +
                               (victim.in_restraint ? excursion_.values.restraint_leave_s.value : 0) +
                               2 * crew_load_->stow_s + hooks_s) +
                     excursion_.ingress_s;
    return carried;
  }

 private:
  [[nodiscard]] const model::Suit& suit_of(CrewId crew) const {
    return *model_.kit.find_suit(excursion_.crew[crew.index()].suit);
  }
  [[nodiscard]] double factor_of(CrewId crew) const {
    return std::max(1.0, detail::factor_of(options_, excursion_.crew[crew.index()]));
  }
  [[nodiscard]] std::vector<GripId> hatch_grips(const Site& site) const {
    return grips_near(site, model_.structure, hatches_of(model_.structure, site.configuration));
  }
  [[nodiscard]] const Closings& closings_of(const Moment& m) const { return closings_[m.closings]; }
  [[nodiscard]] static std::string key_of(const Moment& m, const model::Suit& suit) {
    std::string key = fmt::format("{} {}", suit.id, m.closings);
    for (const auto& [id, position] : m.configuration.positions) key += " " + id + "=" + position;
    return key;
  }

  const model::Model& model_;
  const model::Excursion& excursion_;
  Legs& legs_;
  const History& history_;
  const PlanOptions& options_;
  const model::Load* crew_load_ = nullptr;
  std::optional<CarriedHome> carried_home_;
  std::vector<Closings> closings_;  // each once
  std::map<std::string, std::size_t> closings_by_key_;
  std::map<std::string, bool> has_failed_;  // by key: the last search for a path with somebody in tow
};

/// Moments in time, those of throws among them: what everybody's last moment is, with the configuration and what
/// stands then. While a throw is under way everybody waits for its end.
class Clock {
 public:
  Clock(const History& history, const model::Configuration& first) : history_(history), first_(first) {}

  void put_in_time(Moment& m) const {
    m.configuration = first_;
    m.wait_s = 0;
    for (const Throw& change : history_.throws) {
      if (change.from_s > m.at_s + 1e-9) break;
      m.configuration = change.after;
      m.wait_s = std::max(m.wait_s, change.to_s - m.at_s);
    }
  }

 private:
  const History& history_;
  const model::Configuration& first_;
};

}  // namespace

void look_back(const model::Model& model, const model::Excursion& excursion, Legs& legs, const History& history,
               Plan& plan) {
  BackFrom from(model, excursion, legs, history, plan.options);
  const Clock clock(history, plan.configuration);
  const double limit_s = model.kit.design.emergency_return_s;
  std::map<std::string, std::size_t> told;
  const auto tell = [&](ViolationKind kind, const Moment& m, const char* what, double value_s, double allowed_s,
                        bool is_incapacitated, std::vector<route::Cause> causes, bool cannot_come) {
    // One for all moments of a row; its number is the worst.
    const auto [entry, is_new] = told.try_emplace(
        fmt::format("{} {} {} {}", what, m.crew.value, m.row, is_incapacitated), plan.violations.size());
    if (!is_new) {
      Violation& v = plan.violations[entry->second];
      v.to_s = std::max(v.to_s, m.at_s);
      if (value_s > v.value) v.value = value_s;
      return;
    }
    Violation v;
    v.kind = kind;
    v.at_s = v.to_s = m.at_s;
    v.crew = m.crew;
    v.subject = what;
    v.value = value_s, v.limit = allowed_s;
    v.causes = std::move(causes);
    v.is_incapacitated = is_incapacitated;
    // Where it is: a place; on a leg the rail, and where it goes.
    const std::string rail = model.structure.rails[m.grip.rail.index()].id;
    v.other = m.is_stop && m.place ? model.structure.places[m.place->index()].id : rail;
    if (!m.is_stop && m.row < plan.rows.size()) v.names = {"leg", plan.rows[m.row].subject};
    if (cannot_come) v.names.emplace_back("helper-cannot-come");
    if (m.row < plan.rows.size()) v.at = plan.rows[m.row].hand, v.has_at = true;
    plan.violations.push_back(std::move(v));
  };
  const auto tell_if_late = [&](const Moment& m, double time_s, bool is_incapacitated) {
    if (time_s > limit_s + noise_s)
      tell(ViolationKind::ReturnTooLate, m, "emergency", time_s, limit_s, is_incapacitated, {}, false);
    if (m.at_s + time_s > excursion.limit_s + noise_s)
      tell(ViolationKind::ReturnTooLate, m, "limit", m.at_s + time_s, excursion.limit_s, is_incapacitated, {}, false);
  };

  // What happens, in time: a moment of somebody, or a throw that begins.
  struct Event {
    double at_s;
    std::optional<std::size_t> moment;
  };
  std::vector<Event> events;
  for (std::size_t i = 0; i < history.moments.size(); ++i) events.push_back({history.moments[i].at_s, i});
  for (const Throw& change : history.throws)
    for (const double t : {change.from_s, change.to_s}) events.push_back({t, std::nullopt});
  std::stable_sort(events.begin(), events.end(), [](const Event& x, const Event& y) { return x.at_s < y.at_s; });

  std::vector<std::optional<Moment>> last(excursion.crew.size());  // of each crew member, as it holds now
  const auto is_inside = [&](std::size_t crew, double at_s) { return plan.totals[crew].inside_at_s <= at_s + noise_s; };
  for (std::size_t e = 0; e < events.size(); ++e) {
    const auto& event = events[e];
    if (event.moment) {
      const Moment& m = history.moments[*event.moment];
      last[m.crew.index()] = m;
    }
    // All that happens at one moment is looked at together, once.
    if (e + 1 < events.size() && events[e + 1].at_s <= event.at_s + 1e-9) continue;
    const std::size_t closings = from.closings_at(event.at_s);
    for (auto& m : last)
      if (m) m->at_s = event.at_s, m->closings = closings, clock.put_in_time(*m);
    for (std::size_t c = 0; c < last.size(); ++c) {
      if (!last[c] || is_inside(c, event.at_s)) continue;
      const Moment& m = *last[c];
      Back back;
      back.at_s = m.at_s;
      back.crew = m.crew;
      back.row = std::min(m.row, plan.rows.size() - 1);
      back.alone_s = from.alone_s(m);
      if (std::isinf(back.alone_s)) {
        tell(ViolationKind::ReturnNotProven, m, "no-path", infinity, limit_s, false, {}, false);
      } else {
        tell_if_late(m, back.alone_s, false);
      }
      if (excursion.crew.size() == 2 && from.has_crew_load()) {
        const std::size_t other = 1 - c;
        using HelperAt = BackFrom::HelperAt;
        // Who has not left the hatch yet comes from there; who is inside again comes out first.
        const HelperAt helper_at = is_inside(other, event.at_s) ? HelperAt::Inside
                                   : last[other]                ? HelperAt::Out
                                                                : HelperAt::Hatch;
        Moment helper = last[other].value_or(Moment{});
        helper.crew = CrewId(other);
        if (helper_at == HelperAt::Inside) helper.carried.clear();
        const auto carried = from.carried_s(m, helper, helper_at);
        if (std::isinf(carried.time_s)) {
          back.is_incapacitated_proven = false;
          tell(carried.is_certain ? ViolationKind::ReturnTooLate : ViolationKind::ReturnNotProven, m,
               carried.is_certain ? "no-path" : "not-proven", infinity, limit_s, true, carried.causes,
               carried.cannot_come);
        } else {
          back.incapacitated_s = carried.time_s;
          tell_if_late(m, carried.time_s, true);
        }
      }
      plan.back.push_back(back);
      const std::size_t now = plan.back.size() - 1;
      const auto ends_s = [](const Back& b) { return b.at_s + b.longest_s(); };
      if (!plan.worst_back || back.longest_s() > plan.back[*plan.worst_back].longest_s()) plan.worst_back = now;
      if (!plan.worst_limit || ends_s(back) > ends_s(plan.back[*plan.worst_limit])) plan.worst_limit = now;
    }
  }
}

}  // namespace holdfast::plan::detail
