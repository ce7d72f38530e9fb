// SPDX-License-Identifier: GPL-3.0-or-later
#include "measure_impl.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

namespace holdfast::rails::detail {

namespace {

double median(std::vector<double> values) {
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

/// The line with points put in so that none are farther apart than `most_m`.
std::vector<Vec3> filled(const std::vector<Vec3>& line, double most_m) {
  std::vector<Vec3> out = {line.front()};
  for (std::size_t i = 0; i + 1 < line.size(); ++i) {
    const Vec3 d = line[i + 1] - line[i];
    const int steps = std::max(1, static_cast<int>(std::ceil(d.norm() / most_m)));
    for (int k = 1; k <= steps; ++k) out.push_back(line[i] + d * k / steps);
  }
  return out;
}

/// The smaller of the boxes round an outline, turned in steps of 2 deg: their larger side, smaller side.
std::pair<double, double> sides_of(const Outline& outline) {
  constexpr int quarter = 45;
  std::array<double, 2 * quarter> extent{};
  for (int k = 0; k < 2 * quarter; ++k) {
    const double angle = k * std::numbers::pi / (2 * quarter);
    const Vec2 d(std::cos(angle), std::sin(angle));
    double low = std::numeric_limits<double>::infinity(), high = -low;
    for (const auto& p : outline.points) low = std::min(low, p.dot(d)), high = std::max(high, p.dot(d));
    extent[static_cast<std::size_t>(k)] = high - low;
  }
  std::size_t best = 0;
  for (std::size_t k = 1; k < quarter; ++k)
    if (extent[k] * extent[k + quarter] < extent[best] * extent[best + quarter]) best = k;
  return {std::max(extent[best], extent[best + quarter]), std::min(extent[best], extent[best + quarter])};
}

/// As `simplify`, with the fewest points along bends: each piece reaches as far as the tolerance lets it.
std::vector<std::size_t> fewest(const std::vector<Vec3>& line, double tolerance_m) {
  auto kept = simplify(line, tolerance_m);
  constexpr std::size_t few = 8;
  if (kept.size() <= few) return kept;
  std::vector<std::size_t> out = {0};
  while (out.back() + 1 < line.size()) {
    const std::size_t from = out.back();
    std::size_t best = from + 1;
    for (std::size_t to = from + 2; to < line.size() && to <= best + 3; ++to) {
      bool fits = true;
      for (std::size_t i = from + 1; i < to && fits; ++i)
        fits = distance_to_line({line[from], line[to]}, line[i]) <= tolerance_m;
      if (fits) best = to;
    }
    out.push_back(best);
  }
  return out.size() < kept.size() ? out : kept;
}

struct Place {
  Vec3 at = Vec3::Zero(), along = Vec3::UnitX();
  double s = 0;                 ///< length along the line
  std::optional<Vec3> outward;  ///< not where the nearest structure lies ahead, or holds the run
  double distance_m = std::numeric_limits<double>::infinity();
  double slope = 0;  ///< cosine between the run and the direction of what is nearest
};

}  // namespace

SectionSize measure_section(const std::vector<Vec3>& line, double r, Slicer& slicer) {
  constexpr int most = 9;
  const auto fine = filled(line, 0.05);
  std::vector<double> widths, heights, fills, squares;
  SectionSize size;
  int open = 0;
  for (int k = 0; k < most; ++k) {
    const auto i = static_cast<std::size_t>((static_cast<double>(k) + 0.5) / most * static_cast<double>(fine.size()));
    const std::size_t to = std::min(i + 1, fine.size() - 1), from = to - 1;
    const Vec3 d = (fine[to] - fine[from]).normalized();
    Outline outline;
    const auto cut = slicer.cut({(fine[from] + fine[to]) / 2, d, r, 1.7 * r + 0.002, 0.6 * r + 0.004}, &outline);
    if (cut.met != Met::Tube) continue;
    const auto [width, height] = sides_of(outline);
    widths.push_back(width), heights.push_back(height);
    fills.push_back(cut.section.area / (std::numbers::pi * cut.section.r_max * cut.section.r_max));
    squares.push_back(cut.section.area / std::max(width * height, 1e-12));
    open += cut.section.is_closed ? 0 : 1;
  }
  if (widths.empty()) {
    size.width_m = size.height_m = 2 * r;
    return size;
  }
  size.width_m = median(widths), size.height_m = median(heights), size.fill = median(fills);
  size.spread = *std::max_element(widths.begin(), widths.end()) / size.width_m;
  size.is_closed = 2 * open <= static_cast<int>(widths.size());
  const double ratio = size.width_m / size.height_m, square = median(squares);
  if (square > 0.9)
    size.shape = ratio < 1.25 ? SectionShape::Square : SectionShape::Racetrack;
  else if (square > 0.62)
    size.shape = ratio < 1.25 ? SectionShape::Round : SectionShape::Racetrack;
  return size;
}

FoundRail describe(const Run& run, const SectionSize& size, const Body& body, Slicer& slicer, const Options& options,
                   const std::vector<Vec3>& others) {
  const auto& limits = options.limits;
  FoundRail rail;
  rail.is_ring = run.is_ring;
  rail.width_m = size.width_m, rail.height_m = size.height_m, rail.shape = size.shape;
  constexpr double place_m = 0.025;
  const auto fine = filled(run.line, place_m);
  const bool stays = is_structure(run.kind);

  // What is nearest along it.
  const double reach_m = limits.far_m + run.r;
  const double half_m = size.height_m / 2;
  constexpr double holds_m = 0.012;  // structure this near the section holds the run
  constexpr double ahead = 0.7;      // cos: structure that lies ahead along the run is not underneath
  std::vector<Place> places(fine.size());
  std::size_t held = 0, beneath = 0, on_bars = 0;  // on_bars: or on edges
  for (std::size_t i = 0; i < fine.size(); ++i) {
    auto& place = places[i];
    place.at = fine[i], place.along = tangent(fine, i, run.is_ring);
    if (i > 0) place.s = places[i - 1].s + (fine[i] - fine[i - 1]).norm();
    if (stays) continue;
    const auto near = body.find_nearest(place.at, reach_m);
    if (!near) continue;
    place.distance_m = near->distance_m;
    const auto* bar = body.find_bar(near->triangle);
    constexpr double faces_it = 0.97;  // cos 14 deg: less, and what is nearest is an edge or a corner
    const double facing = std::abs(body.normal(near->triangle).dot((place.at - near->point).normalized()));
    on_bars += bar || facing < faces_it ? 1 : 0;
    const Vec3 away = place.at - (bar ? foot_on_line(*bar, place.at).point : near->point),
               across = away - away.dot(place.along) * place.along;
    if (near->distance_m < half_m + holds_m) {
      ++held;
      continue;
    }
    place.slope = std::abs(away.normalized().dot(place.along));
    if (place.slope > ahead) continue;
    ++beneath;
    place.outward = across.normalized();
  }
  const double length = places.back().s;
  rail.length_m = length;
  // What comes near over no more than a hand's breadth is a bracket or the head of a post, not what lies underneath.
  constexpr double bracket_m = 0.15;
  for (std::size_t i = 0; i < places.size();) {
    const auto is_near = [&](std::size_t k) { return places[k].distance_m < half_m + limits.least_gap_m; };
    if (!is_near(i)) {
      ++i;
      continue;
    }
    std::size_t k = i;
    while (k < places.size() && is_near(k)) ++k;
    if (k - i < places.size() && places[k - 1].s - places[i].s <= bracket_m)
      for (std::size_t n = i; n < k; ++n)
        if (places[n].outward) places[n].outward.reset(), --beneath, ++held;
    i = k;
  }

  // The gap: how far the section reaches toward what is nearest is measured at the three nearest places.
  constexpr double level =
      0.45;  // cos 63 deg: where the run bends down to its foot, the gap is not what lies underneath
  std::vector<std::size_t> order;
  for (std::size_t i = 0; i < places.size(); ++i)
    if (places[i].outward && places[i].slope < level) order.push_back(i);
  std::stable_sort(order.begin(), order.end(),
                   [&](std::size_t x, std::size_t y) { return places[x].distance_m < places[y].distance_m; });
  for (std::size_t k = 0; k < std::min<std::size_t>(order.size(), 3); ++k) {
    const auto& place = places[order[k]];
    Outline outline;
    double extent = size.width_m / 2;
    if (slicer.cut({place.at, place.along, run.r, 1.7 * run.r + 0.002, 0.6 * run.r + 0.004}, &outline).met ==
        Met::Tube) {
      extent = 0;
      const Vec2 down(-place.outward->dot(outline.u), -place.outward->dot(outline.v));
      for (const auto& p : outline.points) extent = std::max(extent, p.dot(down));
    }
    const double gap = std::max(0.0, place.distance_m - extent);
    rail.gap_m = std::min(rail.gap_m.value_or(gap), gap);
  }
  const bool lies_on_it = !stays && 2 * held > places.size();
  if (lies_on_it) rail.gap_m = 0;

  // Outward, averaged over a hand's breadth each side: what is underneath may be facets or rough.
  constexpr double window_m = 0.15;
  Vec3 around = Vec3::Zero();
  for (const auto& p : others) around += p;
  if (!others.empty()) around /= static_cast<double>(others.size());
  std::vector<Vec3> outward(places.size());
  std::size_t low = 0, high = 0;
  for (std::size_t i = 0; i < places.size(); ++i) {
    while (places[i].s - places[low].s > window_m) ++low;
    while (high < places.size() && places[high].s - places[i].s <= window_m) ++high;
    Vec3 sum = Vec3::Zero();
    for (std::size_t k = low; k < high; ++k)
      if (places[k].outward) sum += *places[k].outward;
    outward[i] = sum - sum.dot(places[i].along) * places[i].along;
  }
  Vec3 up = Vec3::Zero();  // of the posts
  for (const auto& post : run.stands) up += post;
  const bool is_told_by_posts = beneath == 0 && up.norm() > 0.9 * static_cast<double>(run.stands.size());
  if (beneath == 0)
    for (std::size_t i = 0; i < places.size(); ++i) {
      const Vec3 away = is_told_by_posts ? up : Vec3(places[i].at - around),
                 across = away - away.dot(places[i].along) * places[i].along;
      outward[i] = across.norm() > 1e-6 ? across : places[i].along.unitOrthogonal();
    }
  // The posts under a straight run tell better which way it stands off than bars do, and than plates and nodes that lie
  // now to one side and now to the other.
  constexpr double alike = 0.98, across_m = 0.9, within = 0.7;  // cosines: 11, 26 and 45 deg
  constexpr double one_way = 0.995;                             // of a mean of directions that lie within some 6 deg
  Vec3 mean = Vec3::Zero();
  for (const auto& place : places)
    if (place.outward) mean += *place.outward;
  const bool is_uneven = mean.norm() < one_way * static_cast<double>(beneath);
  const bool is_straight = !run.is_ring && (run.line.back() - run.line.front()).norm() > 0.998 * length;
  const bool is_on_bars = (is_straight && is_uneven) || 3 * on_bars > places.size();
  if (beneath > 0 && is_straight && is_on_bars && !run.stands.empty() &&
      up.norm() > alike * static_cast<double>(run.stands.size()))
    for (std::size_t i = 0; i < places.size(); ++i) {
      const Vec3 post = up.normalized(), across = post - post.dot(places[i].along) * places[i].along;
      if (across.norm() > across_m && (outward[i].norm() < 1e-6 || across.dot(outward[i].normalized()) > within))
        outward[i] = across;
    }
  // Where nothing tells, as at the nearest place that does.
  std::vector<std::size_t> told;
  for (std::size_t i = 0; i < places.size(); ++i)
    if (outward[i].norm() > 1e-6) told.push_back(i);
  for (std::size_t i = 0; i < places.size(); ++i) {
    if (outward[i].norm() > 1e-6) {
      outward[i].normalize();
      continue;
    }
    std::size_t best = told.empty() ? i : told.front();
    for (const auto k : told)
      if (std::abs(places[k].s - places[i].s) < std::abs(places[best].s - places[i].s)) best = k;
    const Vec3 like = told.empty() ? places[i].along.unitOrthogonal() : Vec3(outward[best].normalized());
    const Vec3 across = like - like.dot(places[i].along) * places[i].along;
    outward[i] = across.norm() > 1e-6 ? Vec3(across.normalized()) : places[i].along.unitOrthogonal();
  }

  // Points: within 2 mm of the line, and a new one where outward has turned.
  constexpr double line_tolerance_m = 0.002, turned = 0.94;  // cos 20 deg
  std::vector<bool> keep(fine.size());
  for (const auto i : fewest(fine, line_tolerance_m)) keep[i] = true;
  for (std::size_t i = 1, last = 0; i < fine.size(); ++i) {
    if (keep[i] || outward[i].dot(outward[last]) < turned) keep[i] = true, last = i;
  }
  std::size_t last = 0;
  for (std::size_t i = 0; i < fine.size(); ++i) {
    if (!keep[i]) continue;
    if (i > 0) {
      Vec3 sum = Vec3::Zero();
      for (std::size_t k = last; k <= i; ++k) sum += outward[k];
      const Vec3 along = (fine[i] - fine[last]).normalized(), across = sum - sum.dot(along) * along;
      rail.segment_outward.push_back(across.norm() > 1e-6 ? Vec3(across.normalized()) : along.unitOrthogonal());
    }
    rail.points.push_back({fine[i], outward[i]});
    last = i;
  }

  const bool is_held = held > 0 || run.has_post || run.on_body[0] || run.on_body[1] || run.on_tube[0] || run.on_tube[1];

  // Doubts, most telling first.
  const auto& design = options.design;
  const auto doubt = [&](ReasonKind kind, double value, std::optional<model::Quantity> limit = std::nullopt) {
    rail.reasons.push_back({kind, value, std::move(limit)});
  };
  if (size.width_m > limits.most_section_m) doubt(ReasonKind::TooThick, size.width_m, limits.most_section_m);
  if (size.width_m < limits.least_section_m) doubt(ReasonKind::TooThin, size.width_m, limits.least_section_m);
  if (run.kind == RunKind::Truss && !options.truss_members)
    doubt(ReasonKind::TrussMember, static_cast<double>(run.slants));
  if (size.fill < least_fill) doubt(ReasonKind::Flat, size.width_m / std::max(size.height_m, 1e-9));
  if (run.is_in_solid) doubt(ReasonKind::InSolid, length);
  if (run.stands_alone) doubt(ReasonKind::StandsAlone, length);
  if (run.is_side_unclear) doubt(ReasonKind::SideUnclear, length);
  if (!stays) {
    if (rail.gap_m && *rail.gap_m < limits.least_gap_m) doubt(ReasonKind::TooNear, *rail.gap_m, limits.least_gap_m);
    double nearest = std::numeric_limits<double>::infinity();
    for (const auto& place : places) nearest = std::min(nearest, place.distance_m);
    if (beneath == 0 && held == 0 && nearest > limits.far_m)
      doubt(ReasonKind::FarAway, nearest, limits.far_m);
    else if ((beneath == 0 && !is_told_by_posts) || (is_on_bars && !is_held))
      doubt(ReasonKind::OutwardUnclear, length);
  }
  double turn = 0;
  for (std::size_t i = 1; i + 1 < rail.points.size(); ++i)
    turn += std::acos(std::clamp((rail.points[i].at - rail.points[i - 1].at)
                                     .normalized()
                                     .dot((rail.points[i + 1].at - rail.points[i].at).normalized()),
                                 -1.0, 1.0));
  constexpr double longest_bar_m = 1.5;  // between two walls without a post: common practice, no source
  constexpr double many_turns = 4.5 * std::numbers::pi / 2;
  const bool is_held_at_ends_alone =
      run.on_body[0] && run.on_body[1] && !run.has_post && static_cast<double>(held) * place_m <= 0.2;
  // A bracket between the ends tells a rail from a strut or a member whose truss was not recognised.
  const bool is_held_between = std::any_of(places.begin(), places.end(), [&](const Place& place) {
    return place.distance_m < half_m + holds_m && std::min(place.s, length - place.s) > bracket_m;
  });
  const bool ends_at_something = run.on_body[0] || run.on_body[1] || run.on_tube[0] || run.on_tube[1];
  if (!run.is_ring && !stays && !run.has_post &&
      ((is_held_at_ends_alone && length > longest_bar_m) || (size.shape == SectionShape::Round && turn > many_turns)))
    doubt(ReasonKind::Pipe, length);
  else if (!run.is_ring && !stays && !run.has_post && !is_held_between && ends_at_something)
    doubt(ReasonKind::EndsAlone, length);
  if (length < design.grip_length_m) doubt(ReasonKind::TooShort, length, design.grip_length_m);
  if (rail.gap_m && *rail.gap_m >= limits.least_gap_m && *rail.gap_m < design.rail_clear_m)
    doubt(ReasonKind::GapBelowDesign, *rail.gap_m, design.rail_clear_m);
  constexpr double uneven = 1.25;
  if (size.spread > uneven) doubt(ReasonKind::Uneven, size.spread);
  if (!size.is_closed) doubt(ReasonKind::OpenSurface, 0);
  if (!stays && !is_held) doubt(ReasonKind::NoSupport, 0);
  const bool is_doubtful =
      std::any_of(rail.reasons.begin(), rail.reasons.end(), [](const Reason& r) { return makes_doubtful(r.kind); });
  rail.sureness = is_doubtful ? Sureness::Doubtful : rail.reasons.empty() ? Sureness::Sure : Sureness::Likely;

  // Room for one hand alone: a handhold, where its middle is.
  if (!run.is_ring && length < 2 * design.grip_length_m) {
    std::size_t middle = 0;
    for (std::size_t i = 0; i < places.size(); ++i)
      if (std::abs(places[i].s - length / 2) < std::abs(places[middle].s - length / 2)) middle = i;
    Vec3 at = places[middle].at;
    const double off = length / 2 - places[middle].s;
    at += off * places[middle].along;
    rail.points = {{at, outward[middle]}};
    rail.segment_outward = {outward[middle]};
  }
  return rail;
}

}  // namespace holdfast::rails::detail
