// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>

#include <cmath>
#include <map>
#include <numbers>

#include "document_impl.h"
#include "read_impl.h"
#include "read_worksite_impl.h"

namespace holdfast::model::detail {

namespace {

constexpr double degree = std::numbers::pi / 180;
constexpr Limits seconds{0, 1e5};
constexpr Limits newtons{0, 1e6, true};
constexpr Limits kilograms{0, 1e5, true};
constexpr Limits metres_per_second{0, 2, true};
constexpr Limits body_length{0, 10, true};

class KitReader {
 public:
  explicit KitReader(Reading& reading) : reading_(reading) {}

  Kit read(const YAML::Node& document) {
    kit_.design = default_design_values();
    const Map map(reading_, document, "",
                  {"holdfast", "name", "suits", "loads", "cables", "tethers", "foot_restraints", "cameras", "design"});
    if (check_format(map, "kit")) {
      kit_.name = map.text("name", "unnamed kit");
      for_each_item(reading_, map.at("suits"), "suits",
                    [&](const auto& node, const auto& where) { read_suit(node, where); });
      for_each_item(reading_, map.at("loads"), "loads",
                    [&](const auto& node, const auto& where) { read_load(node, where); });
      for_each_item(reading_, map.at("cables"), "cables",
                    [&](const auto& node, const auto& where) { read_cable(node, where); });
      for_each_item(reading_, map.at("tethers"), "tethers",
                    [&](const auto& node, const auto& where) { read_tether(node, where); });
      for_each_item(reading_, map.at("foot_restraints"), "foot_restraints",
                    [&](const auto& node, const auto& where) { read_foot_restraint(node, where); });
      for_each_item(reading_, map.at("cameras"), "cameras",
                    [&](const auto& node, const auto& where) { read_camera(node, where); });
      if (map.has("design")) read_design(map.at("design"));
      note_entries(map);
    }
    if (kit_.suits.empty()) kit_.suits.push_back(default_suit());
    return std::move(kit_);
  }

 private:
  /// By what a result depends on: comments and the order of entries do not change it.
  void note_entries(const Map& map) {
    for (const char* list : {"suits", "loads", "cables", "tethers", "foot_restraints", "cameras"})
      if (map.has(list) && map.at(list).IsSequence())
        for (const auto& item : map.at(list))
          if (item.IsMap() && item["id"].IsDefined() && item["id"].IsScalar())
            kit_.entries.push_back({fmt::format("{}.{}", list, item["id"].Scalar()), digest_of(YAML::Dump(item))});
    if (map.has("design")) kit_.entries.push_back({"design", digest_of(YAML::Dump(map.at("design")))});
  }

  bool is_new_id(const std::string& kind, const std::string& id, const Map& map) {
    if (id.empty()) return false;
    const auto [entry, is_new] = first_seen_.try_emplace(kind + " " + id, map.mark());
    if (is_new) return true;
    reading_.fault(map.mark(), map.path("id"), "duplicate-id", fmt::format("{} \"{}\" is already there", kind, id), id,
                   fmt::format("the first one is on line {}; rename one of them", entry->second.line));
    return false;
  }

