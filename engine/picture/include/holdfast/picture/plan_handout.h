// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// The hand-outs of a simulated excursion.
//
//   const auto handout = picture::handout_of(context, *result.plan);
//   report::write_file("cards.html", picture::cue_cards(handout));

#include "holdfast/picture/handout.h"
#include "holdfast/report/read.h"
#include "holdfast/report/report.h"

namespace holdfast::picture {

/// Every row of the plan is a step of its crew member's card, in time; throws and holds stand apart. Each violation
/// stands with the step during which it is seen, those of nobody among the remarks. Items: all that a crew member ever
/// carries, with what is in them.
[[nodiscard]] Handout handout_of(const report::Context& context, const report::ReadPlan& read);

}  // namespace holdfast::picture
