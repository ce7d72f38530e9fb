// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <set>

#include "holdfast/rails/rails.h"
#include "trace_impl.h"

namespace holdfast::rails {

namespace {

struct Line {
  Vec3 from, to;  // the same of a handhold
  [[nodiscard]] Vec3 middle() const { return (from + to) / 2; }
  [[nodiscard]] double length() const { return (to - from).norm(); }
  [[nodiscard]] double distance(const Vec3& p) const { return detail::distance_to_line({from, to}, p); }
};

struct Found {
  Line line;
  Vec3 outward;
};

/// What the table says was found; nothing for a row that was written by hand.
std::optional<Found> found_in(const model::RailTableRow& row) {
  const auto* text = row.find(found_column);
  if (!text) return std::nullopt;
  std::array<double, 9> numbers{};
  const char* at = text->data();
  const char* const end = at + text->size();
  for (auto& number : numbers) {
    while (at != end && *at == ' ') ++at;
    const auto [next, error] = std::from_chars(at, end, number);
    if (error != std::errc() || !std::isfinite(number)) return std::nullopt;
    at = next;
  }
  return Found{{{numbers[0], numbers[1], numbers[2]}, {numbers[3], numbers[4], numbers[5]}},
               {numbers[6], numbers[7], numbers[8]}};
}

bool is_edited(const model::RailTableRow& row, const Found& found) {
  constexpr double same_m = 0.001, same_direction = 0.9998;  // cos 1 deg
  if ((row.from - found.line.from).norm() > same_m) return true;
  if ((row.to.value_or(row.from) - found.line.to).norm() > same_m) return true;
  return !row.outward || row.outward->normalized().dot(found.outward.normalized()) < same_direction;
}

Line line_of(const Piece& piece) { return {piece.from, piece.to.value_or(piece.from)}; }

/// How far apart, by their middles; nothing for what is not the same piece.
std::optional<double> apart(const Line& x, const Line& y) {
  constexpr double most_m = 0.3, like = 0.94, is_line_m = 0.05;  // cos 20 deg
  const double d = std::max(x.distance(y.middle()), y.distance(x.middle()));
  if (d > most_m) return std::nullopt;
  if (x.length() > is_line_m && y.length() > is_line_m &&
      std::abs((x.to - x.from).normalized().dot((y.to - y.from).normalized())) < like)
    return std::nullopt;
  return d;
}

double moved(const Line& x, const Line& y) {
  return std::min(std::max((x.from - y.from).norm(), (x.to - y.to).norm()),
                  std::max((x.from - y.to).norm(), (x.to - y.from).norm()));
}

}  // namespace

std::vector<Piece> pieces_of(const FoundRails& found) {
  std::vector<Piece> pieces;
  for (std::size_t r = 0; r < found.rails.size(); ++r) {
    const auto& rail = found.rails[r];
    if (rail.is_handhold()) {
      pieces.push_back({.rail = r, .id = rail.id, .from = rail.points[0].at, .outward = rail.segment_outward[0]});
      continue;
    }
    for (std::size_t s = 0; s + 1 < rail.points.size(); ++s)
      pieces.push_back({.rail = r,
                        .segment = s,
                        .id = rail.points.size() == 2 ? rail.id : fmt::format("{}-{}", rail.id, s + 1),
                        .from = rail.points[s].at,
                        .to = rail.points[s + 1].at,
                        .outward = rail.segment_outward[s]});
  }
  return pieces;
}

Revision compare_with(const FoundRails& found, const std::vector<model::RailTableRow>& before) {
  Revision revision;
  revision.pieces = pieces_of(found);
  struct Pair {
    double apart, moved;
    std::size_t piece, row;
  };
  std::vector<Pair> pairs;
  std::vector<std::optional<Found>> was(before.size());
  for (std::size_t row = 0; row < before.size(); ++row) {
    was[row] = found_in(before[row]);
    if (!was[row]) {
      revision.by_hand.push_back(row);
      continue;
    }
    for (std::size_t piece = 0; piece < revision.pieces.size(); ++piece) {
      const Line now = line_of(revision.pieces[piece]);
      if (const auto d = apart(now, was[row]->line)) pairs.push_back({*d, moved(now, was[row]->line), piece, row});
    }
  }
  std::sort(pairs.begin(), pairs.end(), [](const Pair& x, const Pair& y) {
    return std::tie(x.apart, x.moved, x.row, x.piece) < std::tie(y.apart, y.moved, y.row, y.piece);
  });
  std::vector<bool> is_taken(before.size());
  for (const auto& pair : pairs) {
    auto& piece = revision.pieces[pair.piece];
    if (piece.before || is_taken[pair.row]) continue;
    is_taken[pair.row] = true;
    piece.before = pair.row, piece.moved_m = pair.moved, piece.is_edited = is_edited(before[pair.row], *was[pair.row]);
  }
  std::set<std::string> ids;
  for (const auto row : revision.by_hand) ids.insert(before[row].id);
  for (auto& piece : revision.pieces)
    if (piece.before) piece.id = before[*piece.before].id, ids.insert(piece.id);
  for (auto& piece : revision.pieces) {
    if (piece.before) continue;
    const std::string own = piece.id;
    for (int n = 2; !ids.insert(piece.id).second; ++n) piece.id = fmt::format("{}.{}", own, n);
  }
  for (std::size_t row = 0; row < before.size(); ++row)
    if (was[row] && !is_taken[row]) revision.gone.push_back(row);
  std::stable_sort(revision.pieces.begin(), revision.pieces.end(), [](const Piece& x, const Piece& y) {
    return x.before.value_or(SIZE_MAX) < y.before.value_or(SIZE_MAX);
  });
  return revision;
}

}  // namespace holdfast::rails
