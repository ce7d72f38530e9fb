// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Words about worksites and sight that text, JSON and CSV share.

#include <string>

#include "holdfast/report/reach.h"

namespace holdfast::report::detail {

[[nodiscard]] const char* kind_name(reach::Kind kind);  ///< `two-hand` ...
[[nodiscard]] const char* hand_name(reach::Hand hand);
/// `roll 90 deg, pitch 75 deg, height 0.30 m, yaw 0 deg`, or the grip and how it is held.
[[nodiscard]] std::string station_words(const Context& context, const reach::Station& station);
/// `roll 90 deg, pitch 75 deg, height 0.30 m, yaw 0 deg`
[[nodiscard]] std::string setting_words(const reach::Setting& setting);
/// `73 to 76 %`: what is seen for sure rounded down, what may be seen rounded up.
[[nodiscard]] std::string share_words(double low, double high);
/// `not seen`, or how much may be at most.
[[nodiscard]] std::string not_seen_words(double high);
/// Part or zone by its name.
[[nodiscard]] std::string obstacle_words(const Context& context, const reach::Obstacle& obstacle);
/// `two hands, leaning 30 deg to the left of forward`.
[[nodiscard]] std::string target_words(const Context& context, const reach::TargetReach& target);
/// `2`, `1L`, `1R`, `1LR`, `blocked`, `0.35 off` ...
[[nodiscard]] std::string target_cell(const reach::TargetReach& target);
/// For JSON and CSV, as `rounded`.
[[nodiscard]] double in_degrees(double radians);
/// The path to a rail with `last` as its last line, or why there is none; ends with a line feed.
[[nodiscard]] std::string path_page(const Context& context, const route::Answer& head, const std::string& last = {});

}  // namespace holdfast::report::detail
