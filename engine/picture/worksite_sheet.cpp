// SPDX-License-Identifier: GPL-3.0-or-later
#include "worksite_sheet_impl.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <numbers>

#include "markup_impl.h"
#include "worksite_picture_impl.h"

namespace holdfast::picture {

namespace {

constexpr double target_mm = 1.15;  // radius of a target's sign

/// Signs that are told apart without colour: what is reached is filled, what is not is empty and crossed by how.
std::string target_sign(reach::Kind kind, double x, double y) {
  using reach::Kind;
  const double r = target_mm;
  const char* colour = kind_colour(kind);
  std::string sign = fmt::format("<g class=\"target {}\" stroke=\"{}\">", kind_id(kind), colour);
  const auto add = [&](const std::string& d, const char* fill) {
    sign += fmt::format("<path style=\"fill:{}\" d=\"{}\"/>", fill, d);  // the sheet fills no path otherwise
  };
  const auto circle = [&](double radius, const char* fill) {
    sign += fmt::format("<circle cx=\"{:.3f}\" cy=\"{:.3f}\" r=\"{:.2f}\" fill=\"{}\"/>", x, y, radius, fill);
  };
  if (kind == Kind::Forbidden)
    add(fmt::format("M{:.3f} {:.3f}h{:.2f}v{:.2f}h{:.2f}Z", x - r, y - r, 2 * r, 2 * r, -2 * r), "#fff");
  else
    circle(r, kind == Kind::TwoHand ? colour : "#fff");
  const double s = 0.7 * r;
  switch (kind) {
    case Kind::TwoHand:
      break;
    case Kind::OneHand:
      add(fmt::format("M{:.3f} {:.3f}A{:.2f} {:.2f} 0 0 1 {:.3f} {:.3f}Z", x, y - r, r, r, x, y + r), colour);
      break;
    case Kind::Forbidden:
      add(fmt::format("M{:.3f} {:.3f}l{:.2f} {:.2f}", x - r, y + r, 2 * r, -2 * r), "none");
      break;
    case Kind::Blocked:
      add(fmt::format("M{:.3f} {:.3f}l{:.2f} {:.2f}m0 {:.2f}l{:.2f} {:.2f}", x - s, y - s, 2 * s, 2 * s, -2 * s, -2 * s,
                      2 * s),
          "none");
      break;
    case Kind::FacesAway:
      add(fmt::format("M{:.3f} {:.3f}h{:.2f}", x - r, y, 2 * r), "none");
      break;
    case Kind::TooNear:
      circle(0.35 * r, colour);
      break;
    case Kind::OutOfReach:
    case Kind::NotThere:
      break;
  }
  return sign + "</g>";
}

class Writer {
 public:
  Writer(std::string& out, const SheetView& view) : out_(out), v_(view) {}

  void path(const std::string& kind, const std::string& d, const std::string& more = "") {
    if (!d.empty()) out_ += fmt::format("<path class=\"{}\"{} d=\"{}\"/>\n", kind, more, d);
  }
  void outline(const std::string& kind, const std::vector<const geometry::TriangleMesh*>& meshes,
               const std::string& more = "") {
    Vec2 low = Vec2::Constant(std::numeric_limits<double>::infinity()), high = -low;
    for (const auto* mesh : meshes)
      for (const auto& vertex : mesh->vertices)
        low = low.cwiseMin(v_.direction.flat(vertex)), high = high.cwiseMax(v_.direction.flat(vertex));
    const Vec2 rim = Vec2::Constant(2 * v_.cell_m);
    Raster filled(low - rim, high + rim, v_.cell_m);
    for (const auto* mesh : meshes)
      for (const auto& t : mesh->triangles)
        filled.fill(v_.direction, {mesh->vertices[t[0]], mesh->vertices[t[1]], mesh->vertices[t[2]]}, 0);
    std::string d;
    for (const auto& loop : filled.outlines()) {
      for (std::size_t i = 0; i < loop.size(); ++i) add(d, v_.on_page(loop[i]), i == 0);
      d += "Z";
    }
    path(kind, d, more);
  }
  void line(const std::string& kind, const std::vector<Vec3>& points) {
    std::string d;
    for (std::size_t i = 0; i < points.size(); ++i) add(d, v_.page(points[i]), i == 0);
    path(kind, d);
  }

