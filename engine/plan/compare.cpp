// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/plan/compare.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <tuple>

namespace holdfast::plan {

namespace {

constexpr double same_s = 5e-4;

using Key = std::tuple<std::string, std::string, std::string, std::string, std::string, std::size_t>;

/// By row of `rows`. An action's id counts where `ids` has it too.
std::vector<Key> keys_of(const std::vector<FiguresRow>& rows, const std::vector<FiguresRow>& others) {
  std::set<std::pair<std::string, std::string>> known;
  for (const auto& other : others) known.emplace(other.name.crew, other.name.action);
  std::vector<Key> keys;
  std::map<Key, std::size_t> seen;
  for (const auto& row : rows) {
    const RowName& name = row.name;
    const bool has_id = !name.action.empty() && known.count({name.crew, name.action}) > 0;
    Key key{name.crew, has_id ? name.action : "", name.kind, has_id ? "" : name.subject, has_id ? "" : name.other, 0};
    std::get<5>(key) = seen[key]++;
    keys.push_back(std::move(key));
  }
  return keys;
}

bool is_same(const FiguresViolation& a, const FiguresViolation& b) {
  return std::tie(a.kind, a.crew, a.subject, a.other) == std::tie(b.kind, b.crew, b.subject, b.other);
}

/// Violations of `these` that `others` do not have; each of the others answers for one.
std::vector<FiguresViolation> without(const std::vector<FiguresViolation>& these,
                                      std::vector<FiguresViolation> others) {
  std::vector<FiguresViolation> left;
  for (const auto& v : these) {
    const auto match = std::find_if(others.begin(), others.end(), [&](const auto& o) { return is_same(v, o); });
    if (match == others.end())
      left.push_back(v);
    else
      others.erase(match);
  }
  return left;
}

std::vector<std::string> without(const std::vector<std::string>& these, const std::vector<std::string>& others) {
  std::vector<std::string> left;
  for (const auto& id : these)
    if (std::find(others.begin(), others.end(), id) == others.end()) left.push_back(id);
  return left;
}

}  // namespace

PlanChanges compare(PlanFigures before, PlanFigures after) {
  PlanChanges changes;
  const auto keys_before = keys_of(before.rows, after.rows), keys_after = keys_of(after.rows, before.rows);
  std::map<Key, std::size_t> at;
  for (std::size_t r = 0; r < keys_before.size(); ++r) at[keys_before[r]] = r;
  std::vector<bool> has_match(before.rows.size(), false);
  for (std::size_t r = 0; r < after.rows.size(); ++r) {
    const auto& now = after.rows[r];
    const auto match = at.find(keys_after[r]);
    if (match == at.end()) {
      changes.added.push_back(now);
      continue;
    }
    has_match[match->second] = true;
    const auto& then = before.rows[match->second];
    if (std::abs(now.from_s - then.from_s) < same_s && std::abs(now.to_s - then.to_s) < same_s)
      ++changes.unmoved;
    else
      changes.moved.push_back({now.name, then.from_s, then.to_s, now.from_s, now.to_s});
  }
  for (std::size_t r = 0; r < before.rows.size(); ++r)
    if (!has_match[r]) changes.gone.push_back(before.rows[r]);
  changes.no_longer = without(before.done, after.done);
  changes.newly = without(after.done, before.done);
  changes.violations_gone = without(before.violations, after.violations);
  changes.violations_new = without(after.violations, before.violations);
  changes.violations_kept = after.violations.size() - changes.violations_new.size();
  changes.before = std::move(before), changes.after = std::move(after);
  return changes;
}

}  // namespace holdfast::plan
