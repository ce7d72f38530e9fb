// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/model/structure.h"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "files_impl.h"
#include "names_impl.h"

namespace holdfast::model {

bool When::holds(const Configuration& configuration) const {
  return std::all_of(any_of.begin(), any_of.end(), [&](const auto& condition) {
    const auto found = configuration.positions.find(condition.first);
    return found != configuration.positions.end() &&
           std::find(condition.second.begin(), condition.second.end(), found->second) != condition.second.end();
  });
}

Configuration Structure::default_configuration() const {
  Configuration configuration;
  for (const auto& s : switches) configuration.positions[s.id] = s.default_position;
  return configuration;
}

namespace {

template <class IdType, class List>
std::optional<IdType> find_id(const List& list, std::string_view id) {
  for (std::size_t i = 0; i < list.size(); ++i)
    if (list[i].id == id) return IdType(i);
  return std::nullopt;
}

}  // namespace

std::optional<PartId> Structure::find_part(std::string_view id) const { return find_id<PartId>(parts, id); }
std::optional<RailId> Structure::find_rail(std::string_view id) const { return find_id<RailId>(rails, id); }
std::optional<PlaceId> Structure::find_place(std::string_view id) const { return find_id<PlaceId>(places, id); }
std::optional<ZoneId> Structure::find_zone(std::string_view id) const { return find_id<ZoneId>(zones, id); }
std::optional<AnchorId> Structure::find_anchor(std::string_view id) const { return find_id<AnchorId>(anchors, id); }

std::optional<SocketId> Structure::find_socket(std::string_view id) const { return find_id<SocketId>(sockets, id); }
std::optional<ViewId> Structure::find_view(std::string_view id) const { return find_id<ViewId>(views, id); }
std::optional<PatchId> Structure::find_patch(std::string_view id) const { return find_id<PatchId>(patches, id); }

std::vector<std::string> face_names(const Shape& shape) {
  if (std::holds_alternative<Box>(shape)) return {"-x", "+x", "-y", "+y", "-z", "+z"};
  if (std::holds_alternative<Panel>(shape)) return {"front", "back"};
  if (std::holds_alternative<Cylinder>(shape) || std::holds_alternative<Cone>(shape)) return {"side", "from", "to"};
  if (std::holds_alternative<Dish>(shape)) return {"inside", "outside"};
  return {};
}

Vec3 forward_of(const Vec3& axis, const std::optional<Vec3>& wanted) {
  constexpr double near_x = 0.9;  // beyond this x is too near the axis to tell a direction
  const Vec3 along = wanted ? *wanted : std::abs(axis.x()) > near_x ? Vec3(Vec3::UnitZ()) : Vec3(Vec3::UnitX());
  return (along - along.dot(axis) * axis).normalized();
}

Pose Structure::pose(PartId id, const Configuration& configuration) const {
  const Part& part = parts[id.index()];
  if (part.articulated_by.empty()) return part.at;
  return part.poses.at(configuration.positions.at(part.articulated_by));
}

bool Structure::is_present(PartId part, const Configuration& configuration) const {
  return parts[part.index()].when.holds(configuration);
}

bool Structure::is_present(RailId rail, const Configuration& configuration) const {
  const Rail& r = rails[rail.index()];
  return r.when.holds(configuration) && is_present(r.part, configuration);
}

Vec3 Structure::position(const Place& place, const Configuration& configuration) const {
  return frame_of(place.part, configuration) * place.at;
}

std::string digest_of(std::string_view bytes) { return detail::sha256_of(bytes); }

namespace {

std::string digest_over(std::vector<ModelFile> files) {
  std::sort(files.begin(), files.end(), [](const ModelFile& x, const ModelFile& y) { return x.path < y.path; });
  std::string all;
  for (const auto& file : files) all += file.path + ' ' + file.sha256 + '\n';
  return detail::sha256_of(all);
}

}  // namespace

std::string model_digest(const Structure& structure) { return digest_over(structure.files); }

std::string structure_digest(const Structure& structure) {
  auto files = structure.files;
  std::erase_if(files, [](const ModelFile& file) { return file.path == detail::kit_file_name; });
  return digest_over(std::move(files));
}

std::size_t detail::edit_distance(std::string_view word, std::string_view other) {
  std::vector<std::size_t> row(other.size() + 1);  // one row of the table at a time
  std::iota(row.begin(), row.end(), std::size_t{0});
  for (std::size_t i = 1; i <= word.size(); ++i) {
    std::size_t diagonal = row[0];
    row[0] = i;
    for (std::size_t j = 1; j <= other.size(); ++j) {
      const std::size_t substitute = diagonal + (word[i - 1] == other[j - 1] ? 0 : 1);
      diagonal = row[j];
      row[j] = std::min({row[j] + 1, row[j - 1] + 1, substitute});
    }
  }
  return row.back();
}

std::vector<std::string> nearest_names(std::string_view word, const std::vector<std::string>& candidates,
                                       std::size_t count) {
  std::vector<std::pair<std::size_t, std::string>> ranked;
  constexpr std::size_t longest = 200;  // a word beyond this is no typing slip
  if (word.size() > longest) return {};
  for (const auto& candidate : candidates)
    if (const std::size_t d = detail::edit_distance(word, candidate); d <= word.size() / 2 + 1)
      ranked.emplace_back(d, candidate);
  std::stable_sort(ranked.begin(), ranked.end(), [](const auto& x, const auto& y) { return x.first < y.first; });
  std::vector<std::string> names;
  for (std::size_t i = 0; i < std::min(count, ranked.size()) && ranked[i].first <= ranked[0].first + 1; ++i)
    names.push_back(ranked[i].second);
  return names;
}

}  // namespace holdfast::model
