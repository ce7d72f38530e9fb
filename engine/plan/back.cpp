#include "back_impl.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

namespace holdfast::plan::detail {

namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();
constexpr double noise_s = 1e-6;

double stow_all_s(const std::vector<const model::Load*>& loads) {
  double seconds = 0;
  for (const auto* load : loads) seconds += load->stow_s;
  return seconds;
}

class BackFrom {
 public:
  BackFrom(const model::Model& model, const model::Excursion& excursion, Legs& legs,
           const std::vector<Closings>& closings, const PlanOptions& options)
      : model_(model), excursion_(excursion), legs_(legs), closings_(closings), options_(options) {
    for (const auto& load : model.kit.loads)
      if (load.is_crew && !crew_load_) crew_load_ = &load;
  }
  [[nodiscard]] bool has_crew_load() const { return crew_load_ != nullptr; }

  /// By oneself. An upper bound: what is carried is tied down at once, but what is kept is carried all the way.
  [[nodiscard]] double alone_s(const Moment& m) {
    const auto& suit = suit_of(m.crew);
    const double factor = factor_of(m.crew);
    const Site& site = legs_.site(m.configuration, suit);
    const auto hatches = hatch_grips(site);
    const double before_s = m.move_s + (m.in_restraint ? excursion_.values.restraint_leave_s * factor : 0) +
                            2 * suit.tether_hook_s * factor * static_cast<double>(m.tethers_left) +
                            excursion_.ingress_s;
    const auto from = [&](const GripRef& ref) -> double {
      const auto grip = find_grip(*site.graph, ref);
      if (!grip) return infinity;
      if (m.kept.empty()) {
        const double free_s = legs_.home(site, hatches, closings_[m.closings])[grip->index()];
        return free_s == 0 ? 0 : free_s * factor + stow_all_s(m.carried) * factor;
      }
      const auto& outcome =
          legs_.find({&site, m.kept, route::Objective::Time, {*grip}, hatches}, closings_[m.closings]);
      const double down_s = stow_all_s(m.carried) - stow_all_s(m.kept);
      return outcome.leg ? (outcome.leg->time_s + down_s) * factor : infinity;
    };
    double longest_s = from(m.grip);
    if (m.next) longest_s = std::max(longest_s, from(*m.next));
    return before_s + longest_s;
  }

  struct Carried {
    double time_s = infinity;
    bool is_certain = true;
    std::vector<route::Cause> causes;
  };
  /// The victim stands; the helper comes, takes them, and both return.
  [[nodiscard]] Carried carried_s(const Moment& victim, const Moment& helper, bool is_helper_inside) {
    const auto& suit = suit_of(helper.crew);
    const double factor = factor_of(helper.crew);
    const Site& site = legs_.site(victim.configuration, suit);
    const auto hatches = hatch_grips(site);
    Carried carried;
    const auto at = find_grip(*site.graph, victim.grip);
    if (!at) return carried;
    const auto& closings = closings_[std::max(victim.closings, helper.closings)];
    const auto& home = legs_.find({&site, {crew_load_}, route::Objective::Time, {*at}, hatches}, closings);
    if (!home.leg) {
      carried.is_certain = home.none.is_certain && !home.none.causes.empty();
      carried.causes = home.none.causes;
      return carried;
    }
    double come_s = excursion_.egress_s;
    std::vector<GripId> from = hatches;
    if (!is_helper_inside) {
      come_s = helper.move_s + (helper.in_restraint ? excursion_.values.restraint_leave_s * factor : 0);
      from.clear();
      for (const auto& ref : {std::optional(helper.grip), helper.next})
        if (const auto grip = ref ? find_grip(*site.graph, *ref) : std::nullopt) from.push_back(*grip);
    }
    // From the worse end of the helper's move.
    double leg_s = from.empty() ? infinity : 0;
    for (const GripId grip : from) {
      const auto& leg = legs_.find({&site, {}, route::Objective::Time, {grip}, {*at}}, closings);
      const double this_s = leg.leg ? leg.leg->time_s : infinity;
      leg_s = is_helper_inside ? (grip == from.front() ? this_s : std::min(leg_s, this_s)) : std::max(leg_s, this_s);
    }
    const double hooks_s = 2 * suit.tether_hook_s *
                           static_cast<double>(victim.tethers_left + (is_helper_inside ? 0 : helper.tethers_left));
    carried.time_s = come_s +
                     factor * (leg_s + stow_all_s(helper.carried) + stow_all_s(victim.carried) +
                               (victim.in_restraint ? excursion_.values.restraint_leave_s.value : 0) +
                               home.leg->time_s + 2 * crew_load_->stow_s + hooks_s) +
                     excursion_.ingress_s;
    return carried;
  }

