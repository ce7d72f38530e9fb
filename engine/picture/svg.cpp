// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <string_view>

#include "found_style_impl.h"
#include "holdfast/picture/write.h"
#include "holdfast/report/words.h"
#include "label_placer_impl.h"
#include "lettering_impl.h"
#include "markup_impl.h"
#include "raster_impl.h"
#include "style_impl.h"
#include "surface_impl.h"
#include "worksite_sheet_impl.h"

namespace holdfast::picture {

namespace {

// A3 landscape (ISO 216), in mm.
constexpr double page_width = 420, page_height = 297, margin = 9, gap = 5;
constexpr double caption_height = 7;   // below each view
constexpr double cell_mm = 0.18;       // of the depth buffer: less than the width of a line
constexpr double padding_mm = 2;       // round what a view shows, at least
constexpr double most_padding_mm = 9;  // where the page has room to spare
constexpr double least_column = 63;    // of legend and tables
constexpr double title_height = 30;
constexpr double leading = 1.32;                            // from line to line, in sizes of the text
constexpr double least_side = 100, least_side_height = 70;  // beside the view from zenith, for title and legend
constexpr double strip_height = 62;                         // below the views, where they leave nothing beside

constexpr double way_width_mm = 0.7;

std::string svg_dashes(std::size_t way, double width_mm) {
  const auto& dash = dash_of(way);
  if (dash[1] == 0) return "";
  return fmt::format(" stroke-dasharray=\"{:.2f} {:.2f} {:.2f} {:.2f}\"", dash[0] * width_mm, dash[1] * width_mm,
                     dash[2] * width_mm, dash[3] * width_mm);
}

std::string found_dashes(const FoundStyle& style) {
  if (style.dash[1] == 0) return "";
  return fmt::format(" stroke-dasharray=\"{:.2f} {:.2f}\"", style.dash[0] * style.width_mm,
                     style.dash[1] * style.width_mm);
}

/// 1, 1.25, 1.5, 2, 2.5, 3, 4, 5, 7.5 and their tens, where they are whole.
int next_scale(int scale) {
  for (int power = 1;; power *= 10)
    for (const double step : {1.0, 1.25, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 7.5}) {
      const double candidate = step * power;
      if (candidate > scale && candidate == std::floor(candidate)) return static_cast<int>(candidate);
    }
}

struct Frame {  ///< where a view stands on the page
  Direction view;
  Vec2 low, high;  ///< of what it shows, in metres of the view
  Vec2 corner;     ///< page position of (low.x, high.y), mm
  double mm_per_m = 1;
  [[nodiscard]] Vec2 on_page(const Vec2& flat) const {
    return {corner.x() + mm_per_m * (flat.x() - low.x()), corner.y() + mm_per_m * (high.y() - flat.y())};
  }
  [[nodiscard]] Vec2 on_page(const Vec3& p) const { return on_page(view.flat(p)); }
  [[nodiscard]] double width() const { return mm_per_m * (high.x() - low.x()); }
  [[nodiscard]] double height() const { return mm_per_m * (high.y() - low.y()); }
};

/// What lines and the marks on them are called on the sheet.
std::string line_code(std::size_t line) { return fmt::format("L{}", line + 1); }
std::string mark_code(std::size_t line, std::size_t mark) { return fmt::format("L{}-{}", line + 1, mark); }

/// A part of a line that is all seen or all hidden.
struct Run {
  bool is_seen = true;
  std::vector<Vec2> points;  ///< metres of the view
};

class ViewWriter {
 public:
  ViewWriter(std::string& out, const Picture& picture, const std::vector<Welded>& parts, const Frame& frame)
      : out_(out),
        p_(picture),
        parts_(parts),
        f_(frame),
        seen_(frame.low, frame.high, cell_mm / frame.mm_per_m),
        placer_(
            {frame.corner.x(), frame.corner.y(), frame.corner.x() + frame.width(), frame.corner.y() + frame.height()}) {
    for (std::size_t i = 0; i < parts_.size(); ++i)
      for (const auto& t : parts_[i].triangles)
        seen_.fill(f_.view, {parts_[i].vertices[t[0]], parts_[i].vertices[t[1]], parts_[i].vertices[t[2]]},
                   static_cast<std::int32_t>(i));
  }

  void write(int scale) {
    const auto three = [](const Vec3& v) {
      return fmt::format("{:g} {:g} {:g}", v.x() + 0.0, v.y() + 0.0, v.z() + 0.0);
    };
    const Vec2 origin = f_.on_page(Vec2(0, 0));
    out_ += fmt::format(
        "<g class=\"view\" data-view=\"{}\" data-scale=\"{}\" data-right=\"{}\" data-up=\"{}\" data-origin=\"{:.4f} "
        "{:.4f}\">\n",
        f_.view.name, scale, three(f_.view.right), three(f_.view.up), origin.x(), origin.y());
    out_ += fmt::format(
        "<clipPath id=\"clip-{}\"><rect x=\"{:.3f}\" y=\"{:.3f}\" width=\"{:.3f}\" height=\"{:.3f}\"/></clipPath>\n",
        f_.view.name, f_.corner.x(), f_.corner.y(), f_.width(), f_.height());
    out_ += fmt::format("<g clip-path=\"url(#clip-{})\">\n", f_.view.name);
    write_structure();
    write_zones();
    write_corridors();
    write_rails();
    picture::write_worksites(out_, p_, sheet_view());
    write_found();
    write_lines();
    write_ways();
    out_ += "</g>\n";
    write_marks();
    write_caption(scale);
    out_ += "</g>\n";
  }

 private:
  [[nodiscard]] SheetView sheet_view() const {
    return {f_.view,
            f_.low,
            f_.high,
            cell_mm / 3 / f_.mm_per_m,
            [this](const Vec2& flat) { return f_.on_page(flat); },
            [this](const Vec3& p) { return is_seen(p); }};
  }

  // ---- lines and what hides them ---------------------------------------------------------------------------

