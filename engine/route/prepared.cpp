// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/route/prepared.h"

#include <algorithm>

#include "choices_impl.h"
#include "closures_impl.h"
#include "holdfast/search/shortest.h"
#include "loaded_route_impl.h"
#include "question_impl.h"

namespace holdfast::route {

using graph::GripId;
using graph::MoveId;

class PreparedProfile::State {
 public:
  State(const graph::HandrailGraph& graph, const Profile& profile, Objective by)
      : graph_(graph),
        profile_(profile),
        by_(by),
        paces_(paces_of(profile)),
        table_(compute_costs(graph, profile, by)),
        landmarks_(build_landmarks(graph, profile, by)),
        is_limited_(graph.structure().zones.size()) {
    for (const auto zone : detail::limit_zones(graph, table_, true)) is_limited_[zone.index()] = true;
    if (!profile.loads.empty()) cache_.emplace(graph, profile.loads);
  }

  Answer route(RouteRequest request, const Closures& closures) {
    request.by = by_, request.landmarks = &landmarks_;
    if (cache_) request.load_cache = &*cache_;
    Profile closed = profile_;
    const auto add = [](auto& all, const auto& more) { all.insert(all.end(), more.begin(), more.end()); };
    add(closed.closures.rails, closures.rails);
    add(closed.closures.grips, closures.grips);
    add(closed.closures.moves, closures.moves);
    const auto ends = detail::resolve_ends(graph_, request);
    const Closed now(*this, closures);
    return detail::route_between(graph_, closed, request, ends, table_);
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

  const graph::HandrailGraph& graph_;
  const Profile profile_;
  const Objective by_;

 private:
  /// The question's closures, in the table while it is asked.
  class Closed {
   public:
    Closed(State& state, const Closures& closures)
        : table_(state.table_), undo_(detail::close(state.graph_, closures, state.table_)) {}
    ~Closed() { detail::reopen(undo_, table_); }
    Closed(const Closed&) = delete;
    Closed& operator=(const Closed&) = delete;

   private:
    CostTable& table_;
    const std::vector<detail::Reopening> undo_;
  };

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
    const auto legs = detail::find_plain_ways(graph_, table_.by_move, stops, ends, &landmarks_, &query_);
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
  const search::Landmarks landmarks_;
  std::vector<bool> is_limited_;  // by zone
  std::optional<LoadCache> cache_;
  search::RouteQuery query_;  // its scratch
};

PreparedProfile::PreparedProfile(const graph::HandrailGraph& graph, const Profile& profile, Objective by)
    : state_(std::make_unique<State>(graph, profile, by)) {}
PreparedProfile::~PreparedProfile() = default;
PreparedProfile::PreparedProfile(PreparedProfile&&) noexcept = default;
PreparedProfile& PreparedProfile::operator=(PreparedProfile&&) noexcept = default;

Answer PreparedProfile::route(const RouteRequest& request, const Closures& closures) {
  return state_->route(request, closures);
}
std::optional<Outline> PreparedProfile::find(const RouteRequest& request, const Closures& closures) {
  return state_->find(request, closures);
}
const graph::HandrailGraph& PreparedProfile::graph() const { return state_->graph_; }
const Profile& PreparedProfile::profile() const { return state_->profile_; }
Objective PreparedProfile::by() const { return state_->by_; }

}  // namespace holdfast::route
