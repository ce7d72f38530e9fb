// SPDX-License-Identifier: GPL-3.0-or-later
// An excursion's tasks as a problem of order, its orders simulated, and the sequences that come of them.

#include "holdfast/plan/order.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <set>

#include "back_impl.h"
#include "order_travel_impl.h"

namespace holdfast::plan {

using detail::Job;
using detail::JobTravel;
using detail::to_us;
using model::Action;
using model::ActionKind;
using model::Excursion;
using model::PlaceId;
using model::PlaceKind;
using model::SocketId;

namespace {

constexpr double noise_s = 1e-3;  // a finish that differs by no more is the same: sums of legs rounded to 1e-6 s
constexpr double score_parts = 1e6;
constexpr std::size_t most_judged = 8;   // whole simulations, each as long as `plan` takes
constexpr std::size_t most_in_vain = 3;  // of these, one after the other, where no order without violations is known
// Of orders told one by one: each partial order is compared with as many of its like, so more take much longer.
constexpr std::size_t most_told = 16, most_nodes_again = 100'000;

/// The excursion as jobs, and what the search is told of them.
struct Posed {
  std::vector<Job> jobs;
  std::vector<ItemId> items;                          ///< bit i of a set
  std::map<std::size_t, ItemId> restraint_of_socket;  ///< by socket
  OrderProblem problem;
};

std::size_t index_of(const std::vector<ItemId>& items, ItemId item) {
  return static_cast<std::size_t>(std::find(items.begin(), items.end(), item) - items.begin());
}

ItemId root_of(const Excursion& excursion, ItemId item) {
  while (excursion.items[item.index()].in) item = *excursion.items[item.index()].in;
  return item;
}

/// Moments of one kind or another that a task lies within: its windows and the day, cut to each other.
std::vector<OrderWindow> windows_of(const Excursion& excursion, const model::Task& task, double until_s) {
  if (task.windows.empty() && !task.needs_day) return {};
  std::vector<std::pair<double, double>> open;
  if (task.windows.empty())
    open.emplace_back(0, until_s);
  else
    open = detail::open_times(excursion, task);
  std::vector<std::pair<double, double>> days = {{0, until_s}};
  if (task.needs_day) {
    days.clear();
    double from_s = 0;
    for (const auto& [sunset_s, sunrise_s] : detail::nights_between(*excursion.orbit, 0, until_s)) {
      if (sunset_s > from_s) days.emplace_back(from_s, sunset_s);
      from_s = sunrise_s;
    }
    if (from_s < until_s) days.emplace_back(from_s, until_s);
  }
  std::vector<OrderWindow> windows;
  for (const auto& w : open)
    for (const auto& d : days)
      if (const double from_s = std::max(w.first, d.first), to_s = std::min(w.second, d.second); from_s <= to_s)
        windows.push_back({to_us(from_s), to_us(to_s)});
  // None would mean any time.
  if (windows.empty()) windows.push_back({to_us(until_s), to_us(until_s)});
  return windows;
}

[[noreturn]] void refuse(const model::Mark& mark, std::string code, std::string problem, std::string value,
                         std::string remedy) {
  throw model::InputError({{mark, "tasks", std::move(code), std::move(problem), std::move(value), std::move(remedy)}});
}

class Orderer {
 public:
  Orderer(const model::Model& model, const model::Configuration& configuration, const Excursion& excursion,
          const OrderOptions& options, const geometry::Scene* first)
      : model_(model),
        configuration_(configuration),
        excursion_(excursion),
        options_(options),
        legs_(model.structure, model.kit, configuration, first),
        fixed_(detail::fixed_of(excursion)) {
    answer_.given = &excursion;
    answer_.options = options;
    for (std::size_t e = 0; e < excursion.events.size(); ++e)
      if (excursion.events[e].is_throw()) answer_.throws.emplace_back(e);
  }

  ExcursionOrder run() {
    detail::check_starts(legs_, model_, configuration_, excursion_);
    pose();
    find_causes();
    if (answer_.causes.empty()) search();
    tell_changes();
    return std::move(answer_);
  }

 private:
  // ---- the problem -------------------------------------------------------------------------------------------------

  [[nodiscard]] bool is_fixed_task(std::size_t task) const {
    return std::any_of(fixed_.begin(), fixed_.end(), [&](const auto& fixed) { return fixed.tasks.count(task) > 0; });
  }
  /// Who handles the item under `begin` and `end`.
  [[nodiscard]] std::optional<std::size_t> handler_of(ItemId item) const {
    for (std::size_t c = 0; c < fixed_.size(); ++c)
      if (fixed_[c].items.count(item.index())) return c;
    return std::nullopt;
  }