  /// `own`: the part that the line lies on, which hides it only where it is `own_slack_m` nearer. Nothing hides it that
  /// is less than `inside_m` nearer.
  std::vector<Run> runs(const std::vector<Vec3>& line, std::int32_t own = -1, double own_slack_m = 0,
                        double inside_m = 0) const {
    const double slack = std::max(inside_m, 2.5 * seen_.cell_m());
    std::vector<Run> out;
    const auto add = [&](bool is_seen, const Vec2& from, const Vec2& to) {
      if (out.empty() || out.back().is_seen != is_seen) out.push_back({is_seen, {from}});
      out.back().points.push_back(to);
    };
    for (std::size_t i = 0; i + 1 < line.size(); ++i) {
      const Vec2 a = f_.view.flat(line[i]), b = f_.view.flat(line[i + 1]);
      const double da = f_.view.depth(line[i]), db = f_.view.depth(line[i + 1]);
      const int steps = std::max(1, static_cast<int>(std::ceil((b - a).norm() / (1.5 * seen_.cell_m()))));
      std::vector<bool> seen(static_cast<std::size_t>(steps));
      for (int k = 0; k < steps; ++k) {
        const double t = (k + 0.5) / steps;
        const auto cell = seen_.at(a + t * (b - a));
        const double nearer = cell.depth - (da + t * (db - da));
        seen[static_cast<std::size_t>(k)] =
            cell.owner < 0 || nearer <= (cell.owner == own ? std::max(own_slack_m, slack) : slack);
      }
      // A step alone among others is the grain of the buffer, not a thing.
      for (std::size_t k = 1; k + 1 < seen.size(); ++k)
        if (seen[k - 1] == seen[k + 1]) seen[k] = seen[k - 1];
      for (int k = 0; k < steps;) {
        int end = k + 1;
        while (end < steps && seen[static_cast<std::size_t>(end)] == seen[static_cast<std::size_t>(k)]) ++end;
        add(seen[static_cast<std::size_t>(k)], a + (b - a) * (static_cast<double>(k) / steps),
            end == steps ? b : Vec2(a + (b - a) * (static_cast<double>(end) / steps)));
        k = end;
      }
    }
    return out;
  }

  void add_points(std::string& d, const std::vector<Vec2>& flat, int decimals = 2) const {
    for (std::size_t i = 0; i < flat.size(); ++i) {
      const Vec2 q = f_.on_page(flat[i]);
      d += fmt::format("{}{:.{}f} {:.{}f}", i == 0 ? "M" : "L", q.x() + 0.0, decimals, q.y() + 0.0, decimals);
    }
  }
  void path(const char* kind, const std::string& d, const std::string& more = "") {
    if (!d.empty()) out_ += fmt::format("<path class=\"{}\"{} d=\"{}\"/>\n", kind, more, d);
  }
  std::string outline(const Raster& raster) const {
    std::string d;
    for (const auto& loop : raster.outlines()) add_points(d, loop), d += "Z";
    return d;
  }

  void write_structure() {
    path("tone", outline(seen_));
    std::string d;
    for (std::size_t i = 0; i < parts_.size(); ++i) {
      const auto& part = parts_[i];
      geometry::Bounds bounds;
      for (const auto& v : part.vertices) bounds.extend(v);
      const double slack = part.vertices.empty() ? 0 : 0.25 * (bounds.max - bounds.min).minCoeff();
      for (const auto& edge : part.edges) {
        const auto facing = [&](int side) {
          return part.normals[static_cast<std::size_t>(edge.faces[static_cast<std::size_t>(side)])].dot(
                     f_.view.toward) > 1e-6;
        };
        const bool front = facing(0), other = edge.faces[1] >= 0 ? facing(1) : front;
        if (!(edge.is_crease ? front || other || edge.faces[1] < 0 : front != other)) continue;
        for (const auto& run :
             runs({part.vertices[edge.ends[0]], part.vertices[edge.ends[1]]}, static_cast<std::int32_t>(i), slack))
          if (run.is_seen) add_points(d, run.points);
      }
    }
    path("edge", d);
  }

  void write_zones() {
    for (std::size_t i = 0; i < p_.zones.size(); ++i) {
      const auto& zone = p_.zones[i];
      Raster filled(f_.low, f_.high, 2 * cell_mm / f_.mm_per_m);
      for (const auto& t : zone.mesh.triangles)
        filled.fill(f_.view, {zone.mesh.vertices[t[0]], zone.mesh.vertices[t[1]], zone.mesh.vertices[t[2]]}, 0);
      path(fmt::format("zone {}", report::effect_name(zone.effect)).c_str(), outline(filled),
           fmt::format(" data-zone=\"{}\"", escaped(zone.id)));
    }
  }

  void write_corridors() {
    out_ += "<g class=\"corridors\">\n";  // pale as a whole, so that many upon each other are no darker than one
    for (std::size_t i = 0; i < p_.ways.size(); ++i) {
      std::vector<Vec2> flat;
      for (const auto& point : p_.ways[i].body) flat.push_back(f_.view.flat(point.at));
      std::string d;
      add_points(d, flat, 3);
      path("corridor", d,
           fmt::format(" stroke=\"{}\" stroke-width=\"{:.3f}\"", colour_of(i),
                       2 * p_.ways[i].corridor_radius_m * f_.mm_per_m));
    }
    out_ += "</g>\n";
  }

  void write_rails() {
    std::string seen, hidden;
    for (const auto& rail : p_.rails) {
      auto line = rail.points;
      if (line.size() == 1) line = {line[0] - 0.05 * f_.view.right, line[0] + 0.05 * f_.view.right};
      for (const auto& run : runs(line)) add_points(run.is_seen ? seen : hidden, run.points);
    }
    path("rail hidden", hidden);
    path("rail", seen);
  }

  void write_found() {
    constexpr double thickest_bar_m = 0.07;  // half of the thickest bar that is looked at as a rail, and a little more
    std::vector<Stroke> strokes;
    for (const auto& style : found_styles)
      for (const auto& piece : p_.found) {
        if (piece.kind != style.kind) continue;
        auto line = piece.points;
        if (line.size() == 1) line = {line[0] - 0.06 * f_.view.right, line[0] + 0.06 * f_.view.right};
        strokes.push_back({fmt::format("found {}", style.name), fmt::format(" data-found=\"{}\"", escaped(piece.id)),
                           found_dashes(style), style.width_mm, std::move(line), thickest_bar_m});
      }
    write_strokes(strokes);
  }

  /// A line of which what is seen and what is hidden are drawn apart.
  struct Stroke {
    std::string kind, attributes, dashes;
    double width_mm = 0.5;
    std::vector<Vec3> points;
    double inside_m = 0;  ///< how deep in what is drawn it may lie and be seen: a middle line in its bar
  };

