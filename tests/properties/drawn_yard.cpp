// SPDX-License-Identifier: GPL-3.0-or-later
#include "drawn_yard.h"

#include <cmath>
#include <numbers>
#include <string>

namespace holdfast::properties {

using support::Vec3;

namespace {

constexpr double off_surface_m = 0.07;

Vec3 out_at(double angle) { return {0, std::sin(angle), -std::cos(angle)}; }
double turned(int twelfths) { return twelfths * std::numbers::pi / 6; }

}  // namespace

std::ostream& operator<<(std::ostream& out, const DrawnYard& yard) {
  for (const auto& d : yard.drums) out << "drum " << d.length_dm << ' ' << d.radius_dm << ' ' << d.gap_dm << "; ";
  for (const auto& r : yard.rails)
    out << (r.goes_round ? "ring " : "line ") << r.drum << ' ' << r.angle << ' ' << r.from_dm << ' ' << r.length_dm
        << "; ";
  for (const auto& b : yard.boxes)
    out << "box " << b.drum << ' ' << b.angle << ' ' << b.at_dm << ' ' << b.size_dm << "; ";
  for (const auto& z : yard.zones)
    out << "zone " << z.drum << ' ' << z.angle << ' ' << z.at_dm << ' ' << z.size_dm << "; ";
  return out;
}

support::YardBuilder build(const DrawnYard& drawn) {
  support::YardBuilder yard;
  struct Placed {
    model::PartId part;
    double x, length, radius;
  };
  std::vector<Placed> drums;
  double x = 0;
  for (const auto& drum : drawn.drums) {
    const double length = 0.1 * drum.length_dm, radius = 0.1 * drum.radius_dm;
    const std::string id = "drum" + std::to_string(drums.size());
    const auto part = yard.part(id, model::Cylinder{.from = {x, 0, 0}, .to = {x + length, 0, 0}, .radius = radius});
    drums.push_back({part, x, length, radius});
    x += length + 0.1 * drum.gap_dm;
  }
  const auto drum_of = [&](int index) { return drums[static_cast<std::size_t>(index) % drums.size()]; };
  for (std::size_t i = 0; i < drawn.rails.size(); ++i) {
    const auto& rail = drawn.rails[i];
    const auto& drum = drum_of(rail.drum);
    const double at = std::min(0.1 * rail.from_dm, drum.length - 0.3);
    const double r = drum.radius + off_surface_m;
    // Outward as the drum has it, so that a box beside a rail is in the way and nothing else.
    std::vector<Vec3> points, outward;
    if (rail.goes_round) {
      // A twelfth of a turn for each 4 dm, in pieces short enough to stay over the surface.
      const double sweep = turned(1 + std::min(rail.length_dm / 4, 9));
      const int pieces = static_cast<int>(std::ceil(sweep / 0.25));
      for (int k = 0; k <= pieces; ++k) {
        outward.push_back(out_at(turned(rail.angle) + sweep * k / pieces));
        points.push_back(Vec3(drum.x + at, 0, 0) + r * outward.back());
      }
    } else {
      const double to = std::min(drum.length - 0.05, at + 0.1 * rail.length_dm);
      const Vec3 off = r * out_at(turned(rail.angle));
      points = {Vec3(drum.x + at, 0, 0) + off, Vec3(drum.x + to, 0, 0) + off};
      outward.assign(2, out_at(turned(rail.angle)));
    }
    const std::string number = std::to_string(i);
    const auto id = yard.rail("r" + number, drum.part, points);
    yard.structure.rails[id.index()].outward = {outward};
    yard.structure.rails[id.index()].use = {.hands = true, .tether = true, .cable = true};
    const Vec3 middle = points.size() == 2 ? Vec3((points[0] + points[1]) / 2) : points[points.size() / 2];
    yard.place("p" + number, middle, 0.2);
    const Vec3 out = Vec3(0, middle.y(), middle.z()).normalized();
    yard.place("plug" + number, middle - (off_surface_m - 0.01) * out, 0.5, model::PlaceKind::Connector);
  }
  for (std::size_t i = 0; i < drawn.boxes.size(); ++i) {
    const auto& box = drawn.boxes[i];
    const auto& drum = drum_of(box.drum);
    const double size = 0.1 * box.size_dm;
    const Vec3 at =
        Vec3(drum.x + std::min(0.1 * box.at_dm, drum.length), 0, 0) + drum.radius * out_at(turned(box.angle));
    yard.part("box" + std::to_string(i), model::Box{.center = at, .size = {size, size, size}});
  }
  for (std::size_t i = 0; i < drawn.zones.size(); ++i) {
    const auto& zone = drawn.zones[i];
    const auto& drum = drum_of(zone.drum);
    const Vec3 at =
        Vec3(drum.x + std::min(0.1 * zone.at_dm, drum.length), 0, 0) + (drum.radius + 0.5) * out_at(turned(zone.angle));
    yard.zone("zone" + std::to_string(i), model::Sphere{.center = at, .radius = 0.1 * zone.size_dm});
  }
  return yard;
}

rc::Gen<DrawnYard> any_yard() {
  const auto in = [](int from, int to) { return rc::gen::inRange(from, to + 1); };
  const auto drum = rc::gen::construct<DrawnDrum>(in(15, 50), in(8, 20), in(2, 30));
  const auto rail =
      rc::gen::construct<DrawnRail>(in(0, 2), in(0, 11), in(0, 45), in(3, 30), rc::gen::arbitrary<bool>());
  const auto block = rc::gen::construct<DrawnBlock>(in(0, 2), in(0, 11), in(0, 50), in(2, 9));
  const auto some = [&](int from, int to, const auto& one) {
    return rc::gen::mapcat(in(from, to), [one](int n) {
      return rc::gen::container<std::vector<typename std::decay_t<decltype(one)>::ValueType>>(
          static_cast<std::size_t>(n), one);
    });
  };
  return rc::gen::construct<DrawnYard>(some(1, 3, drum), some(6, 24, rail), some(0, 3, block), some(0, 2, block));
}

}  // namespace holdfast::properties
