#pragma once
// Shared by the questions that answer with several ways.

#include <functional>
#include <span>

#include "holdfast/search/choices.h"
#include "loaded_route_impl.h"
#include "question_impl.h"

namespace holdfast::search::detail {

/// The side on which `way` goes farthest beyond what any of the others goes there, from 0.3 m on; and its own rails.
[[nodiscard]] WayMark find_mark(const Route& way, std::span<const Route* const> others);

/// Rails in the order they are held.
[[nodiscard]] std::vector<model::RailId> rails_of(const Route& route);

}  // namespace holdfast::search::detail