  /// White below each, so that they stand out; all of that first, so that it covers none of them.
  void write_strokes(const std::vector<Stroke>& strokes) {
    std::vector<std::string> seen(strokes.size());
    for (std::size_t i = 0; i < strokes.size(); ++i) {
      std::string hidden;
      for (const auto& run : runs(strokes[i].points, -1, 0, strokes[i].inside_m))
        add_points(run.is_seen ? seen[i] : hidden, run.points, 4);
      path((strokes[i].kind + " hidden").c_str(), hidden, strokes[i].attributes);
      path("casing", seen[i], fmt::format(" stroke-width=\"{:.2f}\"", strokes[i].width_mm + 0.6));
    }
    for (std::size_t i = 0; i < strokes.size(); ++i)
      path(strokes[i].kind.c_str(), seen[i],
           fmt::format("{} stroke-width=\"{:.2f}\"{}", strokes[i].attributes, strokes[i].width_mm, strokes[i].dashes));
  }

  void write_lines() {
    std::vector<Stroke> strokes;
    for (const auto& line : p_.lines)
      strokes.push_back({line.kind == LineKind::Cable ? "line cable" : "line tether",
                         fmt::format(" data-line=\"{}\"", escaped(line.name)), "", 0.5, line.points});
    write_strokes(strokes);
  }

  void write_ways() {
    std::vector<Stroke> strokes;
    for (std::size_t i = 0; i < p_.ways.size(); ++i) {
      if (!p_.ways[i].is_way()) continue;
      strokes.push_back({"way",
                         fmt::format(" data-way=\"{}\" stroke=\"{}\"", letter(i), colour_of(i)),
                         svg_dashes(i, way_width_mm),
                         way_width_mm,
                         {}});
      for (const auto& pose : p_.ways[i].poses) strokes.back().points.push_back(pose.hand);
    }
    // Where ways lie upon each other, each shows on both sides of the next.
    for (std::size_t k = 0; k < strokes.size(); ++k)
      strokes[k].width_mm += 0.45 * static_cast<double>(std::min<std::size_t>(4, strokes.size() - 1 - k));
    write_strokes(strokes);
  }

  // ---- texts -----------------------------------------------------------------------------------------------

  struct Lettering {
    const char* kind;
    double size;
    bool is_bold;
    double farthest_mm;  ///< a label that finds no room so near is left out
  };
  /// Near a point where there is room, led out where it is crowded, left out where there is none.
  void label(const Vec2& at, const std::string& text, const Lettering& as) {
    const auto placed = placer_.place(at, text_width(text, as.size, as.is_bold), as.size * 1.05, as.farthest_mm);
    if (!placed) return;
    if (placed->leader) {
      const auto& [from, to] = *placed->leader;
      out_ += fmt::format("<path class=\"leader {}\" d=\"M{:.2f} {:.2f}L{:.2f} {:.2f}\"/>\n", as.kind, from.x(),
                          from.y(), to.x(), to.y());
    }
    out_ += fmt::format("<text class=\"{}\" x=\"{:.2f}\" y=\"{:.2f}\" font-size=\"{:.2f}\">{}</text>\n", as.kind,
                        placed->rect.x0, placed->rect.y1 - 0.25 * as.size, as.size, escaped(text));
  }
  /// Labels had better stand off routes, lines, waypoints and places.
  void spare_lines() {
    constexpr double step_mm = 1.2;
    const auto along = [&](const std::vector<Vec3>& points) {
      for (std::size_t i = 0; i + 1 < points.size(); ++i) {
        const Vec2 a = f_.on_page(points[i]), b = f_.on_page(points[i + 1]);
        const int steps = std::max(1, static_cast<int>(std::ceil((b - a).norm() / step_mm)));
        for (int k = 0; k < steps; ++k) placer_.spare(a + (b - a) * (static_cast<double>(k) / steps), 0.5);
      }
    };
    for (const auto& way : p_.ways) {
      std::vector<Vec3> hands;
      for (const auto& pose : way.poses) hands.push_back(pose.hand);
      along(hands);
      for (const auto& row : way.rows) placer_.spare(f_.on_page(row.hand), 3);
    }
    for (const auto& line : p_.lines) along(line.points);
    for (const auto& place : p_.places)
      if (is_seen(place.at)) placer_.spare(f_.on_page(place.at), 3);
  }
  bool is_seen(const Vec3& p) const {
    const auto cell = seen_.at(f_.view.flat(p));
    return cell.owner < 0 || cell.depth - f_.view.depth(p) <= 0.1;
  }

  /// The first of the ways that pass a grip numbers it.
  bool is_numbered(std::size_t way, const Vec3& hand) const {
    for (std::size_t before = 0; before < way; ++before)
      for (const auto& row : p_.ways[before].rows)
        if ((row.hand - hand).norm() < 0.01) return true;
    return false;
  }

  /// Where ways begin and end, with the letters of all that do so there.
  std::vector<std::pair<Vec3, std::string>> ends() const {
    std::vector<std::pair<Vec3, std::string>> list;
    for (std::size_t i = 0; i < p_.ways.size(); ++i) {
      if (!p_.ways[i].is_way()) continue;
      for (const auto& at : {p_.ways[i].poses.front().hand, p_.ways[i].poses.back().hand}) {
        const auto known =
            std::find_if(list.begin(), list.end(), [&](const auto& e) { return (e.first - at).norm() < 0.3; });
        if (known == list.end())
          list.emplace_back(at, letter(i));
        else
          known->second += " " + letter(i);
      }
    }
    return list;
  }

