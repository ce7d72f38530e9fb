// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Words for cables that are laid in stages.

#include "holdfast/cable/cable.h"

namespace holdfast::report::detail {

[[nodiscard]] const char* kind_name(cable::NoCoil kind);

}  // namespace holdfast::report::detail