 private:
  [[nodiscard]] const model::Suit& suit_of(CrewId crew) const {
    return *model_.kit.find_suit(excursion_.crew[crew.index()].suit);
  }
  [[nodiscard]] double factor_of(CrewId crew) const {
    const auto found = options_.slower.find(excursion_.crew[crew.index()].id);
    return found == options_.slower.end() ? 1 : std::max(1.0, found->second);
  }
  [[nodiscard]] std::vector<GripId> hatch_grips(const Site& site) const {
    return grips_near(site, model_.structure, hatches_of(model_.structure, site.configuration));
  }

  const model::Model& model_;
  const model::Excursion& excursion_;
  Legs& legs_;
  const std::vector<Closings>& closings_;
  const PlanOptions& options_;
  const model::Load* crew_load_ = nullptr;
};

}  // namespace

void look_back(const model::Model& model, const model::Excursion& excursion, Legs& legs,
               const std::vector<Moment>& moments, const std::vector<Closings>& closings, Plan& plan) {
  BackFrom from(model, excursion, legs, closings, plan.options);
  const double limit_s = model.kit.design.emergency_return_s;
  std::vector<std::size_t> order(moments.size());
  for (std::size_t i = 0; i < order.size(); ++i) order[i] = i;
  std::stable_sort(order.begin(), order.end(),
                   [&](std::size_t x, std::size_t y) { return moments[x].at_s < moments[y].at_s; });
  std::vector<std::optional<std::size_t>> last(excursion.crew.size());  // moment of each crew member that holds
  std::map<std::string, std::size_t> told;
  const auto tell = [&](ViolationKind kind, const Moment& m, const char* what, double value_s, double allowed_s,
                        bool is_incapacitated, std::vector<route::Cause> causes) {
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
    if (m.row < plan.rows.size()) v.at = plan.rows[m.row].hand, v.has_at = true, v.other = plan.rows[m.row].subject;
    plan.violations.push_back(std::move(v));
  };
  const auto tell_if_late = [&](const Moment& m, double time_s, bool is_incapacitated) {
    if (time_s > limit_s + noise_s)
      tell(ViolationKind::ReturnTooLate, m, "emergency", time_s, limit_s, is_incapacitated, {});
    if (m.at_s + time_s > excursion.limit_s + noise_s)
      tell(ViolationKind::ReturnTooLate, m, "limit", m.at_s + time_s, excursion.limit_s, is_incapacitated, {});
  };
  for (const std::size_t i : order) {
    const Moment& m = moments[i];
    last[m.crew.index()] = i;
    Back back;
    back.at_s = m.at_s;
    back.crew = m.crew;
    back.row = std::min(m.row, plan.rows.size() - 1);
    back.alone_s = from.alone_s(m);
    if (std::isinf(back.alone_s)) {
      tell(ViolationKind::ReturnNotProven, m, "no-path", infinity, limit_s, false, {});
    } else {
      tell_if_late(m, back.alone_s, false);
    }
    // The other one incapacitated, and this one: at stops of either, both as they then are.
    if (excursion.crew.size() == 2 && from.has_crew_load() && m.is_stop) {
      const std::size_t other = 1 - m.crew.index();
      // A helper who has not left the hatch yet comes from there, as one who is inside again.
      const bool is_helper_inside = !last[other] || plan.totals[other].inside_at_s <= m.at_s + noise_s;
      Moment helper;
      if (last[other]) helper = moments[*last[other]];
      helper.crew = CrewId(other);
      if (is_helper_inside) helper.carried.clear(), helper.closings = m.closings;
      const auto carried = from.carried_s(m, helper, is_helper_inside);
      if (std::isinf(carried.time_s)) {
        back.is_incapacitated_proven = false;
        tell(carried.is_certain ? ViolationKind::ReturnTooLate : ViolationKind::ReturnNotProven, m,
             carried.is_certain ? "no-path" : "not-proven", infinity, limit_s, true, carried.causes);
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

}  // namespace holdfast::plan::detail
