// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>

#include <array>

#include "page_impl.h"
#include "words_impl.h"

namespace holdfast::report {

using namespace detail;
using check::Finding;

namespace {

const char* heading_of(check::FindingKind kind) {
  using check::FindingKind;
  switch (kind) {
    case FindingKind::UnreachableRail:
      return "Rails from which no hatch can be reached";
    case FindingKind::Island:
      return "Rails cut off from the rest";
    case FindingKind::RailBehindZone:
      return "Rails that keep-out zones cut off from the hatches";
    case FindingKind::Gap:
      return "Gaps between neighbouring rails";
    case FindingKind::RailTooClose:
      return "Too little room under a rail for a gloved hand";
    case FindingKind::RailInSolid:
      return "Rails inside solids";
    case FindingKind::ShortRail:
      return "Rails shorter than a hand's grip";
    case FindingKind::RailLoad:
      return "Rails that bear too little";
    case FindingKind::NarrowCorridor:
      return "No room for the suit";
    case FindingKind::PlaceWithoutGrip:
      return "Places without a grip";
    case FindingKind::PlaceTooTight:
      return "Places without room for the suit";
    case FindingKind::ZoneSwallowsPlace:
      return "Places inside keep-out zones";
    case FindingKind::WorksiteHandholds:
      return "Worksites without a handhold near";
    case FindingKind::WorksiteRoom:
      return "Worksites with little room for the body";
    case FindingKind::SocketInSolid:
      return "Sockets inside solids";
    case FindingKind::SocketOffStructure:
      return "Sockets off structure";
    case FindingKind::RestraintCollides:
      return "Sockets in which no foot restraint has room";
    case FindingKind::ViewInSolid:
      return "Views inside solids";
    case FindingKind::MeshDefect:
      return "Mesh files";
    case FindingKind::IgnoredColumn:
      return "Columns of tables";
  }
  return "";
}

bool is_same_group(const Finding& x, const Finding& y) {
  const auto origin = [](const Finding& f) { return f.design ? origin_words(*f.design) : std::string(); };
  return x.severity == y.severity && x.kind == y.kind && origin(x) == origin(y) &&
         (!x.design || x.design->value == y.design->value);
}

std::string counted(std::size_t count, const char* one) {
  return fmt::format("{} {}{}", count, one, count == 1 ? "" : "s");
}

void write_group_heading(std::string& out, const Finding& first) {
  std::string heading = heading_of(first.kind);
  if (first.design) heading += fmt::format(" [{}]", origin_words(*first.design));
  out += "\n  " + wrap(heading, 2, 4) + "\n";
}

void write_finding(std::string& out, const Context& context, const Finding& finding) {
  std::string place = finding.mark.file;
  if (finding.mark.line > 0) place += fmt::format(":{}:{}", finding.mark.line, finding.mark.column);
  if (!place.empty()) place += ": ";
  std::string words = finding_words(context, finding);
  if (finding.kind != check::FindingKind::MeshDefect && finding.kind != check::FindingKind::IgnoredColumn)
    words += fmt::format("; at {}", point(finding.at));
  out += "    " + wrap(place + words, 4, 6) + "\n";
}

}  // namespace

std::string text(const Context& context, const check::CheckResult& result) {
  std::string out;
  const auto& s = result.summary;
  const std::string has =
      fmt::format("{}, {} ({:.1f} m for hands), {}, {} open of {} within reach, {}, {}, {}", counted(s.parts, "part"),
                  counted(s.rails, "rail"), s.rail_length_m, counted(s.grips, "grip"), counted(s.open_moves, "move"),
                  s.moves, counted(s.places, "place"), counted(s.zones, "zone"), counted(s.islands, "island"));
  out += wrap(fmt::format("{}: {}", context.structure.name, has), 0, 2) + "\n";
  out += "  " +
         wrap(fmt::format("suit {}; {}", context.suit.id, configuration_words(context.structure, result.configuration)),
              2, 2) +
         "\n";

  std::array<std::size_t, 3> counts{};
  for (const auto& finding : result.findings) ++counts[static_cast<std::size_t>(finding.severity)];
  static constexpr const char* title[] = {"Errors", "Warnings", "Notes"};
  const Finding* last = nullptr;
  for (const auto& finding : result.findings) {
    const auto severity = static_cast<std::size_t>(finding.severity);
    if (!last || last->severity != finding.severity)
      out += fmt::format("\n{} ({})\n", title[severity], counts[severity]);
    if (!last || !is_same_group(*last, finding)) write_group_heading(out, finding);
    write_finding(out, context, finding);
    last = &finding;
  }
  out += fmt::format("\n{}, {}, {}.\n", counted(counts[0], "error"), counted(counts[1], "warning"),
                     counted(counts[2], "note"));
  out += wrap(fmt::format("Model {}, digest {}. Engine {}.", context.model_name,
                          model::model_digest(context.structure).substr(0, 12), context.engine_version),
              0, 2);
  out += fmt::format("\n{}\n", caution);
  return out;
}

std::string text(const std::vector<model::Diagnostic>& diagnostics) {
  std::string out;
  for (const auto& diagnostic : diagnostics) out += diagnostic.text() + "\n";
  return out;
}

}  // namespace holdfast::report
