// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Handrails found in a mesh: thin long pieces that a gloved hand can go round (design.md 20).
//
//   const auto mesh = geometry::read_mesh_file({.file = "drum.obj"});
//   const auto found = rails::find_rails(mesh, {.design = kit.design});
//   found.rails.front().points.front().at;
//
// Frame and units: those of the mesh, metres. Every thin long piece is accounted for: a rail, a handhold, a post, or
// doubtful with the reason. Same mesh, same answer, on any number of threads; the order of triangles does not matter.
// Largest errors, measured in tests/rails on meshes moved by 1 mm a vertex: centreline 5 mm, outward 5 deg.

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "holdfast/geometry/named_mesh.h"
#include "holdfast/model/kit.h"
#include "holdfast/model/rail_table.h"

namespace holdfast::rails {

using geometry::Vec3;

/// What a gloved hand can hold, and what is looked at. Defaults and their sources: `default_limits()`.
struct Limits {
  model::Quantity least_section_m;  ///< thinner is a cable or wire
  model::Quantity most_section_m;   ///< thicker is more than a glove closes round
  model::Quantity
      least_gap_m;        ///< less clear gap underneath takes no fingers; between this and the design value: likely
  model::Quantity far_m;  ///< nothing of the structure within this: it stands on nothing
};
[[nodiscard]] Limits default_limits();

struct Options {
  model::DesignValues design;  ///< clear gap and grip length
  Limits limits = default_limits();
  bool truss_members = false;         ///< they count as rails
  std::vector<std::string> accepted;  ///< ids of doubtful pieces that count as rails all the same
  /// Node names to look into, with `*` for any letters; empty: all. Other nodes count as structure.
  std::string node_pattern;
  double unit_m = 1;  ///< in which the file of the mesh was read [m]: for the hint alone, which names another
};

enum class Sureness { Sure, Likely, Doubtful };

/// Why a piece is not sure. Those up to `OutwardUnclear` make it doubtful, the others likely.
enum class ReasonKind {
  TooThick,        ///< value: width [m]; limit: most_section_m
  TooThin,         ///< a cable or wire; value: width [m]; limit: least_section_m
  TooNear,         ///< value: clear gap [m]; limit: least_gap_m
  TooShort,        ///< value: length [m]; limit: grip_length_m
  TrussMember,     ///< value: places where others meet it slantwise
  Pipe,            ///< value: length [m]
  Flat,            ///< neither round, racetrack nor square: a flat bar, an angle; value: width over height
  InSolid,         ///< it lies inside of a closed body throughout; value: length [m]
  StandsAlone,     ///< a post or mast: it stands up and holds no rail; value: length [m]
  SideUnclear,     ///< it goes through an open surface, which has no inside and outside; value: length [m]
  FarAway,         ///< value: distance to the nearest structure [m], infinity when there is none; limit: far_m
  OutwardUnclear,  ///< nothing lies underneath that would tell which way is outward; value: length [m]
  GapBelowDesign,  ///< value: clear gap [m]; limit: rail_clear_m
  EndsAlone,       ///< a straight bar between structure without a post: a strut or a grab bar; value: length [m]
  Uneven,          ///< the section varies; value: largest over median
  OpenSurface,     ///< its shell is open
  NoSupport,       ///< neither end and no post of it touches structure
};
struct Reason {
  ReasonKind kind;
  double value = 0;
  std::optional<model::Quantity> limit = std::nullopt;
};
/// True where a reason of this kind alone makes a piece doubtful.
[[nodiscard]] bool makes_doubtful(ReasonKind kind);

enum class SectionShape { Round, Racetrack, Square, Other };

struct RailPoint {
  Vec3 at = Vec3::Zero();
  Vec3 outward = Vec3::UnitZ();  ///< unit, away from the nearest other structure, at right angles to the rail
};

struct FoundRail {
  std::string id;                     ///< by geometry: `rail-` or `grip-` and a digest of where it lies
  std::vector<RailPoint> points;      ///< the centreline, within 2 mm of what was traced; one point: a handhold
  std::vector<Vec3> segment_outward;  ///< one a piece between two points (a handhold: one); what the table states
  bool is_ring = false;               ///< the last point is the first
  double length_m = 0;                ///< of the piece that can be gripped, of a handhold too
  double width_m = 0, height_m = 0;   ///< larger and smaller side of the section
  SectionShape shape = SectionShape::Other;
  std::optional<double> gap_m;  ///< least clear gap underneath, between supports; none where nothing is underneath
  std::string node;             ///< that most of its triangles came from
  Sureness sureness = Sureness::Sure;
  std::vector<Reason> reasons;           ///< why not sure; most telling first
  std::vector<std::uint32_t> triangles;  ///< its own, into the mesh