  /// Which restraint goes into which socket: both in the order in which the file has them, after those of `begin`.
  void choose_restraints() {
    std::vector<ItemId> restraints;
    for (std::size_t i = 0; i < excursion_.items.size(); ++i)
      if (!excursion_.items[i].restraint.empty() && !excursion_.items[i].in && !handler_of(ItemId(i)))
        restraints.emplace_back(i);
    for (const auto& fixed : fixed_)
      for (const auto& [socket, item] : fixed.in_socket) posed_.restraint_of_socket[socket] = item;
    std::size_t next = 0;
    for (std::size_t t = 0; t < excursion_.tasks.size(); ++t) {
      const auto& task = excursion_.tasks[t];
      if (!task.restraint_in || posed_.restraint_of_socket.count(task.restraint_in->index()) || is_fixed_task(t))
        continue;
      if (restraints.empty()) {
        answer_.causes.push_back({.kind = OrderCauseKind::NoRestraint,
                                  .task = task.id,
                                  .other = model_.structure.sockets[task.restraint_in->index()].id});
        continue;
      }
      posed_.restraint_of_socket[task.restraint_in->index()] = restraints[next++ % restraints.size()];
    }
  }

  /// What must be in the hands of one who does the task, or lie where it is done: items as they are carried, each once.
  [[nodiscard]] std::vector<ItemId> carried_for(const model::Task& task) const {
    std::vector<ItemId> roots;
    for (const ItemId item : task.items)
      if (const ItemId root = root_of(excursion_, item); std::find(roots.begin(), roots.end(), root) == roots.end())
        roots.push_back(root);
    return roots;
  }

  [[nodiscard]] bool is_used_where_it_lies(ItemId item) const {
    for (const auto& task : excursion_.tasks) {
      const auto roots = carried_for(task);
      if (std::find(roots.begin(), roots.end(), item) != roots.end() && task.at != excursion_.items[item.index()].at)
        return false;
    }
    return true;
  }

  [[nodiscard]] bool is_hatch(PlaceId place) const {
    return model_.structure.places[place.index()].kind == PlaceKind::Hatch;
  }

  [[nodiscard]] PlaceId some_hatch() const {
    for (std::size_t p = 0; p < model_.structure.places.size(); ++p)
      if (model_.structure.places[p].kind == PlaceKind::Hatch) return PlaceId(p);
    return excursion_.crew.front().start;
  }

  /// A cable is laid tie by tie, from where it is then: no part of orders.
  void check_cables() const {
    for (const auto& member : excursion_.crew)
      for (const auto& action : member.actions)
        if (action.kind == ActionKind::Lay)
          refuse(action.mark, "not-ordered",
                 fmt::format("crew member \"{}\" lays the cable of \"{}\", which order does not put in its place",
                             member.id, excursion_.items[action.item->index()].id),
                 excursion_.items[action.item->index()].id,
                 "put its tasks in order without it, then add lay: to the sequence for holdfast plan");
    for (const auto& item : excursion_.items)
      if (!item.laid_file.empty())
        refuse(item.mark, "not-ordered",
               fmt::format("item \"{}\" is the coil of a cable that is laid, which order does not look at", item.id),
               item.id, "take the item out of the file, and back in for holdfast plan");
  }

  void pose() {
    check_cables();
    choose_restraints();
    if (!answer_.causes.empty()) return;
    std::set<std::size_t> moved;
    for (std::size_t t = 0; t < excursion_.tasks.size(); ++t)
      if (!is_fixed_task(t))
        for (const ItemId item : carried_for(excursion_.tasks[t]))
          if (!handler_of(item) && !is_used_where_it_lies(item)) moved.insert(item.index());
    for (const auto& [socket, item] : posed_.restraint_of_socket)
      if (!handler_of(item)) moved.insert(item.index());
    for (std::size_t i = 0; i < excursion_.items.size(); ++i) {
      const auto& file = excursion_.items[i];
      if (file.in || handler_of(ItemId(i))) continue;
      if (file.bring_in || (file.home && file.home != file.at && !(is_hatch(*file.home) && is_hatch(*file.at))))
        moved.insert(i);
    }
    for (const std::size_t i : moved) posed_.items.emplace_back(i);
    for (std::size_t t = 0; t < excursion_.tasks.size(); ++t) {
      const auto& task = excursion_.tasks[t];
      const auto socket = is_fixed_task(t) ? std::nullopt : task.restraint_in;
      if (socket && !task.at)
        refuse(task.mark, "missing-key",
               fmt::format("task \"{}\": it is done from a restraint and has no place", task.id), task.id,
               "add at: PLACE, from which the restraint is reached");
      posed_.jobs.push_back({Job::Kind::Task, TaskId(t), {}, task.at, socket});
    }
    pose_tasks();
    pose_items();
    check_size();
    travel_.emplace(model_, configuration_, excursion_, options_.what_if, legs_, posed_.jobs,
                    posed_.restraint_of_socket, fixed_);
    travel_->items = posed_.items;
    for (std::size_t c = 0; c < excursion_.crew.size(); ++c) {
      const auto& begun = travel_->begun(static_cast<int>(c));
      posed_.problem.crew.push_back({begun.state, to_us(begun.at_s)});
      begun_moves_ += static_cast<std::int64_t>(begun.moves);
    }
    posed_.problem.can_hold = [this](int c, ItemSet held) { return detail::can_carry_all(travel_->loads_of(c, held)); };
    posed_.problem.limit_us = to_us(excursion_.limit_s) + 1;  // equality is within
  }

