// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// The kit: suits, loads, cables, tethers, foot restraints, and the design values that `check` holds a model against.
// Each number carries where it comes from; a result prints the source of each that it used.

#include <Eigen/Core>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "holdfast/model/diagnostic.h"
#include "holdfast/model/quantity.h"
#include "holdfast/model/worksite.h"

namespace holdfast::model {

/// A suited crew member. Defaults and their sources: `default_suit()`.
struct Suit {
  std::string id;
  std::string name;
  Quantity corridor_diameter_m;
  Quantity stand_off_m;      ///< h: from the hand to the body axis
  Quantity reach_m;          ///< most between the two hands' grips of one move
  Quantity turn_limit_rad;   ///< most between outward directions of one move; below pi
  Quantity lean_rad;         ///< most between a stance and the grip's outward direction
  Quantity glove_m;          ///< the hand's line is lifted off the surface by this
  Quantity mass_kg;          ///< person, suit and what is always worn
  Quantity stop_force_n;     ///< F of the stopping rule v = sqrt(2 F s / m)
  Quantity stop_distance_m;  ///< s of the stopping rule
  Quantity rate_free_m_s;
  Quantity rate_loaded_m_s;  ///< with a load in hand or in tow, unless the load says less
  Quantity regrip_s;         ///< least time of one hand move
  Quantity one_hand_s;       ///< more for each move while a load occupies the other hand
  Quantity turn_rate_rad_s;
  Quantity rail_change_s;
  Quantity start_s;        ///< per leg
  Quantity stop_s;         ///< per leg
  Quantity tether_hook_s;  ///< one hook operation
  Figure figure;
  Mark mark;
  [[nodiscard]] double corridor_radius_m() const { return corridor_diameter_m.value / 2; }
};

/// Worn: as beside, but tethered to the suit, so that it takes no hand and does not slow the mover by itself.
enum class CarriedHow { Beside, InTow, Worn };

/// One manner of carrying a load. The fields are those of `Load`.
struct Carrying {
  CarriedHow how = CarriedHow::Beside;
  Eigen::Vector3d offset_m = Eigen::Vector3d::Zero();
  double tow_length_m = 0;
  int hands = 0;
  std::optional<Quantity> rate_m_s;
};

struct Load {
  std::string id;
  std::string name;
  Eigen::Vector3d size_m =
      Eigen::Vector3d::Ones();  ///< along forward, side, up when beside; the first is the long side in tow
  Quantity mass_kg;
  CarriedHow how = CarriedHow::Beside;
  Eigen::Vector3d offset_m = Eigen::Vector3d::Zero();  ///< box middle from the body axis point: forward, side = up x
                                                       ///< forward (the mover's left), up; not InTow
  double tow_length_m = 0;                             ///< InTow only
  int hands = 0;                                       ///< hands the load occupies: 0 or 1
  std::optional<Quantity> rate_m_s;                    ///< cap on the rate while carrying it
  Quantity stow_s;                                     ///< to take up or put down
  std::vector<Carrying> other_carryings;  ///< besides the one above: the other side, in tow instead of beside ...
  Quantity change_s;                      ///< to change hands, or from beside to in tow and back
  bool is_crew = false;                   ///< an incapacitated crew member
  Mark mark;

