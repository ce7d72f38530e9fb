// SPDX-License-Identifier: GPL-3.0-or-later
#include "worksite_picture_impl.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>

#include "holdfast/reach/sight.h"
#include "holdfast/report/words.h"

namespace holdfast::picture {

using geometry::TriangleMesh;
using reach::Kind;

namespace {

constexpr double pi = std::numbers::pi;
constexpr int sides = 40;             // of what is round: off by 3 mm at a hand's reach
constexpr std::size_t samples = 400;  // of a patch
constexpr double least_cone_m = 1.5;  // of an eye that sees nothing of what is drawn

/// A line turned about an axis: (distance from the axis, along it), from end to end.
TriangleMesh turned(const Vec3& origin, const Vec3& axis, const std::vector<Eigen::Vector2d>& line) {
  TriangleMesh mesh;
  const Vec3 x = axis.unitOrthogonal(), y = axis.cross(x);
  for (const auto& p : line)
    for (int s = 0; s < sides; ++s) {
      const double angle = 2 * pi * s / sides;
      mesh.vertices.emplace_back(origin + p.y() * axis + p.x() * (std::cos(angle) * x + std::sin(angle) * y));
    }
  for (std::uint32_t i = 0; i + 1 < line.size(); ++i)
    for (std::uint32_t s = 0; s < sides; ++s) {
      const std::uint32_t a = i * sides + s, b = i * sides + (s + 1) % sides;
      mesh.triangles.push_back({a, b, a + sides});
      mesh.triangles.push_back({b, b + sides, a + sides});
    }
  return mesh;
}

/// From `first` to `last` off the axis, on a sphere about `along`.
void add_arc(std::vector<Eigen::Vector2d>& line, double along, double radius, double first_rad, double last_rad) {
  constexpr int steps = 14;
  for (int k = 0; k <= steps; ++k) {
    const double angle = first_rad + (last_rad - first_rad) * k / steps;
    line.emplace_back(radius * std::sin(angle), along + radius * std::cos(angle));
  }
}

TriangleMesh capsule(const Vec3& a, const Vec3& b, double radius) {
  std::vector<Eigen::Vector2d> line;
  add_arc(line, 0, radius, pi, pi / 2);
  add_arc(line, (b - a).norm(), radius, pi / 2, 0);
  return turned(a, (b - a).normalized(), line);
}
TriangleMesh ball(const Vec3& center, double radius) {
  std::vector<Eigen::Vector2d> line;
  add_arc(line, 0, radius, pi, 0);
  return turned(center, Vec3::UnitZ(), line);
}
TriangleMesh cone_of(const reach::HandZone& zone) {
  std::vector<Eigen::Vector2d> line;
  if (zone.half_angle_rad < pi) line.emplace_back(0, 0);
  add_arc(line, 0, zone.radius_m, zone.half_angle_rad, 0);
  return turned(zone.apex, zone.axis, line);
}
TriangleMesh box(const reach::BoxCorners& corners) {
  TriangleMesh mesh{{corners.begin(), corners.end()}, {}};
  // A corner's bits: forward, left, up. Counter-clockwise seen from outside.
  constexpr std::array<std::array<std::uint32_t, 4>, 6> faces = {
      {{0, 4, 6, 2}, {1, 3, 7, 5}, {0, 1, 5, 4}, {2, 6, 7, 3}, {0, 2, 3, 1}, {4, 5, 7, 6}}};
  for (const auto& f : faces) {
    mesh.triangles.push_back({f[0], f[1], f[2]});
    mesh.triangles.push_back({f[0], f[2], f[3]});
  }
  return mesh;
}

std::string target_words(const report::ReadTarget& target) {
  const auto& reach = target.reach;
  std::string words = kind_words(reach.kind);
  if (reach.kind == Kind::OneHand)
    words += reach.hand_reaches[reach::Left] && reach.hand_reaches[reach::Right] ? ", either"
             : reach.hand_reaches[reach::Left]                                   ? ", the left"
                                                                                 : ", the right";
  if (reach.kind == Kind::OutOfReach) words += " by " + report::bare_length_up(reach.short_m) + " m";
  if (reach.is_reached() && !reach.is_served) words += ", two are needed";
  return words;
}

class Adder {
 public:
  Adder(Picture& picture, const report::Context& context, const model::Suit& suit, const report::ReadResult& result)
      : picture_(picture), context_(context), suit_(suit), result_(result) {}

