// SPDX-License-Identifier: GPL-3.0-or-later
// The sheet: an XML parser reads it, and its drawn lengths times the scale are the true ones.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <map>
#include <pugixml.hpp>
#include <sstream>

#include "drawn.h"
#include "holdfast/report/report.h"
#include "label_placer_impl.h"
#include "lettering_impl.h"
#include "raster_impl.h"

namespace holdfast::picture {
namespace {

using testing::HasSubstr;

const std::vector<Direction> directions = {{"zenith", Vec3::UnitX(), -Vec3::UnitY(), -Vec3::UnitZ()},
                                           {"starboard", Vec3::UnitX(), -Vec3::UnitZ(), Vec3::UnitY()},
                                           {"forward", -Vec3::UnitY(), -Vec3::UnitZ(), Vec3::UnitX()}};

struct Parsed {
  explicit Parsed(const Picture& picture) : sheet(svg(picture)) {
    const auto outcome = document.load_string(sheet.svg.c_str());
    EXPECT_TRUE(outcome) << outcome.description() << " at " << outcome.offset;
  }
  pugi::xml_node view(const std::string& name) const {
    for (const auto& g : document.child("svg").children("g"))
      if (g.attribute("data-view").value() == name) return g;
    ADD_FAILURE() << "no view from " << name;
    return {};
  }
  Sheet sheet;
  pugi::xml_document document;
};

using Lines = std::vector<std::vector<Vec2>>;
/// Path data of absolute M and L and of Z.
Lines lines_of(const std::string& d) {
  Lines lines;
  std::istringstream in(d);
  for (char c = 0; in >> c;) {
    if (c == 'Z') {
      lines.back().push_back(lines.back().front());
      continue;
    }
    EXPECT_TRUE(c == 'M' || c == 'L') << d.substr(0, 60);
    Vec2 p;
    in >> p.x() >> p.y();
    if (c == 'M') lines.emplace_back();
    lines.back().push_back(p);
  }
  return lines;
}
double length_of(const Lines& lines) {
  double sum = 0;
  for (const auto& line : lines)
    for (std::size_t i = 0; i + 1 < line.size(); ++i) sum += (line[i + 1] - line[i]).norm();
  return sum;
}
double true_length(const Direction& view, const std::vector<Vec3>& points) {
  double sum = 0;
  for (std::size_t i = 0; i + 1 < points.size(); ++i) sum += (view.flat(points[i + 1]) - view.flat(points[i])).norm();
  return sum;
}
/// Lines of all paths of this class below a node, by class.
std::map<std::string, Lines> paths_of(const pugi::xml_node& node) {
  std::map<std::string, Lines> found;
  for (const auto& at : node.select_nodes(".//path[@d]")) {
    const std::string kind = at.node().attribute("class").value();
    if (kind == "tone" || kind == "edge" || kind.rfind("rail", 0) == 0 || kind.rfind("way", 0) == 0 ||
        kind.rfind("zone", 0) == 0 || kind.rfind("line", 0) == 0 || kind == "corridor") {
      const auto lines = lines_of(at.node().attribute("d").value());
      auto& all =
          found[kind +
                (at.node().attribute("data-way") ? std::string(" ") + at.node().attribute("data-way").value() : "")];
      all.insert(all.end(), lines.begin(), lines.end());
    }
  }
  return found;
}

TEST(Sheet, StatesItsScaleInWordsAndData) {
  const Parsed parsed(demo_yard().picture());
  const auto root = parsed.document.child("svg");
  EXPECT_STREQ(root.attribute("width").value(), "420mm");
  EXPECT_STREQ(root.attribute("viewBox").value(), "0 0 420 297") << "a unit is a millimetre";
  EXPECT_EQ(root.attribute("data-scale").as_int(), parsed.sheet.scale);
  EXPECT_THAT(parsed.sheet.svg, HasSubstr("Scale 1:" + std::to_string(parsed.sheet.scale) + " on A3"));
  for (const auto& direction : directions) {
    const auto bar = parsed.view(direction.name).select_node(".//g[@class='scale-bar']").node();
    double width = 0;
    for (const auto& rect : bar.children("rect")) width += rect.attribute("width").as_double();
    EXPECT_NEAR(width / 1000 * parsed.sheet.scale, bar.attribute("data-length-m").as_double(), 1e-3);
    EXPECT_GT(width, 15);
  }
}

TEST(Sheet, DrawsWaysAndRailsInTheirTrueLengths) {
  auto& yard = demo_yard();
  const auto picture = yard.picture({yard.json(yard.route("lock-hatch", "battery-bay", {"bulky-bag"})),
                                     yard.json(yard.route("lock-hatch", "dish-service"))});
  const Parsed parsed(picture);
  const double scale = parsed.sheet.scale / 1000.0;
  for (const auto& direction : directions) {
    SCOPED_TRACE(direction.name);
    auto paths = paths_of(parsed.view(direction.name));
    for (std::size_t w = 0; w < picture.ways.size(); ++w) {
      std::vector<Vec3> hands, body;
      for (const auto& pose : picture.ways[w].poses) hands.push_back(pose.hand);
      const double drawn = length_of(paths["way " + letter(w)]) + length_of(paths["way hidden " + letter(w)]);
      EXPECT_NEAR(drawn * scale, true_length(direction, hands), 0.01) << letter(w);
    }
    double rails = 0;
    for (const auto& rail : picture.rails) rails += true_length(direction, rail.points);
    // Rounded to a hundredth of a millimetre at each end of some hundred pieces.
    EXPECT_NEAR((length_of(paths["rail"]) + length_of(paths["rail hidden"])) * scale, rails, 0.004 * rails);
  }
  // The corridor is as wide as it is.
  const auto corridor = parsed.view("zenith").select_node(".//path[@class='corridor']").node();
  EXPECT_NEAR(corridor.attribute("stroke-width").as_double() * scale, 2 * picture.ways[0].corridor_radius_m, 1e-3);
}

TEST(Sheet, PutsPlacesWhereTheyAre) {
  const auto picture = demo_yard().picture();
  const Parsed parsed(picture);
  for (const auto& direction : directions) {
    const auto view = parsed.view(direction.name);
    std::istringstream origin(view.attribute("data-origin").value());
    Vec2 zero;
    origin >> zero.x() >> zero.y();
    std::vector<Vec2> drawn;
    for (const auto& at : view.select_nodes(".//circle[starts-with(@class,'place')]"))
      drawn.emplace_back(at.node().attribute("cx").as_double(), at.node().attribute("cy").as_double());
    ASSERT_EQ(drawn.size(), picture.places.size());
    for (std::size_t i = 0; i < drawn.size(); ++i) {
      const Vec2 flat = Vec2(drawn[i].x() - zero.x(), zero.y() - drawn[i].y()) * parsed.sheet.scale / 1000.0;
      EXPECT_LT((flat - direction.flat(picture.places[i].at)).norm(), 2e-3) << picture.places[i].id;
    }
  }
}

TEST(Sheet, DrawsABoxAsItsOutline) {
  Drawn drawn(brick());
  const Parsed parsed(drawn.picture());
  const double scale = parsed.sheet.scale / 1000.0;
  const std::map<std::string, Vec2> sides = {{"zenith", {4, 2}}, {"starboard", {4, 1}}, {"forward", {2, 1}}};
  for (const auto& [name, size] : sides) {
    auto paths = paths_of(parsed.view(name));
    for (const char* kind : {"edge", "tone"}) {
      Vec2 low(1e9, 1e9), high(-1e9, -1e9);
      for (const auto& line : paths[kind])
        for (const auto& p : line) low = low.cwiseMin(p), high = high.cwiseMax(p);
      EXPECT_LT((scale * (high - low) - size).norm(), std::string(kind) == "edge" ? 1e-3 : 0.02) << name << " " << kind;
    }
    // The four edges toward the viewer and the four behind them fall on the same lines; those across are points.
    EXPECT_NEAR(length_of(paths["edge"]) * scale, 2 * (size.x() + size.y()), 0.05 * length_of(paths["edge"]) * scale)
        << name;
  }
}

TEST(Sheet, DrawsWhatIsHiddenThinAndApart) {
  Drawn drawn(brick());
  const Parsed parsed(drawn.picture());
  const double scale = parsed.sheet.scale / 1000.0;
  auto zenith = paths_of(parsed.view("zenith")), starboard = paths_of(parsed.view("starboard"));
  EXPECT_NEAR(length_of(zenith["rail"]) * scale, 3, 0.01) << "the rail on top is seen from zenith";
  EXPECT_NEAR(length_of(zenith["rail hidden"]) * scale, 2, 0.01) << "the one below is not";
  EXPECT_NEAR(length_of(starboard["rail"]) * scale, 5, 0.01) << "both stand off the sides";
  EXPECT_EQ(length_of(starboard["rail hidden"]), 0);
}

TEST(Sheet, KeepsNamesFromBreakingIt) {
  auto structure = brick();
  structure.name = "<a> & \"b\" ]]> \x01";
  structure.places[0].id = "<script>alert(1)</script>";
  structure.zones[0].reason = "hot & sharp <edge>";
  const Parsed parsed(Drawn(structure).picture());
  EXPECT_STREQ(parsed.document.child("svg").child("title").text().get(), "<a> & \"b\" ]]> U+0001");
  EXPECT_TRUE(parsed.document.select_nodes("//script").empty());
}

TEST(Sheet, ShowsLinesWithTheirTies) {
  Drawn drawn(brick());
  auto picture = drawn.picture();
  picture.lines.push_back({LineKind::Cable,
                           "trunk",
                           "",
                           "fits",
                           {{-1, 0, -0.6}, {1, 0, -0.6}, {1, 0.5, -0.6}},
                           {{{0, 0, -0.6}, "tie 1"}},
                           {{{1, 0, -0.6}, "bend"}}});
  const Parsed parsed(picture);
  auto paths = paths_of(parsed.view("zenith"));
  EXPECT_NEAR(length_of(paths["line cable"]) * parsed.sheet.scale / 1000.0, 2.5, 0.01);
  EXPECT_THAT(parsed.sheet.svg, HasSubstr(">tie 1</text>"));
}

/// Several routes, one that is refused, a cable with ties and a tether on the demo yard.
Picture crowded() {
  auto& yard = demo_yard();
  const route::RouteRequest request{.from = "lock-hatch", .to = "battery-bay"};
  auto picture = yard.picture({yard.json(yard.route("lock-hatch", "battery-bay", {"bulky-bag"})),
                               yard.json(route::find_alternative_routes(yard.graph(), yard.profile(), request)),
                               yard.json(yard.route("lock-hatch", "dish-service")),
                               yard.json(yard.route("lock-hatch", "outpost-panel"))});
  Line cable{LineKind::Cable, "trunk from hub-plug to rack-plug", "", "12.3 m needed, 14 m guaranteed", {}, {}, {}};
  for (int k = 0; k < 30; ++k) {
    const Vec3 at(0.4 + 0.3 * k, 0.2 * (k % 3), -2.1);
    cable.points.push_back(at);
    cable.ties.push_back({at, "tie " + std::to_string(k + 1) + " at a rail of a rather long name, mark 3.25 m"});
  }
  picture.lines.push_back(std::move(cable));
  picture.lines.push_back(
      {LineKind::Tether, "reel", "", "retracts", {{-3, 0, -1.3}, {0, 0, -2.1}, {6, 0, -2.1}}, {}, {}});
  return picture;
}

/// Where the ink of each text lies: from its baseline three quarters of its size up and a quarter down.
std::vector<std::pair<Rect, std::string>> texts_of(const pugi::xml_node& node) {
  std::vector<std::pair<Rect, std::string>> found;
  for (const auto& at : node.select_nodes(".//text")) {
    const auto text = at.node();
    const std::string words = text.text().get(), kind = text.attribute("class").value();
    const bool is_bold = kind.find("heading") != std::string::npos || kind == "letter" || kind == "number" ||
                         kind == "caption" || kind == "line-name" || kind.rfind("zone-name", 0) == 0;
    const double size = text.attribute("font-size").as_double(), width = text_width(words, size, is_bold);
    const double y = text.attribute("y").as_double(),
                 x = text.attribute("x").as_double() - (text.attribute("text-anchor") ? width : 0);
    found.push_back({{x, y - 0.75 * size, x + width, y + 0.2 * size}, words});
  }
  return found;
}

void expect_apart(const Parsed& parsed) {
  const auto texts = texts_of(parsed.document.child("svg"));
  const Rect page{5, 5, 415, 297.0 * static_cast<double>(parsed.sheet.sheets) - 5};
  for (std::size_t i = 0; i < texts.size(); ++i) {
    EXPECT_TRUE(page.holds(texts[i].first)) << texts[i].second;
    for (std::size_t k = 0; k < i; ++k)
      EXPECT_FALSE(texts[i].first.overlaps(texts[k].first)) << texts[i].second << " over " << texts[k].second;
  }
}

TEST(Sheet, NeverLaysTextOverText) {
  expect_apart(Parsed(demo_yard().picture()));
  expect_apart(Parsed(crowded()));
  auto narrow = Drawn(brick()).picture();
  narrow.title = std::string(300, 'W');
  expect_apart(Parsed(narrow));
}

TEST(Sheet, HasAWholeLegendAndWholeTablesHoweverMany) {
  auto picture = crowded();
  for (int k = 0; k < 90; ++k) {
    picture.zones.push_back(picture.zones.front());
    picture.zones.back().id = "more-zone-" + std::to_string(k);
    picture.zones.back().reason = "reason" + std::to_string(k);
  }
  const Parsed parsed(picture);
  EXPECT_GT(parsed.sheet.sheets, 1u);
  std::string words;
  for (const auto& [rect, text] : texts_of(parsed.document.child("svg"))) words += text + " ";
  EXPECT_THAT(words, testing::Not(HasSubstr("...")));
  for (const auto& zone : picture.zones) {
    EXPECT_THAT(words, HasSubstr(zone.id + ":"));
    EXPECT_THAT(words, HasSubstr(zone.reason.substr(0, zone.reason.find(' '))));
  }
  std::size_t rows = 0;
  for (std::size_t w = 0; w < picture.ways.size(); ++w)
    for (std::size_t r = 0; r < picture.ways[w].rows.size(); ++r, ++rows)
      EXPECT_THAT(words, HasSubstr(" " + letter(w) + std::to_string(r) + " "));
  EXPECT_GT(rows, 40u);
  for (const auto& tie : picture.lines[0].ties) EXPECT_THAT(words, HasSubstr(tie.text.substr(0, 6)));
  expect_apart(parsed);
}

TEST(Sheet, TellsTheFiguresOfTheTextAnswer) {
  auto& yard = demo_yard();
  const auto answer = yard.route("lock-hatch", "battery-bay", {"bulky-bag"});
  const auto told = report::text(*yard.context_, answer);
  const auto picture = yard.picture({yard.json(answer)});
  const auto texts = texts_of(Parsed(picture).document.child("svg"));
  for (const auto& row : picture.ways[0].rows)
    for (const auto& figure : {row.total_distance, row.total_time, row.clearance}) {
      EXPECT_THAT(told, HasSubstr(figure));
      EXPECT_TRUE(std::any_of(texts.begin(), texts.end(), [&](const auto& text) { return text.second == figure; }))
          << figure;
    }
}

TEST(Sheet, LeavesDateAndRevisionToTheHandUnlessTheyAreGiven) {
  auto picture = Drawn(brick()).picture();
  const auto rules = [](const Parsed& parsed) { return parsed.document.select_nodes("//path[@class='rule']").size(); };
  EXPECT_EQ(rules(Parsed(picture)), 2u);
  picture.date = "2026-03-09", picture.revision = "B <2>";
  const Parsed parsed(picture);
  EXPECT_EQ(rules(parsed), 0u);
  EXPECT_THAT(parsed.sheet.svg, HasSubstr(">2026-03-09</text>"));
  EXPECT_THAT(parsed.sheet.svg, HasSubstr(">B &lt;2&gt;</text>"));
}

TEST(Sheet, WritesZoneCodesInTheColourOfTheirZone) {
  const auto picture = demo_yard().picture();
  const Parsed parsed(picture);
  std::size_t found = 0;
  for (std::size_t i = 0; i < picture.zones.size(); ++i) {
    const std::string effect = picture.zones[i].effect == model::ZoneEffect::Forbid    ? "forbid"
                               : picture.zones[i].effect == model::ZoneEffect::Caution ? "caution"
                                                                                       : "limit";
    for (const auto& at : parsed.view("starboard").select_nodes(".//text"))
      if (at.node().text().get() == "z" + std::to_string(i + 1)) {
        EXPECT_EQ(at.node().attribute("class").value(), "zone-name " + effect);
        ++found;
      }
  }
  EXPECT_EQ(found, picture.zones.size()) << "every zone has its code";
}

TEST(Sheet, FitsStructuresOfAnySize) {
  for (const double size : {0.01, 1.0, 40.0, 900.0}) {
    support::YardBuilder yard;
    yard.part("cube", model::Box{.size = Vec3::Constant(size)});
    const Parsed parsed(Drawn(yard.structure).picture());
    for (const auto& direction : directions) {
      auto paths = paths_of(parsed.view(direction.name));
      EXPECT_FALSE(paths["edge"].empty()) << size << " m";
      for (const auto& line : paths["edge"])
        for (const auto& p : line) {
          EXPECT_TRUE(p.x() > 5 && p.x() < 415 && p.y() > 5 && p.y() < 285) << size << " m: " << p.transpose();
        }
    }
  }
}

}  // namespace
}  // namespace holdfast::picture