  [[nodiscard]] bool is_handhold() const { return points.size() == 1; }
};

/// When nothing was found as the mesh stands: the unit with which it has most rails.
struct UnitHint {
  std::string unit;  ///< `mm`, `cm`, `in`, `ft`, `m`: what the file seems to be in, not `unit_m`
  double length_m = 0;
};

struct FoundRails {
  std::vector<FoundRail> rails;     ///< sure and likely ones, ascending by id
  std::vector<FoundRail> doubtful;  ///< ascending by id
  std::vector<FoundRail> posts;     ///< stanchions and posts that hold rails, ascending by id
  std::size_t triangles = 0;
  std::size_t pieces = 0;  ///< connected pieces of the mesh, welded by position
  double length_m = 0;     ///< of `rails`, handholds not counted
  std::optional<UnitHint> unit;
};

/// Finds all rails of `mesh`. `surroundings`: what else stands near, in the same frame; it counts as structure. Nothing
/// found: `rails` is empty, and `doubtful` says what came nearest. Throws `model::InputError` (`unknown-node`) when the
/// pattern matches no node, with the nearest names. O(n log n) in triangles and linear in metres of rail.
[[nodiscard]] FoundRails find_rails(const geometry::NamedMesh& mesh, const Options& options,
                                    const geometry::TriangleMesh& surroundings = {});

/// The mesh without the triangles of rails, handholds and posts: what bodies keep clear of. Doubtful pieces stay, and
/// posts thicker than `most_section_m`.
[[nodiscard]] geometry::TriangleMesh without_rails(const geometry::NamedMesh& mesh, const FoundRails& found,
                                                   double most_section_m = default_limits().most_section_m.value);

// ---- the table, and the one before --------------------------------------------------------------------------------

/// A row of the table that `rail_files` reads: a straight piece of a rail, or a handhold.
struct Piece {
  std::size_t rail = 0;     ///< into `FoundRails::rails`
  std::size_t segment = 0;  ///< of its points
  std::string id;  ///< the rail's, with the number of the piece where it has several; or that of the row before
  Vec3 from = Vec3::Zero();
  std::optional<Vec3> to;  ///< none: a handhold
  Vec3 outward = Vec3::UnitZ();
  std::optional<std::size_t> before;  ///< the row of the table before that this is
  double moved_m = 0;                 ///< the most that an end lies from where it was found before
  bool is_edited = false;             ///< its row was changed by hand since, and stays as it is
};
/// Ascending by id. Ids are unique.
[[nodiscard]] std::vector<Piece> pieces_of(const FoundRails& found);

struct Revision {
  std::vector<Piece> pieces;  ///< of this mesh; those that were there keep their id, in the order of the table before
  std::vector<std::size_t> by_hand;  ///< rows before that were never found in a mesh: kept as they are
  std::vector<std::size_t> gone;     ///< rows before that were found, and are not any more
};
using model::found_column;
/// A piece is the row whose line its middle is nearest to, and the other way round, within 0.3 m and 20 deg.
[[nodiscard]] Revision compare_with(const FoundRails& found, const std::vector<model::RailTableRow>& before);

}  // namespace holdfast::rails
