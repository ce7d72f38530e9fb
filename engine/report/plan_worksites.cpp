// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>

#include "page_impl.h"
#include "plan_words_impl.h"
#include "reach_words_impl.h"
#include "words_impl.h"

namespace holdfast::report::detail {

using plan::Plan;

namespace {

std::string crew_of(const Plan& plan, const plan::CrewId& crew) { return plan.excursion->crew[crew.index()].id; }

std::string percent(double share) { return fmt::format("{:.0f} %", std::floor(100 * share + 1e-9)); }

std::string target_words(const plan::TaskReach::Target& target) {
  if (target.kind == reach::Kind::OutOfReach)
    return fmt::format(
        "{} out of reach{}", target.id,
        target.short_m > 0 ? fmt::format(" by {:.2f} m", std::ceil(target.short_m * 100 - 1e-9) / 100) : std::string());
  return fmt::format("{} {}{}", target.id, kind_name(target.kind), target.is_served ? "" : " (not enough)");
}

/// Shares are found to 2 % of the area (`reach/patch.h`): what may be all of it is no part.
bool is_in_part(const plan::Photograph& told) { return told.seen_lower < 0.98; }

std::string part_words(const plan::Photograph& told) {
  if (!is_in_part(told)) return {};
  return fmt::format("; CAUTION: seen in part only, at most {:.0f} % of it", std::ceil(100 * told.seen_upper - 1e-9));
}

/// Of one pair or crew member, in time.
void add_stretches(std::string& out, const Plan& plan, const std::string& title,
                   const std::optional<plan::CrewId>& crew, double briefly_s) {
  std::vector<std::string> words;
  double sum_s = briefly_s;
  for (const auto& stretch : plan.out_of_sight) {
    if (stretch.crew != crew) continue;
    words.push_back(fmt::format("{} to {}", duration_down(stretch.from_s), duration(stretch.to_s)));
    sum_s += stretch.to_s - stretch.from_s;
  }
  std::string line = words.empty() ? std::string("never for long") : fmt::format("{}", fmt::join(words, ", "));
  if (words.empty() && briefly_s <= 0) line = "never";
  if (sum_s > 0) line += fmt::format("; {} in all", duration(sum_s));
  paragraph(out, "  " + title + ": ", line, 4);
}

}  // namespace

std::string worksites_page(const Context& context, const Plan& plan) {
  const auto& e = *plan.excursion;
  std::string out;
  if (!plan.reaches.empty()) {
    out += "Within reach\n";
    for (const auto& told : plan.reaches) {
      std::vector<std::string> targets;
      for (const auto& target : told.targets) targets.push_back(target_words(target));
      const std::string from = told.socket.empty() ? std::string("by free hand")
                               : told.setting      ? fmt::format("{} in {}, {}{}", told.restraint, told.socket,
                                                                 setting_words(*told.setting), told.is_derived ? " *" : "")
                                              : fmt::format("{} in {}, in no setting", told.restraint, told.socket);
      paragraph(out, fmt::format("  {} {}: ", duration(told.at_s), e.tasks[told.task.index()].id),
                fmt::format("{}; {}", from, fmt::join(targets, ", ")), 4);
    }
    out += "\n";
  }
  if (!plan.cautions.empty()) {
    out += "In caution zones, standing and working included\n";
    for (const auto& stay : plan.cautions) {
      const auto& zone = context.structure.zones[stay.zone.index()];
      paragraph(out, fmt::format("  {}: ", crew_of(plan, stay.crew)),
                fmt::format("{} in {}{}", duration(stay.stay_s), zone.id,
                            zone.reason.empty() ? std::string() : ": " + zone.reason),
                4);
    }
    out += "\n";
  }
  if (!plan.photographs.empty()) {
    out += "Photographs\n";
    for (const auto& told : plan.photographs)
      paragraph(
          out, fmt::format("  {} {}: ", duration(told.at_s), e.tasks[told.task.index()].id),
          fmt::format("{} from rail {}{}, at least {} of it seen, {} off{}",
                      context.structure.patches[told.patch.index()].id, context.structure.rails[told.rail.index()].id,
                      told.is_at_arms_length ? " at arm's length" : "", percent(told.seen_lower),
                      length_up(context.options, told.distance_m), part_words(told)),
          4);
    out += "\n";
  }
  if (!plan.briefly_out_s.empty() && (e.crew.size() == 2 || plan.has_windows)) {
    out += "Out of sight\n";
    if (e.crew.size() == 2) add_stretches(out, plan, "of each other", std::nullopt, plan.briefly_out_s.front());
    for (std::size_t c = 0; c < e.crew.size() && plan.has_windows; ++c)
      add_stretches(out, plan, crew_of(plan, plan::CrewId(c)) + " of every window", plan::CrewId(c),
                    plan.briefly_out_s[1 + c]);
    out += "\n";
  }
  return out;
}

void add_worksites(const Context& context, const Plan& plan, Json& out) {
  const auto& e = *plan.excursion;
  const auto setting_json = [](const reach::Setting& setting) {
    return Json{{"roll_deg", in_degrees(setting.roll_rad)},
                {"pitch_deg", in_degrees(setting.pitch_rad)},
                {"height_m", rounded(setting.height_m)},
                {"yaw_deg", in_degrees(setting.yaw_rad)}};
  };
  Json reaches = Json::array();
  for (const auto& told : plan.reaches) {
    Json targets = Json::array();
    for (const auto& target : told.targets)
      targets.push_back({{"id", target.id},
                         {"kind", kind_name(target.kind)},
                         {"served", target.is_served},
                         {"short_m", rounded_up(target.short_m)}});
    Json entry = {{"task", e.tasks[told.task.index()].id},
                  {"crew", crew_of(plan, told.crew)},
                  {"at_s", rounded(told.at_s)},
                  {"socket", told.socket},
                  {"restraint", told.restraint},
                  {"derived", told.is_derived},
                  {"targets", targets}};
    if (told.setting) entry["setting"] = setting_json(*told.setting);
    if (told.better) entry["better"] = setting_json(*told.better);
    reaches.push_back(std::move(entry));
  }
  out["reaches"] = reaches;
  Json cautions = Json::array();
  for (const auto& stay : plan.cautions)
    cautions.push_back({{"crew", crew_of(plan, stay.crew)},
                        {"zone", context.structure.zones[stay.zone.index()].id},
                        {"stay_s", rounded_up(stay.stay_s)}});
  out["cautions"] = cautions;
  Json photographs = Json::array();
  for (const auto& told : plan.photographs)
    photographs.push_back({{"task", e.tasks[told.task.index()].id},
                           {"crew", crew_of(plan, told.crew)},
                           {"at_s", rounded(told.at_s)},
                           {"patch", context.structure.patches[told.patch.index()].id},
                           {"camera", told.camera},
                           {"rail", context.structure.rails[told.rail.index()].id},
                           {"hand", point_json(told.hand)},
                           {"at_arms_length", told.is_at_arms_length},
                           {"seen_low", rounded_down(told.seen_lower)},
                           {"seen_high", rounded_up(told.seen_upper)},
                           {"in_part", is_in_part(told)},
                           {"distance_m", rounded_up(told.distance_m)}});
  out["photographs"] = photographs;
  Json stretches = Json::array();
  for (const auto& stretch : plan.out_of_sight)
    stretches.push_back({{"crew", stretch.crew ? Json(crew_of(plan, *stretch.crew)) : Json(nullptr)},
                         {"from_s", rounded_down(stretch.from_s)},
                         {"to_s", rounded_up(stretch.to_s)}});
  Json briefly = Json::array();
  for (const double s : plan.briefly_out_s) briefly.push_back(rounded_up(s));
  out["out_of_sight"] = {{"stretches", stretches}, {"briefly_s", briefly}, {"windows", plan.has_windows}};
}

}  // namespace holdfast::report::detail
