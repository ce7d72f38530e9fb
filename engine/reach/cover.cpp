// SPDX-License-Identifier: GPL-3.0-or-later
// The fewest stations that serve all targets: exact set cover by branching on the target that the fewest stations
// serve.

#include <algorithm>
#include <cmath>
#include <set>
#include <tuple>

#include "holdfast/reach/reach.h"

namespace holdfast::reach {

namespace {

struct Choice {
  std::size_t site = 0, station = 0;
  std::vector<bool> serves;
  std::size_t two_handed = 0;
  long clearance_cm = 0;
};

bool is_subset(const std::vector<bool>& x, const std::vector<bool>& y) {
  for (std::size_t i = 0; i < x.size(); ++i)
    if (x[i] && !y[i]) return false;
  return true;
}

class Cover {
 public:
  Cover(std::vector<Choice> choices, std::vector<std::size_t> wanted, std::size_t most_nodes)
      : choices_(std::move(choices)), wanted_(std::move(wanted)), nodes_left_(most_nodes) {}

  /// The best set of exactly this size, by the order of ties; nothing where there is none or the search is cut short.
  std::optional<std::vector<std::size_t>> find(std::size_t size, bool& is_cut) {
    best_.reset();
    std::vector<std::size_t> chosen;
    branch(chosen, size);
    is_cut = nodes_left_ == 0;
    return best_;
  }

  /// A set that takes, again and again, what serves most of what is left.
  std::vector<std::size_t> find_greedily() const {
    std::vector<std::size_t> chosen;
    std::vector<std::size_t> left = wanted_;
    while (!left.empty()) {
      std::size_t best = 0, most = 0;
      for (std::size_t c = 0; c < choices_.size(); ++c) {
        const auto count = static_cast<std::size_t>(
            std::count_if(left.begin(), left.end(), [&](std::size_t t) { return choices_[c].serves[t]; }));
        if (count > most) most = count, best = c;
      }
      chosen.push_back(best);
      std::erase_if(left, [&](std::size_t t) { return choices_[best].serves[t]; });
    }
    return chosen;
  }
  const Choice& choice(std::size_t c) const { return choices_[c]; }

 private:
  auto key(std::vector<std::size_t> set) const {
    std::sort(set.begin(), set.end());
    std::set<std::size_t> sites;
    long two_handed = 0, clearance = 1'000'000;
    for (const auto c : set) {
      sites.insert(choices_[c].site);
      two_handed += static_cast<long>(choices_[c].two_handed);
      clearance = std::min(clearance, choices_[c].clearance_cm);
    }
    return std::tuple(sites.size(), -two_handed, -clearance, set);
  }

  void branch(std::vector<std::size_t>& chosen, std::size_t size) {
    if (nodes_left_ == 0) return;
    --nodes_left_;
    std::optional<std::size_t> hardest;
    std::size_t fewest = 0;
    for (const auto target : wanted_) {
      if (std::any_of(chosen.begin(), chosen.end(), [&](std::size_t c) { return choices_[c].serves[target]; }))
        continue;
      const auto count = static_cast<std::size_t>(
          std::count_if(choices_.begin(), choices_.end(), [&](const Choice& choice) { return choice.serves[target]; }));
      if (!hardest || count < fewest) hardest = target, fewest = count;
    }
    if (!hardest) {
      if (chosen.size() == size && (!best_ || key(chosen) < key(*best_))) best_ = chosen;
      return;
    }
    if (chosen.size() == size) return;
    for (std::size_t c = 0; c < choices_.size(); ++c) {
      if (!choices_[c].serves[*hardest]) continue;
      chosen.push_back(c);
      branch(chosen, size);
      chosen.pop_back();
    }
  }

  std::vector<Choice> choices_;
  std::vector<std::size_t> wanted_;
  std::size_t nodes_left_;
  std::optional<std::vector<std::size_t>> best_;
};

}  // namespace

StationSet find_smallest_set(const std::vector<SiteReach>& sites, std::size_t targets, std::size_t most_nodes) {
  std::vector<Choice> choices;
  for (std::size_t s = 0; s < sites.size(); ++s)
    for (std::size_t i = 0; i < sites[s].stations.size(); ++i) {
      const auto& station = sites[s].stations[i];
      if (!station.is_usable() || station.served() == 0) continue;
      Choice choice{s, i, std::vector<bool>(targets), 0,
                    std::lround(std::floor(station.clearance.lower_m * 100 + 1e-9))};
      for (std::size_t t = 0; t < targets; ++t) choice.serves[t] = station.targets[t].is_served;
      choice.two_handed = station.count(Kind::TwoHand);
      choices.push_back(std::move(choice));
    }
  // Of the same site, one that serves no more than another is not needed; of those that serve the same, the first by
  // the order of ties stays.
  std::vector<Choice> kept;
  for (std::size_t c = 0; c < choices.size(); ++c) {
    const auto beats = [&](std::size_t o) {
      const Choice &x = choices[o], &y = choices[c];
      if (o == c || x.site != y.site || !is_subset(y.serves, x.serves)) return false;
      if (x.serves != y.serves) return true;
      return std::tuple(-static_cast<long>(x.two_handed), -x.clearance_cm, o) <
             std::tuple(-static_cast<long>(y.two_handed), -y.clearance_cm, c);
    };
    bool is_beaten = false;
    for (std::size_t o = 0; o < choices.size() && !is_beaten; ++o) is_beaten = beats(o);
    if (!is_beaten) kept.push_back(choices[c]);
  }
  StationSet set;
  std::vector<std::size_t> wanted;
  for (std::size_t t = 0; t < targets; ++t)
    if (std::any_of(kept.begin(), kept.end(), [&](const Choice& choice) { return choice.serves[t]; }))
      wanted.push_back(t);
    else
      set.unserved.push_back(t);
  if (wanted.empty()) return set;
  Cover cover(std::move(kept), wanted, most_nodes);
  std::optional<std::vector<std::size_t>> found;
  for (std::size_t size = 1; !found; ++size) {
    bool is_cut = false;
    found = cover.find(size, is_cut);
    set.at_least = size;
    if (!is_cut) continue;
    set.is_smallest = false;
    if (!found) found = cover.find_greedily();
    if (found->size() == size) set.is_smallest = true;  // of the right size; only the ties are not all looked at
  }
  std::sort(found->begin(), found->end());
  for (const auto c : *found) {
    const Choice& choice = cover.choice(c);
    StationSet::Member member{choice.site, choice.station, {}};
    for (std::size_t t = 0; t < targets; ++t)
      if (choice.serves[t]) member.serves.push_back(t);
    set.members.push_back(std::move(member));
  }
  return set;
}

}  // namespace holdfast::reach