  /// Who may do what needs something that `begin` leaves in hand or set up: who has it. Throws where such a thing is
  /// neither in hand nor where the task is done.
  [[nodiscard]] CrewSet crew_of(const model::Task& task) const {
    CrewSet crew = excursion_.crew.size() == 2 ? 3 : 1;
    for (const ItemId item : carried_for(task)) {
      const auto handler = handler_of(item);
      if (!handler) continue;
      const auto& fixed = fixed_[*handler];
      if (std::find(fixed.held.begin(), fixed.held.end(), item) != fixed.held.end()) {
        if (!task.both) crew &= 1u << *handler;
        continue;
      }
      const auto put = fixed.lies.find(item.index());
      const auto lies = put != fixed.lies.end() ? std::optional(put->second) : excursion_.items[item.index()].at;
      if (lies != task.at || fixed.in_socket_of(item))
        refuse(task.mark, "out-of-range",
               fmt::format("task \"{}\" needs item \"{}\", which begin and end of {} handle, and which is then neither "
                           "in hand nor at the task's place",
                           task.id, excursion_.items[item.index()].id, excursion_.crew[*handler].id),
               excursion_.items[item.index()].id, "let begin take it, or leave it out of begin and end");
    }
    if (task.restraint_in && !task.both)
      for (std::size_t c = 0; c < fixed_.size(); ++c)
        if (fixed_[c].in_socket.count(task.restraint_in->index())) crew &= 1u << c;
    return crew;
  }

  void pose_tasks() {
    std::vector<int> ranks;
    std::vector<std::size_t> ranked;
    for (std::size_t t = 0; t < excursion_.tasks.size(); ++t)
      if (excursion_.tasks[t].optional && excursion_.tasks[t].optional->priority && !is_fixed_task(t))
        ranks.push_back(*excursion_.tasks[t].optional->priority), ranked.push_back(t);
    const auto gains = gains_of_ranks(ranks);
    if (!gains)
      refuse(excursion_.tasks[ranked.back()].mark, "too-large",
             fmt::format("{} optional tasks have too many priorities to be compared", ranks.size()), "",
             "give several tasks one priority, or make some of them needed");
    // Beyond the limit too: without it an order is looked for to say by how much it is too short.
    const double until_s = excursion_.limit_s + 7 * 24 * 3600;
    for (std::size_t t = 0; t < excursion_.tasks.size(); ++t) {
      const auto& task = excursion_.tasks[t];
      OrderTask posed;
      if (is_fixed_task(t)) {  // nobody does it between
        posed.crew = 0;
        posed.standing = Standing::Helping;
        posed_.problem.tasks.push_back(std::move(posed));
        continue;
      }
      posed.crew = crew_of(task);
      if (task.both) posed.crew = 3;
      posed.duration_us = handling_us(detail::duration_of(options_.what_if, task));
      posed.together = task.both;
      posed.windows = windows_of(excursion_, task, until_s);
      for (const TaskId before : task.after)
        if (!is_fixed_task(before.index())) posed.after.push_back(static_cast<int>(before.index()));
      if (task.optional) {
        posed.standing = Standing::Optional;
        if (task.optional->score) posed.gain = std::llround(*task.optional->score * score_parts);
      }
      for (const ItemId item : carried_for(task))
        if (const std::size_t i = index_of(posed_.items, item); i < posed_.items.size())
          posed.needs.push_back(static_cast<int>(i));
      if (task.restraint_in) {
        const ItemId restraint = posed_.restraint_of_socket.at(task.restraint_in->index());
        if (!handler_of(restraint))
          posed.at.push_back(
              {static_cast<int>(index_of(posed_.items, restraint)), spot_of_socket(restraint, *task.restraint_in)});
      }
      posed_.problem.tasks.push_back(std::move(posed));
    }
    for (std::size_t k = 0; k < ranked.size(); ++k) posed_.problem.tasks[ranked[k]].gain = (*gains)[k];
  }

  /// Spots: 0 where the item is at first, 1 its home where that is another, then its sockets.
  [[nodiscard]] int spot_of_socket(ItemId restraint, SocketId socket) const {
    int spot = 2;
    for (const auto& [other, item] : posed_.restraint_of_socket) {
      if (item != restraint) continue;
      if (other == socket.index()) return spot;
      ++spot;
    }
    return spot;
  }

