#include "holdfast/picture/handout.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "holdfast/report/words.h"
#include "lettering_impl.h"
#include "markup_impl.h"
#include "style_impl.h"

namespace holdfast::picture {
namespace {

constexpr std::array kinds{BarKind::Travel, BarKind::Work, BarKind::Handling,
                           BarKind::Wait,   BarKind::Hold, BarKind::Overhead};

const char* kind_word(BarKind kind) {
  switch (kind) {
    case BarKind::Travel:
      return "translation";
    case BarKind::Work:
      return "work";
    case BarKind::Handling:
      return "handling";
    case BarKind::Wait:
      return "wait";
    case BarKind::Hold:
      return "hold";
    case BarKind::Overhead:
      return "overhead";
  }
  return "";
}

const char* kind_colour(BarKind kind) {
  switch (kind) {
    case BarKind::Travel:
      return colour_of(0);
    case BarKind::Work:
      return colour_of(2);
    case BarKind::Handling:
      return colour_of(5);
    case BarKind::Wait:
      return colour_of(4);
    case BarKind::Hold:
      return colour_of(1);
    case BarKind::Overhead:
      return colour_of(3);
  }
  return "";
}

/// A moment is rounded up; what is left of time, down. Less than nothing keeps its sign, and is rounded away from zero.
std::string left_words(double seconds) {
  return seconds < 0 ? "-" + report::duration(-seconds) : report::duration_down(seconds);
}

std::string home_cell(const std::optional<double>& home_s) {
  return home_s ? report::duration(*home_s) : std::string("not known");
}

std::string list(const char* kind, const std::vector<std::string>& texts) {
  std::string out;
  for (const auto& text : texts) out += fmt::format("<p class=\"{}\">{}</p>", kind, escaped(text));
  return out;
}

std::string card_page(const Handout& handout, const CueCard& card) {
  std::string out = fmt::format(
      "<section class=\"card\">\n<header><h1>{}</h1><p class=\"title\">{}<br>{}</p>"
      "<p class=\"numbers\">inside by <b>{}</b><br>limit {}, left {}</p></header>\n",
      escaped(card.crew), escaped(handout.title), escaped(handout.subtitle), report::duration(card.finish_s),
      report::duration_down(handout.limit_s), left_words(handout.limit_s - card.finish_s));
  if (!card.items.empty()) {
    out +=
        "<table class=\"items\">\n<thead><tr><th>item</th><th>in</th><th>fetch from</th><th>must be back "
        "at</th><th>out</th>"
        "<th>back</th></tr></thead>\n";
    for (const auto& item : card.items)
      out += fmt::format(
          "<tr><td>{}</td><td>{}</td><td>{}</td><td>{}</td><td class=\"box\">&#9744;</td><td "
          "class=\"box\">{}</td></tr>\n",
          escaped(item.name), escaped(item.in), escaped(item.from),
          item.back.empty() ? std::string("stays outside") : escaped(item.back), item.back.empty() ? "" : "&#9744;");
    out += "</table>\n";
  }
  // The head stands on every page that the table goes on to: it says whose card this is.
  out += fmt::format(
      "<table class=\"steps\">\n<thead><tr><th></th><th>at</th><th>takes</th><th><b>{}</b></th><th>time "
      "home</th></tr></thead>\n",
      escaped(card.crew));
  for (const auto& step : card.steps) {
    out += fmt::format(
        "<tbody class=\"{}\">\n<tr class=\"step\"><td class=\"number\">{}</td><td>{}</td><td>{}</td><td><b>{}</b>",
        kind_word(step.kind), escaped(step.number), report::duration(step.start_s),
        report::duration(step.end_s - step.start_s), escaped(step.text));
    if (step.kind == BarKind::Wait || step.kind == BarKind::Hold)
      out += fmt::format(" until <b>{}</b>", report::duration(step.end_s));
    if (!step.with.empty()) out += fmt::format("<span class=\"with\">with {}</span>", escaped(step.with));
    out += list("callout", step.callouts) + list("caution", step.cautions);
    out += fmt::format("</td><td>{}</td></tr>\n", step.home_s ? report::duration(*step.home_s) : "");
    for (const auto& point : step.waypoints)
      out += fmt::format("<tr class=\"waypoint\"><td></td><td>{}</td><td></td><td>{}</td><td>{}</td></tr>\n",
                         report::duration(point.at_s), escaped(point.text), home_cell(point.home_s));
    out += "</tbody>\n";
  }
  out += "</table>\n" + list("remark", handout.remarks);
  out += "<footer><span>Checked</span><span>Date</span><span>Crew</span></footer>\n</section>\n";
  return out;
}

constexpr const char* card_style = R"(
@page { size: A4; margin: 12mm 11mm 14mm; }
* { box-sizing: border-box; }
body { margin: 0; font: 9.5pt/1.3 'DejaVu Sans', Arial, sans-serif; color: #000; }
.card { break-before: page; }
.card:first-of-type { break-before: auto; }
header { display: flex; gap: 6mm; align-items: flex-end; border-bottom: 0.6mm solid #000; padding-bottom: 1.5mm; margin-bottom: 3mm; }
h1 { font-size: 20pt; margin: 0; line-height: 1; }
header p { margin: 0; font-size: 8.5pt; }
.title { flex: 1; overflow-wrap: anywhere; }
.numbers { text-align: right; white-space: nowrap; }
table { width: 100%; border-collapse: collapse; margin-bottom: 4mm; }
thead { display: table-header-group; }
th { text-align: left; font-size: 8pt; font-weight: normal; border-bottom: 0.3mm solid #000; padding: 0.4mm 1.2mm; }
td { vertical-align: top; padding: 0.9mm 1.2mm; overflow-wrap: anywhere; }
.items td { border-bottom: 0.15mm solid #888; }
.box { font-size: 12pt; line-height: 1; }
.steps tbody { border-top: 0.3mm solid #000; }
.steps tr, header, footer, .items tr { break-inside: avoid; }
.step { break-after: avoid-page; }
.steps td:nth-child(1) { width: 11mm; }
.steps td:nth-child(2), .steps td:nth-child(3), .steps td:nth-child(5) { width: 18mm; white-space: nowrap; font-variant-numeric: tabular-nums; }
.number { font-weight: bold; font-size: 12pt; }
.waypoint td { font-size: 8.5pt; padding-top: 0.2mm; padding-bottom: 0.2mm; }
.waypoint td:nth-child(4) { padding-left: 5mm; }
.with { display: block; font-style: italic; }
.callout, .caution, .remark { margin: 0.8mm 0 0; padding: 0.6mm 1.5mm; }
.callout { border: 0.5mm solid #000; font-weight: bold; }
.caution { border-left: 1.6mm solid #000; background: #e4e4e4; print-color-adjust: exact; -webkit-print-color-adjust: exact; }
.caution::before { content: 'CAUTION  '; font-weight: bold; }
.remark { border: 0.2mm dashed #000; margin-bottom: 1mm; }
.wait, .hold { background: #f2f2f2; print-color-adjust: exact; -webkit-print-color-adjust: exact; }
footer { display: flex; gap: 8mm; margin-top: 12mm; }
footer span { flex: 1; border-top: 0.3mm solid #000; font-size: 8pt; padding-top: 0.6mm; }
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
    for (const auto& point : h_.home) end = std::max(end, point.at_s);
    span_s_ = end;
  }

  std::string write() {
    out_ = fmt::format(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{0}mm\" height=\"{1}mm\" viewBox=\"0 0 {0} {1}\" "
        "font-family=\"DejaVu Sans, Arial, sans-serif\">\n<rect width=\"{0}\" height=\"{1}\" fill=\"#fff\"/>\n",
        page_width, page_height);
    write_patterns();
    text(margin, 19, h_.title, 7, "start", true);
    text(margin, 26, h_.subtitle, 3.4);
    const double bars_top = 44, bar = 20, row = 32;
    const double bars_bottom = bars_top + row * static_cast<double>(std::max<std::size_t>(h_.cards.size(), 1));
    const double chart_top = bars_bottom + 14, chart_bottom = 236;
    write_nights(bars_top - 4, chart_bottom);
    write_ticks(bars_top - 4, chart_bottom);
    for (std::size_t c = 0; c < h_.cards.size(); ++c)
      write_bars(h_.cards[c], bars_top + row * static_cast<double>(c), bar);
    write_chart(chart_top, chart_bottom);
    line(at(h_.limit_s), bars_top - 4, at(h_.limit_s), chart_bottom, "#000", 0.6, "3 1.5");
    text(at(h_.limit_s) - 1, bars_top - 6, fmt::format("limit {}", report::duration_down(h_.limit_s)), 3, "end", true);
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

  void write_patterns() {
    // Travel, work, handling: plain, and told apart by how dark they are; the others are hatched.
    out_ += "<defs>\n";
    for (const BarKind kind : {BarKind::Wait, BarKind::Hold, BarKind::Overhead}) {
      const char* stroke = kind == BarKind::Wait ? "M0 3L3 0" : kind == BarKind::Hold ? "M0 3L3 0M0 0L3 3" : "M1.5 0V3";
      out_ += fmt::format(
          "<pattern id=\"kind-{}\" width=\"3\" height=\"3\" patternUnits=\"userSpaceOnUse\"><rect width=\"3\" "
          "height=\"3\" fill=\"#fff\"/>"
          "<path d=\"{}\" stroke=\"{}\" stroke-width=\"0.7\"/></pattern>\n",
          kind_word(kind), stroke, kind_colour(kind));
    }
    out_ += "</defs>\n";
  }
  static std::string fill(BarKind kind) {
    const bool is_hatched = kind == BarKind::Wait || kind == BarKind::Hold || kind == BarKind::Overhead;
    return is_hatched ? fmt::format("url(#kind-{})", kind_word(kind)) : std::string(kind_colour(kind));
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
    text(margin, top + height / 2 + 1.6, card.crew, 5, "start", true);
    for (const auto& step : card.steps) {
      const double x = at(step.start_s), width = at(step.end_s) - x;
      out_ += fmt::format(
          "<rect class=\"bar {}\" x=\"{:.3f}\" y=\"{:.3f}\" width=\"{:.3f}\" height=\"{:.3f}\" fill=\"{}\" "
          "stroke=\"#000\" "
          "stroke-width=\"0.2\"><title>{} {} {}</title></rect>\n",
          kind_word(step.kind), x, top, std::max(width, 0.0), height, fill(step.kind), escaped(step.number),
          report::duration(step.start_s), escaped(step.text));
      // A number above each bar that has room for it; longer ones take their text into the bar, upright.
      if (text_width(step.number, 3, true) <= width + 0.6) text(x + width / 2, top - 1, step.number, 3, "middle", true);
      if (width >= 4.2) {
        const auto lines = wrapped(step.text, height - 2 - text_width("...", 2.5), 2.5);
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
    text(at(card.finish_s) + 1, top + height + 4, fmt::format("inside {}", report::duration(card.finish_s)), 3, "end");
  }

  void write_chart(double top, double bottom) {
    double most = h_.emergency_s;
    for (const auto& p : h_.home) most = std::max(most, p.home_s.value_or(0));
    most = std::max(most * 1.08, 60.0);
    const auto y = [&](double seconds) { return bottom - (bottom - top) * seconds / most; };
    out_ += fmt::format(
        "<rect x=\"{:g}\" y=\"{:.3f}\" width=\"{:.3f}\" height=\"{:.3f}\" fill=\"none\" stroke=\"#000\" "
        "stroke-width=\"0.3\"/>\n",
        left, top, right - left, bottom - top);
    text(margin, top - 3, "time to be inside, the worse of the crew", 3.4, "start", true);
    const double step = tick_s(most, 2 * (bottom - top));  // labels are lower than wide
    for (int k = 0; k * step <= most; ++k) {
      line(left, y(k * step), right, y(k * step), "#9aa3ad", 0.15);
      text(left - 1.5, y(k * step) + 1, report::duration(k * step), 2.8, "end");
    }
    if (h_.emergency_s > 0) {
      line(left, y(h_.emergency_s), right, y(h_.emergency_s), "#d55e00", 0.6, "4 1.5");
      text(left + 2, y(h_.emergency_s) - 1.2, fmt::format("emergency return {}", report::duration_down(h_.emergency_s)),
           3, "start", true);
    }
    std::string points;
    const auto flush = [&] {
      if (!points.empty())
        out_ += fmt::format(
            "<polyline class=\"home\" points=\"{}\" fill=\"none\" stroke=\"#000\" stroke-width=\"0.7\"/>\n", points);
      points.clear();
    };
    const HomePoint* worst = nullptr;
    const HomePoint* least = nullptr;  // of what is left to the limit
    for (const auto& p : h_.home) {
      if (!p.home_s) {
        flush();
        out_ += fmt::format("<path class=\"not-proven\" d=\"M{0:.3f} {1:.3f}l2.4 -4h-4.8z\" fill=\"#d55e00\"/>\n",
                            at(p.at_s), bottom);
        continue;
      }
      points += fmt::format("{}{:.3f},{:.3f}", points.empty() ? "" : " ", at(p.at_s), y(*p.home_s));
      if (!worst || *p.home_s > *worst->home_s) worst = &p;
      if (!least || p.at_s + *p.home_s > least->at_s + *least->home_s) least = &p;
    }
    flush();
    if (!worst) {
      text((left + right) / 2, (top + bottom) / 2, "no times to be inside were computed", 4, "middle");
      return;
    }
    out_ += fmt::format("<circle cx=\"{:.3f}\" cy=\"{:.3f}\" r=\"1.2\" fill=\"#000\"/>\n", at(worst->at_s),
                        y(*worst->home_s));
    const auto unproven = std::count_if(h_.home.begin(), h_.home.end(), [](const HomePoint& p) { return !p.home_s; });
    text(right, top - 3,
         fmt::format("longest {} at {}, margin to the emergency return {}; least margin to the limit {} at {}{}",
                     report::duration(*worst->home_s), report::duration(worst->at_s),
                     left_words(h_.emergency_s - *worst->home_s), left_words(h_.limit_s - least->at_s - *least->home_s),
                     report::duration(least->at_s),
                     unproven ? fmt::format("; not proven at {} moment{}", unproven, unproven == 1 ? "" : "s") : ""),
         3, "end");
  }

  void write_legend(double y) {
    double x = left;
    const auto entry = [&](const std::string& words, const std::string& paint) {
      out_ += fmt::format(
          "<rect x=\"{:.3f}\" y=\"{:.3f}\" width=\"9\" height=\"4.5\" fill=\"{}\" stroke=\"#000\" "
          "stroke-width=\"0.2\"/>\n",
          x, y - 3.6, paint);
      text(x + 10.5, y, words, 3.4);
      x += 16 + text_width(words, 3.4);
    };
    for (const BarKind kind : kinds) entry(kind_word(kind), fill(kind));
    if (!h_.nights.empty()) entry("night", "#dcdfe6");
    if (std::any_of(h_.home.begin(), h_.home.end(), [](const HomePoint& p) { return !p.home_s; })) {
      out_ += fmt::format("<path d=\"M{:.3f} {:.3f}l2.4 -4h-4.8z\" fill=\"#d55e00\"/>\n", x + 3, y + 0.5);
      text(x + 7, y, "time to be inside not proven", 3.4);
    }
    y += 9;
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
      "charset=\"utf-8\">\n<title>{}</title>\n<style>{}</style>\n</head>\n<body>\n",
      escaped(handout.title), card_style);
  for (const auto& card : handout.cards) out += card_page(handout, card);
  if (handout.cards.empty()) out += "<p>No crew member has anything to do.</p>\n";
  return out + "</body>\n</html>\n";
}

std::string timeline_sheet(const Handout& handout) { return TimelineWriter(handout).write(); }

}  // namespace holdfast::picture