  void write_marks() {
    constexpr Lettering letter_style{"letter", 3.4, true, 60}, stop_style{"letter", 2.6, true, 60},
        number_style{"number", 1.9, true, 12}, line_style{"line-name", 2.4, true, 40},
        name_style{"name", 2.1, false, 16}, found_style{"number", 2.4, true, 40};
    spare_lines();
    // Dots first: white rims of texts are below nothing that matters then.
    for (std::size_t i = 0; i < p_.ways.size(); ++i)
      for (const auto& row : p_.ways[i].rows) {
        const Vec2 at = f_.on_page(row.hand);
        out_ += fmt::format("<circle class=\"waypoint\" cx=\"{:.3f}\" cy=\"{:.3f}\" r=\"0.55\" stroke=\"{}\"/>\n",
                            at.x(), at.y(), colour_of(i));
      }
    for (const auto& line : p_.lines)
      for (const auto* marks : {&line.ties, &line.bends})
        for (const auto& mark : *marks) {
          const Vec2 at = f_.on_page(mark.at);
          out_ += fmt::format("<circle class=\"tie\" cx=\"{:.3f}\" cy=\"{:.3f}\" r=\"0.6\"/>\n", at.x(), at.y());
        }
    for (const auto& place : p_.places) {
      const Vec2 at = f_.on_page(place.at);
      out_ += fmt::format("<circle class=\"place{}\" cx=\"{:.3f}\" cy=\"{:.3f}\" r=\"0.6\"/>\n",
                          is_seen(place.at) ? "" : " hidden", at.x(), at.y());
    }
    write_targets(out_, p_, sheet_view());  // over the dots of places: a sign with a dot in it is another sign
    for (const auto& [at, letters] : ends()) label(f_.on_page(at), letters, letter_style);
    for (const auto& each : worksite_labels(p_)) label(f_.on_page(each.at), each.text, {"worksite", 2.6, true, 40});
    for (std::size_t i = 0; i < p_.ways.size(); ++i) {
      if (p_.ways[i].reasons.empty()) continue;
      const Vec2 at = f_.on_page(p_.ways[i].reasons.front().at);
      out_ += fmt::format("<path class=\"stop\" d=\"M{:.2f} {:.2f}l3 3m0 -3l-3 3\"/>\n", at.x() - 1.5, at.y() - 1.5);
      label(at, letter(i) + " stops", stop_style);
    }
    for (std::size_t i = 0; i < p_.lines.size(); ++i) {
      const auto& points = p_.lines[i].points;
      if (!points.empty()) label(f_.on_page(points[points.size() / 2]), line_code(i), line_style);
    }
    for (const auto& piece : p_.found)
      if (piece.number > 0)
        label(f_.on_page(piece.points[piece.points.size() / 2]), fmt::format("{}", piece.number), found_style);
    write_zone_codes();
    for (const auto& place : p_.places)
      if (is_seen(place.at) && is_end(place.id)) label(f_.on_page(place.at), place.id, name_style);
    for (std::size_t i = 0; i < p_.ways.size(); ++i)
      for (std::size_t r = 0; r < p_.ways[i].rows.size(); ++r)
        if (!is_numbered(i, p_.ways[i].rows[r].hand))
          label(f_.on_page(p_.ways[i].rows[r].hand), fmt::format("{}{}", letter(i), r), number_style);
    for (std::size_t i = 0; i < p_.lines.size(); ++i) {
      std::size_t number = 0;
      for (const auto* marks : {&p_.lines[i].ties, &p_.lines[i].bends})
        for (const auto& mark : *marks) label(f_.on_page(mark.at), mark_code(i, ++number), number_style);
    }
    for (const auto& place : p_.places)
      if (is_seen(place.at) && !is_end(place.id)) label(f_.on_page(place.at), place.id, name_style);
  }

  bool is_end(const std::string& place) const {
    return std::any_of(p_.ways.begin(), p_.ways.end(), [&](const Way& way) {
      return (" " + way.name + ",").find(" " + place + ",") != std::string::npos ||
             (" " + way.name + " ").find(" " + place + " ") != std::string::npos;
    });
  }

  void write_zone_codes() {
    for (std::size_t i = 0; i < p_.zones.size(); ++i) {
      const auto& zone = p_.zones[i];
      Vec3 middle = Vec3::Zero();
      for (const auto& v : zone.mesh.vertices) middle += v / static_cast<double>(zone.mesh.vertices.size());
      const Vec2 at = f_.on_page(middle);
      if (at.x() <= f_.corner.x() || at.x() >= f_.corner.x() + f_.width() || at.y() <= f_.corner.y() ||
          at.y() >= f_.corner.y() + f_.height())
        continue;
      const std::string kind = fmt::format("zone-name {}", report::effect_name(zone.effect));
      label(at, fmt::format("z{}", i + 1), {kind.c_str(), 2.4, true, 26});
    }
  }

  void write_caption(int scale) {
    const double x = f_.corner.x(), y = f_.corner.y() + f_.height();
    out_ += fmt::format("<text class=\"caption\" x=\"{:.2f}\" y=\"{:.2f}\" font-size=\"3.2\">From {}</text>\n", x,
                        y + 4.5, f_.view.name);
    // A bar of a round length, a quarter of the view at most.
    double length = 1;
    while (length * f_.mm_per_m > 20) length /= 10;
    for (const double step : {2.0, 2.5, 2.0})
      if (length * step * f_.mm_per_m < std::min(40.0, f_.width() / 2)) length *= step;
    const double bar = length * f_.mm_per_m, bar_x = x + 34;
    out_ += fmt::format("<g class=\"scale-bar\" data-length-m=\"{:g}\" data-width-mm=\"{:.4f}\">", length, bar);
    for (int k = 0; k < 4; ++k)
      out_ += fmt::format("<rect x=\"{:.3f}\" y=\"{:.2f}\" width=\"{:.4f}\" height=\"1.4\" fill=\"{}\"/>",
                          bar_x + k * bar / 4, y + 2.4, bar / 4, k % 2 == 0 ? "#000" : "#fff");
    out_ += fmt::format(
        "<text x=\"{:.2f}\" y=\"{:.2f}\" font-size=\"2.4\">0</text><text x=\"{:.2f}\" y=\"{:.2f}\" "
        "font-size=\"2.4\">{:g} m, 1:{}</text></g>\n",
        bar_x, y + 6.2, bar_x + bar, y + 6.2, length, scale);
    // Which way is what.
    const auto name = [](const Vec3& axis) {
      return axis.x() > 0.5    ? "forward"
             : axis.x() < -0.5 ? "aft"
             : axis.y() > 0.5  ? "starboard"
             : axis.y() < -0.5 ? "port"
             : axis.z() > 0    ? "nadir"
                               : "zenith";
    };
    // Beside the bar where there is room, else below it.
    const std::string axes = fmt::format("\u2192 {}  \u2191 {}", name(f_.view.right), name(f_.view.up));
    const double axes_x = bar_x + bar + text_width(fmt::format("{:g} m, 1:{}", length, scale), 2.4) + 5;
    const bool is_beside = axes_x + text_width(axes, 2.3) < x + std::max(f_.width(), 100.0);
    out_ += fmt::format("<text class=\"axes\" x=\"{:.2f}\" y=\"{:.2f}\" font-size=\"2.3\">{}</text>\n",
                        is_beside ? axes_x : x, is_beside ? y + 4.5 : y + 7.2, axes);
  }

  std::string& out_;
  const Picture& p_;
  const std::vector<Welded>& parts_;
  const Frame& f_;
  Raster seen_;
  LabelPlacer placer_;
};

class SheetWriter {
 public:
  explicit SheetWriter(const Picture& picture) : p_(picture) {
    for (const auto& part : p_.parts) parts_.push_back(weld(part.mesh));
    low_ = p_.bounds.min, high_ = p_.bounds.max;
    for (const auto& way : p_.ways)
      for (const auto& point : way.body)
        low_ = low_.cwiseMin(Vec3(point.at.array() - way.corridor_radius_m)),
        high_ = high_.cwiseMax(Vec3(point.at.array() + way.corridor_radius_m));
    for (const auto& line : p_.lines)
      for (const auto& point : line.points) low_ = low_.cwiseMin(point), high_ = high_.cwiseMax(point);
  }

