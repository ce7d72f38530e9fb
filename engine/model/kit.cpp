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