  void add_help(Job job, const OrderTask& task) {
    posed_.jobs.push_back(std::move(job));
    posed_.problem.tasks.push_back(task);
  }

  /// By crew member: as slow as each of them is.
  [[nodiscard]] std::array<std::int64_t, 2> handling_us(double seconds) const {
    std::array<std::int64_t, 2> each{};
    for (std::size_t c = 0; c < excursion_.crew.size(); ++c)
      each[c] = to_us(seconds * detail::factor_of(options_.what_if, excursion_.crew[c]));
    return each;
  }

  void pose_items() {
    for (std::size_t i = 0; i < posed_.items.size(); ++i) {
      const ItemId id = posed_.items[i];
      const auto& file = excursion_.items[id.index()];
      const PlaceId at = *file.at;
      const PlaceId home = file.bring_in && !file.home ? some_hatch() : file.home.value_or(at);
      const bool has_other_home = home != at && !(is_hatch(home) && is_hatch(at));
      const int item = static_cast<int>(i);
      OrderItem posed;
      posed.spot = 0;
      posed.may_come_home = is_hatch(home);
      posed.end_spots = {has_other_home ? 1 : 0};
      posed_.problem.items.push_back(posed);
      OrderTask task;
      task.duration_us = handling_us(detail::load_of_item(model_.kit, excursion_, options_.what_if, id).stow_s);
      task.standing = has_other_home ? Standing::Needed : Standing::Helping;  // it may not stay where it is
      task.takes = {{item, 0}};
      add_help({Job::Kind::Take, {}, id, at, {}}, task);
      if (!posed.may_come_home || !has_other_home) {  // what comes inside comes in the hands
        task.standing = Standing::Helping;
        task.takes.clear();
        task.puts = {{item, has_other_home ? 1 : 0}};
        add_help({Job::Kind::Put, {}, id, home, {}}, task);
      }
      task.puts.clear();
      task.duration_us = handling_us(excursion_.values.restraint_set_s);
      task.standing = Standing::Helping;
      for (const auto& [socket, restraint] : posed_.restraint_of_socket) {
        if (restraint != id) continue;
        const int spot = spot_of_socket(id, SocketId(socket));
        std::optional<PlaceId> place;
        for (const auto& t : excursion_.tasks)
          if (t.restraint_in == SocketId(socket) && !place) place = t.at;
        task.puts = {{item, spot}};
        task.takes.clear();
        add_help({Job::Kind::SetUp, {}, id, place, SocketId(socket)}, task);
        task.puts.clear();
        task.takes = {{item, spot}};
        add_help({Job::Kind::TakeDown, {}, id, place, SocketId(socket)}, task);
      }
    }
  }

  void check_size() const {
    const model::Mark mark =
        excursion_.tasks.empty() ? model::Mark{.file = excursion_.file} : excursion_.tasks.back().mark;
    if (posed_.jobs.size() > most_ordered)
      refuse(mark, "too-large",
             fmt::format("{} tasks, with the fetching and bringing back of {} items: {} to be put in order",
                         excursion_.tasks.size(), posed_.items.size(), posed_.jobs.size()),
             std::to_string(posed_.jobs.size()),
             fmt::format("at most {}; order the excursion in pieces", most_ordered));
    if (posed_.items.size() > most_ordered_items)
      refuse(mark, "too-large", fmt::format("{} items are needed by tasks", posed_.items.size()),
             std::to_string(posed_.items.size()),
             fmt::format("at most {}; put small ones into a bag (in: ITEM)", most_ordered_items));
    for (const auto& [socket, restraint] : posed_.restraint_of_socket)
      if (spot_of_socket(restraint, SocketId(socket)) > 13)
        refuse(mark, "too-large", fmt::format("one restraint serves more than {} sockets", 12), "",
               "add a further restraint to the items");
  }

  // ---- what stands in the way of every order -----------------------------------------------------------------------

