#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <string_view>

#include "holdfast/picture/write.h"
#include "holdfast/report/words.h"
#include "raster_impl.h"
#include "style_impl.h"
#include "surface_impl.h"

namespace holdfast::picture {

namespace {

// A3 landscape (ISO 216), in mm.
constexpr double page_width = 420, page_height = 297, margin = 10, gap = 17, title_height = 17, least_legend = 105;
constexpr double cell_mm = 0.18;  // of the depth buffer: less than the width of a line
constexpr double padding_mm = 4;  // round what a view shows

constexpr double way_width_mm = 0.7;

std::string svg_dashes(std::size_t way, double width_mm) {
  const auto& dash = dash_of(way);
  if (dash[1] == 0) return "";
  return fmt::format(" stroke-dasharray=\"{:.2f} {:.2f} {:.2f} {:.2f}\"", dash[0] * width_mm, dash[1] * width_mm,
                     dash[2] * width_mm, dash[3] * width_mm);
}

std::string escaped(std::string_view text) {
  std::string out;
  for (const char c : text) {
    switch (c) {
      case '&':
        out += "&amp;";
        break;
      case '<':
        out += "&lt;";
        break;
      case '>':
        out += "&gt;";
        break;
      case '"':
        out += "&quot;";
        break;
      default:
        out += static_cast<unsigned char>(c) < 0x20 || c == 0x7f ? ' ' : c;  // XML 1.0 has no control characters
    }
  }
  return out;
}

/// Characters, not bytes; near enough for the room a text takes.
double text_width(std::string_view text, double size_mm) {
  const auto count =
      std::count_if(text.begin(), text.end(), [](char c) { return (static_cast<unsigned char>(c) & 0xc0) != 0x80; });
  return 0.56 * size_mm * static_cast<double>(count);
}

std::string cut(const std::string& text, double width_mm, double size_mm) {
  if (text_width(text, size_mm) <= width_mm) return text;
  std::size_t end = std::min(text.size(), static_cast<std::size_t>(width_mm / (0.56 * size_mm)));
  while (end > 0 && (static_cast<unsigned char>(text[end]) & 0xc0) == 0x80) --end;
  return text.substr(0, end) + "...";
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

struct Rect {
  double x0, y0, x1, y1;
  [[nodiscard]] bool overlaps(const Rect& other) const {
    return x0 < other.x1 && x1 > other.x0 && y0 < other.y1 && y1 > other.y0;
  }
};

/// A part of a line that is all seen or all hidden.
struct Run {
  bool is_seen = true;
  std::vector<Vec2> points;  ///< metres of the view
};

class ViewWriter {
 public:
  ViewWriter(std::string& out, const Picture& picture, const std::vector<Welded>& parts, const Frame& frame)
      : out_(out), p_(picture), parts_(parts), f_(frame), seen_(frame.low, frame.high, cell_mm / frame.mm_per_m) {
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
    write_lines();
    write_ways();
    out_ += "</g>\n";
    write_marks();
    write_caption(scale);
    out_ += "</g>\n";
  }

 private:
  // ---- lines and what hides them ---------------------------------------------------------------------------

  /// `own`: the part that the line lies on, which hides it only where it is `own_slack_m` nearer.
  std::vector<Run> runs(const std::vector<Vec3>& line, std::int32_t own = -1, double own_slack_m = 0) const {
    const double slack = 2.5 * seen_.cell_m();
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

  /// A line of which what is seen and what is hidden are drawn apart.
  struct Stroke {
    std::string kind, attributes, dashes;
    double width_mm = 0.5;
    std::vector<Vec3> points;
  };

  /// White below each, so that they stand out; all of that first, so that it covers none of them.
  void write_strokes(const std::vector<Stroke>& strokes) {
    std::vector<std::string> seen(strokes.size());
    for (std::size_t i = 0; i < strokes.size(); ++i) {
      std::string hidden;
      for (const auto& run : runs(strokes[i].points)) add_points(run.is_seen ? seen[i] : hidden, run.points, 4);
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

  /// Near a point, where there is room; nothing where there is none and it need not be.
  bool label(const Vec2& at, const std::string& text, double size, const char* kind, double farthest_mm,
             bool is_needed = false) {
    const double width = text_width(text, size), height = size * 1.1;
    std::optional<Rect> place;
    for (const double far : {1.0, 2.5, 4.5, 7.0}) {
      if (far > farthest_mm) break;
      for (const auto& [dx, dy] : {std::pair{1, -1}, {1, 1}, {-1, -1}, {-1, 1}, {0, -1}, {0, 1}, {1, 0}, {-1, 0}}) {
        const double x = at.x() + dx * far + (dx < 0 ? -width : dx == 0 ? -width / 2 : 0);
        const double y = at.y() + dy * far + (dy < 0 ? -height : dy == 0 ? -height / 2 : 0);
        const Rect rect{x, y, x + width, y + height};
        const bool is_inside = rect.x0 > f_.corner.x() && rect.x1 < f_.corner.x() + f_.width() &&
                               rect.y0 > f_.corner.y() && rect.y1 < f_.corner.y() + f_.height();
        if (is_inside &&
            std::none_of(taken_.begin(), taken_.end(), [&](const Rect& other) { return other.overlaps(rect); })) {
          place = rect;
          break;
        }
      }
      if (place) break;
    }
    if (!place && !is_needed) return false;
    if (!place) place = Rect{at.x() + 1, at.y() - 1 - height, at.x() + 1 + width, at.y() - 1};
    taken_.push_back(*place);
    const double x = std::clamp(at.x(), place->x0, place->x1), y = std::clamp(at.y(), place->y0, place->y1);
    if (std::hypot(x - at.x(), y - at.y()) > 1.6)
      out_ += fmt::format("<path class=\"leader\" d=\"M{:.2f} {:.2f}L{:.2f} {:.2f}\"/>\n", at.x(), at.y(), x, y);
    out_ += fmt::format("<text class=\"{}\" x=\"{:.2f}\" y=\"{:.2f}\" font-size=\"{:.2f}\">{}</text>\n", kind,
                        place->x0, place->y1 - 0.25 * height, size, escaped(text));
    return true;
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
    constexpr std::size_t most_numbered = 3;  // ways beyond would bury the drawing in numbers
    std::size_t numbered = 0;
    for (const auto& [at, letters] : ends()) label(f_.on_page(at), letters, 3.4, "letter", 7, true);
    for (std::size_t i = 0; i < p_.ways.size(); ++i) {
      const Way& way = p_.ways[i];
      for (std::size_t k = 0; k < std::min<std::size_t>(1, way.reasons.size()); ++k) {
        const Vec2 at = f_.on_page(way.reasons[k].at);
        out_ += fmt::format("<path class=\"stop\" d=\"M{:.2f} {:.2f}l3 3m0 -3l-3 3\"/>\n", at.x() - 1.5, at.y() - 1.5);
        label(at, letter(i) + " stops", 2.6, "letter", 7, true);
      }
    }
    for (std::size_t i = 0; i < p_.ways.size(); ++i) {
      const Way& way = p_.ways[i];
      if (way.rows.empty() || numbered++ >= most_numbered) continue;
      for (std::size_t r = 0; r < way.rows.size(); ++r) {
        const Vec2 at = f_.on_page(way.rows[r].hand);
        out_ += fmt::format("<circle class=\"waypoint\" cx=\"{:.3f}\" cy=\"{:.3f}\" r=\"0.55\" stroke=\"{}\"/>\n",
                            at.x(), at.y(), colour_of(i));
        if (!is_numbered(i, way.rows[r].hand)) label(at, fmt::format("{}{}", letter(i), r), 1.9, "number", 2.5);
      }
    }
    for (const auto& line : p_.lines)
      for (const auto* marks : {&line.ties, &line.bends})
        for (const auto& mark : *marks) {
          const Vec2 at = f_.on_page(mark.at);
          out_ += fmt::format("<circle class=\"tie\" cx=\"{:.3f}\" cy=\"{:.3f}\" r=\"0.6\"/>\n", at.x(), at.y());
          label(at, mark.text, 1.9, "number", 2.5);
        }
    for (const auto& place : p_.places) {
      const Vec2 at = f_.on_page(place.at);
      const bool seen = is_seen(place.at);
      out_ += fmt::format("<circle class=\"place{}\" cx=\"{:.3f}\" cy=\"{:.3f}\" r=\"0.6\"/>\n", seen ? "" : " hidden",
                          at.x(), at.y());
      if (seen) label(at, place.id, 2.1, "name", 7);
    }
    for (std::size_t i = 0; i < p_.zones.size(); ++i) {
      Vec3 middle = Vec3::Zero();
      for (const auto& v : p_.zones[i].mesh.vertices)
        middle += v / static_cast<double>(p_.zones[i].mesh.vertices.size());
      const Vec2 at = f_.on_page(middle);
      if (at.x() > f_.corner.x() && at.x() < f_.corner.x() + f_.width() && at.y() > f_.corner.y() &&
          at.y() < f_.corner.y() + f_.height())
        label(at, fmt::format("z{}", i + 1), 2.1, "zone-name", 2.5);
    }
  }

  void write_caption(int scale) {
    const double x = f_.corner.x(), y = f_.corner.y() + f_.height();
    out_ += fmt::format("<text class=\"caption\" x=\"{:.2f}\" y=\"{:.2f}\" font-size=\"3.4\">From {}</text>\n", x,
                        y + 4.5, f_.view.name);
    // A bar of a round length, a quarter of the view at most.
    double length = 1;
    while (length * f_.mm_per_m > 15) length /= 10;
    for (const double step : {2.0, 2.5, 2.0})
      if (length * step * f_.mm_per_m < std::min(60.0, f_.width() / 2)) length *= step;
    const double bar = length * f_.mm_per_m, bar_x = x + 36;
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
    out_ += fmt::format(
        "<g class=\"axes\"><path d=\"M{0:.2f} {1:.2f}v-5m-.7 1.4l.7 -1.4l.7 1.4M{0:.2f} {1:.2f}h5m-1.4 -.7l1.4 .7l-1.4 "
        ".7\"/><text x=\"{2:.2f}\" y=\"{3:.2f}\" "
        "font-size=\"2.2\">{4}</text><text x=\"{5:.2f}\" y=\"{6:.2f}\" font-size=\"2.2\">{7}</text></g>\n",
        x + 1.5, y - 1.5, x + 7, y - 0.8, name(f_.view.right), x + 0.5, y - 7.5, name(f_.view.up));
  }

  std::string& out_;
  const Picture& p_;
  const std::vector<Welded>& parts_;
  const Frame& f_;
  Raster seen_;
  std::vector<Rect> taken_;
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
    choose_scale();
    out_ = fmt::format(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"420mm\" "
        "height=\"297mm\" viewBox=\"0 0 420 297\" "
        "data-scale=\"{}\" data-unit=\"mm\" font-family=\"DejaVu Sans, Arial, "
        "sans-serif\">\n<title>{}</title>\n<desc>Three orthographic views, scale 1:{}: lengths in "
        "millimetres on the sheet times {} are true lengths. {}</desc>\n{}",
        scale_, escaped(p_.title), scale_, scale_, escaped(p_.caution), style());
    for (const auto& frame : frames_) ViewWriter(out_, p_, parts_, frame).write(scale_);
    write_legend();
    write_title();
    out_ += "</svg>\n";
    return {std::move(out_), scale_};
  }

 private:
  static std::string style() {
    return R"svg(<style>
path { fill: none; stroke-linecap: round; stroke-linejoin: round; }
text { fill: #000; }
.tone { fill: #eef0f2; fill-rule: evenodd; }
.edge { stroke: #48525c; stroke-width: .15; }
.rail { stroke: #000; stroke-width: .3; }
.rail.hidden { stroke: #9aa3ab; stroke-width: .1; stroke-dasharray: .6 .6; }
.corridors { opacity: .15; }
.way { stroke-linecap: butt; }
.casing { stroke: #fff; }
.way.hidden { stroke-width: .25; stroke-dasharray: 1 .8; }
.line { stroke: #4b2a74; }
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
.leader { stroke: #666; stroke-width: .1; }
.stop { stroke: #000; stroke-width: .6; }
.letter { font-weight: bold; paint-order: stroke; stroke: #fff; stroke-width: 1; stroke-linejoin: round; }
.number, .name, .zone-name { paint-order: stroke; stroke: #fff; stroke-width: .6; stroke-linejoin: round; }
.number { font-weight: bold; }
.name { fill: #222; }
.zone-name { fill: #7a1712; font-style: italic; }
.caption, .heading { font-weight: bold; }
.axes path { stroke: #000; stroke-width: .2; }
.scale-bar rect { stroke: #000; stroke-width: .15; }
.frame { stroke: #000; stroke-width: .3; }
</style>
<defs>
<pattern id="forbid" width="1.6" height="1.6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><path d="M0 0V1.6" stroke="#8c1d18" stroke-width=".18"/></pattern>
<pattern id="caution" width="1.5" height="1.5" patternUnits="userSpaceOnUse"><circle cx=".75" cy=".75" r=".17" fill="#6b4600"/></pattern>
<pattern id="limit" width="1.5" height="1.5" patternUnits="userSpaceOnUse"><path d="M0 .75H1.5" stroke="#3d5a80" stroke-width=".15"/></pattern>
</defs>
)svg";
  }

  void choose_scale() {
    const Vec3 size = high_ - low_;
    const double room_x = page_width - 2 * margin, room_y = page_height - 2 * margin - title_height;
    Vec3 mm;
    for (scale_ = 1;; scale_ = next_scale(scale_)) {
      mm = size * (1000.0 / scale_) + Vec3::Constant(2 * padding_mm);
      if (mm.x() + gap + std::max(mm.y(), least_legend) <= room_x && mm.y() + mm.z() + 2 * gap <= room_y) break;
    }
    const double mm_per_m = 1000.0 / scale_;
    const Vec3 x = Vec3::UnitX(), y = Vec3::UnitY(), z = Vec3::UnitZ();
    const double lower = margin + mm.y() + gap;
    const auto frame = [&](const Direction& view, double left, double top) {
      const Vec2 a = view.flat(low_), b = view.flat(high_), pad = Vec2::Constant(padding_mm / mm_per_m);
      frames_.push_back({view, a.cwiseMin(b) - pad, a.cwiseMax(b) + pad, {left, top}, mm_per_m});
    };
    frame({"zenith", x, -y, -z}, margin, margin);
    frame({"starboard", x, -z, y}, margin, lower);
    frame({"forward", -y, -z, x}, margin + mm.x() + gap, lower);
    legend_ = {margin + mm.x() + gap, margin, page_width - margin, lower - gap / 2};
  }

  void text(double x, double y, double size, const std::string& words, const char* kind = "") {
    out_ += fmt::format("<text{} x=\"{:.2f}\" y=\"{:.2f}\" font-size=\"{:.2f}\">{}</text>\n",
                        *kind ? fmt::format(" class=\"{}\"", kind) : "", x, y, size, escaped(words));
  }

  /// In two columns; what has no room is said to be left out.
  void write_legend() {
    struct Item {
      std::string sign, words;  ///< drawn in a box of 12 x 3 mm
      bool is_heading = false;
    };
    std::vector<Item> items;
    const auto line = [](const char* kind, const std::string& more) {
      return fmt::format("<path class=\"{}\"{} d=\"M0 1.5H11\"/>", kind, more);
    };
    if (!p_.ways.empty()) items.push_back({"", "Ways, along the hands", true});
    for (std::size_t i = 0; i < p_.ways.size(); ++i) {
      const Way& way = p_.ways[i];
      items.push_back({way.is_way() ? line("way", fmt::format(" stroke=\"{}\" stroke-width=\"{}\"{}", colour_of(i),
                                                              way_width_mm, svg_dashes(i, way_width_mm)))
                                    : "",
                       letter(i) + "  " + way.name});
      items.push_back({"", way.is_way() ? fmt::format("{}, {} hand moves, {} m, clearance {} m", way.time, way.moves,
                                                      way.distance, way.clearance)
                                        : "no way: " + (way.reasons.empty() ? std::string("see the result")
                                                                            : way.reasons.front().text)});
    }
    if (!p_.lines.empty()) items.push_back({"", "Cables and tethers", true});
    for (const auto& drawn : p_.lines) {
      items.push_back({line(drawn.kind == LineKind::Cable ? "line cable" : "line tether", ""), drawn.name});
      items.push_back({"", drawn.words});
    }
    items.push_back({"", "Signs", true});
    if (!p_.ways.empty()) {
      items.push_back({"<path class=\"way hidden\" stroke=\"#000\" d=\"M0 1.5H11\"/>", "hidden by structure"});
      items.push_back({"<rect x=\"0\" y=\"0\" width=\"11\" height=\"3\" fill=\"#0072b2\" fill-opacity=\".15\"/>",
                       "body corridor, to scale"});
      items.push_back(
          {"<circle class=\"waypoint\" cx=\"5.5\" cy=\"1.5\" r=\".6\" stroke=\"#000\"/>", "waypoint, with its row"});
    }
    items.push_back({line("rail", ""), "rail"});
    items.push_back({line("rail hidden", ""), "rail, hidden by structure"});
    if (!p_.places.empty())
      items.push_back({"<circle class=\"place\" cx=\"5.5\" cy=\"1.5\" r=\".6\"/>", "place; hollow: hidden"});
    if (!p_.zones.empty()) items.push_back({"", "Zones", true});
    for (std::size_t i = 0; i < p_.zones.size(); ++i) {
      const auto& zone = p_.zones[i];
      items.push_back({fmt::format("<path class=\"zone {}\" d=\"M0 0H11V3H0Z\"/>", report::effect_name(zone.effect)),
                       fmt::format("z{} {}: {}", i + 1, zone.id, zone.reason)});
    }
    constexpr double row = 4.2, size = 2.3;
    const double height = legend_.y1 - legend_.y0 - 2, width = legend_.x1 - legend_.x0;
    const auto rows = static_cast<std::size_t>(std::max(1.0, std::floor(height / row)));
    const std::size_t columns = items.size() <= rows || width < 130      ? 1
                                : width > 260 && items.size() > 2 * rows ? 3
                                                                         : 2;
    const double column = width / static_cast<double>(columns);
    const std::size_t room = rows * columns;
    for (std::size_t i = 0; i < items.size(); ++i) {
      const double x = legend_.x0 + static_cast<double>(i / rows) * column,
                   y = legend_.y0 + static_cast<double>(i % rows) * row;
      if (i + 1 == room && items.size() > room) {
        text(x, y + 2.5, size, fmt::format("and {} more", items.size() - i));
        break;
      }
      const auto& item = items[i];
      if (item.is_heading) {
        text(x, y + 2.7, 2.8, item.words, "heading");
        continue;
      }
      if (!item.sign.empty())
        out_ += fmt::format("<g class=\"legend\" transform=\"translate({:.2f} {:.2f})\">{}</g>\n", x, y, item.sign);
      text(x + 13, y + 2.4, size, cut(item.words, column - 15, size));
    }
  }

  void write_title() {
    const double top = page_height - margin - title_height;
    out_ += fmt::format("<path class=\"frame\" d=\"M{0} {1}H{2}\"/>\n", margin, top, page_width - margin);
    text(margin, top + 6, 4.6, p_.title, "heading");
    text(margin, top + 10.5, 2.5, cut(p_.configuration, 250, 2.5));
    text(margin, top + 14.5, 2.5, p_.caution);
    text(280, top + 6, 3.4, fmt::format("Scale 1:{} on A3, metres", scale_), "heading");
    text(280, top + 10.5, 2.5, "Frame: +x forward, +y starboard, +z nadir");
    text(280, top + 14.5, 2.5, fmt::format("Model {}, holdfast {}", p_.digest.substr(0, 16), p_.engine_version));
  }

  const Picture& p_;
  std::string out_;
  std::vector<Welded> parts_;
  Vec3 low_, high_;
  int scale_ = 1;
  std::vector<Frame> frames_;
  Rect legend_{};
};

}  // namespace

Sheet svg(const Picture& picture) { return SheetWriter(picture).write(); }

}  // namespace holdfast::picture
