// SPDX-License-Identifier: GPL-3.0-or-later
// What is named as the cause of a refusal: true, complete (lifting all of it opens a route) and no more than is needed.

#include <gtest/gtest.h>

#include <algorithm>
#include <limits>
#include <map>
#include <numbers>
#include <random>
#include <set>

#include "holdfast/route/choices.h"
#include "reference_yard.h"

namespace holdfast::route {
namespace {

using model::RailId;
using model::ZoneId;
using support::World;
using support::YardBuilder;

constexpr double infinity = std::numeric_limits<double>::infinity();

/// What a set of causes says to lift.
struct Lift {
  std::set<std::uint32_t> zones, rails;
  double turn_rad = 0;
  double width_m = infinity;
  bool hand_line = false;

  void add(const Cause& cause) {
    for (const auto zone : cause.zones) zones.insert(zone.value);
    for (const auto rail : cause.rails) rails.insert(rail.value);
    if (cause.kind == CauseKind::TurnLimit) turn_rad = std::max(turn_rad, cause.value_rad);
    if (cause.kind == CauseKind::BodyTooTight) width_m = std::min(width_m, cause.value_m);
    if (cause.kind == CauseKind::HandLineBlocked) hand_line = true;
  }
};

Lift lift_of(const std::vector<Cause>& causes) {
  Lift lift;
  for (const auto& cause : causes) lift.add(cause);
  return lift;
}

/// A second opinion on what is open under a lift: every move judged by itself, and flooding instead of searching.
class Flood {
 public:
  Flood(const World& world, const std::vector<RailId>& closed) : world_(world) {
    const auto& graph = world.graph;
    for (const auto rail : closed) closed_.insert(rail.value);
    for (std::size_t z = 0; z < graph.structure().zones.size(); ++z) {
      const auto& zone = graph.structure().zones[z];
      forbids_.push_back(zone.effect == model::ZoneEffect::Forbid && zone.when.holds(graph.scene().configuration()));
    }
    for (std::size_t m = 0; m < graph.moves().size(); ++m) {
      auto move = graph.move(graph::MoveId(m));
      if (!move.is_open()) {
        move = graph.judge(graph::MoveId(m));
        if (!move.is_body_clear)
          move.clearance_lower_m =
              std::max(move.clearance_lower_m, graph.compute_clearance(graph::MoveId(m), 0.001).lower_m);
      }
      moves_.push_back(move);
    }
  }

  [[nodiscard]] bool stands(graph::GripId g, const Lift& lift) const {
    const auto& grip = world_.graph.grip(g);
    const double needed = world_.graph.body().corridor_radius_m - graph::length_tolerance_m;
    return (grip.clearance_lower_m >= needed || 2 * grip.clearance_lower_m >= lift.width_m - 1e-9) &&
           is_held(grip.rail, lift) && is_outside(world_.graph.zones(g), lift);
  }

  [[nodiscard]] bool passes(std::size_t m, const Lift& lift) const {
    const auto& move = moves_[m];
    const auto& graph = world_.graph;
    return (move.is_turn_allowed || move.turn_rad <= lift.turn_rad + 1e-9) &&
           (move.is_hand_line_clear || lift.hand_line) &&
           (move.is_body_clear || 2 * move.clearance_lower_m >= lift.width_m - 1e-9) &&
           is_held(graph.grip(move.a).rail, lift) && is_held(graph.grip(move.b).rail, lift) &&
           is_outside(graph.zones(graph::MoveId(m)), lift);
  }

  /// A route through all places, each leg from a grip where the one before may end.
  [[nodiscard]] bool is_open(const std::vector<const model::Place*>& places, const Lift& lift) const {
    const auto& graph = world_.graph;
    std::set<std::uint32_t> at;
    for (const auto g : grips_at(*places.front()))
      if (stands(g, lift)) at.insert(g.value);
    for (std::size_t leg = 1; leg < places.size(); ++leg) {
      std::vector<std::uint32_t> open(at.begin(), at.end());
      std::set<std::uint32_t> seen = at;
      while (!open.empty()) {
        const auto g = open.back();
        open.pop_back();
        for (const auto& arc : graph.adjacency().out(g))
          if (!seen.count(arc.head) && passes(arc.move, lift)) seen.insert(arc.head), open.push_back(arc.head);
      }
      at.clear();
      for (const auto g : grips_at(*places[leg]))
        if (seen.count(g.value) && stands(g, lift)) at.insert(g.value);
    }
    return !at.empty();
  }

