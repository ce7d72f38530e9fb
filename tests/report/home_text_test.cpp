// SPDX-License-Identifier: GPL-3.0-or-later
// The way home, as a person reads it.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <limits>

#include "sample.h"

namespace holdfast::report {
namespace {

using route::HomeVerdict;
using testing::HasSubstr;
using testing::Not;

struct Yard {
  Yard() : structure_(sample::structure()), kit_(sample::kit()) {
    model::Place place;
    for (const auto& [id, kind] : {std::pair("hatch", model::PlaceKind::Hatch),
                                   {"mast-top", model::PlaceKind::Worksite},
                                   {"far-bay", model::PlaceKind::Stowage},
                                   {"lost", model::PlaceKind::Other}}) {
      place.id = place.name = id, place.kind = kind;
      structure_.places.push_back(place);
    }
    kit_.design.emergency_return_s = {1800, "a book", model::Confidence::Published};
    kit_.design.emergency_warn_s = {1200, "two thirds of it", model::Confidence::Practice};
  }
  [[nodiscard]] Context context() const { return {structure_, kit_, kit_.suits.front(), "models/sample", "9.8.7", {}}; }
  /// Up to what is assumed.
  template <class Result>
  [[nodiscard]] std::string page(const Result& result) const {
    const std::string whole = text(context(), result);
    return whole.substr(0, whole.find("Assumed, with sources:"));
  }
  model::Structure structure_;
  model::Kit kit_;
};

route::HomePlace place(std::size_t id, double time_s, double most_s, HomeVerdict verdict) {
  route::HomePlace row;
  row.place = model::PlaceId(id);
  row.has_route = true;
  row.time_s = time_s, row.most_s = most_s, row.verdict = verdict;
  row.moves = 12, row.distance_m = 7.251, row.hatch = "hatch";
  return row;
}

route::Cause tight(double up_to_s, double then_s) {
  route::Cause cause;
  cause.kind = route::CauseKind::LoadTooTight;
  cause.load = "bag";
  cause.rail = sample::drum_1, cause.rail_other = sample::drum_2, cause.part = sample::mast;
  cause.at = {1, 2, 3};
  cause.up_to_s = up_to_s, cause.up_to_m = up_to_s / 10, cause.up_to_moves = 5;
  cause.opens_alone = true, cause.then_time_s = then_s;
  return cause;
}

route::Home home_of(std::vector<std::string> loads) {
  route::Home home;
  home.head = sample::asked();
  home.head.request.closed_rails.clear();
  home.head.loads = std::move(loads);
  home.request.hatches = {"hatch"};
  home.time_by_grip_s = {0, 1, 2};
  return home;
}

TEST(HomeText, TellsTheRouteTheWorstGripAndWhatThePriceDid) {
  const Yard yard;
  auto home = home_of({});
  home.head.is_priced = true;
  home.priced_places = 1, home.priced_s = 8.2;
  route::HomePlace lost;
  lost.place = model::PlaceId(3);
  route::Cause reach;
  reach.rail = sample::drum_1, reach.rail_other = sample::mast_1;
  reach.value_m = 1.204, reach.limit_m = 0.61, reach.unavoidable_m = 1.1;
  lost.causes = {reach};
  home.places = {lost, place(2, 1799, 1801, HomeVerdict::Over), place(1, 100, 1300.5, HomeVerdict::Near),
                 place(0, 0, 0, HomeVerdict::Within)};
  home.worst = {{0, sample::mast_1, {1, 2, 3}, 1801}};
  home.grips_over = 1;
  EXPECT_EQ(yard.page(home), R"(Sample yard: the path home to hatch
  least time and price of caution zones, suit standard, nothing carried; arm=stowed dish=tracking

NOT every place is back inside within 0:30:00: 1 too far, 1 without a path; 1 above 0:20:00.

  place     kind          time  at most   margin  moves       m  verdict
  lost      other            -        -        -      -       -  NO PATH
  far-bay   stowage    0:29:59  0:30:01  -0:00:01     12    7.26  TOO FAR
  mast-top  worksite   0:01:40  0:21:41  0:08:19     12    7.26  near the limit
  hatch     hatch      0:00:00  0:00:00  0:30:00     12    7.26  within

No path home from lost. Out of reach: the rails that can be reached end at rail drum-1 (0.00, 0.00, 0.00); the nearest
  beyond is rail mast-1 (0.00, 0.00, 0.00), 1.21 m away, and a hand reaches 0.61 m. Hopping over whatever rails lie
  between, a gap of 1.10 m cannot be avoided.

From 1 of these places a path through a caution zone is quicker, by 0:00:09 at most: the price of that time decided.
  --no-price gives the quickest.
Of 3 grips 1 are too far, 0 near the limit, 0 have no path home. Farthest of each part:
  0:30:01  mast-1  mast, (1.00, 2.00, 3.00)

Limit 0:30:00: a book. Warning above 0:20:00: two thirds of it. Time: of the route that `route` gives from the place. At
  most: from the grip of the place from which it takes longest; margin and verdict count that. Opening the hatch and
  getting in are not counted.

)");
}

TEST(HomeText, WithALoadTellsHowFarItGetsAndWhatIsNotProven) {
  const Yard yard;
  auto home = home_of({"bag"});
  route::HomePlace stuck, lost;
  stuck.place = model::PlaceId(2), stuck.is_certain = false, stuck.causes = {tight(80, 200)};
  lost.place = model::PlaceId(3), lost.causes = {tight(61, 190)};
  home.places = {lost, stuck, place(1, 100, 100, HomeVerdict::Within)};
  home.places[2].may_save_s = 11.1;
  EXPECT_EQ(yard.page(home), R"(Sample yard: the path home to hatch
  least time, suit standard, load bag; arm=stowed dish=tracking

NOT every place is back inside within 0:30:00: 0 too far, 2 without a path.

  place     kind          time   margin  moves       m  verdict
  lost      other            -        -      -       -  NO PATH
  far-bay   stowage          -        -      -       -  NO PATH FOUND, not proven
  mast-top  worksite   0:01:40  0:28:20     12    7.26  within; a better path may save 0:00:12 at most

No path home from lost, far-bay. Too tight for the load: bag of 1.20 m x 0.70 m x 0.60 m does not pass between rails
  drum-1 and drum-2 (1.00, 2.00, 3.00) beside mast.
  from     gets there in  moves       m  home, if it passed
  lost           0:01:01      5    6.10             0:03:10
  far-bay        0:01:20      5    8.00             0:03:20  not proven
  Not proven: of paths with the load in much the same place one was followed, and none of these passes. Nothing says
  that another one does.

Limit 0:30:00: a book. Warning above 0:20:00: two thirds of it. Time: of the route that `route` gives, from the grip of
  the place that is best to leave from, with taking up and putting down. Where nothing else is said no path is quicker.
  Opening the hatch and getting in are not counted.

)");
}

TEST(HomeText, AlongARouteNamesTheHatchAndTheLeastMargin) {
  const Yard yard;
  route::HomeAlong along;
  along.head = sample::asked();
  along.head.request.closed_rails.clear();
  along.request.hatches = {"hatch", "lost"};
  along.route = "out.json";
  for (std::size_t row = 0; row < 3; ++row) {
    route::HomeWaypoint point;
    point.row = row, point.rail = row == 0 ? sample::drum_1 : sample::mast_1;
    point.at_s = 20.0 * static_cast<double>(row);
    point.has_way = true, point.time_s = point.at_s, point.most_s = point.at_s + 5, point.moves = row;
    point.hatch = row < 2 ? "hatch" : "lost";
    point.verdict = HomeVerdict::Within;
    along.waypoints.push_back(point);
  }
  along.worst = 2;
  EXPECT_EQ(yard.page(along), R"(Sample yard: home to hatch or lost from each waypoint of out.json
  least time, suit standard, nothing carried; arm=stowed dish=tracking

Back inside within 0:30:00 from every waypoint. The least margin is 0:29:15, at waypoint 2, 0:00:40 after the start.

      #  rail     passed     time  at most   margin  moves       m  to     verdict
      0  drum-1  0:00:00  0:00:00  0:00:05  0:29:55      0    0.00  hatch  within
      1  mast-1  0:00:20  0:00:20  0:00:25  0:29:35      1    0.00  hatch  within
      2  mast-1  0:00:40  0:00:40  0:00:45  0:29:15      2    0.00  lost   within

Limit 0:30:00: a book. Warning above 0:20:00: two thirds of it. What the route carries is left where one turns home.
  Time: from the waypoint. At most: from the worst grip since the waypoint before; margin and verdict count that.
  Opening the hatch and getting in are not counted.

)");
  along.waypoints[2].verdict = HomeVerdict::Over;
  EXPECT_THAT(yard.page(along), HasSubstr("NOT back inside within 0:30:00 from 1 of 3 waypoints.\n"));
  const std::string table = csv(yard.context(), along);
  EXPECT_THAT(table, HasSubstr("leg,waypoint,rail,x,y,z,at_s,verdict,time_s,most_s,margin_s,distance_m,moves,"
                               "may_save_s,hatch,certain,cause\r\n"));
  EXPECT_THAT(table, HasSubstr("1,2,mast-1,0,0,0,40,over,40,45,1755,0,2,,lost,yes,\r\n"));
}

}  // namespace
}  // namespace holdfast::report
