// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>

#include <numbers>

#include "json_impl.h"
#include "reach_words_impl.h"
#include "words_impl.h"

namespace holdfast::report {

using namespace detail;
using reach::Hand;
using reach::Kind;
using reach::ReachAnswer;
using reach::SiteReach;
using reach::Station;
using reach::TargetReach;

double detail::in_degrees(double radians) { return rounded(radians * 180 / std::numbers::pi); }

namespace {

class ReachJson {
 public:
  explicit ReachJson(const Context& context) : c_(context), s_(context.structure) {}

  Json write(const ReachAnswer& answer) const {
    Json out = {{"configuration", configuration_json(answer.head.configuration)}, {"suit", answer.head.suit}};
    if (!answer.restraint.empty()) out["restraint"] = answer.restraint;
    out["targets"] = Json::array();
    for (const auto& target : answer.targets) {
      Json entry = {{"id", target.text}, {"there", target.is_there}, {"hands_needed", target.hands_needed}};
      if (target.is_there) entry["at"] = point_json(target.at);
      if (target.part) entry["part"] = part(*target.part);
      out["targets"].push_back(entry);
    }
    out["sites"] = Json::array();
    for (const auto& site : answer.sites) out["sites"].push_back(write(answer, site));
    Json members = Json::array();
    for (const auto& member : answer.smallest.members)
      members.push_back({{"site", answer.sites[member.site].site},
                         {"station", member.station},
                         {"serves", names(answer, member.serves)}});
    out["smallest_set"] = {{"stations", members},
                           {"proven", answer.smallest.is_smallest},
                           {"at_least", answer.smallest.at_least},
                           {"not_served", names(answer, answer.smallest.unserved)}};
    if (answer.has_route) {
      out["from"] = answer.head.request.from;
      write_outcome_json(c_, answer.head, out);
      if (answer.arrive_s) out["arrive_s"] = rounded_up(*answer.arrive_s);
    }
    return out;
  }

 private:
  Json part(model::PartId id) const { return s_.parts[id.index()].id; }
  Json rail(model::RailId id) const { return s_.rails[id.index()].id; }
  Json zones(const std::vector<model::ZoneId>& ids) const {
    Json out = Json::array();
    for (const auto id : ids) out.push_back(s_.zones[id.index()].id);
    return out;
  }
  static Json names(const ReachAnswer& answer, const std::vector<std::size_t>& targets) {
    Json out = Json::array();
    for (const auto t : targets) out.push_back(answer.targets[t].text);
    return out;
  }
  void write(Json& out, const reach::Obstacle& obstacle) const {
    if (obstacle.part) out["part"] = part(*obstacle.part);
    if (obstacle.zone) out["zone"] = s_.zones[obstacle.zone->index()].id;
  }

  Json write(const ReachAnswer& answer, const SiteReach& site) const {
    Json out = {{"site", site.site}, {"kind", site.socket ? "socket" : "free-hand"}, {"there", site.is_there}};
    if (site.socket && site.is_there) out["off_structure"] = site.is_off_structure;
    out["fitting"] = site.fitting();
    out["best"] = site.best ? Json(*site.best) : Json(nullptr);
    if (site.best) {
      out["axis_distance_m"] = rounded_down(site.axis_distance_m);
      out["handhold_beside"] = {{"left", site.handhold_beside[reach::Left]},
                                {"right", site.handhold_beside[reach::Right]}};
    }
    if (site.least_depth)
      out["least_depth"] = {{"station", site.least_depth->station},
                            {"depth_m", rounded_up(site.least_depth->depth.value_m)},
                            {"at_least", site.least_depth->depth.is_at_least}};
    out["stations"] = Json::array();
    for (const auto& station : site.stations) out["stations"].push_back(write(answer, station));
    return out;
  }

  Json write(const ReachAnswer& answer, const Station& station) const {
    Json out;
    if (const auto& s = station.setting)
      out["setting"] = {{"roll", s->roll},
                        {"roll_deg", in_degrees(s->roll_rad)},
                        {"pitch_deg", in_degrees(s->pitch_rad)},
                        {"height_m", rounded(s->height_m)},
                        {"yaw_deg", in_degrees(s->yaw_rad)}};
    if (const auto& hold = station.hold)
      out["hold"] = {{"rail", rail(hold->rail)},
                     {"along_m", rounded(hold->along_m)},
                     {"axis_turned_deg", hold->azimuth * 360 / reach::lean_count},
                     {"hand", hand_name(hold->holds)},
                     {"reaches", station.can_hold}};
    out["frame"] = {{"soles", point_json(station.frame.soles)},
                    {"up", point_json(station.frame.up)},
                    {"forward", point_json(station.frame.forward)}};
    out["fits"] = station.fits();
    Json clearance = {{"lower_m", rounded_down(station.clearance.lower_m)},
                      {"at_least", station.clearance.lower_m >= reach::most_clearance_m}};
    write(clearance, station.clearance.nearest);
    if (station.clearance.is_restraint) clearance["restraint"] = true;
    out["clearance"] = clearance;
    if (!station.fits() || !station.can_hold) return out;
    if (station.setting) {
      out["way_in"] = nullptr;
      if (const auto& way = station.way_in)
        out["way_in"] = {{"rail", rail(way->rail)},
                         {"along_m", rounded(way->along_m)},
                         {"hand", hand_name(way->hand)},
                         {"distance_m", rounded_up(way->distance_m)}};
    }
    out["zones"] = zones(station.notes);
    out["targets"] = Json::array();
    for (std::size_t t = 0; t < station.targets.size(); ++t)
      out["targets"].push_back(write(answer.targets[t].text, station.targets[t]));
    return out;
  }

