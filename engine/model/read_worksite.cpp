// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "holdfast/model/kit.h"
#include "read_worksite_impl.h"

namespace holdfast::model::detail {

namespace {

constexpr double degree = std::numbers::pi / 180;
constexpr Limits body_length{0, 10, true};
constexpr std::size_t most_steps = 10000;

/// `[a, b, c]`, `{values: [a, b, c], source, confidence}` or `{from, to, by, source, confidence}`, ascending.
QuantityList read_steps(const Map& map, const std::string& key, Limits limits, const QuantityList& otherwise,
                        double factor = 1) {
  if (!map.has(key)) return otherwise;
  Reading& reading = map.reading();
  const auto node = map.at(key);
  const auto faults = reading.diagnostics.size();
  QuantityList list{{}, "kit file", Confidence::Assumption};
  const auto take = [&](const YAML::Node& item, const std::string& where) {
    if (const auto value = read_number(reading, item, where, limits)) list.values.push_back(*value);
  };
  if (!node.IsMap()) {
    for_each_item(reading, node, map.path(key), take);
  } else {
    const Map entry(reading, node, map.path(key), {"values", "from", "to", "by", "source", "confidence"});
    if (!entry.is_valid()) return otherwise;
    list.source = entry.text("source", list.source);
    list.confidence = entry.confidence("confidence", list.confidence);
    if (entry.has("values")) {
      for (const char* other : {"from", "to", "by"})
        if (entry.has(other))
          reading.fault(entry.at(other), entry.path(other), "unknown-key",
                        fmt::format("\"{}\" has no meaning beside \"values\"", other), "keep one of them");
      for_each_item(reading, entry.at("values"), entry.path("values"), take);
    } else {
      const auto before = reading.diagnostics.size();
      const double from = entry.required_number("from", limits, 0), to = entry.required_number("to", limits, 1);
      const double by = entry.required_number("by", {0, 1e4, true}, 1);
      if (reading.diagnostics.size() > before) return otherwise;
      const double steps = std::round((to - from) / by);
      if (steps < 0 || steps > most_steps || std::abs(from + steps * by - to) > 1e-9) {
        reading.fault(node, map.path(key), "out-of-range",
                      fmt::format("from {} to {} is no whole number of steps of {}", from, to, by),
                      "write values: [a, b, c], or steps that end at `to`");
        return otherwise;
      }
      for (int i = 0; i <= static_cast<int>(steps); ++i) list.values.push_back(from + i * by);
    }
  }
  if (list.values.empty()) {
    if (reading.diagnostics.size() > faults) return otherwise;
    reading.fault(node, map.path(key), "empty", fmt::format("\"{}\" has no settings", map.path(key)),
                  "give one number at least, or leave the key out");
    return otherwise;
  }
  std::sort(list.values.begin(), list.values.end());
  const auto twice = std::adjacent_find(list.values.begin(), list.values.end());
  if (twice != list.values.end())
    reading.fault(node, map.path(key), "duplicate-id", fmt::format("{} is listed twice", *twice), "remove one");
  for (double& value : list.values) value *= factor;
  return list;
}

}  // namespace

Figure read_figure(Reading& reading, const YAML::Node& node, const std::string& where) {
  const Figure defaults = default_figure();
  const Map map(reading, node, where,
                {"height_m", "hips_m", "chest_m", "shoulders_m", "shoulder_breadth_m", "body_radius_m", "breadth_m",
                 "depth_front_m", "depth_back_m", "sway_deg", "two_hand_out_m", "two_hand_radius_m", "one_hand_reach_m",
                 "shoulder_half_angle_deg", "shoulder_outward_deg", "shoulder_down_deg", "arm_radius_m", "hand_m"});
  if (!map.is_valid()) return defaults;
  const auto faults = reading.diagnostics.size();
  Figure f = defaults;
  const Limits length{0, 3, true};
  f.height_m = map.quantity("height_m", {0.5, 3}, f.height_m);
  f.hips_m = map.quantity("hips_m", length, f.hips_m);
  f.chest_m = map.quantity("chest_m", length, f.chest_m);
  f.shoulders_m = map.quantity("shoulders_m", length, f.shoulders_m);
  f.shoulder_breadth_m = map.quantity("shoulder_breadth_m", length, f.shoulder_breadth_m);
  f.body_radius_m = map.quantity("body_radius_m", {0, 1, true}, f.body_radius_m);
  f.breadth_m = map.quantity("breadth_m", length, f.breadth_m);
  f.depth_front_m = map.quantity("depth_front_m", length, f.depth_front_m);
  f.depth_back_m = map.quantity("depth_back_m", length, f.depth_back_m);
  f.sway_rad = map.quantity("sway_deg", {0, 60}, f.sway_rad, degree);
  f.two_hand_out_m = map.quantity("two_hand_out_m", {0, 2}, f.two_hand_out_m);
  f.two_hand_radius_m = map.quantity("two_hand_radius_m", {0, 2, true}, f.two_hand_radius_m);
  f.one_hand_reach_m = map.quantity("one_hand_reach_m", {0, 2, true}, f.one_hand_reach_m);
  f.shoulder_half_angle_rad =
      map.quantity("shoulder_half_angle_deg", {0, 180, true}, f.shoulder_half_angle_rad, degree);
  f.shoulder_outward_rad = map.quantity("shoulder_outward_deg", {-90, 90}, f.shoulder_outward_rad, degree);
  f.shoulder_down_rad = map.quantity("shoulder_down_deg", {-90, 90}, f.shoulder_down_rad, degree);
  f.arm_radius_m = map.quantity("arm_radius_m", {0, 0.5, true}, f.arm_radius_m);
  f.hand_m = map.quantity("hand_m", {0, 0.5, true}, f.hand_m);
  if (reading.diagnostics.size() > faults) return defaults;
  if (!(f.hips_m < f.chest_m && f.chest_m <= f.shoulders_m && f.shoulders_m < f.helmet_m()) ||
      f.height_m < 2 * f.body_radius_m) {
    reading.fault(node, where, "out-of-range",
                  fmt::format("hips {}, chest {}, shoulders {} and helmet {} m above the soles are out of order",
                              f.hips_m.value, f.chest_m.value, f.shoulders_m.value, f.helmet_m()),
                  "give 0 < hips < chest <= shoulders < height less 0.25 m");
    return defaults;
  }
  return f;
}

std::vector<std::string> foot_restraint_keys() {
  return {"id",      "name",    "pitch_deg", "height_m",         "yaw_deg",         "footprint_m",
          "enter_s", "leave_s", "change_s",  "reach_two_hand_m", "reach_one_hand_m"};
}

FootRestraint read_foot_restraint(const Map& map) {
  Reading& reading = map.reading();
  FootRestraint restraint = default_foot_restraint();
  restraint.mark = map.mark();
  restraint.id = read_id(map);
  const Subject subject(reading, fmt::format("foot restraint \"{}\"", restraint.id));
  restraint.name = map.text("name", restraint.id);
  for (const char* key : {"reach_two_hand_m", "reach_one_hand_m"})
    if (map.has(key))
      reading.fault(map.at(key), map.path(key), "unknown-key",
                    fmt::format("\"{}\" is the suit's, not the restraint's", key),
                    "write it under the suit: figure: {two_hand_radius_m, one_hand_reach_m}");
  restraint.pitch_rad = read_steps(map, "pitch_deg", {-180, 180}, restraint.pitch_rad, degree);
  restraint.height_m = read_steps(map, "height_m", {0.05, 5}, restraint.height_m);
  restraint.yaw_rad = read_steps(map, "yaw_deg", {-180, 180}, restraint.yaw_rad, degree);
  // The settings of a socket with the finest roll are rolls times these; the rolls are bounded where both are known.
  const std::size_t count =
      restraint.pitch_rad.values.size() * restraint.height_m.values.size() * restraint.yaw_rad.values.size();
  if (count > most_steps) {
    reading.fault(map.mark(), map.path("pitch_deg"), "too-large",
                  fmt::format("{} settings for each roll of a socket", count), "",
                  fmt::format("leave out steps: at most {} settings a socket", most_steps));
    restraint.pitch_rad.values.resize(1);
  }
  if (map.has("footprint_m")) {
    if (map.at("footprint_m").IsMap()) {
      const Map entry(reading, map.at("footprint_m"), map.path("footprint_m"), {"value", "source", "confidence"});
      restraint.footprint_m.source = entry.text("source", "kit file");
      restraint.footprint_m.confidence = entry.confidence("confidence", Confidence::Assumption);
      if (entry.require("value", "add value: [forward, side]"))
        if (const auto size = read_vec2(reading, entry.at("value"), entry.path("value"), body_length))
          restraint.footprint_m.values = {size->x(), size->y()};
    } else if (const auto size = read_vec2(reading, map.at("footprint_m"), map.path("footprint_m"), body_length)) {
      restraint.footprint_m = {{size->x(), size->y()}, "kit file", Confidence::Assumption};
    }
  }
  const Limits seconds{0, 1e5};
  restraint.enter_s = map.quantity("enter_s", seconds, restraint.enter_s);
  restraint.leave_s = map.quantity("leave_s", seconds, restraint.leave_s);
  restraint.change_s = map.quantity("change_s", seconds, restraint.change_s);
  return restraint;
}

HeldCamera read_camera(const Map& map) {
  HeldCamera camera = default_camera();
  camera.mark = map.mark();
  camera.id = read_id(map);
  const Subject subject(map.reading(), fmt::format("camera \"{}\"", camera.id));
  camera.name = map.text("name", camera.id);
  camera.half_angle_rad = map.quantity("half_angle_deg", {0, 180, true}, camera.half_angle_rad, degree);
  camera.range_m = map.quantity("range_m", positive_length, camera.range_m);
  camera.held = map.word("held", {"helmet", "hand"}, 0) == 1 ? HeldAt::Hand : HeldAt::Helmet;
  return camera;
}

}  // namespace holdfast::model::detail
