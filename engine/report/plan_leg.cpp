// SPDX-License-Identifier: GPL-3.0-or-later
// What the crew is told of a leg of an excursion, and what its rows are called in JSON.

#include <fmt/format.h>

#include "holdfast/report/plan.h"
#include "words_impl.h"

namespace holdfast::report {

using namespace detail;
using plan::What;

const char* kind_name(What what) {
  switch (what) {
    case What::Egress:
      return "egress";
    case What::Ingress:
      return "ingress";
    case What::Go:
      return "go";
    case What::Take:
      return "take";
    case What::Put:
      return "put";
    case What::Stow:
      return "stow";
    case What::SetUp:
      return "set-up";
    case What::TakeDown:
      return "take-down";
    case What::EnterRestraint:
      return "enter-restraint";
    case What::LeaveRestraint:
      return "leave-restraint";
    case What::Do:
      return "do";
    case What::WaitUntil:
      return "wait-until";
    case What::WaitTask:
      return "wait-task";
    case What::WaitCrew:
      return "wait-crew";
    case What::WaitEvent:
      return "wait-event";
    case What::WaitWindow:
      return "wait-window";
    case What::WaitHold:
      return "wait-hold";
    case What::WaitBody:
      return "wait-body";
    case What::Swap:
      return "swap";
    case What::Unhook:
      return "swap-back";
    case What::HandOver:
      return "hand-over";
    case What::Receive:
      return "receive";
    case What::Mate:
      return "mate";
    case What::Tie:
      return "tie";
    case What::Coil:
      return "coil";
    case What::TakeUp:
      return "take-up-coil";
    case What::Throw:
      return "throw";
    case What::Hold:
      return "hold";
  }
  return "";
}

std::vector<std::string> leg_cautions(const Context& context, const plan::DescribedLeg* leg) {
  std::vector<std::string> out;
  if (!leg) return {"zones and parts near this leg were not looked at: its path is not known"};
  for (const bool is_entered : {true, false})
    for (const auto& contact : leg->route.zones) {
      if ((contact.inside_s > 0) != is_entered) continue;
      const auto& zone = context.structure.zones[contact.zone.index()];
      std::string words = is_entered
                              ? fmt::format("{} in {} {}", duration(contact.inside_s), zone_kind(contact), zone.id)
                              : fmt::format("{} {}, {} from the corridor", zone_kind(contact), zone.id,
                                            length_down(context.options, contact.nearest_m));
      if (is_entered && contact.effect == model::ZoneEffect::Limit)
        words += fmt::format(", {} allowed over the excursion", duration_down(zone.limit_s));
      out.push_back(words + (zone.reason.empty() ? "" : ": " + zone.reason));
    }
  for (const auto& item : leg->route.band) {
    // The first row is where the leg starts.
    const auto& where = leg->route.legs.front().rows[item.row];
    out.push_back(
        fmt::format("{}, on rail {}", band_words(context, item), context.structure.rails[where.rail.index()].id));
  }
  if (!leg->has_loads)
    out.emplace_back(
        "what is carried was not followed along this leg: its clearance and the zones it enters are not known");
  return out;
}

}  // namespace holdfast::report
