// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/picture/handout.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "holdfast/report/words.h"
#include "kinds_impl.h"
#include "lettering_impl.h"
#include "markup_impl.h"
#include "style_impl.h"

namespace holdfast::picture {
namespace {

/// A moment is rounded up; what is left of time, down. Less than nothing keeps its sign, and is rounded away from zero.
std::string left_words(double seconds) {
  return seconds < 0 ? "-" + report::duration(-seconds) : report::duration_down(seconds);
}

std::string home_words(const TimeHome& home_s) {
  return !home_s ? std::string("not known") : std::isfinite(*home_s) ? report::duration(*home_s) : "no path known";
}

/// What is more than the emergency limit is set off.
std::string home_cell(const TimeHome& home_s, double allowed_s) {
  const bool is_late = home_s && allowed_s > 0 && *home_s > allowed_s + 1e-6;
  return is_late ? fmt::format("<b class=\"late\">{} !</b>", home_words(home_s)) : home_words(home_s);
}

std::string list(const char* kind, const std::vector<std::string>& texts) {
  std::string out;
  for (const auto& text : texts) out += fmt::format("<p class=\"{}\">{}</p>", kind, escaped(text));
  return out;
}

std::string item_row(const CueItem& item) {
  const bool must_come = !item.back.empty();
  const std::string back = must_come           ? "<b>" + escaped(item.back) + "</b>"
                           : item.ends.empty() ? std::string("stays outside")
                                               : "need not come back; " + escaped(item.ends);
  return fmt::format(
      "<tr><td>{}</td><td>{}</td><td>{}</td><td>{}</td><td class=\"box\">&#9744;</td><td class=\"box\">{}</td></tr>\n",
      escaped(item.name), escaped(item.in), escaped(item.from), back, must_come ? "&#9744;" : "");
}

/// A step with its waypoints, or what is done from inside meanwhile: one body of the table, which is not torn apart.
std::string step_body(const Handout& handout, const CueStep& step, bool is_inside) {
  std::string out = fmt::format(
      "<tbody class=\"{}{}\">\n<tr class=\"step\"><td class=\"number\">{}</td><td>{}</td><td>{}</td><td><b>{}{}</b>",
      kind_word(step.kind), is_inside ? " inside" : "", escaped(step.number), report::duration(step.start_s),
      report::duration(step.end_s - step.start_s), is_inside ? "From inside: " : "", escaped(step.text));
  if (step.kind == BarKind::Wait || step.kind == BarKind::Hold || is_inside)
    out += fmt::format(" until <b>{}</b>", report::duration(step.end_s));
  if (!step.with.empty()) out += fmt::format("<span class=\"with\">{}</span>", escaped(step.with));
  out += list("fault", step.faults) + list("callout", step.callouts) + list("caution", step.cautions) + "</td><td>";
  if (!is_inside) {
    if (step.home_s || step.kind != BarKind::Overhead)  // else in the lock
      out += (step.waypoints.empty() || !step.home_s ? "" : "at most ") + home_cell(step.home_s, handout.emergency_s);
    if (step.is_carried_unknown)
      out += "<span class=\"carried\">carried: <b class=\"late\">not proven !</b></span>";
    else if (step.carried_s)
      out += fmt::format("<span class=\"carried\">carried: {}</span>", home_cell(step.carried_s, handout.emergency_s));
  }
  out += "</td></tr>\n";
  for (const auto& point : step.waypoints)
    out += fmt::format("<tr class=\"waypoint{}\"><td></td><td>{}</td><td></td><td>{}</td><td>{}</td></tr>\n",
                       point.is_wait ? " pause" : "", report::duration(point.at_s), escaped(point.text),
                       home_cell(point.home_s, handout.emergency_s));
  return out + "</tbody>\n";
}

std::string card_page(const Handout& handout, const CueCard& card) {
  std::string out = fmt::format(
      "<section class=\"card\">\n<header><h1>{}</h1><p class=\"title\"><b>{}</b><br/>{}{}</p>"
      "<p class=\"numbers\">inside by <b>{}</b><br/>limit {}, left {}{}</p></header>\n",
      escaped(card.crew), escaped(handout.title), card.name.empty() ? "" : escaped(card.name) + ". ",
      escaped(handout.subtitle), report::duration(card.finish_s), report::duration_down(handout.limit_s),
      left_words(handout.limit_s - card.finish_s),
      handout.emergency_s > 0 ? "<br/>time home allowed " + report::duration_down(handout.emergency_s) : "");
  if (!handout.alert.empty()) out += fmt::format("<p class=\"alert\">{}</p>\n", escaped(handout.alert));
  if (!card.items.empty()) {
    out +=
        "<table class=\"items\">\n<thead><tr><th>item</th><th>in</th><th>fetch from</th><th>must be back "
        "at</th><th>out</th>"
        "<th>back</th></tr></thead>\n";
    for (const auto& item : card.items) out += item_row(item);
    out += "</table>\n";
  }
  // The head stands on every page that the table goes on to: it says whose card this is.
  out += fmt::format(
      "<table class=\"steps\">\n<thead><tr><th></th><th>at</th><th>takes</th><th><b>{}</b></th><th>time "
      "home</th></tr></thead>\n",
      escaped(card.crew));
  auto inside = handout.inside.begin();
  for (const auto& step : card.steps) {
    for (; inside != handout.inside.end() && inside->start_s <= step.start_s; ++inside)
      out += step_body(handout, *inside, true);
    out += step_body(handout, step, false);
  }
  for (; inside != handout.inside.end() && inside->start_s < card.finish_s; ++inside)
    out += step_body(handout, *inside, true);
  out += "</table>\n<div class=\"end\">\n" + list("remark", handout.remarks) + "</div>\n";
  out +=
      "<footer><span>Crew member: name, signature</span><span>Checked: name, "
      "signature</span><span>Date</span></footer>\n"
      "</section>\n";
  return out;
}

constexpr const char* card_style = R"(
@page { size: A4; margin: 12mm 11mm 14mm; @bottom-right { content: counter(page) " of " counter(pages); font: 8pt 'DejaVu Sans', Arial, sans-serif; } }
* { box-sizing: border-box; }
body { margin: 0; font: 9.5pt/1.3 'DejaVu Sans', Arial, sans-serif; color: #000; background: #fff; }
.card { break-before: page; }
.card:first-of-type { break-before: auto; }
header { display: flex; gap: 6mm; align-items: flex-end; border-bottom: 0.6mm solid #000; padding-bottom: 1.5mm; margin-bottom: 3mm; }
h1 { font-size: 20pt; margin: 0; line-height: 1; overflow-wrap: anywhere; max-width: 60mm; }
header p { margin: 0; font-size: 8.5pt; }
.title { flex: 1; overflow-wrap: anywhere; }
.numbers { text-align: right; white-space: nowrap; }
.alert { border: 1mm solid #000; padding: 1.2mm 2mm; margin: 0 0 3mm; font-weight: bold; overflow-wrap: anywhere; }
table { width: 100%; border-collapse: collapse; margin-bottom: 4mm; }
thead { display: table-header-group; }
th { text-align: left; font-size: 8pt; font-weight: normal; border-bottom: 0.3mm solid #000; padding: 0.4mm 1.2mm; }
td { vertical-align: top; padding: 0.9mm 1.2mm; overflow-wrap: anywhere; }
.items td { border-bottom: 0.15mm solid #888; }
.late { white-space: nowrap; }
.box { font-size: 12pt; line-height: 1; }
.steps { table-layout: fixed; }
.steps th:nth-child(1) { width: 11mm; }
.steps th:nth-child(2), .steps th:nth-child(3) { width: 18mm; }
.steps th:nth-child(5) { width: 34mm; }
.steps tbody { border-top: 0.3mm solid #000; break-inside: avoid; }
.steps tr, header, footer, .alert, .remark, .items tr { break-inside: avoid; }
.steps td:nth-child(2), .steps td:nth-child(3) { white-space: nowrap; font-variant-numeric: tabular-nums; }
.steps td:nth-child(5) { font-variant-numeric: tabular-nums; }
.number { font-weight: bold; font-size: 12pt; line-height: 1.1; }
.waypoint td { font-size: 8.5pt; padding-top: 0.2mm; padding-bottom: 0.2mm; }
.waypoint td:nth-child(4) { padding-left: 5mm; }
.pause td:nth-child(4) { font-weight: bold; }
.with { display: block; font-style: italic; }
.carried { display: block; font-size: 8.5pt; }
.callout, .caution, .fault, .remark { margin: 0.8mm 0 0; padding: 0.6mm 1.5mm; }
.callout { border: 0.5mm solid #000; font-weight: bold; }
.caution { border-left: 1.6mm solid #000; background: #e4e4e4; print-color-adjust: exact; -webkit-print-color-adjust: exact; }
.caution::before { content: 'CAUTION  '; font-weight: bold; }
.fault { border: 0.8mm double #000; font-weight: bold; }
.fault::before { content: 'VIOLATION  '; }
.remark { border: 0.2mm dashed #000; margin-bottom: 1mm; font-size: 8.5pt; overflow-wrap: anywhere; }
.wait, .hold { background: #f2f2f2; print-color-adjust: exact; -webkit-print-color-adjust: exact; }
.inside td { font-size: 8.5pt; border-top: 0.3mm dashed #000; font-style: italic; }
footer { display: flex; gap: 8mm; margin-top: 14mm; }
footer span { flex: 1; border-top: 0.3mm solid #000; font-size: 8pt; padding-top: 0.6mm; }
@media screen { body { max-width: 190mm; margin: 6mm auto; } .card + .card { margin-top: 15mm; } }
)";

// ---- the sheet: A3 landscape (ISO 216), in mm ----

constexpr double page_width = 420, page_height = 297, margin = 12, left = 34, right = page_width - margin;

/// 1, 2, 5, 10, 15, 30 min and so on: the least with room for its labels.
double tick_s(double span_s, double width_mm) {
  for (const double minutes : {1, 2, 5, 10, 15, 30, 60, 120, 240, 480, 1440})
    if (width_mm * 60 * minutes / span_s >= 16) return 60 * minutes;
  return std::ceil(span_s / 8 / 86400) * 86400;
}

class TimelineWriter {
 public:
  explicit TimelineWriter(const Handout& handout) : h_(handout) {
    double end = std::max(h_.limit_s, 60.0);
    for (const auto& card : h_.cards) {
      end = std::max(end, card.finish_s);
      for (const auto& step : card.steps) end = std::max(end, step.end_s);
    }
    for (const auto& step : h_.inside) end = std::max(end, step.end_s);
    for (const auto* curve : {&h_.home, &h_.carried})
      for (const auto& point : *curve) end = std::max(end, point.at_s);
    span_s_ = end;
  }

  std::string write() {
    out_ = fmt::format(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{0}mm\" height=\"{1}mm\" viewBox=\"0 0 {0} {1}\" "
        "font-family=\"DejaVu Sans, Arial, sans-serif\">\n<rect width=\"{0}\" height=\"{1}\" fill=\"#fff\"/>\n",
        page_width, page_height);
    write_patterns();
    text(margin, 19, cut(h_.title, page_width - 2 * margin, 7, true), 7, "start", true);
    text(margin, 25, cut(h_.subtitle, page_width - 2 * margin, 3.2), 3.2);
    if (!h_.alert.empty()) text(margin, 30.5, cut(h_.alert, page_width - 2 * margin, 3.6, true), 3.6, "start", true);
    const double inside_height = h_.inside.empty() ? 0 : 11, inside_top = 42, bars_top = inside_top + inside_height + 2;
    const double bar = 20, row = 32;
    const double bars_bottom = bars_top + row * static_cast<double>(std::max<std::size_t>(h_.cards.size(), 1));
    const double chart_top = bars_bottom + 10, chart_bottom = 232;
    write_nights(inside_top - 3, chart_bottom);
    write_ticks(inside_top - 3, chart_bottom);
    if (!h_.inside.empty()) write_inside(inside_top);
    for (std::size_t c = 0; c < h_.cards.size(); ++c)
      write_bars(h_.cards[c], bars_top + row * static_cast<double>(c), bar);
    write_chart(chart_top, chart_bottom);
    line(at(h_.limit_s), inside_top - 3, at(h_.limit_s), chart_bottom, "#000", 0.6, "3 1.5");
    text(at(h_.limit_s) + (h_.limit_s > span_s_ / 2 ? -1 : 1), inside_top - 4.4,
         fmt::format("limit {}", report::duration_down(h_.limit_s)), 3, h_.limit_s > span_s_ / 2 ? "end" : "start",
         true);
    write_legend(chart_bottom + 14);
    out_ += "</svg>\n";
    return out_;
  }

 private:
  [[nodiscard]] double at(double seconds) const { return left + (right - left) * seconds / span_s_; }

  void text(double x, double y, const std::string& words, double size, const char* anchor = "start",
            bool is_bold = false) {
    out_ += fmt::format("<text x=\"{:.3f}\" y=\"{:.3f}\" font-size=\"{:g}\" text-anchor=\"{}\"{}>{}</text>\n", x, y,
                        size, anchor, is_bold ? " font-weight=\"bold\"" : "", escaped(words));
  }
  void line(double x1, double y1, double x2, double y2, const char* colour, double width, const char* dashes = "") {
    out_ += fmt::format(
        "<line x1=\"{:.3f}\" y1=\"{:.3f}\" x2=\"{:.3f}\" y2=\"{:.3f}\" stroke=\"{}\" stroke-width=\"{:g}\"{}/>\n", x1,
        y1, x2, y2, colour, width, *dashes ? fmt::format(" stroke-dasharray=\"{}\"", dashes) : std::string());
  }

  /// The text as far as it has room.
  static std::string cut(const std::string& words, double width, double size, bool is_bold = false) {
    if (text_width(words, size, is_bold) <= width) return words;
    return wrapped(words, width - text_width("...", size, is_bold), size, is_bold).front() + "...";
  }

  void write_patterns() {
    out_ += "<defs>\n";
    for (const BarKind kind : bar_kinds) {
      if (!*kind_hatch(kind)) continue;
      out_ += fmt::format(
          "<pattern id=\"kind-{}\" width=\"3\" height=\"3\" patternUnits=\"userSpaceOnUse\"><rect width=\"3\" "
          "height=\"3\" fill=\"#fff\"/>"
          "<path d=\"{}\" stroke=\"{}\" stroke-width=\"{}\"/></pattern>\n",
          kind_word(kind), kind_hatch(kind), kind_colour(kind), kind == BarKind::Work ? 1.6 : 0.7);
    }
    out_ += "</defs>\n";
  }
  static std::string fill(BarKind kind) {
    return *kind_hatch(kind) ? fmt::format("url(#kind-{})", kind_word(kind)) : std::string(kind_colour(kind));
  }

  void write_bar(const CueStep& step, double top, double height, const char* row) {
    const double x = at(step.start_s), width = std::max(at(step.end_s) - x, 0.0);
    out_ += fmt::format(
        "<rect class=\"bar {}\" data-row=\"{}\" x=\"{:.3f}\" y=\"{:.3f}\" width=\"{:.3f}\" height=\"{:.3f}\" "
        "fill=\"{}\" "
        "stroke=\"#000\" "
        "stroke-width=\"0.2\"><title>{} {} {}</title></rect>\n",
        kind_word(step.kind), escaped(row), x, top, width, height, fill(step.kind), escaped(step.number),
        report::duration(step.start_s), escaped(step.text));
  }

  /// Switches thrown and holds; names where they have room beside the one before.
  void write_inside(double top) {
    text(margin, top + 3.6, "inside", 3.6, "start", true);
    double free_x = left;
    for (const auto& step : h_.inside) {
      write_bar(step, top, 4, "inside");
      const double x = at(step.start_s), width = text_width(step.text, 2.6);
      if (x < free_x || x + width > right) continue;
      text(x, top + 7.2, step.text, 2.6);
      free_x = x + width + 2;
    }
  }

  void write_nights(double top, double bottom) {
    for (const auto& night : h_.nights) {
      const double from = std::max(night.start_s, 0.0), to = std::min(night.end_s, span_s_);
      if (to <= from) continue;
      out_ += fmt::format(
          "<rect class=\"night\" x=\"{:.3f}\" y=\"{:.3f}\" width=\"{:.3f}\" height=\"{:.3f}\" fill=\"#dcdfe6\"/>\n",
          at(from), top, at(to) - at(from), bottom - top);
    }
  }

  void write_ticks(double top, double bottom) {
    const double step = tick_s(span_s_, right - left);
    for (int k = 0; k * step <= span_s_; ++k) {
      line(at(k * step), top, at(k * step), bottom, "#9aa3ad", 0.15);
      text(at(k * step), bottom + 4.5, report::duration(k * step), 3, "middle");
    }
  }

  void write_bars(const CueCard& card, double top, double height) {
    text(margin, top + height / 2 + 1.6, cut(card.crew, left - margin - 2, 5, true), 5, "start", true);
    for (const auto& step : card.steps) {
      write_bar(step, top, height, card.crew.c_str());
      const double x = at(step.start_s), width = at(step.end_s) - x;
      // A number above each bar that has room for it; longer ones take their text into the bar, upright.
      if (text_width(step.number, 3, true) + 0.8 <= width) text(x + width / 2, top - 1, step.number, 3, "middle", true);
      if (width >= 4.2) {
        const auto lines =
            wrapped(step.label.empty() ? step.text : step.label, height - 2 - text_width("...", 2.5), 2.5);
        const auto room = static_cast<std::size_t>((width - 0.8) / 3.1);
        for (std::size_t k = 0; k < std::min(lines.size(), room); ++k) {
          const bool is_cut = k + 1 == room && lines.size() > room;
          const double lx =
              x + width / 2 +
              3.1 * (static_cast<double>(k) - (static_cast<double>(std::min(lines.size(), room)) - 1) / 2) + 0.9;
          out_ += fmt::format(
              "<text x=\"{0:.3f}\" y=\"{1:.3f}\" font-size=\"2.5\" transform=\"rotate(-90 {0:.3f} {1:.3f})\" "
              "paint-order=\"stroke\" "
              "stroke=\"#fff\" stroke-width=\"0.8\">{2}</text>\n",
              lx, top + height - 1, escaped(lines[k]) + (is_cut ? "..." : ""));
        }
      }
    }
    const std::string inside = fmt::format("inside {}", report::duration(card.finish_s));
    text(std::max(at(card.finish_s) + 1, left + text_width(inside, 3)), top + height + 4, inside, 3, "end");
  }

  /// A curve with what is worst of it in words. Stretches that are not known break it, and are marked at its foot.
  template <class Height>
  void write_curve(const std::vector<HomePoint>& curve, const char* kind, const char* dashes, double bottom,
                   const Height& y) {
    std::string points;
    const auto flush = [&] {
      if (!points.empty())
        out_ +=
            fmt::format("<polyline class=\"{}\" points=\"{}\" fill=\"none\" stroke=\"#000\" stroke-width=\"0.7\"{}/>\n",
                        kind, points, *dashes ? fmt::format(" stroke-dasharray=\"{}\"", dashes) : std::string());
      points.clear();
    };
    const HomePoint* worst = nullptr;
    for (const auto& p : curve) {
      if (!p.home_s) {
        flush();
        if (p.is_looked_at) out_ += mark_unknown(at(p.at_s), bottom, *dashes != 0);
        continue;
      }
      points += fmt::format("{}{:.3f},{:.3f}", points.empty() ? "" : " ", at(p.at_s), y(*p.home_s));
      if (!worst || *p.home_s > *worst->home_s) worst = &p;
    }
    flush();
    if (worst)
      out_ += fmt::format("<circle cx=\"{:.3f}\" cy=\"{:.3f}\" r=\"1.2\" fill=\"#000\"/>\n", at(worst->at_s),
                          y(*worst->home_s));
  }
  /// Filled where one is carried.
  static std::string mark_unknown(double x, double y, bool is_carried) {
    return fmt::format(
        "<path class=\"not-proven\" d=\"M{:.3f} {:.3f}l2.4 -3.6h-4.8z\" fill=\"{}\" stroke=\"#d55e00\" "
        "stroke-width=\"0.4\"/>\n",
        x, y - (is_carried ? 0 : 4), is_carried ? "#d55e00" : "#fff");
  }

  /// `longest 0:12:00 at 1:00:00, margin to the emergency return ...`.
  [[nodiscard]] std::string curve_words(const std::vector<HomePoint>& curve) const {
    const HomePoint* worst = nullptr;
    const HomePoint* least = nullptr;  // of what is left to the limit
    std::size_t unproven = 0;
    for (const auto& p : curve) {
      if (!p.is_looked_at) continue;
      unproven += p.home_s ? 0 : 1;
      if (!p.home_s) continue;
      if (!worst || *p.home_s > *worst->home_s) worst = &p;
      if (!least || p.at_s + *p.home_s > least->at_s + *least->home_s) least = &p;
    }
    std::string words =
        !worst ? std::string("none known")
               : fmt::format("longest {} at {}, {}least margin to the limit {} at {}", report::duration(*worst->home_s),
                             report::duration(worst->at_s),
                             h_.emergency_s > 0 ? fmt::format("margin to the emergency return {}; ",
                                                              left_words(h_.emergency_s - *worst->home_s))
                                                : std::string(),
                             left_words(h_.limit_s - least->at_s - *least->home_s), report::duration(least->at_s));
    if (unproven > 0) words += fmt::format("; not proven at {} moment{}", unproven, unproven == 1 ? "" : "s");
    return words;
  }

  void write_chart(double top, double bottom) {
    double most = h_.emergency_s;
    for (const auto* curve : {&h_.home, &h_.carried})
      for (const auto& p : *curve) most = std::max(most, p.home_s.value_or(0));
    most = std::max(most * 1.08, 60.0);
    const auto y = [&](double seconds) { return bottom - (bottom - top) * seconds / most; };
    out_ += fmt::format(
        "<rect x=\"{:g}\" y=\"{:.3f}\" width=\"{:.3f}\" height=\"{:.3f}\" fill=\"none\" stroke=\"#000\" "
        "stroke-width=\"0.3\"/>\n",
        left, top, right - left, bottom - top);
    text(margin, top - 2.6, "time to be inside, the worse of the crew", 3.4, "start", true);
    const double step = tick_s(most, 2 * (bottom - top));  // labels are lower than wide
    for (int k = 0; k * step <= most; ++k) {
      line(left, y(k * step), right, y(k * step), "#9aa3ad", 0.15);
      text(left - 1.5, y(k * step) + 1, report::duration(k * step), 2.8, "end");
    }
    if (h_.emergency_s > 0) {
      line(left, y(h_.emergency_s), right, y(h_.emergency_s), "#d55e00", 0.6, "4 1.5");
      // Above the line on the right, where the curves are low: crew members come home.
      out_ += fmt::format(
          "<text x=\"{:.3f}\" y=\"{:.3f}\" font-size=\"3\" text-anchor=\"end\" font-weight=\"bold\" "
          "paint-order=\"stroke\" "
          "stroke=\"#fff\" stroke-width=\"0.8\">emergency return {}</text>\n",
          right - 2, y(h_.emergency_s) - 1.2, report::duration_down(h_.emergency_s));
    }
    if (h_.home.empty()) {
      text((left + right) / 2, (top + bottom) / 2, "no times to be inside were computed", 4, "middle");
      return;
    }
    write_curve(h_.home, "home", "", bottom, y);
    write_curve(h_.carried, "carried", "2 1", bottom, y);
  }

  void write_legend(double y) {
    double x = left;
    const auto entry = [&](const std::string& words, const std::string& sign) {
      out_ += fmt::format("<g class=\"sign\" transform=\"translate({:.3f} {:.3f})\">{}</g>\n", x, y - 3.6, sign);
      text(x + 10.5, y, words, 3.2);
      x += 14.5 + text_width(words, 3.2);
    };
    const auto patch = [](const std::string& paint) {
      return fmt::format("<rect width=\"9\" height=\"4.5\" fill=\"{}\" stroke=\"#000\" stroke-width=\"0.2\"/>", paint);
    };
    const auto stroke = [](const char* colour, double width, const char* dashes) {
      return fmt::format("<path d=\"M0 2.2H9\" stroke=\"{}\" stroke-width=\"{}\"{}/>", colour, width,
                         *dashes ? fmt::format(" stroke-dasharray=\"{}\"", dashes) : std::string());
    };
    for (const BarKind kind : bar_kinds)
      if (kind != BarKind::Throw || !h_.inside.empty()) entry(kind_word(kind), patch(fill(kind)));
    if (!h_.nights.empty()) entry("night", patch("#dcdfe6"));
    y += 6.5, x = left;
    if (!h_.home.empty()) entry("alone: " + curve_words(h_.home), stroke("#000", 0.7, ""));
    if (!h_.carried.empty())
      y += 5.5,
          x = left,
          entry("incapacitated, brought back by the other: " + curve_words(h_.carried), stroke("#000", 0.7, "2 1"));
    y += 5.5, x = left;
    entry("limit of the excursion", stroke("#000", 0.6, "3 1.5"));
    if (h_.emergency_s > 0) entry("emergency return", stroke("#d55e00", 0.6, "4 1.5"));
    const auto has_unknown = [](const std::vector<HomePoint>& curve) {
      return std::any_of(curve.begin(), curve.end(), [](const HomePoint& p) { return !p.home_s; });
    };
    if (!h_.home.empty()) entry("longest", "<circle cx=\"4.5\" cy=\"2.2\" r=\"1.2\"/>");
    if (has_unknown(h_.home)) entry("no path known, alone", mark_unknown(4.5, 8.2, false));
    if (has_unknown(h_.carried)) entry("not proven, incapacitated", mark_unknown(4.5, 4.4, true));
    y += 6;
    const double bottom = page_height - 7;
    for (std::size_t r = 0; r < h_.remarks.size(); ++r)
      for (const auto& words : wrapped(h_.remarks[r], right - left, 3)) {
        if (y > bottom - 4.2 && y <= bottom) {
          text(left, y, fmt::format("... and {} more remarks: they are on the cue cards", h_.remarks.size() - r), 3);
          return;
        }
        text(left, y, words, 3);
        y += 4.2;
      }
  }

  const Handout& h_;
  double span_s_ = 60;
  std::string out_;
};

}  // namespace

std::string cue_cards(const Handout& handout) {
  std::string out = fmt::format(
      "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta "
      "charset=\"utf-8\"/>\n<title>{}</title>\n<style>{}</style>\n</head>\n<body>\n",
      escaped(handout.title), card_style);
  for (const auto& card : handout.cards) out += card_page(handout, card);
  if (handout.cards.empty()) out += "<p>No crew member has anything to do.</p>\n";
  return out + "</body>\n</html>\n";
}

std::string timeline_sheet(const Handout& handout) { return TimelineWriter(handout).write(); }

}  // namespace holdfast::picture