  void read_suit(const YAML::Node& node, const std::string& where) {
    const Map map(reading_, node, where,
                  {"id",
                   "name",
                   "corridor_diameter_m",
                   "stand_off_m",
                   "reach_m",
                   "turn_limit_deg",
                   "lean_deg",
                   "glove_m",
                   "mass_kg",
                   "stop_force_n",
                   "stop_distance_m",
                   "rate_free_m_s",
                   "rate_loaded_m_s",
                   "regrip_s",
                   "one_hand_s",
                   "turn_rate_deg_s",
                   "rail_change_s",
                   "start_s",
                   "stop_s",
                   "tether_hook_s",
                   "figure"});
    if (!map.is_valid()) return;
    Suit suit = default_suit();
    suit.mark = map.mark();
    suit.id = read_id(map);
    const Subject subject(reading_, fmt::format("suit \"{}\"", suit.id));
    suit.name = map.text("name", suit.id);
    suit.corridor_diameter_m = map.quantity("corridor_diameter_m", {0.1, 5}, suit.corridor_diameter_m);
    suit.stand_off_m = map.quantity("stand_off_m", {0, 3}, suit.stand_off_m);
    suit.reach_m = map.quantity("reach_m", {0.1, 3}, suit.reach_m);
    suit.turn_limit_rad = map.quantity("turn_limit_deg", {0, 179}, suit.turn_limit_rad, degree);
    suit.lean_rad = map.quantity("lean_deg", {0, 80}, suit.lean_rad, degree);
    suit.glove_m = map.quantity("glove_m", {0, 0.5}, suit.glove_m);
    suit.mass_kg = map.quantity("mass_kg", kilograms, suit.mass_kg);
    suit.stop_force_n = map.quantity("stop_force_n", newtons, suit.stop_force_n);
    suit.stop_distance_m = map.quantity("stop_distance_m", body_length, suit.stop_distance_m);
    suit.rate_free_m_s = map.quantity("rate_free_m_s", metres_per_second, suit.rate_free_m_s);
    suit.rate_loaded_m_s = map.quantity("rate_loaded_m_s", metres_per_second, suit.rate_loaded_m_s);
    suit.regrip_s = map.quantity("regrip_s", {0.01, 600}, suit.regrip_s);
    suit.one_hand_s = map.quantity("one_hand_s", seconds, suit.one_hand_s);
    suit.turn_rate_rad_s = map.quantity("turn_rate_deg_s", {0, 360, true}, suit.turn_rate_rad_s, degree);
    suit.rail_change_s = map.quantity("rail_change_s", seconds, suit.rail_change_s);
    suit.start_s = map.quantity("start_s", seconds, suit.start_s);
    suit.stop_s = map.quantity("stop_s", seconds, suit.stop_s);
    suit.tether_hook_s = map.quantity("tether_hook_s", seconds, suit.tether_hook_s);
    if (map.has("figure")) suit.figure = read_figure(reading_, map.at("figure"), map.path("figure"));
    if (is_new_id("suit", suit.id, map)) kit_.suits.push_back(std::move(suit));
  }

  void read_load(const YAML::Node& node, const std::string& where) {
    std::vector<std::string> keys = {"id",       "name",   "size_m",   "mass_kg", "carried",
                                     "rate_m_s", "stow_s", "change_s", "crew"};
    const bool has_list = node.IsMap() && node["carried"] && node["carried"].IsSequence();
    if (!has_list)
      for (const char* key : {"sides", "side", "offset_m", "tow_length_m", "hands"}) keys.emplace_back(key);
    const Map map(reading_, node, where, keys);
    if (!map.is_valid()) return;
    Load load;
    load.mark = map.mark();
    load.id = read_id(map);
    const Subject subject(reading_, fmt::format("load \"{}\"", load.id));
    load.name = map.text("name", load.id);
    load.size_m = map.required_vec3("size_m", load.size_m, {0, 50, true});
    if (map.require("mass_kg"))
      load.mass_kg = map.quantity("mass_kg", kilograms, {1, "kit file", Confidence::Assumption});
    map.require("carried", "write carried: beside, in-tow or worn, or a list of them");
    if (map.has("rate_m_s"))
      load.rate_m_s = map.quantity("rate_m_s", metres_per_second, {0.1, "kit file", Confidence::Assumption});
    std::vector<Carrying> carryings;
    if (has_list) {
      for_each_item(reading_, map.at("carried"), map.path("carried"), [&](const auto& item, const auto& path) {
        const Map entry(reading_, item, path,
                        {"how", "sides", "side", "offset_m", "tow_length_m", "hands", "rate_m_s"});
        if (!entry.is_valid()) return;
        if (entry.require("how", "write how: beside, in-tow or worn")) read_carrying(entry, "how", load, carryings);
      });
      if (map.at("carried").size() == 0)
        reading_.fault(map.at("carried"), map.path("carried"), "missing-key", "\"carried\" is an empty list",
                       "name at least one manner of carrying: beside, in-tow or worn");
      if (carryings.empty()) carryings.emplace_back();  // a fault was told
    } else {
      read_carrying(map, "carried", load, carryings);
    }
    const Carrying& first = carryings.front();
    load.how = first.how, load.offset_m = first.offset_m, load.tow_length_m = first.tow_length_m;
    load.hands = first.hands, load.rate_m_s = first.rate_m_s;
    load.other_carryings.assign(carryings.begin() + 1, carryings.end());
    load.stow_s = map.quantity("stow_s", seconds, {30, "common practice, no source", Confidence::Practice});
    load.change_s = map.quantity("change_s", seconds, {10, "common practice, no source", Confidence::Practice});
    load.is_crew = map.flag("crew", false);
    if (is_new_id("load", load.id, map)) kit_.loads.push_back(std::move(load));
  }

