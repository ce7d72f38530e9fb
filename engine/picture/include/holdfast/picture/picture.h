// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// What a drawing shows, as plain data: the structure in one configuration, and on it the ways and lines of results.
//
//   auto picture = picture::draw_structure(context, scene);
//   picture::add_result(picture, context, report::read_result(file, contents, structure));
//   report::write_file("way.html", picture::html(picture));
//
// Frame and units: structure frame (+x forward, +y starboard, +z nadir), m, s. Texts are ready for people: lengths and
// times rounded up, clearances down. Writers: write.h.

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "holdfast/geometry/scene.h"
#include "holdfast/picture/found_rails.h"
#include "holdfast/picture/handout.h"
#include "holdfast/picture/worksite.h"
#include "holdfast/report/read.h"
#include "holdfast/report/read_rails.h"
#include "holdfast/report/report.h"

namespace holdfast::picture {

using model::Vec3;

// ---- the structure ------------------------------------------------------------------------------------------------

struct Part {
  std::string id, name;
  bool fragile = false, no_touch = false;
  geometry::TriangleMesh mesh;
};

struct Rail {
  std::string id, part;
  std::vector<Vec3> points;
  model::RailUse use;
};

struct Zone {
  std::string id, reason;
  model::ZoneEffect effect = model::ZoneEffect::Forbid;
  std::string keeps_out;        ///< `body, load`
  geometry::TriangleMesh mesh;  ///< contains the zone, round which it stands out by 2 cm at most
};

struct Place {
  std::string id, name, kind;
  Vec3 at = Vec3::Zero();
  double within_m = 0;
};

// ---- ways -----------------------------------------------------------------------------------------------------------

struct Box {  ///< a load
  std::string id, name, words;
  Vec3 size_m = Vec3::Ones();
};

/// One grip of a way.
struct Pose {
  double at_s = 0;
  Vec3 hand = Vec3::Zero(), body = Vec3::Zero();
  Vec3 stance = Vec3::UnitZ();         ///< unit, from the hand to the body axis
  std::vector<route::LoadPose> loads;  ///< `load` is an index into Way::loads
};

/// A point of the body's way: between grips the body goes round, not straight.
struct BodyPoint {
  double at_s = 0;
  Vec3 at = Vec3::Zero();
};

/// A line of the waypoint table.
struct Row {
  std::string heading;  ///< `stores drum, zenith` where that changes, else empty
  std::string what, rail;
  std::string clearance, spare, load_clearance;  ///< m; `-` where there is no structure or load
  std::string distance, time;                    ///< of the row
  std::string total_distance, total_time;
  std::size_t moves = 0, total_moves = 0;
  std::string remark;  ///< zones entered or near
  std::size_t leg = 0;
  double at_s = 0;  ///< when it is done
  Vec3 hand = Vec3::Zero(), body = Vec3::Zero();
  std::optional<std::size_t> pose = std::nullopt;  ///< where it ends, into Way::poses; nothing: `total_moves`
};

/// What the crew is told of one stretch of a route.
struct Sentence {
  std::string text;
  std::string remark;  ///< cautions and tether swaps
};

struct Reason {  ///< why there is no way
  std::string text;
  Vec3 at = Vec3::Zero();
};

/// One way with what is carried on it, or why there is none.
struct Way {
  std::string name;    ///< `lock-hatch to battery-bay, bulky-bag`
  std::string source;  ///< file of the result
  std::string note;    ///< how it differs from the first of a comparison, and what is not proven of it
  std::string suit;
  double corridor_radius_m = 0;
  std::vector<std::size_t> loads;  ///< into Picture::boxes
  std::string time, distance, clearance, load_clearance, caution;
  double time_s = 0, distance_m = 0, caution_s = 0;
  std::size_t moves = 0;
  std::optional<double> clearance_m;  ///< nothing where there is no structure
  std::vector<Sentence> brief;        ///< the coarse table of waypoints
  std::vector<Row> rows;              ///< empty where there is no way, and so are the next two
  std::vector<Pose> poses;
  std::vector<BodyPoint> body;
  std::vector<Reason> reasons;
  [[nodiscard]] bool is_way() const { return !poses.empty(); }
};

// ---- lines: cables and tethers ------------------------------------------------------------------------------------

enum class LineKind { Cable, Tether };

/// A point on a line with a text of its own: a tie, a bend, an anchor.
struct LineMark {
  Vec3 at = Vec3::Zero();
  std::string text;
};

struct Line {
  LineKind kind = LineKind::Cable;
  std::string name, source;
  std::string words;  ///< verdict in a sentence
  std::vector<Vec3> points;
  std::vector<LineMark> ties, bends;
};

// ---- what is compared with each other -----------------------------------------------------------------------------

enum class ChartKind {
  Bars,    ///< a bar a way: time
  Scatter  ///< a point a way: hand moves against time
};

struct Chart {
  ChartKind kind = ChartKind::Bars;
  std::string title, source;
  std::vector<std::size_t> ways;  ///< into Picture::ways
};

struct HomeRow {
  std::string place, verdict, time, distance;
  std::optional<std::size_t> moves;
  std::optional<Vec3> at;
};

struct HomeTable {
  std::string title, source;
  std::vector<HomeRow> rows;     ///< worst first
  std::vector<Reason> farthest;  ///< of each part the grip farthest from home
};

// ---- an excursion -------------------------------------------------------------------------------------------------

/// What stands in one configuration: indices into the picture's lists, and on from their ends into the excursion's
/// `more`.
struct Setting {
  std::string words;
  std::vector<std::size_t> parts, rails, zones, places;
};

/// From a moment on. While a switch is thrown both settings are shown.
struct Stage {
  double from_s = 0;
  std::vector<std::size_t> settings;
};

/// Where an item is from a moment on.
struct ItemFrame {
  double at_s = 0;
  bool is_seen = true;   ///< false: inside, or in another item
  bool is_gone = false;  ///< true: on the way straight to the next frame
  Vec3 middle = Vec3::Zero();
  Eigen::Matrix3d axes = Eigen::Matrix3d::Identity();
};

struct Item {
  std::string id, name;
  Vec3 size_m = Vec3::Ones();
  std::vector<ItemFrame> frames;  ///< in time, the first at zero
  struct Stay {
    double from_s = 0;
    std::string words;  ///< `with EV1`, `in socket mast-socket`
  };
  std::vector<Stay> stays;
};

/// What is wrong at a moment.
struct Wrong {
  double at_s = 0, to_s = 0;
  std::string text, remedy;
  std::optional<Vec3> at;
};

/// Both crew members on one clock.
struct Excursion {
  std::string source;
  Handout handout;                             ///< its cards are the crew members
  std::vector<std::size_t> ways;               ///< of each card, into Picture::ways
  std::vector<std::vector<std::size_t>> rows;  ///< of each card and step: its first row of the way
  std::vector<Item> items;
  std::vector<Setting> settings;  ///< the first is that of the picture
  std::vector<Stage> stages;      ///< in time, the first at zero
  std::vector<Wrong> wrong;
  std::vector<Part> more_parts;
  std::vector<Rail> more_rails;
  std::vector<Zone> more_zones;
  std::vector<Place> more_places;
};

// ---- the whole ----------------------------------------------------------------------------------------------------

struct Picture {
  std::string title, configuration, digest, engine_version, caution;
  std::string date, revision;  ///< as given; empty: left to be filled in by hand
  geometry::Bounds bounds;     ///< of parts, rails, places and ways; a metre round the origin when there is nothing
  std::vector<Part> parts;     ///< those present
  std::vector<Rail> rails;
  std::vector<Zone> zones;  ///< those that hold
  std::vector<Place> places;
  std::vector<Box> boxes;
  std::vector<Way> ways;
  std::vector<Line> lines;
  std::vector<Worksite> worksites;
  std::vector<SightEye> eyes;
  std::vector<SeenPatch> patches;
  std::vector<Chart> charts;
  std::vector<HomeTable> homes;
  std::optional<Excursion> excursion;
  std::vector<FoundPiece> found;       ///< rails found in a mesh, over the structure
  std::vector<std::string> set_aside;  ///< rails that no answer uses, a sentence each
};

/// `A`, `B` ... `Z`, `AA` ...: what a way is called in every form of the drawing.
[[nodiscard]] std::string letter(std::size_t way);

/// The structure as the scene has it. Only what is there in its configuration.
[[nodiscard]] Picture draw_structure(const report::Context& context, const geometry::Scene& scene);

/// Adds the ways, refusals, charts and tables of a result. Throws `model::InputError` (`wrong-result`) when it is of
/// another configuration than the scene's, or of a suit or load that the kit does not have. Of an excursion each
/// crew member is a way; a second excursion is refused.
void add_result(Picture& picture, const report::Context& context, const geometry::Scene& scene,
                const report::ReadResult& result);

/// Adds the rails of a result of `holdfast rails`. Throws `model::InputError` (`wrong-result`) when the part that they
/// were found in is not there, when the result is of another structure or configuration, and for a second such result:
/// its numbers would be those of the first.
void add_found_rails(Picture& picture, const report::Context& context, const geometry::Scene& scene,
                     const report::ReadFoundRails& result);

}  // namespace holdfast::picture