  void add(const report::ReadWorksite& read) {
    const auto& figure = suit_.figure;
    const auto& frame = read.station.frame;
    const auto solids = reach::solids_of(figure, frame);
    Worksite site;
    site.name = read.site, site.source = result_.file;
    site.words = read.words + (read.way_in.empty() ? "" : "; " + read.way_in);
    site.fits = read.station.fits();
    site.body = capsule(solids.axis[0], solids.axis[1], solids.radius_m);
    site.trunk = box(solids.trunk);
    site.chest = frame.at(figure.chest_m), site.helmet = frame.at(figure.helmet_m());
    site.forward = frame.forward, site.helmet_radius_m = model::Figure::helmet_below_crown_m;
    const auto& structure = context_.structure;
    if (const auto socket = structure.find_socket(read.site); socket && read.station.setting) {
      if (const auto* restraint = context_.kit.find_foot_restraint(read.restraint))
        site.plate = box(reach::plate_of(*restraint, frame));
      const auto place = reach::place_of(structure, structure.sockets[socket->index()], result_.configuration);
      if (const auto post = reach::post_of(place, *read.station.setting)) site.post = {(*post)[0], (*post)[1]};
    }
    const auto zones = reach::zones_of(figure, frame);
    for (const auto hand : reach::both_hands) site.hand_zones[hand] = cone_of(zones.hand[hand]);
    site.two_hand_zone = ball(zones.two_hand, zones.two_hand_radius_m);
    for (const auto& target : read.targets) {
      WorksiteTarget drawn{target.id, target_words(target), target.reach.kind, target.at, {}};
      if (target.reach.is_reached()) {
        const auto leaning = target.reach.lean
                                 ? reach::lean(frame, figure.sway_rad, *target.reach.lean * 2 * pi / reach::lean_count)
                                 : frame;
        const auto arms = reach::zones_of(figure, leaning);
        for (const auto hand : reach::both_hands)
          if (target.reach.hand_reaches[hand]) drawn.shoulders.push_back(arms.hand[hand].apex);
      }
      site.targets.push_back(std::move(drawn));
    }
    for (const auto* mesh : {&site.body, &site.trunk})
      for (const auto& vertex : mesh->vertices) picture_.bounds.extend(vertex);
    picture_.worksites.push_back(std::move(site));
  }

  /// `scene`: with the chord error that samples are lifted by.
  void add(const geometry::Scene& scene, const report::ReadSight& read) {
    const auto& structure = context_.structure;
    const auto& patch = structure.patches[read.patch.index()];
    const reach::Eye eye = read.view ? reach::eye_of(scene, structure.views[read.view->index()]) : *read.eye;
    const auto cells = reach::PatchCells(scene, patch, samples);
    auto known = std::find_if(picture_.patches.begin(), picture_.patches.end(),
                              [&](const SeenPatch& p) { return p.id == patch.id && p.source == result_.file; });
    if (known == picture_.patches.end()) {
      SeenPatch seen{patch.id, patch.name, result_.file, cells.middle(), {}, {}};
      for (const auto& cell : cells.cells())
        if (!cell.is_covered) seen.samples.push_back({cell.at, cell.normal, std::sqrt(cell.area_m2), {}});
      picture_.patches.push_back(std::move(seen));
      known = picture_.patches.end() - 1;
    }
    std::size_t e = 0;
    while (e < picture_.eyes.size() && picture_.eyes[e].name != read.eye_name) ++e;
    if (e == picture_.eyes.size()) {
      picture_.eyes.push_back({read.eye_name, eye.at, eye.direction, eye.half_angle_rad, least_cone_m});
      picture_.bounds.extend(eye.at);
    }
    known->looks.push_back({e, read.words});
    std::size_t s = 0;
    for (const auto& cell : cells.cells()) {
      if (cell.is_covered) continue;
      const bool is_seen = reach::is_seen(scene, eye, cells, cell, result_.off_normal_rad);
      auto& sample = known->samples[s++];
      sample.seen_by.push_back(is_seen);
      picture_.bounds.extend(sample.at);
      if (is_seen)
        picture_.eyes[e].length_m = std::max(picture_.eyes[e].length_m, (sample.at - eye.at).dot(eye.direction));
    }
  }

 private:
  Picture& picture_;
  const report::Context& context_;
  const model::Suit& suit_;
  const report::ReadResult& result_;
};

}  // namespace

bool SeenPatch::Sample::is_seen() const { return std::find(seen_by.begin(), seen_by.end(), true) != seen_by.end(); }

const char* kind_words(Kind kind) {
  switch (kind) {
    case Kind::TwoHand:
      return "two hands";
    case Kind::OneHand:
      return "one hand";
    case Kind::Forbidden:
      return "forbidden by a zone";
    case Kind::Blocked:
      return "blocked";
    case Kind::FacesAway:
      return "faces away";
    case Kind::TooNear:
      return "too near";
    case Kind::OutOfReach:
      return "out of reach";
    case Kind::NotThere:
      return "not there";
  }
  return "";
}
const char* kind_id(Kind kind) {
  switch (kind) {
    case Kind::TwoHand:
      return "two-hand";
    case Kind::OneHand:
      return "one-hand";
    case Kind::Forbidden:
      return "forbidden";
    case Kind::Blocked:
      return "blocked";
    case Kind::FacesAway:
      return "faces-away";
    case Kind::TooNear:
      return "too-near";
    case Kind::OutOfReach:
    case Kind::NotThere:
      break;
  }
  return "out-of-reach";
}
const char* kind_colour(Kind kind) {
  // Okabe and Ito, as for routes; what is reached is dark, so that it stands out without colour.
  switch (kind) {
    case Kind::TwoHand:
      return "#00694c";
    case Kind::OneHand:
      return "#0072b2";
    case Kind::Forbidden:
    case Kind::Blocked:
    case Kind::FacesAway:
      return "#d55e00";
    case Kind::TooNear:
    case Kind::OutOfReach:
    case Kind::NotThere:
      break;
  }
  return "#555555";
}

void add_worksites(Picture& picture, const report::Context& context, const geometry::Scene& scene,
                   const model::Suit& suit, const report::ReadResult& result) {
  Adder adder(picture, context, suit, result);
  for (const auto& site : result.worksites) adder.add(site);
  if (result.sights.empty()) return;
  // A scene for drawing is coarser than samples allow for: parts would shadow themselves.
  const auto fine = geometry::build_scene(context.structure, scene.configuration());
  for (const auto& sight : result.sights) adder.add(fine, sight);
}

}  // namespace holdfast::picture
