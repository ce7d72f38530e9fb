// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <array>
#include <cmath>

#include "holdfast/report/words.h"
#include "reach_words_impl.h"
#include "read_worksite_impl.h"
#include "words_impl.h"

namespace holdfast::report {

using Json = nlohmann::json;
using model::Vec3;
using reach::Kind;

namespace {

constexpr double degree = EIGEN_PI / 180;

Kind kind_of(const detail::WorksiteReading& reading, const std::string& name) {
  for (const auto kind : {Kind::TwoHand, Kind::OneHand, Kind::Forbidden, Kind::Blocked, Kind::FacesAway, Kind::TooNear,
                          Kind::OutOfReach, Kind::NotThere})
    if (name == detail::kind_name(kind)) return kind;
  reading.refuse_changed(fmt::format("the word \"{}\"", name));
  return Kind::NotThere;
}

Vec3 unit(const detail::WorksiteReading& reading, const Json& list) {
  const Vec3 v = reading.vec(list);
  if (std::abs(v.norm() - 1) > 1e-4) reading.refuse_changed("a direction that is not of length 1");
  return v.normalized();
}

reach::BodyFrame frame_of(const detail::WorksiteReading& reading, const Json& entry) {
  reach::BodyFrame frame{reading.vec(entry.at("soles")), unit(reading, entry.at("up")),
                         unit(reading, entry.at("forward"))};
  if (std::abs(frame.up.dot(frame.forward)) > 1e-4) reading.refuse_changed("a figure that faces along its own axis");
  frame.forward = (frame.forward - frame.forward.dot(frame.up) * frame.up).normalized();
  return frame;
}

/// `roll 60 deg, pitch 75 deg, height 0.30 m, yaw 0 deg`, or how the grip is held.
std::string posture_words(const detail::WorksiteReading& reading, const Json& station, reach::Station& read) {
  if (station.contains("setting")) {
    const auto& s = station.at("setting");
    read.setting = reach::Setting{s.at("roll").get<int>(), reading.number(s.at("roll_deg")) * degree,
                                  reading.number(s.at("pitch_deg")) * degree, reading.number(s.at("height_m")),
                                  reading.number(s.at("yaw_deg")) * degree};
    return detail::setting_words(*read.setting);
  }
  const auto& hold = station.at("hold");
  return fmt::format("{} hand on rail {} at {:.2f} m", hold.at("hand").get<std::string>(),
                     hold.at("rail").get<std::string>(), reading.number(hold.at("along_m")));
}

ReadTarget target_of(const detail::WorksiteReading& reading, const Json& entry, const Json& places) {
  ReadTarget target;
  target.id = entry.at("id");
  target.reach.kind = kind_of(reading, entry.at("kind").get<std::string>());
  target.reach.is_served = entry.at("served");
  for (const auto& place : places)
    if (place.at("id") == target.id && place.contains("at")) target.at = reading.vec(place.at("at"));
  if (entry.contains("hands"))
    for (const auto& hand : entry.at("hands"))
      target.reach.hand_reaches[hand == "left" ? reach::Left : reach::Right] = true;
  if (entry.contains("hand")) target.reach.hand = entry.at("hand") == "left" ? reach::Left : reach::Right;
  if (entry.contains("margin_m")) target.reach.margin_lower_m = reading.number(entry.at("margin_m"));
  if (entry.contains("short_m")) target.reach.short_m = reading.number(entry.at("short_m"));
  if (entry.contains("lean_deg") && !entry.at("lean_deg").is_null())
    target.reach.lean = static_cast<int>(std::lround(reading.number(entry.at("lean_deg")) * reach::lean_count / 360)) %
                        reach::lean_count;
  return target;
}

}  // namespace

void detail::read_reach(const WorksiteReading& reading, const Json& answer, ReadResult& result) {
  for (const auto& site : answer.at("sites")) {
    if (!site.at("there").get<bool>()) continue;
    const auto& stations = site.at("stations");
    const bool has_best = !site.at("best").is_null();
    if (!has_best && !site.contains("least_depth")) continue;
    const auto index = (has_best ? site.at("best") : site.at("least_depth").at("station")).get<std::size_t>();
    if (index >= stations.size()) reading.refuse_changed("a setting that is not listed");
    const auto& station = stations.at(index);
    ReadWorksite read;
    read.site = site.at("site");
    read.restraint = answer.value("restraint", std::string());
    read.words = posture_words(reading, station, read.station);
    read.station.frame = frame_of(reading, station.at("frame"));
    const auto& clearance = station.at("clearance");
    read.station.clearance.lower_m = reading.number(clearance.at("lower_m"));
    if (station.at("fits").get<bool>()) {
      read.words += fmt::format("; {}{} m clear of structure", clearance.at("at_least").get<bool>() ? "at least " : "",
                                bare_length_down(read.station.clearance.lower_m));
    } else {
      read.station.clearance.lower_m = 0;
      const auto& depth = site.at("least_depth");
      read.words += fmt::format("; EVERY SETTING COLLIDES, this one least, by {}{} m",
                                depth.at("at_least").get<bool>() ? "at least " : "",
                                bare_length_up(reading.number(depth.at("depth_m"))));
    }
    if (station.contains("way_in"))
      read.way_in = station.at("way_in").is_null()
                        ? "no way in"
                        : fmt::format("in and out by rail {}", station.at("way_in").at("rail").get<std::string>());
    if (station.contains("targets"))
      for (const auto& entry : station.at("targets")) {
        auto target = target_of(reading, entry, answer.at("targets"));
        if (target.reach.kind != Kind::NotThere) read.targets.push_back(std::move(target));
      }
    result.worksites.push_back(std::move(read));
  }
}

void detail::read_sight(const WorksiteReading& reading, const Json& document, ReadResult& result) {
  result.off_normal_rad = reading.number(document.at("limits").at("off_normal_deg")) * degree;
  const auto look_of = [&](const Json& entry) {
    ReadSight read;
    read.low = reading.number(entry.at("low")), read.high = reading.number(entry.at("high"));
    read.words = read.low > 0 ? fmt::format("{} from {} m", share_words(read.low, read.high),
                                            bare_length_up(reading.number(entry.at("distance_m"))))
                              : not_seen_words(read.high);
    return read;
  };
  for (const auto& entry : document.at("patches")) {
    const auto id = entry.at("id").get<std::string>();
    const auto patch = reading.structure.find_patch(id);
    if (!patch) reading.refuse_changed(fmt::format("patch \"{}\"", id));
    const bool is_there = reading.structure.is_present(reading.structure.patches[patch->index()], result.configuration);
    if (is_there != entry.at("there").get<bool>()) reading.refuse_changed(fmt::format("patch \"{}\" there", id));
    if (entry.contains("views"))
      for (const auto& view : entry.at("views")) {
        if (!view.contains("low")) continue;  // not there
        auto read = look_of(view);
        read.patch = *patch;
        read.eye_name = view.at("view");
        read.view = reading.structure.find_view(read.eye_name);
        if (!read.view ||
            !reading.structure.is_present(reading.structure.views[read.view->index()], result.configuration))
          reading.refuse_changed(fmt::format("view \"{}\"", read.eye_name));
        result.sights.push_back(std::move(read));
      }
    if (!entry.contains("best") || entry.at("best").empty()) continue;
    const auto& best = entry.at("best").at(0);
    auto read = look_of(best);
    read.patch = *patch;
    read.eye_name = fmt::format("camera at rail {}, {} m along it, {}", best.at("rail").get<std::string>(),
                                bare_length_up(reading.number(best.at("along_m"))),
                                best.at("held") == "hand" ? "at arm's length" : "at the helmet");
    read.eye = reach::Eye{reading.vec(best.at("eye")), unit(reading, best.at("direction")),
                          reading.number(best.at("half_angle_deg")) * degree, std::nullopt};
    result.sights.push_back(std::move(read));
  }
}

}  // namespace holdfast::report
