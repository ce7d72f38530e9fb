// SPDX-License-Identifier: GPL-3.0-or-later
// Yards whose numbers are the bytes: on a coarse grid, so that rails meet, overlap and touch limits as they never do
// where numbers are drawn at random.

#include <fmt/format.h>

#include <set>

#include "reference_yard.h"
#include "targets.h"

namespace holdfast::fuzz {

namespace {

using support::Vec3;

class Numbers {
 public:
  explicit Numbers(std::string_view bytes) : bytes_(bytes) {}
  [[nodiscard]] bool is_at_end() const { return bytes_.empty(); }
  int pick(int below) { return next() % below; }
  /// One of 256 steps from `low` to `high`.
  double number(double low, double high) { return low + (high - low) * next() / 255; }

 private:
  int next() {
    if (bytes_.empty()) return 0;
    const auto byte = static_cast<unsigned char>(bytes_.front());
    bytes_.remove_prefix(1);
    return byte;
  }
  std::string_view bytes_;
};

model::Structure yard_of(Numbers& numbers) {
  support::YardBuilder yard;
  yard.structure.switches.push_back({"s", {"one", "two"}, "one", {}});
  const auto deck = yard.part("deck", model::Box{.center = {0, 0, 0.5}, .size = {6, 6, 1}});
  const int rails = 2 + numbers.pick(7);
  for (int r = 0; r < rails; ++r) {
    const Vec3 from(numbers.number(-2.5, 2.5), numbers.number(-1.5, 1.5), -0.07);
    const double length = numbers.number(0.1, 1.7);
    const Vec3 along = numbers.pick(3) == 0 ? Vec3(0, 1, 0) : Vec3(1, 0, 0);
    yard.rail("r" + std::to_string(r), deck, {from, from + length * along}, {-Vec3::UnitZ()});
  }
  for (int bodies = numbers.pick(4); bodies > 0; --bodies) {
    const Vec3 at(numbers.number(-2.5, 2.5), numbers.number(-1.5, 1.5), numbers.number(-2.2, -0.2));
    const double size = numbers.number(0.1, 0.6);
    const std::string id = "body-" + std::to_string(bodies);
    switch (numbers.pick(4)) {
      case 0:
        yard.part(id, model::Box{.center = at, .size = {size, 2 * size, size}});
        break;
      case 1:
        yard.part(id, model::Sphere{.center = at, .radius = size});
        break;
      default:
        yard.part(id, model::Cylinder{.from = at, .to = at + Vec3(size, 0.3, 1.2), .radius = size / 2});
    }
    if (numbers.pick(2) == 0) yard.structure.parts.back().when.any_of["s"] = {"two"};
  }
  for (int zones = numbers.pick(3); zones > 0; --zones)
    yard.zone("zone-" + std::to_string(zones),
              model::Sphere{.center = {numbers.number(-2.5, 2.5), numbers.number(-1.5, 1.5), numbers.number(-2, 0)},
                            .radius = numbers.number(0.05, 0.7)},
              numbers.pick(4) == 0 ? model::ZoneEffect::Caution : model::ZoneEffect::Forbid,
              {.body = numbers.pick(2) == 0, .hands = numbers.pick(2) == 0});
  yard.place("start", yard.structure.rails.front().points.front(), 0.4);
  yard.place("goal", yard.structure.rails.back().points.back(), 0.4);
  return yard.structure;
}

}  // namespace

void route(std::string_view input) {
  constexpr double slack = 0.01;  // moves within 1 cm of a limit may go either way, as in the test of the twin
  Numbers numbers(input);
  const auto structure = yard_of(numbers);
  const model::Configuration configuration{{{"s", numbers.pick(2) == 0 ? "one" : "two"}}};
  graph::Body body;
  if (numbers.pick(3) == 0) body.lean_rad = 0;
  std::vector<model::RailId> closed;
  if (numbers.pick(3) == 0)
    closed.emplace_back(static_cast<std::size_t>(numbers.pick(static_cast<int>(structure.rails.size()))));
  std::set<std::uint32_t> closed_set;
  for (const auto rail : closed) closed_set.insert(rail.value);

  const support::World world(structure, body, &configuration);
  const support::ReferenceYard twin(world.structure, body, world.kit.suits.front(), configuration, closed_set);
  require(twin.grips().size() == world.graph.grips().size(), "another number of grips");
  for (std::size_t g = 0; g < twin.grips().size(); ++g) {
    const auto& theirs = twin.grips()[g];
    const auto& ours = world.graph.grips()[g];
    require((theirs.hand - ours.hand).norm() < 1e-9, "a grip elsewhere");
    // Stances of the same clearance may be told apart by rounding; and with them all that follows.
    if (twin.is_stance_near_limit() || (theirs.stance - ours.stance).norm() > 1e-6) return;
  }

  const route::Profile profile{.kit = world.kit, .suit = world.kit.suits.front(), .closures = {closed}};
  const auto table = route::compute_costs(world.graph, profile, route::Objective::Time);
  std::set<std::pair<std::size_t, std::size_t>> ours, bold_pairs;
  for (std::size_t m = 0; m < world.graph.moves().size(); ++m)
    if (!table.by_move[m].is_blocked())
      ours.emplace(world.graph.moves()[m].a.index(), world.graph.moves()[m].b.index());
  const auto bold = twin.moves(slack), safe = twin.moves(-slack);
  for (const auto& m : bold) bold_pairs.emplace(m.a, m.b);
  for (const auto& m : safe) require(ours.count({m.a, m.b}) > 0, "a move is missing");
  for (const auto& pair : ours) require(bold_pairs.count(pair) > 0, "a move that should be closed");

  const auto& places = structure.places;
  const auto answer = world.route("start", "goal", route::Objective::Time, closed);
  const double least = twin.least_seconds(bold, slack, places[0], places[1]);
  const double most = twin.least_seconds(safe, -slack, places[0], places[1]);
  if (const auto* found = answer.route()) {
    const auto& suit = world.kit.suits.front();
    // Who is there already does not start.
    const double moving_s = found->moves == 0 ? found->time_s : found->time_s - suit.start_s - suit.stop_s;
    require(moving_s >= least - 1e-3,
            fmt::format("a route of {} s, {} moves and price {}, and the twin's quickest has {} s", moving_s,
                        found->moves, found->price_s, least));
    // Costs are rounded up to 1e-5 s a move. The price of a caution zone may lead round it.
    const bool has_caution = std::any_of(structure.zones.begin(), structure.zones.end(), [](const model::Zone& zone) {
      return zone.effect == model::ZoneEffect::Caution;
    });
    require(has_caution || moving_s <= most + 1e-4, "a quicker route is there");
  } else {
    require(!std::isfinite(most), "there is a route, and none is found");
    require(!answer.no_route()->causes.empty(), "a refusal without a cause");
  }
}

}  // namespace holdfast::fuzz
