// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// The structure as its files say it: parts, rails, places, zones, switches. Plain data, read-only once read.
//
// Frame: right-handed structure frame, +x forward, +y starboard, +z nadir (common practice for crewed structures).
// Units: m, rad, N, s. A part's shape stands in the part's own frame; the part's pose puts it into the structure frame.

#include <Eigen/Core>
#include <Eigen/Geometry>
#include <array>
#include <map>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "holdfast/model/condition.h"
#include "holdfast/model/diagnostic.h"
#include "holdfast/model/ids.h"
#include "holdfast/model/worksite.h"

namespace holdfast::model {

// ---- states -------------------------------------------------------------------------------------------------------

/// A named switch with named positions (`dish: parked | tracking`).
struct Switch {
  std::string id;
  std::vector<std::string> positions;  ///< at least one
  std::string default_position;        ///< one of `positions`
  Mark mark;
};

// ---- shapes (part frame) ------------------------------------------------------------------------------------------

struct Box {
  Vec3 center = Vec3::Zero();
  Vec3 size = Vec3::Ones();
};
struct Cylinder {
  Vec3 from = Vec3::Zero();
  Vec3 to = Vec3::UnitX();
  double radius = 1;
};
/// Frustum with flat ends; a radius may be 0 at one end.
struct Cone {
  Vec3 from = Vec3::Zero();
  Vec3 to = Vec3::UnitX();
  double radius_from = 1;
  double radius_to = 0;
};
struct Sphere {
  Vec3 center = Vec3::Zero();
  double radius = 1;
};
/// Paraboloid shell, vertex at the origin, opening toward +z of the part frame: z = depth (r / radius)^2.
struct Dish {
  double radius = 1;
  double depth = 0.25;
  double thickness = 0.02;  ///< measured along z, behind the reflecting face
};
/// Thin plate centred at the origin, normal along z.
struct Panel {
  Eigen::Vector2d size = Eigen::Vector2d::Ones();  ///< along x and y
  double thickness = 0.02;
};
/// Square-section lattice of round bars from `from` to `to`: four chords, a frame at each bay end, one diagonal a face
/// and bay.
struct Truss {
  Vec3 from = Vec3::Zero();
  Vec3 to = Vec3::UnitX();
  Vec3 up = Vec3::UnitZ();  ///< one face's outward direction; made perpendicular to the axis
  double width = 1;         ///< between opposite chord axes
  int bays = 1;
  double bar_radius = 0.03;
};
/// A mesh file below the model's folder.
struct MeshFile {
  std::string file;   ///< relative to the model folder, as written
  std::string node;   ///< node name; empty = whole file
  double unit_m = 1;  ///< metres per file unit
  std::string up =
      "z";  ///< file's axis of the file ("x", "y", "z") that is turned to +z of the part frame; "z" turns nothing
};
using Shape = std::variant<Box, Cylinder, Cone, Sphere, Dish, Panel, Truss, MeshFile>;

/// Faces that a patch may name: box -x +x -y +y -z +z; panel front (+z), back; cylinder and cone side, from, to; dish
/// inside, outside; none for the others.
[[nodiscard]] std::vector<std::string> face_names(const Shape& shape);

// ---- parts and what is on them ------------------------------------------------------------------------------------

struct Part {
  std::string id;
  std::string name;  ///< for people; the id when none is given
  Shape shape;
  Pose at = Pose::Identity();          ///< used unless articulated
  std::string articulated_by;          ///< switch id; empty when the part does not move
  std::map<std::string, Pose> poses;   ///< switch position -> pose, one for every position of that switch
  std::optional<double> cable_loop_m;  ///< loop of a cable that crosses onto this moving part; none: it may not cross
  When when;
  bool fragile = false;   ///< may not bear a kick
  bool no_touch = false;  ///< must not be touched at all
  Mark mark;
};

struct RailUse {
  bool hands = true;
  bool tether = false;
  bool cable = false;
};

/// A handrail (2+ points) or a single-point handhold. Points and directions are in the part's frame.
struct Rail {
  std::string id;
  PartId part;
  std::vector<Vec3> points;
  /// One entry per outward direction: 1 vector for the whole rail, or one a point (interpolated by slerp). Unit length.
  /// Empty = automatic: away from the nearest point of the rail's own part.
  std::vector<std::vector<Vec3>> outward;
  RailUse use;
  std::optional<double> load_limit_n;
  When when;
  Mark mark;
};

struct Anchor {
  std::string id;
  std::optional<PartId> part;
  Vec3 at = Vec3::Zero();  ///< part frame when on a part, else structure frame; so for all that follow
  When when;
  Mark mark;
};
struct Clip {
  std::string id;
  std::optional<PartId> part;
  Vec3 at = Vec3::Zero();
  Vec3 outward = -Vec3::UnitZ();
  When when;
  Mark mark;
};

enum class PlaceKind { Hatch, Stowage, Worksite, Connector, Other };

struct Place {
  std::string id;
  std::string name;
  PlaceKind kind = PlaceKind::Other;
  std::optional<PartId> part;
  Vec3 at = Vec3::Zero();
  double within_m = 0.8;  ///< radius, inclusive, from the place to the hand
  When when;
  Mark mark;
  int hands = 0;                ///< that work here takes, 1 or 2; 0: not said
  std::optional<Vec3> outward;  ///< of the surface that it stands on, unit; none: the surface's own
  /// 2 for connectors and 1 elsewhere, unless said.
  [[nodiscard]] int hands_needed() const { return hands > 0 ? hands : kind == PlaceKind::Connector ? 2 : 1; }
};

// ---- zones --------------------------------------------------------------------------------------------------------

struct ConvexPolyhedron {
  std::vector<Vec3> points;  ///< 4+, not all in a plane; the zone is their convex hull
};
struct SolidCone {
  Vec3 apex = Vec3::Zero();
  Vec3 axis = Vec3::UnitZ();  ///< unit, from the apex
  double half_angle_rad = 0.2;
  double length = 1;  ///< along the axis; flat end
};
/// Turned box: `pose` maps the box frame into the zone's frame.
struct OrientedBox {
  Pose pose = Pose::Identity();
  Vec3 size = Vec3::Ones();
};
/// All points at most `distance_m` from a part.
struct NearPart {
  PartId part;
  double distance_m = 0;
};
using ZoneShape = std::variant<Sphere, Cylinder, SolidCone, OrientedBox, ConvexPolyhedron, NearPart>;

enum class ZoneEffect { Forbid, Caution, Limit };

struct ZoneApplies {
  bool body = false;
  bool hands = false;
  bool load = false;
  bool tether = false;
  bool cable = false;
};

struct Zone {
  std::string id;
  ZoneShape shape;
  std::optional<PartId> part;  ///< frame of the shape; structure frame when none (never set for NearPart)
  ZoneApplies applies;
  ZoneEffect effect = ZoneEffect::Forbid;
  double price_s_per_s = 1;  ///< Caution only: seconds added to the objective 'time' for each second inside
  double limit_s = 0;        ///< Limit only: most seconds inside over a whole route
  When when;
  std::string reason;
  Mark mark;
};

// ---- the whole ----------------------------------------------------------------------------------------------------

struct ModelFile {
  std::string path;    ///< relative to the model folder
  std::string sha256;  ///< lower-case hex
};

struct Structure {
  std::string name;
  std::string folder;  ///< absolute path of the model folder, where mesh files are found
  std::vector<Switch> switches;
  std::vector<Part> parts;
  std::vector<Rail> rails;  ///< in the order of the files: ties between routes are broken by it
  std::vector<Anchor> anchors;
  std::vector<Socket> sockets;
  std::vector<Clip> clips;
  std::vector<Place> places;
  std::vector<Zone> zones;
  std::vector<View> views;
  std::vector<Patch> patches;
  std::vector<ModelFile> files;       ///< every file that the structure and kit were read from, with digest
  std::vector<std::string> settings;  ///< `PATH=NUMBER`: what was set for this run, of structure and kit

