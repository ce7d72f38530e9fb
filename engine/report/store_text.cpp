// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>

#include "holdfast/report/store.h"
#include "json_impl.h"
#include "page_impl.h"
#include "words_impl.h"

namespace holdfast::report {

using namespace detail;

namespace {

/// Rounded up, so that what is there is never more than what is told.
std::string size_words(std::uint64_t bytes) {
  constexpr std::uint64_t kib = 1024, mib = kib * 1024;
  if (bytes >= mib) return fmt::format("{} MiB", (bytes + mib - 1) / mib);
  return fmt::format("{} KiB", (bytes + kib - 1) / kib);
}

/// What stages keep, by the kinds that they name them.
std::string kind_words(const std::string& kind) {
  if (kind == "mesh") return "mesh files, cleaned and checked";
  if (kind == "tree") return "indexes of structures with meshes";
  if (kind == "graph") return "handrail graphs";
  if (kind == "buried") return "lists of rails that run into solids";
  if (kind == "spans") return "spans of cables";
  return kind;
}

}  // namespace

std::string text(const StoreReport& report) {
  if (report.folder.empty())
    return "Nothing is kept from run to run: neither XDG_CACHE_HOME nor HOME names a folder by its full path.\n";
  const auto& usage = report.usage;
  std::string out = fmt::format("Kept from run to run in {}\n", report.folder);
  out += fmt::format("{} {} in {} of at most {}; what was used longest ago goes first\n", usage.entries,
                     usage.entries == 1 ? "entry" : "entries", size_words(usage.bytes), size_words(report.most_bytes));
  for (const auto& [kind, count] : usage.by_kind) out += fmt::format("{:>6}  {}\n", count, kind_words(kind));
  if (usage.of_other_builds > 0)
    out += fmt::format("{} of them {} of another build of holdfast, and not used by this one\n", usage.of_other_builds,
                       usage.of_other_builds == 1 ? "is" : "are");
  if (usage.unusable > 0)
    out += fmt::format("{} of them {} damaged or cut short, and not used: what it held is computed again when needed\n",
                       usage.unusable, usage.unusable == 1 ? "is" : "are");
  out += "The folder may be removed at any time; --no-cache does without it.\n";
  return out;
}

std::string json(const StoreReport& report) {
  Json kinds = Json::object();
  for (const auto& [kind, count] : report.usage.by_kind) kinds[kind] = count;
  const Json out = {{"holdfast", result_format},
                    {"verb", "check"},
                    {"outcome", "store"},
                    {"engine", report.engine_version},
                    {"folder", report.folder},
                    {"entries", report.usage.entries},
                    {"bytes", report.usage.bytes},
                    {"most_bytes", report.most_bytes},
                    {"kinds", kinds},
                    {"of_other_builds", report.usage.of_other_builds},
                    {"unusable", report.usage.unusable}};
  return dump_json(out);
}

std::string csv(const StoreReport& report) {
  std::string out = "kind,entries\r\n";
  for (const auto& [kind, count] : report.usage.by_kind) out += fmt::format("{},{}\r\n", kind, count);
  return out;
}

}  // namespace holdfast::report
