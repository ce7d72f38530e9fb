// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// What the search over orders asks of an excursion: its tasks, with fetching, setting up and bringing back as tasks of
// their own, and the legs between them as `plan` takes them.

#include <algorithm>
#include <array>
#include <cstdint>
#include <map>
#include <optional>
#include <set>
#include <tuple>
#include <vector>

#include "holdfast/plan/ordering.h"
#include "pieces_impl.h"
#include "simulator_impl.h"

namespace holdfast::plan::detail {

/// A task of the search: one of the excursion's, or help for them.
struct Job {
  enum class Kind { Task, Take, Put, SetUp, TakeDown };
  Kind kind = Kind::Task;
  TaskId task;
  ItemId item;                   ///< of help
  std::optional<PlaceId> place;  ///< where it is done; a restraint: of the tasks that need it
  std::optional<SocketId> socket;
};

/// What one crew member's actions under `begin` and `end` settle before anything is put in order.
struct Fixed {
  std::set<std::size_t> tasks;              ///< done there
  std::set<std::size_t> items;              ///< handled there, and by nobody else
  std::vector<ItemId> held;                 ///< in hand from the end of `begin` on
  std::map<std::size_t, PlaceId> lies;      ///< by item: put there by `begin`
  std::map<std::size_t, ItemId> in_socket;  ///< by socket: set up by `begin`
  bool has_swaps = false;

  [[nodiscard]] bool in_socket_of(ItemId item) const {
    return std::any_of(in_socket.begin(), in_socket.end(), [&](const auto& entry) { return entry.second == item; });
  }
};
/// By crew member. Throws `model::InputError` (`out-of-range`): something is handed over there, or put into another
/// item; or both crew members handle one item so.
[[nodiscard]] std::vector<Fixed> fixed_of(const model::Excursion& excursion);

/// Legs between jobs, asked of the same `Legs` as the simulation asks, in the configuration at time zero. Of restraints
/// only the one at which a leg begins or ends stands in the way, so that a leg is never longer than the simulation's
/// for what the other has set up. Keeps references.
class JobTravel : public Travel {
 public:
  JobTravel(const model::Model& model, const model::Configuration& configuration, const model::Excursion& excursion,
            const PlanOptions& options, Legs& legs, std::vector<Job> jobs,
            std::map<std::size_t, ItemId> restraint_of_socket, std::vector<Fixed> fixed);

  [[nodiscard]] std::optional<Arrival> arrive(int crew, int state, ItemSet held, int task) const override;
  [[nodiscard]] std::optional<Arrival> come_home(int crew, int state, ItemSet held) const override;
  [[nodiscard]] std::optional<LegBound> lower_bound(int from, int to) const override;

  /// The items that bit i of a set stands for; set before the first question.
  std::vector<ItemId> items;
  /// ... with what is in the crew member's hands by `begin`.
  [[nodiscard]] std::vector<const model::Load*> loads_of(int crew, ItemSet held) const;
  /// After `begin`, each crew member as alone: the state, the moment, and the moves until then.
  struct Begun {
    int state = 0;
    double at_s = 0;
    std::size_t moves = 0;
  };
  [[nodiscard]] const Begun& begun(int crew) const { return begun_[static_cast<std::size_t>(crew)]; }
  [[nodiscard]] double factor(int crew) const { return factors_[static_cast<std::size_t>(crew)]; }
  [[nodiscard]] const model::Load& load_of(ItemId item) const;
  /// At time zero.
  [[nodiscard]] double content_kg(ItemId container) const;
  /// Why a crew member does not get there from the start with these in hand, or having fetched them one by one; nothing
  /// where they do. `fetched`: jobs that take them.
  [[nodiscard]] std::optional<NoLeg> why_not_from_start(int crew, ItemSet held, const std::vector<int>& fetched,
                                                        int job) const;

 private:
  struct State {
    std::optional<GripId> grip;  ///< nothing: still at the start
    std::optional<SocketId> restraint, beside;
    auto operator<=>(const State&) const = default;
  };
  struct Walk {
    int crew = 0;
    State state;
    double time_s = 0;
    std::size_t moves = 0;
    std::vector<const model::Load*> loads;
    NoLeg none;
  };
  /// One who does actions of `begin` or `end`.
  struct Doing {
    Walk walk;
    std::vector<ItemId> carried;
    std::optional<PlaceId> place;
    std::map<std::size_t, PlaceId> lies;
  };
  /// Time and legs of an action; less than what the simulation takes where that waits, or stows. False: no route.
  bool do_action(Doing& d, const model::Action& action) const;
  [[nodiscard]] std::vector<const model::Load*> loads_of_items(const std::vector<ItemId>& items) const;
  void do_begins();
  /// Work and handling of `end`.
  [[nodiscard]] double least_end_s(int crew) const;
  /// What an action takes by itself, without legs, waits and what is derived for it.
  [[nodiscard]] double action_s(int crew, const model::Action& action) const;

  [[nodiscard]] const Site& site(int crew) const;
  [[nodiscard]] Obstacle obstacle(SocketId socket) const;
  [[nodiscard]] Closings closings(const State& state, std::optional<SocketId> more) const;
  [[nodiscard]] std::vector<GripId> grips_of(const Site& site, PlaceId place) const;
  /// Where a job may be done from; all grips: anywhere.
  [[nodiscard]] std::vector<GripId> grips_of(const Site& site, const Job& job) const;
  [[nodiscard]] std::vector<PlaceId> hatches() const;
  bool walk(Walk& w, std::vector<GripId> to, const std::string& place, const Closings& closings) const;
  bool walk_to(Walk& w, PlaceId place, std::optional<SocketId> standing = std::nullopt) const;
  bool walk_to_handle(Walk& w, const Job& job, bool is_standing) const;
  void leave(Walk& w) const;
  bool do_job(Walk& w, const Job& job) const;
  [[nodiscard]] std::optional<Arrival> arrival(const Walk& w) const;
  int number_of(const State& state) const;
  void compute_bounds();

  const model::Model& model_;
  const model::Structure& structure_;
  const model::Configuration& configuration_;
  const model::Excursion& excursion_;
  const PlanOptions& options_;
  Legs& legs_;
  const std::vector<Job> jobs_;
  const std::map<std::size_t, ItemId> restraint_of_socket_;
  const std::vector<Fixed> fixed_;
  std::vector<Begun> begun_;
  std::vector<double> factors_;
  std::vector<std::optional<LegBound>> bounds_;  ///< rows: jobs, then the start; columns: jobs, then home
  // The search's numbers of states: filled while it asks.
  mutable std::vector<State> states_;
  mutable std::map<State, int> numbers_;
};

/// Microseconds, to the nearest.
[[nodiscard]] std::int64_t to_us(double seconds);

}  // namespace holdfast::plan::detail
