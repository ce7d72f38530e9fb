// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "measure_impl.h"

namespace holdfast::rails {

using namespace detail;
using model::Confidence;

bool makes_doubtful(ReasonKind kind) { return kind <= ReasonKind::OutwardUnclear; }

Limits default_limits() {
  return {{0.012, "between a wire rope and the 19 mm side of a racetrack rail", Confidence::Assumption},
          {0.057, "graspable handrails, largest side 2.25 in: ADA Standards 505.7.2", Confidence::Memory},
          {0.038, "clear gap for a bare hand 1.5 in: ADA Standards 505.5", Confidence::Memory},
          {1.5, "a hand's reach and more: nothing within it holds the rail", Confidence::Assumption}};
}

namespace {

/// `*` stands for any letters; upper and lower case are one.
bool matches(std::string_view pattern, std::string_view name) {
  const auto low = [](char c) { return static_cast<char>(std::tolower(static_cast<unsigned char>(c))); };
  std::size_t p = 0, n = 0, star = std::string_view::npos, from = 0;
  while (n < name.size()) {
    if (p < pattern.size() && pattern[p] == '*') {
      star = p++, from = n;
    } else if (p < pattern.size() && low(pattern[p]) == low(name[n])) {
      ++p, ++n;
    } else if (star != std::string_view::npos) {
      p = star + 1, n = ++from;
    } else {
      return false;
    }
  }
  while (p < pattern.size() && pattern[p] == '*') ++p;
  return p == pattern.size();
}

std::vector<bool> searched(const geometry::NamedMesh& mesh, const std::string& pattern) {
  std::vector<bool> out(mesh.mesh.triangles.size(), true);
  if (pattern.empty()) return out;
  std::vector<bool> node_matches;
  for (const auto& node : mesh.nodes) node_matches.push_back(matches(pattern, node));
  if (std::find(node_matches.begin(), node_matches.end(), true) == node_matches.end()) {
    std::string plain = pattern;
    std::erase(plain, '*');
    auto near = model::nearest_names(plain, mesh.nodes);
    for (const auto& node : mesh.nodes)  // or those that hold a piece of it
      if (near.size() < 3 && plain.size() >= 3 && std::find(near.begin(), near.end(), node) == near.end() &&
          matches("*" + plain.substr(0, 3) + "*", node))
        near.push_back(node);
    const auto shown =
        near.empty()
            ? std::vector<std::string>(
                  mesh.nodes.begin(),
                  mesh.nodes.begin() + static_cast<std::ptrdiff_t>(std::min<std::size_t>(mesh.nodes.size(), 5)))
            : near;
    throw model::InputError({{{},
                              "",
                              "unknown-node",
                              fmt::format("no node of the mesh matches \"{}\"", pattern),
                              pattern,
                              fmt::format("{}: {}",
                                          near.empty() ? fmt::format("its {} nodes begin with", mesh.nodes.size())
                                                       : "the nearest names are",
                                          fmt::join(shown, ", "))}});
  }
  for (std::size_t t = 0; t < out.size(); ++t) out[t] = node_matches[mesh.node_of[t]];
  return out;
}

/// Six letters and digits that cannot be misread for each other.
std::string short_digest(const std::vector<std::int64_t>& values) {
  std::uint64_t hash = 14695981039346656037ULL;  // FNV-1a, 64 bits
  for (const auto value : values)
    for (int byte = 0; byte < 8; ++byte)
      hash = (hash ^ ((static_cast<std::uint64_t>(value) >> (8 * byte)) & 0xff)) * 1099511628211ULL;
  static constexpr std::string_view letters = "23456789abcdefghjkmnpqrstuvwxyz";
  std::string out;
  for (int i = 0; i < 6; ++i) {
    out += letters[hash % letters.size()];
    hash /= letters.size();
  }
  return out;
}

/// Which cell of 0.1 m. Cells begin off the multiples of 2.5 mm that drawings use, so that noise does not move what was
/// drawn on a round number into another.
std::int64_t cell_of(double x) { return static_cast<std::int64_t>(std::floor((x - 0.03375) / 0.1)); }

Vec3 middle_of(const FoundRail& rail) {
  if (rail.is_handhold()) return rail.points.front().at;
  double gone = 0;
  for (std::size_t i = 0; i + 1 < rail.points.size(); ++i) {
    const Vec3 d = rail.points[i + 1].at - rail.points[i].at;
    if (gone + d.norm() >= rail.length_m / 2)
      return rail.points[i].at + (rail.length_m / 2 - gone) / std::max(d.norm(), 1e-12) * d;
    gone += d.norm();
  }
  return rail.points.back().at;
}

std::string geometry_id(const FoundRail& rail, const char* kind) {
  std::vector<std::array<std::int64_t, 3>> cells;
  const auto add = [&](const Vec3& p) { cells.push_back({cell_of(p.x()), cell_of(p.y()), cell_of(p.z())}); };
  if (rail.is_ring) {
    Vec3 centre = Vec3::Zero();
    for (std::size_t i = 0; i + 1 < rail.points.size(); ++i)
      centre += (rail.points[i].at + rail.points[i + 1].at) / 2 * (rail.points[i + 1].at - rail.points[i].at).norm();
    add(centre / std::max(rail.length_m, 1e-9));
    cells.push_back({cell_of(rail.length_m), 0, 0});
  } else {
    add(rail.points.front().at);
    if (!rail.is_handhold()) add(rail.points.back().at), add(middle_of(rail));
    std::sort(cells.begin(), cells.begin() + std::min<std::ptrdiff_t>(2, static_cast<std::ptrdiff_t>(cells.size())));
  }
  std::vector<std::int64_t> values;
  for (const auto& cell : cells) values.insert(values.end(), cell.begin(), cell.end());
  return fmt::format("{}-{}", kind, short_digest(values));
}

bool comes_before(const Vec3& a, const Vec3& b) {
  constexpr double same_m = 0.01;
  for (int i = 0; i < 3; ++i)
    if (std::abs(a[i] - b[i]) > same_m) return a[i] < b[i];
  return false;
}

void set_ids(std::vector<FoundRail>& rails, const char* kind) {
  for (auto& rail : rails) {
    if (!rail.is_ring && comes_before(rail.points.back().at, rail.points.front().at)) {
      std::reverse(rail.points.begin(), rail.points.end());
      std::reverse(rail.segment_outward.begin(), rail.segment_outward.end());
    }
    rail.id = geometry_id(rail, rail.is_handhold() ? "grip" : kind);
  }
  std::sort(rails.begin(), rails.end(), [](const FoundRail& x, const FoundRail& y) {
    if (x.id != y.id) return x.id < y.id;
    const Vec3 a = middle_of(x), b = middle_of(y);
    return std::lexicographical_compare(a.data(), a.data() + 3, b.data(), b.data() + 3);
  });
  for (std::size_t i = 0; i < rails.size();) {  // neighbours of the same cells
    std::size_t k = i + 1;
    while (k < rails.size() && rails[k].id == rails[i].id) ++k;
    for (std::size_t n = i + 1; n < k; ++n) rails[n].id += fmt::format(".{}", n - i + 1);
    i = k;
  }
}

/// Takes doubtful pieces in that the planner looked at. Throws `model::InputError` for an id that is not among them.
void accept(FoundRails& found, const std::vector<std::string>& ids) {
  std::vector<model::Diagnostic> faults;
  for (const auto& id : ids) {
    const auto at = std::find_if(found.doubtful.begin(), found.doubtful.end(),
                                 [&](const FoundRail& rail) { return rail.id == id; });
    if (at != found.doubtful.end()) {
      at->sureness = Sureness::Likely;
      found.rails.push_back(std::move(*at));
      found.doubtful.erase(at);
      continue;
    }
    std::vector<std::string> known;
    for (const auto& rail : found.doubtful) known.push_back(rail.id);
    const auto near = model::nearest_names(id, known);
    faults.push_back({{},
                      "",
                      "unknown-place",
                      fmt::format("no doubtful piece has the id \"{}\"", id),
                      id,
                      near.empty() ? "use an id of the list of doubtful pieces"
                                   : fmt::format("did you mean {}?", fmt::join(near, ", "))});
  }
  if (!faults.empty()) throw model::InputError(std::move(faults));
  std::sort(found.rails.begin(), found.rails.end(), [](const FoundRail& x, const FoundRail& y) { return x.id < y.id; });
}

double looked_at_m(const Limits& limits) { return std::max(0.12, 2 * limits.most_section_m); }

/// Total length of what has a rail's section when a file's unit is `scale` metres.
double length_in_unit(const geometry::NamedMesh& mesh, const std::vector<bool>& is_searched, const Limits& limits,
                      double scale) {
  geometry::TriangleMesh scaled = mesh.mesh;
  for (auto& v : scaled.vertices) v *= scale;
  const Prepared prepared(scaled, is_searched);
  Slicer slicer(prepared.mesh, prepared.tree);
  double length = 0;
  for (const auto& tube : trace_tubes(prepared, {looked_at_m(limits)})) {
    const auto line = points_of(tube);
    const auto size = measure_section(line, tube.r, slicer);
    if (size.width_m <= limits.most_section_m && size.width_m >= limits.least_section_m) length += length_of(line);
  }
  return length;
}

std::optional<UnitHint> find_unit(const geometry::NamedMesh& mesh, const std::vector<bool>& is_searched,
                                  const Limits& limits, double unit_m) {
  static constexpr std::array<std::pair<const char*, double>, 5> units = {
      {{"mm", 0.001}, {"cm", 0.01}, {"in", 0.0254}, {"ft", 0.3048}, {"m", 1}}};
  std::optional<UnitHint> best;
  geometry::Bounds bounds;
  for (const auto& v : mesh.mesh.vertices) bounds.extend(v);
  const double size = (bounds.max - bounds.min).maxCoeff();
  for (const auto& [unit, metres] : units) {
    const double scale = metres / unit_m;
    if (std::abs(scale - 1) < 0.01) continue;
    constexpr double smallest_m = 0.15, largest_m = 2000;  // a structure with a rail on it
    if (size * scale < smallest_m || size * scale > largest_m) continue;
    const double length = length_in_unit(mesh, is_searched, limits, scale);
    if (length > 0.5 && (!best || length > best->length_m * 1.5)) best = UnitHint{unit, length};
  }
  return best;
}

}  // namespace

FoundRails find_rails(const geometry::NamedMesh& mesh, const Options& options,
                      const geometry::TriangleMesh& surroundings) {
  FoundRails found;
  found.triangles = mesh.mesh.triangles.size();
  const auto is_searched = searched(mesh, options.node_pattern);
  auto all = mesh.mesh;
  geometry::append(all, surroundings);
  auto is_searched_all = is_searched;
  is_searched_all.resize(all.triangles.size(), false);
  const Prepared prepared(all, is_searched_all);
  Slicer slicer(prepared.mesh, prepared.tree);
  {
    std::set<std::uint32_t> pieces;
    for (std::size_t t = 0; t < prepared.source.size(); ++t)
      if (prepared.source[t] < mesh.mesh.triangles.size()) pieces.insert(prepared.piece[t]);
    found.pieces = pieces.size();
  }

  // Tubes; those too thick to be held are structure that rails may stand on.
  const auto tubes = trace_tubes(prepared, {looked_at_m(options.limits)});
  std::vector<Tube> thin;
  std::vector<Run> thick;
  std::vector<bool> is_tube(prepared.mesh.triangles.size());
  std::vector<bool> is_bar(prepared.mesh.triangles.size());  // thick ones too
  for (const auto& tube : tubes) {
    const auto line = points_of(tube);
    const auto size = measure_section(line, tube.r, slicer);
    // A plate or flat bar holds no rail as a post does: node plates of a truss would.
    if (size.width_m > options.limits.most_section_m || size.fill < least_fill) {
      Run run;
      run.line = line, run.is_ring = tube.is_ring, run.r = tube.r, run.kind = RunKind::Thick, run.ends = tube.ends,
      run.triangles = tube.triangles;
      if (size.fill >= least_fill)
        for (const auto t : tube.triangles) is_bar[t] = true;
      thick.push_back(std::move(run));
      continue;
    }
    for (const auto t : tube.triangles) is_tube[t] = is_bar[t] = true;
    thin.push_back(tube);
  }
  auto body = std::make_unique<Body>(prepared.mesh, is_tube);
  auto runs = runs_of(thin, *body, find_closed(prepared, is_tube));
  runs.insert(runs.end(), std::make_move_iterator(thick.begin()), std::make_move_iterator(thick.end()));
  find_plated_members(runs, prepared, is_bar);
  find_posts(runs, *body);
  // What members of trusses hold is told only once they are structure.
  const auto count_structure = [&] {
    return std::count_if(runs.begin(), runs.end(), [](const Run& run) { return run.kind == RunKind::Truss; });
  };
  const auto stand_on_members = [&](std::ptrdiff_t before) {
    if (count_structure() == before) return;
    for (const auto& run : runs)
      if (run.kind == RunKind::Truss)
        for (const auto t : run.triangles) is_tube[t] = false;
    body = std::make_unique<Body>(prepared.mesh, is_tube);
    find_posts(runs, *body);
  };
  find_truss_members(runs);
  stand_on_members(0);
  mark_held(runs);
  const auto before = count_structure();
  find_unheld_members(runs);
  stand_on_members(before);
  // Thick posts are no structure that the rails on them keep a gap to.
  if (const auto posts = find_thick_posts(runs); !posts.empty()) {
    const auto rebuild = [&](bool is_left_out, const auto& takes) {
      for (const auto i : posts)
        if (takes(runs[i]))
          for (const auto t : runs[i].triangles) is_tube[t] = is_left_out;
      body = std::make_unique<Body>(prepared.mesh, is_tube);
    };
    rebuild(true, [](const Run&) { return true; });
    for (const auto i : posts)
      if (stands_on(runs[i], *body)) runs[i].kind = RunKind::Post;
    rebuild(false, [](const Run& run) { return run.kind == RunKind::Thick; });
    find_posts(runs, *body);
  }
  join(runs);
  find_posts(runs, *body);  // legs that were joined to their bend
  for (const auto& run : runs) {
    if (!is_structure(run.kind)) continue;
    std::vector<Vec3> line;
    for (const auto i : simplify(run.line, 0.001)) line.push_back(run.line[i]);
    if (const auto shape = measure_section(run.line, run.r, slicer).shape;
        shape == SectionShape::Round || shape == SectionShape::Square)
      body->add_bar(run.triangles, std::move(line));
  }

  find_lone_posts(runs);

  std::vector<Vec3> middles;
  for (const auto& run : runs) middles.push_back(run.line[run.line.size() / 2]);
  const auto finish = [&](FoundRail rail, const Run& run) {
    std::map<std::string, std::size_t> from;
    for (const auto t : run.triangles) {
      const auto source = prepared.source[t];
      if (source >= mesh.mesh.triangles.size()) continue;
      rail.triangles.push_back(source);
      ++from[mesh.nodes[mesh.node_of[source]]];
    }
    std::size_t most = 0;
    for (const auto& [node, count] : from)
      if (count > most) most = count, rail.node = node;
    return rail;
  };
  for (const auto& run : runs) {
    // Of a post that goes through an open surface: its foot, behind the surface.
    constexpr double near_m = 0.15, along = 0.99;
    const auto goes_on = [&](const Run& post) {
      if (post.kind != RunKind::Post || post.stands_alone || post.is_side_unclear) return false;
      double apart = near_m;
      for (const int e : {0, 1})
        for (const int own : {0, 1}) apart = std::min(apart, (end_of(post, e) - end_of(run, own)).norm());
      return apart < near_m && std::abs(end_direction(post, 0).dot(end_direction(run, 0))) > along;
    };
    if (run.kind == RunKind::Post && run.is_side_unclear && std::any_of(runs.begin(), runs.end(), goes_on)) continue;
    std::vector<Vec3> others;
    if (is_structure(run.kind))
      for (const auto& p : middles)
        if (distance_to_line(run.line, p) < 2 * length_of(run.line) + 0.5) others.push_back(p);
    const auto size = measure_section(run.line, run.r, slicer);
    auto rail = finish(describe(run, size, *body, slicer, options, others), run);
    if (run.kind == RunKind::Post && !run.stands_alone)
      found.posts.push_back(std::move(rail));
    else
      (rail.sureness == Sureness::Doubtful ? found.doubtful : found.rails).push_back(std::move(rail));
  }
  set_ids(found.rails, "rail");
  set_ids(found.doubtful, "rail");
  accept(found, options.accepted);
  set_ids(found.posts, "post");
  for (const auto& rail : found.rails)
    if (!rail.is_handhold()) found.length_m += rail.length_m;
  // A file in another unit has nothing near a rail's thickness; one with a piece a little too thick has the right one.
  // A piece a little too thin says nothing (rails in feet read as metres are), nor does one shorter than a grip.
  constexpr double near_miss = 1.5;
  const bool has_near_miss = std::any_of(found.doubtful.begin(), found.doubtful.end(), [&](const FoundRail& piece) {
    return piece.length_m >= options.design.grip_length_m && piece.width_m >= options.limits.least_section_m &&
           piece.width_m <= near_miss * options.limits.most_section_m;
  });
  if (found.rails.empty() && !has_near_miss) found.unit = find_unit(mesh, is_searched, options.limits, options.unit_m);
  return found;
}

geometry::TriangleMesh without_rails(const geometry::NamedMesh& mesh, const FoundRails& found, double most_section_m) {
  std::vector<bool> goes(mesh.mesh.triangles.size());
  for (const auto& rail : found.rails)
    for (const auto t : rail.triangles) goes[t] = true;
  for (const auto& post : found.posts)
    if (post.width_m <= most_section_m)
      for (const auto t : post.triangles) goes[t] = true;
  geometry::TriangleMesh out;
  std::vector<std::uint32_t> number(mesh.mesh.vertices.size(), UINT32_MAX);
  for (std::size_t t = 0; t < goes.size(); ++t) {
    if (goes[t]) continue;
    auto triangle = mesh.mesh.triangles[t];
    for (auto& v : triangle) {
      if (number[v] == UINT32_MAX) {
        number[v] = static_cast<std::uint32_t>(out.vertices.size());
        out.vertices.push_back(mesh.mesh.vertices[v]);
      }
      v = number[v];
    }
    out.triangles.push_back(triangle);
  }
  return out;
}

}  // namespace holdfast::rails
