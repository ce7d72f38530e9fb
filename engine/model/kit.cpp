// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/model/kit.h"

#include <algorithm>
#include <numbers>

namespace holdfast::model {

namespace {

constexpr double degree = std::numbers::pi / 180;

template <class Thing>
const Thing* find_in(const std::vector<Thing>& things, std::string_view id) {
  const auto found = std::find_if(things.begin(), things.end(), [&](const Thing& thing) { return thing.id == id; });
  return found == things.end() ? nullptr : &*found;
}

Quantity practice(double value) { return {value, "common practice, no source", Confidence::Practice}; }
Quantity assumed(double value, std::string why) { return {value, std::move(why), Confidence::Assumption}; }
Quantity memory(double value, std::string source) { return {value, std::move(source), Confidence::Memory}; }
Quantity published(double value, std::string source) { return {value, std::move(source), Confidence::Published}; }

}  // namespace

Load Load::carried(std::size_t index) const {
  Load load = *this;
  load.other_carryings.clear();
  if (index == 0) return load;
  const Carrying& carrying = other_carryings.at(index - 1);
  load.how = carrying.how;
  load.offset_m = carrying.offset_m;
  load.tow_length_m = carrying.tow_length_m;
  load.hands = carrying.hands;
  load.rate_m_s = carrying.rate_m_s;
  return load;
}

const Suit* Kit::find_suit(std::string_view id) const { return find_in(suits, id); }
const Load* Kit::find_load(std::string_view id) const { return find_in(loads, id); }
const Cable* Kit::find_cable(std::string_view id) const { return find_in(cables, id); }
const Tether* Kit::find_tether(std::string_view id) const { return find_in(tethers, id); }

const FootRestraint* Kit::find_foot_restraint(std::string_view id) const { return find_in(foot_restraints, id); }
const HeldCamera* Kit::find_camera(std::string_view id) const { return find_in(cameras, id); }

Figure default_figure() {
  const auto spread = [](Quantity quantity, double low, double high) {
    quantity.spread = {low, high};
    return quantity;
  };
  const std::string size = "MSIS Fig. 14.3.2", reach = "MSIS Fig. 14.3";
  Figure figure;
  figure.height_m = spread(memory(1.85, size + ", suited height 1.7 to 2.0 m"), 1.7, 2.0);
  figure.hips_m = assumed(0.85, "of a suited height of 1.85 m");
  figure.chest_m = assumed(1.30, "of a suited height of 1.85 m");
  figure.shoulders_m = assumed(1.45, "of a suited height of 1.85 m");
  figure.shoulder_breadth_m = assumed(0.40, "between the joints");
  figure.body_radius_m = assumed(0.25, "of a standing body without arms and backpack");
  figure.breadth_m = spread(memory(0.80, size + ", elbows relaxed, 29 to 33 in"), 0.75, 0.85);
  figure.depth_front_m = assumed(0.25, "the body's radius");
  figure.depth_back_m =
      spread(memory(0.43, size + ", depth with backpack 26 to 27 in, less what is in front"), 0.41, 0.44);
  figure.sway_rad = assumed(15 * degree, "boots held, the body leans as at a grip");
  figure.two_hand_out_m = spread(memory(0.40, reach + ", 0.3 to 0.5 m out"), 0.3, 0.5);
  figure.two_hand_radius_m = memory(0.25, reach + ", about 0.5 m (20 in) across");
  figure.one_hand_reach_m = spread(memory(0.65, "MSIS 14.3, from the shoulder forward"), 0.60, 0.75);
  figure.shoulder_half_angle_rad = assumed(70 * degree, "poor overhead and behind (MSIS 14.3)");
  figure.shoulder_outward_rad = assumed(15 * degree, "each arm turns out farther than across the chest");
  figure.shoulder_down_rad = assumed(15 * degree, "poor overhead (MSIS 14.3)");
  figure.arm_radius_m = assumed(0.06, "of a suited arm");
  figure.hand_m = assumed(0.20, "wrist to the point worked on");
  return figure;
}

FootRestraint default_foot_restraint() {
  FootRestraint restraint;
  restraint.id = restraint.name = "foot restraint";
  for (int deg = -30; deg <= 90; deg += 15) restraint.pitch_rad.values.push_back(deg * degree);
  restraint.pitch_rad.source = "steps of 15 deg, -30 to 90; kinds differ, give your own";
  restraint.height_m = {{0.30}, "socket to soles; kinds differ, give your own", Confidence::Assumption};
  restraint.yaw_rad = {{0}, "no turn of the plate about the body; kinds differ, give your own", Confidence::Assumption};
  restraint.footprint_m = {
      {0.37, 0.52}, "encyclopaedia article, plate of an arm-mounted restraint", Confidence::Secondary};
  restraint.enter_s = assumed(30, "boots in, heels turned");
  restraint.leave_s = assumed(15, "boots out");
  restraint.change_s = assumed(60, "a new setting, out of it");
  return restraint;
}

HeldCamera default_camera() {
  HeldCamera camera;
  camera.id = "helmet camera";
  camera.name = "camera at the helmet";
  camera.half_angle_rad = assumed(30 * degree, "of a wide picture");
  camera.range_m = assumed(10, "beyond this little is told");
  return camera;
}

Suit default_suit() {
  Suit suit;
  suit.id = suit.name = "suit";
  suit.corridor_diameter_m = memory(1.09, "SSP 50005, 14.5.3; NSTS 07700 vol. XIV app. 7 (43 in)");
  suit.stand_off_m = assumed(0.55, "hand to body axis, so that the corridor clears a rail's own surface");
  suit.reach_m =
      memory(0.61, "spacing of handholds along a path (24 in), MSIS 14.5.3, SSP 50005 14.5.3, as a proxy for reach");
  suit.turn_limit_rad = assumed(90 * degree, "one re-grip goes round a square edge at most");
  suit.lean_rad = assumed(30 * degree, "lean at inside corners");
  suit.glove_m = assumed(0.05, "half a gloved hand above the rail");
  suit.mass_kg = {200, "public worked examples, 180 to 240 kg with suit and tools", Confidence::Secondary};
  suit.stop_force_n = assumed(
      200, "200 N is the hand load of SSP 30256:001 Table 3.1.3-1; that a free mover can stop with it is optimistic");
  suit.stop_force_n.spread = {50, 200};  // an assumption, to be calibrated
  suit.stop_distance_m = assumed(0.30, "an arm's give");
  suit.rate_free_m_s = practice(0.20);
  suit.rate_loaded_m_s = practice(0.10);
  suit.regrip_s = practice(2.0);
  suit.one_hand_s = practice(2.0);  // the hand with the load steadies the body before the free hand moves again
  suit.turn_rate_rad_s = practice(15 * degree);
  suit.rail_change_s = practice(2.0);
  suit.start_s = practice(5.0);
  suit.stop_s = practice(5.0);
  suit.tether_hook_s = practice(20.0);
  suit.figure = default_figure();
  return suit;
}

DesignValues default_design_values() {
  const std::string table = "SSP 30256:001 Rev F, Table 3.1.3-1";
  DesignValues design;
  design.grip_spacing_m = assumed(0.15, "sampling step of this engine");
  design.handhold_gap_warn_m = memory(0.61, "MSIS 14.5.3, SSP 50005 14.5.3 (24 in)");
  design.handhold_gap_error_m = memory(0.92, "some texts, 36 in");
  design.rail_clear_m = memory(0.057, "NASA-STD-3000 Vol. I 11.8, 14.5; SSP 50005 (2.25 in)");
  design.grip_length_m = memory(0.152, "NASA-STD-3000 Vol. I 11.6, 14.5 (6.0 in)");
  design.worksite_handhold_m = memory(0.61, "MSIS 14.5.3, SSP 50005 14.5.3 (24 in)");
  design.worksite_diameter_m = memory(1.22, "SSP 50005 14.5.3 (48 in)");
  design.kick_band_m = published(0.61, table + ", p. 3-5 (24 in)");
  design.kick_load_n = published(556, table + ", p. 3-5 (125 lbf)");
  design.rail_load_n = memory(830, table + ", p. 3-4 (187 lbf)");
  design.emergency_return_s = {1800, "crew interview, public television science site, 2000: 30 min at least",
                               Confidence::Secondary};
  design.emergency_warn_s = assumed(1200, "two thirds of the emergency return time");
  design.excursion_s = memory(23400, "6.5 h, the usual plan");
  design.differ_time_s = practice(5);
  design.differ_moves = practice(1);
  design.differ_clearance_m = practice(0.05);
  design.differ_caution_s = practice(5);
  return design;
}

Quantity bend_multiple_of(Insulation insulation, BentFor bent_for) {
  const bool is_polyimide = insulation == Insulation::Polyimide, is_long = bent_for == BentFor::LongTerm;
  return published(is_polyimide ? (is_long ? 15 : 10) : (is_long ? 10 : 6),
                   std::string("NASA-STD-8739.4 [7.3.21], ") + (is_long ? "long-term" : "short-term") +
                       (is_polyimide ? ", polyimide-insulated" : ", not polyimide-insulated"));
}

Cable default_cable() {
  Cable cable;
  cable.bend_multiple = bend_multiple_of(Insulation::Other, BentFor::LongTerm);
  cable.length_tolerance_m = assumed(0, "none stated");
  cable.span_m = published(0.61, "FAA AC 43.13-1B par. 11-96a (24 in)");
  cable.free_span_m = assumed(0.6, "open space that a cable may cross");
  cable.lies_within_m = assumed(0.15, "twice the stand-off of a rail");
  cable.separation_m = assumed(0, "none stated");
  cable.sag_m = published(0.0127, "FAA AC 43.13-1B par. 11-118 (0.5 in by hand)");
  // A sag of 12.7 mm by hand in a span of 0.61 m takes 8 h^2 / (3 L) = 0.7 mm more: 8 (12.7e-3)^2 / (3 * 0.61^2).
  cable.slack_fraction = {0.00116, "FAA AC 43.13-1B par. 11-118, sag of 12.7 mm in 0.61 m", Confidence::Computed};
  cable.end_allowance_m = assumed(0.15, "two re-terminations (AC 43.13-1B par. 11-118) of 75 mm each");
  cable.mass_kg_m = assumed(0.2, "a thumb-thick cable");
  cable.tie_s = practice(30);
  cable.connector_s = practice(60);
  return cable;
}

}  // namespace holdfast::model
