// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/graph/kept_graph.h"

#include <tbb/blocked_range.h>
#include <tbb/parallel_for.h>
#include <tbb/parallel_invoke.h>

#include <atomic>
#include <cmath>

#include "holdfast/geometry/kept_scene.h"
#include "holdfast/store/bytes.h"
#include "holdfast/store/store.h"
#include "kept_graph_impl.h"

namespace holdfast::graph {

namespace detail {

using model::PartId;
using model::RailId;
using store::Reader;
using store::Writer;

namespace {

constexpr std::string_view kind = "graph";

// What stands together is in rows of one size, so that all cores can unpack them.
constexpr std::size_t grip_size = 2 * sizeof(std::uint32_t) + 11 * sizeof(double);
constexpr std::size_t move_size = 2 * sizeof(std::uint32_t) + 4 * sizeof(double) + 1;
constexpr std::size_t label_size = 2 * sizeof(std::uint32_t) + 1;

enum Flag : std::uint8_t { at_least = 1, turn_allowed = 2, hand_line_clear = 4, body_clear = 8, rail_change = 16 };
constexpr std::uint8_t all_flags = 31;

/// The frame of what stands on a part; of an absent part nothing is known but that.
void put_frame(Writer& out, const geometry::Scene& scene, const std::optional<PartId>& part) {
  out.put(part.has_value());
  if (!part) return;
  const bool is_present = scene.structure().is_present(*part, scene.configuration());
  out.put(part->value), out.put(is_present);
  if (is_present) out.put(scene.structure().pose(*part, scene.configuration()).matrix());
}

void put_rail(Writer& out, const geometry::Scene& scene, RailId id) {
  // Named one by one, so that a new field is not forgotten: of these, id, load limit and mark shape no graph.
  const auto& [name, part, points, outward, use, load_limit_n, when, mark] = scene.structure().rails[id.index()];
  const bool is_used = use.hands && scene.structure().is_present(id, scene.configuration());
  out.put(is_used), out.put(part.value);
  if (!is_used) return;
  put_frame(out, scene, part);
  out.put(static_cast<std::uint64_t>(points.size()));
  for (const auto& point : points) out.put(point);
  out.put(static_cast<std::uint64_t>(outward.size()));
  for (const auto& directions : outward) {
    out.put(static_cast<std::uint64_t>(directions.size()));
    for (const auto& direction : directions) out.put(direction);
  }
}

void put_shape(Writer& out, const geometry::Scene& scene, const model::ZoneShape& shape) {
  out.put(static_cast<std::uint64_t>(shape.index()));
  std::visit(
      [&](const auto& s) {
        using T = std::decay_t<decltype(s)>;
        if constexpr (std::is_same_v<T, model::Sphere>) {
          const auto& [center, radius] = s;
          out.put(center), out.put(radius);
        } else if constexpr (std::is_same_v<T, model::Cylinder>) {
          const auto& [from, to, radius] = s;
          out.put(from), out.put(to), out.put(radius);
        } else if constexpr (std::is_same_v<T, model::SolidCone>) {
          const auto& [apex, axis, half_angle_rad, length] = s;
          out.put(apex), out.put(axis), out.put(half_angle_rad), out.put(length);
        } else if constexpr (std::is_same_v<T, model::OrientedBox>) {
          const auto& [pose, size] = s;
          out.put(pose.matrix()), out.put(size);
        } else if constexpr (std::is_same_v<T, model::ConvexPolyhedron>) {
          const auto& [points] = s;
          out.put(static_cast<std::uint64_t>(points.size()));
          for (const auto& point : points) out.put(point);
        } else {
          const auto& [part, distance_m] = s;
          put_frame(out, scene, part);
          out.put(distance_m);
        }
      },
      shape);
}

void put_zone(Writer& out, const geometry::Scene& scene, const model::Zone& zone) {
  // Labels stand for where a zone is, whether it holds or not; what it does then is a question's.
  const auto& [id, shape, part, applies, effect, price_s_per_s, limit_s, when, reason, mark] = zone;
  put_frame(out, scene, part);
  put_shape(out, scene, shape);
  out.put(applies.body), out.put(applies.hands);
}

std::uint8_t flags_of(const ZoneLabel& label) {
  return static_cast<std::uint8_t>((label.body ? 1 : 0) | (label.hands ? 2 : 0));
}

/// Labels with their items; most items have none.
template <class IdType>
void put_labels(Writer& out, const HandrailGraph& graph, std::size_t items) {
  std::uint64_t count = 0;
  for (std::size_t i = 0; i < items; ++i) count += graph.zones(IdType(i)).size();
  out.put(count);
  for (std::size_t i = 0; i < items; ++i)
    for (const auto& label : graph.zones(IdType(i)))
      out.put(static_cast<std::uint32_t>(i)), out.put(label.zone.value), out.put(flags_of(label));
}

bool take_labels(Reader& in, std::size_t items, std::size_t zones, ZoneLabels& taken) {
  const auto count = in.take_count(label_size);
  taken.first.assign(items + 1, 0);
  taken.labels.reserve(count);
  std::uint32_t last = 0;
  for (std::size_t i = 0; i < count; ++i) {
    const auto item = in.take<std::uint32_t>(), zone = in.take<std::uint32_t>();
    const auto flags = in.take<std::uint8_t>();
    if (item >= items || item < last || zone >= zones || flags == 0 || flags > 3) return false;
    last = item;
    ++taken.first[item + 1];
    taken.labels.push_back({model::ZoneId(zone), (flags & 1) != 0, (flags & 2) != 0});
  }
  for (std::size_t i = 0; i < items; ++i) taken.first[i + 1] += taken.first[i];
  return in.is_good();
}

}  // namespace

std::string graph_key(const geometry::Scene& scene, const Body& body) {
  const std::string solids = geometry::solids_digest(scene);
  if (solids.empty()) return {};
  Writer all;
  all.put(std::string_view(solids));
  const auto& [corridor_radius_m, stand_off_m, reach_m, turn_limit_rad, lean_rad, glove_m, spacing_m] = body;
  for (const double value : {corridor_radius_m, stand_off_m, reach_m, turn_limit_rad, lean_rad, glove_m, spacing_m})
    all.put(value);
  const auto& structure = scene.structure();
  all.put(static_cast<std::uint64_t>(structure.rails.size()));
  for (std::size_t r = 0; r < structure.rails.size(); ++r) put_rail(all, scene, RailId(r));
  for (const auto& zone : structure.zones) put_zone(all, scene, zone);
  return model::digest_of(all.bytes());
}

std::string pack(const HandrailGraph& graph) {
  Writer out;
  const auto rails = graph.structure().rails.size();
  out.expect(rails * sizeof(std::uint32_t) + graph.grips().size() * grip_size + graph.moves().size() * (move_size + 1));
  out.put(static_cast<std::uint64_t>(rails));
  for (std::size_t r = 0; r < rails; ++r) out.put(graph.grips_of(RailId(r)).first);
  out.put(static_cast<std::uint64_t>(graph.grips().size()));
  for (const Grip& grip : graph.grips()) {
    out.put(grip.rail.value), out.put(grip.direction), out.put(grip.along_m);
    out.put(grip.hand), out.put(grip.outward), out.put(grip.stance), out.put(grip.clearance_lower_m);
  }
  out.put(static_cast<std::uint64_t>(graph.moves().size()));
  for (const Move& move : graph.moves()) {
    out.put(move.a.value), out.put(move.b.value);
    for (const double value : {move.gap_m, move.turn_rad, move.way_m, move.clearance_lower_m}) out.put(value);
    out.put(static_cast<std::uint8_t>((move.is_at_least ? at_least : 0) | (move.is_turn_allowed ? turn_allowed : 0) |
                                      (move.is_hand_line_clear ? hand_line_clear : 0) |
                                      (move.is_body_clear ? body_clear : 0) | (move.is_rail_change ? rail_change : 0)));
  }
  put_labels<GripId>(out, graph, graph.grips().size());
  put_labels<MoveId>(out, graph, graph.moves().size());
  return out.take();
}

std::optional<GraphParts> unpack_graph(std::string_view bytes, const model::Structure& structure) {
  Reader in(bytes);
  GraphParts parts;
  parts.rail_first = in.take_all<std::uint32_t>();
  const auto grip_count = in.take_count(grip_size);
  const auto grips = in.take_bytes(grip_count, grip_size);
  const auto move_count = in.take_count(move_size);
  const auto moves = in.take_bytes(move_count, move_size);
  if (!in.is_good() || parts.rail_first.size() != structure.rails.size()) return std::nullopt;
  parts.rail_first.push_back(static_cast<std::uint32_t>(grip_count));
  for (std::size_t r = 0; r + 1 < parts.rail_first.size(); ++r)
    if (parts.rail_first[r] > parts.rail_first[r + 1]) return std::nullopt;
  if (!parts.rail_first.empty() && parts.rail_first.front() != 0) return std::nullopt;
  if (!take_labels(in, grip_count, structure.zones.size(), parts.grip_zones) ||
      !take_labels(in, move_count, structure.zones.size(), parts.move_zones) || !in.is_at_end())
    return std::nullopt;

  std::atomic<bool> is_sound = true;
  std::vector<std::pair<std::uint32_t, std::uint32_t>> ends(move_count);
  parts.grips.resize(grip_count), parts.moves.resize(move_count);
  constexpr std::size_t together = 4096;
  const auto unpack_grips = [&] {
    tbb::parallel_for(tbb::blocked_range<std::size_t>(0, grip_count, together), [&](const auto& range) {
      Reader rows(grips.substr(range.begin() * grip_size, range.size() * grip_size));
      for (std::size_t g = range.begin(); g < range.end(); ++g) {
        Grip& grip = parts.grips[g];
        grip.rail.value = rows.take<std::uint32_t>(), grip.direction = rows.take<std::uint32_t>();
        grip.along_m = rows.take<double>();
        grip.hand = rows.take_point(), grip.outward = rows.take_point(), grip.stance = rows.take_point();
        grip.clearance_lower_m = rows.take<double>();
        const auto rail = grip.rail.index();
        if (rail >= structure.rails.size() || g < parts.rail_first[rail] || g >= parts.rail_first[rail + 1] ||
            grip.direction >= std::max<std::size_t>(1, structure.rails[rail].outward.size()) ||
            !grip.hand.allFinite() || !grip.outward.allFinite() || !grip.stance.allFinite() ||
            !std::isfinite(grip.along_m) || !std::isfinite(grip.clearance_lower_m))
          is_sound = false;
      }
    });
    if (!is_sound) return;
    std::vector<Vec3> hands;
    hands.reserve(grip_count);
    for (const Grip& grip : parts.grips) hands.push_back(grip.hand);
    parts.hands = std::make_shared<const geometry::PointTree>(std::move(hands));
  };
  const auto unpack_moves = [&] {
    tbb::parallel_for(tbb::blocked_range<std::size_t>(0, move_count, together), [&](const auto& range) {
      Reader rows(moves.substr(range.begin() * move_size, range.size() * move_size));
      for (std::size_t m = range.begin(); m < range.end(); ++m) {
        Move& move = parts.moves[m];
        move.a.value = rows.take<std::uint32_t>(), move.b.value = rows.take<std::uint32_t>();
        move.gap_m = rows.take<double>(), move.turn_rad = rows.take<double>();
        move.way_m = rows.take<double>(), move.clearance_lower_m = rows.take<double>();
        const auto flags = rows.take<std::uint8_t>();
        move.is_at_least = (flags & at_least) != 0, move.is_turn_allowed = (flags & turn_allowed) != 0;
        move.is_hand_line_clear = (flags & hand_line_clear) != 0, move.is_body_clear = (flags & body_clear) != 0;
        move.is_rail_change = (flags & rail_change) != 0;
        ends[m] = {move.a.value, move.b.value};
        if (flags > all_flags || move.a >= move.b || move.b.index() >= grip_count || !(move.gap_m >= 0) ||
            !(move.turn_rad >= 0) || !(move.way_m >= 0) || !(move.clearance_lower_m >= 0) ||
            !std::isfinite(move.gap_m) || !std::isfinite(move.turn_rad) || !std::isfinite(move.way_m))
          is_sound = false;
      }
    });
    if (is_sound) parts.adjacency = build_adjacency(grip_count, ends);
  };
  tbb::parallel_invoke(unpack_grips, unpack_moves);
  return is_sound ? std::optional(std::move(parts)) : std::nullopt;
}

}  // namespace detail

HandrailGraph build_handrail_graph(const geometry::Scene& scene, const Body& body, const store::Store* store) {
  const std::string key = store ? detail::graph_key(scene, body) : std::string();
  if (key.empty()) return build_handrail_graph(scene, body);
  if (const auto entry = store->find(detail::kind, key)) {
    if (auto parts = detail::unpack_graph(entry->body(), scene.structure()))
      return detail::assemble(scene, body, std::move(*parts));
    store->refuse(detail::kind, key);
  }
  auto graph = build_handrail_graph(scene, body);
  store->put(detail::kind, key, detail::pack(graph));
  return graph;
}

}  // namespace holdfast::graph
