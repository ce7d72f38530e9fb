// SPDX-License-Identifier: GPL-3.0-or-later
#include "cables_impl.h"

#include <fmt/format.h>

#include <algorithm>

namespace holdfast::plan::detail {

namespace {

std::string key_of(const Site& site, const model::Cable& cable, const cable::CableRequest& request,
                   const std::vector<model::RailId>& closed) {
  const auto point = [](const Vec3& p) { return fmt::format("{:a},{:a},{:a} ", p.x(), p.y(), p.z()); };
  std::string key = fmt::format("{} {} from {} to {} holds {}", static_cast<const void*>(&site), cable.id, request.from,
                                request.to, point(request.least_coil_m));
  for (const auto rail : closed) key += fmt::format(" closed {}", rail.value);
  for (const auto& laid : request.laid) {
    key += fmt::format(" laid {} ", laid.name);
    for (const auto& p : laid.line) key += point(p);
  }
  if (request.goes_on) {
    key += fmt::format(" goes on {:a}", request.goes_on->used_m);
    for (const auto& tie : request.goes_on->ties)
      key += fmt::format(" {} {} {:a}", static_cast<int>(tie.kind), tie.id, tie.along_m);
  }
  return key;
}

}  // namespace

Cables& Legs::cables() {
  if (!cables_) cables_ = std::make_shared<Cables>(kit_);
  return *cables_;
}

const cable::CableSpace& Cables::space(const Site& site, const model::Cable& cable) {
  auto& space = spaces_[fmt::format("{} {}", static_cast<const void*>(&site), cable.id)];
  if (!space) space = std::make_unique<cable::CableSpace>(cable::prepare_cable(*site.graph, kit_, cable, nullptr));
  return *space;
}

const cable::CableAnswer& Cables::find(const Site& site, const model::Cable& cable, cable::CableRequest request,
                                       const std::vector<model::RailId>& closed,
                                       const std::vector<Obstacle>& standing) {
  const std::string key = key_of(site, cable, request, closed) + " standing " + Closings{{}, standing}.key();
  if (const auto known = answers_.find(key); known != answers_.end()) return known->second;
  const double grip_m = kit_.design.grip_length_m;
  // Grips that it is tied over are taken for a grip's length on either side.
  request.may_stand = [&standing, grip_m](const graph::BoxPose& box, const Vec3& size_m) {
    const Obstacle coil{box, size_m + Vec3::Constant(2 * grip_m), {}};
    return std::none_of(standing.begin(), standing.end(),
                        [&](const Obstacle& other) { return do_boxes_overlap(coil, other); });
  };
  request.tells_more = false;
  const route::Profile profile{.kit = kit_, .suit = *site.suit, .closures = {closed}};
  auto answer = cable::find_cable_run(space(site, cable), profile, request);
  answer.request.may_stand = {};
  return answers_.emplace(key, std::move(answer)).first->second;
}

const cable::CableAnswer& Cables::describe(const Site& site, const model::Cable& cable, cable::CableRequest request,
                                           const std::vector<model::RailId>& closed) {
  const std::string key = "described " + key_of(site, cable, request, closed);
  if (const auto known = answers_.find(key); known != answers_.end()) return known->second;
  const route::Profile profile{.kit = kit_, .suit = *site.suit, .closures = {closed}};
  return answers_.emplace(key, cable::describe_laid_run(space(site, cable), profile, request)).first->second;
}

}  // namespace holdfast::plan::detail