  void find_causes() {
    if (!answer_.causes.empty()) return;
    find_circle();
    if (!answer_.causes.empty()) return;
    std::set<std::size_t> needed_items;
    for (const auto& posed : posed_.problem.tasks) {
      if (posed.standing != Standing::Needed) continue;
      for (const int i : posed.needs) needed_items.insert(posed_.items[static_cast<std::size_t>(i)].index());
      for (const auto& a : posed.at) needed_items.insert(posed_.items[static_cast<std::size_t>(a.item)].index());
    }
    for (std::size_t j = 0; j < posed_.jobs.size(); ++j) {
      const auto& posed = posed_.problem.tasks[j];
      const Job& job = posed_.jobs[j];
      const bool is_task = job.kind == Job::Kind::Task;
      if (is_task ? posed.standing != Standing::Needed : !needed_items.count(job.item.index())) continue;
      const std::string task = is_task ? excursion_.tasks[job.task.index()].id : "";
      OrderCause no_route{.kind = OrderCauseKind::NoRoute,
                          .task = task,
                          .item = is_task ? "" : excursion_.items[job.item.index()].id,
                          .other = job.place ? model_.structure.places[job.place->index()].id : ""};
      ItemSet needs = 0;
      std::vector<std::string> needed;
      for (const int i : posed.needs) {
        needs |= ItemSet{1} << i;
        needed.push_back(excursion_.items[posed_.items[static_cast<std::size_t>(i)].index()].id);
      }
      const auto can_anybody = [&] {
        for (int c = 0; c < static_cast<int>(excursion_.crew.size()); ++c)
          if ((posed.crew & (1u << c)) && detail::can_carry_all(travel_->loads_of(c, needs))) return true;
        return false;
      };
      const bool can_carry = posed.together || !needs || can_anybody();
      if (!can_carry) answer_.causes.push_back({.kind = OrderCauseKind::HandsFull, .task = task, .names = needed});
      std::vector<int> fetching;
      for (const int i : posed.needs)
        for (std::size_t k = 0; k < posed_.jobs.size(); ++k)
          if (posed_.jobs[k].kind == Job::Kind::Take &&
              posed_.jobs[k].item == posed_.items[static_cast<std::size_t>(i)])
            fetching.push_back(static_cast<int>(k));
      // Of a task for both either may bear what it needs.
      for (const ItemSet held : {ItemSet{0}, can_carry && !posed.together ? needs : ItemSet{0}}) {
        std::optional<detail::NoLeg> none;
        bool is_reached = false;
        for (int c = 0; c < static_cast<int>(excursion_.crew.size()); ++c) {
          if (!(posed.crew & (1u << c))) continue;
          auto why = travel_->why_not_from_start(c, held, held ? fetching : std::vector<int>(), static_cast<int>(j));
          if (why && !none) none = std::move(why);
          is_reached = is_reached || !why;
        }
        if (!none || (is_reached && !posed.together)) continue;
        if (held) no_route.names = needed;
        no_route.causes = std::move(none->causes);
        answer_.causes.push_back(std::move(no_route));
        break;
      }
      if (!is_task) continue;
      if (!posed.windows.empty()) {
        std::int64_t longest_us = 0;
        for (const auto& w : posed.windows) longest_us = std::max(longest_us, w.close_us - w.open_us);
        const std::int64_t least_us = posed.together ? std::max(posed.duration_us[0], posed.duration_us[1])
                                      : excursion_.crew.size() == 2
                                          ? std::min(posed.duration_us[0], posed.duration_us[1])
                                          : posed.duration_us[0];
        if (least_us > longest_us)
          answer_.causes.push_back({.kind = OrderCauseKind::NoWindow,
                                    .task = task,
                                    .value = static_cast<double>(least_us) / 1e6,
                                    .limit = static_cast<double>(longest_us) / 1e6});
      }
    }
  }

  /// Of `after`, among the tasks that must be done and what they wait for.
  void find_circle() {
    const std::size_t n = excursion_.tasks.size();
    std::vector<int> mark(n, 0);  // 1: on the path, 2: done
    for (std::size_t root = 0; root < n; ++root) {
      if (mark[root] || excursion_.tasks[root].optional) continue;
      std::vector<std::pair<std::size_t, std::size_t>> path = {{root, 0}};
      mark[root] = 1;
      while (!path.empty()) {
        const std::size_t t = path.back().first;
        const auto& after = excursion_.tasks[t].after;
        if (path.back().second == after.size()) {
          mark[t] = 2;
          path.pop_back();
          continue;
        }
        const std::size_t next = after[path.back().second++].index();
        if (mark[next] == 1) {
          OrderCause cause{.kind = OrderCauseKind::Circle, .task = excursion_.tasks[next].id};
          bool is_in = false;
          for (const auto& [on, unused] : path) {
            is_in = is_in || on == next;
            if (is_in) cause.names.push_back(excursion_.tasks[on].id);
          }
          answer_.causes.push_back(std::move(cause));
          return;
        }
        if (mark[next] == 0) {
          mark[next] = 1;
          path.emplace_back(next, 0);
        }
      }
    }
  }

  // ---- the search --------------------------------------------------------------------------------------------------

  struct Candidate {
    std::shared_ptr<const Excursion> excursion;
    Plan plan;
    OrderValue value;  ///< by the simulation
    std::size_t faults = 0;
  };

  [[nodiscard]] static bool comes_before(const Candidate& a, const Candidate& b) {
    if ((a.faults == 0) != (b.faults == 0)) return a.faults == 0;
    if (a.faults != b.faults) return a.faults < b.faults;
    return is_better(a.value, b.value, Goal::Finish);
  }