  /// Squares of the samples that face the viewer and are not behind structure; seen ones and others.
  void patch(const SeenPatch& patch) {
    std::string seen, unseen;
    for (const auto& sample : patch.samples) {
      if (sample.normal.dot(v_.direction.toward) < 0.05) continue;
      constexpr double off_m = 0.02;  // the depth buffer's own grain is no cover
      if (!v_.is_seen(sample.at + off_m * sample.normal)) continue;
      const Vec3 x = sample.side_m / 2 * sample.normal.unitOrthogonal(), y = sample.normal.cross(x);
      std::string& d = sample.is_seen() ? seen : unseen;
      add(d, v_.page(sample.at - x - y), true), add(d, v_.page(sample.at + x - y), false);
      add(d, v_.page(sample.at + x + y), false), add(d, v_.page(sample.at - x + y), false);
      d += "Z";
    }
    path("patch unseen", unseen, fmt::format(" data-patch=\"{}\"", escaped(patch.id)));
    path("patch seen", seen, fmt::format(" data-patch=\"{}\"", escaped(patch.id)));
  }

  /// Rim of the cone and the lines to it; the direction alone where it is no cone.
  void field(const SightEye& eye) {
    if (eye.half_angle_rad > 80 * std::numbers::pi / 180) {
      line("field", {eye.at, eye.at + eye.length_m * eye.direction});
    } else {
      constexpr int steps = 36, every = 6;
      const double radius = eye.length_m * std::tan(eye.half_angle_rad);
      const Vec3 x = eye.direction.unitOrthogonal(), y = eye.direction.cross(x);
      std::vector<Vec3> rim;
      for (int k = 0; k <= steps; ++k) {
        const double angle = 2 * std::numbers::pi * k / steps;
        rim.emplace_back(eye.at + eye.length_m * eye.direction + radius * (std::cos(angle) * x + std::sin(angle) * y));
      }
      line("field", rim);
      for (int k = 0; k < steps; k += every) line("field", {eye.at, rim[static_cast<std::size_t>(k)]});
    }
    const Vec2 at = v_.page(eye.at);
    path("eye", fmt::format("M{:.3f} {:.3f}l1.1 1.9h-2.2Z", at.x(), at.y() - 1.2));
  }

