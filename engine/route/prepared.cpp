// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/route/prepared.h"

#include <algorithm>

#include "choices_impl.h"
#include "closures_impl.h"
#include "holdfast/search/hierarchy.h"
#include "holdfast/search/shortest.h"
#include "home_impl.h"
#include "loaded_route_impl.h"
#include "question_impl.h"

namespace holdfast::route {

using graph::GripId;
using graph::MoveId;

using Order = std::shared_ptr<const search::HierarchyOrder>;

namespace {

/// Moves that no rule of the graph forbids: zones, closures and profiles open and close these alone.
Order order_of(const graph::HandrailGraph& graph) {
  std::vector<char> is_used(graph.moves().size());
  for (std::size_t m = 0; m < is_used.size(); ++m) is_used[m] = graph.moves()[m].is_open() ? 1 : 0;
  return std::make_shared<const search::HierarchyOrder>(graph.adjacency(), is_used);
}

}  // namespace

class PreparedProfile::State {
 public:
  State(const graph::HandrailGraph& graph, const Profile& profile, Objective by, Order order)
      : graph_(graph),
        profile_(profile),
        by_(by),
        order_(std::move(order)),
        paces_(paces_of(profile)),
        table_(compute_costs(graph, profile, by)),
        metric_(order_, table_.by_move),
        is_limited_(graph.structure().zones.size()) {
    for (const auto zone : detail::limit_zones(graph, table_, true)) is_limited_[zone.index()] = true;
    if (!profile.loads.empty()) cache_.emplace(graph, profile.loads);
  }

  Answer route(RouteRequest request, const Closures& closures) {
    request.by = by_;
    if (cache_) request.load_cache = &*cache_;
    Profile closed = profile_;
    const auto add = [](auto& all, const auto& more) { all.insert(all.end(), more.begin(), more.end()); };
    add(closed.closures.rails, closures.rails);
    add(closed.closures.grips, closures.grips);
    add(closed.closures.moves, closures.moves);
    const auto ends = detail::resolve_ends(graph_, request);
    const Closed now(*this, closures);
    return detail::route_between(graph_, closed, request, ends, table_,
                                 [&](const detail::Stops& stops) { return find_ways(stops, ends, now); });
  }

  std::optional<Outline> find(const RouteRequest& request, const Closures& closures) {
    if (profile_.loads.empty() && !request.tether) {
      bool is_open_question = false;
      auto plain = find_plain(request, closures, is_open_question);
      if (!is_open_question) return plain;
    }
    RouteRequest asked = request;
    asked.explains_loads = false;
    const Answer answer = route(asked, closures);
    const Route* found = answer.route();
    if (!found) return std::nullopt;
    Outline outline;
    for (const auto& leg : detail::legs_of(graph_, *found)) outline.legs.push_back({leg.grips, leg.moves});
    outline.time_s = found->time_s, outline.distance_m = found->distance_m, outline.moves = found->moves;
    outline.end = found->end;
    outline.is_proven_best = answer.is_proven_best();
    return outline;
  }

  Home home(const HomeRequest& request) {
    if (by_ != Objective::Time) return compute_home(graph_, profile_, request);
    if (!unpriced_ && profile_.loads.empty() && has_caution_prices(graph_, profile_)) {
      Profile quick = profile_;
      quick.prices_caution = false;
      unpriced_ = std::make_unique<State>(graph_, quick, by_, order_);
    }
    const auto unpriced =
        unpriced_ ? std::optional(detail::KnownCosts{unpriced_->table_, unpriced_->metric_}) : std::nullopt;
    return detail::compute_home(graph_, profile_, request, {table_, metric_, unpriced ? &*unpriced : nullptr});
  }
  Matrix matrix() {
    if (seconds_by_move_.empty())
      for (const auto& move : graph_.moves())
        seconds_by_move_.push_back(compute_move_time(move, paces_.front()).sum_s());
    return detail::compute_matrix(graph_, profile_, by_, {table_, metric_, nullptr, seconds_by_move_});
  }

  const graph::HandrailGraph& graph_;
  const Profile profile_;
  const Objective by_;
  const Order order_;

 private:
  /// The question's closures, in the table and the hierarchy while it is asked.
  class Closed {
   public:
    Closed(State& state, const Closures& closures)
        : state_(state), undo_(detail::close(state.graph_, closures, state.table_)) {
      std::vector<std::uint32_t> moves;
      for (const auto& each : undo_)
        if (each.is_move && !each.cost.is_blocked()) moves.push_back(each.index);
      changes_ = state.metric_.raise(state.table_.by_move, moves, most_changes);
    }
    ~Closed() {
      if (changes_) state_.metric_.restore(*changes_);
      detail::reopen(undo_, state_.table_);
    }
    Closed(const Closed&) = delete;
    Closed& operator=(const Closed&) = delete;
    /// False: so much is closed that following it through the hierarchy takes longer than a search without.
    [[nodiscard]] bool is_in_hierarchy() const { return changes_.has_value(); }