  void search() {
    OrderAnswer first = find_order(posed_.problem, *travel_, options_.effort);
    answer_.partial = first.nodes;
    if (!first.best) {
      tell_no_order(first);
      return;
    }
    Candidate best = simulate_order(*first.best, nullptr);
    // No order is better than this, each crew member taken as alone.
    OrderValue bound = first.bound;
    const auto is_earliest = [&] {
      return best.faults == 0 && bound.gain <= best.value.gain && bound.finish_us >= best.value.finish_us;
    };
    if (!is_earliest() && (first.outcome == OrderOutcome::Best || best.faults > 0)) {
      // Others may be delayed less, or break no rule.
      OrderEffort effort = options_.effort;
      effort.max_nodes = std::min(effort.max_nodes, most_nodes_again);
      OrderCandidates candidates(posed_.problem, *travel_, std::min(options_.most_simulated, most_told), effort);
      if (best.faults == 0) candidates.cut_off(best.value);
      std::size_t in_vain = 0;
      while (answer_.simulated < options_.most_simulated && judged_ < most_judged) {
        // Beyond what cuts off there may be no candidate: then the best is as good as any.
        const auto left = candidates.bound();
        const OrderValue next_bound = left ? *left : best.faults == 0 ? best.value : bound;
        if (is_better(bound, next_bound, Goal::Finish)) bound = next_bound;
        if (is_earliest()) break;
        const auto next = candidates.next();
        if (!next) break;
        if (is_same(*next, *first.best)) continue;
        const auto judged = judged_;
        Candidate candidate = simulate_order(*next, &best);
        if (!comes_before(candidate, best)) {
          // What every order breaks (a tether too short for a place) none of them mends.
          if (best.faults > 0 && judged_ > judged && ++in_vain == most_in_vain) break;
          continue;
        }
        in_vain = 0;
        best = std::move(candidate);
        if (best.faults == 0) candidates.cut_off(best.value);
      }
      answer_.partial += candidates.nodes();
    }
    answer_.is_proven = is_earliest() && answer_.throws.empty();
    answer_.has_fewest_moves = answer_.is_proven && best.value.moves <= bound.moves;
    answer_.bound_s = std::min(static_cast<double>(bound.finish_us) / 1e6, best.plan.finish_s);
    if (answer_.is_proven) answer_.bound_s = best.plan.finish_s;
    answer_.is_worth_proven = answer_.throws.empty() && bound.gain <= best.value.gain;
    if (!answer_.throws.empty()) answer_.bound_s = std::min(answer_.bound_s, least_by_work_s(*best.excursion));
    answer_.ordered = best.excursion;
    answer_.plan = std::move(best.plan);
    std::set<std::size_t> done;
    for (const auto& member : answer_.ordered->crew)
      for (const auto& action : member.actions)
        if (action.kind == ActionKind::Do) done.insert(action.task->index());
    for (std::size_t t = 0; t < excursion_.tasks.size(); ++t)
      if (!done.count(t)) answer_.left_out.emplace_back(t);
  }

  [[nodiscard]] static bool is_same(const Order& a, const Order& b) {
    return std::equal(a.tasks.begin(), a.tasks.end(), b.tasks.begin(), b.tasks.end(),
                      [](const OrderedTask& x, const OrderedTask& y) { return x.task == y.task && x.crew == y.crew; });
  }

  /// Overheads, and the work shared evenly: holds in whatever configuration legs are taken.
  [[nodiscard]] double least_by_work_s(const Excursion& ordered) const {
    double work_s = 0, longest_s = 0, factor = std::numeric_limits<double>::infinity();
    for (int c = 0; c < static_cast<int>(excursion_.crew.size()); ++c) factor = std::min(factor, travel_->factor(c));
    for (const auto& member : ordered.crew)
      for (const auto& action : member.actions)
        if (action.kind == ActionKind::Do) {
          work_s += ordered.tasks[action.task->index()].duration_s * factor;
          longest_s = std::max(longest_s, ordered.tasks[action.task->index()].duration_s * factor);
        }
    return excursion_.egress_s + excursion_.ingress_s +
           std::max(longest_s, work_s / static_cast<double>(excursion_.crew.size()));
  }

  void tell_no_order(const OrderAnswer& first) {
    if (first.outcome == OrderOutcome::NotFound) {
      answer_.causes.push_back({.kind = OrderCauseKind::NotFound});
      return;
    }
    // Without the limit there may be one: it is shown with what it breaks.
    OrderProblem open = posed_.problem;
    open.limit_us = no_time_limit_us;
    for (auto& task : open.tasks)  // only what must be done
      if (task.standing == Standing::Optional) task.standing = Standing::Helping;
    const OrderAnswer late = find_order(open, *travel_, options_.effort);
    answer_.partial += late.nodes;
    if (!late.best) {
      answer_.causes.push_back(
          {.kind = late.outcome == OrderOutcome::NotFound ? OrderCauseKind::NotFound : OrderCauseKind::NoOrder});
      return;
    }
    Candidate best = simulate_order(*late.best, nullptr);
    answer_.causes.push_back({.kind = OrderCauseKind::Limit,
                              .value = static_cast<double>(late.bound.finish_us) / 1e6,
                              .limit = excursion_.limit_s});
    answer_.bound_s = static_cast<double>(late.bound.finish_us) / 1e6;
    answer_.ordered = best.excursion;
    answer_.plan = std::move(best.plan);
  }