 private:
  static void add(std::string& d, const Vec2& q, bool is_first) {
    d += fmt::format("{}{:.2f} {:.2f}", is_first ? "M" : "L", q.x() + 0.0, q.y() + 0.0);
  }
  std::string& out_;
  const SheetView& v_;
};

}  // namespace

std::string worksite_code(std::size_t index) { return fmt::format("W{}", index + 1); }
std::string eye_code(std::size_t index) { return fmt::format("E{}", index + 1); }
std::string patch_code(std::size_t index) { return fmt::format("P{}", index + 1); }

void write_worksites(std::string& out, const Picture& picture, const SheetView& view) {
  Writer writer(out, view);
  for (const auto& patch : picture.patches) writer.patch(patch);
  for (const auto& eye : picture.eyes) writer.field(eye);
  for (const auto& site : picture.worksites) {
    out += fmt::format("<g class=\"worksite{}\" data-site=\"{}\">\n", site.fits ? "" : " collides", escaped(site.name));
    if (site.fits) {
      writer.outline("reach left", {&site.hand_zones[reach::Left]});
      writer.outline("reach right", {&site.hand_zones[reach::Right]});
      writer.outline("reach both", {&site.two_hand_zone});
    }
    writer.outline("figure", {&site.body, &site.trunk});
    if (!site.plate.triangles.empty()) writer.outline("restraint", {&site.plate});
    if (site.post.size() == 2) writer.line("post", site.post);
    // The visor shows where it faces.
    const Vec2 helmet = view.page(site.helmet);
    const double radius =
        (view.page(Vec3(site.helmet + 0.6 * site.helmet_radius_m * view.direction.right)) - helmet).norm();
    out += fmt::format("<circle class=\"helmet\" cx=\"{:.3f}\" cy=\"{:.3f}\" r=\"{:.3f}\"/>\n", helmet.x(), helmet.y(),
                       radius);
    writer.line("facing", {site.helmet, site.helmet + 1.4 * site.helmet_radius_m * site.forward});
    out += "</g>\n";
  }
}

void write_targets(std::string& out, const Picture& picture, const SheetView& view) {
  Writer writer(out, view);
  for (const auto& site : picture.worksites)
    for (const auto& target : site.targets)
      for (const auto& shoulder : target.shoulders) writer.line("arm", {shoulder, target.at});
  for (const auto& site : picture.worksites)
    for (const auto& target : site.targets) {
      // Where several figures are drawn, a target that one of them reaches is not marked by one that does not.
      const bool is_better_elsewhere =
          std::any_of(picture.worksites.begin(), picture.worksites.end(), [&](const Worksite& other) {
            return &other != &site && std::any_of(other.targets.begin(), other.targets.end(), [&](const auto& t) {
              return t.id == target.id && (t.kind < target.kind || (t.kind == target.kind && &other < &site));
            });
          });
      if (is_better_elsewhere) continue;
      const Vec2 at = view.page(target.at);
      if (view.direction.flat(target.at).x() < view.low.x() || view.direction.flat(target.at).x() > view.high.x() ||
          view.direction.flat(target.at).y() < view.low.y() || view.direction.flat(target.at).y() > view.high.y())
        continue;
      out += target_sign(target.kind, at.x(), at.y()) + "\n";
    }
}

std::vector<WorksiteLabel> worksite_labels(const Picture& picture) {
  std::vector<WorksiteLabel> labels;
  for (std::size_t i = 0; i < picture.worksites.size(); ++i)
    labels.push_back({picture.worksites[i].helmet, worksite_code(i)});
  for (std::size_t i = 0; i < picture.eyes.size(); ++i) labels.push_back({picture.eyes[i].at, eye_code(i)});
  for (std::size_t i = 0; i < picture.patches.size(); ++i) labels.push_back({picture.patches[i].middle, patch_code(i)});
  return labels;
}

std::vector<LegendEntry> worksite_legend(const Picture& picture) {
  std::vector<LegendEntry> entries;
  const auto stroke = [](const char* kind) { return fmt::format("<path class=\"{}\" d=\"M0 1.5H11\"/>", kind); };
  const auto area = [](const char* kind) { return fmt::format("<path class=\"{}\" d=\"M0 0H11V3H0Z\"/>", kind); };
  if (!picture.worksites.empty()) entries.push_back({"", "Worksites"});
  for (std::size_t i = 0; i < picture.worksites.size(); ++i) {
    const auto& site = picture.worksites[i];
    std::map<reach::Kind, std::vector<std::string>> by_kind;
    std::size_t far = 0;
    for (const auto& target : site.targets) {
      if (target.kind == reach::Kind::OutOfReach && site.targets.size() > 6)
        ++far;
      else
        by_kind[target.kind].push_back(target.id + ": " + target.words);
    }
    std::vector<std::string> facts = {site.words};
    for (const auto& [kind, targets] : by_kind) facts.insert(facts.end(), targets.begin(), targets.end());
    if (far > 0) facts.push_back(fmt::format("{} out of reach", far));
    entries.push_back({area(site.fits ? "figure" : "figure collides"), worksite_code(i) + "  " + site.name,
                       fmt::format("{}", fmt::join(facts, "; "))});
  }
  if (!picture.worksites.empty()) {
    entries.push_back({area("reach both"), "two-hand zone of the upright body"});
    entries.push_back({area("reach left"), "one-hand zone, left"});
    entries.push_back({area("reach right"), "one-hand zone, right"});
    entries.push_back({stroke("arm"), "arm to what it reaches, the body leaning where it does"});
    if (std::any_of(picture.worksites.begin(), picture.worksites.end(),
                    [](const Worksite& site) { return !site.plate.triangles.empty(); }))
      entries.push_back({area("restraint"), "plate of the foot restraint"});
    if (std::any_of(picture.worksites.begin(), picture.worksites.end(),
                    [](const Worksite& site) { return !site.post.empty(); }))
      entries.push_back({stroke("post"), "post of the foot restraint"});
    entries.push_back(
        {"<circle class=\"helmet\" cx=\"4\" cy=\"1.5\" r=\"1.2\"/><path class=\"facing\" d=\"M4 1.5h5\"/>",
         "helmet, and where it faces"});
  }
  for (const auto kind : drawn_kinds) {
    const bool is_drawn = std::any_of(picture.worksites.begin(), picture.worksites.end(), [&](const Worksite& site) {
      return std::any_of(site.targets.begin(), site.targets.end(), [&](const auto& t) { return t.kind == kind; });
    });
    if (is_drawn) entries.push_back({target_sign(kind, 5.5, 1.5), fmt::format("target: {}", kind_words(kind))});
  }
  if (!picture.patches.empty()) entries.push_back({"", "What is seen"});
  for (std::size_t i = 0; i < picture.eyes.size(); ++i) {
    std::vector<std::string> facts;
    for (std::size_t p = 0; p < picture.patches.size(); ++p)
      for (const auto& look : picture.patches[p].looks)
        if (look.eye == i) facts.push_back(fmt::format("{} {}", patch_code(p), look.words));
    entries.push_back({"<path class=\"eye\" d=\"M5.5 .4l1.1 1.9h-2.2Z\"/>", eye_code(i) + "  " + picture.eyes[i].name,
                       fmt::format("{}", fmt::join(facts, "; "))});
  }
  for (std::size_t p = 0; p < picture.patches.size(); ++p)
    entries.push_back({area("patch"), patch_code(p) + "  " + picture.patches[p].name});
  if (!picture.patches.empty()) {
    entries.push_back({area("patch seen"), "of a patch: seen by one of them"});
    entries.push_back({area("patch unseen"), "not seen"});
    entries.push_back({stroke("field"), "field of view, drawn to what it sees"});
  }
  return entries;
}

std::string_view worksite_style() {
  return R"css(
.figure { fill: #fff; fill-opacity: .75; stroke: #000; stroke-width: .3; fill-rule: evenodd; }
.collides .figure, .figure.collides { stroke: #d55e00; stroke-dasharray: 1 .5; }
.restraint { fill: #48525c; stroke: #000; stroke-width: .15; }
.post { stroke: #000; stroke-width: .6; }
.helmet { fill: #fff; stroke: #000; stroke-width: .3; }
.facing { stroke: #000; stroke-width: .5; }
.reach { fill: none; fill-rule: evenodd; stroke: #0072b2; stroke-width: .25; }
.reach.left { stroke-dasharray: 1.6 .8; }
.reach.right { stroke-dasharray: .3 .7; }
.reach.both { stroke: #00694c; fill: url(#both-hands); stroke-width: .35; }
.arm { stroke: #000; stroke-width: .3; }
.target { stroke-width: .3; }
.patch { stroke: none; fill: #e4e8eb; }
.patch.unseen { fill: #fff; fill-opacity: .8; stroke: #777; stroke-width: .06; }
.patch.seen { fill: #0072b2; fill-opacity: .75; }
.field { stroke: #7a4a00; stroke-width: .18; stroke-dasharray: 1.2 .6 .3 .6; }
.eye { fill: #7a4a00; stroke: #fff; stroke-width: .2; }
text.worksite { font-weight: bold; paint-order: stroke; stroke: #fff; stroke-width: .8; stroke-linejoin: round; }
)css";
}
std::string_view worksite_patterns() {
  return R"svg(<pattern id="both-hands" width="1.2" height="1.2" patternUnits="userSpaceOnUse"><path d="M0 .6H1.2M.6 0V1.2" stroke="#00694c" stroke-width=".1"/></pattern>
)svg";
}

}  // namespace holdfast::picture