  [[nodiscard]] std::vector<graph::GripId> grips_at(const model::Place& place) const {
    return world_.graph.find_grips_within(place.at, place.within_m);
  }

 private:
  bool is_held(RailId rail, const Lift& lift) const {
    return !closed_.count(rail.value) || lift.rails.count(rail.value);
  }
  bool is_outside(std::span<const graph::ZoneLabel> labels, const Lift& lift) const {
    return std::all_of(labels.begin(), labels.end(), [&](const auto& label) {
      return !forbids_[label.zone.index()] || lift.zones.count(label.zone.value);
    });
  }

  const World& world_;
  std::set<std::uint32_t> closed_;
  std::vector<bool> forbids_;
  std::vector<graph::Move> moves_;
};

/// A random yard with more in the way: zones at the ends and between, roofs, closed rails, a smaller turn.
struct Trouble {
  model::Structure structure;
  graph::Body body;
  std::vector<RailId> closed;
};

Trouble trouble(std::mt19937_64& random) {
  const auto uniform = [&](double low, double high) {
    return std::uniform_real_distribution<double>(low, high)(random);
  };
  const auto pick = [&](int n) { return std::uniform_int_distribution<int>(0, n - 1)(random); };
  Trouble made;
  made.structure = support::random_yard(random);
  auto& s = made.structure;
  const auto add_zone = [&](const Vec3& at, double radius) {
    model::Zone zone;
    zone.id = "more-" + std::to_string(s.zones.size()), zone.reason = "test", zone.effect = model::ZoneEffect::Forbid;
    zone.shape = model::Sphere{.center = at, .radius = radius};
    zone.applies.body = true;
    s.zones.push_back(zone);
  };
  for (const auto& place : s.places)
    if (pick(3) == 0) add_zone(place.at + Vec3(uniform(-0.4, 0.4), uniform(-0.4, 0.4), -0.5), uniform(0.1, 0.6));
  for (int k = pick(4); k > 0; --k) add_zone({uniform(-2.5, 2.5), uniform(-1.5, 1.5), -0.6}, uniform(0.2, 0.7));
  if (pick(3) == 0) {
    model::Part roof = s.parts.front();
    roof.id = "roof";
    roof.shape = model::Box{.center = {uniform(-2, 2), 0, -uniform(1.2, 1.5)}, .size = {uniform(0.3, 1), 9, 0.4}};
    s.parts.push_back(roof);
  }
  for (int k = pick(4); k > 0; --k) made.closed.emplace_back(static_cast<std::size_t>(pick(int(s.rails.size()))));
  if (pick(4) == 0)
    for (std::size_t r = 0; r < s.rails.size(); ++r)
      if ((s.rails[r].points.front() - s.places[static_cast<std::size_t>(pick(3))].at).norm() < 1.2)
        made.closed.emplace_back(r);
  std::sort(made.closed.begin(), made.closed.end());
  made.closed.erase(std::unique(made.closed.begin(), made.closed.end()), made.closed.end());
  if (pick(3) == 0) made.body.turn_limit_rad = 0.6;
  if (pick(2) == 0) made.body.lean_rad = 0;  // then stances do not hang on the corridor
  made.body.reach_m = uniform(0.61, 0.9);
  return made;
}

bool is_final(const std::vector<Cause>& causes) {
  return std::any_of(causes.begin(), causes.end(), [](const Cause& cause) {
    return cause.kind == CauseKind::Reach || cause.kind == CauseKind::NoGripNear;
  });
}

TEST(WhyNot, LiftingAllThatIsNamedAlwaysOpensARoute) {
  int refusals = 0, together = 0, at_ends = 0, rebuilt = 0;
  std::map<CauseKind, int> kinds;
  for (int seed = 0; seed < 200; ++seed) {
    SCOPED_TRACE("seed " + std::to_string(seed));
    std::mt19937_64 random(static_cast<std::uint64_t>(seed));
    const Trouble made = trouble(random);
    const World world(made.structure, made.body);
    std::optional<Flood> flood;
    const auto& places = world.structure.places;
    const std::vector<std::vector<std::size_t>> questions = {{0, 1}, {2, 0}, {0, 2, 1}};
    for (const auto& question : questions) {
      std::vector<const model::Place*> asked;
      std::vector<std::string> via;
      for (const auto p : question) asked.push_back(&places[p]);
      for (std::size_t i = 1; i + 1 < question.size(); ++i) via.push_back(asked[i]->id);
      const auto answer = world.route(asked.front()->id, asked.back()->id, Objective::Time, made.closed, via);
      if (!answer.no_route()) continue;
      if (!flood) flood.emplace(world, made.closed);
      const auto& causes = answer.no_route()->causes;
      EXPECT_FALSE(flood->is_open(asked, {}));
      if (is_final(causes)) {
        Lift all = lift_of({});
        all.turn_rad = infinity, all.width_m = -infinity, all.hand_line = true;
        for (std::uint32_t z = 0; z < world.structure.zones.size(); ++z) all.zones.insert(z);
        for (const auto rail : made.closed) all.rails.insert(rail.value);
        EXPECT_FALSE(flood->is_open(asked, all)) << "said to be out of reach";
        continue;
      }
      ++refusals;
      const Lift named = lift_of(causes);
      EXPECT_TRUE(flood->is_open(asked, named));
      for (const auto& cause : causes) {
        ++kinds[cause.kind];
        if (cause.kind == CauseKind::TurnLimit) EXPECT_GT(cause.value_rad, made.body.turn_limit_rad);
        if (cause.kind == CauseKind::BodyTooTight) EXPECT_LT(cause.value_m, cause.limit_m);
        if (cause.grips_of > 0) {
          ++at_ends;
          const auto place = *world.structure.find_place(cause.place);
          const auto grips = flood->grips_at(places[place.index()]);
          ASSERT_EQ(cause.grips_of, grips.size());
          const auto closed_by_it = std::count_if(grips.begin(), grips.end(), [&](graph::GripId g) {
            const auto& grip = world.graph.grip(g);
            if (cause.kind == CauseKind::BodyTooTight)
              return grip.clearance_lower_m < made.body.corridor_radius_m - graph::length_tolerance_m;
            if (cause.kind == CauseKind::OnClosedRails)
              return std::find(cause.rails.begin(), cause.rails.end(), grip.rail) != cause.rails.end();
            const auto labels = world.graph.zones(g);
            return std::any_of(labels.begin(), labels.end(), [&](const auto& label) {
              return std::find(cause.zones.begin(), cause.zones.end(), label.zone) != cause.zones.end();
            });
          });
          EXPECT_EQ(cause.grips, static_cast<std::size_t>(closed_by_it));
        }
      }
      if (question.size() > 2) continue;
      // Of one leg: each that is said to open a route alone does, and of those needed together each is needed.
      std::vector<Cause> needed;
      for (const auto& cause : causes) {
        EXPECT_EQ(flood->is_open(asked, lift_of({cause})), cause.opens_alone) << static_cast<int>(cause.kind);
        if (!cause.opens_alone && cause.then_time_s > 0) needed.push_back(cause);
      }
      if (std::none_of(causes.begin(), causes.end(), [](const Cause& c) { return c.opens_alone; })) {
        ++together;
        EXPECT_TRUE(flood->is_open(asked, lift_of(needed)));
        for (const auto& cause : needed) EXPECT_EQ(cause.then_time_s, needed.front().then_time_s);
      }
      // The model itself without them: what cannot be taken out of it is the structure in the hand's line, and with
      // leaning another corridor has other stances.
      if (named.hand_line || (std::isfinite(named.width_m) && made.body.lean_rad > 0)) continue;
      ++rebuilt;
      for (const auto& cause : causes) {
        if (!cause.opens_alone) continue;
        const Lift lift = lift_of({cause});
        auto structure = made.structure;
        for (const auto zone : lift.zones) structure.zones[zone].applies = {};
        auto body = made.body;
        body.turn_limit_rad = std::max(body.turn_limit_rad, lift.turn_rad);
        body.corridor_radius_m = std::min(body.corridor_radius_m, lift.width_m / 2);
        std::vector<RailId> closed;
        for (const auto rail : made.closed)
          if (!lift.rails.count(rail.value)) closed.push_back(rail);
        const auto then =
            World(structure, body).route(asked.front()->id, asked.back()->id, Objective::Time, closed, via);
        ASSERT_TRUE(then.route());
        // A narrower corridor also keeps out of more zones.
        if (cause.kind == CauseKind::BodyTooTight)
          EXPECT_LE(then.route()->time_s, cause.then_time_s + 1e-6);
        else
          EXPECT_NEAR(then.route()->time_s, cause.then_time_s, 1e-6);
      }
    }
  }
  EXPECT_GT(refusals, 100);
  EXPECT_GT(together, 10);
  EXPECT_GT(at_ends, 25);
  EXPECT_GT(rebuilt, 40);
  for (const auto kind : {CauseKind::InZone, CauseKind::OnClosedRails, CauseKind::TurnLimit, CauseKind::HandLineBlocked,
                          CauseKind::BodyTooTight, CauseKind::Zones, CauseKind::Closures})
    EXPECT_GT(kinds[kind], 3) << static_cast<int>(kind);
}

const Vec3 zenith = -Vec3::UnitZ();

/// One straight rail in free space, from `a` at 0 to `b` at 12 m.
struct Line : YardBuilder {
  Line() : on(nowhere()) {}
  RailId add(const std::string& id, double from, double to) {
    return rail(id, on, {{from, 0, 0}, {to, 0, 0}}, {zenith});
  }
  void ends(double from, double to, double within = 0.05) {
    place("a", {from, 0, 0}, within), place("b", {to, 0, 0}, within);
  }
  model::PartId on;
};

std::vector<Cause> causes_of(const Answer& answer) {
  EXPECT_TRUE(answer.no_route()) << "there is a route";
  return answer.no_route() ? answer.no_route()->causes : std::vector<Cause>{};
}

TEST(WhyNot, NamesBothZonesWhereOneLiesAtTheStart) {
  Line yard;
  yard.add("r", 0, 12);
  yard.ends(0, 12);
  yard.zone("start", model::Sphere{.center = {0, 0, -0.6}, .radius = 0.4});
  yard.zone("between", model::Sphere{.center = {8, 0, -0.6}, .radius = 0.4});
  const auto causes = causes_of(World(yard.structure).route("a", "b"));
  ASSERT_EQ(causes.size(), 2u);
  EXPECT_EQ(causes[0].kind, CauseKind::InZone);
  EXPECT_EQ(causes[0].grips, causes[0].grips_of);
  EXPECT_FALSE(causes[0].opens_alone);
  EXPECT_EQ(causes[1].kind, CauseKind::Zones);
  EXPECT_EQ(causes[1].zones.size(), 2u);
  EXPECT_TRUE(causes[1].opens_alone);
}

TEST(WhyNot, NamesBothClosedRailsWhereOneLiesAtTheGoal) {
  Line yard;
  yard.add("first", 0, 4);
  const auto middle = yard.add("middle", 4.3, 8), last = yard.add("last", 8.3, 12);
  yard.ends(0, 12);
  const auto causes = causes_of(World(yard.structure).route("a", "b", Objective::Time, {middle, last}));
  ASSERT_EQ(causes.size(), 2u);
  EXPECT_EQ(causes[0].kind, CauseKind::OnClosedRails);
  EXPECT_EQ(causes[0].place, "b");
  EXPECT_EQ(causes[0].rails, std::vector<RailId>{last});
  EXPECT_FALSE(causes[0].opens_alone);
  EXPECT_EQ(causes[1].kind, CauseKind::Closures);
  EXPECT_EQ(causes[1].rails, (std::vector<RailId>{middle, last}));
  EXPECT_TRUE(causes[1].opens_alone);
}

TEST(WhyNot, NamesAZoneAndAClosedRailThatAreNeededTogether) {
  Line yard;
  yard.add("first", 0, 4);
  const auto last = yard.add("last", 4.3, 12);
  yard.ends(0, 12);
  yard.zone("start", model::Sphere{.center = {0, 0, -0.6}, .radius = 0.4});
  const auto causes = causes_of(World(yard.structure).route("a", "b", Objective::Time, {last}));
  ASSERT_EQ(causes.size(), 2u) << "and no turn limit: the rail is straight";
  EXPECT_EQ(causes[0].kind, CauseKind::InZone);
  EXPECT_EQ(causes[1].kind, CauseKind::OnClosedRails);
  for (const auto& cause : causes) {
    EXPECT_FALSE(cause.opens_alone);
    EXPECT_GT(cause.then_time_s, 0);
  }
}

TEST(WhyNot, GripsOfAPlaceThatDifferentRulesCloseAreToldByTheirShares) {
  Line yard;
  const auto left = yard.add("left", 0, 0.6), right = yard.add("right", 0.9, 12);
  yard.ends(0.75, 12, 0.2);  // the last grip of one and the first of the other
  yard.zone("z", model::Sphere{.center = {0.9, 0, 0}, .radius = 0.1}, model::ZoneEffect::Forbid, {.hands = true});
  const auto causes = causes_of(World(yard.structure).route("a", "b", Objective::Time, {left}));
  (void)right;
  std::map<CauseKind, Cause> by_kind;
  for (const auto& cause : causes) by_kind[cause.kind] = cause;
  ASSERT_TRUE(by_kind.count(CauseKind::InZone));
  ASSERT_TRUE(by_kind.count(CauseKind::OnClosedRails));
  for (const auto kind : {CauseKind::InZone, CauseKind::OnClosedRails}) {
    EXPECT_EQ(by_kind[kind].grips, 1u);
    EXPECT_EQ(by_kind[kind].grips_of, 2u);
  }
}

/// Over random handholds in space, with places that stand on several islands: the widest gap on the best line of
/// stepping stones, by relaxing every pair until nothing changes.
TEST(WhyNot, UnavoidableGapIsTakenOverAllIslandsOfThePlaces) {
  int compared = 0, several = 0;
  for (int seed = 0; seed < 400; ++seed) {
    SCOPED_TRACE("seed " + std::to_string(seed));
    std::mt19937_64 random(static_cast<std::uint64_t>(seed));
    const auto uniform = [&](double low, double high) {
      return std::uniform_real_distribution<double>(low, high)(random);
    };
    YardBuilder yard;
    const auto on = yard.nowhere();
    std::vector<Vec3> hands;
    for (int i = 0; i < 14; ++i) {
      hands.emplace_back(uniform(0, 8), uniform(0, 3), 0);
      yard.rail("hold-" + std::to_string(i), on, {hands.back()}, {zenith});
    }
    yard.place("a", {1, 1.5, 0}, 1.5), yard.place("b", {7, 1.5, 0}, 1.5);
    const World world(yard.structure);
    const auto answer = world.route("a", "b");
    if (!answer.no_route() || answer.no_route()->causes.front().kind != CauseKind::Reach) continue;
    const auto& cause = answer.no_route()->causes.front();
    const double reach = world.graph.body().reach_m;
    std::vector<double> widest(hands.size(), infinity);
    const auto is_at = [&](std::size_t i, const char* id) {
      const auto& place = yard.structure.places[yard.structure.find_place(id)->index()];
      return (hands[i] - place.at).norm() <= place.within_m;
    };
    for (std::size_t i = 0; i < hands.size(); ++i)
      if (is_at(i, "a")) widest[i] = 0;
    for (std::size_t round = 0; round < hands.size(); ++round)
      for (std::size_t i = 0; i < hands.size(); ++i)
        for (std::size_t j = 0; j < hands.size(); ++j) {
          const double gap = (hands[i] - hands[j]).norm();
          widest[j] = std::min(widest[j], std::max(widest[i], gap <= reach ? 0 : gap));
        }
    double least = infinity;
    for (std::size_t i = 0; i < hands.size(); ++i)
      if (is_at(i, "b")) least = std::min(least, widest[i]);
    EXPECT_NEAR(cause.unavoidable_m, least, 1e-9);
    EXPECT_GE(cause.value_m, cause.unavoidable_m - 1e-9);
    ++compared;
    const auto sources = std::count_if(widest.begin(), widest.end(), [](double w) { return w == 0; });
    if (sources > 1) ++several;
  }
  EXPECT_GT(compared, 200);
  EXPECT_GT(several, 100);
}

/// A bag carried beside the body through a limit zone that the body keeps out of: the least stay is the bag's.
TEST(WhyNot, LeastStayInALimitZoneIsThatOfTheLoadWhereItAloneEnters) {
  model::Load bag;
  bag.id = bag.name = "bag";
  bag.size_m = {0.3, 0.3, 0.3}, bag.offset_m = {0, 0.7, 0};
  bag.mass_kg = {10, "test", model::Confidence::Practice}, bag.stow_s = {10, "test", model::Confidence::Practice};
  const auto ask = [&](double middle, double limit_s) {
    Line yard;
    yard.add("r", 0, 6);
    yard.ends(0, 6);
    const auto zone = yard.zone("cold", model::Sphere{.center = {middle, -0.7, -0.55}, .radius = 0.25},
                                model::ZoneEffect::Limit, {.load = true});
    yard.structure.zones[zone.index()].limit_s = limit_s;
    const World world(yard.structure);
    return find_route(world.graph, {.kit = world.kit, .suit = world.kit.suits.front(), .loads = {&bag}},
                      {.from = "a", .to = "b"});
  };
  const auto least = causes_of(ask(3, 0.5));
  ASSERT_EQ(least.size(), 1u);
  EXPECT_EQ(least[0].kind, CauseKind::ZoneTime);
  // A box of 0.3 m passes a ball of 0.5 m: 0.8 m of travel is 8 s at 0.1 m/s with a load, whole moves counted.
  EXPECT_GT(least[0].value_s, 0.5);
  // Allowed exactly as long as it takes at least, it opens; a hundredth of a second less, it does not.
  const auto open = ask(3, least[0].value_s + 1e-6);
  ASSERT_TRUE(open.route());
  EXPECT_LE(open.route()->zones.at(0).inside_s, least[0].value_s + 1e-6);
  EXPECT_TRUE(ask(3, least[0].value_s - 0.01).no_route());
  // Where the bag is inside while its mover stands, too, no route is told that stays longer than it may.
  for (const double at : {0.0, 0.2, 6.0})
    for (const double limit_s : {1.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 60.0}) {
      const auto answer = ask(at, limit_s);
      if (!answer.route()) continue;
      for (const auto& contact : answer.route()->zones) EXPECT_LE(contact.inside_s, limit_s) << at;
    }
}

TEST(WhyNot, AGivenRouteIsClosedByTheRuleThatClosesIt) {
  // A way that a mover of larger limits took, looked at for one of smaller: never 'too tight' where the turn limit or
  // the hand's line closes it.
  YardBuilder yard;
  const auto on = yard.nowhere();
  yard.rail("a", on, {{0, 0, 0}}, {zenith});
  yard.rail("b", on, {{0.4, 0, 0}}, {Vec3(0.9, 0, -0.5)});
  graph::Body wide;
  wide.turn_limit_rad = 1.5;
  const World able(yard.structure, wide);
  const auto went = able.route("a", "b");
  ASSERT_TRUE(went.route());
  graph::Body stiff;
  stiff.turn_limit_rad = 0.5;
  const World world(yard.structure, stiff);
  const auto given = given_way(world.structure, *went.route(), "way");
  const Profile profile{.kit = world.kit, .suit = world.kit.suits.front()};
  const auto comparison = compare_ways(world.graph, profile, {.from = "a", .to = "b"}, {given}, {Loads{}});
  const auto causes = causes_of(comparison.rows.front().answer);
  ASSERT_EQ(causes.size(), 1u);
  EXPECT_EQ(causes[0].kind, CauseKind::TurnLimit);
  EXPECT_NEAR(causes[0].value_rad, std::acos(0.5 / std::hypot(0.9, 0.5)), 1e-9);
  EXPECT_EQ(causes[0].limit_rad, 0.5);
}

}  // namespace
}  // namespace holdfast::route