  // ---- one order as sequences --------------------------------------------------------------------------------------

  /// An action that must not begin before another of the other crew member has ended.
  struct Follows {
    std::size_t crew, action, other_action;
  };

  /// First without tethers and getting back, which cost no time: of them is asked where the order is better than `best`
  /// without, and not too often.
  Candidate simulate_order(const Order& order, const Candidate* best) {
    auto excursion = std::make_shared<Excursion>(excursion_);
    std::vector<Follows> follows;
    write_sequences(order, *excursion, follows);
    Candidate candidate;
    candidate.excursion = excursion;
    const auto judge = [&](const Excursion& simulated, const PlanOptions& with) {
      candidate.plan = detail::simulate_with(legs_, model_, configuration_, simulated, with);
      candidate.faults = detail::count_own_violations(candidate.plan);
      candidate.value = value_of(candidate.plan, order);
    };
    PlanOptions quick = options_.what_if;
    quick.looks_back = quick.looks_out = false;
    const std::size_t rounds = 2 + 2 * follows.size();
    for (std::size_t round = 0; round < rounds; ++round) {
      Excursion untethered = *excursion;
      for (std::size_t c = 0; c < untethered.crew.size(); ++c)
        if (!fixed_[c].has_swaps) untethered.crew[c].tethers.clear(), untethered.crew[c].anchor.reset();
      judge(untethered, quick);
      if (!hold_back(*excursion, follows, candidate.plan)) break;
    }
    ++answer_.simulated;
    if (!best || comes_before(candidate, *best)) {
      ++judged_;
      PlanOptions whole = options_.what_if;
      whole.looks_out = false;
      judge(*excursion, whole);
    }
    return candidate;
  }

  /// By the simulation; where it differs from the order's own by rounding alone, the order's own.
  [[nodiscard]] OrderValue value_of(const Plan& plan, const Order& order) const {
    OrderValue value;
    value.gain = order.value.gain;
    value.moves = -begun_moves_;  // of which the search knows nothing
    double sum_s = 0;
    for (const auto& total : plan.totals) {
      value.moves += static_cast<std::int64_t>(total.moves);
      sum_s += total.inside_at_s;
    }
    const auto or_own = [](double seconds, std::int64_t own_us) {
      return std::abs(seconds - static_cast<double>(own_us) / 1e6) <= noise_s ? own_us : to_us(seconds);
    };
    value.finish_us = or_own(plan.finish_s, order.value.finish_us);
    value.finishes_us = or_own(sum_s, order.value.finishes_us);
    return value;
  }

  void write_sequences(const Order& order, Excursion& excursion, std::vector<Follows>& follows) const {
    for (auto& member : excursion.crew) member.actions.resize(member.begins);
    std::vector<std::optional<PlaceId>> where(excursion.crew.size());
    struct Last {
      std::size_t crew, action;
    };
    std::map<std::size_t, Last> last_of_item;
    for (const OrderedTask& ordered : order.tasks) {
      const Job& job = posed_.jobs[static_cast<std::size_t>(ordered.task)];
      const auto& posed = posed_.problem.tasks[static_cast<std::size_t>(ordered.task)];
      std::set<std::size_t> touched;
      for (const auto* list : {&posed.at, &posed.takes, &posed.puts})
        for (const auto& a : *list) touched.insert(static_cast<std::size_t>(a.item));
      std::map<std::size_t, Last> now;
      for (std::size_t c = 0; c < excursion.crew.size(); ++c) {
        if (!(ordered.crew & (1u << c))) continue;
        auto& actions = excursion.crew[c].actions;
        const auto go = [&](PlaceId place) {
          if (where[c] == place) return;
          Action action;
          action.kind = ActionKind::Go;
          action.place = place;
          actions.push_back(std::move(action));
          where[c] = place;
        };
        std::optional<std::size_t> after;  // action of the other
        for (const std::size_t item : touched)
          if (const auto last = last_of_item.find(item); last != last_of_item.end() && last->second.crew != c)
            after = std::max(after.value_or(0), last->second.action);
        Action action;
        switch (job.kind) {
          case Job::Kind::Task:
            action.kind = ActionKind::Do;
            action.task = job.task;
            if (after && job.place) go(*job.place);  // and waits there
            break;
          case Job::Kind::Take:
            action.kind = ActionKind::Take;
            action.item = job.item;
            if (after) go(*job.place);
            break;
          case Job::Kind::Put:
            action.kind = ActionKind::Put;
            action.item = job.item;
            go(*job.place);
            break;
          case Job::Kind::SetUp:
            action.kind = ActionKind::SetUp;
            action.item = job.item;
            action.socket = job.socket;
            go(*job.place);
            break;
          case Job::Kind::TakeDown:
            action.kind = ActionKind::TakeDown;
            action.item = job.item;
            if (after) go(*job.place);
            break;
        }
        actions.push_back(std::move(action));
        if (job.place && !job.socket)
          where[c] = job.place;
        else if (job.socket)
          where[c].reset();
        if (after) follows.push_back({c, actions.size() - 1, *after});
        for (const std::size_t item : touched) now[item] = {c, actions.size() - 1};
      }
      for (const auto& [item, last] : now) last_of_item[item] = last;
    }
    for (std::size_t c = 0; c < excursion.crew.size(); ++c) {
      auto& member = excursion.crew[c];
      const auto& given = excursion_.crew[c].actions;
      member.actions.insert(member.actions.end(), given.end() - static_cast<std::ptrdiff_t>(member.ends), given.end());
      if (member.ends > 0 && member.actions.back().kind == ActionKind::Return) continue;
      Action action;
      action.kind = ActionKind::Return;
      member.actions.push_back(std::move(action));
      if (member.ends > 0) ++member.ends;
    }
  }

