// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Reading of what a kit says about worksites.

#include "document_impl.h"
#include "holdfast/model/worksite.h"

namespace holdfast::model::detail {

[[nodiscard]] Figure read_figure(Reading& reading, const YAML::Node& node, const std::string& where);
[[nodiscard]] std::vector<std::string> foot_restraint_keys();
[[nodiscard]] FootRestraint read_foot_restraint(const Map& map);
[[nodiscard]] HeldCamera read_camera(const Map& map);

}  // namespace holdfast::model::detail