  /// One manner of carrying, or two where either side will do.
  void read_carrying(const Map& map, const char* how_key, const Load& load, std::vector<Carrying>& carryings) {
    Carrying carrying;
    const std::size_t how = map.word(how_key, {"beside", "in-tow", "worn"}, 0);
    carrying.how = how == 0 ? CarriedHow::Beside : how == 1 ? CarriedHow::InTow : CarriedHow::Worn;
    carrying.rate_m_s = load.rate_m_s;
    if (map.has("rate_m_s"))
      carrying.rate_m_s = map.quantity("rate_m_s", metres_per_second, {0.1, "kit file", Confidence::Assumption});
    if (map.has("sides") && map.has("side"))
      reading_.fault(map.at("side"), map.path("side"), "unknown-key", "\"side\" and \"sides\" say the same",
                     "keep `sides:`");
    const std::size_t right = 1, behind = 3;
    const std::size_t side = map.word(map.has("side") ? "side" : "sides", {"either", "right", "left", "behind"}, 0);
    const bool is_either = side == 0;
    carrying.offset_m = map.vec3("offset_m", carrying.offset_m, {-10, 10});
    if (carrying.how == CarriedHow::InTow) {
      carrying.tow_length_m = map.required_number("tow_length_m", body_length);
      for (const char* key : {"side", "sides", "offset_m"})
        if (map.has(key))
          reading_.fault(map.at(key), map.path(key), "unknown-key",
                         fmt::format("\"{}\" has no meaning for a load in tow", key), "remove it");
    } else {
      map.require("offset_m", "add offset_m: [forward, side, up], the box's middle from the body axis");
      // The file counts the side component to the side named; ours is up x forward, the mover's left.
      if (side != behind && carrying.offset_m.y() < 0)
        reading_.fault(map.at("offset_m"), map.path("offset_m"), "out-of-range",
                       fmt::format("the side component is {}, away from the side named", carrying.offset_m.y()),
                       "count it to the side that `sides:` names, or name the other side");
      if (side == right || is_either) carrying.offset_m.y() = -carrying.offset_m.y();
      if (map.has("tow_length_m"))
        reading_.fault(map.at("tow_length_m"), map.path("tow_length_m"), "unknown-key",
                       "\"tow_length_m\" has no meaning for a load that is not in tow", "remove it");
    }
    const double hands = map.number("hands", {0, 2}, carrying.how == CarriedHow::Beside ? 1 : 0);
    carrying.hands = static_cast<int>(hands);
    if (hands == 2)
      reading_.fault(map.at("hands"), map.path("hands"), "out-of-range",
                     "this load occupies both hands, and nobody moves along rails without one",
                     "carry it beside with one hand, or in tow");
    else if (hands != carrying.hands)
      reading_.fault(map.at("hands"), map.path("hands"), "wrong-type", "\"hands\" should be 0 or 1",
                     "write a whole number");
    else if (carrying.how == CarriedHow::Worn && carrying.hands > 0)
      reading_.fault(map.at("hands"), map.path("hands"), "out-of-range", "a load that is worn takes no hand",
                     "write carried: beside, or remove `hands:`");
    carryings.push_back(carrying);
    if (is_either && carrying.how != CarriedHow::InTow && carrying.offset_m.y() != 0) {
      carrying.offset_m.y() = -carrying.offset_m.y();
      carryings.push_back(carrying);
    }
  }