  [[nodiscard]] std::size_t carrying_count() const { return 1 + other_carryings.size(); }
  /// Carried in one manner alone: 0 is its own, then those of `other_carryings`. Requires: index < carrying_count().
  [[nodiscard]] Load carried(std::size_t index) const;
};

/// What the insulation of a cable's members is, as the bend rule tells it.
enum class Insulation { Other, Polyimide };
/// How long the cable stays bent.
enum class BentFor { ShortTerm, LongTerm };
/// Least bend radius as a multiple of the diameter: 6 and 10, with polyimide 10 and 15. Source: NASA-STD-8739.4
/// [7.3.21].
[[nodiscard]] Quantity bend_multiple_of(Insulation insulation, BentFor bent_for);

struct Cable {
  std::string id;
  std::string name;
  Quantity diameter_m;
  Quantity bend_multiple;       ///< least bend radius = multiple * diameter; of its most sensitive member
  Quantity length_m;            ///< nominal
  Quantity length_tolerance_m;  ///< the cable may be shorter by this
  Quantity mass_kg_m;
  Quantity span_m;                                            ///< most between ties, along the surface
  Quantity free_span_m;                                       ///< most through open space
  Quantity lies_within_m;                                     ///< nearer to structure than this is not open space
  Quantity separation_m;                                      ///< least from a cable that is already laid
  Quantity sag_m;                                             ///< of a span, pressed by hand
  Quantity slack_fraction;                                    ///< least of a span, whatever its sag
  Quantity end_allowance_m;                                   ///< at each end
  Quantity tie_s;                                             ///< to make one tie
  Quantity connector_s;                                       ///< to mate one end
  std::string spool;                                          ///< load it is laid from; empty: none
  std::vector<std::pair<std::string, std::string>> connects;  ///< pairs of connector places it is meant for
  Mark mark;
  [[nodiscard]] double bend_radius_m() const { return bend_multiple.value * diameter_m.value; }
  [[nodiscard]] double least_length_m() const { return length_m.value - length_tolerance_m.value; }
};

struct Tether {
  std::string id;
  std::string name;
  Quantity length_m;
  Quantity min_length_m;  ///< adjustable ones; 0 for a reel
  Mark mark;
};

/// Design values that `check` and `route` hold a model against.
struct DesignValues {
  Quantity grip_spacing_m;        ///< sampling step of grips along a rail
  Quantity handhold_gap_warn_m;   ///< gap between neighbouring rails of a path: warning above
  Quantity handhold_gap_error_m;  ///< error above
  Quantity rail_clear_m;          ///< clear gap under a rail
  Quantity grip_length_m;         ///< shortest rail that counts as a grip
  Quantity worksite_handhold_m;   ///< a handhold within this of a worksite
  Quantity worksite_diameter_m;   ///< clear cylinder about the body at a worksite
  Quantity kick_band_m;           ///< band beside a route where hardware must bear the kick load
  Quantity kick_load_n;
  Quantity rail_load_n;         ///< least load limit of a rail for hands
  Quantity emergency_return_s;  ///< home within
  Quantity emergency_warn_s;
  Quantity excursion_s;
  Quantity differ_time_s;  ///< routes that differ by less in each of these are one to a planner: time ...
  Quantity differ_moves;
  Quantity differ_clearance_m;
  Quantity differ_caution_s;  ///< ... and seconds in caution zones
};

/// One entry of the kit file as it was read, with what was set for this run.
struct KitEntry {
  std::string name;    ///< `suits.standard`, `loads.bulky-bag`, ..., `design`
  std::string sha256;  ///< lower-case hex
};

struct Kit {
  std::string name;
  std::vector<Suit> suits;  ///< at least one; the first is the default
  std::vector<Load> loads;
  std::vector<Cable> cables;
  std::vector<Tether> tethers;
  std::vector<FootRestraint> foot_restraints;  ///< the first is the default; may be empty
  std::vector<HeldCamera> cameras;
  DesignValues design;
  std::vector<KitEntry> entries;  ///< of the file, in its order; what it leaves out has none

  [[nodiscard]] const Suit* find_suit(std::string_view id) const;  ///< null when unknown; so are the others
  [[nodiscard]] const Load* find_load(std::string_view id) const;
  [[nodiscard]] const Cable* find_cable(std::string_view id) const;
  [[nodiscard]] const Tether* find_tether(std::string_view id) const;
  [[nodiscard]] const FootRestraint* find_foot_restraint(std::string_view id) const;
  [[nodiscard]] const HeldCamera* find_camera(std::string_view id) const;
};

/// What a suit, and the design values, are where the kit file says nothing; each with its source.
[[nodiscard]] Suit default_suit();
[[nodiscard]] DesignValues default_design_values();
[[nodiscard]] Cable default_cable();
[[nodiscard]] Figure default_figure();
[[nodiscard]] FootRestraint default_foot_restraint();
[[nodiscard]] HeldCamera default_camera();

}  // namespace holdfast::model