  Sheet write() {
    choose_layout();
    for (const auto& frame : frames_) ViewWriter(out_, p_, parts_, frame).write(scale_);
    write_text(all_text());
    write_titles();
    const std::string head = fmt::format(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"420mm\" "
        "height=\"{0}mm\" viewBox=\"0 0 420 {0}\" data-scale=\"{1}\" data-unit=\"mm\" data-sheets=\"{2}\" "
        "font-family=\"DejaVu Sans, Arial, sans-serif\">\n<title>{3}</title>\n<desc>Three orthographic views, scale "
        "1:{1}: "
        "lengths in millimetres on the sheet times {1} are true lengths. {4}</desc>\n{5}",
        page_height * static_cast<double>(sheets_), scale_, sheets_, escaped(p_.title), escaped(p_.caution), style());
    return {head + out_ + "</svg>\n", scale_, sheets_};
  }

 private:
  static std::string style() {
    return fmt::format("<style>{}{}</style>\n<defs>\n{}{}</defs>\n", signs_style, worksite_style(), patterns,
                       worksite_patterns());
  }
  static constexpr std::string_view signs_style = R"svg(
path { fill: none; stroke-linecap: round; stroke-linejoin: round; }
text { fill: #000; }
.tone { fill: #eef0f2; fill-rule: evenodd; }
.edge { stroke: #48525c; stroke-width: .15; }
.rail { stroke: #000; stroke-width: .3; }
.rail.hidden { stroke: #9aa3ab; stroke-width: .1; stroke-dasharray: .6 .6; }
.corridors { opacity: .15; }
.way, .found { stroke-linecap: butt; }
.found.sure { stroke: #0072b2; }
.found.likely { stroke: #009e73; }
.found.doubtful { stroke: #d55e00; }
.found.post { stroke: #666; }
.found.hidden { stroke-width: .2; stroke-dasharray: .5 .7; }
.casing { stroke: #fff; }
.way.hidden { stroke-width: .25; stroke-dasharray: 1 .8; }
.line { stroke: #4b2a74; stroke-width: .5; }
.line.tether { stroke-dasharray: 2.5 .6 .6 .6; }
.line.hidden { stroke-width: .2; stroke-dasharray: .8 .8; }
.zone { fill-rule: evenodd; stroke-width: .15; stroke-dasharray: 2 .7; }
.zone.forbid { fill: url(#forbid); stroke: #8c1d18; }
.zone.caution { fill: url(#caution); stroke: #6b4600; }
.zone.limit { fill: url(#limit); stroke: #3d5a80; }
.waypoint { fill: #fff; stroke-width: .3; }
.place { fill: #000; }
.place.hidden { fill: #fff; stroke: #777; stroke-width: .15; }
.tie { fill: #fff; stroke: #4b2a74; stroke-width: .3; }
.leader { stroke: #555; stroke-width: .12; }
.leader.forbid { stroke: #8c1d18; }
.leader.caution { stroke: #6b4600; }
.leader.limit { stroke: #2c4668; }
.stop { stroke: #000; stroke-width: .6; }
text.letter, text.number, text.name, text.line-name, text.zone-name { paint-order: stroke; stroke: #fff; stroke-width: .6; stroke-linejoin: round; }
text.letter { font-weight: bold; stroke-width: 1; }
text.number { font-weight: bold; }
text.name { fill: #222; }
text.line-name { font-weight: bold; fill: #4b2a74; }
text.zone-name { font-weight: bold; }
text.forbid { fill: #8c1d18; }
text.caution { fill: #6b4600; }
text.limit { fill: #2c4668; }
.caption, .heading { font-weight: bold; }
.soft { fill: #444; }
.rule { stroke: #999; stroke-width: .1; }
.scale-bar rect { stroke: #000; stroke-width: .15; }
.frame { stroke: #000; stroke-width: .3; }
)svg";
  static constexpr std::string_view patterns =
      R"svg(<pattern id="forbid" width="1.6" height="1.6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><path d="M0 0V1.6" stroke="#8c1d18" stroke-width=".18"/></pattern>
<pattern id="caution" width="1.5" height="1.5" patternUnits="userSpaceOnUse"><circle cx=".75" cy=".75" r=".17" fill="#6b4600"/></pattern>
<pattern id="limit" width="1.5" height="1.5" patternUnits="userSpaceOnUse"><path d="M0 .75H1.5" stroke="#3d5a80" stroke-width=".15"/></pattern>
)svg";

  // ---- where what stands -----------------------------------------------------------------------------------

  /// Third angle: the view from zenith above the one from starboard, the one from forward to the right of that. Title,
  /// legend and tables take what they leave: beside the view from zenith, below all views where that is too narrow, and
  /// sheets of their own for what has no room.
  void choose_layout() {
    constexpr double least_view = 96;  // the caption of a view takes so much
    const Vec3 size = high_ - low_;
    const double room_x = page_width - 2 * margin, room_y = page_height - 2 * margin;
    Vec3 mm;
    double left_column = 0;
    bool has_strip = false;
    for (scale_ = 1;; scale_ = next_scale(scale_)) {
      mm = size * (1000.0 / scale_) + Vec3::Constant(2 * padding_mm);
      left_column = std::max(mm.x(), least_view);
      const double beside = room_x - left_column - gap, down = mm.y() + mm.z() + 2 * caption_height + gap;
      has_strip = false;
      if (beside >= std::max(mm.y(), least_side) && down <= room_y && mm.y() + caption_height >= least_side_height)
        break;
      has_strip = true;
      if (beside >= std::max(mm.y(), least_view) && down + strip_height + gap <= room_y) break;
    }
    // Room to spare goes round what the views show: labels are led out there.
    const double taken_y = mm.y() + mm.z() + 2 * caption_height + gap + (has_strip ? strip_height + gap : 0);
    const double more_y = std::min(most_padding_mm - padding_mm, (room_y - taken_y) / 4);
    const double spare_x = room_x - left_column - gap - std::max(mm.y(), has_strip ? least_view : least_side);
    const double more_x = std::min(most_padding_mm - padding_mm, spare_x / 4);
    const double mm_per_m = 1000.0 / scale_;
    const Vec3 x = Vec3::UnitX(), y = Vec3::UnitY(), z = Vec3::UnitZ();
    const double upper = mm.y() + 2 * more_y, lower = margin + upper + caption_height + gap;
    const double side = margin + std::max(left_column, mm.x() + 2 * more_x) + gap;
    const auto frame = [&](const Direction& view, double left, double top) {
      const Vec2 a = view.flat(low_), b = view.flat(high_),
                 pad = Vec2(padding_mm + more_x, padding_mm + more_y) / mm_per_m;
      frames_.push_back({view, a.cwiseMin(b) - pad, a.cwiseMax(b) + pad, {left, top}, mm_per_m});
    };
    frame({"zenith", x, -y, -z}, margin, margin);
    frame({"starboard", x, -z, y}, margin, lower);
    frame({"forward", -y, -z, x}, side, lower);
    const double forward_end = side + std::max(frames_[2].width(), least_view) + gap;
    const double views_end = lower + frames_[2].height() + caption_height;
    const Rect beside{side, margin, page_width - margin, lower - gap};
    const Rect strip{margin, views_end + gap, page_width - margin, page_height - margin};
    title_ = has_strip ? Rect{strip.x1 - 130, strip.y0, strip.x1, strip.y0 + title_height}
                       : Rect{beside.x0, beside.y0, beside.x1, beside.y0 + title_height};
    if (has_strip) {
      add_columns(beside, 0);
      add_columns({strip.x0, strip.y0, title_.x0 - gap, strip.y1}, 0);
    } else {
      add_columns({beside.x0, title_.y1 + 4, beside.x1, beside.y1}, 0);
    }
    add_columns({forward_end, lower, page_width - margin, has_strip ? views_end : page_height - margin}, 0);
  }

  struct Column {
    Rect rect;
    std::size_t sheet;
  };
  void add_columns(const Rect& rect, std::size_t sheet) {
    const double width = rect.x1 - rect.x0;
    if (width < least_column || rect.y1 - rect.y0 < 12) return;
    const int count = static_cast<int>((width + gap) / (least_column + gap));
    const double each = (width + gap) / count;
    for (int k = 0; k < count; ++k)
      columns_.push_back({{rect.x0 + k * each, rect.y0, rect.x0 + k * each + each - gap, rect.y1}, sheet});
  }
  [[nodiscard]] double column_width() const {
    double least = least_column + gap;
    for (const auto& column : columns_) least = std::min(least, column.rect.x1 - column.rect.x0);
    return least;
  }

  // ---- texts -----------------------------------------------------------------------------------------------

  struct Cell {
    double x;  ///< from the left side of the column; the right end of what is `to_right`
    std::string words;
    const char* kind = "";
    bool to_right = false;
  };
  /// What stays together: a line, or a row of a table whose texts take several.
  struct Line {
    std::vector<std::vector<Cell>> rows;
    double size = 2.1;
    std::string sign = {};    ///< drawn in a box of 12 x 3 mm
    bool begins = false;      ///< a heading: with air above, and never at the foot of a column
    std::size_t head = npos;  ///< the line that is repeated above this one at the top of a column
    [[nodiscard]] double height() const {
      return static_cast<double>(rows.size()) * size * leading + (begins ? 1.6 : sign.empty() ? 0 : 0.5);
    }
    static constexpr std::size_t npos = static_cast<std::size_t>(-1);
  };

  /// Words at `x`, in as many rows as they take to `end`.
  static void add_words(Line& line, double x, double end, const std::string& words, const char* kind = "") {
    const bool is_bold = std::string_view(kind) == "heading";
    for (const auto& part : wrapped(words, end - x, line.size, is_bold)) line.rows.push_back({{x, part, kind}});
  }

  std::vector<Line> all_text() const {
    std::vector<Line> lines;
    add_legend(lines);
    for (std::size_t i = 0; i < p_.ways.size(); ++i) {
      if (!p_.ways[i].brief.empty()) add_brief(lines, i);
      if (!p_.ways[i].rows.empty()) add_waypoints(lines, i);
    }
    for (std::size_t i = 0; i < p_.lines.size(); ++i) add_marks(lines, i);
    return lines;
  }

  static void add_heading(std::vector<Line>& lines, const std::string& words, double end) {
    Line line{.rows = {}, .size = 2.6, .begins = true};
    add_words(line, 0, end, words, "heading");
    lines.push_back(std::move(line));
  }

  void add_legend(std::vector<Line>& lines) const {
    const double end = column_width();
    const auto add = [&](const std::string& sign, const std::string& words, const std::string& facts = "") {
      Line line{.rows = {}, .sign = sign};
      add_words(line, 13, end, words);
      if (!facts.empty()) add_words(line, 13, end, facts, "soft");
      lines.push_back(std::move(line));
    };
    const auto stroke = [](const char* kind, const std::string& more = "") {
      return fmt::format("<path class=\"{}\"{} d=\"M0 1.5H11\"/>", kind, more);
    };
    if (!p_.ways.empty()) add_heading(lines, "Routes, along the hands", end);
    for (std::size_t i = 0; i < p_.ways.size(); ++i) {
      const Way& way = p_.ways[i];
      std::string facts;
      if (way.is_way())
        facts =
            fmt::format("{}, {} hand moves, {} m, clearance {} m", way.time, way.moves, way.distance, way.clearance);
      for (const auto& reason : way.reasons) facts += (facts.empty() ? "no route: " : "; ") + reason.text;
      if (facts.empty()) facts = "no route: see the result";
      if (!way.note.empty() && way.note != facts) facts += "; " + way.note;
      add(way.is_way() ? stroke("way", fmt::format(" stroke=\"{}\" stroke-width=\"{}\"{}", colour_of(i), way_width_mm,
                                                   svg_dashes(i, way_width_mm)))
                       : "<path class=\"stop\" d=\"M4 0l3 3m0 -3l-3 3\"/>",
          letter(i) + "  " + way.name, facts);
    }
    if (!p_.lines.empty()) add_heading(lines, "Cables and tethers", end);
    for (std::size_t i = 0; i < p_.lines.size(); ++i) {
      const auto& drawn = p_.lines[i];
      add(stroke(drawn.kind == LineKind::Cable ? "line cable" : "line tether"),
          fmt::format("{}  {} {}", line_code(i), drawn.kind == LineKind::Cable ? "cable" : "tether", drawn.name),
          drawn.words);
    }
    for (const auto& entry : worksite_legend(p_))
      if (entry.sign.empty())
        add_heading(lines, entry.words, end);
      else
        add(entry.sign, entry.words, entry.facts);
    add_found(lines);
    add_heading(lines, "Signs", end);
    std::vector<std::pair<std::string, std::string>> signs;
    const auto add_sign = [&](const std::string& sign, const std::string& words) { signs.emplace_back(sign, words); };
    if (!p_.ways.empty()) {
      add_sign("<path class=\"way hidden\" stroke=\"#000\" d=\"M0 1.5H11\"/>", "route, hidden");
      add_sign("<rect x=\"0\" y=\"0\" width=\"11\" height=\"3\" fill=\"#0072b2\" fill-opacity=\".15\"/>",
               "corridor, to scale");
      add_sign("<circle class=\"waypoint\" cx=\"5.5\" cy=\"1.5\" r=\".6\" stroke=\"#000\"/>", "row of a route");
    }
    if (!p_.lines.empty()) add_sign("<circle class=\"tie\" cx=\"5.5\" cy=\"1.5\" r=\".6\"/>", "tie, bend");
    add_sign(stroke("rail"), "rail");
    add_sign(stroke("rail hidden"), "rail, hidden");
    if (!p_.places.empty()) {
      add_sign("<circle class=\"place\" cx=\"5.5\" cy=\"1.5\" r=\".6\"/>", "place");
      add_sign("<circle class=\"place hidden\" cx=\"5.5\" cy=\"1.5\" r=\".6\"/>", "place, hidden");
    }
    // Two in a row.
    for (std::size_t i = 0; i < signs.size(); i += 2) {
      Line line{.rows = {{{13, signs[i].second}}}, .sign = signs[i].first};
      if (i + 1 < signs.size()) {
        line.sign += fmt::format("<g transform=\"translate({:.2f} 0)\">{}</g>", end / 2, signs[i + 1].first);
        line.rows[0].push_back({end / 2 + 13, signs[i + 1].second});
      }
      lines.push_back(std::move(line));
    }
    if (!p_.set_aside.empty()) add_heading(lines, "Rails set aside", end);
    for (const auto& sentence : p_.set_aside) {
      Line line{.rows = {}};
      add_words(line, 0, end, sentence);
      lines.push_back(std::move(line));
    }
    if (!p_.zones.empty()) add_heading(lines, "Zones", end);
    for (std::size_t i = 0; i < p_.zones.size(); ++i) {
      const auto& zone = p_.zones[i];
      const auto* effect = report::effect_name(zone.effect);
      Line line{.rows = {}, .sign = fmt::format("<path class=\"zone {}\" d=\"M0 0H11V3H0Z\"/>", effect)};
      add_words(line, 20, end, fmt::format("{}: {} ({})", zone.id, zone.reason, zone.keeps_out));
      line.rows.front().insert(line.rows.front().begin(),
                               Cell{13, fmt::format("z{}", i + 1), effect_kind(zone.effect)});
      lines.push_back(std::move(line));
    }
  }
  /// How many and how long by sureness, and the doubtful pieces by number with what speaks against each.
  void add_found(std::vector<Line>& lines) const {
    if (p_.found.empty()) return;
    const double end = column_width();
    add_heading(lines, "Rails found in the mesh", end);
    for (const auto& style : found_styles) {
      std::size_t count = 0;
      double length_m = 0;
      for (const auto& piece : p_.found)
        if (piece.kind == style.kind) ++count, length_m += piece.length_m;
      if (count == 0) continue;
      Line line{.rows = {},
                .sign = fmt::format("<path class=\"found {}\" stroke-width=\"{}\"{} d=\"M0 1.5H11\"/>", style.name,
                                    style.width_mm, found_dashes(style))};
      add_words(line, 13, end,
                fmt::format("{}: {}, {} m in all", style.words, count, report::bare_length_down(length_m)));
      lines.push_back(std::move(line));
    }
    for (const auto& piece : p_.found) {
      if (piece.number == 0) continue;
      Line line{.rows = {}, .size = 1.9};
      add_words(line, 6.5, end, piece.id + ", " + piece.words);
      line.rows.front().insert(line.rows.front().begin(), Cell{0, fmt::format("{}", piece.number), "heading"});
      lines.push_back(std::move(line));
    }
  }

  static const char* effect_kind(model::ZoneEffect effect) {
    return effect == model::ZoneEffect::Forbid    ? "heading forbid"
           : effect == model::ZoneEffect::Caution ? "heading caution"
                                                  : "heading limit";
  }

  /// The route as it is told to the crew.
  void add_brief(std::vector<Line>& lines, std::size_t index) const {
    const Way& way = p_.ways[index];
    const double end = column_width();
    add_heading(lines, fmt::format("{}  {}, in short", letter(index), way.name), end);
    for (const auto& sentence : way.brief) {
      Line line{.rows = {}, .size = 1.9};
      add_words(line, 0, end, sentence.text);
      if (!sentence.remark.empty()) add_words(line, 6.5, end, sentence.remark, "soft");
      lines.push_back(std::move(line));
    }
  }

  /// The waypoint table, with the figures of the text answer.
  void add_waypoints(std::vector<Line>& lines, std::size_t index) const {
    constexpr double size = 1.9;
    const Way& way = p_.ways[index];
    const double end = column_width();
    const double clear = end, time = clear - 8.4, moves = time - 8.4, metres = moves - 7, words_end = metres - 6.6;
    add_heading(lines, fmt::format("{}  {}", letter(index), way.name), end);
    const std::size_t head = lines.size();
    lines.push_back({.rows = {{{0, "#", "soft"},
                               {6.5, "what, rail", "soft"},
                               {metres, "m", "soft", true},
                               {moves, "moves", "soft", true},
                               {time, "time", "soft", true},
                               {clear, "clear m", "soft", true}}},
                     .size = size});
    const auto row_of = [&](std::vector<std::vector<Cell>> rows) {
      return Line{.rows = std::move(rows), .size = size, .head = head};
    };
    for (std::size_t r = 0; r < way.rows.size(); ++r) {
      const Row& row = way.rows[r];
      Line line = row_of({});
      if (!row.heading.empty()) add_words(line, 6.5, end, row.heading, "heading");
      const std::size_t first = line.rows.size();
      add_words(line, 6.5, words_end, row.rail.empty() ? row.what : row.what + ", " + row.rail);
      auto& cells = line.rows[first];
      cells.insert(cells.begin(), Cell{0, fmt::format("{}{}", letter(index), r), "heading"});
      cells.push_back({metres, row.total_distance, "", true});
      cells.push_back({moves, fmt::format("{}", row.total_moves), "", true});
      cells.push_back({time, row.total_time, "", true});
      cells.push_back({clear, row.clearance, "", true});
      if (!row.remark.empty()) add_words(line, 6.5, end, row.remark, "soft");
      lines.push_back(std::move(line));
    }
  }

  void add_marks(std::vector<Line>& lines, std::size_t index) const {
    const auto& drawn = p_.lines[index];
    if (drawn.ties.empty() && drawn.bends.empty()) return;
    const double end = column_width();
    add_heading(
        lines,
        fmt::format("{}  {} {}", line_code(index), drawn.kind == LineKind::Cable ? "cable" : "tether", drawn.name),
        end);
    std::size_t number = 0;
    for (const auto* marks : {&drawn.ties, &drawn.bends})
      for (const auto& mark : *marks) {
        Line line{.rows = {}, .size = 1.9};
        add_words(line, 10, end, mark.text);
        line.rows.front().insert(line.rows.front().begin(), Cell{0, mark_code(index, ++number), "heading"});
        lines.push_back(std::move(line));
      }
  }

  /// Fills column after column, and adds sheets for what has no room.
  void write_text(const std::vector<Line>& lines) {
    std::size_t column = 0;
    double y = 0;
    bool is_fresh = true;
    const auto enter = [&] {
      if (column == columns_.size()) {
        const double top = static_cast<double>(sheets_) * page_height + margin + 12;
        add_columns({margin, top, page_width - margin, static_cast<double>(sheets_ + 1) * page_height - margin},
                    sheets_);
        ++sheets_;
      }
      y = columns_[column].rect.y0, is_fresh = true;
    };
    enter();
    for (std::size_t i = 0; i < lines.size(); ++i) {
      // A heading goes with two lines below it, a table's with its head and a row.
      double needed = lines[i].height();
      if (lines[i].begins)
        for (std::size_t k = i + 1; k < std::min(lines.size(), i + 3) && !lines[k].begins; ++k)
          needed += lines[k].height();
      if (y + needed > columns_[column].rect.y1 && !is_fresh) {
        ++column;
        enter();
        if (lines[i].head != Line::npos) y = write_line(lines[lines[i].head], columns_[column].rect.x0, y);
      }
      y = write_line(lines[i], columns_[column].rect.x0, y + (lines[i].begins && !is_fresh ? 1.6 : 0));
      is_fresh = false;
    }
  }
  /// Gives where the next one goes.
  double write_line(const Line& line, double x, double y) {
    if (!line.sign.empty())
      out_ += fmt::format("<g class=\"legend\" transform=\"translate({:.2f} {:.2f})\">{}</g>\n", x, y, line.sign);
    for (const auto& row : line.rows) {
      for (const auto& cell : row)
        text(x + cell.x, y + line.size * 1.08, line.size, cell.words, cell.kind, cell.to_right);
      y += line.size * leading;
    }
    return y + (line.sign.empty() ? 0 : 0.5);
  }

  void text(double x, double y, double size, const std::string& words, const char* kind = "", bool to_right = false) {
    if (words.empty()) return;
    out_ += fmt::format("<text{}{} x=\"{:.2f}\" y=\"{:.2f}\" font-size=\"{:.2f}\">{}</text>\n",
                        *kind ? fmt::format(" class=\"{}\"", kind) : "", to_right ? " text-anchor=\"end\"" : "", x, y,
                        size, escaped(words));
  }

  void write_titles() {
    const double x = title_.x0 + 3, end = title_.x1 - 3;
    out_ += fmt::format("<path class=\"frame\" d=\"M{:.2f} {:.2f}H{:.2f}V{:.2f}H{:.2f}Z\"/>\n", title_.x0, title_.y0,
                        title_.x1, title_.y1, title_.x0);
    double y = title_.y0;
    const auto line = [&](const std::string& words, double size, const char* kind = "", std::size_t most = 1) {
      const auto parts = wrapped(words, end - x, size, *kind != 0);
      for (std::size_t k = 0; k < std::min(most, parts.size()); ++k)
        text(x, y += size * leading, size, parts[k] + (k + 1 == most && parts.size() > most ? " ..." : ""), kind);
    };
    line(p_.title, 4.2, "heading");
    line(p_.configuration, 2.2, "", 2);
    line(fmt::format("Scale 1:{} on A3, metres", scale_), 3, "heading");
    line(fmt::format("Frame: +x forward, +y starboard, +z nadir. Model {}, holdfast {}", p_.digest.substr(0, 16),
                     p_.engine_version),
         2.1, "", 2);
    line(p_.caution, 2.1);
    // What is not given is left to be filled in by hand.
    const double foot = title_.y1 - 2.2, part = (end - x) / 3;
    const auto field = [&](int k, const std::string& name, const std::string& value) {
      const double at = x + k * part, value_x = at + text_width(name, 2.4) + 1.5;
      text(at, foot, 2.4, name, "soft");
      if (value.empty())
        out_ += fmt::format("<path class=\"rule\" d=\"M{:.2f} {:.2f}H{:.2f}\"/>\n", value_x, foot + 0.4, at + part - 3);
      else
        text(value_x, foot, 2.4, wrapped(value, at + part - value_x, 2.4, true).front(), "heading");
    };
    field(0, "Date", p_.date);
    field(1, "Revision", p_.revision);
    field(2, "Sheet", fmt::format("1 of {}", sheets_));
    for (std::size_t k = 1; k < sheets_; ++k) {
      const double top = static_cast<double>(k) * page_height + margin;
      out_ += fmt::format("<path class=\"frame\" d=\"M{} {:.2f}H{}\"/>\n", margin, top + 9, page_width - margin);
      text(margin, top + 5.5, 4.2, wrapped(p_.title, 200, 4.2, true).front(), "heading");
      text(page_width - margin, top + 3, 2.4,
           fmt::format("Sheet {} of {}{}{}", k + 1, sheets_, p_.date.empty() ? "" : ", " + p_.date,
                       p_.revision.empty() ? "" : ", revision " + p_.revision),
           "heading", true);
      text(page_width - margin, top + 7, 2.1,
           fmt::format("Model {}, holdfast {}. {}", p_.digest.substr(0, 16), p_.engine_version, p_.caution), "", true);
    }
  }

  const Picture& p_;
  std::string out_;
  std::vector<Welded> parts_;
  Vec3 low_, high_;
  int scale_ = 1;
  std::vector<Frame> frames_;
  Rect title_{};
  std::vector<Column> columns_;
  std::size_t sheets_ = 1;
};

}  // namespace

Sheet svg(const Picture& picture) { return SheetWriter(picture).write(); }

}  // namespace holdfast::picture