  void read_cable(const YAML::Node& node, const std::string& where) {
    const Map map(reading_, node, where, {"id",           "name",          "diameter_m",     "insulation",
                                          "bent_for",     "bend_multiple", "length_m",       "length_tolerance_m",
                                          "mass_kg_m",    "span_m",        "free_span_m",    "lies_within_m",
                                          "separation_m", "sag_m",         "slack_fraction", "end_allowance_m",
                                          "tie_s",        "connector_s",   "spool",          "connects"});
    if (!map.is_valid()) return;
    Cable cable = default_cable();
    cable.mark = map.mark();
    cable.id = read_id(map);
    const Subject subject(reading_, fmt::format("cable \"{}\"", cable.id));
    cable.name = map.text("name", cable.id);
    const Quantity given{1, "kit file", Confidence::Assumption};
    if (map.require("diameter_m"))
      cable.diameter_m = map.quantity("diameter_m", {0, 0.5, true}, {0.01, "kit file", Confidence::Assumption});
    if (map.require("length_m")) cable.length_m = map.quantity("length_m", positive_length, given);
    // The most sensitive member rules (NASA workmanship pages 4.01, 4.02).
    const auto insulation = map.words("insulation", {"other", "polyimide"});
    const auto bent_for =
        map.word("bent_for", {"short-term", "long-term"}, 1) == 1 ? BentFor::LongTerm : BentFor::ShortTerm;
    cable.bend_multiple = bend_multiple_of(insulation[1] ? Insulation::Polyimide : Insulation::Other, bent_for);
    if (map.has("bend_multiple"))
      for (const char* key : {"insulation", "bent_for"})
        if (map.has(key))
          reading_.fault(map.at(key), map.path(key), "unknown-key",
                         fmt::format("\"{}\" has no meaning beside \"bend_multiple\"", key), "remove one of them");
    cable.bend_multiple = map.quantity("bend_multiple", {0, 100}, cable.bend_multiple);
    cable.length_tolerance_m = map.quantity("length_tolerance_m", length_or_zero, cable.length_tolerance_m);
    cable.mass_kg_m = map.quantity("mass_kg_m", {0, 100}, cable.mass_kg_m);
    cable.span_m = map.quantity("span_m", {0.05, 20}, cable.span_m);
    cable.free_span_m = map.quantity("free_span_m", {0, 20}, cable.free_span_m);
    cable.lies_within_m = map.quantity("lies_within_m", {0, 2}, cable.lies_within_m);
    cable.separation_m = map.quantity("separation_m", {0, 10}, cable.separation_m);
    cable.sag_m = map.quantity("sag_m", {0, 1}, cable.sag_m);
    cable.slack_fraction = map.quantity("slack_fraction", {0, 1}, cable.slack_fraction);
    cable.end_allowance_m = map.quantity("end_allowance_m", {0, 10}, cable.end_allowance_m);
    cable.tie_s = map.quantity("tie_s", seconds, cable.tie_s);
    cable.connector_s = map.quantity("connector_s", seconds, cable.connector_s);
    cable.spool = map.text("spool");
    if (map.has("spool") && !kit_.find_load(cable.spool)) {  // loads are read before cables
      const auto loads = ids_of(kit_.loads);
      reading_.fault(map.at("spool"), map.path("spool"), "dangling-reference",
                     fmt::format("load \"{}\" does not exist", cable.spool),
                     loads.empty() ? "add it under `loads:`" : suggest(reading_, cable.spool, loads));
    }
    if (map.has("length_m") && cable.length_tolerance_m >= cable.length_m)
      reading_.fault(map.has("length_tolerance_m") ? map.at("length_tolerance_m") : node,
                     map.path("length_tolerance_m"), "out-of-range", "the tolerance is as long as the cable",
                     "give what the cable may be short by");
    for_each_item(
        reading_, map.at("connects"), map.path("connects"), [&](const YAML::Node& pair, const std::string& pair_where) {
          if (!pair.IsSequence() || pair.size() != 2 || !pair[0].IsScalar() || !pair[1].IsScalar())
            reading_.fault(pair, pair_where, "wrong-type", "a pair of connectors is [FROM, TO]", "write two place ids");
          else
            cable.connects.emplace_back(pair[0].Scalar(), pair[1].Scalar());
        });
    if (is_new_id("cable", cable.id, map)) kit_.cables.push_back(std::move(cable));
  }