   private:
    static constexpr std::size_t most_changes = 10'000;  // some 10 ms
    State& state_;
    const std::vector<detail::Reopening> undo_;
    std::optional<std::vector<search::HierarchyMetric::Change>> changes_;
  };

  std::optional<std::vector<detail::LegWay>> find_ways(const detail::Stops& stops, const std::vector<detail::End>& ends,
                                                       const Closed& now) {
    if (!now.is_in_hierarchy()) return detail::find_plain_ways(graph_, table_.by_move, stops, ends, nullptr, &query_);
    return detail::find_plain_ways(graph_, table_.by_move, stops, ends, metric_, in_hierarchy_);
  }

  template <class Id>
  [[nodiscard]] bool is_limited(Id id) const {
    const auto labels = graph_.zones(id);
    return std::any_of(labels.begin(), labels.end(),
                       [&](const auto& label) { return is_limited_[label.zone.index()]; });
  }

  /// Of a mover without loads and tether. `is_open_question`: a limit zone lies on the path, and may turn it aside.
  std::optional<Outline> find_plain(const RouteRequest& request, const Closures& closures, bool& is_open_question) {
    const auto ends = detail::resolve_ends(graph_, request);
    const Closed now(*this, closures);
    detail::Stops stops;
    for (const auto& end : ends) stops.push_back(detail::usable(end.grips, table_));
    const auto legs = find_ways(stops, ends, now);
    if (!legs) return std::nullopt;
    Outline outline;
    const Pace& pace = paces_.front();
    for (const auto& leg : *legs) {
      for (const GripId grip : {leg.grips.front(), leg.grips.back()})
        is_open_question = is_open_question || is_limited(grip);
      if (!leg.moves.empty()) outline.time_s += pace.start_s;
      for (const MoveId id : leg.moves) {
        is_open_question = is_open_question || is_limited(id);
        const auto& move = graph_.move(id);
        // One by one, as the description adds them: the same sum to the last bit.
        const MoveTime time = compute_move_time(move, pace);
        for (const double seconds : {time.regrip_s, time.translate_s, time.turn_s, time.rail_change_s, time.one_hand_s})
          outline.time_s += seconds;
        outline.distance_m += move.way_m;
      }
      if (!leg.moves.empty()) outline.time_s += pace.stop_s;
      outline.moves += leg.moves.size();
      outline.legs.push_back({leg.grips, leg.moves});
    }
    outline.end.grip = legs->back().grips.back().index();
    return outline;
  }

  const std::vector<Pace> paces_;
  CostTable table_;
  search::HierarchyMetric metric_;
  std::vector<bool> is_limited_;  // by zone
  std::optional<LoadCache> cache_;
  search::RouteQuery query_;  // its scratch, as the next is
  search::HierarchyQuery in_hierarchy_;
  // Made when first asked for.
  std::unique_ptr<State> unpriced_;
  std::vector<double> seconds_by_move_;
};

PreparedProfile::PreparedProfile(const graph::HandrailGraph& graph, const Profile& profile, Objective by)
    : state_(std::make_unique<State>(graph, profile, by, order_of(graph))) {}
PreparedProfile::PreparedProfile(const PreparedProfile& other, const Profile& profile, Objective by)
    : state_(std::make_unique<State>(other.graph(), profile, by, other.state_->order_)) {}
PreparedProfile::~PreparedProfile() = default;
PreparedProfile::PreparedProfile(PreparedProfile&&) noexcept = default;
PreparedProfile& PreparedProfile::operator=(PreparedProfile&&) noexcept = default;

Answer PreparedProfile::route(const RouteRequest& request, const Closures& closures) {
  return state_->route(request, closures);
}
std::optional<Outline> PreparedProfile::find(const RouteRequest& request, const Closures& closures) {
  return state_->find(request, closures);
}
Home PreparedProfile::home(const HomeRequest& request) { return state_->home(request); }
Matrix PreparedProfile::matrix() { return state_->matrix(); }
const graph::HandrailGraph& PreparedProfile::graph() const { return state_->graph_; }
const Profile& PreparedProfile::profile() const { return state_->profile_; }
Objective PreparedProfile::by() const { return state_->by_; }

}  // namespace holdfast::route
