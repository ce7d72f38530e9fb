// SPDX-License-Identifier: GPL-3.0-or-later
// Cue cards, the timeline sheet and the picture of simulated excursions: what the plan has stands on them, where it
// should.

#include "holdfast/picture/plan_handout.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <nlohmann/json.hpp>
#include <pugixml.hpp>
#include <set>

#include "excursion.h"
#include "holdfast/report/words.h"

namespace holdfast::picture {
namespace {

using plan::RowKind;
using plan::What;
using report::duration;
using sample::Trip;
using testing::HasSubstr;
using testing::Not;

const model::Model& yard() {
  static const model::Model model = model::read_model(std::string(HOLDFAST_SOURCE_DIR) + "/models/yard");
  return model;
}

const Trip& busy() { return sample::busy_trip(); }

std::string text_of(const pugi::xml_node& node) {
  std::string text;
  if (node.type() == pugi::node_pcdata) text = node.value();
  for (const auto& child : node.children()) text += text_of(child) + " ";
  return text;
}

pugi::xml_document parsed(const std::string& markup) {
  pugi::xml_document document;
  const auto result = document.load_string(markup.c_str(), pugi::parse_default | pugi::parse_doctype);
  EXPECT_TRUE(result) << result.description() << " at " << result.offset;
  return document;
}

/// The cards of the file, each with its steps: those of the crew member, as text.
struct PrintedCard {
  std::string text, head, items;
  std::vector<std::string> steps;
};
std::vector<PrintedCard> printed(const std::string& html) {
  const auto document = parsed(html);
  std::vector<PrintedCard> cards;
  for (const auto& section : document.child("html").child("body").children("section")) {
    PrintedCard card{text_of(section), text_of(section.child("header")), "", {}};
    for (const auto& table : section.children("table")) {
      if (std::string(table.attribute("class").value()) == "items") card.items = text_of(table);
      for (const auto& body : table.children("tbody"))
        if (std::string(body.attribute("class").value()).find("inside") == std::string::npos)
          card.steps.push_back(text_of(body));
    }
    cards.push_back(std::move(card));
  }
  return cards;
}

void expect_cards_tell(const Trip& trip) {
  const auto& plan = trip.plan;
  const auto& structure = trip.context.structure;
  const auto cards = printed(cue_cards(trip.handout()));
  ASSERT_EQ(cards.size(), trip.excursion.crew.size());
  for (std::size_t c = 0; c < cards.size(); ++c) {
    std::vector<std::size_t> rows;
    for (std::size_t r = 0; r < plan.rows.size(); ++r)
      if (plan.rows[r].crew && plan.rows[r].crew->index() == c) rows.push_back(r);
    ASSERT_EQ(cards[c].steps.size(), rows.size()) << "each row of the plan is a step";
    for (std::size_t k = 0; k < rows.size(); ++k) {
      const auto& row = plan.rows[rows[k]];
      const std::string& step = cards[c].steps[k];
      EXPECT_THAT(step, HasSubstr(duration(row.from_s)));
      EXPECT_THAT(step, HasSubstr(report::what_words(row)));
      for (const auto& id : row.carried) EXPECT_THAT(step, HasSubstr(id));
      if (row.kind == RowKind::Wait || row.kind == RowKind::Hold) {
        EXPECT_THAT(step, HasSubstr("until"));
        EXPECT_THAT(step, HasSubstr(duration(row.to_s)));
      }
      if (row.what == What::Swap || row.what == What::Unhook) {
        EXPECT_THAT(step, HasSubstr("TETHER"));
        EXPECT_THAT(step, HasSubstr(row.subject));
      }
      if (row.what != What::Go) continue;
      const auto leg = plan.legs.find(rows[k]);
      ASSERT_NE(leg, plan.legs.end());
      for (const auto& told : leg->second.route.legs.front().rows) {
        EXPECT_THAT(step, HasSubstr(structure.rails[told.rail.index()].id));
        EXPECT_THAT(step, HasSubstr(duration(row.path[told.total_moves].arrives_s)));
      }
      for (const auto& zone : leg->second.route.zones) {
        if (zone.inside_s <= 0) continue;
        EXPECT_THAT(step, HasSubstr(structure.zones[zone.zone.index()].id));
        EXPECT_THAT(step, HasSubstr(duration(zone.inside_s)));
      }
      for (const auto& item : leg->second.route.band) {
        EXPECT_THAT(step, HasSubstr(structure.parts[item.part.index()].name));
        EXPECT_THAT(step, HasSubstr(report::bare_length_down(item.distance_m)));
      }
    }
    EXPECT_THAT(cards[c].text, HasSubstr("signature"));
    EXPECT_THAT(cards[c].head, HasSubstr(duration(plan.totals[c].inside_at_s)));
    for (const auto& stay : plan.stays)
      if (stay.where.crew == trip.excursion.crew[c].id)
        EXPECT_THAT(cards[c].items, HasSubstr(trip.excursion.items[stay.where.item.index()].id));
    for (const auto& row : plan.rows)
      if (!row.crew && row.from_s < plan.totals[c].inside_at_s)
        EXPECT_THAT(cards[c].text, HasSubstr(report::what_words(row)));
  }
  // Each violation stands on the card of whom it is, or on all.
  for (const auto& v : plan.violations)
    for (std::size_t c = 0; c < cards.size(); ++c)
      if (!v.crew || v.crew->index() == c)
        EXPECT_THAT(cards[c].text, HasSubstr(report::sentence(trip.context, plan, v)));
}

TEST(PlanCards, TellEachLegWithItsTimesAndWhatMustBeMinded) {
  expect_cards_tell(sample::short_trip());
  expect_cards_tell(busy());
  EXPECT_FALSE(busy().plan.violations.empty());
  std::size_t near_parts = 0;
  for (const auto& [r, leg] : busy().plan.legs) near_parts += leg.route.band.size();
  EXPECT_GT(near_parts, 3u);
  std::set<What> kinds;
  for (const auto& row : busy().plan.rows) kinds.insert(row.what);
  for (const auto what :
       {What::Swap, What::Unhook, What::WaitUntil, What::WaitHold, What::Throw, What::Hold, What::Take})
    EXPECT_TRUE(kinds.count(what)) << static_cast<int>(what);
}

TEST(PlanCards, HaveTheTimeHomeOfEachWaypoint) {
  const auto& trip = sample::short_trip();
  const auto handout = trip.handout();
  std::size_t compared = 0;
  for (std::size_t k = 0; k < handout.cards[0].steps.size(); ++k) {
    const auto& step = handout.cards[0].steps[k];
    for (const auto& point : step.waypoints) {
      ASSERT_TRUE(point.home_s) << step.text << " " << point.text;
      // From any moment of it one is inside no later than said: the moment that the plan looked at there.
      double most_s = 0;
      for (const auto& back : trip.plan.back)
        if (std::abs(back.at_s - point.at_s) < 1e-4) most_s = std::max(most_s, back.alone_s);
      if (most_s == 0) continue;
      EXPECT_GE(*point.home_s, most_s - 1e-5);
      EXPECT_LE(*point.home_s, *step.home_s + 60);
      ++compared;
    }
  }
  EXPECT_GT(compared, 5u);
}

TEST(PlanCards, SayWhatMustComeBackAndInWhichBagItIs) {
  const auto handout = busy().handout();
  const auto& items = handout.cards[0].items;
  ASSERT_EQ(items.size(), 3u);
  EXPECT_EQ(items[0].back, "inside");
  EXPECT_EQ(items[1].in, "outer");
  EXPECT_EQ(items[1].back, "inside");
  EXPECT_EQ(items[2].in, "inner");
  EXPECT_TRUE(handout.cards[1].items.empty());
  EXPECT_THAT(handout.cards[0].steps[3].with, HasSubstr("outer (in it: inner)"));
  // Of the short one the bag is left outside, and that is told.
  const auto bag = sample::short_trip().handout().cards[0].items;
  ASSERT_EQ(bag.size(), 1u);
  EXPECT_EQ(bag[0].back, "");
  EXPECT_THAT(bag[0].ends, HasSubstr("at collar-bag-stow"));
}

TEST(PlanCards, HoldNoMarkupOfNames) {
  const auto html = cue_cards(busy().handout());
  for (const char* markup : {"<b>day", "<crew>", "</script>", "<feed>"}) EXPECT_THAT(html, Not(HasSubstr(markup)));
  EXPECT_THAT(html, HasSubstr("outer &lt;/script&gt; bag"));
  const auto page = picture::html(busy().picture());
  const auto data = page.substr(page.find("id=\"data\">"));
  EXPECT_THAT(data.substr(0, data.find("</script>")), Not(HasSubstr("<")));
  (void)parsed(timeline_sheet(busy().handout()));
}

TEST(PlanTimeline, BarsAddUpToTheExcursion) {
  for (const auto* trip : {&sample::short_trip(), &busy()}) {
    const auto handout = trip->handout();
    for (std::size_t c = 0; c < handout.cards.size(); ++c) {
      double now_s = 0;
      for (const auto& step : handout.cards[c].steps) {
        EXPECT_NEAR(step.start_s, now_s, 2e-6) << "no gap, nothing at the same time";
        now_s = step.end_s;
      }
      EXPECT_NEAR(now_s, trip->plan.totals[c].inside_at_s, 2e-6);
    }
    // On the sheet they stand to scale.
    const auto document = parsed(timeline_sheet(handout));
    std::map<std::string, double> widths, seconds;
    std::size_t bars = 0;
    for (const auto& rect : document.child("svg").children("rect")) {
      const std::string kind = rect.attribute("class").value();
      if (kind.rfind("bar ", 0) != 0) continue;
      ++bars;
      widths[kind.substr(4) + " " + rect.attribute("data-row").value()] += rect.attribute("width").as_double();
    }
    for (const auto& row : trip->plan.rows) {
      const std::string who = row.crew ? trip->excursion.crew[row.crew->index()].id : "inside";
      seconds[std::string(report::kind_name(row.kind)) + " " + who] += row.to_s - row.from_s;
    }
    EXPECT_EQ(bars, trip->plan.rows.size());
    ASSERT_EQ(widths.size(), seconds.size());
    const double span_s = std::max(trip->excursion.limit_s, trip->plan.finish_s);
    for (const auto& [kind, sum_s] : seconds)
      EXPECT_NEAR(widths[kind], 374 * sum_s / span_s, 0.001 * static_cast<double>(bars)) << kind;
  }
}

TEST(PlanTimeline, CurveIsTheTimeHomeOfTheWorse) {
  const auto& trip = sample::short_trip();
  const auto handout = trip.handout();
  ASSERT_FALSE(handout.home.empty());
  double most_s = 0;
  for (const auto& point : handout.home) most_s = std::max(most_s, point.home_s.value());
  EXPECT_NEAR(most_s, trip.plan.back[*trip.plan.worst_back].longest_s(), 2e-6);
  for (std::size_t i = 1; i < handout.home.size(); ++i) EXPECT_GE(handout.home[i].at_s, handout.home[i - 1].at_s);
  for (const auto& back : trip.plan.back)
    EXPECT_TRUE(std::any_of(handout.home.begin(), handout.home.end(), [&](const HomePoint& p) {
      return std::abs(p.at_s - back.at_s) < 1e-5 && *p.home_s >= back.alone_s - 1e-5;
    }));
  EXPECT_TRUE(handout.carried.empty()) << "there is nobody to carry";
}

// ---- read back ----

TEST(ReadPlan, IsWhatWasWritten) {
  for (const auto* trip : {&sample::short_trip(), &busy()}) {
    const auto& read = trip->read.plan->plan;
    const auto& plan = trip->plan;
    ASSERT_EQ(read.rows.size(), plan.rows.size());
    for (std::size_t r = 0; r < plan.rows.size(); ++r) {
      const auto &a = read.rows[r], &b = plan.rows[r];
      EXPECT_EQ(a.crew, b.crew);
      EXPECT_EQ(a.kind, b.kind);
      EXPECT_EQ(a.what, b.what);
      EXPECT_EQ(a.subject, b.subject);
      EXPECT_EQ(a.other, b.other);
      EXPECT_EQ(a.carried, b.carried);
      EXPECT_EQ(a.path.size(), b.path.size());
      EXPECT_NEAR(a.to_s, b.to_s, 1e-6);
    }
    ASSERT_EQ(read.cautions.size(), plan.cautions.size());
    for (std::size_t k = 0; k < plan.cautions.size(); ++k) {
      EXPECT_EQ(read.cautions[k].zone, plan.cautions[k].zone);
      EXPECT_NEAR(read.cautions[k].stay_s, plan.cautions[k].stay_s, 1e-6);
    }
    EXPECT_EQ(read.legs.size(), plan.legs.size());
    EXPECT_EQ(read.stays.size(), plan.stays.size());
    EXPECT_EQ(read.back.size(), plan.back.size());
    EXPECT_EQ(read.violations.size(), plan.violations.size());
    for (const double at_s : {0.0, 2000.0, 3120.0, 1e5})
      EXPECT_EQ(plan::configuration_at(read, at_s), plan::configuration_at(plan, at_s));
    const model::Model model{trip->context.structure, trip->context.kit};
    const Trip again(model, model::Excursion(trip->excursion),
                     {.looks_back = !plan.back.empty(), .describes_legs = true});
    EXPECT_EQ(again.json, trip->json) << "the same bytes";
  }
}

TEST(ReadPlan, RefusesWhatNoPlanSays) {
  const auto& trip = busy();
  const auto with = [&](const char* where, const nlohmann::json& value) {
    auto document = nlohmann::json::parse(trip.json);
    document[nlohmann::json::json_pointer(where)] = value;
    try {
      const auto read = report::read_result("x.json", document.dump(), yard().structure, yard().kit);
      (void)cue_cards(handout_of(trip.context, *read.plan));
      return std::string("taken");
    } catch (const model::InputError& error) {
      return error.diagnostics().front().problem;
    }
  };
  EXPECT_EQ(with("/finish_s", trip.plan.finish_s), "taken");
  for (const auto& [where, value] :
       std::vector<std::pair<const char*, nlohmann::json>>{{"/rows/0/crew", "EV9"},
                                                           {"/rows/0/act", "dance"},
                                                           {"/rows/0/kind", "fun"},
                                                           {"/rows/0/to_s", -1},
                                                           {"/rows/0/from_s", 1e300},
                                                           {"/rows/3/carried", {"unknown"}},
                                                           {"/rows/3/hand", {1, 2}},
                                                           {"/crew/0/suit", "unknown"},
                                                           {"/crew/0/start", "nowhere"},
                                                           {"/crew/0/anchor", "nowhere"},
                                                           {"/crew", nlohmann::json::array()},
                                                           {"/items/0/load", "unknown"},
                                                           {"/items/0/stays/1/crew", "EV9"},
                                                           {"/items/0/stays/0/from_s", 1e6},
                                                           {"/violations/0/kind", "bad luck"},
                                                           {"/violations/0/crew", "EV9"},
                                                           {"/configuration/dish", "upside-down"},
                                                           {"/done/0", "unknown"},
                                                           {"/tasks", 3}})
    EXPECT_NE(with(where, value), "taken") << where;
  for (std::size_t r = 0; r < trip.plan.rows.size(); ++r) {
    if (trip.plan.rows[r].what != What::Go) continue;
    const std::string row = "/rows/" + std::to_string(r);
    for (const auto& [where, value] :
         std::vector<std::pair<std::string, nlohmann::json>>{{"/path/1/rail", "unknown"},
                                                             {"/path/1/arrives_s", 0},
                                                             {"/path/1/leaves_s", 1e8},
                                                             {"/waypoints", nlohmann::json::array()},
                                                             {"/waypoints/0/total_moves", 100000},
                                                             {"/waypoints/0/part", "unknown"},
                                                             {"/zones", {{{"zone", "unknown"}}}},
                                                             {"/path/1/loads", {{{"load", "unknown"}}}}})
      EXPECT_NE(with((row + where).c_str(), value), "taken") << where;
    break;
  }
}

// ---- the picture ----

/// Where a frame list puts an item.
Vec3 item_at(const Item& item, double at_s) {
  std::size_t k = 0;
  while (k + 1 < item.frames.size() && item.frames[k + 1].at_s <= at_s) ++k;
  const auto& frame = item.frames[k];
  if (!frame.is_gone) return frame.middle;
  const auto& next = item.frames[k + 1];
  return frame.middle + (at_s - frame.at_s) / (next.at_s - frame.at_s) * (next.middle - frame.middle);
}

TEST(ExcursionPicture, BodiesAndLoadsAreWhereThePlanHasThem) {
  for (const auto* trip : {&sample::short_trip(), &busy()}) {
    const auto picture = trip->picture();
    ASSERT_TRUE(picture.excursion);
    const auto& drawn = *picture.excursion;
    ASSERT_EQ(drawn.ways.size(), trip->excursion.crew.size());
    std::size_t bodies = 0, loads = 0;
    for (std::size_t r = 0; r < trip->plan.rows.size(); ++r) {
      const auto& row = trip->plan.rows[r];
      if (!row.crew) continue;
      const auto& way = picture.ways[drawn.ways[row.crew->index()]];
      for (std::size_t i = 0; i < row.path.size(); ++i) {
        const auto& stop = row.path[i];
        for (const double at_s : {stop.arrives_s, stop.leaves_s}) {
          const auto pose = std::find_if(way.poses.begin(), way.poses.end(),
                                         [&](const Pose& p) { return std::abs(p.at_s - at_s) < 2e-6; });
          ASSERT_NE(pose, way.poses.end());
          EXPECT_LT((pose->body - stop.body).norm(), 1e-5);
          ++bodies;
        }
        if (i == 0 && row.path.size() == 1) continue;
        // Where the next leg begins at once, loads may be taken in hand anew at the same moment.
        const double at_s = i + 1 == row.path.size() ? stop.arrives_s - 2e-6 : stop.arrives_s + 2e-6;
        for (const auto& load : trip->plan.legs.at(r).route.legs.front().poses[i].loads) {
          const auto id = *trip->excursion.find_item(row.carried[load.load]);
          EXPECT_LT((item_at(drawn.items[id.index()], at_s) - load.middle).norm(), 1e-4);
          ++loads;
        }
      }
      for (std::size_t k = 1; k < way.poses.size(); ++k) ASSERT_GE(way.poses[k].at_s, way.poses[k - 1].at_s);
    }
    EXPECT_GT(bodies, 50u);
    EXPECT_GT(loads, 20u);
  }
}

TEST(ExcursionPicture, CountsStandingAndWorkingInCautionZones) {
  const auto& trip = sample::short_trip();
  auto document = nlohmann::json::parse(trip.json);
  const std::string first = document["crew"][0]["id"];
  document["cautions"] = {{{"crew", first}, {"zone", "radiator-heat"}, {"stay_s", 900.0}},
                          {{"crew", first}, {"zone", "thruster-plume"}, {"stay_s", 100.5}}};
  const auto read = report::read_result("plan.json", document.dump(), trip.context.structure, trip.context.kit);
  const auto scene = geometry::build_scene(trip.context.structure, trip.plan.configuration, {.chord_error_m = 0.004});
  Picture picture = draw_structure(trip.context, scene);
  add_result(picture, trip.context, scene, read);
  ASSERT_TRUE(picture.excursion);
  EXPECT_NEAR(picture.ways[picture.excursion->ways[0]].caution_s, 1000.5, 1e-6);
  document["cautions"][0]["zone"] = "unknown";
  EXPECT_THROW((void)report::read_result("plan.json", document.dump(), trip.context.structure, trip.context.kit),
               model::InputError);
}

TEST(ExcursionPicture, ShowsBothPositionsWhileASwitchIsThrown) {
  const auto picture = busy().picture();
  const auto& drawn = *picture.excursion;
  ASSERT_EQ(drawn.settings.size(), 2u);
  ASSERT_EQ(drawn.stages.size(), 3u);
  EXPECT_EQ(drawn.stages[1].from_s, 3000);
  EXPECT_EQ(drawn.stages[1].settings, (std::vector<std::size_t>{0, 1}));
  EXPECT_EQ(drawn.stages[2].from_s, 3120);
  EXPECT_FALSE(drawn.more_parts.empty()) << "the dish is elsewhere";
  // What stands in the second setting is what that configuration has.
  auto thrown = busy().plan.configuration;
  thrown.positions["dish"] = "tracking";
  const auto scene = geometry::build_scene(yard().structure, thrown, {.chord_error_m = 0.004});
  const auto other = draw_structure(busy().context, scene);
  ASSERT_EQ(drawn.settings[1].parts.size(), other.parts.size());
  for (std::size_t i = 0; i < other.parts.size(); ++i) {
    const std::size_t n = drawn.settings[1].parts[i];
    const auto& part = n < picture.parts.size() ? picture.parts[n] : drawn.more_parts[n - picture.parts.size()];
    EXPECT_EQ(part.id, other.parts[i].id);
    EXPECT_EQ(part.mesh.vertices, other.parts[i].mesh.vertices);
  }
  EXPECT_EQ(drawn.settings[1].rails.size(), other.rails.size());
  EXPECT_EQ(drawn.settings[1].zones.size(), other.zones.size());
  EXPECT_EQ(drawn.settings[1].places.size(), other.places.size());
}

TEST(ExcursionPicture, IsOneOnAPageAndTheSameBytesAgain) {
  const auto& trip = sample::short_trip();
  EXPECT_EQ(html(trip.picture()), html(trip.picture()));
  const auto scene = geometry::build_scene(trip.context.structure, trip.plan.configuration, {.chord_error_m = 0.004});
  auto picture = trip.picture();
  EXPECT_THROW(add_result(picture, trip.context, scene, trip.read), model::InputError);
  // The sheet and the model of it have both crew members as routes.
  EXPECT_THAT(svg(trip.picture()).svg, HasSubstr("EV1, "));
}

}  // namespace
}  // namespace holdfast::picture