  /// Sets `not_before` of what began before what it follows had ended. True where something was set.
  static bool hold_back(Excursion& excursion, const std::vector<Follows>& follows, const Plan& plan) {
    bool is_set = false;
    for (const Follows& f : follows) {
      double ends_s = -1, begins_s = -1;
      for (const Row& row : plan.rows) {
        if (!row.crew || !row.action || row.is_derived) continue;
        if (row.crew->index() == f.crew && *row.action == f.action) begins_s = row.from_s;
        if (row.crew->index() != f.crew && *row.action == f.other_action) ends_s = row.to_s;
      }
      auto& action = excursion.crew[f.crew].actions[f.action];
      if (begins_s >= ends_s) continue;
      const double whole_s = std::ceil(ends_s - 1e-9);
      if (action.not_before_s && *action.not_before_s >= whole_s) continue;
      action.not_before_s = whole_s;
      is_set = true;
    }
    return is_set;
  }

  // ---- what differs from the file ----------------------------------------------------------------------------------

  [[nodiscard]] std::string subject_of(const Action& a) const {
    const auto& structure = model_.structure;
    if (a.task) return excursion_.tasks[a.task->index()].id;
    if (a.item) return excursion_.items[a.item->index()].id;
    if (a.event) return excursion_.events[a.event->index()].id;
    if (a.anchor) return structure.anchors[a.anchor->index()].id;
    if (a.place) return structure.places[a.place->index()].id;
    return {};
  }

  void tell_changes() {
    for (std::size_t c = 0; c < excursion_.crew.size(); ++c) {
      CrewOrder crew;
      crew.crew = CrewId(c);
      std::vector<ActionName> before, after;
      const auto note = [&](const std::vector<Action>& actions, std::vector<TaskId>& tasks,
                            std::vector<ActionName>& others) {
        for (const auto& action : actions) {
          if (action.kind == ActionKind::Do)
            tasks.push_back(*action.task);
          else if (action.kind != ActionKind::Return && action.kind != ActionKind::Go)
            others.push_back({action.kind, subject_of(action)});
        }
        std::sort(others.begin(), others.end());
      };
      note(excursion_.crew[c].actions, crew.before, before);
      if (answer_.ordered) note(answer_.ordered->crew[c].actions, crew.after, after);
      std::set_difference(before.begin(), before.end(), after.begin(), after.end(), std::back_inserter(crew.left_out));
      std::set_difference(after.begin(), after.end(), before.begin(), before.end(), std::back_inserter(crew.added));
      answer_.crew.push_back(std::move(crew));
    }
  }

  const model::Model& model_;
  const model::Configuration& configuration_;
  const Excursion& excursion_;
  const OrderOptions& options_;
  detail::Legs legs_;
  const std::vector<detail::Fixed> fixed_;  ///< by crew member
  Posed posed_;
  std::optional<JobTravel> travel_;
  std::int64_t begun_moves_ = 0;  ///< of `begin`
  std::size_t judged_ = 0;        ///< with tethers and getting back
  ExcursionOrder answer_;
};

}  // namespace

ExcursionOrder order(const model::Model& model, const model::Configuration& configuration,
                     const model::Excursion& excursion, const OrderOptions& options, const geometry::Scene* first) {
  return Orderer(model, configuration, excursion, options, first).run();
}

}  // namespace holdfast::plan
