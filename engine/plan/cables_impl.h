// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Runs of cables that an excursion lays, each question asked once.

#include <map>
#include <memory>
#include <string>
#include <vector>

#include "holdfast/cable/cable.h"
#include "sites_impl.h"

namespace holdfast::plan::detail {

class Cables {
 public:
  explicit Cables(const model::Kit& kit) : kit_(kit) {}

  /// The run and its coil alone. `standing`: boxes that no coil may overlap; all that `request.may_stand` is asked.
  /// Throws as `cable::find_cable_run`.
  [[nodiscard]] const cable::CableAnswer& find(const Site& site, const model::Cable& cable, cable::CableRequest request,
                                               const std::vector<model::RailId>& closed,
                                               const std::vector<Obstacle>& standing);
  /// A run that was laid before, with the coil at its end. Throws as `cable::find_cable_run`.
  [[nodiscard]] const cable::CableAnswer& describe(const Site& site, const model::Cable& cable,
                                                   cable::CableRequest request,
                                                   const std::vector<model::RailId>& closed);

 private:
  const cable::CableSpace& space(const Site& site, const model::Cable& cable);

  const model::Kit& kit_;
  std::map<std::string, std::unique_ptr<cable::CableSpace>> spaces_;  // by site and cable
  std::map<std::string, cable::CableAnswer> answers_;
};

}  // namespace holdfast::plan::detail