  void read_tether(const YAML::Node& node, const std::string& where) {
    const Map map(reading_, node, where, {"id", "name", "length_m", "min_length_m"});
    if (!map.is_valid()) return;
    Tether tether;
    tether.mark = map.mark();
    tether.id = read_id(map);
    const Subject subject(reading_, fmt::format("tether \"{}\"", tether.id));
    tether.name = map.text("name", tether.id);
    if (map.require("length_m"))
      tether.length_m = map.quantity("length_m", positive_length, {1, "kit file", Confidence::Assumption});
    tether.min_length_m = map.quantity("min_length_m", length_or_zero, {0, "a reel", Confidence::Assumption});
    if (tether.min_length_m > tether.length_m)
      reading_.fault(map.at("min_length_m"), map.path("min_length_m"), "out-of-range",
                     "the least length is more than the length", "exchange them");
    if (is_new_id("tether", tether.id, map)) kit_.tethers.push_back(std::move(tether));
  }

  void read_foot_restraint(const YAML::Node& node, const std::string& where) {
    const Map map(reading_, node, where, foot_restraint_keys());
    if (!map.is_valid()) return;
    FootRestraint restraint = detail::read_foot_restraint(map);
    if (is_new_id("foot restraint", restraint.id, map)) kit_.foot_restraints.push_back(std::move(restraint));
  }

  void read_camera(const YAML::Node& node, const std::string& where) {
    const Map map(reading_, node, where, {"id", "name", "half_angle_deg", "range_m", "held"});
    if (!map.is_valid()) return;
    HeldCamera camera = detail::read_camera(map);
    if (is_new_id("camera", camera.id, map)) kit_.cameras.push_back(std::move(camera));
  }

  void read_design(const YAML::Node& node) {
    auto& d = kit_.design;
    const std::vector<std::tuple<const char*, Quantity*, Limits>> values = {
        {"grip_spacing_m", &d.grip_spacing_m, {0.02, 1}},
        {"handhold_gap_warn_m", &d.handhold_gap_warn_m, positive_length},
        {"handhold_gap_error_m", &d.handhold_gap_error_m, positive_length},
        {"rail_clear_m", &d.rail_clear_m, {0, 1}},
        {"grip_length_m", &d.grip_length_m, {0, 1}},
        {"worksite_handhold_m", &d.worksite_handhold_m, positive_length},
        {"worksite_diameter_m", &d.worksite_diameter_m, positive_length},
        {"kick_band_m", &d.kick_band_m, {0, 10}},
        {"kick_load_n", &d.kick_load_n, newtons},
        {"rail_load_n", &d.rail_load_n, newtons},
        {"emergency_return_s", &d.emergency_return_s, seconds},
        {"emergency_warn_s", &d.emergency_warn_s, seconds},
        {"excursion_s", &d.excursion_s, seconds},
        {"differ_time_s", &d.differ_time_s, seconds},
        {"differ_moves", &d.differ_moves, {0, 1000}},
        {"differ_clearance_m", &d.differ_clearance_m, {0, 10}},
        {"differ_caution_s", &d.differ_caution_s, seconds}};
    std::vector<std::string> keys;
    for (const auto& [key, quantity, limits] : values) keys.emplace_back(key);
    const Subject subject(reading_, "design values");
    const Map map(reading_, node, "design", keys);
    for (const auto& [key, quantity, limits] : values) *quantity = map.quantity(key, limits, *quantity);
  }

  Reading& reading_;
  Kit kit_;
  std::map<std::string, Mark> first_seen_;
};

}  // namespace

Kit read_kit_document(const std::string& text, const std::string& file, const std::vector<Setting>& settings,
                      std::vector<Diagnostic>& diagnostics) {
  Reading reading{diagnostics, file, ""};
  const auto document = parse_document(text, reading);
  if (!document) return {};
  for (const auto& setting : settings)
    if (setting.is_of_kit) apply_setting(*document, setting, reading);
  return KitReader(reading).read(*document);
}

}  // namespace holdfast::model::detail