  Json write(const std::string& id, const TargetReach& target) const {
    Json out = {{"id", id}, {"kind", kind_name(target.kind)}, {"served", target.is_served}};
    if (target.kind == Kind::NotThere) return out;
    if (target.is_reached()) {
      out["hands"] = Json::array();
      for (const Hand hand : reach::both_hands)
        if (target.hand_reaches[hand]) out["hands"].push_back(hand_name(hand));
      out["margin_m"] = rounded_down(target.margin_lower_m);
      out["zones"] = zones(target.notes);
    } else {
      out["hand"] = hand_name(target.hand);
      if (target.kind == Kind::OutOfReach) out["short_m"] = rounded_up(target.short_m);
      write(out, target.obstacle);
    }
    out["lean_deg"] = target.lean ? Json(*target.lean * 360 / reach::lean_count) : Json(nullptr);
    return out;
  }

  const Context& c_;
  const model::Structure& s_;
};

}  // namespace

std::string json(const Context& context, const ReachPage& page) {
  Json out = document_json(context, "reach", "reach");
  out["answers"] = Json::array();
  for (const auto& answer : page.answers) out["answers"].push_back(ReachJson(context).write(answer));
  if (page.asks_holds)
    for (auto& answer : out["answers"]) answer["held"] = Json::array();
  for (const auto& hold : page.holds) {
    auto& answer = out["answers"][hold.answer];
    Json by = Json::array();
    for (const auto& each : hold.held.positioning.holds) {
      Json tethers = Json::array();
      for (const auto* tether : hold.held.positioning.all[each.series].tethers) tethers.push_back(tether->id);
      by.push_back({{"tethers", tethers}, {"hook", each.hook.name}, {"distance_m", rounded_up(each.distance_m)}});
    }
    answer["held"].push_back({{"site", page.answers[hold.answer].sites[hold.held.site].site},
                              {"target", page.answers[hold.answer].targets[hold.held.target].text},
                              {"station", hold.held.station},
                              {"stations", hold.held.stations},
                              {"by", by}});
  }
  finish_json(context, page.answers.front().head, out);
  return dump_json(out);
}

std::string csv(const Context& context, const ReachPage& page) {
  std::string out =
      "configuration,site,setting,rail,along_m,axis_turned_deg,holds,roll_deg,pitch_deg,height_m,yaw_deg,clearance_m,"
      "collides_with,"
      "way_in,target,kind,hands,lean_deg,margin_m,short_m,by,served\r\n";
  const auto obstacle = [&](const reach::Obstacle& o) {
    return o.part   ? context.structure.parts[o.part->index()].id
           : o.zone ? context.structure.zones[o.zone->index()].id
                    : "";
  };
  for (const auto& answer : page.answers)
    for (const auto& site : answer.sites)
      for (std::size_t i = 0; i < site.stations.size(); ++i) {
        const auto& station = site.stations[i];
        std::string row = csv_field(configuration_words(answer.head.configuration)) + "," + csv_field(site.site) +
                          fmt::format(",{},", i);
        if (const auto& hold = station.hold)
          row += fmt::format("{},{},{},{},,,,", csv_field(context.structure.rails[hold->rail.index()].id),
                             rounded(hold->along_m), hold->azimuth * 360 / reach::lean_count, hand_name(hold->holds));
        else
          row += fmt::format(",,,,{},{},{},{}", in_degrees(station.setting->roll_rad),
                             in_degrees(station.setting->pitch_rad), rounded(station.setting->height_m),
                             in_degrees(station.setting->yaw_rad));
        row += fmt::format(",{},{},", rounded_down(station.clearance.lower_m),
                           station.fits() ? "" : csv_field(obstacle(station.clearance.nearest)));
        if (station.way_in) row += csv_field(context.structure.rails[station.way_in->rail.index()].id);
        if (station.targets.empty()) out += row + ",,,,,,,,\r\n";
        for (std::size_t t = 0; t < station.targets.size(); ++t) {
          const auto& target = station.targets[t];
          std::string hands;
          if (target.is_reached())
            hands = std::string(target.hand_reaches[reach::Left] ? "L" : "") +
                    (target.hand_reaches[reach::Right] ? "R" : "");
          out += row + fmt::format(",{},{},{},{},{},{},{},{}\r\n", csv_field(answer.targets[t].text),
                                   kind_name(target.kind), hands,
                                   target.lean ? fmt::format("{}", *target.lean * 360 / reach::lean_count) : "",
                                   target.is_reached() ? fmt::format("{}", rounded_down(target.margin_lower_m)) : "",
                                   target.kind == Kind::OutOfReach ? fmt::format("{}", rounded_up(target.short_m)) : "",
                                   csv_field(obstacle(target.obstacle)), target.is_served ? "yes" : "no");
        }
      }
  return out;
}

}  // namespace holdfast::report