  [[nodiscard]] Configuration default_configuration() const;
  [[nodiscard]] std::optional<PartId> find_part(std::string_view id) const;
  [[nodiscard]] std::optional<RailId> find_rail(std::string_view id) const;
  [[nodiscard]] std::optional<PlaceId> find_place(std::string_view id) const;
  [[nodiscard]] std::optional<ZoneId> find_zone(std::string_view id) const;
  [[nodiscard]] std::optional<AnchorId> find_anchor(std::string_view id) const;
  [[nodiscard]] std::optional<SocketId> find_socket(std::string_view id) const;
  [[nodiscard]] std::optional<ViewId> find_view(std::string_view id) const;
  [[nodiscard]] std::optional<PatchId> find_patch(std::string_view id) const;

  /// Part frame -> structure frame in this configuration. Requires: a part of this structure.
  [[nodiscard]] Pose pose(PartId part, const Configuration& configuration) const;
  [[nodiscard]] bool is_present(PartId part, const Configuration& configuration) const;
  /// False where the thing's own `when` or its part says so.
  [[nodiscard]] bool is_present(const Place& place, const Configuration& configuration) const {
    return is_there(place, configuration);
  }
  [[nodiscard]] bool is_present(const Socket& socket, const Configuration& configuration) const {
    return is_there(socket, configuration);
  }
  [[nodiscard]] bool is_present(const View& view, const Configuration& configuration) const {
    return is_there(view, configuration);
  }
  [[nodiscard]] bool is_present(const Patch& patch, const Configuration& configuration) const {
    return is_there(patch, configuration);
  }
  /// What takes the coordinates of a thing that may stand on a part to the structure frame.
  [[nodiscard]] Pose frame_of(const std::optional<PartId>& part, const Configuration& configuration) const {
    return part ? pose(*part, configuration) : Pose::Identity();
  }
  /// Where a place is, in the structure frame.
  [[nodiscard]] Vec3 position(const Place& place, const Configuration& configuration) const;
  /// False where the rail's own `when` or its part says so.
  [[nodiscard]] bool is_present(RailId rail, const Configuration& configuration) const;

 private:
  template <class Thing>
  [[nodiscard]] bool is_there(const Thing& thing, const Configuration& configuration) const {
    return thing.when.holds(configuration) && (!thing.part || is_present(*thing.part, configuration));
  }
};

/// SHA-256 in lower-case hex.
[[nodiscard]] std::string digest_of(std::string_view bytes);
/// SHA-256 over the digests of all files in path order: names the model that a result was computed from.
[[nodiscard]] std::string model_digest(const Structure& structure);
/// The same without kit.yaml: names the structure alone.
[[nodiscard]] std::string structure_digest(const Structure& structure);

/// `candidates` nearest to `word` by edit distance, best first, at most `count`, none farther than half the word's
/// length + 1.
[[nodiscard]] std::vector<std::string> nearest_names(std::string_view word, const std::vector<std::string>& candidates,
                                                     std::size_t count = 3);

}  // namespace holdfast::model
