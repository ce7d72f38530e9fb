// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Identifiers of model and graph elements as distinct types: passing one for another does not compile.
// An id is an index into the list that owns the element (`Structure::parts[id.value]` ...), valid only there.

#include <compare>
#include <cstddef>
#include <cstdint>
#include <functional>

namespace holdfast::model {

template <class Tag>
struct Id {
  std::uint32_t value = 0;

  constexpr Id() = default;
  constexpr explicit Id(std::size_t index) : value(static_cast<std::uint32_t>(index)) {}

  friend constexpr auto operator<=>(Id, Id) = default;
  [[nodiscard]] constexpr std::size_t index() const { return value; }
};

using PartId = Id<struct PartTag>;
using RailId = Id<struct RailTag>;
using AnchorId = Id<struct AnchorTag>;
using SocketId = Id<struct SocketTag>;
using ClipId = Id<struct ClipTag>;
using PlaceId = Id<struct PlaceTag>;
using ZoneId = Id<struct ZoneTag>;
using ViewId = Id<struct ViewTag>;
using PatchId = Id<struct PatchTag>;

}  // namespace holdfast::model

template <class Tag>
struct std::hash<holdfast::model::Id<Tag>> {
  std::size_t operator()(holdfast::model::Id<Tag> id) const noexcept { return std::hash<std::uint32_t>{}(id.value); }
};
