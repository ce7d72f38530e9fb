// SPDX-License-Identifier: GPL-3.0-or-later
// The words for why a cable has no run: whole sentences, each kind once.

#include <gtest/gtest.h>

#include "sample.h"

namespace holdfast::report {
namespace {

using cable::NoRunCause;
using cable::NoRunKind;
using cable::NoSpanKind;

NoRunCause cause(NoRunKind kind) {
  NoRunCause c;
  c.kind = kind;
  c.tie = "drum-1", c.other = "mast-1";
  c.at = {1, 2, 3}, c.at_other = {1, 2, 4.5};
  c.value_m = 1.4001, c.limit_m = 0.61;
  return c;
}

std::string said(const NoRunCause& c) {
  const sample::Desk desk;
  return sentence(desk.context, c);
}

TEST(CableSentences, NoTieNearNamesTheNearest) {
  auto c = cause(NoRunKind::NoTieNear);
  c.end = c.tie = "plug-a", c.other = "drum-1";
  EXPECT_EQ(
      said(c),
      "No tie near plug-a (1.00, 2.00, 3.00): the nearest is drum-1 (1.00, 2.00, 4.50), 1.41 m away, and a span is "
      "0.61 m at most.");
  c.other.clear();
  EXPECT_EQ(said(c), "No tie: there is no rail for cables, and no clip, to begin at plug-a.");
}

TEST(CableSentences, AGapNamesBothSides) {
  EXPECT_EQ(
      said(cause(NoRunKind::Gap)),
      "A gap between ties: from drum-1 (1.00, 2.00, 3.00) to mast-1 (1.00, 2.00, 4.50) it is 1.41 m, and a span is "
      "0.61 m at most; no other run has a smaller one.");
}

TEST(CableSentences, NothingToLieOnSaysWhy) {
  auto c = cause(NoRunKind::NoSpan);
  const std::string between =
      "Nothing to lie on between ties drum-1 (1.00, 2.00, 3.00) and mast-1 (1.00, 2.00, 4.50): ";
  EXPECT_EQ(said(c), between + "structure is in between, and no path over its surface was found.");
  c.why = NoSpanKind::TooLong;
  EXPECT_EQ(said(c), between + "over what is in between it is 1.41 m, and a span is 0.61 m at most.");
  c.why = NoSpanKind::OpenSpace;
  EXPECT_EQ(said(c), between + "1.41 m of it are open space, more than this cable may cross.");
}

TEST(CableSentences, BendsTooTightNameTheRadiusAndThePlace) {
  auto c = cause(NoRunKind::TooTight);
  c.value_m = 0.3129, c.limit_m = 0.4;
  c.opens_alone = true, c.then_m = 12.3;
  EXPECT_EQ(
      said(c),
      "Bends too tight: the cable needs a radius of 0.400 m; 0.312 m is the largest that any run keeps, tightest at "
      "drum-1 (1.00, 2.00, 3.00). A cable that bends so would need 12.30 m.");
}

TEST(CableSentences, RulesInTheWayAreNamedWithWhatWouldBeWithoutThem) {
  const std::string first = ", first at drum-1 (1.00, 2.00, 3.00)";
  const std::string then = ". With this alone waived, there is a run that needs 12.30 m.";
  const auto waived = [](NoRunKind kind) {
    auto c = cause(kind);
    c.opens_alone = true, c.then_m = 12.3;
    return c;
  };
  auto zones = waived(NoRunKind::Zones);
  zones.zones = {sample::beam};
  EXPECT_EQ(said(zones), "A zone is in the way: beam (radio beam)" + first + then);
  zones.zones = {sample::beam, sample::frost};
  EXPECT_EQ(said(zones), "Zones are in the way: beam (radio beam), frost (cold surface)" + first + then);
  auto kept = waived(NoRunKind::KeepFree);
  kept.rails = {sample::drum_1, sample::mast_1};
  EXPECT_EQ(said(kept), "Rails that must stay free are in the way: drum-1, mast-1" + first + then);
  EXPECT_EQ(said(waived(NoRunKind::Separation)),
            "A laid cable is in the way" + first + ": 0.61 m required between them" + then);
  auto joint = waived(NoRunKind::Joint);
  joint.parts = {sample::mast};
  EXPECT_EQ(said(joint), "A moving joint is in the way" + first + ": no loop is stated for mast" + then);
  joint.moves_into = {{sample::mast, {{{"dish", "tracking"}, {"wing", "turning"}}}}};
  EXPECT_EQ(said(joint), "A moving part is in the way" + first +
                             ": no loop is stated for mast; mast moves into the cable when dish=tracking wing=turning" +
                             then);
  joint.parts.clear();
  EXPECT_EQ(said(joint), "A moving part is in the way" + first +
                             ": mast moves into the cable when dish=tracking wing=turning" + then);
  EXPECT_EQ(said(waived(NoRunKind::OutOfReach)),
            "Nobody can tie it" + first + ": not every tie is within 0.61 m of rails that hand moves connect" + then);
}

}  // namespace
}  // namespace holdfast::report
