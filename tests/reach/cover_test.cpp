// SPDX-License-Identifier: GPL-3.0-or-later
// The fewest stations against trying every set.

#include <gtest/gtest.h>

#include <random>

#include "holdfast/reach/reach.h"

namespace holdfast::reach {
namespace {

std::vector<SiteReach> random_sites(std::mt19937& random, std::size_t targets) {
  std::vector<SiteReach> sites(1 + random() % 3);
  for (auto& site : sites)
    for (std::size_t i = 0; i < 1 + random() % 5; ++i) {
      Station station;
      station.setting = Setting{};
      station.clearance.lower_m = static_cast<double>(random() % 4) * 0.1;  // 0: does not fit
      if (random() % 5 != 0) station.way_in = WayIn{};
      for (std::size_t t = 0; t < targets; ++t) {
        TargetReach reach;
        reach.kind = random() % 3 == 0 ? Kind::TwoHand : random() % 2 == 0 ? Kind::OneHand : Kind::OutOfReach;
        reach.is_served = reach.is_reached() && random() % 2 == 0;
        station.targets.push_back(reach);
      }
      site.stations.push_back(station);
    }
  return sites;
}

TEST(SmallestSet, IsAsSmallAsAnyAndServesAllThatAnyServes) {
  std::mt19937 random(23);
  for (int round = 0; round < 300; ++round) {
    SCOPED_TRACE("seed 23, round " + std::to_string(round));
    const std::size_t targets = 1 + random() % 6;
    const auto sites = random_sites(random, targets);
    const auto set = find_smallest_set(sites, targets);
    std::vector<const Station*> all;
    for (const auto& site : sites)
      for (const auto& station : site.stations)
        if (station.is_usable()) all.push_back(&station);
    unsigned wanted = 0;
    std::vector<unsigned> serves;
    for (const auto* station : all) {
      unsigned mask = 0;
      for (std::size_t t = 0; t < targets; ++t) mask |= station->targets[t].is_served ? 1U << t : 0U;
      serves.push_back(mask), wanted |= mask;
    }
    std::size_t fewest = targets + 1;
    if (wanted == 0) fewest = 0;
    for (std::size_t chosen = 1; chosen < (std::size_t{1} << all.size()); ++chosen) {
      unsigned mask = 0;
      std::size_t count = 0;
      for (std::size_t i = 0; i < all.size(); ++i)
        if ((chosen >> i & 1) != 0) mask |= serves[i], ++count;
      if ((mask & wanted) == wanted) fewest = std::min(fewest, count);
    }
    EXPECT_EQ(set.members.size(), fewest);
    EXPECT_TRUE(set.is_smallest);
    unsigned served = 0;
    for (const auto& member : set.members) {
      const auto& station = sites[member.site].stations[member.station];
      EXPECT_TRUE(station.is_usable());
      for (const auto t : member.serves) {
        EXPECT_TRUE(station.targets[t].is_served);
        served |= 1U << t;
      }
    }
    EXPECT_EQ(served, wanted);
    for (const auto t : set.unserved) EXPECT_EQ(wanted >> t & 1, 0U);
    EXPECT_EQ(set.unserved.size() + static_cast<std::size_t>(__builtin_popcount(wanted)), targets);
  }
}

TEST(SmallestSet, SaysSoWhereItWasCutShort) {
  std::mt19937 random(29);
  std::vector<SiteReach> sites(1);
  const std::size_t targets = 14;
  for (int i = 0; i < 60; ++i) {
    Station station;
    station.setting = Setting{};
    station.clearance.lower_m = 1, station.way_in = WayIn{};
    for (std::size_t t = 0; t < targets; ++t) {
      TargetReach reach;
      reach.is_served = random() % 5 == 0;
      reach.kind = reach.is_served ? Kind::TwoHand : Kind::OutOfReach;
      station.targets.push_back(reach);
    }
    sites[0].stations.push_back(station);
  }
  const auto exact = find_smallest_set(sites, targets);
  const auto cut = find_smallest_set(sites, targets, 20);
  ASSERT_TRUE(exact.is_smallest);
  EXPECT_LE(cut.at_least, exact.members.size()) << "the bound holds";
  EXPECT_GE(cut.members.size(), exact.members.size());
  if (cut.members.size() > exact.members.size()) EXPECT_FALSE(cut.is_smallest);
}

}  // namespace
}  // namespace holdfast::reach
